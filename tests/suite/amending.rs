//! Scripted changes: what is written, what is refused, what stays as it was.

use std::path::PathBuf;

use crate::support::{Place, Run};

/// Runs `amend` in a folder with the samples.
fn amend(place: &Place, words: &[&str]) -> Run {
    place.run(std::iter::once("amend").chain(words.iter().copied()))
}

#[test]
fn settings_and_records_are_changed_resealed_and_audited() {
    let place = Place::with_samples();
    let before = place.bytes("samples/unit7-read1.bin");
    amend(
        &place,
        &[
            "samples/unit7-read1.bin",
            "--set",
            "settings.setpoint=4.0",
            "--rest",
            "lockouts",
            "--reseal",
            "-o",
            "out.bin",
        ],
    )
    .expect(0)
    .says("Written to out.bin.")
    .says("done  set settings.setpoint to 4.0 °C");
    let after = place.bytes("out.bin");
    assert_eq!(after[0x100..0x102], [0, 40]);
    assert!(after[0x200..0x400].iter().all(|&b| b == 0xFF));
    assert_eq!(after[0x40..0xC0], before[0x40..0xC0]);
    // CRC-16/XMODEM over the settings, by the reference implementation of the crate.
    let crc = crc::Crc::<u16>::new(&crc::CRC_16_XMODEM).checksum(&after[0x100..0x1FE]);
    assert_eq!(after[0x1FE..0x200], crc.to_be_bytes());
    place.run(["audit", "samples/unit7-read1.bin", "out.bin"]).expect(0);
    assert_eq!(place.bytes("samples/unit7-read1.bin"), before, "the original is never written to");
}

#[test]
fn a_result_that_is_not_safe_is_not_written() {
    let place = Place::with_samples();
    amend(&place, &["samples/unit7-read1.bin", "--set", "settings.setpoint=4.0", "-o", "out.bin"])
        .expect(1)
        .says("not safe to write: the check settings is wrong")
        .says("Nothing was written.");
    let other = ["--from", "samples/unit9.bin", "--reseal", "-o", "out.bin"];
    let copy = |what: &str, more: &[&str]| {
        let mut words = vec!["samples/unit7-read1.bin", "--copy", what];
        words.extend(other);
        words.extend(more);
        amend(&place, &words)
    };
    copy("calibration", &[]).expect(1).says("Calibration changed").says("--allow calibration");
    assert!(!place.path("out.bin").exists());
    copy("calibration", &["--allow", "calibration"]).expect(0);
    assert_eq!(place.bytes("out.bin")[0x80..0xC0], place.bytes("samples/unit9.bin")[0x80..0xC0]);
}

#[test]
fn what_is_set_by_name_is_named() {
    let place = Place::with_samples();
    amend(
        &place,
        &["samples/unit7-part-off.bin", "--set", "part_number=FK-CR8-2047B", "--reseal", "-o", "out.bin"],
    )
    .expect(0)
    .says("part_number");
    assert_eq!(place.bytes("out.bin"), place.bytes("samples/unit7-read1.bin"));
}

#[test]
fn settings_move_to_another_board_and_its_identity_stays() {
    let place = Place::with_samples();
    let words = [
        "samples/unit9.bin",
        "--copy",
        "all-settings",
        "--from",
        "samples/unit7-read1.bin",
        "--reseal",
        "-o",
        "moved.bin",
    ];
    amend(&place, &words).expect(0).says("copy every Setting");
    let (moved, seven, nine) =
        (place.bytes("moved.bin"), place.bytes("samples/unit7-read1.bin"), place.bytes("samples/unit9.bin"));
    assert_eq!(moved[0x100..0x180], seven[0x100..0x180]);
    assert_eq!(moved[0x40..0xC0], nine[0x40..0xC0]);
    assert_eq!(moved[0x200..0x1FFE], nine[0x200..0x1FFE]);
}

#[test]
fn a_dry_run_writes_nothing_and_tells_all() {
    let place = Place::with_samples();
    amend(&place, &["samples/unit7-read1.bin", "--rest", "all-records", "--reseal", "--dry-run"])
        .expect(0)
        .says("A dry run: nothing was written.")
        .says("done  return counters to rest");
    assert_eq!(std::fs::read_dir(place.root()).unwrap().count(), 2, "samples and layouts");
}

#[test]
fn nothing_is_ever_written_over() {
    let place = Place::with_samples();
    let out = place.file("out.bin", b"mine");
    let words = ["samples/unit7-read1.bin", "--set", "settings.fans=1", "--reseal", "-o"];
    for name in ["out.bin", "samples/unit7-read1.bin"] {
        amend(&place, &[&words[..], &[name]].concat()).expect(2).complains(name);
    }
    assert_eq!(std::fs::read(out).unwrap(), b"mine");
    amend(&place, &[&words[..], &["no/such/folder/out.bin"]].concat()).expect(2);
    amend(&place, &[&words[..], &["-", "--save-changes", "-"]].concat())
        .expect(2)
        .complains("only written to one");
    amend(&place, &[&words[..], &["new.bin", "--save-changes", "out.bin"]].concat()).expect(2);
    assert!(!place.path("new.bin").exists(), "nothing is written when one of the files cannot be");
}

#[test]
fn the_format_of_the_input_or_of_the_ending_is_written() {
    let place = Place::with_samples();
    let words = ["--set", "settings.setpoint=3.0", "--reseal", "-o"];
    amend(&place, &[&["samples/unit7.hex"][..], &words, &["out"]].concat()).expect(0).says("Intel HEX");
    assert!(place.bytes("out").starts_with(b":"));
    amend(&place, &[&["samples/unit7.hex"][..], &words, &["out.s19"]].concat()).expect(0);
    assert!(place.bytes("out.s19").starts_with(b"S"));
    place.run(["compare", "out", "out.s19"]).expect(0);
}

#[test]
fn bytes_are_written_by_address() {
    let place = Place::with_samples();
    amend(&place, &["samples/unit7-read1.bin", "--bytes", "0x0101=28", "--reseal", "-o", "out.bin"])
        .expect(0);
    assert_eq!(place.bytes("out.bin")[0x101], 0x28);
    for (bytes, complaint) in [
        ("0x0101", "writes nothing"),
        ("0x101=2", "hexadecimal"),
        ("0x9000=00", "not in the image"),
        ("z=00", "no address"),
    ] {
        amend(&place, &["samples/unit7-read1.bin", "--bytes", bytes, "-o", "x.bin"])
            .expect(2)
            .complains(complaint);
    }
    // Named as bytes, so nobody refuses it; but what it does cannot be told without a layout.
    amend(&place, &["samples/unit7-read1.bin", "--layout", "none", "--bytes", "0x0101=28", "-o", "y.bin"])
        .expect(1)
        .says("cannot tell");
    assert!(place.path("y.bin").exists());
}

#[test]
fn a_change_list_is_kept_and_applied_to_a_sister_unit_or_refused_with_the_place() {
    let place = Place::with_samples();
    let set = ["samples/unit7-read1.bin", "--set", "settings.alarm_delay=45", "--reseal", "-o", "seven.bin"];
    amend(&place, &[&set[..], &["--save-changes", "delay.ron"]].concat()).expect(0).says("kept in delay.ron");
    amend(&place, &["samples/unit9.bin", "--apply", "delay.ron", "-o", "nine.bin"]).expect(0);
    let json = place.run(["show", "nine.bin", "--field", "settings.alarm_delay", "--json"]).expect(0).json();
    assert_eq!(json["fields"][0]["value"], 45);
    place.run(["audit", "samples/unit9.bin", "nine.bin"]).expect(0);
    amend(&place, &["nine.bin", "--apply", "delay.ron", "-o", "twice.bin"])
        .expect(2)
        .complains("0x0109 holds 2D, and 1E was expected there")
        .complains("in the image already");
    amend(&place, &["samples/unit7-broken-check.bin", "--apply", "delay.ron", "-o", "x.bin"])
        .expect(2)
        .complains("the check settings is not sealed");
    amend(&place, &["samples/unit7-wrong-size.bin", "--apply", "delay.ron", "-o", "x.bin"])
        .expect(2)
        .complains("8192 bytes");
    place.file("broken.ron", "(change_list: 1, bytes: ");
    amend(&place, &["samples/unit9.bin", "--apply", "broken.ron", "-o", "x.bin"])
        .expect(2)
        .complains("broken.ron:1:");
    assert!(!place.path("x.bin").exists() && !place.path("twice.bin").exists());
}

#[test]
fn instructions_that_make_no_sense_are_told_and_nothing_is_written() {
    let place = Place::with_samples();
    let image = "samples/unit7-read1.bin";
    let cases: [(&[&str], &str); 6] = [
        (&["-o", "x.bin"], "there is nothing to do"),
        (&["--set", "setpoint", "-o", "x.bin"], "sets nothing"),
        (&["--set", "settings.setpoint=warm", "-o", "x.bin"], "settings.setpoint"),
        (&["--set", "serail=1", "-o", "x.bin"], "serial"),
        (&["--rest", "part_number", "-o", "x.bin"], "rest"),
        (&["--set", "settings.setpoint=99", "-o", "x.bin"], "settings.setpoint"),
    ];
    for (words, complaint) in cases {
        amend(&place, &[&[image], words].concat()).expect(2).complains(complaint);
    }
    let left: Vec<PathBuf> = crate::support::files_below(place.root());
    assert!(left.iter().all(|p| !p.ends_with("x.bin")));
}

/// A command that fails must not leave an image behind of which it never spoke.
#[test]
fn an_image_is_only_written_once_the_list_of_its_changes_is() {
    let place = Place::with_samples();
    let set =
        ["samples/unit7-read1.bin", "--set", "setpoint=4.0", "--reseal", "-o", "out.bin", "--save-changes"];
    for (list, says) in [("absent/list.ron", "no such folder"), ("./out.bin", "cannot be one file")] {
        amend(&place, &[&set[..], &[list]].concat()).expect(2).complains(says);
        assert!(!place.path("out.bin").exists(), "{list}");
    }
    place.file("out.bin", "something else");
    amend(&place, &[&set[..], &["list.ron"]].concat()).expect(2).complains("nothing is written over");
    assert!(!place.path("list.ron").exists());
}

/// The seal of a read that was wrong is no proof that it was put right.
#[test]
fn a_poor_read_that_is_resealed_is_not_safe_to_write() {
    let place = Place::with_samples();
    let told = amend(&place, &["samples/unit7-read3-poor.bin", "--reseal", "-o", "out.bin"]).expect(1);
    assert!(
        told.out().starts_with("cannot tell: the checks identity, settings and whole were wrong"),
        "{told}"
    );
    let allow = ["--allow", "0x7C..0x80", "--allow", "0x1FE..0x200", "--allow", "0x1FFE..0x2000"];
    let words = [&["samples/unit7-broken-check.bin", "--reseal", "--dry-run"][..], &allow].concat();
    amend(&place, &words).expect(0).says("resealed-over-broken");
}

/// What a named layout says of the size counts, its marks or not.
#[test]
fn an_image_of_a_size_that_the_named_layout_does_not_allow_is_not_written() {
    let place = Place::with_samples();
    place.file("header.bin", [&b"A HEADER OF 16.."[..], &place.bytes("samples/unit7-read1.bin")].concat());
    let words =
        ["header.bin", "--layout", "frostkeel-cr8", "--set", "setpoint=4.0", "--reseal", "-o", "out.bin"];
    let told = amend(&place, &words).expect(1);
    assert!(told.out().starts_with("not safe to write: the image has 8208 bytes"), "{told}");
    assert!(!place.path("out.bin").exists());
    place.run(["vet", "header.bin", "--layout", "frostkeel-cr8"]).expect(1).says("displaced");
}

#[test]
fn what_an_image_with_gaps_can_be_written_as_is_said_in_words_of_this_command() {
    let place = Place::with_samples();
    let hex = String::from_utf8(place.bytes("samples/unit7.hex")).unwrap();
    let lines: Vec<&str> = hex.lines().collect();
    place.file("gap.hex", [&lines[..100], &lines[102..]].concat().join("\n"));
    let set = ["gap.hex", "--layout", "none", "--bytes", "0x101=28", "-o"];
    amend(&place, &[&set[..], &["out.bin"]].concat()).expect(2).complains("the ending .hex or .s19");
    amend(&place, &[&set[..], &["out.hex"]].concat()).expect(1).says("Written to out.hex.");
}
