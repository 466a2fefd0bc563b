//! The `checks` command lists, explains and computes.

use crate::support::{Place, run};

#[test]
fn the_list_has_every_check_with_its_parameters() {
    let listed = run(["checks"]).expect(0).says("CRC-16/XMODEM").says("SUM-16/16LE/TWOS").says("VIN");
    assert!(listed.out().lines().all(|line| line.chars().count() <= 80), "{}", listed.out());
    let json = run(["checks", "--json"]).expect(0).json();
    let checks = json["checks"].as_array().unwrap();
    let of = |name: &str| checks.iter().find(|check| check["name"] == name).unwrap();
    // The published check values of the open catalogue.
    assert_eq!(of("CRC-16/XMODEM")["value_of_123456789"], "31C3");
    assert_eq!(of("CRC-32/ISO-HDLC")["value_of_123456789"], "CBF43926");
    assert_eq!(of("CRC-3/ROHC")["value_of_123456789"], "6");
}

#[test]
fn one_check_is_explained_under_any_of_its_names() {
    run(["checks", "crc-32c"]).expect(0).says("CRC-32/ISCSI").says("1EDC6F41");
    run(["checks", "SUM(bits: 16, word: 16, order: Little, to: 0xBABA)"]).expect(0).says("BABA");
    run(["checks", "luhn"]).expect(0).says("ISO/IEC 7812-1");
}

#[test]
fn an_unknown_name_is_answered_with_the_nearest() {
    let run = run(["checks", "CRC-16/XMODEN"]).expect(2);
    assert!(run.err().contains("CRC-16/XMODEM"), "{}", run.err());
}

#[test]
fn a_check_is_computed_over_ranges_of_an_image_laid_end_to_end() {
    let place = Place::empty();
    place.file("nine.bin", b"__12345__6789");
    let ranges = ["--over", "2..7", "--over", "0x9+4"];
    let words = ["checks", "crc-16/xmodem", "nine.bin"].into_iter().chain(ranges);
    place.run(words.clone()).expect(0).says("is 31C3").says("stored little-endian  C3 31");
    let json = place.run(words.chain(["--order", "big", "--json"])).expect(0).json();
    assert_eq!(json["over"], serde_json::json!([[2, 7], [9, 13]]));
    assert_eq!((&json["value"], &json["stored_big"]), (&"31C3".into(), &"31C3".into()));
    assert!(json["stored_little"].is_null());
    let outside = place.run(["checks", "SUM-8", "nine.bin", "--over", "0..14"]).expect(2);
    assert!(outside.err().contains("does not lie in the image"), "{}", outside.err());
}

#[test]
fn a_gap_is_never_counted_in() {
    let place = Place::empty();
    // Two records with a gap between them.
    place.file("gap.hex", ":0100000001FE\n:0100020003FA\n:00000001FF\n");
    let run = place.run(["checks", "SUM-8", "gap.hex"]).expect(2);
    assert!(run.err().contains("0x0001..0x0002 is a gap"), "{}", run.err());
    place.run(["checks", "SUM-8", "gap.hex", "--over", "0..1", "--over", "2..3"]).expect(0).says("is 04");
}

#[test]
fn a_check_digit_is_tried_on_a_text() {
    run(["checks", "VIN", "--text", "1M8GDM9AXKP042788"]).expect(0).says("right");
    run(["checks", "VIN", "--text", "1M8GDM9A3KP042788"]).expect(1).says("expected      X");
    run(["checks", "VIN", "--text", "1M8"]).expect(1).says("17 characters");
    run(["checks", "CRC-32", "--text", "123456789"]).expect(0).says("CBF43926");
}
