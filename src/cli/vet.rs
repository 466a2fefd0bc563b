//! The `vet` command.

use std::path::{Path, PathBuf};

use super::choose::{LayoutArgs, Shelf};
use super::{Console, Outcome, batch, vet_each};
use crate::chip::{self, Chip};
use crate::error::Error;
use crate::finding::{Code, Finding, Verdict};
use crate::image::{self, Format, Image, Writing};
use crate::layout::{Layout, Shape};
use crate::report::text;
use crate::report::vet::{Proven, Read, Vetted, Written};
use crate::store::{self, Opened, Sha256};
use crate::vet::written::{self, Write};
use crate::vet::{self, Ask, Expectation, Majority, Report, majority};

/// What `vet` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof vet read1.bin read2.bin\n  \
    readproof vet read1.bin read2.bin --expect part_number=FK-CR8-2047B\n  \
    readproof vet read1.bin read2.bin read3.bin --majority best.bin\n  \
    readproof vet readback.bin --must-equal approved.bin --before read1.bin\n  \
    readproof vet reads/ --worst-first\n\n\
    Several reads are taken for reads of one chip. In a folder, and with --each,\n\
    every image is judged on its own, a row each. Hidden files, links to folders\n\
    and .ron files in a folder are left out.\n\n\
    Exit status: 0 sound, or written exactly; 1 doubtful or unsound; 2 it could not\n\
    be done, or not for every image.")]
pub struct Args {
    /// Reads of one chip, or folders of images; - reads standard input
    #[arg(value_name = "READ", required = true)]
    pub(super) reads: Vec<PathBuf>,
    /// Judge every image on its own, as those in a folder are
    #[arg(long, conflicts_with_all = ["majority", "must_equal"])]
    pub(super) each: bool,
    /// With a folder or --each: list the worst images first, once all are judged
    #[arg(long)]
    pub(super) worst_first: bool,
    /// The chip by its marking, such as 24C64: its size must be that of the reads
    #[arg(long, value_name = "NAME")]
    chip: Option<String>,
    #[command(flatten)]
    pub(super) layout: LayoutArgs,
    /// What a field must hold, to the character, as on the label; may be given more than once
    #[arg(long = "expect", value_name = "FIELD=VALUE", value_parser = parse_expectation)]
    pub(super) expect: Vec<Expectation>,
    /// Write what most of three or more reads hold to this new file; - writes to standard output
    #[arg(long, value_name = "OUT")]
    pub(super) majority: Option<PathBuf>,
    /// Prove a write: the read must be this approved image, byte for byte
    #[arg(long, value_name = "APPROVED", conflicts_with_all = ["majority", "expect"])]
    pub(super) must_equal: Option<PathBuf>,
    /// With --must-equal: what the chip held before the write, to tell old contents
    #[arg(long, value_name = "IMAGE", requires = "must_equal")]
    before: Option<PathBuf>,
}

fn parse_expectation(typed: &str) -> Result<Expectation, String> {
    match typed.split_once('=') {
        Some((field, value)) if !field.trim().is_empty() && !value.trim().is_empty() => {
            Ok(Expectation { field: field.trim().to_owned(), value: value.to_owned() })
        }
        _ => Err(format!("{typed:?} is no expectation; write FIELD=VALUE, such as part_number=FK-CR8-2047B")),
    }
}

/// Runs `vet`.
///
/// # Errors
/// When an image, the layout or the chip cannot be used, or the majority cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let chip = args.chip.as_deref().map(named_chip).transpose()?;
    if args.each || batch::has_folder(&args.reads) {
        return vet_each::run(args, chip, console);
    }
    if args.worst_first {
        return Err(Error::new("--worst-first lists many images, and these are reads of one chip")
            .advice("name a folder, or judge each read on its own with --each"));
    }
    named_once(&args.reads)?;
    let opened: Vec<Opened> =
        args.reads.iter().map(|path| console.open(path)).collect::<Result<_, _>>()?;
    match (&args.must_equal, opened.as_slice()) {
        (Some(approved), [readback]) => prove(args, readback, approved, chip, console),
        (Some(_), _) => Err(Error::new("--must-equal takes one read, what was read back from the chip")
            .advice("vet several reads of the chip first, then prove one of them")),
        (None, _) => judge(args, &opened, chip, console),
    }
}

/// A file that is compared with itself shows nothing about a chip, and it must not outvote another read.
fn named_once(reads: &[PathBuf]) -> Result<(), Error> {
    for (n, read) in reads.iter().enumerate() {
        if let Some(first) = reads.iter().take(n).position(|other| store::is_same_file(read, other)) {
            return Err(Error::new(format!("read {} is the same file as read {}, so they cannot but agree", n + 1, first + 1))
                .in_file(read)
                .advice("read the chip again, after taking the contact off and on again, and name each read once"));
        }
    }
    Ok(())
}

fn named_chip(name: &str) -> Result<&'static Chip, Error> {
    chip::by_name(name).ok_or_else(|| {
        let likely: Vec<&str> = chip::explain(name).iter().take(4).map(|c| c.name).collect();
        let meant = chip::meant(name);
        Error::new(format!("{name:?} is no chip in the table")).advice(match (likely.is_empty(), meant.is_empty()) {
            (true, true) => "`readproof chips` lists them".to_owned(),
            (true, false) => format!("did you mean {}?", meant.join(" or ")),
            _ => format!("a shortened marking can be {}; `readproof chips {}` explains", text::list(&likely), text::word(name.as_ref())),
        })
    })
}

fn judge(
    args: &Args,
    opened: &[Opened],
    chip: Option<&Chip>,
    console: &mut Console<'_>,
) -> Result<Outcome, Error> {
    let paths: Vec<&Path> = args.reads.iter().map(PathBuf::as_path).collect();
    let shelf = args.layout.shelf(&paths)?;
    let images: Vec<&Image> = opened.iter().map(|o| &o.image).collect();
    let ask = Ask { chip, layouts: shelf.layouts(), named: shelf.is_named(), expect: &args.expect };
    let mut report = vet::vet(&images, &ask);
    expected_fields_exist(&report, &args.expect)?;
    let majority =
        args.majority.as_deref().map(|out| write_majority(out, opened, &images, console)).transpose()?;
    report.add(remarks(&report, &shelf, opened));
    report.add(majority.as_ref().and_then(majority::finding));
    let judged_read = paths.get(report.judged_read).copied().unwrap_or(Path::new("-"));
    let names = args.layout.names().with_reads(paths.iter().copied()).with("IMAGE", judged_read);
    names.fill(&mut report.findings);
    for (n, opened) in opened.iter().enumerate() {
        console.saw(format!("read {}", n + 1), opened)?;
    }
    if let Some(path) = args.majority.as_ref().filter(|_| !console.streamed) {
        console.wrote("majority", path)?;
    }
    console.heeded(layout_of(&report, &shelf).map(|(layout, _)| layout));
    console.judged(Some(report.verdict), &report.findings, images.first().map_or(0, |i| i.base()));
    let reads: Vec<Read<'_>> = opened.iter().map(read).collect();
    let vetted = Vetted {
        reads: &reads,
        next: (judged_read != Path::new("-")).then(|| names.filled_next(next(args, &report))),
        report: &report,
        chip: ask.chip,
        layout: layout_of(&report, &shelf),
        majority: majority
            .as_ref()
            .zip(args.majority.as_deref())
            .map(|(majority, path)| Written { path: text::Name::of(path), majority }),
    };
    console.said(format!("{}.", report.sentence));
    if console.json {
        vetted.json().write(console.out)?;
    } else {
        let paint = console.paint;
        vetted.write(console.report(), paint)?;
        if let Some(judged) = images.get(report.judged_read) {
            console.tell_choice(&shelf, judged)?;
        }
    }
    Ok(Outcome::of(report.verdict))
}

/// What is to be said besides: about layouts that were left out or fit as well, and about the files.
pub(super) fn remarks(report: &Report, shelf: &Shelf, opened: &[Opened]) -> Vec<Finding> {
    let tie = report.layout.iter().filter_map(|j| shelf.tie(j.index, j.as_good.iter().copied()));
    let of_files = shelf.left_out().iter().chain(opened.iter().flat_map(|o| &o.remarks));
    tie.chain(of_files.cloned()).collect()
}

/// The layout that the reads were judged by, and the name it goes by.
pub(super) fn layout_of<'a>(report: &Report, shelf: &'a Shelf) -> Option<(&'a Layout, &'a str)> {
    let index = report.layout.as_ref()?.index;
    Some((shelf.layouts().get(index)?, shelf.files().get(index)?.name.as_str()))
}

/// A read for the reports.
pub(super) fn read(opened: &Opened) -> Read<'_> {
    Read {
        path: text::Name::of(&opened.path),
        image: &opened.image,
        sha256: Sha256::of(opened.image.bytes()).to_string(),
    }
}

/// A field that the layout does not have, or that has no value, is a slip of the user, not a fault of the read.
pub(super) fn expected_fields_exist(report: &Report, expect: &[Expectation]) -> Result<(), Error> {
    let Some(judged) = &report.layout else { return Ok(()) };
    for expected in expect {
        let field = judged.decoded.named(&expected.field)?;
        if field.shape != Shape::Leaf {
            return Err(Error::new(format!("{} holds other fields and has no value of its own", field.path))
                .advice("say what one of the fields inside it must hold, as `readproof show` lists them"));
        }
    }
    Ok(())
}

/// Votes and writes the outcome as a new file, in the format that its ending names, else that of the first read.
fn write_majority(
    out: &Path,
    opened: &[Opened],
    images: &[&Image],
    console: &mut Console<'_>,
) -> Result<Majority, Error> {
    let to_stream = console.is_stream(out)?;
    let voted = majority::vote(images).map_err(|why| {
        Error::new(why.words()).advice("read the chip again with the same device selected, and name all reads")
    })?;
    let by_ending = out.extension().and_then(|e| Format::of_ending(&e.to_string_lossy()));
    let format = by_ending.or(opened.first().map(|o| o.format)).unwrap_or(Format::Raw);
    let (file, _) = image::write(&voted.image, format, Writing::default())
        .map_err(|e| Error::from(e).in_file(out))?;
    match to_stream {
        true => console.hand_over(&file)?,
        false => drop(store::save_new(out, &file)?),
    }
    Ok(voted)
}

/// What to do next: a command, or words; both name files as findings do.
fn next(args: &Args, report: &Report) -> &'static str {
    let has = |code: Code| report.findings.iter().any(|f| f.code == code);
    match report.verdict {
        Verdict::Sound if has(Code::OneRead) => "read the chip again, then `readproof vet IMAGE READ2`",
        Verdict::Sound if report.layout.is_some() => "readproof show IMAGE",
        Verdict::Sound => "readproof survey IMAGE",
        _ if has(Code::ReadsDisagree) && args.reads.len() >= 3 && args.majority.is_none() => {
            "readproof vet READS --majority OUT"
        }
        _ if has(Code::GoodReadsDiffer) => "readproof compare READS",
        _ if has(Code::ReadsDisagree) => "read the chip once more and vet all reads together",
        _ if has(Code::CheckBroken) => "readproof show IMAGE",
        _ => "put the cause right, read the chip again, and vet the new read",
    }
}

fn prove(
    args: &Args,
    readback: &Opened,
    approved: &Path,
    chip: Option<&Chip>,
    console: &mut Console<'_>,
) -> Result<Outcome, Error> {
    if store::is_same_file(&readback.path, approved) {
        return Err(Error::new("this is the approved file itself, which shows nothing about the chip")
            .in_file(approved)
            .advice("read the chip back into a file of its own, and name that one"));
    }
    let approved = console.open(approved)?;
    let before = args.before.as_deref().map(|path| console.open(path)).transpose()?;
    // What differs gets names by the layout that fits what was approved.
    let shelf = args.layout.shelf(&[&approved.path])?;
    let images = Write {
        readback: &readback.image,
        approved: &approved.image,
        before: before.as_ref().map(|b| &b.image),
        layout: shelf.choose(&approved.image).chosen.map(|c| c.layout),
    };
    let mut proof = written::prove(images, chip);
    let files = [Some(readback), Some(&approved), before.as_ref()];
    proof.add(files.into_iter().flatten().flat_map(|file| file.remarks.iter().cloned()));
    let names = args.layout.names().with("READBACK", &readback.path).with("IMAGE", &readback.path);
    let names = names.with("AFTER", &approved.path);
    names.fill(&mut proof.findings);
    console.saw("read-back", readback)?;
    console.saw("approved", &approved)?;
    if let Some(before) = &before {
        console.saw("before", before)?;
    }
    console.judged(Some(proof.verdict), &proof.findings, approved.image.base());
    let next = (proof.verdict != Verdict::Sound && before.is_none()).then(|| {
        let (back, approved) = (text::shell(&readback.path), text::shell(&approved.path));
        format!("`readproof vet {back} --must-equal {approved} --before IMAGE` tells old contents")
    });
    let proven = Proven { readback: read(readback), approved: read(&approved), proof: &proof, next };
    console.said(format!("{}.", proof.sentence));
    if console.json {
        proven.json().write(console.out)?;
    } else {
        proven.write(console.out, console.paint)?;
    }
    Ok(Outcome::of(proof.verdict))
}
