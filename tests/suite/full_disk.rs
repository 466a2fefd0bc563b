//! A disk that is really full, or can only be read: everything that is written says so, what was there stays whole,
//! what was typed is still there, and nothing is left lying about.
//!
//! The disks are small ones in memory, which only the superuser can mount; elsewhere each test says in one line that it
//! was skipped. A quota that is used up is simulated by the fault loop in `store`.

#![cfg(target_os = "linux")]

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::session::Session;
use crate::support::Place;

/// A small disk, mounted as `disk` in a place of its own.
struct Disk {
    place: Place,
}

impl Disk {
    /// `None`, said in one line, where nothing can be mounted.
    fn mount() -> Option<Disk> {
        let place = Place::with_samples();
        fs::create_dir(place.path("disk")).unwrap();
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", "size=128k", "readproof-test"]).arg(place.path("disk"));
        match mount.output() {
            Ok(output) if output.status.success() => Some(Disk { place }),
            _ => {
                println!("skipped: only the superuser can mount the small disk that this test fills");
                None
            }
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.place.path("disk").join(name)
    }

    /// Fills the disk to its last byte.
    fn fill(&self) {
        let mut file = File::create(self.path("filler")).unwrap();
        while file.write_all(&[0x55; 512]).is_ok() {}
    }

    fn only_read(&self) {
        let done = Command::new("mount").args(["-o", "remount,ro"]).arg(self.place.path("disk")).status();
        assert!(done.unwrap().success());
    }

    /// The names on the disk, without the filler.
    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.place.path("disk")).unwrap().flatten();
        let mut names: Vec<String> = entries.map(|e| e.file_name().into_string().unwrap()).collect();
        names.retain(|name| name != "filler");
        names.sort();
        names
    }

    #[track_caller]
    fn refuses(&self, words: &[&str], why: &str) {
        let before: Vec<(String, Vec<u8>)> = self
            .names()
            .into_iter()
            .map(|name| (name.clone(), fs::read(self.path(&name)).unwrap()))
            .collect();
        self.place.run(words.iter().copied()).expect(2).complains(why);
        let after: Vec<(String, Vec<u8>)> = self
            .names()
            .into_iter()
            .map(|name| (name.clone(), fs::read(self.path(&name)).unwrap()))
            .collect();
        assert!(after == before, "{words:?}: something else is on the disk: {:?}", self.names());
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.place.path("disk")).status();
    }
}

const READ: &str = "samples/unit7-read1.bin";

/// `over` is why a file that is there is not replaced.
fn write_everything(disk: &Disk, why: &str, over: &str) {
    for words in [
        &["convert", READ, "disk/out.hex"][..],
        &["amend", READ, "-o", "disk/out.bin", "--rest", "lockouts", "--reseal"],
        &[
            "amend",
            READ,
            "-o",
            "kept.bin",
            "--reseal",
            "--save-changes",
            "disk/changes.ron",
            "--set",
            "setpoint=3.5",
        ],
        &["survey", READ, "--draft", "disk/draft.ron"],
        &["docket", "new", "disk/new.ron"],
    ] {
        disk.refuses(words, why);
    }
    disk.refuses(&["vet", READ, "--docket", "disk/job.ron"], over);
}

#[test]
fn every_command_that_writes_tells_that_the_disk_is_full_and_leaves_what_was_there() {
    let Some(disk) = Disk::mount() else { return };
    disk.place.run(["docket", "new", "disk/job.ron", "--job", "Cold store 3"]).expect(0);
    disk.fill();
    write_everything(&disk, "the disk is full", "the disk is full");
}

#[test]
fn every_command_that_writes_tells_that_the_disk_can_only_be_read() {
    let Some(disk) = Disk::mount() else { return };
    disk.place.run(["docket", "new", "disk/job.ron", "--job", "Cold store 3"]).expect(0);
    disk.only_read();
    write_everything(&disk, "the disk can only be read", "write-protected");
}

/// The editor on an image of the disk, with a change in it.
fn editor(disk: &Disk, words: &[&str], environment: &[(&str, &str)]) -> Session {
    fs::write(disk.path("unit.bin"), vec![0x11; 8192]).unwrap();
    let words = [&["disk/unit.bin"], words].concat();
    let session = Session::editor(disk.place.root(), &words, environment);
    session.shows("LOCKED");
    session
}

fn save_over_it(session: &mut Session) {
    session.type_until(b"\x13", "Save as");
    session.type_until(b"\x15disk/unit.bin\r", "Type its name");
    session.keys(b"unit.bin\r");
}

#[track_caller]
fn is_as_it_was(session: &mut Session, disk: &Disk) {
    session.keys(b"\x1b");
    session.wait("the changes are still there", |o| {
        let screen = o.screen();
        !screen.contains("Not saved") && screen.contains("*C0*FF*EE") && screen.contains("modified")
    });
    assert_eq!(fs::read(disk.path("unit.bin")).unwrap(), vec![0x11; 8192], "the old file is whole");
    assert_eq!(disk.names(), ["unit.bin"]);
}

#[test]
fn a_save_on_a_full_disk_leaves_the_old_file_and_the_changes_and_can_be_made_elsewhere() {
    let Some(disk) = Disk::mount() else { return };
    let mut session = editor(&disk, &["--layout", "none"], &[]);
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"c0ffee", "*C0*FF*EE");
    disk.fill();
    save_over_it(&mut session);
    session.shows("the disk is full");
    is_as_it_was(&mut session, &disk);
    session.type_until(b"\x13\x15disk/new.bin\r", "the disk is full");
    is_as_it_was(&mut session, &disk);
    session.type_until(b"\x13\x15elsewhere.bin\r", "Saved elsewhere.bin");
    assert_eq!(disk.place.bytes("elsewhere.bin")[..4], [0xC0, 0xFF, 0xEE, 0x11]);
}

#[test]
fn a_save_on_a_disk_that_became_read_only_leaves_the_old_file_and_the_changes() {
    let Some(disk) = Disk::mount() else { return };
    let mut session = editor(&disk, &["--layout", "none"], &[]);
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"c0ffee", "*C0*FF*EE");
    disk.only_read();
    session.type_until(b"\x13\x15disk/new.bin\r", "the disk can only be read");
    is_as_it_was(&mut session, &disk);
    save_over_it(&mut session);
    session.shows("write-protected");
    is_as_it_was(&mut session, &disk);
}

#[test]
fn a_layout_on_a_full_disk_is_not_saved_and_stays_in_the_editor() {
    let Some(disk) = Disk::mount() else { return };
    let mut session = editor(&disk, &["--layout", "none"], &[]);
    session.type_until(b"\x07", "Go to");
    session.type_until(b"0+5\ri", "Describe");
    session.type_until(b"mark\r", "Named mark");
    disk.fill();
    session.type_until(b"\x0bsave-layout\r", "Save the layout as");
    session.type_until(b"\x15disk/unit.ron\r", "the disk is full");
    session.keys(b"\x1b");
    session.wait("the layout is still there", |o| {
        let screen = o.screen();
        screen.contains("layout modified") && !screen.contains("The layout is not saved")
    });
    assert_eq!(disk.names(), ["unit.bin"]);
    session.type_until(b"\x0bsave-layout\r", "Save the layout as");
    session.type_until(b"\x15unit.ron\r", "Saved the layout");
}

/// What cannot be kept aside is told once, and so is a log that ends; the work goes on.
#[test]
fn a_journal_and_a_log_on_a_full_disk_are_told_and_the_work_goes_on() {
    let Some(disk) = Disk::mount() else { return };
    disk.fill();
    let state = disk.path("state");
    let states = [("XDG_STATE_HOME", state.to_str().unwrap())];
    let words = ["samples/unit7-read1.bin", "--layout", "none"];
    let mut session = Session::editor(disk.place.root(), &words, &states);
    session.shows("LOCKED");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"c0ffee", "Should the program be killed, this work is lost");
    session.type_until(b"\x13\x15saved.bin\r", "Saved saved.bin");
    assert_eq!(disk.place.bytes("saved.bin")[..3], [0xC0, 0xFF, 0xEE]);

    let words = [&words[..], &["--log", "disk/log.txt"]].concat();
    let mut session = Session::editor(disk.place.root(), &words, &[]);
    session.shows("The log ends here");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"c0ffee", "*C0*FF*EE");
}

#[test]
fn a_file_that_became_a_folder_is_told_and_the_changes_stay() {
    let place = Place::empty();
    let image = place.file("unit.bin", vec![0x11; 64]);
    let mut session = Session::editor(place.root(), &["unit.bin", "--layout", "none"], &[]);
    session.shows("LOCKED");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"c0ffee", "*C0*FF*EE");
    fs::remove_file(&image).unwrap();
    fs::create_dir(&image).unwrap();
    session.type_until(b"\x13", "Save as");
    session.type_until(b"\x15unit.bin\r", "Type its name");
    session.type_until(b"unit.bin\r", "unit.bin is a folder now");
    session.type_until(b"e", "Save as");
    session.type_until(b"\r", "Saved unit-mine.bin");
    assert_eq!(place.bytes("unit-mine.bin")[..4], [0xC0, 0xFF, 0xEE, 0x11]);
    assert!(Path::is_dir(&image));
}
