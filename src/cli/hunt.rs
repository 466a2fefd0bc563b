//! The `hunt` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `hunt` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `hunt`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("hunt is not built yet"))
}
