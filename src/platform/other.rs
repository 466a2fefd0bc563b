//! Windows, and what has nothing of its own.

use std::fs::{DirBuilder, File, Metadata, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use super::{Signal, UserFolder};

/// The folder of the user's settings.
pub const SETTINGS: UserFolder = ("APPDATA", "");
/// The folder of what sessions leave for later ones.
pub const STATES: UserFolder = ("LOCALAPPDATA", "");

/// A file has the access that its folder gives.
pub fn for_us_alone(_options: &mut OpenOptions) {}

/// The folders of a user are closed to others already.
pub fn folder_for_us_alone(_builder: &mut DirBuilder) {}

/// Gives `file` the permissions that `like` has.
pub fn make_alike(file: &File, like: &Metadata) -> io::Result<()> {
    file.set_permissions(like.permissions())
}

/// The standard library does not reach them.
pub fn keep_attributes(_like: &Path, _file: &File) {}

/// Gives the file `from` the name `to`, which must be free.
pub fn publish(from: &Path, to: &Path) -> io::Result<()> {
    super::publish_by_link(from, to)
}

/// Gives the file `from` the name `to` in one step, in the place of the file that has it. Scanners and sync clients
/// hold files for a moment, so a refusal is asked again for about two seconds.
pub fn replace(from: &Path, to: &Path) -> io::Result<()> {
    const SHARING_VIOLATION: i32 = 32;
    let mut wait = Duration::from_millis(20);
    loop {
        match std::fs::rename(from, to) {
            Err(e)
                if wait.as_millis() < 1300
                    && (e.kind() == io::ErrorKind::PermissionDenied
                        || e.raw_os_error() == Some(SHARING_VIOLATION)) => {}
            done => return done,
        }
        std::thread::sleep(wait);
        wait *= 2;
    }
}

/// Folders cannot be written to the disk.
pub fn sync_folder(_folder: &Path) -> io::Result<()> {
    Ok(())
}

/// The standard library does not tell.
pub fn names_of(_about: &Metadata) -> u64 {
    1
}

/// The standard library does not tell.
pub fn number_on_disk(_about: &Metadata) -> Option<(u64, u64)> {
    None
}

/// The standard library does not tell.
pub fn is_device(_about: &Metadata) -> bool {
    false
}

/// The path with these encoded bytes; `None` where they are no text.
pub fn path_of_bytes(bytes: &[u8]) -> Option<PathBuf> {
    std::str::from_utf8(bytes).ok().map(PathBuf::from)
}

/// The name of this machine; empty where it has none.
pub fn host() -> String {
    std::env::var("COMPUTERNAME").unwrap_or_default()
}

/// There is nothing to heed.
pub fn on_signals(_heed: impl FnMut(Signal) -> bool + Send + 'static) -> io::Result<()> {
    Ok(())
}

/// Programs are not stopped here.
pub fn stop() {}

/// Ctrl-C ends the program as usual.
pub struct Interrupts;

impl Interrupts {
    pub fn set(_flag: &Arc<AtomicBool>) -> Self {
        Interrupts
    }
}

/// A file that is mapped cannot be cut here.
pub fn mend_lost_pages(_map_at: fn(usize) -> Option<&'static AtomicBool>) -> io::Result<()> {
    Ok(())
}
