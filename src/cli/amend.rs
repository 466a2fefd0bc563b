//! The `amend` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `amend` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `amend`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("amend is not built yet"))
}
