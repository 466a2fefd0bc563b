//! The option that draws what a command found.

use std::path::PathBuf;

use super::Console;
use crate::error::Error;
use crate::report::text;
use crate::store;

/// Where the picture goes.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct PictureArgs {
    /// Draw it as well: an SVG file; an existing one is never replaced
    #[arg(long, value_name = "OUT.svg")]
    picture: Option<PathBuf>,
}

impl PictureArgs {
    /// Writes the picture, if one is wanted.
    ///
    /// # Errors
    /// When it cannot be drawn, or the file exists or cannot be written.
    pub fn write(&self, draw: impl FnOnce() -> Result<String, Error>) -> Result<(), Error> {
        match &self.picture {
            Some(path) => store::save_new(path, draw()?.as_bytes()).map(|_| ()),
            None => Ok(()),
        }
    }

    /// Says that it was written, below the results.
    ///
    /// # Errors
    /// When the output cannot be written.
    pub fn tell(&self, console: &mut Console<'_>) -> Result<(), Error> {
        if let (Some(path), false) = (&self.picture, console.json) {
            writeln!(console.out, "\nDrawn as {}.", text::path(path))?;
        }
        Ok(())
    }

    /// For images that are told one by one: of those no picture is drawn.
    ///
    /// # Errors
    /// When one is wanted.
    pub fn only_of_one(&self) -> Result<(), Error> {
        match self.picture {
            None => Ok(()),
            Some(_) => {
                Err(Error::new("a picture is drawn of one image, and several are told one by one here")
                    .advice("name one image, or draw several side by side with `readproof compare`"))
            }
        }
    }
}
