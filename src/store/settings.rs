//! The file of settings that a user may have.

use std::fs;
use std::path::{Path, PathBuf};

use super::places::configuration_folder;
use super::text::read_text;
use super::{Saved, save_new, told};
use crate::error::Error;

/// A file of settings is at most this large.
const MAX_BYTES: u64 = 1 << 20;

/// Where the user's settings are kept; `None` where the system names no folder for them.
#[must_use]
pub fn settings_path() -> Option<PathBuf> {
    Some(configuration_folder()?.join("settings.ron"))
}

/// The text of a file of settings; `None` when there is no such file.
///
/// # Errors
/// When it cannot be read, or is no text.
pub fn settings(path: &Path) -> Result<Option<String>, Error> {
    if matches!(fs::symlink_metadata(path), Err(e) if e.kind() == std::io::ErrorKind::NotFound) {
        return Ok(None);
    }
    read_text(path, "file of settings", MAX_BYTES).map(Some)
}

/// Writes a file of settings where none is, in a folder that is made when it is not there.
///
/// # Errors
/// When there is one, or it cannot be written.
pub fn start_settings(path: &Path, text: &str) -> Result<Saved, Error> {
    if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(|e| told(folder, "making the folder", &e))?;
    }
    save_new(path, text.as_bytes())
}
