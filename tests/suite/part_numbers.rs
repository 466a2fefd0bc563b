//! A part number is found however it is stored; what is only like it is never called a match.

use proptest::prelude::*;

use readproof::find::{Encoding, find};
use readproof::image::Image;

use crate::support::{Place, corpus, run};

const PART: &str = "FK-CR8-2047B";

#[test]
fn the_part_number_of_a_sample_is_found_with_its_field() {
    run(["find", "samples/unit7-read1.bin", PART])
        .expect(0)
        .says("found: FK-CR8-2047B stands in samples/unit7-read1.bin in one place.")
        .says("0x0040, 12 bytes  part_number  FK-CR8-2047B  text");
    run(["find", "samples/unit7-read1.bin", "fkcr82047b"]).expect(0).says("text, separated otherwise");
    run(["find", "samples/unit7-read1.bin", "2207140312"]).expect(0).says("serial").says("packed digits");
    run(["find", "samples/unit7-read1.bin", "Store 3"]).expect(0).says("UTF-16 text, high byte first");
    run(["find", "samples/unit7.hex", PART]).expect(0).says("part_number");
}

#[test]
fn a_part_number_one_character_off_is_no_match_and_shown_under_the_wanted_one() {
    let told = run(["find", "samples/unit7-part-off.bin", PART]).expect(1);
    assert!(told.out().starts_with("no match: "), "{told}");
    let flat = told.out().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("one character differs, so this is another part until the label says otherwise"));
    told.says(
        "  wanted  FK-CR8-2047B\n  stored  FK-CR8-2O47B\n                  ^\n          \
         character 9 is the letter O, not the digit 0 (they look alike)\n",
    );
}

#[test]
fn the_object_of_json_has_the_names_of_the_documentation() {
    let json = run(["find", "samples/unit7-part-off.bin", PART, "--json"]).expect(1).json();
    assert_eq!((&json["command"], json.get("verdict")), (&"find".into(), None));
    let hit = &json["hits"][0];
    assert_eq!((&hit["at"], &hit["bytes"], &hit["exact"]), (&0x40.into(), &12.into(), &false.into()));
    assert_eq!((&hit["stored_as"], &hit["text"]), (&"text".into(), &"FK-CR8-2O47B".into()));
    assert_eq!(hit["differs"][0], serde_json::json!({"place": 9, "wanted": "0", "stored": "O"}));
    assert_eq!(json["findings"][0]["code"], "near-miss");
}

#[test]
fn what_cannot_be_searched_for_is_an_error_and_what_is_not_there_is_told() {
    run(["find", "samples/unit7-read1.bin", "K\u{e4}lte"])
        .expect(2)
        .complains("letters, digits and signs of ASCII");
    run(["find", "samples/unit7-read1.bin", " "]).expect(2).complains("there is no text to search for");
    run(["find", "samples/nowhere.bin", PART]).expect(2).complains("samples/nowhere.bin");
    run(["find", "samples/unit7-read1.bin", "ZQ-999-XXXXX"]).expect(1).says("not found").says("not-found");
}

#[test]
fn control_characters_in_an_image_never_reach_the_terminal() {
    let place = Place::empty();
    place.file("odd.bin", b"....FK-CR8-2\x1b47B....FK-CR8\x1b[2J2047B....");
    for words in [["find", "odd.bin", PART], ["find", "odd.bin", "FKCR82047B"]] {
        let told = place.run(words);
        assert!(!told.out().contains('\u{1b}'), "{told}");
    }
}

// The names and numbers are those that reference decoders give; SOURCES.md of the corpus names each of them.
#[test]
fn numbers_that_reference_decoders_read_are_found_in_real_images() {
    let Some(folder) = corpus() else { return };
    let facts: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(folder.join("facts.json")).unwrap()).unwrap();
    let (mut looked_for, mut missed) = (0, Vec::new());
    for file in facts["files"].as_array().unwrap() {
        let Some(fields) = file["fields"].as_object() else { continue };
        let name = file["file"].as_str().unwrap();
        let wanted = fields.iter().filter(|(k, _)| k.contains("part number") || k.contains("serial string"));
        for (field, value) in wanted {
            let Some(text) = value.as_str().map(str::trim).filter(|t| t.len() >= 4) else { continue };
            let image = Image::raw(std::fs::read(folder.join(name)).unwrap());
            looked_for += 1;
            // Without a layout nobody knows that what touches it is another field.
            if !find(&image, text).hits.first().is_some_and(|hit| hit.exact) {
                missed.push(format!("{name}: {field} {text}"));
            }
        }
    }
    println!("{looked_for} part numbers and serials of real images looked for, {} missed", missed.len());
    missed.iter().for_each(|m| println!("  {m}"));
    assert!(looked_for > 30 && missed.is_empty(), "{missed:#?}");
}

/// The naive reference: the text in the plainest way of every encoding.
fn stored(encoding: Encoding, text: &str) -> Vec<u8> {
    let ascii = text.as_bytes();
    let digit = |b: &u8| char::from(*b).to_digit(10).unwrap_or(0) as u8;
    let pairs = |f: fn(u8, u8) -> u8| {
        ascii.chunks(2).map(|p| f(digit(&p[0]), p.get(1).map_or(0, digit))).collect::<Vec<u8>>()
    };
    match encoding {
        Encoding::Text => ascii.to_vec(),
        Encoding::Utf16Big => ascii.iter().flat_map(|&b| [0, b]).collect(),
        Encoding::Utf16Little => ascii.iter().flat_map(|&b| [b, 0]).collect(),
        // The last of an odd number of characters shares its word with a space.
        Encoding::SwappedWords => ascii.chunks(2).flat_map(|p| [*p.get(1).unwrap_or(&b' '), p[0]]).collect(),
        Encoding::EveryOther => ascii.iter().flat_map(|&b| [b, b ^ 0x5A]).collect(),
        Encoding::Backwards => ascii.iter().rev().copied().collect(),
        Encoding::Parity => ascii.iter().map(|b| b | ((b.count_ones() as u8 % 2) << 7)).collect(),
        Encoding::PackedDigits => pairs(|a, b| a << 4 | b),
        Encoding::PackedDigitsSwapped => pairs(|a, b| b << 4 | a),
        Encoding::UnpackedDigits => ascii.iter().map(digit).collect(),
        Encoding::NumberBig => number(text),
        Encoding::NumberLittle => number(text).into_iter().rev().collect(),
        Encoding::InvertedBits => ascii.iter().map(|b| !b).collect(),
        Encoding::ReversedBits => ascii.iter().map(|b| b.reverse_bits()).collect(),
        Encoding::SwappedNibbles => ascii.iter().map(|b| b.rotate_left(4)).collect(),
        Encoding::SixBit { high_first, from_space } => six_bit(ascii, high_first, from_space),
    }
}

fn number(text: &str) -> Vec<u8> {
    let bytes = text.parse::<u64>().unwrap().to_be_bytes();
    bytes.into_iter().skip_while(|b| *b == 0).collect()
}

fn six_bit(ascii: &[u8], high_first: bool, from_space: bool) -> Vec<u8> {
    let code = |b: &u8| if from_space { b - 0x20 } else { b & 0x3F };
    let bit_of = |code: u8, k: usize| if high_first { code >> (5 - k) & 1 } else { code >> k & 1 };
    let bits: Vec<u8> = ascii.iter().flat_map(|b| (0..6).map(move |k| bit_of(code(b), k))).collect();
    bits.chunks(8)
        .map(|c| {
            let place = |(k, bit): (usize, &u8)| if high_first { bit << (7 - k) } else { bit << k };
            c.iter().enumerate().map(place).sum()
        })
        .collect()
}

fn encodings() -> Vec<Encoding> {
    let six = [(true, true), (true, false), (false, true), (false, false)]
        .map(|(high_first, from_space)| Encoding::SixBit { high_first, from_space });
    [
        Encoding::Text,
        Encoding::Utf16Big,
        Encoding::Utf16Little,
        Encoding::SwappedWords,
        Encoding::EveryOther,
        Encoding::Backwards,
        Encoding::Parity,
        Encoding::InvertedBits,
        Encoding::ReversedBits,
        Encoding::SwappedNibbles,
    ]
    .into_iter()
    .chain(six)
    .collect()
}

fn digit_encodings() -> [Encoding; 5] {
    [
        Encoding::PackedDigits,
        Encoding::PackedDigitsSwapped,
        Encoding::UnpackedDigits,
        Encoding::NumberBig,
        Encoding::NumberLittle,
    ]
}

/// Bytes that `stored` was put into at `at`, at an even place for encodings of 16-bit words.
fn among(mut noise: Vec<u8>, stored: &[u8], at: usize) -> (Vec<u8>, usize) {
    let at = at % (noise.len() - stored.len()) / 2 * 2;
    noise[at..at + stored.len()].copy_from_slice(stored);
    (noise, at)
}

fn found_at(bytes: &[u8], text: &str, at: usize, len: usize) -> bool {
    let found = find(&Image::raw(bytes.to_vec()), text);
    found.hits.iter().any(|h| h.exact && h.place.start >= at.saturating_sub(1) && h.place.end <= at + len + 1)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn a_text_is_found_wherever_and_however_it_is_stored(
        noise in prop::collection::vec(any::<u8>(), 400..500),
        text in "[A-Z0-9]{8,14}",
        at in any::<usize>(),
    ) {
        for encoding in encodings() {
            let stored = stored(encoding, &text);
            let (bytes, at) = among(noise.clone(), &stored, at);
            prop_assert!(found_at(&bytes, &text, at, stored.len()), "{:?} {:?} at {}", encoding, text, at);
        }
    }

    #[test]
    fn digits_are_found_wherever_and_however_they_are_stored(
        noise in prop::collection::vec(any::<u8>(), 400..500),
        text in "[1-9][0-9]{9}",
        at in any::<usize>(),
    ) {
        for encoding in digit_encodings() {
            let stored = stored(encoding, &text);
            let (bytes, at) = among(noise.clone(), &stored, at);
            prop_assert!(found_at(&bytes, &text, at, stored.len()), "{:?} {:?} at {}", encoding, text, at);
        }
    }

    #[test]
    fn a_text_in_two_parts_is_found(
        noise in prop::collection::vec(any::<u8>(), 400..500),
        parts in ("[A-Z0-9]{3,8}", "[A-Z0-9]{3,8}"),
        between in prop::collection::vec(prop_oneof![Just(0x00_u8), Just(0xFF), Just(0x01), Just(0x20)], 1..16),
        at in any::<usize>(),
    ) {
        let stored = [parts.0.as_bytes(), &between, parts.1.as_bytes()].concat();
        let (bytes, at) = among(noise, &stored, at);
        let text = format!("{}{}", parts.0, parts.1);
        prop_assert!(found_at(&bytes, &text, at, stored.len()), "{text} {between:?}");
    }

    #[test]
    fn nothing_is_called_exact_that_is_not_stored(
        noise in prop::collection::vec(any::<u8>(), 0..600),
        text in "[A-Z0-9]{8,12}",
    ) {
        let found = find(&Image::raw(noise.clone()), &text);
        for hit in found.hits.iter().filter(|h| h.exact && h.between.is_none() && !h.separators_differ) {
            // Whatever is called exact must stand there in that encoding, from that bit on.
            prop_assert_eq!(hit.text.to_uppercase(), text.clone());
            if hit.bit == 0 {
                let stored = stored(hit.encoding, &text);
                let there = noise[hit.place.range()].to_ascii_uppercase();
                prop_assert!(there.starts_with(&stored[..stored.len() - 1]), "{:?}", hit);
            }
        }
    }

    #[test]
    fn one_or_two_wrong_characters_are_near_misses_and_told_by_place(
        text in "[A-Z0-9]{8,12}",
        places in prop::collection::btree_set(0_usize..8, 1..3),
        encoding in prop::sample::select(encodings()),
        at in 0_usize..100,
    ) {
        let mut wrong = text.clone().into_bytes();
        for &place in &places {
            wrong[place] = if wrong[place] == b'Z' { b'0' } else { b'Z' };
        }
        let stored = stored(encoding, std::str::from_utf8(&wrong).unwrap());
        let (bytes, _) = among(vec![0xFF; 300], &stored, at);
        let found = find(&Image::raw(bytes), &text);
        prop_assert!(!found.is_exact());
        let hit = found.hits.first();
        prop_assert!(hit.is_some(), "{:?}", encoding);
        let told: Vec<usize> = hit.unwrap().differs.iter().map(|d| d.place - 1).collect();
        prop_assert!(told.len() <= places.len(), "{:?} for {:?}", told, places);
    }

    #[test]
    fn no_bytes_and_no_text_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..80), text in "[ -~]{0,20}") {
        let found = find(&Image::raw(bytes), &text);
        prop_assert!(found.by_chance >= 0.0);
    }
}
