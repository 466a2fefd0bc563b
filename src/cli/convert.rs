//! The `convert` command.

use std::path::{Path, PathBuf};

use clap::builder::{PossibleValuesParser, TypedValueParser};

use super::arguments::number_in;
use super::{Console, Outcome, parse_address};
use crate::error::Error;
use crate::finding::Verdict;
use crate::image::{self, Format, Writing};
use crate::report::convert::{Converted, FileFacts, write_facts};
use crate::report::names::Names;
use crate::report::{finding, text};
use crate::store::{self, Sha256};

/// What `convert` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof convert read.bin read.hex\n  \
    readproof convert read.s19 read.bin --fill 0xFF\n  \
    readproof convert read.bin - --to s-record --base 0x8000\n\n\
    OUT must not exist. Without --to its ending decides: bin, raw, rom, eep are raw;\n\
    hex, ihex, ihx Intel HEX; s19, s28, s37, srec, mot S-record.\n\n\
    Exit status: 0 written; 1 written, and a person must look at the file that was\n\
    read; 2 it could not be done.")]
pub struct Args {
    /// Image to read, its format told by its content; - reads standard input
    #[arg(value_name = "IN")]
    input: PathBuf,
    /// File to write; - writes to standard output
    #[arg(value_name = "OUT")]
    output: PathBuf,
    /// Format to write: raw, intel-hex or s-record
    #[arg(long, value_name = "FORMAT", value_parser = format_word(), hide_possible_values = true)]
    to: Option<Format>,
    /// Format to read IN as, where its content would be told wrongly
    #[arg(long, value_name = "FORMAT", value_parser = format_word(), hide_possible_values = true)]
    from: Option<Format>,
    /// Address of the first byte, in the place of the one that IN says
    #[arg(long, value_name = "ADDRESS", value_parser = parse_address)]
    base: Option<u64>,
    /// What a raw file holds where the image has gaps
    #[arg(long, value_name = "BYTE", value_parser = parse_byte)]
    fill: Option<u8>,
    /// Data bytes of one record
    #[arg(long, value_name = "COUNT", default_value_t = Writing::default().record_bytes,
        value_parser = number_in::<u8>(1, u8::MAX.into()))]
    record_bytes: u8,
}

/// Takes the word of a format.
fn format_word() -> impl TypedValueParser<Value = Format> {
    PossibleValuesParser::new(Format::ALL.map(Format::word))
        .try_map(|word| Format::of_word(&word).ok_or("this word stands for no format"))
}

fn parse_byte(typed: &str) -> Result<u8, String> {
    let byte = parse_address(typed).ok().and_then(|b| u8::try_from(b).ok());
    byte.ok_or_else(|| format!("{typed:?} is no byte; write 0x00 to 0xFF or 0 to 255"))
}

/// Runs `convert`.
///
/// # Errors
/// When IN cannot be read, its image cannot be written in that format, or OUT exists or cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let to_stream = console.is_stream(&args.output)?;
    let format = match args.to {
        Some(format) => format,
        None => of_ending(&args.output)?,
    };
    let mut opened = console.open_as(&args.input, args.from)?;
    console.saw("converted from", &opened)?;
    if let Some(base) = args.base {
        opened.image.set_base(base);
    }
    let image = &opened.image;
    let writing = Writing { record_bytes: args.record_bytes, fill: args.fill };
    let (file, not_carried) = image::write(image, format, writing)
        .map_err(|e| Error::from(e).in_file(&args.input))?;
    let mut findings = opened.remarks.clone();
    findings.extend(not_carried);
    Names::of_image(&args.input).fill(&mut findings);
    let outcome = Outcome::of(Verdict::of(&findings));
    console.judged(None, &findings, image.base());
    if to_stream {
        console.hand_over(&file)?;
        // Remarks are no part of the file.
        let paint = console.paint;
        finding::write(console.report(), paint, &findings, image.base())?;
        return Ok(outcome);
    }
    store::save_new(&args.output, &file)?;
    console.wrote("converted to", &args.output)?;
    let converted = Converted { path: text::Name::of(&args.output), format, image, findings: &findings };
    console.hears(|out, paint| converted.write(out, paint))?;
    if console.json || console.paint.whole {
        let from = FileFacts {
            path: text::Name::of(&args.input),
            format: opened.format.word(),
            bytes: opened.file_bytes,
            sha256: opened.sha256()?.to_string(),
        };
        let to = FileFacts {
            path: converted.path.clone(),
            format: format.word(),
            bytes: file.len(),
            sha256: Sha256::of(&file).to_string(),
        };
        if console.json {
            converted.write_json(console.out, from, to)?;
        } else {
            converted.write(console.out, console.paint)?;
            write_facts(console.out, console.paint, &[("read", &from), ("written", &to)])?;
        }
    } else {
        converted.write(console.out, console.paint)?;
    }
    Ok(outcome)
}

/// The format that the ending of OUT stands for.
fn of_ending(path: &Path) -> Result<Format, Error> {
    let ending = path.extension().map(|e| e.to_string_lossy().into_owned());
    if let Some(format) = ending.as_deref().and_then(Format::of_ending) {
        return Ok(format);
    }
    let what = match ending {
        Some(ending) => format!("the ending {ending:?} stands for no format"),
        None => "without an ending the name stands for no format".to_owned(),
    };
    let formats = Format::ALL.map(Format::word).join(", ");
    Err(Error::new(what).in_file(path).advice(format!("say which one: --to with one of {formats}")))
}
