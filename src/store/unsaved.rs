//! Work that no file of the user holds yet, kept aside so that it outlives the process.
//!
//! A note holds the work on one file: which file, what kind of work (steps of a layout, changes of bytes), since when,
//! and the work itself as its owner writes it. Notes lie in the user's folder of states, see [`Unsaved::open`]; each is
//! replaced in one step, as every file is that this program writes. A session holds a lock for each note of its own,
//! which the system takes back however the session ends: a note whose lock is free was left behind, and is offered
//! when its file is opened again. Sessions that work on one file at one time have notes of their own.

use std::ffi::OsString;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use super::layouts::set;
use super::{Over, Sha256, now, save_new, save_over, told};
use crate::error::Error;

/// The first line of a note.
const FIRST_LINE: &str = "readproof, work that is not saved, format 1";
/// Larger notes are none of ours.
const MAX_BYTES: u64 = 256 << 20;
/// Notes of one kind for one file: sessions at one time, and sessions that were killed.
const MOST: usize = 16;

/// Notes of work that is not saved.
#[derive(Debug)]
pub struct Unsaved {
    folder: PathBuf,
    slots: Vec<Slot>,
}

/// A note whose lock this session holds.
#[derive(Debug)]
struct Slot {
    /// Tells notes of one file and kind from others.
    stem: String,
    note: PathBuf,
    lock: PathBuf,
    _held: File,
    /// Another session left it; it is nobody's until somebody decides.
    is_left: bool,
}

/// Work that another session left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Left {
    /// The note, for [`Unsaved::discard`].
    pub note: PathBuf,
    /// When it was written, as RFC 3339 has it.
    pub written: String,
    /// What its owner wrote of it in one line.
    pub about: String,
    /// The work.
    pub work: Vec<u8>,
}

impl Unsaved {
    /// The notes in the user's folder of states: `XDG_STATE_HOME`, else `%LOCALAPPDATA%` on Windows and
    /// `~/.local/state` elsewhere, and there `readproof/unsaved`. `None` where the system names none.
    #[must_use]
    pub fn open() -> Option<Unsaved> {
        let folder = |name| set(name).map(PathBuf::from).filter(|p| p.is_absolute());
        let base = folder("XDG_STATE_HOME").or_else(|| {
            if cfg!(windows) {
                folder("LOCALAPPDATA")
            } else {
                folder("HOME").map(|home| home.join(".local").join("state"))
            }
        })?;
        Some(Unsaved::within(base.join("readproof").join("unsaved")))
    }

    /// The notes in `folder`, which is made when the first is written.
    #[must_use]
    pub fn within(folder: PathBuf) -> Unsaved {
        Unsaved { folder, slots: Vec::new() }
    }

    /// Keeps work of a kind on the file `of`, in the place of what was kept of it before. `about` is one line that is
    /// given back with it.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn keep(&mut self, of: &Path, kind: &str, about: &str, work: &[u8]) -> Result<(), Error> {
        let stem = stem(of, kind);
        let mine = self.slots.iter().position(|s| s.stem == stem && !s.is_left);
        let index = match mine {
            Some(index) => index,
            None => {
                self.make_folder()?;
                let slot = (1..=MOST).find_map(|n| self.claim(&stem, n).filter(|s| !s.note.exists()));
                let slot = slot.ok_or_else(|| {
                    Error::new(format!("there are {MOST} notes of unsaved work on one file already"))
                        .at(self.folder.display())
                        .advice("open the file and decide about them, or take them away")
                })?;
                self.slots.push(slot);
                self.slots.len() - 1
            }
        };
        let Some(slot) = self.slots.get(index) else { return Ok(()) };
        let line = |text: &str| text.replace(['\n', '\r'], " ");
        let mut note = format!(
            "{FIRST_LINE}\nof: {}\nkind: {}\nabout: {}\nwritten: {}\n\n",
            line(&of.display().to_string()),
            line(kind),
            line(about),
            now()
        )
        .into_bytes();
        note.extend_from_slice(work);
        let over = Over { was: None, keep_original: false, read_only_too: false };
        if slot.note.exists() { save_over(&slot.note, &note, over) } else { save_new(&slot.note, &note) }
            .map(|_| ())
    }

    /// Keeps work of a kind on the file `of` no longer: it is saved, or given up.
    pub fn forget(&mut self, of: &Path, kind: &str) {
        let stem = stem(of, kind);
        self.slots.retain(|slot| {
            let goes = slot.stem == stem && !slot.is_left;
            if goes {
                slot.remove();
            }
            !goes
        });
    }

    /// What sessions that ended left of work of a kind on the file `of`, the newest last. Notes that cannot be read
    /// are passed over and stay where they are.
    pub fn left(&mut self, of: &Path, kind: &str) -> Vec<Left> {
        let stem = stem(of, kind);
        let mut found = Vec::new();
        for n in 1..=MOST {
            if !self.note(&stem, n).exists() {
                continue;
            }
            let Some(mut slot) = self.claim(&stem, n) else { continue };
            let Some(left) = read(&slot.note) else { continue };
            found.push(left);
            slot.is_left = true;
            self.slots.push(slot);
        }
        found.sort_by(|a, b| a.written.cmp(&b.written));
        found
    }

    /// Takes a note away that another session left: its work was taken over, or is not wanted.
    pub fn discard(&mut self, note: &Path) {
        self.slots.retain(|slot| {
            let goes = slot.note == note;
            if goes {
                slot.remove();
            }
            !goes
        });
    }

    fn note(&self, stem: &str, n: usize) -> PathBuf {
        self.folder.join(format!("{stem}-{n}.unsaved"))
    }

    /// Takes the lock of a note that no session holds.
    fn claim(&self, stem: &str, n: usize) -> Option<Slot> {
        let lock = self.folder.join(format!("{stem}-{n}.lock"));
        let held = File::options().create(true).truncate(false).write(true).open(&lock).ok()?;
        held.try_lock().ok()?;
        // Who held it may have taken the file away in the meantime: then this is a lock of nothing.
        if !lock.exists() {
            return None;
        }
        Some(Slot { stem: stem.to_owned(), note: self.note(stem, n), lock, _held: held, is_left: false })
    }

    /// Makes the folder, for its user alone.
    fn make_folder(&self) -> Result<(), Error> {
        let mut builder = fs::DirBuilder::new();
        builder.recursive(true);
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder.create(&self.folder).map_err(|e| told(&self.folder, "making the folder", &e))
    }
}

impl Slot {
    /// Takes the note and its lock away. Should that fail, the note is offered once more.
    fn remove(&self) {
        let _ = fs::remove_file(&self.note);
        let _ = fs::remove_file(&self.lock);
    }
}

impl Drop for Slot {
    fn drop(&mut self) {
        if !self.note.exists() {
            let _ = fs::remove_file(&self.lock);
        }
    }
}

/// Names the notes of a kind for one file, however the file is named.
fn stem(of: &Path, kind: &str) -> String {
    let whole = of.canonicalize().or_else(|_| std::path::absolute(of)).unwrap_or_else(|_| of.to_owned());
    let digest = Sha256::of(OsString::from(whole).as_encoded_bytes()).to_string();
    format!("{}-{kind}", digest.get(..24).unwrap_or(&digest))
}

fn read(note: &Path) -> Option<Left> {
    let mut bytes = Vec::new();
    File::open(note).ok()?.take(MAX_BYTES).read_to_end(&mut bytes).ok()?;
    let end = memchr::memmem::find(&bytes, b"\n\n")?;
    let head = std::str::from_utf8(bytes.get(..end)?).ok()?;
    let mut lines = head.lines();
    if lines.next() != Some(FIRST_LINE) {
        return None;
    }
    let entry = |name: &str| {
        head.lines()
            .find_map(|line| line.strip_prefix(name)?.strip_prefix(": "))
            .unwrap_or_default()
            .to_owned()
    };
    let work = bytes.get(end + 2..)?.to_vec();
    Some(Left { note: note.to_owned(), written: entry("written"), about: entry("about"), work })
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Scene {
        folder: tempfile::TempDir,
    }

    impl Scene {
        fn new() -> Scene {
            let folder = tempfile::tempdir().unwrap();
            fs::write(folder.path().join("unit.bin"), [1]).unwrap();
            Scene { folder }
        }

        fn file(&self) -> PathBuf {
            self.folder.path().join("unit.bin")
        }

        /// The notes as a new session finds them.
        fn session(&self) -> Unsaved {
            Unsaved::within(self.folder.path().join("states").join("unsaved"))
        }

        fn notes(&self) -> usize {
            fs::read_dir(self.folder.path().join("states/unsaved")).map_or(0, Iterator::count)
        }
    }

    fn works(left: &[Left]) -> Vec<&[u8]> {
        left.iter().map(|l| l.work.as_slice()).collect()
    }

    #[test]
    fn what_a_session_kept_is_left_when_it_ends_without_a_word_and_is_found_by_any_name_of_the_file() {
        let scene = Scene::new();
        let mut first = scene.session();
        first.keep(&scene.file(), "layout", "board.ron", b"one\n\ntwo").unwrap();
        first.keep(&scene.file(), "layout", "board\n.ron", b"three\n\n\xFF").unwrap();
        // As long as it lives, its work is nobody else's.
        assert!(scene.session().left(&scene.file(), "layout").is_empty());
        drop(first);
        let other_name = scene.folder.path().join("states").join("..").join("unit.bin");
        let mut second = scene.session();
        assert!(second.left(&other_name, "bytes").is_empty());
        let left = second.left(&other_name, "layout");
        assert_eq!(works(&left), [b"three\n\n\xFF"]);
        assert_eq!(left[0].about, "board .ron");
        assert!(left[0].written.starts_with("20"), "{}", left[0].written);
        // Undecided, it is offered again.
        drop(second);
        let mut third = scene.session();
        let left = third.left(&scene.file(), "layout");
        third.keep(&scene.file(), "layout", "", b"mine").unwrap();
        third.discard(&left[0].note);
        drop(third);
        assert_eq!(works(&scene.session().left(&scene.file(), "layout")), [b"mine"]);
    }

    #[test]
    fn what_is_saved_or_given_up_leaves_nothing_behind() {
        let scene = Scene::new();
        let mut session = scene.session();
        session.forget(&scene.file(), "layout");
        session.keep(&scene.file(), "layout", "", b"work").unwrap();
        assert_eq!(scene.notes(), 2);
        session.forget(&scene.file(), "layout");
        assert_eq!(scene.notes(), 0);
    }

    #[test]
    fn two_sessions_on_one_file_keep_their_work_apart() {
        let scene = Scene::new();
        let (mut first, mut second) = (scene.session(), scene.session());
        first.keep(&scene.file(), "layout", "", b"first").unwrap();
        second.keep(&scene.file(), "layout", "", b"second").unwrap();
        second.forget(&scene.file(), "layout");
        second.keep(&scene.file(), "layout", "", b"again").unwrap();
        drop((first, second));
        let mut left = scene.session().left(&scene.file(), "layout");
        left.sort_by(|a, b| a.work.cmp(&b.work));
        assert_eq!(works(&left), [&b"again"[..], b"first"]);
    }

    #[test]
    fn what_is_no_note_is_passed_over_and_stays() {
        let scene = Scene::new();
        let mut session = scene.session();
        session.keep(&scene.file(), "layout", "", b"work").unwrap();
        let note = session.slots[0].note.clone();
        drop(session);
        for other in [&b""[..], b"something else\n\nof somebody", &[0xFF; 40]] {
            fs::write(&note, other).unwrap();
            assert!(scene.session().left(&scene.file(), "layout").is_empty());
            assert_eq!(fs::read(&note).unwrap(), other);
        }
    }
}
