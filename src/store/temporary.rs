//! Files that have no name of their own yet: filled first, then given the name in one step.

use std::fs::{self, File, Metadata};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, SystemTime};

use super::files::{Access, Files, PIECE, pieces, write_all};
use super::save::{Progress, exists};
use super::told;
use crate::error::Error;

/// A file that has no name of its own yet; removed unless it gets one. Locked, so that nobody sweeps it.
pub(super) struct Temporary<'f> {
    files: &'f dyn Files,
    path: PathBuf,
    file: File,
    /// What errors name.
    target: &'f Path,
    is_named: bool,
}

impl<'f> Temporary<'f> {
    pub(super) fn create(
        files: &'f dyn Files,
        folder: &Path,
        access: Access,
        target: &'f Path,
    ) -> Result<Self, Error> {
        static NUMBER: AtomicU64 = AtomicU64::new(0);
        /// Files of a process that had our number and was killed may be left.
        const TRIES: usize = 100;
        let mut result = Err(io::ErrorKind::AlreadyExists.into());
        for _ in 0..TRIES {
            let path = folder.join(name(NUMBER.fetch_add(1, Ordering::Relaxed)));
            result = files.create(&path, access).map(|file| (path, file));
            if !matches!(&result, Err(e) if e.kind() == io::ErrorKind::AlreadyExists) {
                break;
            }
        }
        match result {
            Ok((path, file)) => {
                // Where a file cannot be locked, it only is litter sooner.
                let _ = file.try_lock();
                Ok(Temporary { files, path, file, target, is_named: false })
            }
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                Err(Error::new("there is no such folder").in_file(folder).advice("make it first"))
            }
            Err(e) => Err(told(target, "writing in this folder", &e)),
        }
    }

    fn failed(&self, doing: &str, error: &io::Error) -> Error {
        told(self.target, doing, error)
    }

    /// Adds `piece`.
    fn write(&mut self, piece: &[u8], progress: &mut Progress<'_>) -> Result<(), Error> {
        write_all(self.files, &mut self.file, piece).map_err(|e| self.failed("writing", &e))?;
        progress.step(piece.len(), self.target)
    }

    /// Fills it with `bytes`.
    pub(super) fn fill(mut self, bytes: &[u8], progress: &mut Progress<'_>) -> Result<Self, Error> {
        bytes.chunks(PIECE).try_for_each(|piece| self.write(piece, progress))?;
        Ok(self)
    }

    /// Fills it with what `from` holds.
    pub(super) fn copy(mut self, from: &mut File, progress: &mut Progress<'_>) -> Result<Self, Error> {
        let target = self.target;
        let failed = |e| told(target, "reading", &e);
        pieces(self.files, from, failed, |piece| self.write(piece, progress))?;
        Ok(self)
    }

    /// Makes it the same to the system as the file `like`.
    pub(super) fn alike(self, like: &Path, about: &Metadata) -> Result<Self, Error> {
        self.files.keep_attributes(like, &self.file);
        match self.files.make_alike(&self.file, about) {
            Ok(()) => Ok(self),
            Err(e) if e.kind() == io::ErrorKind::PermissionDenied => {
                Err(Error::new("the file belongs to somebody else, and saving would make it yours")
                    .in_file(self.target)
                    .advice("save as a new file"))
            }
            Err(e) => Err(self.failed("keeping its owner and permissions", &e)),
        }
    }

    pub(super) fn sync(self) -> Result<Self, Error> {
        match self.files.sync(&self.file) {
            Ok(()) => Ok(self),
            Err(e) => Err(self.failed("writing to the disk", &e)),
        }
    }

    /// Gives it the name `to`, which must be free.
    pub(super) fn publish(mut self, to: &Path) -> Result<(), Error> {
        self.files.publish(&self.path, to).map_err(|e| match e.kind() {
            io::ErrorKind::AlreadyExists => exists(to),
            _ => told(to, "giving the file its name", &e),
        })?;
        self.is_named = true;
        Ok(())
    }

    /// Puts it in the place of `target`.
    pub(super) fn replace(mut self, target: &Path) -> Result<(), Error> {
        let replaced = self.files.replace(&self.path, target);
        replaced.map_err(|e| self.failed("putting the new file in the place of the old one", &e))?;
        self.is_named = true;
        Ok(())
    }
}

impl Drop for Temporary<'_> {
    fn drop(&mut self) {
        if !self.is_named {
            // The error that led here is the one to tell; a file that cannot be removed is only litter.
            let _ = self.files.remove(&self.path);
        }
    }
}

/// Younger ones may belong to a process that has not come to lock them yet.
const YOUNG: Duration = Duration::from_secs(60);

/// The name of the temporary file `number` of this process. Short, so that a name that is just short enough for the
/// system stays so.
fn name(number: u64) -> String {
    format!(".readproof-{}-{number}.tmp", std::process::id())
}

fn is_ours(name: &str) -> bool {
    let Some(numbers) = name.strip_prefix(".readproof-").and_then(|n| n.strip_suffix(".tmp")) else {
        return false;
    };
    let is_number = |n: &str| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit());
    numbers.split_once('-').is_some_and(|(process, number)| is_number(process) && is_number(number))
}

/// Removes what killed processes left in `folder`; what a living one writes is locked and stays. Whatever fails is
/// only litter that stays too.
pub(super) fn sweep(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    let names = entries.flatten().filter(|e| e.file_name().to_str().is_some_and(is_ours));
    for path in names.map(|e| e.path()).filter(|p| is_left(p)).collect::<Vec<PathBuf>>() {
        let _ = fs::remove_file(path);
    }
}

fn is_left(path: &Path) -> bool {
    // A link of such a name is none of ours.
    let Ok(about) = path.symlink_metadata() else { return false };
    let age = about.modified().ok().and_then(|m| SystemTime::now().duration_since(m).ok());
    let is_old = age.is_some_and(|age| age >= YOUNG);
    about.is_file() && is_old && File::open(path).is_ok_and(|file| file.try_lock().is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_killed_process_left_is_removed_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let old = SystemTime::now() - 2 * YOUNG;
        let make = |name: &str, old_too: bool| {
            let file = File::create(folder.path().join(name)).unwrap();
            if old_too {
                file.set_modified(old).unwrap();
            }
            file
        };
        let names = [".readproof-1-2.tmp", ".readproof-x-2.tmp", ".readproof-1-.tmp", "unit7.bin"];
        names.iter().for_each(|n| drop(make(n, true)));
        make(".readproof-9-9.tmp", false);
        let held = make(".readproof-3-4.tmp", true);
        held.try_lock().unwrap();
        sweep(folder.path());
        let mut left: Vec<String> = fs::read_dir(folder.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        left.sort();
        let stay = [
            ".readproof-1-.tmp",
            ".readproof-3-4.tmp",
            ".readproof-9-9.tmp",
            ".readproof-x-2.tmp",
            "unit7.bin",
        ];
        assert_eq!(left, stay);
    }
}
