//! The `docket` command.

use std::path::{Path, PathBuf};

use clap::Subcommand;

use super::{Console, Outcome};
use crate::docket::{Docket, Entry, ImageRecord, Label, What};
use crate::error::Error;
use crate::finding::{Code, Finding, Weight, argument};
use crate::report::docket::{Shown, State};
use crate::report::docket_page::{self, Contents};
use crate::report::paint::Paint;
use crate::report::text;
use crate::skyline::Skyline;
use crate::store::{self, DocketFile, Kept};
use crate::wording::count_of;

/// What `docket` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof docket new job.ron --job \"Cold store 3, locked out\"\n  \
    readproof docket label job.ron --part FK-CR8-2047B --serial 2207140312\n  \
    readproof vet read1.bin read2.bin --docket job.ron\n  \
    readproof docket note job.ron \"pressure switch replaced\"\n  \
    readproof docket check job.ron\n  \
    readproof docket report job.ron --html job.html\n\n\
    Every command takes --docket FILE and then adds what it read, said and wrote.\n\n\
    Exit status: 0 done, and every image is as recorded; 1 an image is not, or a\n\
    part of the docket makes no sense; 2 it could not be done.")]
pub struct Args {
    #[command(subcommand)]
    what: Part,
}

#[derive(Debug, Subcommand)]
enum Part {
    /// Begin the record of a job
    New {
        /// File to write; it must not exist
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// What the job is, in your words
        #[arg(long, value_name = "TEXT", default_value = "", hide_default_value = true)]
        job: String,
        #[command(flatten)]
        label: LabelArgs,
    },
    /// Keep what is printed on the label and on the chip, as you type it
    Label {
        /// The docket
        #[arg(value_name = "FILE")]
        file: PathBuf,
        #[command(flatten)]
        label: LabelArgs,
    },
    /// Keep a note
    Note {
        /// The docket
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// What is to be noted
        #[arg(value_name = "TEXT", required = true)]
        text: Vec<String>,
    },
    /// Keep which file is which image of the job
    Image {
        /// The docket
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// The image
        #[arg(value_name = "IMAGE")]
        image: PathBuf,
        /// What it is to the job: "read 1", "before", "approved", "read-back"
        #[arg(long = "as", value_name = "ROLE")]
        role: String,
    },
    /// Are the images still those that were recorded?
    Check {
        /// The docket
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
    /// Print the record, or write it as a page for a browser or for paper
    Report {
        /// The docket
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// Page to write; it must not exist; - writes to standard output
        #[arg(long, value_name = "OUT")]
        html: Option<PathBuf>,
    },
}

/// What is printed on the unit.
#[derive(Debug, Clone, Default, clap::Args)]
struct LabelArgs {
    /// The part number on the label
    #[arg(long, value_name = "TEXT")]
    part: Option<String>,
    /// The serial on the label
    #[arg(long, value_name = "TEXT")]
    serial: Option<String>,
    /// The marking on the chip
    #[arg(long, value_name = "TEXT")]
    chip: Option<String>,
    /// What kind of unit or board it is
    #[arg(long, value_name = "TEXT")]
    unit: Option<String>,
}

impl LabelArgs {
    fn label(&self) -> Label {
        Label {
            part_number: self.part.clone(),
            serial: self.serial.clone(),
            chip: self.chip.clone(),
            unit: self.unit.clone(),
        }
    }
}

/// Runs `docket`.
///
/// # Errors
/// When a docket or an image cannot be read, or a file exists or cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    match &args.what {
        Part::New { file, job, label } => begin(file, job, &label.label(), console),
        Part::Label { file, label } if label.label().is_empty() => {
            let error = Error::new("there is nothing to keep").in_file(file);
            Err(error.advice("say what is printed there: --part, --serial, --chip, --unit"))
        }
        Part::Label { file, label } => add(file, What::Labelled(label.label()), console),
        Part::Note { file, text } => add(file, What::Noted(text.join(" ")), console),
        Part::Image { file, image, role } => {
            add(file, What::Added(store::record_file(file, role, image)?), console)
        }
        Part::Check { file } => {
            tell(file, console, |shown, console| Ok(shown.write_check(console.out, console.paint)?))
        }
        Part::Report { file, html: None } => {
            tell(file, console, |shown, console| Ok(shown.write_report(console.out, console.paint)?))
        }
        Part::Report { file, html: Some(out) } => write_page(file, out, console),
    }
}

fn begin(file: &Path, job: &str, label: &Label, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let at = store::now();
    let mut entries = vec![Entry { at: at.clone(), what: What::Opened(job.to_owned()) }];
    if !label.is_empty() {
        entries.push(Entry { at, what: What::Labelled(label.clone()) });
    }
    store::new_docket(file, &Docket { entries })?;
    told(file, "begun", console)
}

/// Adds to a docket that exists.
fn add(file: &Path, what: What, console: &mut Console<'_>) -> Result<Outcome, Error> {
    // A slip in the name must not begin another docket.
    store::open_docket(file)?;
    let added = store::add_to_docket(file, &Entry { at: store::now(), what })?;
    console.tell_damage(file, &added)?;
    told(file, "kept", console)
}

fn told(file: &Path, done: &str, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let docket = store::open_docket(file)?.docket;
    let (images, findings) = (Vec::new(), Vec::new());
    let shown = Shown { path: text::Name::of(file), docket: &docket, images, findings: &findings };
    if console.json {
        shown.json().write(console.out)?;
    } else {
        let entries = count_of(docket.entries.len(), "entry", "entries");
        writeln!(console.out, "{done}: {} now has {entries}.", text::path(file))?;
    }
    Ok(Outcome::Good)
}

/// What has become of the recorded images, and what is wrong with that or with the docket.
fn looked_at(file: &DocketFile) -> (Vec<(&ImageRecord, State)>, Vec<Finding>) {
    let mut findings: Vec<Finding> = file
        .problems
        .iter()
        .map(|problem| {
            Finding::new(
                Weight::Doubt,
                Code::DocketDamaged,
                format!("line {}: {}", problem.line, problem.what),
                "the docket was cut short, or spoilt by hand",
                format!("look at the line in {}; everything else was read", text::path(&file.path)),
            )
        })
        .collect();
    let mut images = Vec::new();
    for image in file.docket.images() {
        let kept = store::check_record(&file.path, image);
        let state = match &kept {
            Kept::Same => State::Same,
            Kept::Changed(..) => State::Changed,
            Kept::Missing(_) => State::Missing,
            Kept::Stream => State::Stream,
        };
        findings.extend(of_image(&file.path, image, &kept));
        images.push((image, state));
    }
    (images, findings)
}

fn of_image(docket: &Path, image: &ImageRecord, kept: &Kept) -> Option<Finding> {
    match kept {
        Kept::Same | Kept::Stream => None,
        Kept::Changed(bytes, sha256) => Some(Finding::new(
            Weight::Fault,
            Code::RecordDiffers,
            format!(
                "{} ({}) now has {} and the digest {}; recorded were {} and {}",
                image.path,
                image.role,
                text::count(usize::try_from(*bytes).unwrap_or(usize::MAX), "byte"),
                text::digest(sha256, Paint::default()),
                image.bytes,
                text::digest(&image.sha256, Paint::default())
            ),
            "somebody wrote over the file, or another file took its name",
            format!("find the file with the recorded digest before anything is concluded from this one; `readproof docket report {} --json` has all of it", text::shell(docket)),
        )),
        Kept::Missing(why) => Some(Finding::new(
            Weight::Fault,
            Code::RecordMissing,
            format!("{} ({}) cannot be read: {why}", image.path, image.role),
            "the file was moved, renamed or deleted",
            format!("put it back where the docket says, or keep where it is now with `readproof docket image {} FOUND --as {}`", text::shell(docket), argument(&image.role)),
        )),
    }
}

fn tell(
    file: &Path,
    console: &mut Console<'_>,
    write: impl FnOnce(&Shown<'_>, &mut Console<'_>) -> Result<(), Error>,
) -> Result<Outcome, Error> {
    let opened = store::open_docket(file)?;
    let (images, findings) = looked_at(&opened);
    let shown = Shown { path: text::Name::of(file), docket: &opened.docket, images, findings: &findings };
    if console.json {
        shown.json().write(console.out)?;
    } else {
        write(&shown, console)?;
    }
    Ok(Outcome::of(shown.verdict()))
}

/// Images up to this size are drawn.
const DRAWN_BYTES: u64 = 64 << 20;

fn write_page(file: &Path, out: &Path, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let opened = store::open_docket(file)?;
    let (images, findings) = looked_at(&opened);
    let contents = |(image, state): &(&ImageRecord, State)| -> Option<Contents> {
        let drawn = *state == State::Same && image.bytes <= DRAWN_BYTES;
        let path = drawn.then(|| store::recorded_file(file, image))?;
        let image = store::open(&path, &mut std::io::empty()).ok()?.image;
        Some(Contents { skyline: Skyline::whole(&image), bytes: image.len(), base: image.base() })
    };
    let to_stream = console.is_stream(out)?;
    let contents: Vec<Option<Contents>> = images.iter().map(contents).collect();
    let shown = Shown { path: text::Name::of(file), docket: &opened.docket, images, findings: &findings };
    let page = docket_page::page(&shown, &contents);
    if to_stream {
        console.hand_over(page.as_bytes())?;
        writeln!(console.report(), "{}.", shown.sentence())?;
        return Ok(Outcome::of(shown.verdict()));
    }
    store::save_new(out, page.as_bytes())?;
    if console.json {
        shown.json().write(console.out)?;
    } else {
        writeln!(console.out, "{}.", shown.sentence())?;
        writeln!(console.out, "Written to {}.", text::path(out))?;
    }
    Ok(Outcome::of(shown.verdict()))
}
