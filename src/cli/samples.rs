//! The `samples` command: the sample images as files.

use std::path::PathBuf;

use super::{Console, Outcome};
use crate::error::Error;
use crate::report::{start, text};
use crate::store;

/// What `samples` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  \
    readproof samples practice\n\n\
    Exit status: 0 written; 2 it could not be done, as when the folder is there.")]
pub struct Args {
    /// New folder for them
    #[arg(value_name = "FOLDER", default_value = "samples")]
    folder: PathBuf,
}

/// Runs `samples`.
///
/// # Errors
/// When the folder is there, or cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let files = store::write_samples(&args.folder)?;
    let folder = text::Name::of(&args.folder);
    if console.json {
        let files = files.iter().map(|file| text::Name::of(file)).collect();
        start::samples_json(folder, files).write(console.out)?;
        return Ok(Outcome::Good);
    }
    writeln!(console.out, "Wrote {} into {}. Now try:\n", text::count(files.len(), "sample image"), &*folder)?;
    start::write_commands(console.out, folder.typed())?;
    Ok(Outcome::Good)
}
