//! The `convert` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `convert` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `convert`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("convert is not built yet"))
}
