//! The `checks` command.

use super::{Console, Outcome};
use crate::error::Error;

/// What `checks` is told.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// Runs `checks`.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("checks is not built yet"))
}
