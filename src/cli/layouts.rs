//! The `layouts` command.

use std::path::PathBuf;

use super::choose::at_hand_or_file;
use super::{Console, Outcome};
use crate::error::Error;
use crate::layout::{self, Remark, RemarkWeight};
use crate::notation::nearest;
use crate::report::kinds::{self, AnyKind};
use crate::report::layouts::{self as report, Linted, Listed};
use crate::report::text;
use crate::store::{self, LayoutFile};

/// What `layouts` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof layouts\n  \
    readproof layouts mine.ron\n  \
    readproof layouts --print frostkeel-cr8 > mine.ron\n  \
    readproof layouts --explain Text\n\n\
    Exit status: 0 no problems; 1 a layout has problems; 2 it could not be done.")]
pub struct Args {
    /// Layout files to look through for problems; without any, lists the layouts at hand
    #[arg(value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Folder with more layouts
    #[arg(long, value_name = "FOLDER")]
    layouts: Option<PathBuf>,
    /// Print the text of a layout at hand, to start one of your own from
    #[arg(long, value_name = "NAME", conflicts_with_all = ["files", "explain"])]
    print: Option<PathBuf>,
    /// Explain a kind of field: what it is, its options, examples
    #[arg(long, value_name = "KIND", conflicts_with = "files", num_args = 0..=1)]
    explain: Option<Option<String>>,
}

/// Runs `layouts`.
///
/// # Errors
/// When a file cannot be read, or nothing has the name that was given.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if let Some(kind) = &args.explain {
        return explain(kind.as_deref(), console);
    }
    if !args.files.is_empty() {
        return lint(&args.files, console);
    }
    let at_hand = store::layouts(args.layouts.as_deref(), &[])?;
    if let Some(name) = &args.print {
        console.is_no_json("the text of a layout")?;
        let file = at_hand_or_file(name, &at_hand)?;
        console.hand_over(file.text.as_bytes())?;
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
                path: file.path.as_deref().map(text::Name::of),
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
        files.iter().map(|path| at_hand_or_file(path, &[])).collect::<Result<_, _>>()?;
    let remarks: Vec<Vec<Remark>> = files.iter().map(|file| layout::lint(&file.text).1).collect();
    let linted: Vec<Linted<'_>> = files
        .iter()
        .zip(&remarks)
        .map(|(file, remarks)| Linted {
            path: text::Name::of(&file.path.clone().unwrap_or_else(|| file.place().into())),
            text: &file.text,
            remarks,
        })
        .collect();
    console.hears(|out, paint| linted.iter().try_for_each(|one| report::write_lint(out, paint, one)))?;
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
    let good = linted.iter().all(|l| l.count(RemarkWeight::Problem) == 0);
    Ok(if good { Outcome::Good } else { Outcome::Attention })
}

fn explain(kind: Option<&str>, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let all = AnyKind::all;
    let Some(wanted) = kind else {
        match console.json {
            true => kinds::json(all()).write(console.out)?,
            false => kinds::write_list(console.out, console.paint)?,
        }
        return Ok(Outcome::Good);
    };
    let Some(row) = all().find(|kind| kind.name().eq_ignore_ascii_case(wanted)) else {
        let error = Error::new(format!("there is no kind {wanted:?}"));
        return Err(match nearest(wanted, all().map(AnyKind::name)) {
            Some(near) => error.advice(format!("did you mean {near}?")),
            None => error.advice("`readproof layouts --explain` lists the kinds"),
        });
    };
    match console.json {
        true => kinds::json([row].into_iter()).write(console.out)?,
        false => kinds::write_one(console.out, console.paint, row)?,
    }
    Ok(Outcome::Good)
}
