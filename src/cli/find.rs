//! The `find` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `find` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `find`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("find is not built yet"))
}
