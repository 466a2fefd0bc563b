//! The `chips` command.

use super::{Console, Outcome, parse_address};
use crate::chip;
use crate::error::Error;
use crate::report::chips as report;

/// What `chips` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof chips\n  \
    readproof chips 24C64\n  \
    readproof chips 564\n  \
    readproof chips --bytes 8192\n\n\
    Exit status: 0 listed, or a chip fits; 1 none fits.")]
pub struct Args {
    /// Marking on a chip, whole or shortened; without one, lists every chip
    #[arg(value_name = "MARKING")]
    marking: Option<String>,
    /// List the chips that hold exactly this many bytes
    #[arg(long, value_name = "COUNT", value_parser = parse_address, conflicts_with = "marking")]
    bytes: Option<u64>,
}

/// Runs `chips`.
///
/// # Errors
/// When the output cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if let Some(bytes) = args.bytes {
        let bytes = usize::try_from(bytes).unwrap_or(usize::MAX);
        let chips: Vec<_> = chip::of_size(bytes).collect();
        match console.json {
            true => report::write_list_json(console.out, chips.iter().copied())?,
            false => report::write_size(console.out, console.paint, bytes, &chips)?,
        }
        return Ok(if chips.is_empty() { Outcome::Attention } else { Outcome::Good });
    }
    let Some(marking) = &args.marking else {
        match console.json {
            true => report::write_list_json(console.out, chip::CHIPS)?,
            false => report::write_list(console.out, console.paint)?,
        }
        return Ok(Outcome::Good);
    };
    let candidates = chip::explain(marking);
    console.hears(|out, paint| report::write_marking(out, paint, marking, &candidates))?;
    match console.json {
        true => report::write_marking_json(console.out, marking, &candidates)?,
        false => report::write_marking(console.out, console.paint, marking, &candidates)?,
    }
    Ok(if candidates.is_empty() { Outcome::Attention } else { Outcome::Good })
}
