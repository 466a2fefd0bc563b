//! The `hunt` command finds checks, says how likely chance is, and puts them into a layout.

use crate::support::Place;

/// Bytes that look like anything, the same for the same seed.
fn noise(seed: u32, len: usize) -> Vec<u8> {
    let mut state = seed.wrapping_mul(2_654_435_761) | 1;
    (0..len)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            (state >> 16) as u8
        })
        .collect()
}

/// CRC with the polynomial 0x1021 from 0, by a plain loop.
fn crc_1021(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |crc, &byte| {
        (0..8).fold(
            crc ^ u16::from(byte) << 8,
            |crc, _| {
                if crc & 0x8000 == 0 { crc << 1 } else { crc << 1 ^ 0x1021 }
            },
        )
    })
}

/// Three images of one kind, sealed over 0x08..0x5E.
fn three(place: &Place) -> [&'static str; 3] {
    let names = ["a.bin", "b.bin", "c.bin"];
    for (seed, name) in (1..).zip(names) {
        let mut bytes = noise(seed, 0x80);
        let crc = crc_1021(&bytes[0x08..0x5E]);
        bytes[0x5E..0x60].copy_from_slice(&crc.to_le_bytes());
        place.file(name, bytes);
    }
    names
}

#[test]
fn a_check_is_found_with_its_range_its_place_and_how_likely_chance_is() {
    let place = Place::empty();
    let words = ["hunt"].into_iter().chain(three(&place));
    let told = place.run(words.clone()).expect(0);
    let told = told.says("1 check found in 3 different images").says("CRC-16/XMODEM");
    told.says("0x0008..0x005E").says("0x005E, little-endian").says("chance alone would give");
    let json = place.run(words.chain(["--json"])).expect(0).json();
    let hit = &json["hits"][0];
    assert_eq!(hit["by"], "CRC-16/XMODEM");
    assert_eq!(hit["over"], serde_json::json!([[0x08, 0x5E]]));
    assert_eq!(
        (&hit["stored_at"], &hit["order"], &hit["images"]),
        (&0x5E.into(), &"little".into(), &3.into())
    );
    assert!(hit["expected_by_chance"].as_f64().unwrap() < 1e-6, "{hit}");
    assert_eq!(json["hits"].as_array().unwrap().len(), 1, "{json}");
}

#[test]
fn noise_holds_no_check_and_the_exit_status_says_so() {
    let place = Place::empty();
    for (seed, name) in [(11, "a.bin"), (12, "b.bin"), (13, "c.bin")] {
        place.file(name, noise(seed, 0x80));
    }
    let json = place.run(["hunt", "a.bin", "b.bin", "c.bin", "--chance", "0.01", "--json"]).expect(1).json();
    assert_eq!(json["hits"], serde_json::json!([]));
    place.run(["hunt", "a.bin", "b.bin", "c.bin", "--chance", "0.01"]).expect(1).says("No check was found");
}

#[test]
fn a_found_check_goes_into_a_layout_whose_comments_stay_and_is_sealed_there() {
    let place = Place::empty();
    let names = three(&place);
    let layout = "// Written by hand.\n(\n    layout: \"Test board\", // what it is\n    format: 1,\n    \
                  source: \"invented\",\n    order: Big,\n    \
                  fields: [(name: \"first\", at: 0, kind: Int(bits: 16), role: Identity)], // more to come\n)\n";
    place.file("board.ron", layout);
    let words: Vec<&str> = ["hunt"].into_iter().chain(names).chain(["--into", "board.ron"]).collect();
    place.run(words.clone()).expect(0).says("Added to board.ron: check_005e.");
    let text = String::from_utf8(place.bytes("board.ron")).unwrap();
    assert!(text.starts_with("// Written by hand.\n") && text.contains("// more to come\n"), "{text}");
    let shown = place.run(["show", "b.bin", "--layout", "board.ron", "--json"]).json();
    assert_eq!(shown["checks"][0]["sealed"], true, "{text}");
    // A second time there is nothing to add.
    place.run(words).expect(0);
    assert_eq!(String::from_utf8(place.bytes("board.ron")).unwrap(), text);
}

#[test]
fn a_layout_that_is_not_there_is_told_before_the_search() {
    let place = Place::empty();
    let [a, b, _] = three(&place);
    let run = place.run(["hunt", a, b, "--into", "nowhere.ron"]).expect(2);
    assert!(run.err().contains("nowhere.ron"), "{}", run.err());
}

/// One image, sealed over 0x20..0x6E by a CRC of 16 bits, which one image shows between natural places only.
fn one(place: &Place) -> &'static str {
    let mut bytes = noise(5, 0x100);
    let crc = crc_1021(&bytes[0x22..0x6E]);
    bytes[0x6E..0x70].copy_from_slice(&crc.to_be_bytes());
    place.file("one.bin", bytes);
    "one.bin"
}

#[test]
fn a_page_size_makes_the_ends_of_pages_natural() {
    let place = Place::empty();
    let mut bytes = noise(6, 0x120);
    let crc = crc_1021(&bytes[0x30..0x5E]);
    bytes[0x5E..0x60].copy_from_slice(&crc.to_be_bytes());
    place.file("one.bin", bytes);
    let over = |words: &[&str]| {
        let json = place.run(words.iter().copied().chain(["--json"])).json();
        let hits = json["hits"].as_array().unwrap().clone();
        hits.iter().find(|hit| hit["by"] == "CRC-16/XMODEM").map(|hit| hit["over"].clone())
    };
    assert_eq!(over(&["hunt", "one.bin", "--page", "48"]), Some(serde_json::json!([[0x30, 0x5E]])));
    assert_eq!(over(&["hunt", "one.bin", "--chance", "0.01"]), None);
    place.run(["hunt", "one.bin", "--page", "7"]).expect(2);
    // Pages begin at round addresses, wherever the file does.
    let mut bytes = noise(7, 0x120);
    let crc = crc_1021(&bytes[0x20..0x4E]);
    bytes[0x4E..0x50].copy_from_slice(&crc.to_be_bytes());
    place.file("part.bin", bytes);
    place.run(["convert", "part.bin", "part.hex", "--base", "0x8020"]).expect(0);
    assert_eq!(over(&["hunt", "part.hex", "--page", "48"]), Some(serde_json::json!([[0x8040, 0x806E]])));
}

#[test]
fn the_fields_of_a_layout_tell_where_ranges_begin_and_end() {
    let place = Place::empty();
    let image = one(&place);
    place.file(
        "fields.ron",
        "(layout: \"Board\", format: 1, source: \"invented for this test\", fits: (bytes: [256], marks: []), order: Big, \
         fields: [(name: \"settings\", at: 0x22, kind: Bytes(bytes: 0x4C), role: Setting), \
         (name: \"check\", at: 0x6E, kind: Int(bits: 16), role: Check)])",
    );
    let told = place.run(["hunt", image, "--layout", "fields.ron"]).expect(0);
    told.says("CRC-16/XMODEM").says("0x0022..0x006E");
    let without = place.run(["hunt", image, "--chance", "0.01"]);
    assert!(!without.out().contains("CRC-16/XMODEM"), "{without}");
}

/// `sum` of GNU coreutils 9.1 gives 512 for the bytes 0 to 255, worked there.
const SUM_OF_ALL_BYTES: u16 = 512;

#[test]
fn the_historic_rotating_sum_is_found() {
    let place = Place::empty();
    let bytes: Vec<u8> = (0..=255).collect();
    place.file("one.bin", [bytes, SUM_OF_ALL_BYTES.to_be_bytes().to_vec()].concat());
    place.run(["hunt", "one.bin"]).expect(0).says("BSD-SUM").says("0x0000..0x0100");
}

#[cfg(target_os = "linux")]
#[test]
fn an_interrupt_calls_the_search_off_and_what_was_found_is_told() {
    use std::process::{Command, Stdio};
    use std::time::Duration;
    let place = Place::empty();
    for (seed, name) in [(1, "a.bin"), (2, "b.bin"), (3, "c.bin")] {
        place.file(name, noise(seed, 0x4000));
    }
    let child = Command::new(env!("CARGO_BIN_EXE_readproof"))
        .args(["hunt", "a.bin", "b.bin", "c.bin"])
        .current_dir(place.root())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // An interrupt that comes before anybody listens would end the program in the usual way.
    let listens = || {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
        let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:")).unwrap_or("0");
        u64::from_str_radix(caught.trim(), 16).unwrap_or(0) & 0b10 != 0
    };
    let mut patience = 200;
    while !listens() && patience > 0 {
        std::thread::sleep(Duration::from_millis(50));
        patience -= 1;
    }
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    let told = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(told.contains("The search was called off; not everything was tried."), "{told}");
    assert!(output.stderr.is_empty(), "progress where nobody watches");
}

#[test]
fn hits_that_are_withheld_are_listed_when_nothing_is_to_be_left_out() {
    let place = Place::empty();
    let mut bytes = noise(7, 0x400);
    let crc = crc_1021(&bytes[0x31..0x205]);
    bytes[0x205..0x207].copy_from_slice(&crc.to_be_bytes());
    place.file("one.bin", bytes);
    let short = place.run(["hunt", "one.bin", "--chance", "20"]);
    let short = short.says("withheld: chance alone would give more than").says("--verbose");
    let whole = place.run(["hunt", "one.bin", "--chance", "20", "--verbose"]);
    assert_eq!(whole.status(), short.status());
    whole.says("the least likely by chance:").says("by chance  check");
}
