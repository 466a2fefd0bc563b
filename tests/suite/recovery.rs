//! Changes that are not saved survive whatever ends the editor, are offered and never made again unasked.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use readproof::edit::{self, Change, Edit, History, Joining};
use readproof::image::Image;
use readproof::store::{Over, Unsaved, read_steps, save_over};

use crate::support::{DEADLINE, Place};

/// Names the folder in which the process that is to be killed works, and the seed of what it does.
const FOLDER: &str = "READPROOF_TEST_JOURNAL_IN";
const SEED: &str = "READPROOF_TEST_JOURNAL_SEED";

/// Steps between two saves.
const STEPS: usize = 23;

/// xorshift64.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }
}

/// What a session does, the same for the same seed.
struct Session {
    random: Random,
    image: Image,
    history: History,
    steps: usize,
}

impl Session {
    fn new(seed: u64) -> Session {
        let mut history = History::new();
        history.tell();
        Session { random: Random(seed | 1), image: Image::raw(vec![0; 4096]), history, steps: 0 }
    }

    fn step(&mut self) {
        let what = self.random.next();
        let (at, len) = ((what >> 8) as usize % 4000, 1 + (what >> 24) as usize % 90);
        match what % 8 {
            0 => drop(self.history.undo(&mut self.image).unwrap()),
            1 => drop(self.history.redo(&mut self.image).unwrap()),
            _ => {
                let before = self.image.bytes()[at..at + len].to_vec();
                let after = before.iter().map(|b| b.wrapping_add((what >> 40) as u8 | 1)).collect();
                let change =
                    Change { label: format!("step {}", self.steps), edits: vec![Edit { at, before, after }] };
                let joining = if what % 8 == 2 { Joining::WithLast } else { Joining::Separate };
                self.history.apply(&mut self.image, change, joining).unwrap();
            }
        }
        self.steps += 1;
    }

    fn is_time_to_save(&self) -> bool {
        self.steps.is_multiple_of(STEPS)
    }
}

/// Not a promise but the process that the next test kills: without the variables it does nothing.
#[test]
fn keeping_a_journal_until_killed() {
    let (Some(folder), Ok(seed)) = (std::env::var_os(FOLDER).map(PathBuf::from), std::env::var(SEED)) else {
        return;
    };
    let (file, mut notes) = (folder.join("unit.bin"), Unsaved::within(folder.join("states")));
    let mut session = Session::new(seed.parse().unwrap());
    // A byte for each step that was kept or saved: what must not be lost.
    let mut sure = std::fs::File::create(folder.join("sure")).unwrap();
    let end = Instant::now() + Duration::from_secs(20);
    let mut saved = 0;
    while Instant::now() < end {
        session.step();
        let (_, done) = session.history.take_done();
        notes.add(&file, "bytes", &saved.to_string(), &done).unwrap();
        if session.is_time_to_save() {
            let over = Over { was: None, keep_original: false, read_only_too: false };
            save_over(&file, session.image.bytes(), over).unwrap();
            session.history.mark_saved();
            session.history.take_done();
            notes.forget(&file, "bytes");
            saved = session.steps;
        }
        sure.write_all(&[1]).unwrap();
    }
}

/// The bytes after each number of steps.
fn states(seed: u64, most: usize) -> Vec<Vec<u8>> {
    let mut session = Session::new(seed);
    let mut states = vec![session.image.bytes().to_vec()];
    for _ in 0..most {
        session.step();
        session.history.take_done();
        if session.is_time_to_save() {
            session.history.mark_saved();
        }
        states.push(session.image.bytes().to_vec());
    }
    states
}

/// Fails unless the file and what is left beside it hold every step that was sure.
fn assert_nothing_lost(folder: &Path, seed: u64, told: &str) -> usize {
    let file = folder.join("unit.bin");
    let sure = std::fs::metadata(folder.join("sure")).unwrap().len() as usize;
    let states = states(seed, sure + 1);
    let now = std::fs::read(&file).unwrap();
    let saves = (0..=sure + 1).step_by(STEPS);
    let saved = saves.clone().filter(|&n| states[n] == now).max();
    let saved = saved.unwrap_or_else(|| panic!("{told}: the file is none of those that were saved"));
    let left = Unsaved::within(folder.join("states")).left(&file, "", "bytes");
    assert!(left.len() <= 1, "{told}: {} journals", left.len());
    let mut image = Image::raw(now);
    let mut held = saved;
    // A journal of an older file was about to be forgotten: its steps were just saved.
    if let Some(left) = left.first().filter(|l| l.about == saved.to_string()) {
        let read = read_steps(&left.work);
        for step in &read.steps {
            edit::apply(&mut image, &step.done.change).unwrap_or_else(|e| panic!("{told}: {e:?}"));
        }
        held += read.steps.len();
    }
    // A step that could do nothing, as an undo of nothing, adds nothing to the journal.
    let reached = (sure..=sure + 1).find(|&n| states[n] == image.bytes());
    assert!(
        reached.is_some(),
        "{told}: {sure} steps were sure, the file holds {saved}, with its journal {held}"
    );
    held - saved
}

#[test]
fn killed_at_any_moment_an_editor_loses_no_step_that_was_kept() {
    // More with READPROOF_KILLS=500; the default is kept short.
    let number = |name: &str| std::env::var(name).ok().and_then(|k| k.parse::<u64>().ok());
    let kills = number("READPROOF_KILLS").unwrap_or(40);
    let seed = number("READPROOF_SEED").unwrap_or_else(|| {
        std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(1, |d| d.as_nanos() as u64)
    });
    println!("READPROOF_SEED={seed}");
    let mut random = Random(seed | 1);
    let mut from_journals = 0;
    for run in 0..kills {
        let place = Place::empty();
        place.file("unit.bin", vec![0; 4096]);
        let steps = random.next();
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "recovery::keeping_a_journal_until_killed", "--test-threads=1"])
            .env(FOLDER, place.root())
            .env(SEED, steps.to_string())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let end = Instant::now() + DEADLINE;
        while std::fs::metadata(place.path("sure")).map_or(0, |m| m.len()) == 0 {
            assert!(Instant::now() < end, "nothing was done");
            std::thread::sleep(Duration::from_millis(1));
        }
        std::thread::sleep(Duration::from_micros(random.next() % 20_000));
        child.kill().unwrap();
        child.wait().unwrap();
        from_journals += assert_nothing_lost(place.root(), steps, &format!("seed {seed}, kill {run}"));
    }
    println!("{kills} kills, {from_journals} steps taken from journals");
}

#[cfg(unix)]
mod in_a_terminal {
    use super::*;
    use crate::session::Session;

    /// The last digit that is typed: one byte, EE, is written.
    const LAST: &[u8] = &[1, 0, 0, 0, 0xEE];

    fn editor(place: &Place) -> Session {
        let session = Session::editor(place.root(), &["unit.bin", "--layout", "none"], &[]);
        session.shows("LOCKED");
        session
    }

    fn wait_for_journal(place: &Place, text: &[u8]) {
        let folder = place.path(".local/state/readproof/unsaved");
        let kept = || {
            let files = std::fs::read_dir(&folder).into_iter().flatten().flatten();
            files
                .filter_map(|f| std::fs::read(f.path()).ok())
                .any(|b| b.windows(text.len()).any(|w| w == text))
        };
        let end = Instant::now() + DEADLINE;
        while !kept() {
            assert!(Instant::now() < end, "nothing was kept");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    #[test]
    fn whatever_ends_the_editor_changes_of_bytes_are_offered_the_next_time() {
        for signal in ["-KILL", "-HUP", "-TERM"] {
            let place = Place::empty();
            place.file("unit.bin", [0x11; 64]);
            let mut session = editor(&place);
            session.type_until(b"\x15", "unlocked");
            session.type_until(b"c0ffee", "*C0*FF*EE");
            wait_for_journal(&place, LAST);
            session.signal(signal);
            session.end();
            assert_eq!(place.bytes("unit.bin"), [0x11; 64], "the file is as it was");

            let mut session = editor(&place);
            session.shows("Changes of unit.bin were not saved");
            session.shows("3 bytes that differ: 0x0000");
            session.shows("11 11 11");
            session.type_until(b"t", "Taken up");
            session.shows("*C0*FF*EE");
            session.type_until(b"\x13", "Save as");
            session.type_until(b"\r", "Saved unit-changed.bin");
            session.keys(b"\x11");
            assert!(session.end().success(), "{signal}");
            assert_eq!(place.bytes("unit-changed.bin")[..4], [0xC0, 0xFF, 0xEE, 0x11]);
            let left = std::fs::read_dir(place.path(".local/state/readproof/unsaved")).unwrap().count();
            assert_eq!(left, 0, "{signal}: nothing is left to be offered");
        }
    }

    #[test]
    fn changes_that_are_not_wanted_are_thrown_away_and_the_file_is_as_it_was() {
        let place = Place::empty();
        place.file("unit.bin", [0x11; 64]);
        let mut session = editor(&place);
        session.type_until(b"\x15", "unlocked");
        session.type_until(b"c0ffee", "*C0*FF*EE");
        wait_for_journal(&place, LAST);
        session.signal("-KILL");
        session.end();
        let mut session = editor(&place);
        session.shows("were not saved");
        session.type_until(b"d", "What was not saved is gone");
        session.keys(b"\x11");
        assert!(session.end().success());
        let session = editor(&place);
        assert!(!session.screen().contains("were not saved"), "{}", session.screen());
        assert_eq!(place.bytes("unit.bin"), [0x11; 64]);
    }

    #[test]
    fn two_editors_on_one_file_are_told_of_each_other() {
        let place = Place::empty();
        place.file("unit.bin", [0x11; 64]);
        let mut first = editor(&place);
        assert!(!first.screen().contains("elsewhere"));
        let mut second = editor(&place);
        second.shows("unit.bin is open elsewhere too: in process");
        first.type_until(b"\x15", "unlocked");
        first.type_until(b"ab", "is open elsewhere too");
        for session in [&mut first, &mut second] {
            session.signal("-KILL");
            session.end();
        }
        // Locks that killed editors left count for nothing.
        let third = editor(&place);
        assert!(!third.screen().contains("elsewhere"), "{}", third.screen());
    }

    #[test]
    fn two_editors_are_told_of_each_other_by_whatever_name_they_opened_the_file() {
        use std::os::unix::fs::symlink;
        let place = Place::empty();
        place.file("a/unit.bin", [0x11; 64]);
        symlink("a/unit.bin", place.path("link.bin")).unwrap();
        symlink("a", place.path("b")).unwrap();
        std::fs::hard_link(place.path("a/unit.bin"), place.path("hard.bin")).unwrap();
        let open = |name: &str| {
            let session = Session::editor(place.root(), &[name, "--layout", "none"], &[]);
            session.shows("LOCKED");
            session
        };
        let mut first = open("a/unit.bin");
        let whole = place.path("a/unit.bin");
        for name in ["link.bin", "b/unit.bin", "./a/../a/unit.bin", whole.to_str().unwrap(), "hard.bin"] {
            let mut second = open(name);
            second.shows("is open elsewhere too: in process");
            assert_eq!(second.screen().matches("in process").count(), 1, "{name}: once\n{}", second.screen());
            second.signal("-KILL");
            second.end();
        }
        first.signal("-KILL");
        first.end();
        for name in ["link.bin", "hard.bin"] {
            let after = open(name);
            assert!(!after.screen().contains("elsewhere"), "{name}: {}", after.screen());
        }
    }

    #[test]
    fn an_image_that_was_renamed_after_its_editor_was_killed_finds_its_changes_again() {
        let place = Place::empty();
        place.file("unit.bin", [0x11; 64]);
        let mut session = editor(&place);
        session.type_until(b"\x15", "unlocked");
        session.type_until(b"c0ffee", "*C0*FF*EE");
        wait_for_journal(&place, LAST);
        session.signal("-KILL");
        session.end();
        std::fs::create_dir(place.path("jobs")).unwrap();
        std::fs::rename(place.path("unit.bin"), place.path("jobs/unit7.bin")).unwrap();
        let mut session = Session::editor(place.root(), &["jobs/unit7.bin", "--layout", "none"], &[]);
        session.shows("Changes of unit7.bin were not saved");
        session.shows("it was moved or renamed");
        session.type_until(b"t", "Taken up");
        session.shows("*C0*FF*EE");
    }

    #[test]
    fn a_log_tells_what_was_done_and_played_again_gives_the_same_screen() {
        let place = Place::empty();
        place.file("unit.bin", b"0123456789secret".repeat(4));
        let words = ["unit.bin", "--layout", "none", "--log", "log.txt"];
        let mut session = Session::editor(place.root(), &words, &[]);
        session.shows("LOCKED");
        session.type_until(b"\x15", "unlocked");
        session.type_until(b"c0ffee", "*C0*FF*EE");
        session.type_until(b"\x07", "Go to");
        session.type_until(b"20\r", "0x0020");
        // Several lines, in a form that needs signs which a script has a meaning for.
        session.type_until(b"\x1b[200~\\x5A\\x5A\n\\x5A\\x5A\x1b[201~", "*5A*5A*5A*5A");
        session.type_until(b"\x1a", "Taken back");
        session.type_until(b"\x19", "Done again");
        session.type_until(b"\x14", "Letters");
        session.type_until(b"\x1b[200~say \"so\"\x1b[201~", "say \"so\"");
        let screen = session.screen();
        session.signal("-KILL");
        session.end();
        let log = String::from_utf8(place.bytes("log.txt")).unwrap();
        assert!(log.contains("image unit.bin: 64 bytes"), "{log}");
        assert!(!log.contains("secret"), "what the image holds is not in it\n{log}");
        // As the log itself says.
        assert!(log.contains("sed -n 's/^key [^ ]* //p'"), "{log}");
        let keys: Vec<&str> =
            log.lines().filter_map(|l| l.strip_prefix("key ")?.split_once(' ')).map(|(_, key)| key).collect();
        assert!(keys[0] == "Size(80,24)", "{keys:?}");
        let run = place.run(["unit.bin", "--layout", "none", "--dump", "--keys", &keys.join("\n")]).expect(0);
        let lines = |text: &str| text.lines().map(|l| l.trim_end().to_owned()).collect::<Vec<_>>();
        assert_eq!(lines(run.out().trim_end()), lines(screen.trim_end()));
        // A file that is there is not written over.
        let mut session = Session::editor(place.root(), &words, &[]);
        session.end();
        assert_eq!(place.bytes("log.txt"), log.into_bytes());
    }
}
