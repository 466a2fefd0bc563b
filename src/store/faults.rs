//! Saving, with every operation of the system made to fail in turn.

use std::cell::Cell;
use std::fs::{self, File, Metadata};
use std::io;
use std::path::{Path, PathBuf};

use super::files::{Access, Disk, Files};
use super::save::{Over, new_file, over_file};
use super::unsaved::Unsaved;
use super::{Identity, journal, save_new, save_over};
use crate::edit::{Change, Done, Edit, Turn};
use crate::error::Error;

/// How an operation fails.
#[derive(Debug, Clone, Copy)]
struct Fault {
    /// Which operation, counted from 1.
    nth: usize,
    /// Whether every later one fails too.
    for_ever: bool,
    kind: io::ErrorKind,
}

/// The real file system, but for one fault; writes are short, and nothing waits for the disk: no power is cut here.
struct Faulty {
    fault: Fault,
    done: Cell<usize>,
    /// At most this much is written or read at once.
    most: usize,
}

impl Faulty {
    fn new(fault: Fault) -> Self {
        Faulty { fault, done: Cell::new(0), most: 1000 }
    }

    fn next<T>(&self, operation: impl FnOnce() -> io::Result<T>) -> io::Result<T> {
        self.done.set(self.done.get() + 1);
        let (done, nth) = (self.done.get(), self.fault.nth);
        if done == nth || (self.fault.for_ever && done > nth) {
            return Err(self.fault.kind.into());
        }
        operation()
    }
}

impl Files for Faulty {
    fn resolve(&self, path: &Path) -> io::Result<PathBuf> {
        self.next(|| Disk.resolve(path))
    }
    fn about(&self, path: &Path) -> io::Result<Metadata> {
        self.next(|| Disk.about(path))
    }
    fn open(&self, path: &Path) -> io::Result<File> {
        self.next(|| Disk.open(path))
    }
    fn read(&self, file: &mut File, buffer: &mut [u8]) -> io::Result<usize> {
        let most = buffer.len().min(self.most);
        self.next(|| Disk.read(file, &mut buffer[..most]))
    }
    fn create(&self, path: &Path, access: Access) -> io::Result<File> {
        self.next(|| Disk.create(path, access))
    }
    fn extend(&self, path: &Path) -> io::Result<File> {
        self.next(|| Disk.extend(path))
    }
    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<usize> {
        self.next(|| Disk.write(file, &bytes[..bytes.len().min(self.most)]))
    }
    fn make_alike(&self, file: &File, like: &Metadata) -> io::Result<()> {
        self.next(|| Disk.make_alike(file, like))
    }
    fn keep_attributes(&self, like: &Path, file: &File) {
        Disk.keep_attributes(like, file);
    }
    fn sync(&self, _: &File) -> io::Result<()> {
        self.next(|| Ok(()))
    }
    fn publish(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.next(|| Disk.publish(from, to))
    }
    fn replace(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.next(|| Disk.replace(from, to))
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        self.next(|| Disk.remove(path))
    }
    fn sync_folder(&self, _: &Path) -> io::Result<()> {
        self.next(|| Ok(()))
    }
}

/// Runs `save` in fresh folders with the first, second… operation failing, once and for ever, for several reasons,
/// until it passes untouched; `check` looks at the folder after each. Returns how many faults were tried.
fn fault_loop(
    save: impl Fn(&Faulty, &Path) -> Result<(), Error>,
    check: impl Fn(&Path, &Result<(), Error>, Fault),
) -> usize {
    let mut tried = 0;
    let kinds = [
        io::ErrorKind::StorageFull,
        io::ErrorKind::QuotaExceeded,
        io::ErrorKind::PermissionDenied,
        io::ErrorKind::NotFound,
        io::ErrorKind::Other,
        io::ErrorKind::Interrupted,
    ];
    for kind in kinds {
        for for_ever in [false, true] {
            if for_ever && kind == io::ErrorKind::Interrupted {
                continue; // A system that interrupts every call for ever is asked for ever.
            }
            for nth in 1.. {
                let dir = tempfile::tempdir().unwrap();
                let fault = Fault { nth, for_ever, kind };
                let files = Faulty::new(fault);
                let result = save(&files, dir.path());
                check(dir.path(), &result, fault);
                tried += 1;
                if files.done.get() < nth {
                    assert_eq!(result, Ok(()), "untouched: {fault:?}");
                    break;
                }
            }
        }
    }
    tried
}

fn old() -> Vec<u8> {
    (0..5000u32).map(|i| (i % 251) as u8).collect()
}

fn new() -> Vec<u8> {
    (0..6000u32).map(|i| (i % 241) as u8 ^ 0x5A).collect()
}

const CONFIRMED: Over<'_> = Over { was: None, keep_original: true, read_only_too: false };

/// What every error of a save must have: the file, and a sentence. A missing folder is named itself.
fn assert_clear(error: &Error, fault: Fault) {
    let folder = error.what.contains("no such folder");
    assert!(
        folder || error.place.as_deref().is_some_and(|p| p.contains("unit7.bin")),
        "{fault:?}: {error:?}"
    );
    assert!(error.what.len() > 10 && !error.what.ends_with('.'), "{fault:?}: {error:?}");
}

#[test]
fn whatever_fails_while_a_file_is_overwritten_it_is_all_old_or_all_new() {
    let tried = fault_loop(
        |files, dir| {
            let path = dir.join("unit7.bin");
            fs::write(&path, old()).unwrap();
            over_file(files, &path, &new(), CONFIRMED, &mut |_| true).map(|_| ())
        },
        |dir, result, fault| {
            let now = fs::read(dir.join("unit7.bin")).unwrap();
            match result {
                Ok(()) => assert!(now == new(), "{fault:?}: saved, but not there"),
                Err(error) => {
                    assert_clear(error, fault);
                    let wanted = if error.what.contains("is in its place") { new() } else { old() };
                    assert!(now == wanted, "{fault:?}: neither old nor new: {error}");
                }
            }
            for entry in fs::read_dir(dir).unwrap().flatten() {
                let name = entry.file_name().into_string().unwrap();
                match name.as_str() {
                    "unit7.bin" => {}
                    "unit7.bin.original" => assert!(fs::read(entry.path()).unwrap() == old(), "{fault:?}"),
                    // Litter is left only where removing failed as well.
                    name => assert!(fault.for_ever && name.ends_with(".tmp"), "{fault:?}: {name} is left"),
                }
            }
            if now == new() {
                assert!(dir.join("unit7.bin.original").exists(), "{fault:?}: the original was not kept");
            }
        },
    );
    assert!(tried > 200, "{tried} faults were tried");
}

#[test]
fn whatever_fails_while_a_new_file_is_written_it_is_whole_or_absent() {
    let tried = fault_loop(
        |files, dir| new_file(files, &dir.join("unit7.bin"), &new(), &mut |_| true),
        |dir, result, fault| {
            let now = fs::read(dir.join("unit7.bin")).ok();
            match result {
                Ok(()) => assert!(now == Some(new()), "{fault:?}"),
                Err(error) => {
                    assert_clear(error, fault);
                    let there = error.what.contains("is in its place");
                    assert!(now == there.then(new), "{fault:?}: {error}");
                }
            }
            let litter = fs::read_dir(dir).unwrap().count() - usize::from(now.is_some());
            assert!(litter == 0 || fault.for_ever, "{fault:?}: {litter} files are left");
        },
    );
    assert!(tried > 100, "{tried} faults were tried");
}

#[test]
fn whatever_fails_while_a_journal_grows_it_holds_what_was_added_and_nothing_else() {
    let step = |n: usize| Done {
        turn: Turn::Made,
        change: Change {
            label: format!("step {n}"),
            edits: vec![Edit { at: n, before: vec![0; 1500], after: vec![n as u8; 1500] }],
        },
    };
    let added = Cell::new(0);
    let tried = fault_loop(
        |files, dir| {
            added.set(0);
            let of = dir.join("unit7.bin");
            let mut notes = Unsaved::within(dir.join("states"));
            let mut result = Ok(());
            for n in 0..5 {
                let one = notes.add_with(files, &of, "bytes", "", &[step(n)]);
                // What comes after a step that is missing is not added either.
                if result.is_ok() && one.is_ok() {
                    added.set(n + 1);
                }
                result = result.and(one.map(drop));
            }
            result
        },
        |dir, result, fault| {
            let left = Unsaved::within(dir.join("states")).left(&dir.join("unit7.bin"), "", "bytes");
            let steps = left.first().map(|l| journal::steps(&l.work).steps).unwrap_or_default();
            let steps: Vec<Done> = steps.into_iter().map(|s| s.done).collect();
            assert_eq!(steps.len(), added.get(), "{fault:?}: {result:?}");
            assert!((0..).zip(&steps).all(|(n, done)| *done == step(n)), "{fault:?}");
        },
    );
    assert!(tried > 100, "{tried} faults were tried");
}

#[test]
fn a_save_that_is_stopped_leaves_the_old_file() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, old()).unwrap();
    let large = vec![7; 3 << 20];
    let mut told = Vec::new();
    let mut watch = |done: f64| {
        told.push((done * (old().len() + large.len()) as f64).round() as usize);
        told.len() < 3
    };
    let error = over_file(&Disk, &path, &large, CONFIRMED, &mut watch).unwrap_err();
    assert!(error.what.contains("stopped"));
    // The copy of what it was counts too.
    assert_eq!(told, [old().len(), old().len() + (1 << 20), old().len() + (2 << 20)]);
    assert_eq!(fs::read(&path).unwrap(), old());
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2, "the file and its kept original");
}

#[test]
fn a_copy_of_the_original_that_is_stopped_leaves_the_old_file_alone() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    let large = vec![7; 3 << 20];
    fs::write(&path, &large).unwrap();
    let mut told = 0;
    let mut watch = |_: f64| {
        told += 1;
        told < 2
    };
    let error = over_file(&Disk, &path, &new(), CONFIRMED, &mut watch).unwrap_err();
    assert!(error.what.contains("stopped"), "{error}");
    assert_eq!(fs::read(&path).unwrap(), large);
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1, "no part of a copy is left");
}

#[test]
fn two_saves_keep_the_first_bytes_and_another_session_keeps_its_own() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "first").unwrap();
    let kept = save_over(&path, b"second", CONFIRMED).unwrap().original.unwrap();
    assert_eq!(kept, dir.path().canonicalize().unwrap().join("unit7.bin.original"));
    let again = Over { keep_original: false, ..CONFIRMED };
    assert_eq!(save_over(&path, b"third", again).unwrap().original, None);
    assert_eq!(fs::read(&kept).unwrap(), b"first");
    let later = save_over(&path, b"fourth", CONFIRMED).unwrap().original.unwrap();
    assert_eq!(
        (later.file_name().unwrap().to_str(), fs::read(&later).unwrap()),
        (Some("unit7.bin.original-2"), b"third".to_vec())
    );
    // The same bytes are kept once.
    fs::write(&path, "first").unwrap();
    assert_eq!(save_over(&path, b"fifth", CONFIRMED).unwrap().original, Some(kept));
}

#[test]
fn nothing_is_overwritten_unasked() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "old").unwrap();
    let error = save_new(&path, b"new").unwrap_err();
    assert!(error.to_string().contains("there is a file of this name already"), "{error}");
    assert_eq!(fs::read(&path).unwrap(), b"old");
    // Even when the name is taken only after it was looked at.
    let late = dir.path().join("late.bin");
    let mut watch = |_| {
        fs::write(&late, "somebody else's").unwrap();
        true
    };
    let error = new_file(&Disk, &late, b"new", &mut watch).unwrap_err();
    assert!(error.what.contains("already"), "{error}");
    assert_eq!(fs::read(&late).unwrap(), b"somebody else's");
}

#[test]
fn a_file_that_changed_since_it_was_opened_is_not_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "old").unwrap();
    let was = Identity::of(&path).unwrap();
    let over = Over { was: Some(&was), ..CONFIRMED };
    save_over(&path, b"old", over).unwrap();
    fs::write(&path, "theirs").unwrap();
    let error = save_over(&path, b"ours", over).unwrap_err();
    assert!(error.what.contains("has 6 bytes now"), "{error}");
    // Also when it changes while the new bytes are written.
    fs::write(&path, "old").unwrap();
    let mut watch = |_| {
        fs::write(&path, "their").unwrap();
        true
    };
    assert!(over_file(&Disk, &path, b"ours", over, &mut watch).is_err());
    assert_eq!(fs::read(&path).unwrap(), b"their");
    fs::remove_file(&path).unwrap();
    let error = save_over(&path, b"ours", over).unwrap_err();
    assert!(error.what.contains("is gone"), "{error}");
}

#[test]
fn what_cannot_be_saved_says_why() {
    let dir = tempfile::tempdir().unwrap();
    let says = |path: &Path, what: &str| {
        let error = save_new(path, b"x").unwrap_err().to_string();
        assert!(error.contains(what), "{error}");
    };
    says(&dir.path().join("absent/unit7.bin"), "there is no such folder");
    says(&dir.path().join("x".repeat(300)), "does not take this name");
    says(dir.path(), "there is a file of this name already");
    says(&dir.path().join(".."), "names no file");
    let error = save_over(dir.path(), b"x", CONFIRMED).unwrap_err();
    assert!(error.what.contains("this is a folder"), "{error}");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0, "nothing is left behind");
}

#[cfg(unix)]
mod unix {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, symlink};

    use super::*;

    #[test]
    fn links_stay_links_through_chains_and_folders() {
        let dir = tempfile::tempdir().unwrap();
        let deep = dir.path().join("deep");
        fs::create_dir(&deep).unwrap();
        fs::write(deep.join("unit7.bin"), "old").unwrap();
        symlink("deep/unit7.bin", dir.path().join("one")).unwrap();
        symlink(dir.path().join("one"), dir.path().join("two")).unwrap();
        symlink("two", dir.path().join("three")).unwrap();
        let saved = save_over(&dir.path().join("three"), b"new", CONFIRMED).unwrap();
        assert_eq!(saved.path, deep.canonicalize().unwrap().join("unit7.bin"));
        for link in ["one", "two", "three"] {
            let path = dir.path().join(link);
            assert!(path.symlink_metadata().unwrap().is_symlink(), "{link}");
            assert_eq!(fs::read(path).unwrap(), b"new");
        }
        assert_eq!(fs::read(deep.join("unit7.bin.original")).unwrap(), b"old");
    }

    #[test]
    fn a_link_that_leads_nowhere_is_never_written_through() {
        let dir = tempfile::tempdir().unwrap();
        let link = dir.path().join("unit7.bin");
        symlink("nowhere", &link).unwrap();
        assert!(save_new(&link, b"new").unwrap_err().what.contains("already"));
        assert!(save_over(&link, b"new", CONFIRMED).unwrap_err().what.contains("is gone"));
    }

    #[test]
    fn the_mode_is_kept_also_on_the_copy_of_the_original() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("unit7.bin");
        for mode in [0o600, 0o640, 0o664, 0o4755] {
            fs::write(&path, format!("old {mode}")).unwrap();
            fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
            let saved = save_over(&path, b"new", CONFIRMED).unwrap();
            let mode_of = |path: &Path| fs::metadata(path).unwrap().mode() & 0o7777;
            assert_eq!(mode_of(&path), mode);
            assert_eq!(mode_of(&saved.original.unwrap()), mode);
        }
    }

    #[test]
    fn a_write_protected_file_is_replaced_only_when_that_is_asked_for() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("unit7.bin");
        fs::write(&path, "old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).unwrap();
        let opened = crate::store::open(&path, &mut io::empty()).unwrap();
        assert!(opened.read_only, "told when it is opened");
        let error = save_over(&path, b"new", CONFIRMED).unwrap_err();
        assert!(error.what.contains("write-protected"), "{error}");
        assert_eq!(fs::read(&path).unwrap(), b"old");
        save_over(&path, b"new", Over { read_only_too: true, ..CONFIRMED }).unwrap();
        assert_eq!(
            (fs::read(&path).unwrap(), fs::metadata(&path).unwrap().mode() & 0o777),
            (b"new".to_vec(), 0o444)
        );
    }

    #[test]
    fn a_file_with_several_names_is_not_split() {
        let dir = tempfile::tempdir().unwrap();
        let (path, alias) = (dir.path().join("unit7.bin"), dir.path().join("alias.bin"));
        fs::write(&path, "old").unwrap();
        fs::hard_link(&path, &alias).unwrap();
        let error = save_over(&path, b"new", CONFIRMED).unwrap_err();
        assert!(error.what.contains("2 names"), "{error}");
        assert_eq!(fs::metadata(&path).unwrap().ino(), fs::metadata(&alias).unwrap().ino());
    }

    #[test]
    fn a_file_that_is_no_plain_one_is_not_replaced() {
        let error = save_over(Path::new("/dev/null"), b"new", CONFIRMED).unwrap_err();
        assert!(error.what.contains("no plain file"), "{error}");
    }

    #[test]
    fn names_that_are_no_unicode_are_saved_and_kept() {
        use std::os::unix::ffi::OsStrExt as _;
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join(std::ffi::OsStr::from_bytes(b"unit\xFF7.bin"));
        save_new(&path, b"old").unwrap();
        let saved = save_over(&path, b"new", CONFIRMED).unwrap();
        assert_eq!(
            (fs::read(&path).unwrap(), fs::read(saved.original.unwrap()).unwrap()),
            (b"new".to_vec(), b"old".to_vec())
        );
    }
}
