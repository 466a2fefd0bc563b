//! The `chips` command.

use super::{Console, Outcome};
use crate::chip;
use crate::error::Error;
use crate::report::chips as report;

/// What `chips` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof chips\n  \
    readproof chips 24C64\n  \
    readproof chips 564\n\n\
    Exit status: 0 listed, or the marking fits a chip; 1 it fits none.")]
pub struct Args {
    /// Marking on a chip, whole or shortened; without one, lists every chip
    #[arg(value_name = "MARKING")]
    marking: Option<String>,
}

/// Runs `chips`.
///
/// # Errors
/// When the output cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let Some(marking) = &args.marking else {
        match console.json {
            true => report::write_list_json(console.out)?,
            false => report::write_list(console.out, console.paint)?,
        }
        return Ok(Outcome::Good);
    };
    let candidates = chip::explain(marking);
    match console.json {
        true => report::write_marking_json(console.out, marking, &candidates)?,
        false => report::write_marking(console.out, console.paint, marking, &candidates)?,
    }
    Ok(if candidates.is_empty() { Outcome::Attention } else { Outcome::Good })
}
