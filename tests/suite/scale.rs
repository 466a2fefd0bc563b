//! Images far larger than the common case stay usable: the editor on a raw file of 4 GiB.

#![cfg(unix)]

use std::fs::{self, File};
use std::io::{Seek, SeekFrom, Write};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

use readproof::image::Format;
use readproof::store;
use readproof::tui::app::App;
use readproof::tui::player::Player;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;

use crate::session::Session;
use crate::support::{Place, is_alone};

const VAST: u64 = 4 << 30;
const PART: &[u8] = b"FK-CR8-2047B";

/// A sparse file that takes no room; `None`, said in a line, where the disk does not make one.
fn vast(place: &Place, name: &str, bytes: u64, part_at: u64) -> Option<PathBuf> {
    let path = place.path(name);
    let mut file = File::create(&path).unwrap();
    let made = file.set_len(bytes).and_then(|()| {
        file.seek(SeekFrom::Start(part_at))?;
        file.write_all(PART)
    });
    if let Err(error) = made {
        println!(
            "no sparse file of {bytes} bytes could be made here ({error}); images of any size are not tested"
        );
        return None;
    }
    Some(path)
}

/// Memory of a process that no file stands behind, in bytes.
#[cfg(target_os = "linux")]
fn own_memory(pid: u32) -> u64 {
    let status = fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status.lines().find_map(|l| l.strip_prefix("RssAnon:")).unwrap();
    line.trim().trim_end_matches(" kB").parse::<u64>().unwrap() << 10
}

fn player(path: &Path) -> Player {
    let opened = store::open(path, &mut std::io::empty()).unwrap();
    let mut sheet = Sheet::new(opened.path, opened.image, Format::Raw);
    sheet.file.known_as(opened.identity);
    sheet.locked = false;
    Player::new(App::new(sheet, vec![], (80, 24), Look::default()))
}

#[test]
fn four_gibibytes_are_shown_edited_searched_and_left_with_memory_that_does_not_grow() {
    let place = Place::empty();
    let Some(path) = vast(&place, "vast.bin", VAST, VAST - 5000) else { return };
    let mut session = Session::editor(place.root(), &["vast.bin"], &[]).patient();
    session.shows("byte 1 of 4294967296");
    // Every key is answered while the skyline is still looked over.
    session.type_until(b"\x1b[1;5F", "byte 4294967296 of 4294967296");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"5A", "*5A");
    session.type_until(b"\x07FFFFEC78\r", "FK-CR8-2");
    session.type_until(b"\x1a", "Taken back");
    session.type_until(b"7", "modified");
    session.type_until(b"\x1b[1;5H", "byte 1 of 4294967296");
    session.type_until(b"\x06\x15FK-CR8-2047B\r", "searching");
    session.type_until(b"\x1b[B", "byte 17 of");
    session.type_until(b"\x1b", "Stopped");
    session.type_until(b"\x06\x150x38 2D 32 30 34 37\r", "found 1 time");
    session.shows("0xFFFFEC7D");
    session.type_until(b"\x17", "What would be written");
    session.shows("0xFFFFFFFF, 1 byte: 00");
    #[cfg(target_os = "linux")]
    {
        let own = own_memory(session.pid());
        assert!(own < 64 << 20, "{own} bytes of its own");
    }
    session.type_until(b"\r\x11", "not saved");
    session.keys(b"d");
    assert!(session.end().success());
    let mut stored = [0; PART.len()];
    File::open(&path).unwrap().read_exact_at(&mut stored, VAST - 5000).unwrap();
    assert_eq!(stored, PART, "the file on disk is untouched");
}

#[test]
fn two_vast_images_stand_side_by_side_and_their_differences_are_gone_to() {
    let place = Place::empty();
    let bytes = 1 << 30;
    if vast(&place, "a.bin", bytes, 300).is_none() || vast(&place, "b.bin", bytes, bytes - 0x100).is_none() {
        return;
    }
    let mut session = Session::editor(place.root(), &["a.bin", "b.bin"], &[]).patient();
    session.shows("1 of 2");
    session.type_until(b"t", "24 bytes differ");
    session.type_until(b"\x0e", "Difference 1 of 2");
    session.type_until(b"\x0e", "3FFFFF00");
    // Only what differs: two rows of one image, two of the other, four bytes each at 80 columns.
    session.type_until(b"n", "0000012C");
    session.type_until(b"l", "not lined up");
}

#[test]
fn a_save_of_a_large_image_that_is_stopped_leaves_the_old_file_whole_and_the_edits_there() {
    let place = Place::empty();
    let bytes = 1 << 30;
    let Some(path) = vast(&place, "large.bin", bytes, 300) else { return };
    let mut session = Session::editor(place.root(), &["large.bin"], &[]).patient();
    session.shows("byte 1 of 1073741824");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"5A", "modified");
    session.type_until(b"\x13\r", "saving");
    session.type_until(b"6", "being saved");
    session.type_until(b"\x11", "being saved");
    session.type_until(b"\x1b", "saving was stopped");
    let names: Vec<String> =
        fs::read_dir(place.root()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    assert!(!names.iter().any(|n| n.ends_with(".tmp")), "a part of a file is left: {names:?}");
    assert!(!place.path("large-changed.bin").exists());
    assert_eq!(fs::metadata(&path).unwrap().len(), bytes);
    session.type_until(b"\r\x1a", "Taken back");
}

#[test]
fn a_large_image_is_saved_as_a_new_file_and_over_one() {
    if !is_alone("scale::a_large_image_is_saved_as_a_new_file_and_over_one") {
        return;
    }
    let place = Place::empty();
    let Some(path) = vast(&place, "large.bin", 5 << 20, 300) else { return };
    let mut player = player(&path);
    let out = place.path("out.bin");
    player.play("Ctrl-End \"77\"").unwrap();
    player.play(&format!("Ctrl-S Ctrl-U \"{}\" Enter", out.display())).unwrap();
    assert!(player.screen().contains("Saved"), "{}", player.screen());
    let mut wanted = fs::read(&path).unwrap();
    assert!(!player.app.it().is_modified() && wanted[(5 << 20) - 1] == 0);
    wanted[(5 << 20) - 1] = 0x77;
    assert_eq!(fs::read(&out).unwrap(), wanted);
    // What this session wrote is written again without asking.
    player.play("Ctrl-Home \"88\" Ctrl-S Enter").unwrap();
    wanted[0] = 0x88;
    assert_eq!(fs::read(&out).unwrap(), wanted);
    player.play("Ctrl-Z Ctrl-Z").unwrap();
    assert_eq!(player.app.it().image().bytes(), fs::read(&path).unwrap());
}

#[test]
fn a_large_file_that_somebody_wrote_to_is_taken_with_our_changes_and_saved() {
    if !is_alone("scale::a_large_file_that_somebody_wrote_to_is_taken_with_our_changes_and_saved") {
        return;
    }
    // Written to in place, and replaced by another file of the same name.
    for is_replaced in [false, true] {
        let place = Place::empty();
        let Some(path) = vast(&place, "large.bin", 16 << 20, 300) else { return };
        let mut player = player(&path);
        player.play("Ctrl-Home \"77\"").unwrap();
        let mut theirs = fs::read(&path).unwrap();
        theirs[9 << 20] = 0x66;
        if is_replaced {
            fs::write(place.path("new.bin"), &theirs).unwrap();
            fs::rename(place.path("new.bin"), &path).unwrap();
        } else {
            File::options().write(true).open(&path).unwrap().write_all_at(&[0x66], 9 << 20).unwrap();
        }
        player.app.it_mut().file.changed_on_disk = Some("was written to since it was opened".into());
        player.play("Ctrl-K \"take-file\" Enter").unwrap();
        let screen = player.screen();
        assert!(screen.contains("Taken:") && screen.contains("with your changes on it"), "{screen}");
        let mut both = theirs.clone();
        both[0] = 0x77;
        assert_eq!(player.app.it().image().bytes(), both);
        let lost = store::still_there().err().and_then(|error| error.place).unwrap_or_default();
        assert!(!lost.contains(path.to_str().unwrap()), "the file that was taken is told as lost");
        let out = place.path("out.bin");
        player.play(&format!("Ctrl-S Ctrl-U \"{}\" Enter", out.display())).unwrap();
        assert!(player.screen().contains("Saved"), "{}", player.screen());
        assert_eq!(fs::read(&out).unwrap(), both);
        assert_eq!(fs::read(&path).unwrap(), theirs);
    }
}

#[test]
fn a_text_is_found_in_four_gibibytes_however_it_is_stored() {
    let place = Place::empty();
    let Some(path) = vast(&place, "vast.bin", VAST, VAST - 5000) else { return };
    let file = File::options().write(true).open(&path).unwrap();
    let wide: Vec<u8> = PART.iter().flat_map(|&b| [b, 0]).collect();
    file.write_all_at(&wide, 3_000_000_000).unwrap();
    file.write_all_at(b"FK-CR8-2O47B", 1 << 31).unwrap();
    let run = place.run(["find", "vast.bin", "FK-CR8-2047B", "--json"]).expect(0);
    let hits: Vec<(u64, bool)> = run.json()["hits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|h| (h["at"].as_u64().unwrap(), h["exact"].as_bool().unwrap()))
        .collect();
    let wanted = [(VAST - 5000, true), (3_000_000_000, true), (1 << 31, false)];
    assert_eq!(hits, wanted);
}

#[test]
fn what_cannot_be_done_with_so_large_an_image_says_so_at_once() {
    let place = Place::empty();
    if vast(&place, "vast.bin", VAST, 300).is_none() {
        return;
    }
    place.run(["hunt", "vast.bin"]).expect(2).complains("16777216");
    place.run(["convert", "vast.bin", "out.hex"]).expect(2).complains("up to 67108864");
    assert!(!place.path("out.hex").exists());
}

/// In a process of its own: what is lost is told to whoever asks next in the same process.
#[test]
fn a_file_that_is_cut_under_the_editor_is_told_and_never_saved() {
    let place = Place::empty();
    let Some(path) = vast(&place, "cut.bin", 64 << 20, 300) else { return };
    let mut session = Session::editor(place.root(), &["cut.bin"], &[]).patient();
    session.shows("byte 1 of 67108864");
    session.type_until(b"\x15", "unlocked");
    session.type_until(b"77", "modified");
    File::options().write(true).open(&path).unwrap().set_len(1 << 20).unwrap();
    session.type_until(b"\x1b[1;5F", "byte 67108864 of 67108864");
    session.type_until(b"\x13\x15out.bin\r", "could not be read to its end");
    assert!(!place.path("out.bin").exists());
}
