//! The `chips` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `chips` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `chips`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("chips is not built yet"))
}
