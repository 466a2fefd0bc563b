//! Saving: a process that is killed at any moment leaves the old file or the new one; what the system refuses is told
//! clearly and loses nothing.

use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use readproof::store::{Over, save_new, save_over};

use crate::support::{DEADLINE, Place};

/// Names the file that the process which is to be killed saves to.
const VARIABLE: &str = "READPROOF_TEST_SAVES_TO";

/// Bytes of one save: enough for several pieces of writing.
const BYTES: usize = 2 << 20;

/// Version `n` of the file; recognised by its first byte.
fn version(n: u8) -> Vec<u8> {
    let pages = (0..BYTES / 4096).map(|page| [n.wrapping_add(page as u8); 4096]);
    pages.collect::<Vec<_>>().concat()
}

const CONFIRMED: Over<'_> = Over { was: None, keep_original: false, read_only_too: false };

/// Not a promise but the process that the next test kills: without the variable it does nothing.
#[test]
fn saving_until_killed() {
    let Some(path) = std::env::var_os(VARIABLE).map(PathBuf::from) else { return };
    let end = Instant::now() + Duration::from_secs(20);
    let versions: Vec<Vec<u8>> = (0..4).map(version).collect();
    for n in 0usize.. {
        if Instant::now() > end {
            return;
        }
        save_over(&path, &versions[n % 4], CONFIRMED).unwrap();
        let new = path.with_extension(format!("new{n}"));
        save_new(&new, &versions[n % 4][..1000]).unwrap();
    }
}

#[test]
fn killed_at_any_moment_a_save_leaves_a_whole_file() {
    // More with READPROOF_KILLS=500; the default is kept short.
    let kills: u32 = std::env::var("READPROOF_KILLS").ok().and_then(|k| k.parse().ok()).unwrap_or(40);
    let seed = std::env::var("READPROOF_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or_else(|| {
        std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(1, |d| d.as_nanos() as u64)
    });
    println!("READPROOF_SEED={seed}");
    let mut random = seed | 1;
    let mut litter = 0;
    for run in 0..kills {
        let place = Place::empty();
        let path = place.file("unit7.bin", version(9));
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "saving::saving_until_killed", "--test-threads=1"])
            .env(VARIABLE, &path)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // The first new file says that it has begun.
        let begun = path.with_extension("new0");
        let end = Instant::now() + DEADLINE;
        while !begun.exists() {
            assert!(Instant::now() < end, "nothing was saved");
            std::thread::sleep(Duration::from_millis(1));
        }
        // xorshift64, so that a seed repeats a run as far as the system lets it.
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        std::thread::sleep(Duration::from_micros(random % 30_000));
        child.kill().unwrap();
        child.wait().unwrap();
        let now = std::fs::read(&path).unwrap();
        let whole = now.first().is_some_and(|&n| (n < 4 || n == 9) && now == version(n));
        assert!(whole, "seed {seed}, kill {run}: {} bytes, neither old nor new", now.len());
        for entry in std::fs::read_dir(place.root()).unwrap().flatten() {
            let name = entry.file_name().into_string().unwrap();
            if name.contains(".new") {
                let bytes = std::fs::read(entry.path()).unwrap();
                assert!(bytes.len() == 1000, "seed {seed}, kill {run}: {name} has {} bytes", bytes.len());
            }
            litter += usize::from(name.ends_with(".tmp"));
        }
    }
    println!("{kills} kills, {litter} of them in the middle of a save");
}

#[cfg(unix)]
mod refused_by_the_system {
    use std::os::unix::fs::PermissionsExt as _;
    use std::process::Output;

    use portable_pty::CommandBuilder;

    use super::*;
    use crate::session::Session;

    const PROGRAM: &str = env!("CARGO_BIN_EXE_readproof");

    /// A shell that may write no file of more than two blocks, as on a disk that is full (POSIX, ulimit); the signal
    /// that comes with it is ignored, so that the program is told by an error.
    const NEARLY_FULL: &str = "ulimit -f 2; trap '' XFSZ; exec ";

    fn shell(place: &Place, script: &str) -> Output {
        Command::new("sh").args(["-c", script]).current_dir(place.root()).output().unwrap()
    }

    fn names(place: &Place) -> Vec<String> {
        let entries = std::fs::read_dir(place.root()).unwrap().flatten();
        let mut names: Vec<String> = entries.map(|e| e.file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[track_caller]
    fn assert_told(output: &Output, told: &str) {
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.code() == Some(2) && said.contains(told), "{:?}: {said}", output.status);
    }

    #[test]
    fn no_room_for_a_new_file_is_told_and_leaves_nothing_behind() {
        let place = Place::empty();
        place.file("unit.bin", vec![0x11; 8192]);
        let convert = format!("{NEARLY_FULL}'{PROGRAM}' convert unit.bin out.hex");
        assert_told(&shell(&place, &convert), "out.hex: there is no room for a file of this size");
        assert_eq!(names(&place), ["unit.bin"]);
    }

    #[test]
    fn no_room_for_a_save_in_the_editor_leaves_the_old_file_and_the_changes() {
        let place = Place::empty();
        place.file("unit.bin", vec![0x11; 8192]);
        let mut command = CommandBuilder::new("sh");
        command.args(["-c", &format!("{NEARLY_FULL}'{PROGRAM}' unit.bin --layout none")]);
        let mut session = Session::of(command, place.root(), &[]);
        session.shows("LOCKED");
        session.type_until(b"\x15", "unlocked");
        session.type_until(b"c0ffee", "*C0*FF*EE");
        session.type_until(b"\x13", "Save as");
        session.type_until(b"\x15unit.bin\r", "Type its name");
        session.type_until(b"unit.bin\r", "Not saved");
        session.shows("no room for a file");
        session.keys(b"\x1b");
        session.wait("the changes are still there", |o| {
            let screen = o.screen();
            !screen.contains("Not saved") && screen.contains("*C0*FF*EE") && screen.contains("modified")
        });
        session.signal("-KILL");
        session.end();
        assert_eq!(place.bytes("unit.bin"), vec![0x11; 8192]);
        assert!(!names(&place).iter().any(|n| n.ends_with(".tmp")), "{:?}", names(&place));
    }

    #[test]
    fn a_folder_that_may_not_be_written_in_is_told() {
        let place = Place::empty();
        place.file("unit.bin", vec![0x11; 64]);
        std::fs::set_permissions(place.root(), std::fs::Permissions::from_mode(0o555)).unwrap();
        // Nobody forbids anything to the superuser, so the program runs as somebody else where it can.
        let user = String::from_utf8(shell(&place, "id -u").stdout).unwrap();
        let other =
            if user.trim() == "0" { "setpriv --reuid=65534 --regid=65534 --clear-groups " } else { "" };
        if !shell(&place, &format!("{other}'{PROGRAM}' --version")).status.success() {
            println!("skipped: this program cannot be run as another user here");
            return;
        }
        let output = shell(&place, &format!("exec {other}'{PROGRAM}' convert unit.bin out.hex"));
        assert_told(&output, "out.hex: writing in this folder is not permitted");
        std::fs::set_permissions(place.root(), std::fs::Permissions::from_mode(0o755)).unwrap();
        assert_eq!(names(&place), ["unit.bin"]);
    }

    #[test]
    fn what_is_no_plain_file_is_not_replaced_and_not_waited_for() {
        let place = Place::empty();
        assert!(shell(&place, "mkfifo pipe").status.success());
        for path in [place.path("pipe"), PathBuf::from("/dev/full"), PathBuf::from("/dev/null")] {
            let error = save_over(&path, b"new", CONFIRMED).unwrap_err();
            assert!(error.what.contains("this is no plain file"), "{}: {error}", path.display());
            let error = save_new(&path, b"new").unwrap_err();
            assert!(error.what.contains("there is a file of this name already"), "{error}");
        }
        let error = save_new(&place.path(&"n".repeat(300)), b"new").unwrap_err();
        assert!(error.what.contains("does not take this name"), "{error}");
        let error = save_new(&place.path("pipe/unit.bin"), b"new").unwrap_err();
        assert!(error.what.contains("a part of the path is a file"), "{error}");
        assert_eq!(names(&place), ["pipe"]);
    }
}
