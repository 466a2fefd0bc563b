//! The `audit` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `audit` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `audit`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("audit is not built yet"))
}
