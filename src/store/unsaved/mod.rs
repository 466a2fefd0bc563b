//! Work that no file of the user holds yet, kept aside so that it outlives the process.
//!
//! A note holds the work on one file: which file, what kind of work (steps of a layout, changes of bytes), since when,
//! and the work itself as its owner writes it. Notes lie in the user's folder of states, see [`Unsaved::open`]; each is
//! replaced in one step, as every file is that this program writes. A session holds a lock for each note of its own,
//! which the system takes back however the session ends: a note whose lock is free was left behind, and is offered
//! when its file is opened again. Sessions that work on one file at one time have notes of their own, and are told of
//! each other.
//!
//! Small work (the text of a layout) is written anew whenever it changes, see [`Unsaved::keep`]. What is done to the
//! bytes of an image is added to a journal, see [`Unsaved::add`] and [`edits`]: never the whole image. A step that was
//! added outlives the process; it outlives the machine once [`Unsaved::sync`] is through.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `edits` | what was done to an image, as bytes that are only ever added to |
//! | `journal` | the file that they are added to |
//! | `note` | a note as a file: what it begins with, what it is called |
//! | `sessions` | locks, and who has which file open |

mod edits;
mod journal;
mod note;
mod sessions;
#[cfg(test)]
mod tests;

use std::fs;
use std::mem;
use std::path::{Path, PathBuf};

pub use edits::{Step, Steps, read_steps};

use self::journal::Journal;
use self::sessions::{Claim, MOST};
use super::files::{Access, Disk, Files};
use super::save::new_file;
use super::{Identity, Over, places, save_over, told};
use crate::edit::Done;
use crate::error::Error;
use crate::platform;

/// Notes of work that is not saved.
#[derive(Debug)]
pub struct Unsaved {
    folder: PathBuf,
    notes: Vec<Note>,
    /// Held as long as this session has files open, see [`Unsaved::announce`].
    open: Vec<Claim>,
}

/// A note whose lock this session holds.
#[derive(Debug)]
struct Note {
    claim: Claim,
    path: PathBuf,
    state: State,
}

/// What a note is to this session.
#[derive(Debug)]
enum State {
    /// Another session left it; it is nobody's until somebody decides.
    Left,
    /// Its own, and written whole each time.
    Whole,
    /// Its own, and added to.
    Growing(Journal),
    /// Its own, but a step could not be added; those after it would stand on nothing.
    Broken(Option<Journal>),
}

/// Work that another session left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Left {
    /// The note, for [`Unsaved::discard`].
    pub note: PathBuf,
    /// The file it was done on, when that is not the one that was asked about: it is gone or holds something else by
    /// now, and the one that was asked about holds what it held.
    pub of: Option<PathBuf>,
    /// When it was written, as RFC 3339 has it.
    pub written: String,
    /// What its owner wrote of it in one line.
    pub about: String,
    /// The work.
    pub work: Vec<u8>,
}

impl Unsaved {
    /// The notes in the user's folder of states: `readproof/unsaved` there. `None` where the system names none.
    #[must_use]
    pub fn open() -> Option<Unsaved> {
        Some(Unsaved::within(places::state_folder()?.join("unsaved")))
    }

    /// The notes in `folder`, which is made when the first is written.
    #[must_use]
    pub fn within(folder: PathBuf) -> Unsaved {
        Unsaved { folder, notes: Vec::new(), open: Vec::new() }
    }

    /// Keeps work of a kind on the file `of`, in the place of what was kept of it before. `holds` is what the file is,
    /// see [`Identity::in_a_line`]; `about` is one line that is given back with the work.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn keep(
        &mut self,
        of: &Path,
        holds: &str,
        kind: &str,
        about: &str,
        work: &[u8],
    ) -> Result<(), Error> {
        let path = &self.mine(of, kind)?.path;
        let whole = [&note::head(of, holds, kind, about), work].concat();
        if path.exists() {
            let over = Over { was: None, keep_original: false, read_only_too: false };
            save_over(path, &whole, over).map(drop)
        } else {
            new_file(&Disk, path, &whole, Access::Ours, &mut |_| true)
        }
    }

    /// Adds what was done to an image to the journal of a kind for the file `of`; where there is none yet, it is begun
    /// with `about`: what the file is, see [`Identity::in_a_line`]. Returns whether it was begun.
    ///
    /// # Errors
    /// When it cannot be written; then nothing is added to it any more, and what it holds stays whole.
    pub fn add(&mut self, of: &Path, kind: &str, about: &str, done: &[Done]) -> Result<bool, Error> {
        self.add_with(&Disk, of, kind, about, done)
    }

    pub(super) fn add_with(
        &mut self,
        files: &dyn Files,
        of: &Path,
        kind: &str,
        about: &str,
        done: &[Done],
    ) -> Result<bool, Error> {
        let note = self.mine(of, kind)?;
        let (mut journal, is_begun) = match mem::replace(&mut note.state, State::Broken(None)) {
            State::Left | State::Whole => {
                (Journal::begin(files, &note.path, &note::head(of, about, kind, about))?, true)
            }
            State::Growing(journal) => (journal, false),
            broken @ State::Broken(_) => {
                note.state = broken;
                return Ok(false);
            }
        };
        let added = journal.add(files, &note.path, done);
        note.state = if added.is_ok() { State::Growing(journal) } else { State::Broken(Some(journal)) };
        added.map(|()| is_begun)
    }

    /// Has everything that was added on the disk before it returns.
    ///
    /// # Errors
    /// When the system does not confirm it.
    pub fn sync(&mut self) -> Result<(), Error> {
        for note in &mut self.notes {
            if let State::Growing(journal) | State::Broken(Some(journal)) = &mut note.state {
                journal.sync(&note.path)?;
            }
        }
        Ok(())
    }

    /// Says that this session has the file `of` open, and returns who else has, each in words that continue "it is open
    /// in". Sessions that ended in whatever way are no more told of, because the system took their locks back.
    pub fn announce(&mut self, of: &Path) -> Vec<String> {
        if self.make_folder().is_ok() {
            sessions::announce(&self.folder, of, &mut self.open);
        }
        self.others(of)
    }

    /// Who else has the file `of` open, see [`Unsaved::announce`].
    #[must_use]
    pub fn others(&self, of: &Path) -> Vec<String> {
        sessions::others(&self.folder, of, &self.open)
    }

    /// The note of a kind for the file `of` that is this session's, taken when it has none.
    fn mine(&mut self, of: &Path, kind: &str) -> Result<&mut Note, Error> {
        let stem = note::stem(of, kind);
        let is_mine = |note: &Note| note.claim.stem == stem && !matches!(note.state, State::Left);
        let index = match self.notes.iter().position(is_mine) {
            Some(index) => index,
            None => {
                self.make_folder()?;
                let free = (1..=MOST).find_map(|n| self.claim(&stem, n).filter(|note| !note.path.exists()));
                self.notes.push(free.ok_or_else(|| {
                    Error::new(format!("there are {MOST} notes of unsaved work on one file already"))
                        .in_file(&self.folder)
                        .advice("open the file and decide about them, or take them away")
                })?);
                self.notes.len() - 1
            }
        };
        Ok(&mut self.notes[index])
    }

    /// Takes the lock of a note that no session holds.
    fn claim(&self, stem: &str, n: usize) -> Option<Note> {
        let claim = Claim::take(&self.folder, stem, n)?;
        Some(Note { claim, path: note::path(&self.folder, stem, n), state: State::Whole })
    }

    /// Keeps work of a kind on the file `of` no longer: it is saved, or given up.
    pub fn forget(&mut self, of: &Path, kind: &str) {
        let stem = note::stem(of, kind);
        self.remove(|note| note.claim.stem == stem && !matches!(note.state, State::Left));
    }

    /// Takes a note away that another session left: its work was taken over, or is not wanted.
    pub fn discard(&mut self, note: &Path) {
        self.remove(|known| known.path == note);
    }

    fn remove(&mut self, which: impl Fn(&Note) -> bool) {
        for note in self.notes.extract_if(.., |note| which(note)) {
            // Should that fail, the note is offered once more.
            let _ = fs::remove_file(&note.path);
        }
    }

    /// What sessions that ended left of work of a kind on the file `of`, the newest last; `holds` is what it is, see
    /// [`Identity::in_a_line`]. Work on a file that is gone from where it was, or holds something else there by now, is
    /// work on this one when this one holds what that one held: it was moved. Notes that cannot be read are passed over
    /// and stay where they are.
    pub fn left(&mut self, of: &Path, holds: &str, kind: &str) -> Vec<Left> {
        let own = note::stem(of, kind);
        let here = (1..=MOST).filter(|&n| note::path(&self.folder, &own, n).exists());
        let mut notes: Vec<(String, usize, Option<PathBuf>)> = here.map(|n| (own.clone(), n, None)).collect();
        notes.extend(self.moved(&own, holds, kind));
        let mut found = Vec::new();
        for (stem, n, of) in notes {
            let Some(mut note) = self.claim(&stem, n) else { continue };
            let Some(left) = note::read(&note.path) else { continue };
            found.push(Left { of, ..left });
            note.state = State::Left;
            self.notes.push(note);
        }
        found.sort_by(|a, b| a.written.cmp(&b.written));
        found
    }

    /// Notes of a kind for other files than the one of `own` that held what `holds` says, and do not any more.
    fn moved(&self, own: &str, holds: &str, kind: &str) -> Vec<(String, usize, Option<PathBuf>)> {
        if holds.is_empty() {
            return Vec::new();
        }
        let entries = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let numbered = entries.filter_map(|entry| note::numbered(entry.file_name().to_str()?));
        let of_kind = numbered.filter(|(stem, _)| stem != own && stem.ends_with(&format!("-{kind}")));
        let mut moved: Vec<(String, usize, Option<PathBuf>)> = of_kind
            .filter_map(|(stem, n)| {
                let (of, held) = note::file(&note::path(&self.folder, &stem, n))?;
                let is_there = || Identity::of(&of).is_ok_and(|identity| identity.in_a_line() == holds);
                (held == holds && !is_there()).then_some((stem, n, Some(of)))
            })
            .collect();
        moved.sort();
        moved
    }

    /// Makes the folder, for its user alone.
    fn make_folder(&self) -> Result<(), Error> {
        let mut builder = fs::DirBuilder::new();
        builder.recursive(true);
        platform::folder_for_us_alone(&mut builder);
        builder.create(&self.folder).map_err(|e| told(&self.folder, "making the folder", &e))
    }
}

impl Drop for Note {
    fn drop(&mut self) {
        if self.path.exists() {
            self.claim.stays();
        }
    }
}
