//! Rulings on changes that happen at the bench.

use super::super::cases::{layout, resealed, unit, with};
use super::*;
use crate::span::Span;

fn ruled(before: &Image, after: &Image) -> Audit {
    audit(Some(&layout()), before, after, &Allowed::nothing())
}

fn codes(audit: &Audit) -> Vec<&'static str> {
    audit.findings.iter().map(|f| f.code.word()).collect()
}

#[test]
fn the_same_image_is_safe_and_says_so() {
    let audit = ruled(&unit(7), &unit(7));
    assert_eq!((audit.ruling, audit.why.as_str()), (Ruling::Safe, "the two images are the same"));
}

#[test]
fn a_setting_with_its_check_and_a_cleared_record_are_safe_and_the_cautions_are_told() {
    let before = unit(7);
    let after = resealed(with(&with(&before, 0x41, &[0x2D]), 0x50, &[0xFF; 16]));
    let audit = ruled(&before, &after);
    assert_eq!(audit.ruling, Ruling::Safe, "{:?}", audit.findings);
    assert_eq!(audit.cautions, ["Isolate the mains supply.", "lockouts: find the cause first"]);
    assert!(audit.changes.iter().all(|c| c.allowed));
    let whys: Vec<&str> = audit.changes.iter().map(|c| c.why.as_str()).collect();
    assert!(whys.contains(&"Setting") && whys.contains(&"Record, now at rest"), "{whys:?}");
    assert!(whys.contains(&"Check, right for the changes"), "{whys:?}");
    let lockouts = &audit.records.groups[0];
    assert_eq!((lockouts.path.as_str(), lockouts.rested, lockouts.left), ("lockouts", 4, 0));
}

#[test]
fn a_record_that_is_left_is_told_beside_those_that_went_to_rest() {
    let before = unit(7);
    let audit = ruled(&before, &with(&before, 0x50, &[0xFF; 8]));
    assert_eq!(audit.ruling, Ruling::Safe);
    assert_eq!((audit.records.groups[0].rested, audit.records.groups[0].left), (2, 2));
    assert!(audit.findings[0].seen.ends_with("2 fields of lockouts still recorded"), "{:?}", audit.findings);
}

#[test]
fn a_stale_check_is_not_safe_and_names_stored_and_computed() {
    let before = unit(7);
    let audit = ruled(&before, &with(&before, 0x41, &[0x2D]));
    assert_eq!((audit.ruling, codes(&audit)), (Ruling::NotSafe, vec!["check-broken"]));
    assert!(audit.why.starts_with("the check settings is wrong: "), "{}", audit.why);
}

#[test]
fn a_check_that_was_wrong_before_and_has_nothing_to_do_with_the_change_leaves_a_doubt() {
    let before = with(&unit(7), 0x4E, &[0, 0]);
    let audit = ruled(&before, &with(&before, 0x50, &[0xFF; 8]));
    assert_eq!(audit.ruling, Ruling::CannotTell);
    assert!(audit.why.ends_with("as in the original"), "{}", audit.why);
}

#[test]
fn a_changed_serial_under_a_check_made_right_is_not_safe_unless_it_is_named() {
    let before = unit(7);
    let after = resealed(with(&before, 0x23, &[0x47]));
    let audit = ruled(&before, &after);
    assert_eq!(audit.ruling, Ruling::NotSafe);
    assert_eq!(codes(&audit), ["identity-changed", "resealed-over-identity"]);
    assert_eq!(audit.why, "Identity changed: serial from 22071407 to 22071447");
    assert!(audit.findings[0].advice.contains("--allow serial"), "{}", audit.findings[0].advice);
    assert_eq!(audit.refused().count(), 2, "the serial and the check made right over it");
    let mut allowed = Allowed::nothing();
    allowed.allow_field(&crate::layout::decode(&layout(), &before), "serial").unwrap();
    let audit = super::audit(Some(&layout()), &before, &after, &allowed);
    assert_eq!(audit.ruling, Ruling::Safe, "{:?}", audit.findings);
}

#[test]
fn a_sister_units_image_is_known_by_identity_and_calibration_together() {
    let audit = ruled(&unit(7), &unit(9));
    assert_eq!(audit.ruling, Ruling::NotSafe);
    assert_eq!(audit.findings[0].code, Code::OtherUnit);
    assert!(audit.why.starts_with("identity and calibration both differ"), "{}", audit.why);
}

#[test]
fn reserved_and_undescribed_bytes_must_stay_unless_their_place_is_named() {
    let before = unit(7);
    let reserved = ruled(&before, &with(&before, 0xA0, b"m"));
    assert_eq!(codes(&reserved), ["reserved-changed"]);
    let after = with(&before, 0xE0, &[0x12, 0x34]);
    let undescribed = ruled(&before, &after);
    assert_eq!(codes(&undescribed), ["undescribed-changed"]);
    assert!(undescribed.findings[0].advice.contains("--allow 0x00E0..0x00E2"), "{:?}", undescribed.findings);
    let mut allowed = Allowed::nothing();
    allowed.allow_span(Span::new(0xE0, 0xE2));
    assert_eq!(super::audit(Some(&layout()), &before, &after, &allowed).ruling, Ruling::Safe);
}

#[test]
fn an_image_of_another_size_is_never_safe() {
    let before = unit(7);
    let twice = Image::raw([before.bytes(), before.bytes()].concat());
    let audit = ruled(&before, &twice);
    assert_eq!((audit.ruling, audit.findings[0].code), (Ruling::NotSafe, Code::SizeChanged));
    assert_eq!(audit.why, "the changed image has 512 bytes and the original 256");
    let elsewhere = Image::with_gaps(0x8000, before.bytes().to_vec(), Vec::new());
    assert_eq!(ruled(&before, &elsewhere).ruling, Ruling::NotSafe);
}

#[test]
fn scattered_single_bits_and_a_block_of_ff_look_like_a_poor_read() {
    let before = unit(7);
    let mut after = before.clone();
    for at in [0x59, 0x5B, 0x78, 0x7B] {
        after.bytes_mut()[at] ^= 0x10;
    }
    let audit = ruled(&before, &after);
    assert!(codes(&audit).contains(&"looks-like-read-fault"), "{:?}", audit.findings);
    let blank = ruled(&before, &with(&before, 0xA0, &[0xFF; 16]));
    assert!(codes(&blank).contains(&"looks-like-read-fault"), "{:?}", blank.findings);
}

#[test]
fn single_bits_under_a_sealed_check_are_an_edit() {
    let before = unit(7);
    let mut after = before.clone();
    for at in [0x40, 0x42] {
        after.bytes_mut()[at] ^= 0x01;
    }
    after.bytes_mut()[0x50] ^= 0x04;
    let audit = ruled(&before, &resealed(after));
    assert_eq!(codes(&audit), [""; 0], "{:?}", audit.findings);
}

#[test]
fn a_value_outside_its_limits_leaves_a_doubt_even_under_a_sealed_check() {
    let before = unit(7);
    let audit = ruled(&before, &resealed(with(&before, 0x40, &[0x7F])));
    assert_eq!((audit.ruling, codes(&audit)), (Ruling::CannotTell, vec!["field-odd"]));
    assert!(audit.why.starts_with("setpoint makes no sense any more"), "{}", audit.why);
}

#[test]
fn without_a_layout_only_unchanged_images_are_safe() {
    let before = unit(7);
    let of = |after: &Image| audit(None, &before, after, &Allowed::nothing());
    assert_eq!(of(&before).ruling, Ruling::Safe);
    assert_eq!(of(&with(&before, 0x41, &[0x2D])).ruling, Ruling::CannotTell);
    let text = of(&with(&before, 0x14, b"O"));
    assert_eq!((text.ruling, codes(&text)), (Ruling::NotSafe, vec!["text-changed", "no-layout"]));
    assert_eq!(text.why, "text at 0x0010 changed from \"BB-2047B\" to \"BB-2O47B\"");
    let noise: Vec<u8> = (0..=255).map(|b: u8| b.wrapping_mul(37).wrapping_add(11)).collect();
    assert_eq!(of(&Image::raw(noise)).findings[0].code, Code::OtherUnit);
}

#[test]
fn a_check_that_was_wrong_and_is_made_right_is_never_taken_for_good_unless_its_bytes_are_named() {
    // A poor read of a setting, resealed by somebody; and a change of a record beside it.
    let before = with(&unit(7), 0x41, &[0x29]);
    let audit = ruled(&before, &resealed(before.clone()));
    assert_eq!((audit.ruling, codes(&audit)), (Ruling::CannotTell, vec!["resealed-over-broken"]));
    assert_eq!(
        audit.why,
        "the check settings was wrong in the original and is made right in the changed image"
    );
    assert!(audit.findings[0].advice.contains("--allow 0x004E..0x0050"), "{}", audit.findings[0].advice);
    let mut allowed = Allowed::nothing();
    allowed.allow_span(Span::new(0x4E, 0x50));
    let audit = super::audit(Some(&layout()), &before, &resealed(before.clone()), &allowed);
    assert_eq!(audit.ruling, Ruling::Safe, "{:?}", audit.findings);
}

#[test]
fn a_check_that_comes_right_because_its_bytes_were_put_right_raises_nothing() {
    let before = with(&unit(7), 0x41, &[0x29]);
    let audit = ruled(&before, &unit(7));
    assert_eq!((audit.ruling, codes(&audit)), (Ruling::Safe, vec![]));
}

#[test]
fn bits_that_nobody_described_do_not_pass_for_the_setting_beside_them() {
    const BITS: &str = r#"(layout: "bits", format: 1, source: "invented for the tests", order: Big,
        fields: [
            (name: "unit", at: 0, low: 0, kind: Int(bits: 2), role: Identity),
            (name: "fan", at: 0, low: 2, kind: Int(bits: 3), role: Setting),
            (name: "wide", at: 1, low: 4, in_bytes: 2, kind: Int(bits: 8), role: Setting),
        ])"#;
    let layout = layout::read(BITS).expect("a layout without problems");
    let ruled = |before: [u8; 3], after: [u8; 3]| {
        let [before, after] = [before, after].map(|bytes| Image::raw(bytes.to_vec()));
        let audit = audit(Some(&layout), &before, &after, &Allowed::nothing());
        let codes: Vec<&str> = audit.findings.iter().map(|f| f.code.word()).collect();
        (audit.ruling, codes.join(" "))
    };
    let safe = (Ruling::Safe, String::new());
    assert_eq!(ruled([0, 0, 0], [0x1C, 0, 0]), safe, "the setting alone");
    assert_eq!(ruled([0, 0, 0], [0, 0x0F, 0xF0]), safe, "both bytes of the wide one");
    let undescribed = (Ruling::NotSafe, "undescribed-changed".to_owned());
    assert_eq!(ruled([0, 0, 0], [0x80, 0, 0]), undescribed, "a bit of nobody");
    assert_eq!(ruled([0, 0, 0], [0x84, 0, 0]), undescribed, "a bit of nobody with the setting");
    assert_eq!(ruled([0, 0, 0], [0x05, 0, 0]).0, Ruling::NotSafe, "the identity with the setting");
}

#[test]
fn what_held_nothing_and_holds_something_now_leaves_a_doubt() {
    const SPARE: &str = r#"(layout: "spare", format: 1, source: "invented for the tests",
        fields: [(name: "spare", at: 0, kind: Bytes(bytes: 4), role: Filler, rest: 0xFF)])"#;
    let layout = layout::read(SPARE).expect("a layout without problems");
    let ruled = |before: [u8; 4], after: [u8; 4]| {
        let [before, after] = [before, after].map(|bytes| Image::raw(bytes.to_vec()));
        let audit = audit(Some(&layout), &before, &after, &Allowed::nothing());
        (audit.ruling, audit.why)
    };
    let (ruling, why) = ruled([0xFF; 4], [0xFF, 0x41, 0x42, 0xFF]);
    assert_eq!((ruling, why.as_str()), (Ruling::CannotTell, "what held nothing holds something now: spare"));
    assert_eq!(ruled([1, 2, 3, 4], [0xFF; 4]).0, Ruling::Safe, "it came to rest");
}

#[test]
fn an_image_that_lost_the_marks_is_told_first_and_nothing_is_to_be_taken_from_it() {
    let before = unit(7);
    let mut bytes = before.bytes().to_vec();
    bytes.rotate_right(16);
    let audit = ruled(&before, &Image::raw(bytes));
    assert_eq!((audit.ruling, audit.findings[0].code), (Ruling::NotSafe, Code::LayoutUnfit));
    assert!(audit.why.ends_with("are in the original and not in the changed image"), "{}", audit.why);
    assert!(!codes(&audit).iter().any(|code| ["other-unit", "field-odd", "records-rested"].contains(code)));
    assert!(audit.findings.iter().all(|f| !f.advice.contains("--copy")), "{:?}", audit.findings);
}

#[test]
fn what_is_not_in_the_changed_image_is_neither_another_units_nor_at_rest() {
    let before = unit(7);
    let cut = Image::with_gaps(0, before.bytes().to_vec(), vec![Span::new(0x10, 0x80)]);
    let audit = ruled(&before, &cut);
    assert_eq!(audit.ruling, Ruling::NotSafe);
    assert_eq!(codes(&audit), ["size-changed", "check-unreadable", "check-unreadable"]);
}

#[test]
fn records_that_appear_are_told_since_the_images_may_stand_in_the_wrong_order() {
    let before = unit(7);
    let cleared = with(&before, 0x50, &[0xFF; 16]);
    let audit = ruled(&cleared, &before);
    assert_eq!((audit.ruling, codes(&audit)), (Ruling::Safe, vec!["records-filled"]));
    assert_eq!(audit.findings[0].seen, "4 fields of lockouts were at rest and are recorded now");
    assert_eq!(codes(&ruled(&before, &cleared)), ["records-rested"]);
}

#[test]
fn a_blank_image_is_never_safe_to_write_not_even_over_its_equal() {
    let blank = Image::raw(vec![0xFF; 256]);
    for layout in [None, Some(layout())] {
        let audit = audit(layout.as_ref(), &blank, &blank, &Allowed::nothing());
        assert_eq!((audit.ruling, audit.findings[0].code), (Ruling::NotSafe, Code::Blank));
    }
    assert_eq!(ruled(&unit(7), &blank).why, "nothing is in the changed image: every byte is FF");
}
