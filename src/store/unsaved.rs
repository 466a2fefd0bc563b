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
//! bytes of an image is added to a journal, see [`Unsaved::add`] and [`journal`]: never the whole
//! image. A step that was added outlives the process; it outlives the machine once [`Unsaved::sync`] is through.

use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{Read, Write as _};
use std::path::{Path, PathBuf};

use super::files::{Access, Disk, Files};
use super::save::new_file;
use super::{Identity, Over, Sha256, journal, now, places, save_over, told};
use crate::edit::Done;
use crate::error::Error;
use crate::platform;

/// The first line of a note.
const FIRST_LINE: &str = "readproof, work that is not saved, format 1";
/// What a note begins with fits in here.
const MOST_HEAD: u64 = 64 << 10;
/// Larger notes are none of ours.
const MAX_BYTES: u64 = 256 << 20;
/// The kind of lock that says that a file is open.
const OPEN: &str = "open";
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
    held: File,
    /// What is added to the note, once something is.
    journal: Option<Journal>,
    /// A step could not be added; those after it would stand on nothing.
    is_broken: bool,
    /// Another session left it; it is nobody's until somebody decides.
    is_left: bool,
}

/// The open end of a note.
#[derive(Debug)]
struct Journal {
    file: File,
    /// Bytes that are whole.
    len: u64,
    /// Frames that are whole.
    frames: u64,
    is_synced: bool,
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
        Unsaved { folder, slots: Vec::new() }
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
        let index = self.mine(of, kind)?;
        let Some(slot) = self.slots.get(index) else { return Ok(()) };
        let mut note = head(of, holds, kind, about);
        note.extend_from_slice(work);
        let over = Over { was: None, keep_original: false, read_only_too: false };
        if slot.note.exists() {
            save_over(&slot.note, &note, over)?;
        } else {
            new_file(&Disk, &slot.note, &note, Access::Ours, &mut |_| true)?;
        }
        Ok(())
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
        let index = self.mine(of, kind)?;
        let Some(slot) = self.slots.get_mut(index) else { return Ok(false) };
        if slot.is_broken {
            return Ok(false);
        }
        let is_begun = slot.journal.is_none();
        slot.is_broken = true;
        let journal = match &mut slot.journal {
            Some(journal) => journal,
            none => none.insert(Journal::begin(files, &slot.note, &head(of, about, kind, about))?),
        };
        journal.add(files, done).map_err(|e| told(&slot.note, "adding to the journal", &e))?;
        slot.is_broken = false;
        Ok(is_begun)
    }

    /// Has everything that was added on the disk before it returns.
    ///
    /// # Errors
    /// When the system does not confirm it.
    pub fn sync(&mut self) -> Result<(), Error> {
        for slot in &mut self.slots {
            if let Some(journal) = slot.journal.as_mut().filter(|j| !j.is_synced) {
                Disk.sync(&journal.file).map_err(|e| told(&slot.note, "writing to the disk", &e))?;
                journal.is_synced = true;
            }
        }
        Ok(())
    }

    /// Says that this session has the file `of` open, and returns who else has, each in words that continue "it is open
    /// in". Sessions that ended in whatever way are no more told of, because the system took their locks back.
    pub fn announce(&mut self, of: &Path) -> Vec<String> {
        for stem in names(of) {
            if self.slots.iter().any(|s| s.stem == stem) || self.make_folder().is_err() {
                continue;
            }
            let slot = (1..=MOST).find_map(|n| self.claim(&stem, n));
            if let Some(mut slot) = slot {
                // Who cannot write who he is has the file open all the same.
                let _ = slot.held.set_len(0);
                let _ = slot.held.write_all(who().as_bytes());
                self.slots.push(slot);
            }
        }
        self.others(of)
    }

    /// Who else has the file `of` open, see [`Unsaved::announce`].
    #[must_use]
    pub fn others(&self, of: &Path) -> Vec<String> {
        let locks = names(of).into_iter().flat_map(|stem| (1..=MOST).map(move |n| (stem.clone(), n)));
        let locks = locks.map(|(stem, n)| self.lock(&stem, n));
        let held = locks.filter(|l| !self.slots.iter().any(|s| s.lock == *l)).filter(|lock| {
            let free = File::open(lock).map(|file| file.try_lock());
            matches!(free, Ok(Err(fs::TryLockError::WouldBlock)))
        });
        let mut others: Vec<String> = Vec::new();
        for lock in held {
            let who = match fs::read_to_string(lock) {
                Ok(who) if !who.trim().is_empty() => who.trim().to_owned(),
                _ => "another editor".to_owned(),
            };
            // By its path and by its number it is the same one.
            if !others.contains(&who) {
                others.push(who);
            }
        }
        others
    }

    /// The note of a kind for the file `of` that is this session's, taken when it has none.
    fn mine(&mut self, of: &Path, kind: &str) -> Result<usize, Error> {
        let stem = stem(of, kind);
        if let Some(index) = self.slots.iter().position(|s| s.stem == stem && !s.is_left) {
            return Ok(index);
        }
        self.make_folder()?;
        let slot = (1..=MOST).find_map(|n| self.claim(&stem, n).filter(|s| !s.note.exists()));
        let slot = slot.ok_or_else(|| {
            Error::new(format!("there are {MOST} notes of unsaved work on one file already"))
                .in_file(&self.folder)
                .advice("open the file and decide about them, or take them away")
        })?;
        self.slots.push(slot);
        Ok(self.slots.len() - 1)
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

    /// What sessions that ended left of work of a kind on the file `of`, the newest last; `holds` is what it is, see
    /// [`Identity::in_a_line`]. Work on a file that is gone from where it was, or holds something else there by now, is
    /// work on this one when this one holds what that one held: it was moved. Notes that cannot be read are passed over
    /// and stay where they are.
    pub fn left(&mut self, of: &Path, holds: &str, kind: &str) -> Vec<Left> {
        let own = stem(of, kind);
        let here = (1..=MOST).map(|n| (own.clone(), n)).filter(|(stem, n)| self.note(stem, *n).exists());
        let mut notes: Vec<(String, usize, Option<PathBuf>)> =
            here.map(|(stem, n)| (stem, n, None)).collect();
        notes.extend(self.moved(&own, holds, kind));
        let mut found = Vec::new();
        for (stem, n, of) in notes {
            let Some(mut slot) = self.claim(&stem, n) else { continue };
            let Some(left) = read(&slot.note) else { continue };
            found.push(Left { of, ..left });
            slot.is_left = true;
            self.slots.push(slot);
        }
        found.sort_by(|a, b| a.written.cmp(&b.written));
        found
    }

    /// Notes of a kind for other files than the one of `own` that held what `holds` says, and do not any more.
    fn moved(&self, own: &str, holds: &str, kind: &str) -> Vec<(String, usize, Option<PathBuf>)> {
        let entries = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let names = entries.filter_map(|entry| entry.file_name().into_string().ok());
        let numbered = names.filter_map(|name| {
            let (stem, n) = name.strip_suffix(".unsaved")?.rsplit_once('-')?;
            Some((stem.to_owned(), n.parse().ok()?))
        });
        let mut moved: Vec<(String, usize, Option<PathBuf>)> = numbered
            .filter(|(stem, _): &(String, usize)| stem != own && stem.ends_with(&format!("-{kind}")))
            .filter_map(|(other, n)| {
                let mut head = Vec::new();
                File::open(self.note(&other, n)).ok()?.take(MOST_HEAD).read_to_end(&mut head).ok()?;
                let (head, _) = split(&head)?;
                (!holds.is_empty() && entry(head, "holds") == holds).then_some(())?;
                let of = PathBuf::from(entry(head, "of"));
                // A name that is no text stands in the note changed; then only the contents are known.
                let is_there = stem(&of, kind) == other
                    && Identity::of(&of).is_ok_and(|identity| identity.in_a_line() == holds);
                (!is_there).then_some((other, n, Some(of)))
            })
            .collect();
        moved.sort();
        moved
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

    fn lock(&self, stem: &str, n: usize) -> PathBuf {
        self.folder.join(format!("{stem}-{n}.lock"))
    }

    /// Takes the lock of a note that no session holds.
    fn claim(&self, stem: &str, n: usize) -> Option<Slot> {
        let lock = self.lock(stem, n);
        let mut options = File::options();
        options.create(true).truncate(false).write(true);
        platform::for_us_alone(&mut options);
        let held = options.open(&lock).ok()?;
        held.try_lock().ok()?;
        // Who held it may have taken the file away in the meantime: then this is a lock of nothing.
        if !lock.exists() {
            return None;
        }
        Some(Slot {
            stem: stem.to_owned(),
            note: self.note(stem, n),
            lock,
            held,
            journal: None,
            is_broken: false,
            is_left: false,
        })
    }

    /// Makes the folder, for its user alone.
    fn make_folder(&self) -> Result<(), Error> {
        let mut builder = fs::DirBuilder::new();
        builder.recursive(true);
        platform::folder_for_us_alone(&mut builder);
        builder.create(&self.folder).map_err(|e| told(&self.folder, "making the folder", &e))
    }
}

impl Journal {
    fn begin(files: &dyn Files, note: &Path, head: &[u8]) -> Result<Journal, Error> {
        // Whatever stands there is what an attempt of this session left, or its lock would not be ours.
        let _ = fs::remove_file(note);
        new_file(files, note, head, Access::Ours, &mut |_| true)?;
        let file = files.extend(note).map_err(|e| told(note, "adding to the journal", &e))?;
        Ok(Journal { file, len: head.len() as u64, frames: 0, is_synced: true })
    }

    fn add(&mut self, files: &dyn Files, done: &[Done]) -> std::io::Result<()> {
        let at = jiff::Timestamp::now().as_second();
        let numbered = (self.frames..).zip(done);
        let bytes: Vec<u8> = numbered.flat_map(|(number, done)| journal::frame(number, at, done)).collect();
        self.is_synced = false;
        let mut rest = bytes.as_slice();
        while !rest.is_empty() {
            match files.write(&mut self.file, rest) {
                Ok(n) if n > 0 => rest = rest.get(n..).unwrap_or_default(),
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                failed => {
                    // A part of a frame at the end would be passed over too; this only leaves no litter.
                    let _ = self.file.set_len(self.len);
                    return Err(failed.err().unwrap_or(std::io::ErrorKind::WriteZero.into()));
                }
            }
        }
        self.len += bytes.len() as u64;
        self.frames += done.len() as u64;
        Ok(())
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

/// What a note begins with.
fn head(of: &Path, holds: &str, kind: &str, about: &str) -> Vec<u8> {
    let line = |text: &str| text.replace(['\n', '\r'], " ");
    format!(
        "{FIRST_LINE}\nof: {}\nholds: {}\nkind: {}\nabout: {}\nwritten: {}\n\n",
        line(&whole(of).display().to_string()),
        line(holds),
        line(kind),
        line(about),
        now()
    )
    .into_bytes()
}

/// Who this session is, for other sessions.
fn who() -> String {
    let host = platform::host();
    let on = if host.is_empty() { String::new() } else { format!(" on {host}") };
    let since = now().replace('T', " ").replace('Z', " UTC");
    format!("process {}{on}, since {since}", std::process::id())
}

/// The whole path of a file, every link followed as far as it leads anywhere.
fn whole(of: &Path) -> PathBuf {
    of.canonicalize().or_else(|_| std::path::absolute(of)).unwrap_or_else(|_| of.to_owned())
}

/// Names the notes of a kind for one file, however the file is named.
fn stem(of: &Path, kind: &str) -> String {
    let digest = Sha256::of(OsString::from(whole(of)).as_encoded_bytes()).to_string();
    format!("{}-{kind}", digest.get(..24).unwrap_or(&digest))
}

/// What says that a file is open: its path, however it is named, and its number on its disk, which its hard links share.
fn names(of: &Path) -> Vec<String> {
    let mut names = vec![stem(of, OPEN)];
    if let Some((disk, number)) = fs::metadata(of).ok().as_ref().and_then(platform::number_on_disk) {
        let digest = Sha256::of(format!("{disk} {number}").as_bytes()).to_string();
        names.push(format!("{}-{OPEN}", digest.get(..24).unwrap_or(&digest)));
    }
    names
}

/// What a note begins with, and the work.
fn split(note: &[u8]) -> Option<(&str, &[u8])> {
    let end = memchr::memmem::find(note, b"\n\n")?;
    let head = std::str::from_utf8(note.get(..end)?).ok()?;
    (head.lines().next() == Some(FIRST_LINE)).then_some((head, note.get(end + 2..)?))
}

/// What stands behind a word at the beginning of a note.
fn entry<'a>(head: &'a str, name: &str) -> &'a str {
    head.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": ")).unwrap_or_default()
}

fn read(note: &Path) -> Option<Left> {
    let mut bytes = Vec::new();
    File::open(note).ok()?.take(MAX_BYTES).read_to_end(&mut bytes).ok()?;
    let (head, work) = split(&bytes)?;
    let (written, about) = (entry(head, "written").to_owned(), entry(head, "about").to_owned());
    Some(Left { note: note.to_owned(), of: None, written, about, work: work.to_vec() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::{Change, Edit, Turn};

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
        first.keep(&scene.file(), "4 bytes", "layout", "board.ron", b"one\n\ntwo").unwrap();
        first.keep(&scene.file(), "4 bytes", "layout", "board\n.ron", b"three\n\n\xFF").unwrap();
        // As long as it lives, its work is nobody else's.
        assert!(scene.session().left(&scene.file(), "4 bytes", "layout").is_empty());
        drop(first);
        let other_name = scene.folder.path().join("states").join("..").join("unit.bin");
        let mut second = scene.session();
        assert!(second.left(&other_name, "4 bytes", "bytes").is_empty());
        let left = second.left(&other_name, "4 bytes", "layout");
        assert_eq!(works(&left), [b"three\n\n\xFF"]);
        assert_eq!(left[0].about, "board .ron");
        assert!(left[0].written.starts_with("20"), "{}", left[0].written);
        // Undecided, it is offered again.
        drop(second);
        let mut third = scene.session();
        let left = third.left(&scene.file(), "4 bytes", "layout");
        third.keep(&scene.file(), "4 bytes", "layout", "", b"mine").unwrap();
        third.discard(&left[0].note);
        drop(third);
        assert_eq!(works(&scene.session().left(&scene.file(), "4 bytes", "layout")), [b"mine"]);
    }

    #[test]
    fn what_is_saved_or_given_up_leaves_nothing_behind() {
        let scene = Scene::new();
        let mut session = scene.session();
        session.forget(&scene.file(), "layout");
        session.keep(&scene.file(), "4 bytes", "layout", "", b"work").unwrap();
        assert_eq!(scene.notes(), 2);
        session.forget(&scene.file(), "layout");
        assert_eq!(scene.notes(), 0);
    }

    #[test]
    fn two_sessions_on_one_file_keep_their_work_apart() {
        let scene = Scene::new();
        let (mut first, mut second) = (scene.session(), scene.session());
        first.keep(&scene.file(), "4 bytes", "layout", "", b"first").unwrap();
        second.keep(&scene.file(), "4 bytes", "layout", "", b"second").unwrap();
        second.forget(&scene.file(), "layout");
        second.keep(&scene.file(), "4 bytes", "layout", "", b"again").unwrap();
        drop((first, second));
        let mut left = scene.session().left(&scene.file(), "4 bytes", "layout");
        left.sort_by(|a, b| a.work.cmp(&b.work));
        assert_eq!(works(&left), [&b"again"[..], b"first"]);
    }

    #[test]
    fn what_is_no_note_is_passed_over_and_stays() {
        let scene = Scene::new();
        let mut session = scene.session();
        session.keep(&scene.file(), "4 bytes", "layout", "", b"work").unwrap();
        let note = session.slots[0].note.clone();
        drop(session);
        for other in [&b""[..], b"something else\n\nof somebody", &[0xFF; 40]] {
            fs::write(&note, other).unwrap();
            assert!(scene.session().left(&scene.file(), "4 bytes", "layout").is_empty());
            assert_eq!(fs::read(&note).unwrap(), other);
        }
    }

    fn done(n: u8) -> Done {
        let edit = Edit { at: usize::from(n), before: vec![0], after: vec![n] };
        Done { turn: Turn::Made, change: Change { label: format!("step {n}"), edits: vec![edit] } }
    }

    fn told_by(left: &[Left]) -> Vec<Done> {
        let [left] = left else { panic!("{} notes", left.len()) };
        journal::steps(&left.work).steps.into_iter().map(|s| s.done).collect()
    }

    #[test]
    fn steps_are_added_to_a_journal_that_is_left_when_the_session_ends_without_a_word() {
        let scene = Scene::new();
        let mut session = scene.session();
        assert!(session.add(&scene.file(), "bytes", "1 byte", &[done(1), done(2)]).unwrap());
        assert!(!session.add(&scene.file(), "bytes", "other", &[done(3)]).unwrap());
        session.sync().unwrap();
        drop(session);
        let mut next = scene.session();
        let left = next.left(&scene.file(), "4 bytes", "bytes");
        assert_eq!((told_by(&left), left[0].about.as_str()), (vec![done(1), done(2), done(3)], "1 byte"));
        // What is saved is forgotten, and a new journal begins.
        next.discard(&left[0].note);
        next.add(&scene.file(), "bytes", "", &[done(4)]).unwrap();
        next.forget(&scene.file(), "bytes");
        next.add(&scene.file(), "bytes", "", &[done(5)]).unwrap();
        drop(next);
        assert_eq!(told_by(&scene.session().left(&scene.file(), "4 bytes", "bytes")), [done(5)]);
    }

    #[test]
    fn work_on_a_file_that_was_moved_is_found_by_what_it_holds_and_work_on_another_one_is_not() {
        let scene = Scene::new();
        let holds = |path: &Path| Identity::of(path).unwrap().in_a_line();
        let was = holds(&scene.file());
        let mut session = scene.session();
        session.add(&scene.file(), "bytes", &was, &[done(1)]).unwrap();
        session.keep(&scene.file(), &was, "layout", "new board.ron", b"text").unwrap();
        drop(session);
        let [copy, moved, other] =
            ["copy.bin", "moved.bin", "other.bin"].map(|n| scene.folder.path().join(n));
        fs::copy(scene.file(), &copy).unwrap();
        fs::write(&other, [2]).unwrap();
        let left = |of: &Path, kind: &str| scene.session().left(of, &holds(of), kind);
        // As long as the file is where it was, a copy of it is another one.
        assert_eq!(left(&copy, "bytes"), []);
        let first = fs::canonicalize(scene.file()).unwrap();
        fs::rename(scene.file(), &moved).unwrap();
        for kind in ["bytes", "layout"] {
            let found = left(&moved, kind);
            assert!(
                matches!(found.as_slice(), [one] if one.of.as_ref() == Some(&first)),
                "{kind}: {found:?}"
            );
            assert_eq!(left(&other, kind), [], "{kind}: it holds something else");
        }
        // Another file has taken the name: it is asked about by its name, and the moved one by what it holds.
        fs::write(scene.file(), [2]).unwrap();
        assert_eq!(left(&moved, "bytes").len(), 1);
        assert!(matches!(left(&scene.file(), "bytes").as_slice(), [one] if one.of.is_none()));
        // What is taken up is discarded by its note, wherever that came from.
        let mut session = scene.session();
        let note = session.left(&moved, &was, "bytes").remove(0).note;
        session.discard(&note);
        assert_eq!(left(&moved, "bytes"), []);
    }

    #[test]
    fn editors_on_one_file_are_told_of_each_other_as_long_as_they_live() {
        let scene = Scene::new();
        let (mut first, mut second) = (scene.session(), scene.session());
        assert!(first.announce(&scene.file()).is_empty());
        assert!(first.announce(&scene.file()).is_empty(), "not of itself");
        let told = second.announce(&scene.file());
        let me = format!("process {}", std::process::id());
        assert!(
            matches!(told.as_slice(), [one] if one.starts_with(&me) && one.contains("since 20")),
            "{told:?}"
        );
        assert_eq!(first.others(&scene.file()).len(), 1);
        drop(second);
        assert!(first.others(&scene.file()).is_empty());
        // A lock that a dead session left is nobody.
        fs::write(
            scene.folder.path().join("states/unsaved").join(format!("{}-9.lock", stem(&scene.file(), OPEN))),
            "process 1",
        )
        .unwrap();
        assert!(first.others(&scene.file()).is_empty());
    }
}
