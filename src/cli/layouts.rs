//! The `layouts` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `layouts` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `layouts`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("layouts is not built yet"))
}
