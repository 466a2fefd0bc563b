//! The `show` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `show` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `show`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("show is not built yet"))
}
