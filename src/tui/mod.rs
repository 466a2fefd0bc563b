//! The editor.
//!
//! | file | what it is |
//! | --- | --- |
//! | [`annotate`], [`proposals`] | a layout that is written while its image is looked at; what is proposed for it |
//! | [`keeping`], [`recovery`] | work that is not saved, kept aside and offered again |
//! | [`job`] | work that goes on beside the keys |
//! | [`app`], [`sheet`] | what is known between two keys: the screen, one open image |
//! | [`command`], [`keys`] | the table of commands, everything about keys comes from it; the keys in force |
//! | [`update`], [`typing`], [`pasted`], [`mouse`] | one input in, one effect out; pure |
//! | [`view`] | what is drawn: functions of the state |
//! | [`settings`], [`theme`], [`tones`] | what the user set; how things look |
//! | [`perform`], [`mod@run`], [`terminal`], [`signals`] | effects, the loop, the terminal |
//! | [`saving`] | an image to its file |
//! | [`twin`] | two images side by side |
//! | [`player`] | a session without a terminal |

pub mod annotate;
pub mod app;
pub mod command;
pub mod dialog;
pub mod effect;
pub mod input;
pub mod job;
pub mod keeping;
pub mod keys;
pub mod log;
pub mod mouse;
pub mod pasted;
pub mod perform;
pub mod player;
pub mod proposals;
pub mod recovery;
pub mod rows;
pub mod run;
pub mod saving;
pub mod settings;
pub mod sheet;
pub mod signals;
pub mod skyline;
pub mod terminal;
pub mod theme;
pub mod tones;
pub mod twin;
pub mod typing;
pub mod update;
pub mod view;

use std::io::{IsTerminal, stdout};
use std::path::{Path, PathBuf};

use crate::chip::{self, Chip};
use crate::cli::choose::{LayoutArgs, Shelf};
use crate::cli::{Console, Outcome};
use crate::error::Error;
use crate::image::Image;
use crate::store;
use app::App;
use log::Log;
use player::Player;
use sheet::Sheet;
use theme::{Ground, Look};

/// What the editor is told on the command line.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Images to open in the editor
    #[arg(value_name = "IMAGE")]
    images: Vec<PathBuf>,
    #[command(flatten)]
    layout: LayoutArgs,
    /// Chip they were read from, as it is marked: 24C64
    #[arg(long, value_name = "CHIP")]
    chip: Option<String>,
    /// Draw with ASCII characters only
    #[arg(long)]
    ascii: bool,
    /// Background of the terminal, for the colours: any, dark or light
    #[arg(long, value_name = "GROUND", value_enum, hide_possible_values = true)]
    ground: Option<Ground>,
    /// Let the mouse place the cursor, select and scroll
    #[arg(long)]
    mouse: bool,
    /// File of settings in the place of your own; see readproof settings
    #[arg(long, value_name = "FILE")]
    settings: Option<PathBuf>,
    /// Play these keys without a terminal: Ctrl-G "0040" Enter Down*3
    #[arg(long, value_name = "KEYS")]
    keys: Option<String>,
    /// Columns and rows of that session
    #[arg(long, value_name = "WxH", default_value = "80x24", value_parser = size)]
    size: (u16, u16),
    /// Print its last screen
    #[arg(long)]
    dump: bool,
    /// Write what happens to a new file, for a report of a bug: keys and what they led to, no bytes of images
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
}

fn size(typed: &str) -> Result<(u16, u16), String> {
    let size = typed.split_once('x').and_then(|(w, h)| Some((w.parse().ok()?, h.parse().ok()?)));
    size.filter(|&(w, h): &(u16, u16)| (1..=1000).contains(&w) && (1..=1000).contains(&h))
        .ok_or_else(|| format!("{typed:?} is no size; write 80x24"))
}

/// Opens the editor.
///
/// # Errors
/// When an image or the layout cannot be read, or there is no terminal.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let plays = args.keys.is_some() || args.dump;
    if args.images.is_empty() {
        return Err(
            Error::new("no image was named").advice("name one, or see readproof --help for the commands")
        );
    }
    if !plays && !stdout().is_terminal() {
        return Err(Error::new("the editor needs a terminal, and standard output is none")
            .advice("use readproof show, vet or find, whose output can go anywhere"));
    }
    let chip = args.chip.as_deref().map(named_chip).transpose()?;
    let paths: Vec<&Path> = args.images.iter().map(PathBuf::as_path).collect();
    let mut sheets = Vec::new();
    for path in paths {
        let opened = store::open(path, console.input)?;
        let mut sheet = Sheet::new(opened.path, opened.image, opened.format);
        sheet.read_only = opened.read_only;
        sheet.identity = opened.identity;
        sheet.remarks = opened.remarks;
        sheet.chip = chip;
        sheets.push(sheet);
    }
    let images: Vec<(&Path, &Image)> = sheets.iter().map(|s| (s.path.as_path(), &s.image)).collect();
    let shelf = args.layout.shelf_to_choose(&images)?;
    sheets.iter_mut().for_each(|sheet| choose_layout(sheet, &shelf));
    let first = sheets.remove(0);
    let colour = !plays && console.paint.colour;
    let (settings, source) = settings::in_force(args.settings.as_deref());
    let ground = args.ground.unwrap_or(settings.ground);
    let ascii = args.ascii || settings.ascii;
    let look = Look::of(colour, ground, ascii, settings.theme, |name| std::env::var(name).ok());
    let mut app = App::new(first, sheets, args.size, look);
    app.keys = settings.keys;
    app.heed(source);
    if plays {
        let mut player = Player::new(app);
        player.play(args.keys.as_deref().unwrap_or_default()).map_err(Error::new)?;
        if args.dump {
            console.out.write_all(player.screen().as_bytes())?;
        }
    } else {
        let log = args.log.as_deref().map(store::new_log).transpose()?;
        let mut log = log.map(|out| Log::begin(out, &app));
        run::run(&mut app, args.mouse || settings.mouse, &mut log)
            .map_err(|e| Error::new(format!("the terminal could not be used: {e}")))?;
    }
    Ok(Outcome::Good)
}

fn named_chip(name: &str) -> Result<&'static Chip, Error> {
    chip::by_name(name).ok_or_else(|| {
        Error::new(format!("{name:?} names no chip"))
            .advice("readproof chips lists them, and explains markings")
    })
}

fn choose_layout(sheet: &mut Sheet, shelf: &Shelf) {
    let choice = shelf.choose(&sheet.image);
    sheet.remarks.extend(choice.findings);
    if let Some(chosen) = choice.chosen {
        sheet.follow(perform::in_force(chosen.file.clone(), chosen.layout.clone()));
    }
}
