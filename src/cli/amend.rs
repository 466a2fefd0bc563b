//! The `amend` command.

use std::path::{Path, PathBuf};

use super::audit::allowed;
use super::choose::{Choice, LayoutArgs};
use super::{Console, Outcome, parse_address, sides};
use crate::compare::amend::{Amended, Instruction, Selection, amend, named};
use crate::compare::audit::{Ruling, audit};
use crate::compare::ChangeList;
use crate::error::Error;
use crate::finding::{Code, Finding};
use crate::image::{self, Format, Image, Writing};
use crate::layout::{self, Role};
use crate::notation::get::hex_bytes;
use crate::report::amend::{self as report, Written};
use crate::report::audit::{Audited, sentence};
use crate::report::paint::Extent;
use crate::report::sides::Side;
use crate::report::text;
use crate::store::{self, Opened, Sha256};

/// What `amend` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof amend read.bin --set setpoint=4.0 --reseal --dry-run\n  \
    readproof amend read.bin --rest lockouts --reseal -o changed.bin\n  \
    readproof amend new.bin --copy all-settings --from old.bin --reseal -o out.bin\n  \
    readproof amend unit9.bin --apply setpoint.changes.ron -o unit9-changed.bin\n\n\
    Whatever their order on the command line, instructions are carried out in this\n\
    one: --apply, --copy, --rest, --set, --bytes, --reseal.\n\n\
    The result is audited against IMAGE before anything is written. What --set and\n\
    --bytes change is named by that; what --copy, --rest and --apply change beyond\n\
    Records and Settings needs --allow. OUT must not exist.\n\n\
    Exit status: 0 written, or safe to write; 1 not safe, nothing was written; or\n\
    it cannot be told, and was written for a person to look at; 2 it could not be\n\
    done.")]
pub struct Args {
    /// Image to start from; it is never written to
    #[arg(value_name = "IMAGE")]
    image: PathBuf,
    /// File to write; its ending gives the format, else it is that of IMAGE; - writes to standard output
    #[arg(short, long, value_name = "OUT", required_unless_present = "dry_run")]
    output: Option<PathBuf>,
    #[command(flatten)]
    layout: LayoutArgs,
    /// Make a field hold a value
    #[arg(long, value_name = "FIELD=VALUE")]
    set: Vec<String>,
    /// Return a field and the Records inside it to rest; all-records for every Record
    #[arg(long, value_name = "FIELD")]
    rest: Vec<String>,
    /// Take fields over from another image; all-settings or all-records for every one
    #[arg(long, value_name = "FIELDS", value_delimiter = ',', requires = "from")]
    copy: Vec<String>,
    /// The image to copy from
    #[arg(long, value_name = "OTHER", requires = "copy")]
    from: Option<PathBuf>,
    /// Write bytes from an address on: 0x1F0=4B0431
    #[arg(long, value_name = "ADDRESS=HEX")]
    bytes: Vec<String>,
    /// Seal every check that the changes broke
    #[arg(long)]
    reseal: bool,
    /// A field, or a range of addresses, that may change although its role says otherwise
    #[arg(long, value_name = "FIELD", value_delimiter = ',')]
    allow: Vec<String>,
    /// Print what would be written, and write no image
    #[arg(long)]
    dry_run: bool,
    /// Keep the changes in a new file, for another image of the same kind
    #[arg(long, value_name = "FILE")]
    save_changes: Option<PathBuf>,
    /// Make the changes that were kept in a file
    #[arg(long, value_name = "FILE")]
    apply: Option<PathBuf>,
    /// Print every row of every table
    #[arg(long)]
    all: bool,
}

/// Runs `amend`.
///
/// # Errors
/// When an image, a layout or a change list cannot be used, an instruction cannot be carried out, or a file exists
/// or cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let paths: Vec<&Path> = [Some(&args.image), args.from.as_ref()].into_iter().flatten().map(PathBuf::as_path).collect();
    let shelf = args.layout.shelf(&paths)?;
    let to_stream = files_to_write(args, console)?;
    let before = console.open(&args.image)?;
    let other = args.from.as_ref().map(|path| console.open(path)).transpose()?;
    console.saw("before", &before)?;
    if let Some(other) = &other {
        console.saw("copied from", other)?;
    }
    let list = args.apply.as_ref().map(|path| store::read_change_list(path)).transpose()?;
    let Choice { chosen, why, findings } = shelf.choose(&before.image);
    let layout = chosen.map(|c| c.layout);
    console.heeded(layout);
    let instructions = instructions(args, list.as_ref(), other.as_ref(), &before.image)?;
    let format = format(args, &before);
    let decoded = layout.map(|l| layout::decode(l, &before.image));
    let allowed = named(&instructions, decoded.as_ref(), allowed(&args.allow, layout, &before.image)?)?;
    let amended = amend(layout, &before.image, &instructions)?;
    let mut audit = audit(layout, &before.image, &amended.image, &allowed);
    audit.take_in(findings.into_iter().chain(amended.findings.iter().chain(&before.remarks).cloned()));
    let (file, not_carried) = image::write(&amended.image, format, Writing::default())
        .map_err(|e| match (Error::from(e).in_file(&args.image), format) {
            (error, Format::Raw) => error.advice(NO_GAPS),
            (error, _) => error,
        })?;
    audit.take_in(not_carried);
    name_in(&mut audit.findings, args);
    let output = args.output.as_deref().filter(|_| !args.dry_run && audit.ruling != Ruling::NotSafe);
    // The list first: should it fail, no image was written of which nothing is told.
    let kept = args.save_changes.as_deref().filter(|_| audit.ruling != Ruling::NotSafe);
    if let Some(path) = kept {
        let list = ChangeList::of(&before.image, &amended.image, layout, &audit.comparison);
        store::save_change_list(path, &list)?;
    }
    match output {
        Some(_) if to_stream => console.hand_over(&file)?,
        Some(output) => {
            store::save_new(output, &file)?;
            console.wrote("changed", output)?;
        }
        None => {}
    }
    let audited = Audited {
        before: sides::side(&before)?,
        after: Side {
            path: text::Name::of(output.unwrap_or(Path::new("(not written)"))),
            format,
            image: &amended.image,
            sha256: Some(Sha256::of(&file).to_string()),
        },
        layout: chosen.map(|c| sides::taken(c, &why)),
        audit: &audit,
    };
    let done = match output {
        Some(_) => "It was written.",
        None => "Nothing was written.",
    };
    console.said(format!("{} {done}", sentence(&audit)));
    console.judged(Some(audit.verdict()), &audit.findings, before.image.base());
    console.changed(&audit, &before.image, &amended.image);
    tell(args, console, &audited, &amended, output, kept)?;
    console.tell_choice(&shelf, &before.image)?;
    Ok(Outcome::of(audit.verdict()))
}

/// An amended image has the gaps of the original; a raw file would put something there that nobody approved.
const NO_GAPS: &str = "give OUT the ending .hex or .s19, which leave out what is not in the image";

/// Puts the names of files into what is proposed. What another unit's identity or calibration came from is the image
/// that is copied from; without one, the changes are this command's own, and it is this command that is mended.
fn name_in(findings: &mut [Finding], args: &Args) {
    let mut names = args.layout.names().with("BEFORE", &args.image).with("IMAGE", &args.image);
    if let Some(from) = &args.from {
        names = names.with("AFTER", from);
    }
    for finding in findings.iter_mut() {
        match finding.code {
            Code::CheckBroken if finding.advice.contains(" AFTER ") => {
                finding.advice = "say --reseal as well, if the changes are right".to_owned();
            }
            Code::OtherUnit if args.from.is_none() => {
                finding.advice = "leave out the instructions that change identity and calibration".to_owned();
            }
            _ => {}
        }
    }
    names.fill(findings);
}

/// What is wrong with the names of the files to write, before anything is done.
/// Returns whether the image goes to standard output.
fn files_to_write(args: &Args, console: &mut Console<'_>) -> Result<bool, Error> {
    if args.save_changes.as_deref() == Some(Path::new("-")) {
        return Err(Error::new("\"-\" is no file, and a change list is only written to one")
            .advice("name a file with --save-changes"));
    }
    let exists = |path: &Path, advice: &str| {
        Err(Error::new("something of this name exists, and nothing is written over").in_file(path).advice(advice))
    };
    let output = args.output.as_deref().filter(|_| !args.dry_run);
    if let Some(list) = args.save_changes.as_deref() {
        if list.exists() {
            return exists(list, "give the change list another name");
        }
        // Either is written whole or not at all, so neither must fail once the other is there.
        let absolute = |path: &Path| std::path::absolute(path).ok();
        if let Some(output) = output.filter(|output| output.exists() || absolute(output) == absolute(list)) {
            return match output.exists() {
                true => exists(output, "give the image another name"),
                false => Err(Error::new("the image and the list of its changes cannot be one file")
                    .in_file(output)
                    .advice("give the change list another name")),
            };
        }
    }
    args.output.as_deref().map_or(Ok(false), |output| console.is_stream(output))
}

fn tell(
    args: &Args,
    console: &mut Console<'_>,
    audited: &Audited<'_>,
    amended: &Amended,
    output: Option<&Path>,
    kept: Option<&Path>,
) -> Result<(), Error> {
    let written = Written {
        steps: &amended.steps,
        left: &amended.left,
        output: output.map(text::Name::of),
        change_list: kept.map(text::Name::of),
        dry_run: args.dry_run,
    };
    if console.json {
        audited.write_json(console.out, "amend", Some(written.json()))?;
    } else {
        let (paint, extent) = (console.paint, Extent::of(args.all, console.paint));
        report::write(console.report(), paint, audited, &written, extent)?;
    }
    Ok(())
}

/// The format of the file to write: its ending's, else that of the image.
fn format(args: &Args, before: &Opened) -> Format {
    let ending = args.output.as_ref().and_then(|path| path.extension()).and_then(|e| e.to_str());
    ending.and_then(Format::of_ending).unwrap_or(before.format)
}

fn instructions<'a>(
    args: &Args,
    list: Option<&'a ChangeList>,
    other: Option<&'a Opened>,
    image: &Image,
) -> Result<Vec<Instruction<'a>>, Error> {
    let mut instructions: Vec<Instruction<'a>> = list.map(Instruction::Apply).into_iter().collect();
    if let Some(other) = other {
        if image.base() != other.image.base() {
            return Err(Error::new("the image to copy from begins at another address")
                .in_file(&other.path)
                .advice("convert it with `readproof convert --base` first"));
        }
        instructions.extend(args.copy.iter().map(|name| Instruction::Copy(selection(name), &other.image)));
    }
    instructions.extend(args.rest.iter().map(|name| Instruction::Rest(selection(name))));
    for set in &args.set {
        let Some((field, value)) = set.split_once('=') else {
            return Err(Error::new(format!("{set:?} sets nothing")).advice("write --set FIELD=VALUE"));
        };
        instructions.push(Instruction::Set(field.trim().to_owned(), value.to_owned()));
    }
    for bytes in &args.bytes {
        let (at, bytes) = parse_bytes(bytes, image)?;
        instructions.push(Instruction::Bytes(at, bytes));
    }
    if args.reseal {
        instructions.push(Instruction::Reseal(Vec::new()));
    }
    if instructions.is_empty() {
        return Err(Error::new("there is nothing to do")
            .advice("say what to change: --set, --rest, --copy, --bytes, --apply or --reseal"));
    }
    Ok(instructions)
}

fn selection(name: &str) -> Selection {
    match name {
        "all-records" => Selection::All(Role::Record),
        "all-settings" => Selection::All(Role::Setting),
        path => Selection::Path(path.to_owned()),
    }
}

/// `0x1F0=4B0431` as an offset and bytes.
fn parse_bytes(typed: &str, image: &Image) -> Result<(usize, Vec<u8>), Error> {
    let wrong = |what: String| Error::new(what).advice("write --bytes 0x1F0=4B0431");
    let Some((at, hex)) = typed.split_once('=') else {
        return Err(wrong(format!("{typed:?} writes nothing")));
    };
    let address = parse_address(at.trim()).map_err(wrong)?;
    let Some(offset) = image.offset(address) else {
        return Err(Error::new(format!("{} is not in the image", text::address(address))).advice(format!(
            "the image is {}..{}",
            text::address(image.base()),
            text::address(image.address(image.len()))
        )));
    };
    match hex_bytes(hex).filter(|bytes| !bytes.is_empty()) {
        Some(bytes) => Ok((offset, bytes)),
        None => Err(wrong(format!("{hex:?} is no row of hexadecimal bytes"))),
    }
}
