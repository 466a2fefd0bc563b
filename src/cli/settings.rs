//! The `settings` command.

use std::path::PathBuf;

use super::{Console, Outcome};
use crate::error::Error;
use crate::layout::RemarkWeight;
use crate::report::layouts::Linted;
use crate::report::{settings as report, text};
use crate::store;
use crate::tui::settings::{read, starting_text};

/// What `settings` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof settings\n  \
    readproof settings --start\n\n\
    The file sets the background, the glyphs, the mouse, the colours and the keys of\n\
    the editor. Exit status: 0 no problems; 1 the file has problems, and nothing of\n\
    it is in force; 2 it could not be done.")]
pub struct Args {
    /// Another file than the one that the editor reads
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Write a file to start from, where there is none yet
    #[arg(long)]
    start: bool,
}

/// Runs `settings`.
///
/// # Errors
/// When the file cannot be read, or one is to be written and there is one.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let path = args.file.clone().or_else(store::settings_path).ok_or_else(|| {
        Error::new("the system names no folder for settings")
            .advice("name a file, and name it to the editor too: readproof --settings FILE IMAGE")
    })?;
    if args.start {
        store::start_settings(&path, &starting_text())?;
    }
    let told = text::Name::of(&path);
    let source = store::settings(&path)?;
    let remarks = source.as_deref().map(|source| read(source).1).unwrap_or_default();
    let linted = source.as_deref().map(|text| Linted { path: told.clone(), text, remarks: &remarks });
    if console.json {
        report::json(&told, linted.as_ref(), args.start).write(console.out)?;
    } else if args.start {
        writeln!(console.out, "Wrote {}. It changes nothing until you take comments away in it.", &*told)?;
    } else {
        report::write(console.out, console.paint, &told, linted.as_ref())?;
    }
    let good = linted.is_none_or(|l| l.count(RemarkWeight::Problem) == 0);
    Ok(if good { Outcome::Good } else { Outcome::Attention })
}
