//! Saving: a process that is killed at any moment leaves the old file or the new one.

use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use readproof::store::{Over, save_new, save_over};

use crate::support::Place;

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
        let end = Instant::now() + Duration::from_secs(20);
        while !begun.exists() {
            assert!(Instant::now() < end, "nothing was saved within 20 s");
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
