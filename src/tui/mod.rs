//! The editor.

use std::path::PathBuf;

use crate::cli::{Console, Outcome};
use crate::error::Error;

/// What the editor is told on the command line.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Images to open in the editor
    #[arg(value_name = "IMAGE")]
    images: Vec<PathBuf>,
}

/// Opens the editor.
pub fn run(_args: &Args, _console: &mut Console<'_>) -> Result<Outcome, Error> {
    Err(Error::new("the editor is not built yet"))
}
