//! Nothing in an image, a layout or the name of a file can act on the terminal.

use std::fs;

use crate::support::{Place, package};

/// What erases a screen, rings, renames a window, turns the writing direction.
const HOSTILE: &str = "\u{1b}[2J\u{7}\u{1b}]0;x\u{7}\u{9b}2K";

/// Everything that must never be printed as it is; lines end with a newline, nothing else.
fn acts(c: char) -> bool {
    (c.is_control() && c != '\n') || ('\u{202A}'..='\u{202E}').contains(&c) || c == '\u{feff}'
}

#[test]
fn what_an_image_or_a_file_name_holds_is_shown_and_never_obeyed() {
    let place = Place::with_samples();
    let mut bytes = fs::read(package().join("samples/unit7-read1.bin")).unwrap();
    for at in [0x0040, 0x0140] {
        bytes[at..at + HOSTILE.len()].copy_from_slice(HOSTILE.as_bytes());
    }
    place.file("hostile.bin", &bytes);
    let name = "na\u{1b}[2Jme\u{202e}.bin";
    place.file(name, &bytes);
    place.file("hostile.ron", format!("(layout: \"a{HOSTILE}\", fields: [\u{1b}[2J], {HOSTILE}: 1)"));
    place.file("hostile.hex", format!(":0000{HOSTILE}"));
    let uses: &[&[&str]] = &[
        &["vet", "hostile.bin", "samples/unit7-read1.bin", "--expect", "part_number=FK-CR8-2047B"],
        &["vet", name],
        &["show", "hostile.bin"],
        &["show", name],
        &["show", "hostile.bin", "--layout", "hostile.ron"],
        &["show", "hostile.hex"],
        &["show", "hostile.bin", "--field", HOSTILE],
        &["find", name, "FK-CR8-2047B"],
        &["find", "hostile.bin", HOSTILE],
        &["compare", "hostile.bin", "samples/unit7-read1.bin"],
        &["audit", "samples/unit7-read1.bin", name],
        &["amend", name, "-o", "out.bin", "--set", "part_number=\u{1b}[2J"],
        &["survey", name],
        &["hunt", name],
        &["convert", name, "out.hex"],
        &["chips", HOSTILE],
        &["checks", HOSTILE],
        &["layouts", "hostile.ron"],
        &["layouts", "--print", HOSTILE],
        &["docket", HOSTILE],
        &[HOSTILE],
        &["show", "absent\u{1b}[2J\u{202e}"],
    ];
    for words in uses {
        let run = place.run(*words);
        for (stream, printed) in [("standard output", run.out()), ("standard error", run.err())] {
            let bad = printed.chars().find(|&c| acts(c));
            assert!(bad.is_none(), "{bad:?} on {stream}\n{}", printed.escape_debug());
        }
    }
}
