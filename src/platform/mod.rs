//! What differs between systems: one small set of functions, and one side of it for each kind of system.
//!
//! Nowhere else stands a `cfg` for a system. This part knows no other one, so everybody in the shell may use it.
//!
//! | file | whose side |
//! | --- | --- |
//! | `unix` | Linux, macOS and what else is a Unix |
//! | `other` | Windows, and what has nothing of its own |

#[cfg(not(unix))]
mod other;
#[cfg(unix)]
mod unix;

#[cfg(not(unix))]
use other as system;
#[cfg(unix)]
use unix as system;

pub use system::{
    Interrupts, SETTINGS, STATES, folder_for_us_alone, for_us_alone, host, is_device, keep_attributes,
    make_alike, mend_lost_pages, names_of, number_on_disk, on_signals, path_of_bytes, publish, replace, stop,
    sync_folder,
};

use std::fs;
use std::io;
use std::path::Path;

/// What the system asks of the whole program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(not(unix), expect(dead_code, reason = "such systems ask nothing"))]
pub enum Signal {
    /// To stop until the user brings it back.
    Suspend,
    /// To go on.
    Resume,
    /// To end; the program ends once this was heeded.
    End,
}

/// Where a user's files of one kind lie when no XDG variable says it: the variable that names a folder, and the
/// folder in that one.
pub type UserFolder = (&'static str, &'static str);

/// For file systems that cannot rename onto a free name only: a second name for the file, then the first one taken
/// away. Where there are no second names either (FAT), the name is looked up and then taken, and only there another
/// program could take it in between.
fn publish_by_link(from: &Path, to: &Path) -> io::Result<()> {
    match fs::hard_link(from, to) {
        Ok(()) => fs::remove_file(from),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Err(e),
        Err(_) if fs::symlink_metadata(to).is_ok() => Err(io::ErrorKind::AlreadyExists.into()),
        Err(_) => fs::rename(from, to),
    }
}
