//! Large raw images, mapped instead of read, so that they open at once and take no memory of their own.
//!
//! This file and the handler of lost pages in [`crate::platform`] hold the only unsafe code of the project.
//!
//! A file that is cut while it is mapped, or a disk that fails, makes the system stop a process that reads there
//! (SIGBUS). Reading in pieces instead of mapping would avoid that, but everything in the core works on one slice of
//! bytes. So files up to 4 MiB, which is nearly every serial memory, are copied and cannot be hit; for larger ones
//! [`super::lost`] puts an empty page in the place of the missing one and marks the map as lost, and whoever uses
//! the image asks [`still_there`] before a result counts.

use std::collections::BTreeSet;
use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use memmap2::MmapMut;

use super::identity::{Difference, Identity};
use super::lost::{self, Watched};
use crate::error::Error;
use crate::image::Backing;

/// Bytes that are remembered as changed together: a page of most systems, which is what the system copies too.
const PIECE: usize = 4096;

/// A private map of a file: writing to it changes this process's copy of the page and never the file.
struct PrivateMap {
    /// Before the map, so that it is given up before the addresses are.
    watched: Watched,
    map: MmapMut,
    /// What is mapped, to map it once more; the file of the path may be another one by then.
    file: File,
    /// Numbers of the pieces that were written to.
    changed: BTreeSet<usize>,
}

impl Backing for PrivateMap {
    fn bytes(&self) -> &[u8] {
        &self.map
    }

    fn write(&mut self, at: usize, bytes: &[u8]) {
        let there = self.map.get_mut(at..).unwrap_or_default();
        let len = there.len().min(bytes.len());
        let (Some(there), Some(bytes)) = (there.get_mut(..len), bytes.get(..len)) else { return };
        there.copy_from_slice(bytes);
        self.changed.extend(at / PIECE..(at + len).div_ceil(PIECE));
    }

    fn again(&self) -> Option<Box<dyn Backing>> {
        let (path, was) = {
            let maps = maps();
            let mapped = maps.open.iter().find(|m| m.mark == self.watched.mark())?;
            (mapped.path.clone(), mapped.was.clone())
        };
        let mut again = map(&path, self.file.try_clone().ok()?, &was).ok()?;
        for &piece in &self.changed {
            let at = piece * PIECE;
            again.write(at, self.map.get(at..self.map.len().min(at + PIECE))?);
        }
        Some(Box::new(again))
    }
}

impl Drop for PrivateMap {
    /// What happened to the file until now is kept for [`still_there`]; what happens to it later is no concern.
    fn drop(&mut self) {
        let mut maps = maps();
        let mark = self.watched.mark();
        if let Some(at) = maps.open.iter().position(|m| m.mark == mark) {
            let problem = maps.open.swap_remove(at).problem();
            // Several maps of one file are lost together; it is told once.
            if let Some(problem) = problem.filter(|p| !maps.lost.contains(p)) {
                maps.lost.push(problem);
            }
        }
    }
}

/// A file that is mapped by this process.
struct Mapped {
    path: PathBuf,
    was: Identity,
    mark: lost::Mark,
}

impl Mapped {
    /// What became of the file, if it is not what it was.
    fn problem(&self) -> Option<Error> {
        let how = if self.mark.is_set() {
            "could not be read to its end: it was cut, or the disk failed".to_owned()
        } else {
            Identity::of(&self.path)
                .map_or(Some(Difference::Gone), |now| self.was.difference(&now))?
                .to_string()
        };
        Some(
            Error::new(format!("the file {how}; what was made of it does not count"))
                .in_file(&self.path)
                .advice("copy the file to a place where nobody else changes it, and open the copy"),
        )
    }
}

/// The maps of this process.
struct Maps {
    open: Vec<Mapped>,
    /// Of maps that are closed already.
    lost: Vec<Error>,
}

fn maps() -> MutexGuard<'static, Maps> {
    static MAPS: Mutex<Maps> = Mutex::new(Maps { open: Vec::new(), lost: Vec::new() });
    MAPS.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Maps the whole of `file`, which `path` leads to and which is `was`.
pub(super) fn private(path: &Path, file: File, was: &Identity) -> io::Result<Box<dyn Backing>> {
    Ok(Box::new(map(path, file, was)?))
}

fn map(path: &Path, file: File, was: &Identity) -> io::Result<PrivateMap> {
    #[allow(unsafe_code, reason = "a file cannot be mapped otherwise; the argument stands at the block")]
    // SAFETY: the bytes of a map change under a reader when somebody writes to the file. The map is private
    // (copy on write), so nothing of ours changes the file; another process still can, and the operating systems
    // give no way to forbid it. What we do with the bytes does not depend on their staying the same: they are plain
    // `u8`, every value of which is valid, and nothing is derived from them once and then used unchecked as an
    // index. The contents that a program sees of such a file are any mixture of old and new, which is also
    // what reading it in pieces would give. Pages that go missing are dealt with by `lost`.
    let mut map = unsafe { memmap2::MmapOptions::new().no_reserve_swap().map_copy(&file)? };
    let watched = Watched::over(&mut map)?;
    maps().open.push(Mapped { path: path.to_owned(), was: was.clone(), mark: watched.mark() });
    Ok(PrivateMap { watched, map, file, changed: BTreeSet::new() })
}

/// Says that we ourselves replaced the file at `target` (every link followed), which now is `now`. A map of it goes
/// on showing the old bytes, which nobody can change any more.
pub(super) fn replaced(target: &Path, now: &Identity) {
    for mapped in &mut maps().open {
        if mapped.path.canonicalize().is_ok_and(|path| path == target) {
            mapped.was = now.clone();
        }
    }
}

/// Says that whoever uses the file at `path` knows of it as it is `now`, though somebody else wrote to it: a map of it
/// shows what it holds now, or what it held when it was another file.
pub fn accept(path: &Path, now: &Identity) {
    maps().open.iter_mut().filter(|mapped| mapped.path == path).for_each(|mapped| mapped.was = now.clone());
}

/// As [`still_there`], for the file that `path` leads to alone, and as often as it is asked.
///
/// # Errors
/// As for that.
pub fn still_there_at(path: &Path) -> Result<(), Error> {
    maps().open.iter().filter(|m| m.path == path).find_map(Mapped::problem).map_or(Ok(()), Err)
}

/// Nothing when every large file that this process has mapped was there, and the same, as long as it was used. A
/// command asks this when it is done, the editor before it saves or judges.
///
/// # Errors
/// A file that was cut, replaced or written to, or could not be read; for one that is closed, once.
pub fn still_there() -> Result<(), Error> {
    let mut maps = maps();
    maps.lost.pop().or_else(|| maps.open.iter().find_map(Mapped::problem)).map_or(Ok(()), Err)
}
