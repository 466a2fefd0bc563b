//! Saving, with every operation of the system made to fail in turn.

use std::cell::Cell;
use std::fs::{self, File, Metadata};
use std::io;
use std::path::{Path, PathBuf};

use super::*;
use crate::store::files::{Access, Disk, Files};
use crate::store::save::{new_file, over_file};

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
        |files, dir| new_file(files, &dir.join("unit7.bin"), &new(), Access::Usual, &mut |_| true),
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
            let steps = left.first().map(|l| read_steps(&l.work).steps).unwrap_or_default();
            let steps: Vec<Done> = steps.into_iter().map(|s| s.done).collect();
            assert_eq!(steps.len(), added.get(), "{fault:?}: {result:?}");
            assert!((0..).zip(&steps).all(|(n, done)| *done == step(n)), "{fault:?}");
        },
    );
    assert!(tried > 100, "{tried} faults were tried");
}
