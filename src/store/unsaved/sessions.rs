//! Locks: what this session has, and which sessions live.
//!
//! A lock is a file of the folder of notes that its session has locked. The system takes the lock back however the
//! session ends, so a lock file that nobody has locked means nothing.

use std::fs::{self, File, TryLockError};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::super::{Sha256, now};
use super::note::{name_of, stem};
use crate::platform;

/// Locks of one stem: sessions at one time, and sessions that were killed.
pub(super) const MOST: usize = 16;

/// The kind of lock that says that a file is open.
const OPEN: &str = "open";

/// A lock that this session holds; its file goes with it.
#[derive(Debug)]
pub(super) struct Claim {
    /// What is locked: what is called the same but for its number is of one file and kind.
    pub(super) stem: String,
    lock: PathBuf,
    held: File,
    stays: bool,
}

impl Claim {
    /// Takes the lock of this number when no session holds it.
    pub(super) fn take(folder: &Path, stem: &str, n: usize) -> Option<Claim> {
        let lock = lock(folder, stem, n);
        let mut options = File::options();
        options.create(true).truncate(false).write(true);
        platform::for_us_alone(&mut options);
        let held = options.open(&lock).ok()?;
        held.try_lock().ok()?;
        // Who held it may have taken the file away in the meantime: then this is a lock of nothing.
        lock.exists().then(|| Claim { stem: stem.to_owned(), lock, held, stays: false })
    }

    /// The file of the lock stays when this session gives it up.
    pub(super) fn stays(&mut self) {
        self.stays = true;
    }
}

impl Drop for Claim {
    fn drop(&mut self) {
        if !self.stays {
            let _ = fs::remove_file(&self.lock);
        }
    }
}

fn lock(folder: &Path, stem: &str, n: usize) -> PathBuf {
    folder.join(format!("{stem}-{n}.lock"))
}

/// Has `ours` hold what says that this session has the file `of` open.
pub(super) fn announce(folder: &Path, of: &Path, ours: &mut Vec<Claim>) {
    for stem in stems(of) {
        if ours.iter().any(|claim| claim.stem == stem) {
            continue;
        }
        if let Some(mut claim) = (1..=MOST).find_map(|n| Claim::take(folder, &stem, n)) {
            // Who cannot write who he is has the file open all the same.
            let _ = claim.held.set_len(0);
            let _ = claim.held.write_all(who().as_bytes());
            ours.push(claim);
        }
    }
}

/// Who has the file `of` open but for `ours`.
pub(super) fn others(folder: &Path, of: &Path, ours: &[Claim]) -> Vec<String> {
    let locks = stems(of).into_iter().flat_map(|stem| (1..=MOST).map(move |n| lock(folder, &stem, n)));
    let is_held = |lock: &PathBuf| {
        let taken = File::open(lock).map(|file| file.try_lock());
        matches!(taken, Ok(Err(TryLockError::WouldBlock)))
    };
    let mut others: Vec<String> = Vec::new();
    for lock in locks.filter(|lock| !ours.iter().any(|claim| claim.lock == *lock)).filter(is_held) {
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

/// Who this session is, for other sessions.
fn who() -> String {
    let host = platform::host();
    let on = if host.is_empty() { String::new() } else { format!(" on {host}") };
    let since = now().replace('T', " ").replace('Z', " UTC");
    format!("process {}{on}, since {since}", std::process::id())
}

/// What says that a file is open: its path, however it is named, and its number on its disk, which its hard links share.
pub(super) fn stems(of: &Path) -> Vec<String> {
    let number = fs::metadata(of).ok().as_ref().and_then(platform::number_on_disk);
    let by_number =
        number.map(|(disk, number)| name_of(Sha256::of(format!("{disk} {number}").as_bytes()), OPEN));
    [stem(of, OPEN)].into_iter().chain(by_number).collect()
}
