//! Saving so that a failure at any moment, a power cut included, leaves either the old file or the new one.
//!
//! The bytes go to a new file in the same folder; when they are on the disk, that file takes the name in one step,
//! and the folder is written to the disk too. What cannot be done this way without losing something is refused
//! with advice: files with several names (hard links would be split), files whose owner would change. Extended
//! attributes, access control lists among them, are kept as far as the system lets us.

use std::fs::Metadata;
use std::io;
use std::path::{Path, PathBuf};

use super::files::{Access, Disk, Files, is_read_only};
use super::identity::Identity;
use super::original::keep_original;
use super::temporary::{self, Temporary};
use super::walk::folder_of;
use super::{map, told};
use crate::error::Error;
use crate::platform;

/// Told of the part that is done, 0 to 1; says whether to go on. A save that is stopped leaves the old file.
pub type Watch<'a> = &'a mut dyn FnMut(f64) -> bool;

/// How far a save is with all that it reads and writes.
pub(super) struct Progress<'w> {
    watch: Watch<'w>,
    done: u64,
    all: u64,
}

impl<'w> Progress<'w> {
    fn over(bytes: u64, watch: Watch<'w>) -> Self {
        Progress { watch, done: 0, all: bytes }
    }

    /// Says that `bytes` more than was known are to be read or written.
    pub(super) fn grow(&mut self, bytes: u64) {
        self.all += bytes;
    }

    /// Says that `bytes` more were read or written for the file that errors name.
    pub(super) fn step(&mut self, bytes: usize, target: &Path) -> Result<(), Error> {
        self.done += bytes as u64;
        let goes_on = (self.watch)(self.done as f64 / self.all.max(1) as f64);
        goes_on.then_some(()).ok_or_else(|| {
            Error::new("saving was stopped")
                .in_file(target)
                .advice("nothing was written; save it again when it suits")
        })
    }
}

/// What overwriting a file asks for.
#[derive(Debug, Clone, Copy)]
pub struct Over<'a> {
    /// What the file must still be; `None` takes it as it is now.
    pub was: Option<&'a Identity>,
    /// Whether a copy of the file is kept first, beside it: `NAME.original`. Once is enough, before the first save
    /// of a session; a copy that is there is never overwritten.
    pub keep_original: bool,
    /// Whether a write-protected file is replaced too.
    pub read_only_too: bool,
}

/// What came of a save.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Saved {
    /// The file that was written, every link followed.
    pub path: PathBuf,
    /// What it is now.
    pub identity: Identity,
    /// Where the copy of what it was is kept, if one was asked for.
    pub original: Option<PathBuf>,
}

/// Writes a new file.
///
/// # Errors
/// When something of that name exists, or the file cannot be written; then there is none.
pub fn save_new(path: &Path, bytes: &[u8]) -> Result<Saved, Error> {
    save_new_watched(path, bytes, &mut |_| true)
}

/// Writes a new file, telling `watch` how far it is.
///
/// # Errors
/// As [`save_new`], and when `watch` stops it.
pub fn save_new_watched(path: &Path, bytes: &[u8], watch: Watch<'_>) -> Result<Saved, Error> {
    new_file(&Disk, path, bytes, Access::Usual, watch)?;
    temporary::sweep(folder_of(path));
    Ok(Saved { path: path.to_owned(), identity: Identity::written(path, bytes), original: None })
}

/// Begins a file that grows while things happen; each line that is written to it is handed to the system at once.
///
/// # Errors
/// When something of that name exists, or it cannot be written.
pub fn new_log(path: &Path) -> Result<Box<dyn io::Write + Send>, Error> {
    let file = Disk.create(path, Access::Ours).map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => exists(path),
        _ => told(path, "writing", &e),
    })?;
    Ok(Box::new(file))
}

/// Writes over a file that somebody confirmed to overwrite.
///
/// # Errors
/// When the file is not what `over` says it was, is no plain file, is write-protected, has several names, or cannot
/// be written. It then holds what it held before; only when the error says so, it already holds `bytes`.
pub fn save_over(path: &Path, bytes: &[u8], over: Over<'_>) -> Result<Saved, Error> {
    save_over_watched(path, bytes, over, &mut |_| true)
}

/// Writes over a file that somebody confirmed to overwrite, telling `watch` how far it is.
///
/// # Errors
/// As [`save_over`], and when `watch` stops it.
pub fn save_over_watched(
    path: &Path,
    bytes: &[u8],
    over: Over<'_>,
    watch: Watch<'_>,
) -> Result<Saved, Error> {
    let (target, original) = over_file(&Disk, path, bytes, over, watch)?;
    temporary::sweep(folder_of(&target));
    let identity = Identity::written(&target, bytes);
    map::replaced(&target, &identity);
    Ok(Saved { path: target, identity, original })
}

pub(super) fn new_file(
    files: &dyn Files,
    path: &Path,
    bytes: &[u8],
    access: Access,
    watch: Watch<'_>,
) -> Result<(), Error> {
    if path.file_name().is_none() {
        return Err(Error::new("this names no file").in_file(path).advice("give the file a name"));
    }
    // Told before anything is written; whether the name is free counts once more when it is taken.
    if path.symlink_metadata().is_ok() {
        return Err(exists(path));
    }
    let folder = folder_of(path);
    let temporary = Temporary::create(files, folder, access, path)?;
    let temporary = temporary.fill(bytes, &mut Progress::over(bytes.len() as u64, watch))?.sync()?;
    temporary.publish(path)?;
    files.sync_folder(folder).map_err(|e| unconfirmed(path, &e))
}

/// Returns the file that was written and where its original is kept.
pub(super) fn over_file(
    files: &dyn Files,
    path: &Path,
    bytes: &[u8],
    over: Over<'_>,
    watch: Watch<'_>,
) -> Result<(PathBuf, Option<PathBuf>), Error> {
    let failed = |e: io::Error| match e.kind() {
        io::ErrorKind::NotFound => {
            Error::new("the file is gone").in_file(path).advice("save it as a new file")
        }
        _ => told(path, "looking at the file", &e),
    };
    let target = files.resolve(path).map_err(failed)?;
    let about = files.about(&target).map_err(failed)?;
    replaceable(path, &target, &about, over.read_only_too)?;
    still(path, &target, over.was)?;
    let folder = folder_of(&target);
    let mut progress = Progress::over(bytes.len() as u64, watch);
    let original = match over.keep_original {
        true => Some(keep_original(files, &target, &about, &mut progress)?),
        false => None,
    };
    let temporary = Temporary::create(files, folder, Access::Ours, path)?;
    let temporary = temporary.fill(bytes, &mut progress)?.alike(&target, &about)?.sync()?;
    still(path, &target, over.was)?;
    temporary.replace(&target)?;
    files.sync_folder(folder).map_err(|e| unconfirmed(path, &e))?;
    Ok((target, original))
}

/// Nothing when the file can be replaced without losing anything but its old bytes.
fn replaceable(path: &Path, target: &Path, about: &Metadata, read_only_too: bool) -> Result<(), Error> {
    let refuse = |what: String, advice: &str| Err(Error::new(what).in_file(path).advice(advice));
    if about.is_dir() {
        return refuse("this is a folder, not a file".to_owned(), "name a file");
    }
    if !about.is_file() {
        return refuse("this is no plain file".to_owned(), "save to a plain file");
    }
    if !read_only_too && is_read_only(target, about) {
        return refuse(
            "the file is write-protected".to_owned(),
            "save as a new file, or take the protection away if the file may be changed",
        );
    }
    match platform::names_of(about) {
        0 | 1 => Ok(()),
        names => refuse(
            format!("the file has {names} names (hard links), and saving would part them"),
            "save as a new file",
        ),
    }
}

/// Nothing when the file still is what it was.
fn still(path: &Path, target: &Path, was: Option<&Identity>) -> Result<(), Error> {
    let Some(was) = was else { return Ok(()) };
    match was.difference(&Identity::of(target)?) {
        None => Ok(()),
        Some(how) => Err(Error::new(format!("the file {how}"))
            .in_file(path)
            .advice("look at what is there now; save as a new file, or open it again")),
    }
}

pub(super) fn exists(path: &Path) -> Error {
    Error::new("there is a file of this name already, and nothing is overwritten unasked")
        .in_file(path)
        .advice("give another name")
}

fn unconfirmed(path: &Path, error: &io::Error) -> Error {
    Error::new(format!(
        "the new file is in its place, but the system does not confirm that it is on the disk: {error}"
    ))
    .in_file(path)
    .advice("check the disk and save once more")
}
