//! The `layouts` command.

use std::path::PathBuf;

use super::{Console, Outcome};
use crate::error::Error;
use crate::layout;
use crate::notation::Problem;
use crate::report::layouts::{self as report, Linted, Listed};
use crate::report::text;
use crate::store::{self, LayoutFile};

/// What `layouts` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof layouts\n  \
    readproof layouts mine.ron\n  \
    readproof layouts --print frostkeel-cr8 > mine.ron\n\n\
    Exit status: 0 no problems; 1 a layout has problems; 2 it could not be done.")]
pub struct Args {
    /// Layout files to look through for problems; without any, lists the layouts at hand
    #[arg(value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Folder with more layouts
    #[arg(long, value_name = "FOLDER")]
    layouts: Option<PathBuf>,
    /// Print the text of a layout at hand, to start one of your own from
    #[arg(long, value_name = "NAME", conflicts_with = "files")]
    print: Option<PathBuf>,
}

/// Runs `layouts`.
///
/// # Errors
/// When a file cannot be read, or nothing has the name that was given.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if !args.files.is_empty() {
        return lint(&args.files, console);
    }
    let at_hand = store::layouts(args.layouts.as_deref(), &[])?;
    if let Some(name) = &args.print {
        let file = store::layout_file(name, &at_hand)?;
        console.out.write_all(file.text.as_bytes())?;
        return Ok(Outcome::Good);
    }
    list(&at_hand, console)
}

fn list(at_hand: &[LayoutFile], console: &mut Console<'_>) -> Result<Outcome, Error> {
    let listed: Vec<Listed> = at_hand
        .iter()
        .map(|file| {
            let read = layout::read(&file.text);
            Listed {
                name: file.name.clone(),
                path: file.path.as_deref().map(text::path),
                problems: read.as_ref().err().map_or(0, Vec::len),
                title: read.as_ref().map(|l| l.title.clone()).ok(),
                source: read.map(|l| l.source).ok(),
            }
        })
        .collect();
    if console.json {
        report::list_json(listed).write(console.out)?;
    } else {
        report::write_list(console.out, console.paint, &listed)?;
    }
    Ok(Outcome::Good)
}

fn lint(files: &[PathBuf], console: &mut Console<'_>) -> Result<Outcome, Error> {
    let files: Vec<LayoutFile> =
        files.iter().map(|path| store::layout_file(path, &[])).collect::<Result<_, _>>()?;
    let problems: Vec<Vec<Problem>> =
        files.iter().map(|file| layout::read(&file.text).err().unwrap_or_default()).collect();
    let linted: Vec<Linted<'_>> = files
        .iter()
        .zip(&problems)
        .map(|(file, problems)| Linted { path: text::clean(&file.place()).into_owned(), text: &file.text, problems })
        .collect();
    if console.json {
        report::lint_json(&linted).write(console.out)?;
    } else {
        for (i, linted) in linted.iter().enumerate() {
            if i > 0 {
                writeln!(console.out)?;
            }
            report::write_lint(console.out, console.paint, linted)?;
        }
    }
    let good = problems.iter().all(Vec::is_empty);
    Ok(if good { Outcome::Good } else { Outcome::Attention })
}
