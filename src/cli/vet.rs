//! The `vet` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `vet` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `vet`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("vet is not built yet"))
}
