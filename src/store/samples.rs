//! The sample images, carried in the program so that they are at hand wherever it is installed.

use std::fs;
use std::path::{Path, PathBuf};

use super::{save_new, told};
use crate::error::Error;

macro_rules! samples {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_bytes!(concat!("../../samples/", $name)))),*]
    };
}

/// Name and bytes of each sample that the program carries.
pub const SAMPLES: &[(&str, &[u8])] = samples![
    "unit7-read1.bin",
    "unit7-read2.bin",
    "unit7-read3-poor.bin",
    "unit7-wrong-size.bin",
    "unit7-part-off.bin",
    "unit7-broken-check.bin",
    "unit7-serviced.bin",
    "unit7-returned.bin",
    "unit9.bin",
];

/// Writes the samples into a folder that is made for them; returns their paths.
///
/// # Errors
/// When there is something of that name, or a file cannot be written.
pub fn write_samples(folder: &Path) -> Result<Vec<PathBuf>, Error> {
    fs::create_dir(folder).map_err(|e| match e.kind() {
        std::io::ErrorKind::AlreadyExists => {
            Error::new("there is something of that name").in_file(folder).advice("name a new folder")
        }
        _ => told(folder, "making the folder", &e),
    })?;
    let write = |(name, bytes): &(&str, &[u8])| save_new(&folder.join(name), bytes).map(|saved| saved.path);
    SAMPLES.iter().map(write).collect()
}

/// Writes the samples into a new folder among the system's temporary ones; returns it.
///
/// # Errors
/// When it cannot be written.
pub fn write_samples_aside() -> Result<PathBuf, Error> {
    let all = std::env::temp_dir();
    // Another session may have its own.
    let free = (1..=u16::MAX).map(|n| all.join(format!("readproof-tour-{n}"))).find(|f| !f.exists());
    let folder = free.unwrap_or_else(|| all.join("readproof-tour"));
    write_samples(&folder).map(|_| folder)
}

/// Writes what is taken for a read of the chip after `written` was written to it: the tour has no chip.
///
/// # Errors
/// When `written` cannot be read, or the other is there.
pub fn write_read_back(written: &Path, read_back: &Path) -> Result<(), Error> {
    let bytes = fs::read(written).map_err(|e| told(written, "reading the file", &e))?;
    save_new(read_back, &bytes).map(drop)
}

/// Removes a folder that [`write_samples`] made, with everything in it.
///
/// # Errors
/// When something in it cannot be removed.
pub fn remove_samples(folder: &Path) -> Result<(), Error> {
    fs::remove_dir_all(folder).map_err(|e| told(folder, "removing the folder", &e))
}
