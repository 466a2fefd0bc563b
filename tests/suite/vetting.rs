//! One command tells whether reads are good, whether the part is the one on the label, and whether a write took.

use proptest::prelude::*;

use readproof::image::Image;
use readproof::layout::{self, Layout};
use readproof::vet::{Ask, Transform, vet};

use crate::support::{Place, package, run};

fn sample(name: &str) -> Vec<u8> {
    std::fs::read(package().join("samples").join(name)).unwrap()
}

fn codes(json: &serde_json::Value, least: &str) -> Vec<String> {
    let weights = ["note", "doubt", "fault"];
    let rank = |w: &str| weights.iter().position(|x| *x == w);
    json["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|f| rank(f["weight"].as_str().unwrap()) >= rank(least))
        .map(|f| f["code"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn two_equal_reads_of_the_right_chip_with_the_right_part_are_sound() {
    let told = run([
        "vet",
        "samples/unit7-read1.bin",
        "samples/unit7-read2.bin",
        "--chip",
        "24C64",
        "--expect",
        "part_number=FK-CR8-2047B",
        "--expect",
        "serial=2207140312",
    ])
    .expect(0);
    assert!(told.out().starts_with("sound: 2 equal reads of 8192 bytes, the size of a 24C64, "), "{told}");
    told.says("expected part_number is FK-CR8-2047B, as expected").says("next     readproof show");
}

#[test]
fn a_single_read_is_sound_only_as_far_as_it_can_show() {
    run(["vet", "samples/unit9.bin"])
        .expect(0)
        .says("sound: as far as one read of 8192 bytes can show")
        .says("one-read")
        .says("READ2");
}

#[test]
fn a_poor_third_read_is_outvoted_and_told_with_direction_and_place() {
    let reads = ["samples/unit7-read1.bin", "samples/unit7-read2.bin", "samples/unit7-read3-poor.bin"];
    let json = run(["vet", reads[0], reads[1], reads[2], "--json"]).expect(1).json();
    assert_eq!(json["verdict"], "doubtful");
    assert_eq!(codes(&json, "doubt"), ["reads-disagree"]);
    let (good, poor) = (sample("unit7-read1.bin"), sample("unit7-read3-poor.bin"));
    let bytes = good.iter().zip(&poor).filter(|(a, b)| a != b).count();
    let bits: u32 = good.iter().zip(&poor).map(|(a, b)| (a ^ b).count_ones()).sum();
    assert_eq!(json["agreement"]["bytes_compared"], 8192);
    assert_eq!(json["agreement"]["bytes_unstable"], bytes);
    assert_eq!(json["agreement"]["bits_unstable"], bits);
    assert_eq!(json["agreement"]["groups"], serde_json::json!([0, 0, 1]));
    assert_eq!(json["reads"].as_array().unwrap().len(), 3);
    let alone = run(["vet", reads[2], reads[0]]).expect(1);
    assert!(alone.out().starts_with("unsound"), "two reads cannot say which is right\n{alone}");
}

#[test]
fn a_majority_is_written_as_a_new_file_and_never_over_one() {
    let place = Place::with_samples();
    let good = place.bytes("samples/unit7-read1.bin");
    for n in 0..3_usize {
        let mut read = good.clone();
        (0..40).for_each(|i| read[100 + n * 50 + i * 7] ^= 1 << (i % 8));
        place.file(&format!("r{n}.bin"), read);
    }
    let words = ["vet", "r0.bin", "r1.bin", "r2.bin", "--majority", "best.bin"];
    place.run(words).expect(1).says("best.bin written; bytes outvoted in each read: 4");
    let unanimous = place.bytes("best.bin") == good;
    let json = place.run(["vet", "r0.bin", "r1.bin", "r2.bin", "--json"]).json();
    assert!(unanimous || codes(&json, "fault").contains(&"reads-disagree".to_owned()));
    place.run(words).expect(2).complains("best.bin");
    place.run(["vet", "r0.bin", "r1.bin", "--majority", "two.bin"]).expect(2).complains("three reads");
    assert!(!place.path("two.bin").exists());
}

#[test]
fn where_no_majority_exists_it_is_told() {
    let place = Place::empty();
    for (n, byte) in [(1, 0x11), (2, 0x22), (3, 0x33)] {
        let mut bytes = sample("unit9.bin");
        bytes[0x1000] = byte;
        place.file(&format!("r{n}.bin"), bytes);
    }
    place
        .run(["vet", "r1.bin", "r2.bin", "r3.bin", "--majority", "out.bin"])
        .expect(1)
        .says("no-majority  at 0x1000, 1 byte")
        .says("No majority exists for 1 of the bytes");
}

#[test]
fn a_larger_device_is_told_with_the_true_capacity_and_the_chip() {
    let json = run(["vet", "samples/unit7-wrong-size.bin", "--json"]).expect(1).json();
    assert_eq!(json["verdict"], "unsound");
    let repeats = json["findings"].as_array().unwrap().iter().find(|f| f["code"] == "repeats").unwrap();
    assert!(repeats["seen"].as_str().unwrap().contains("repeat every 8192 bytes, 2 times, exactly"));
    assert_eq!(json["layout"]["name"], "frostkeel-cr8", "the part that repeats is known");
    let json = run(["vet", "samples/unit7-wrong-size.bin", "--chip", "24C64", "--json"]).expect(1).json();
    assert_eq!(codes(&json, "fault"), ["wrong-size", "repeats"]);
    assert_eq!(json["chip"]["bytes"], 8192);
}

#[test]
fn what_is_expected_is_held_against_the_field_character_by_character() {
    run(["vet", "samples/unit7-part-off.bin", "--expect", "part_number=FK-CR8-2047B"])
        .expect(1)
        .says("character 9 is the letter O, not the digit 0 (they look alike)")
        .says("  stored  FK-CR8-2O47B\n                  ^\n");
    run(["vet", "samples/unit9.bin", "--expect", "serial=2207140312"]).expect(1).says("expect-differs");
    run(["vet", "samples/unit9.bin", "--expect", "part_nummer=X"])
        .expect(2)
        .complains("the layout has no field \"part_nummer\"")
        .complains("Did you mean part_number?");
    run(["vet", "samples/unit9.bin", "--expect", "part_number"]).expect(2).complains("FIELD=VALUE");
    run(["vet", "samples/unit9.bin", "--expect", "calibration=4"]).expect(2).complains("no value of its own");
    // Without a layout the value is searched for in all bytes.
    run(["vet", "samples/unit7-read1.bin", "--layout", "none", "--expect", "part=FK-CR8-2047B"])
        .expect(0)
        .says("stored as text");
}

#[test]
fn a_broken_check_makes_a_read_unsound_and_names_the_next_command() {
    let told = run(["vet", "samples/unit7-broken-check.bin"]).expect(1).says("check-broken");
    assert!(told.out().contains("next     readproof show samples/unit7-broken-check.bin"), "{told}");
}

#[test]
fn every_transform_of_a_sample_is_proven_by_marks_and_checks() {
    let layouts: Vec<Layout> = layout::SHIPPED.iter().map(|(_, text)| layout::read(text).unwrap()).collect();
    let ask = Ask { layouts: &layouts, ..Ask::default() };
    for transform in Transform::all() {
        let image = Image::raw(transform.apply(&sample("unit9.bin")));
        let report = vet(&[&image], &ask);
        let seen = &report.findings[0].seen;
        assert!(
            seen.contains(&transform.remedy()) && seen.contains("fits the layout \"Frostkeel"),
            "{transform:?}: {seen}"
        );
        assert_eq!(report.verdict.word(), "unsound");
    }
}

#[test]
fn an_end_lost_in_the_middle_of_a_field_is_named_with_the_field() {
    let place = Place::with_samples();
    let mut bytes = sample("unit9.bin");
    bytes[0x0903..].fill(0xFF);
    place.file("lost.bin", bytes);
    place.run(["vet", "lost.bin"]).expect(1).says("tail-lost").says("the check whole");
}

#[test]
fn unknown_chips_and_missing_files_are_errors_that_help() {
    run(["vet", "samples/unit9.bin", "--chip", "99Z99"])
        .expect(2)
        .complains("\"99Z99\" is no chip in the table");
    run(["vet", "samples/unit9.bin", "--chip", "564"]).expect(2).complains("readproof chips 564");
    run(["vet", "samples/missing.bin"]).expect(2).complains("samples/missing.bin");
    run(["vet"]).expect(2);
}

#[test]
fn a_write_is_proven_byte_for_byte() {
    run(["vet", "samples/unit7-read2.bin", "--must-equal", "samples/unit7-read1.bin"])
        .expect(0)
        .says("written exactly: all 8192 bytes");
    // The formats do not matter, the bytes do.
    run(["vet", "samples/unit7.hex", "--must-equal", "samples/unit7-read1.bin"]).expect(0);
    let json =
        run(["vet", "samples/unit7-read1.bin", "--must-equal", "samples/unit7-serviced.bin", "--json"])
            .expect(1)
            .json();
    let (a, b) = (sample("unit7-read1.bin"), sample("unit7-serviced.bin"));
    assert_eq!(json["bytes_differing"], a.iter().zip(&b).filter(|(x, y)| x != y).count());
    assert_eq!((json["verdict"].as_str(), json["approved"]["bytes"].as_u64()), (Some("unsound"), Some(8192)));
}

#[test]
fn why_a_write_did_not_take_is_told() {
    let place = Place::with_samples();
    let (old, approved) = (sample("unit7-read1.bin"), sample("unit9.bin"));
    let prove = |name: &str, readback: Vec<u8>| {
        place.file(name, readback);
        place
            .run(["vet", name, "--must-equal", "samples/unit9.bin", "--before", "samples/unit7-read1.bin"])
            .expect(1)
    };
    prove("nothing.bin", old.clone()).says("old-contents").says("nothing was written");
    let mut half = approved.clone();
    // The two units differ up there in the last check only.
    half[4096..].copy_from_slice(&old[4096..]);
    prove("half.bin", half).says("write-protected").says("upper quarter of the chip");
    let mut bit = approved.clone();
    bit[0x145] ^= 0x04;
    prove("bit.bin", bit).says("bit-lost").says("Bit 2 is");
    // A programmer that sends 64 bytes at a time to a chip with pages of 32.
    let mut wrapped = old.clone();
    for (n, &byte) in approved.iter().enumerate() {
        wrapped[n / 64 * 64 + n % 32] = byte;
    }
    prove("wrap.bin", wrapped).says("page-wrap").says("pages of 32 bytes");
    prove("blank.bin", vec![0xFF; 8192]).says("blank");
    prove("short.bin", approved[..4096].to_vec()).says("wrong-size").says("not proven");
    place
        .run(["vet", "half.bin", "bit.bin", "--must-equal", "samples/unit9.bin"])
        .expect(2)
        .complains("--must-equal takes one read");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn no_bytes_make_vet_panic_whatever_is_asked(
        a in prop::collection::vec(any::<u8>(), 0..300),
        b in prop::collection::vec(any::<u8>(), 0..300),
        marked in any::<bool>(),
    ) {
        let (text, mark) = (layout::SHIPPED.iter().find(|(n, _)| n.starts_with("frostkeel")).unwrap().1, b"FKCR8");
        let layouts = [layout::read(text).unwrap()];
        let put = |mut bytes: Vec<u8>| {
            if marked && bytes.len() >= 5 { bytes[..5].copy_from_slice(mark); }
            Image::raw(bytes)
        };
        let (a, b) = (put(a), put(b));
        for reads in [vec![&a], vec![&a, &b], vec![&a, &a, &b]] {
            for named in [false, true] {
                let report = vet(&reads, &Ask { layouts: &layouts, named, ..Ask::default() });
                prop_assert!(!report.sentence.is_empty());
            }
        }
    }

    #[test]
    fn equal_reads_never_disagree_and_one_flipped_bit_always_does(
        bytes in prop::collection::vec(any::<u8>(), 1..400),
        at in any::<prop::sample::Index>(),
        bit in 0_u8..8,
    ) {
        let image = Image::raw(bytes.clone());
        let agreement = vet(&[&image, &image], &Ask::default()).agreement.unwrap();
        prop_assert_eq!(agreement.bytes_unstable, 0);
        let mut other = bytes;
        let place = at.index(other.len());
        other[place] ^= 1 << bit;
        let other = Image::raw(other);
        let agreement = vet(&[&image, &other], &Ask::default()).agreement.unwrap();
        prop_assert_eq!((agreement.bytes_unstable, agreement.bits_unstable), (1, 1));
        prop_assert_eq!(agreement.flips[0].place.start, place);
    }
}

#[test]
fn a_file_that_is_no_read_is_doubtful_and_a_chip_that_is_nearly_written_right_is_suggested() {
    let place = Place::with_samples();
    place.file("note.txt", "hello, bench");
    place.run(["vet", "note.txt"]).expect(1).says("doubtful: no chip in the table holds 12 bytes");
    // Who says that no layout is wanted has the bytes judged alone.
    place.run(["vet", "note.txt", "--layout", "none"]).expect(0);
    place.run(["vet", "samples/unit9.bin", "--chip", "24C46"]).expect(2).complains("Did you mean 24C64?");
}

#[test]
fn a_read_that_began_elsewhere_is_told_wherever_it_is_opened() {
    let place = Place::with_samples();
    let mut turned = sample("unit7-read1.bin");
    turned.rotate_left(0x1000);
    place.file("turned.bin", turned);
    for words in [&["vet", "turned.bin"][..], &["show", "turned.bin"], &["audit", "turned.bin", "turned.bin"]]
    {
        let told = place.run(words.iter().copied().chain(["--json"])).expect(1).json();
        assert_eq!(codes(&told, "fault"), ["displaced"], "{words:?}");
    }
    let screen = place.run(["turned.bin", "--keys", "Tab*4", "--dump"]).expect(0);
    screen.says("unsound").says("fault 0x1000  begun at offset 0x1000 and carried on from its start");
}

#[test]
fn a_file_that_is_named_twice_proves_neither_a_read_nor_a_write() {
    let place = Place::with_samples();
    let (read, other) = ("samples/unit7-read1.bin", "samples/unit7-read3-poor.bin");
    let again = "samples/../samples/unit7-read1.bin";
    place.run(["vet", read, again]).expect(2).complains("read 2 is the same file as read");
    place.run(["vet", other, read, again]).expect(2).complains("read 3 is the same file as read");
    place.run(["vet", read, "--must-equal", again]).expect(2).complains("the approved file itself");
    place.file("copy.bin", place.bytes(read));
    place.run(["vet", "copy.bin", "--must-equal", read]).expect(0).says("written exactly");
}

/// The layout tells where a value ends; without one, a number that something touches may be a longer one.
#[test]
fn a_part_number_is_found_whole_where_the_layout_says_that_it_ends() {
    let place = Place::with_samples();
    let mut bytes = place.bytes("samples/unit7-read1.bin");
    bytes[0x40..0x50].copy_from_slice(b"FK-CR8-2047B9999");
    place.file("full.bin", bytes);
    let part = "no match: full.bin holds FK-CR8-2047B only as a part of something longer";
    let json = place.run(["find", "full.bin", "FK-CR8-2047B", "--json"]).expect(1).json();
    assert_eq!(
        (&json["hits"][0]["exact"], &json["hits"][0]["part_of"]),
        (&false.into(), &"FK-CR8-2047B9999".into())
    );
    let told = place.run(["find", "full.bin", "FK-CR8-2047B"]).expect(1);
    assert!(told.out().split_whitespace().collect::<Vec<_>>().join(" ").starts_with(part), "{told}");
    place.run(["find", "full.bin", "FK-CR8-2047B9999"]).expect(0).says("found: ");
    let otherwise = place.run(["find", "full.bin", "fk cr8 2047b9999"]).expect(0);
    assert!(
        otherwise
            .out()
            .starts_with("found: fk cr8 2047b9999 stands in full.bin, written \"FK-CR8-2047B9999\", in")
    );
    // The serial of another maker's field touches it, and the layout knows both.
    let lines = r#"(layout: "tight", format: 1, source: "invented for this test",
        fits: (marks: [(at: 0, text: "TIGHT!")]),
        fields: [(name: "number", at: 6, kind: Text(bytes: 12)), (name: "next", at: 18, kind: Text(bytes: 4))])"#;
    place.file("tight.ron", lines);
    place.file("tight.bin", "TIGHT!FK-CR8-2047B0001");
    place.run(["find", "tight.bin", "FK-CR8-2047B", "--layout", "none"]).expect(1);
    place.run(["find", "tight.bin", "FK-CR8-2047B", "--layout", "tight.ron"]).expect(0).says("number");
}
