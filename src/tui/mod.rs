//! The editor.
//!
//! What belongs together has one name in three places: here what is known (`twin`), in [`command`] what keys do
//! (`command::twin`), in [`view`] what is drawn (`view::twin`).
//!
//! | file | what it is |
//! | --- | --- |
//! | [`app`], [`sheet`] | what is known between two keys: the screen, one open image |
//! | [`file`](mod@file), [`contents`], [`described`], [`found`] | of one image: its file; its bytes with every step since they were opened; what the layout says about them; where what was searched for stands |
//! | [`panes`], [`rows`], [`tree`], [`twin`] | which pane has the keys; a list with a chosen row; the Fields pane as a tree; two images side by side |
//! | [`annotate`], [`steps`], [`proposals`], `undescribed` | a layout that is written while its image is looked at; its steps; what is proposed for it; what it says nothing about |
//! | [`input`], [`keys`], [`command`] | what the user does; the keys in force; the table of commands, from which everything about keys comes |
//! | [`update`], [`typing`], [`pasted`], [`mouse`] | one input in, one effect out; pure |
//! | [`dialog`], `answer`, `page` | what asks for an answer; a line that is typed, with what could be meant; a page to read |
//! | [`view`] | what is drawn: functions of the state, a file for each pane |
//! | [`settings`], [`theme`], [`tones`] | what the user set; which tone a thing has; how a tone looks |
//! | [`effect`], [`perform`], [`mod@run`], [`terminal`] | what is asked of the loop, the loop, the terminal |
//! | [`job`], [`judging`] | work that goes on beside the keys; what speaks for or against an image |
//! | [`saving`], [`taking`] | an image to its file, and from a file that somebody else wrote to |
//! | [`keeping`], [`recovery`] | work that is not saved, kept aside and offered again |
//! | [`player`], [`script`], [`picture`], [`log`] | a session without a terminal; its inputs as text; its last screen as SVG; what happened, line by line |
//! | [`drawing`] | what is worked on as a picture |
//! | [`tour`] | the steps of the tour, and whether each was done |
//! | [`way`] | the key that leads on from a finding |

pub mod annotate;
mod answer;
pub mod app;
pub mod command;
pub mod contents;
pub mod described;
pub mod dialog;
pub mod drawing;
pub mod effect;
pub mod file;
pub mod found;
pub mod input;
pub mod job;
pub mod judging;
pub mod keeping;
pub mod keys;
pub mod log;
pub mod mouse;
mod page;
pub mod panes;
pub mod pasted;
pub mod perform;
pub mod picture;
pub mod player;
pub mod proposals;
pub mod recovery;
pub mod rows;
pub mod run;
pub mod saving;
pub mod script;
pub mod settings;
pub mod sheet;
pub mod steps;
pub mod taking;
pub mod terminal;
pub mod theme;
pub mod tones;
pub mod tour;
pub mod tree;
pub mod twin;
pub mod typing;
mod undescribed;
pub mod update;
pub mod view;
pub mod way;

use std::io::{IsTerminal, stdout};
use std::path::{Path, PathBuf};

use crate::chip::{self, Chip};
use crate::cli::choose::{LayoutArgs, Shelf};
use crate::cli::{Console, Outcome};
use crate::error::Error;
use crate::finding::Finding;
use crate::image::Image;
use crate::store;
use crate::vet;
use annotate::InForce;
use app::App;
use log::Log;
use player::Player;
use sheet::{QUICK_BYTES, Sheet};
use theme::{Depth, Ground, Look};

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
    #[command(flatten)]
    look: LookArgs,
    #[command(flatten)]
    session: SessionArgs,
}

/// How the editor looks and behaves.
#[derive(Debug, clap::Args)]
pub struct LookArgs {
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
}

/// A session that is played without a terminal.
#[derive(Debug, clap::Args)]
pub struct SessionArgs {
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
    #[arg(long, value_name = "FILE", conflicts_with_all = ["keys", "dump", "picture"])]
    log: Option<PathBuf>,
    /// Write its last screen to a new SVG file
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
}

impl SessionArgs {
    fn plays(&self) -> bool {
        self.keys.is_some() || self.dump || self.picture.is_some()
    }
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
    if args.images.is_empty() {
        return Err(
            Error::new("no image was named").advice("name one, or see readproof --help for the commands")
        );
    }
    needs_terminal(&args.session)?;
    let chip = args.chip.as_deref().map(named_chip).transpose()?;
    let mut sheets = open(&args.images, &args.layout, console)?;
    sheets.iter_mut().for_each(|sheet| sheet.judged.chip = chip);
    hold(sheets, &args.look, &args.session, console, |_| {})?;
    Ok(Outcome::Good)
}

/// Opens images, each with the layout that fits it.
fn open(images: &[PathBuf], layout: &LayoutArgs, console: &mut Console<'_>) -> Result<Vec<Sheet>, Error> {
    let mut sheets = Vec::new();
    for path in images {
        let opened = store::open(path, console.input)?;
        let mut sheet = Sheet::new(opened.path, opened.image, opened.format);
        sheet.file.read_only = opened.read_only;
        sheet.file.known_as(opened.identity);
        sheet.judged.remarks = opened.remarks;
        sheets.push(sheet);
    }
    let images: Vec<(&Path, &Image)> = sheets.iter().map(|s| (s.file.path.as_path(), s.image())).collect();
    let shelf = layout.shelf_to_choose(&images)?;
    let paths: Vec<PathBuf> = sheets.iter().map(|sheet| sheet.file.path.clone()).collect();
    let paths: Vec<&Path> = paths.iter().map(PathBuf::as_path).collect();
    sheets.iter_mut().for_each(|sheet| choose_layout(sheet, &shelf));
    let is_unknown = |sheet: &&mut Sheet| sheet.layout().is_none() && sheet.image().len() <= QUICK_BYTES;
    let mut unknown = sheets.iter_mut().filter(is_unknown).peekable();
    if unknown.peek().is_some() && !shelf.is_named() {
        // Why none fits is told by those that do not.
        let all = layout.shelf(&paths)?;
        for sheet in unknown {
            let why = vet::why_none_fits(sheet.image(), all.layouts());
            let is_new = |why: &Finding| sheet.judged.remarks.iter().all(|told| told.code != why.code);
            sheet.judged.remarks.extend(why.filter(is_new));
        }
    }
    Ok(sheets)
}

/// Opens the editor on images of the tour, the first of which is worked on. Returns the file that it was saved
/// to, once every step was done.
///
/// # Errors
/// When an image cannot be read, or there is no terminal.
pub fn run_tour(
    images: &[PathBuf],
    look: &LookArgs,
    session: &SessionArgs,
    console: &mut Console<'_>,
) -> Result<Option<PathBuf>, Error> {
    needs_terminal(session)?;
    let sheets = open(images, &LayoutArgs::default(), console)?;
    let app = hold(sheets, look, session, console, |app| app.tour = Some(tour::Tour::default()))?;
    let saved = app.images().first().map(|sheet| sheet.file.path.clone());
    Ok(saved.filter(|_| app.tour.is_some_and(tour::Tour::is_over)))
}

fn needs_terminal(session: &SessionArgs) -> Result<(), Error> {
    if session.plays() || stdout().is_terminal() {
        return Ok(());
    }
    Err(Error::new("the editor needs a terminal, and standard output is none")
        .advice("use readproof show, vet or find, whose output can go anywhere"))
}

/// Holds a session, on the terminal or played, and returns what the editor knows at its end.
fn hold(
    mut sheets: Vec<Sheet>,
    look: &LookArgs,
    session: &SessionArgs,
    console: &mut Console<'_>,
    prepare: impl FnOnce(&mut App),
) -> Result<App, Error> {
    let first = sheets.remove(0);
    let (settings, source) = settings::in_force(look.settings.as_deref());
    let ground = look.ground.unwrap_or(settings.ground);
    let ascii = look.ascii || settings.ascii;
    let is_pictured = session.picture.is_some();
    let colour = !session.plays() && console.paint.colour;
    let mut shown = Look::of(colour, ground, ascii, settings.theme, |name| std::env::var(name).ok());
    if is_pictured {
        // A picture has every colour, and its ground is our own.
        let ground = if ground == Ground::Light { Ground::Light } else { Ground::Dark };
        (shown.depth, shown.ground) = (Depth::Full, ground);
    }
    let mut app = App::new(first, sheets, session.size, shown);
    app.keys = settings.keys;
    app.heed(source);
    prepare(&mut app);
    if !session.plays() {
        let log = session.log.as_deref().map(store::new_log).transpose()?;
        let mut log = log.map(|out| Log::begin(out, &app));
        run::run(&mut app, look.mouse || settings.mouse, &mut log)
            .map_err(|e| Error::new(format!("the terminal could not be used: {e}")))?;
        return Ok(app);
    }
    let mut player = Player::new(app);
    player.play(session.keys.as_deref().unwrap_or_default()).map_err(|slip| {
        Error::new(slip).advice("write keys by their names and texts in quotes: Ctrl-G \"0040\" Enter Down*3")
    })?;
    if session.dump {
        console.out.write_all(player.screen().as_bytes())?;
    }
    if let Some(path) = &session.picture {
        let names: Vec<String> = player.app.images().iter().map(|sheet| sheet.file.name()).collect();
        let title = format!("readproof, {}", names.join(" and "));
        let (columns, rows) = session.size;
        let about = format!("A screen of the editor, {columns} columns by {rows} rows, as text.");
        let picture = picture::of_screen(player.draw(), &title, &about, shown.ground);
        store::save_new(path, picture.as_bytes())?;
    }
    Ok(player.app)
}

fn named_chip(name: &str) -> Result<&'static Chip, Error> {
    chip::by_name(name).ok_or_else(|| {
        Error::new(format!("{name:?} names no chip"))
            .advice("readproof chips lists them, and explains markings")
    })
}

fn choose_layout(sheet: &mut Sheet, shelf: &Shelf) {
    let choice = shelf.choose(sheet.image());
    sheet.judged.remarks.extend(choice.findings);
    if let Some(chosen) = choice.chosen {
        sheet.follow(InForce::of_file(chosen.file.clone(), chosen.layout.clone()));
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;

    #[derive(Debug, Parser)]
    struct Line {
        #[command(flatten)]
        args: Args,
    }

    #[test]
    fn a_log_is_of_a_session_in_the_terminal_and_is_refused_for_a_played_one() {
        let read =
            |more: &[&str]| Line::try_parse_from([&["readproof", "a.bin", "--log", "l"], more].concat());
        assert!(read(&[]).unwrap().args.session.log.is_some());
        for played in [&["--keys", "x"][..], &["--dump"], &["--picture", "p.svg"]] {
            assert!(read(played).unwrap_err().to_string().contains("cannot be used with"), "{played:?}");
        }
    }
}
