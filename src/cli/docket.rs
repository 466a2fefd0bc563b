//! The `docket` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `docket` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `docket`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("docket is not built yet"))
}
