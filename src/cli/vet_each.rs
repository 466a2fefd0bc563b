//! `vet` of many images, each judged on its own.

use std::path::Path;

use super::choose::Shelves;
use super::vet::{Args, expected_fields_exist, layout_of, read, remarks};
use super::{Console, Outcome, batch};
use crate::chip::Chip;
use crate::error::Error;
use crate::finding::Verdict;
use crate::report::batch::{self as listed, Verdicts};
use crate::report::vet::Vetted;
use crate::report::{finding, json, text};
use crate::vet::{self, Ask};

/// Judges every image; the lines come as the images are judged or, with the worst first, at the end.
///
/// # Errors
/// When a layout cannot be used or there is no image; what is wrong with one image is told in its place.
pub(super) fn run(args: &Args, chip: Option<&Chip>, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let of_one_chip = [(args.majority.is_some(), "--majority"), (args.must_equal.is_some(), "--must-equal")];
    if let Some((_, option)) = of_one_chip.iter().find(|(given, _)| *given) {
        return Err(Error::new(format!(
            "{option} is for reads of one chip, and those in a folder are judged one by one"
        ))
        .advice("name the reads"));
    }
    let shelves = Shelves::of(&args.layout, &args.reads)?;
    let mut verdicts = Verdicts::default();
    let mut kept: Vec<(Option<Verdict>, Vec<u8>)> = Vec::new();
    let told = batch::run(
        &args.reads,
        console,
        |path, console| judge(args, &shelves, chip, path, console),
        |done, console| {
            let (verdict, line) = match done.result {
                Ok(verdict) => (Some(verdict), done.out),
                Err(error) => (None, unreadable(&error, console)?),
            };
            if let Some(verdict) = verdict {
                verdicts.count(verdict);
            }
            match args.worst_first {
                true => kept.push((verdict, line)),
                false => print(verdict, &line, console)?,
            }
            Ok(())
        },
    )?;
    // What could not be read comes first of all: nothing is known of it. The order of equals stays.
    kept.sort_by_key(|(verdict, _)| (verdict.is_some(), std::cmp::Reverse(*verdict)));
    for (verdict, line) in kept {
        print(verdict, &line, console)?;
    }
    let sentence = verdicts.sentence(&told);
    console.said(&*sentence);
    // With --quiet each image that a person must look at was told in its place.
    console.sentence = Some(String::new());
    if console.json {
        // On standard output is one object for each image and nothing else.
        console.remark(&sentence)?;
    } else {
        writeln!(console.out, "\n{sentence}")?;
    }
    Ok(batch::outcome(&told, verdicts.doubtful + verdicts.unsound == 0))
}

/// Prints the line of an image; with `--quiet` only where a person must look at it.
fn print(verdict: Option<Verdict>, line: &[u8], console: &mut Console<'_>) -> Result<(), Error> {
    match console.quiet && !console.json {
        true if verdict == Some(Verdict::Sound) => Ok(()),
        true => console.hand_over(line),
        false => Ok(console.out.write_all(line)?),
    }
}

fn judge(
    args: &Args,
    shelves: &Shelves<'_>,
    chip: Option<&Chip>,
    path: &Path,
    console: &mut Console<'_>,
) -> Result<Verdict, Error> {
    let opened = console.open(path)?;
    let shelf = shelves.for_image(path)?;
    let ask = Ask { chip, layouts: shelf.layouts(), named: shelf.is_named(), expect: &args.expect };
    let mut report = vet::vet(&[&opened.image], &ask);
    if shelf.is_named() {
        expected_fields_exist(&report, &args.expect)?;
    }
    report.add(remarks(&report, &shelf, std::slice::from_ref(&opened)));
    args.layout.names().with("IMAGE", path).fill(&mut report.findings);
    console.saw("image", &opened)?;
    console.heeded(layout_of(&report, &shelf).map(|(layout, _)| layout));
    console.judged(Some(report.verdict), &report.findings, opened.image.base());
    let layout = layout_of(&report, &shelf);
    if console.json {
        let reads = [read(&opened)];
        let vetted = Vetted { reads: &reads, report: &report, chip, layout, majority: None, next: None };
        vetted.json().print(console.out, true)?;
    } else {
        let name = layout.map(|(_, name)| name);
        let entry = listed::judged(console.paint, &text::path(path), &opened.image, &report, name);
        console.out.write_all(entry.as_bytes())?;
        if console.paint.whole {
            finding::write(console.out, console.paint, &report.findings, opened.image.base())?;
            console.tell_choice(&shelf, &opened.image)?;
            writeln!(console.out)?;
        }
    }
    Ok(report.verdict)
}

/// The line of an image that could not be read.
fn unreadable(error: &Error, console: &Console<'_>) -> Result<Vec<u8>, Error> {
    let mut line = Vec::new();
    match console.json {
        true => json::write_error(&mut line, error, true)?,
        false => line.extend(listed::unreadable(console.paint, error).into_bytes()),
    }
    Ok(line)
}
