//! The `survey` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `survey` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `survey`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("survey is not built yet"))
}
