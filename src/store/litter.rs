//! Files without a name of their own that a killed process left behind.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Younger ones may belong to a process that has not come to lock them yet.
const YOUNG: Duration = Duration::from_secs(60);

/// The name of the temporary file `number` of this process. Short, so that a name that is just short enough for the
/// system stays so.
pub(super) fn name(number: u64) -> String {
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
