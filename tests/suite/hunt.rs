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
