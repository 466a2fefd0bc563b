//! The `compare` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `compare` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `compare`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("compare is not built yet"))
}
