//! Properties of every layout over every image, on layouts that use all of the language, on the shipped ones, on
//! damaged texts and on images of noise.

use std::sync::LazyLock;

use proptest::prelude::*;

use super::*;
use crate::check::Seal;
use crate::edit::Change;
use crate::image::Image;

mod invariants;
use invariants::{a_reseal_seals, applied, own_values_change_nothing, well_formed};

/// A layout that uses what the language has.
const EVERYTHING: &str = r#"(
    layout: "everything", format: 1, source: "invented", order: Little,
    fits: [(bytes: ["16..4096"], marks: [(at: 0, any: ["01", "02"], mask: "0F"), (holds: "fine(kind)", bits: 9)])],
    fields: [
        (name: "kind", kind: Choice(bits: 8, of: {1: "plain", 2: "other"})),
        (name: "pointer", kind: Int(bits: 8)),
        (name: "count", kind: Int(bits: 8)),
        (name: "low", at: 3, low: 0, kind: Int(bits: 3)),
        (name: "high", at: 3, low: 3, kind: Int(bits: 5, signed: true)),
        (name: "wide", kind: Int(bits: 12), pieces: [(at: 4, low: 4, bits: 4), (at: 5)], scale: 0.5, offset: -3),
        (name: "far", at: "2 * pointer", from: Image, when: "pointer > 8", kind: Group(of: [
            (name: "length", kind: Int(bits: 8)),
            (name: "text", size: "min(length, left)", kind: Text),
            (name: "sum", at: -1, from: End, kind: Int(bits: 8), role: Check),
        ])),
        (name: "gain", at: 6, kind: Int(bits: 16), copies: [(at: 8, inverted: true)], role: Calibration),
        (name: "pair", at: 10, copies: [(at: 14)], kind: Group(of: [(name: "a", kind: Int(bits: 8)), (name: "b", kind: Bcd(digits: 2))])),
        (name: "records", at: 18, role: Record, rest: 0xFF, kind: Table(rows: "count % 7", stride: 4, of: [
            (name: "tag", kind: Int(bits: 8)),
            (name: "value", kind: ByTag(tag: "tag & 3", shapes: {0: Int(bits: 16), 1: [(name: "x", kind: Int(bits: 8))], "2..2": Text(bytes: 3)})),
        ], checks: [(name: "sum", over: (0, 3), stored: (at: 3, bytes: 1), by: "XOR-8", when: "tag != 0xFF")])),
        (name: "chain", at: "end(records)", size: "image - end(records)", kind: Chain(
            head: [(name: "tag", kind: Int(bits: 8)), (name: "length", kind: Int(bits: 8))],
            tag: "tag", size: "length & 15", until: "tag == 0xFE",
            of: {1: ("name", Text), 2: (name: "number", kind: Bytes, role: Record, rest: 0x00), "3..99": [(name: "first", kind: Int(bits: 8))]}, other: Bytes)),
        (name: "total", kind: Computed("count(records) + count(chain)")),
        (name: "late", at: "where", kind: Int(bits: 8)),
        (name: "where", at: 17, kind: Int(bits: 8)),
    ],
    checks: [
        (name: "head", over: [(0, 4), "gain"], stored: (at: 16, bytes: 1), by: "SUM-8"),
        (name: "all", over: ("0", "image - 2"), stored: (at: -2, bytes: 2, from: End), by: "CRC-16/XMODEM"),
    ],
)"#;

static LAYOUTS: LazyLock<Vec<(&str, Layout)>> = LazyLock::new(|| {
    [("everything", EVERYTHING)]
        .into_iter()
        .chain(SHIPPED.iter().copied())
        .map(|(name, text)| (name, read(text).unwrap_or_else(|p| panic!("{name}: {p:?}"))))
        .collect()
});

/// Bytes with runs of what memories hold: noise, erased stretches, text, small numbers.
fn memory(most: usize) -> impl Strategy<Value = Vec<u8>> {
    let run = prop_oneof![
        prop::collection::vec(any::<u8>(), 0..40),
        (prop::sample::select(vec![0x00u8, 0xFF]), 0usize..60).prop_map(|(b, n)| vec![b; n]),
        "[A-Z0-9 -]{0,20}".prop_map(String::into_bytes),
        prop::collection::vec(0u8..9, 0..20),
    ];
    prop::collection::vec(run, 0..12).prop_map(move |runs| {
        let mut bytes = runs.concat();
        bytes.truncate(most);
        bytes
    })
}

/// A memory that begins as the layout's images do, so that decoding gets beyond the first field.
fn marked(index: usize, mut bytes: Vec<u8>) -> Vec<u8> {
    if let Some(model::Mark::Bytes { at, any, .. }) =
        LAYOUTS[index].1.model.fits.first().and_then(|a| a.marks.first())
        && let Some(place) = bytes.get_mut(*at..*at + any[0].len())
    {
        place.copy_from_slice(&any[0]);
    }
    bytes
}

/// Few cases for every day; as many as `PROPTEST_CASES` says for a long search.
fn cases() -> u32 {
    const LIBRARY_DEFAULT: u32 = 256;
    match ProptestConfig::default().cases {
        LIBRARY_DEFAULT => 64,
        asked_for => asked_for,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(cases()))]

    #[test]
    fn any_image_decodes_to_a_well_formed_tree(which in any::<prop::sample::Index>(), bytes in memory(600)) {
        let index = which.index(LAYOUTS.len());
        let bytes = marked(index, bytes);
        let image = Image::raw(bytes.clone());
        well_formed(&decode(&LAYOUTS[index].1, &image), bytes.len());
        let _ = fits(std::slice::from_ref(&LAYOUTS[index].1), &image);
    }

    #[test]
    fn gaps_are_never_read(bytes in memory(300), start in 0usize..200, len in 1usize..60) {
        let end = (start + len).min(bytes.len());
        if start >= end { return Ok(()) }
        let image = Image::with_gaps(0, bytes.clone(), vec![Span::new(start, end)]);
        let decoded = decode(&LAYOUTS[0].1, &image);
        well_formed(&decoded, bytes.len());
        for field in decoded.fields.iter().filter(|f| f.shape == Shape::Leaf && f.value.is_some()) {
            prop_assert!(!field.spans.iter().any(|s| s.overlaps(Span::new(start, end))), "{}", field.path);
        }
    }

    #[test]
    fn setting_a_field_to_its_own_value_changes_no_byte(which in any::<prop::sample::Index>(), bytes in memory(400)) {
        let index = which.index(LAYOUTS.len());
        own_values_change_nothing(&LAYOUTS[index].1, &marked(index, bytes));
    }

    #[test]
    fn a_new_value_changes_only_its_field_and_is_shown_there(
        which in any::<prop::sample::Index>(), bytes in memory(400), typed in "[0-9]{1,4}|[A-Z]{1,6}|[0-9A-F]{2}( [0-9A-F]{2}){0,3}|-?[0-9]{1,3}\\.[0-9]",
    ) {
        let index = which.index(LAYOUTS.len());
        let layout = &LAYOUTS[index].1;
        let bytes = marked(index, bytes);
        let image = Image::raw(bytes.clone());
        let decoded = decode(layout, &image);
        for field in decoded.fields.iter().filter(|f| f.shape == Shape::Leaf && f.editable).take(40) {
            let Ok(change) = set(layout, &image, &field.path, &typed) else { continue };
            for edit in &change.edits {
                prop_assert!(
                    (edit.span().range()).all(|at| field.spans.iter().any(|s| s.contains(at))),
                    "{} = {typed}: {change:?}", field.path
                );
            }
            let after = decode(layout, &Image::raw(applied(&bytes, &change)));
            let Some(now) = after.fields.iter().find(|f| f.path == field.path) else {
                prop_assert!(false, "{} is gone after {typed}", field.path);
                continue;
            };
            // Copies of a group may lie over the group itself; then no value can be told from the copy.
            if matches!(&now.state, FieldState::Odd(why) if why.contains("says otherwise")) { continue }
            prop_assert_eq!(format!("set {} to {}", now.path, now.shown()), change.label);
        }
    }

    #[test]
    fn a_reseal_seals_everything_and_touches_only_stored_values(which in any::<prop::sample::Index>(), bytes in memory(500)) {
        let index = which.index(LAYOUTS.len());
        a_reseal_seals(&LAYOUTS[index].1, &marked(index, bytes));
    }

    #[test]
    fn a_record_that_is_returned_to_rest_is_at_rest(bytes in memory(400)) {
        let layout = &LAYOUTS[0].1;
        let image = Image::raw(marked(0, bytes.clone()));
        let bytes = image.bytes().to_vec();
        let decoded = decode(layout, &image);
        for field in decoded.fields.iter().filter(|f| f.at_rest == Some(false)).take(20) {
            if field.state == FieldState::Absent { continue }
            let change = to_rest(layout, &image, &field.path).unwrap();
            let after = decode(layout, &Image::raw(applied(&bytes, &change)));
            if let Some(rested) = after.fields.iter().find(|f| f.path == field.path) {
                prop_assert!(rested.at_rest != Some(false), "{}", field.path);
            }
        }
    }

    #[test]
    fn a_damaged_layout_is_read_or_refused_and_decodes_in_bounds(
        which in any::<prop::sample::Index>(), cuts in prop::collection::vec((any::<prop::sample::Index>(), 0usize..30, "[-()\\[\\]{}:,\"'a-z0-9 ~<>*/%]{0,6}"), 1..4),
        bytes in memory(200),
    ) {
        let texts: Vec<&str> = [EVERYTHING].into_iter().chain(SHIPPED.iter().map(|(_, text)| *text)).collect();
        let mut text = texts[which.index(texts.len())].to_string();
        for (at, len, junk) in cuts {
            let mut at = at.index(text.len());
            while !text.is_char_boundary(at) { at -= 1; }
            let mut end = (at + len).min(text.len());
            while !text.is_char_boundary(end) { end += 1; }
            text.replace_range(at..end, &junk);
        }
        let (layout, remarks) = lint(&text);
        prop_assert!(layout.is_some() || !remarks.is_empty());
        if let Some(layout) = layout {
            well_formed(&decode(&layout, &Image::raw(bytes.clone())), bytes.len());
        }
    }

    #[test]
    fn any_expression_is_read_or_refused(text in "[-+*/%()<>=!&|^~,.'\\[\\]a-z0-9 ]{0,60}", other in any::<String>()) {
        let _ = expr::parse(&text, crate::notation::TextSpan::default());
        let _ = expr::parse(&other, crate::notation::TextSpan::default());
    }
}

#[test]
fn the_longest_packed_digits_can_be_set_to_what_they_show() {
    // Found by fuzzing: a body of packed digits shows more characters than a body of text can hold.
    let layout = hostile(r#"(name: "digits", at: 0, role: Setting, kind: TypeLength)"#);
    let mut bytes = vec![0x12; 64];
    bytes[0] = 0b0111_1111;
    own_values_change_nothing(&layout, &bytes);
    let image = Image::raw(bytes);
    let digits = decode(&layout, &image).fields[0].text.clone();
    assert_eq!(digits.len(), 126);
    let change = set(&layout, &image, "digits", &digits.replace('1', "3")).unwrap();
    assert_eq!(change.edits[0].after, [0x32; 63]);
}

#[test]
fn a_size_that_is_only_told_by_bytes_is_not_set_to_what_moves_others() {
    // Found by the property above: an area whose length is read by byte(1) and not by its name.
    let layout = hostile(
        r#"(name: "area", at: 0, size: "8 * byte(1)", kind: Group(of: [(name: "length", at: 1, kind: Int(bits: 8)), (name: "end", at: -1, from: End, kind: Int(bits: 8))]))"#,
    );
    let mut bytes = vec![0; 24];
    bytes[1] = 2;
    let refusal = set(&layout, &Image::raw(bytes), "length", "1").unwrap_err();
    assert!(refusal.what.contains("says where other fields lie"), "{}", refusal.what);
}

fn hostile(fields: &str) -> Layout {
    let text = format!("(layout: \"h\", format: 1, source: \"x\", fields: [{fields}])");
    read(&text).unwrap_or_else(|p| panic!("{p:?}"))
}

fn limit_told(layout: &Layout, bytes: usize) -> Decoded {
    let decoded = decode(layout, &Image::raw(vec![1; bytes]));
    assert!(decoded.fields.len() <= MAX_FIELDS);
    assert!(
        decoded.findings.iter().any(|f| f.code == crate::finding::Code::LimitReached),
        "{} fields, {:?}",
        decoded.fields.len(),
        decoded.findings
    );
    decoded
}

#[test]
fn tables_in_tables_stop_at_the_limit() {
    let mut inner = r#"(name: "x", at: 0, kind: Int(bits: 8))"#.to_string();
    for _ in 0..6 {
        inner = format!(r#"(name: "t", at: 0, kind: Table(rows: "image", stride: 1, of: [{inner}]))"#);
    }
    limit_told(&hostile(&inner), 60_000);
}

#[test]
fn tables_in_tables_of_constant_length_are_read_in_bounds() {
    for of in ["", r#"(name: "x", at: 0, kind: Int(bits: 8))"#] {
        let mut inner = of.to_string();
        for n in 0..12 {
            inner = format!(r#"(name: "t{n}", at: 0, kind: Table(rows: 60000, stride: 1, of: [{inner}]))"#);
        }
        let text = format!("(layout: \"h\", format: 1, source: \"x\", fields: [{inner}])");
        let _ = lint(&text);
    }
}

#[test]
fn rows_without_fields_stop_at_the_limit() {
    let never: String =
        (0..300).map(|n| format!("(name: \"f{n}\", when: \"0\", kind: Int(bits: 8)),")).collect();
    let table = format!(r#"(name: "t", kind: Table(rows: 60000, stride: 1, of: [{never}]))"#);
    limit_told(&hostile(&table), 100_000);
}

#[test]
fn large_values_in_the_same_place_stop_at_the_limit() {
    let table = r#"(name: "t", kind: Table(rows: 60000, stride: 1, of: [(name: "all", at: 0, from: Image, size: "image", kind: Bytes)]))"#;
    limit_told(&hostile(table), 100_000);
}

#[test]
fn rows_and_checks_beyond_their_limits_are_told() {
    let told = |fields: &str, seen: &str| {
        let decoded = limit_told(&hostile(fields), MAX_ROWS + 1);
        assert!(decoded.findings.iter().any(|f| f.seen.contains(seen)), "{:?}", decoded.findings);
    };
    told(r#"(name: "t", kind: Table(of: Int(bits: 8)))"#, "more than 65536 rows of t came out");
    let check = r#"(name: "c", over: (0, 1), stored: (at: 0, bytes: 1), by: "SUM-8", stored_bytes: Zeroed)"#;
    told(
        &format!(r#"(name: "t", kind: Table(rows: 30000, stride: 1, of: [], checks: [{check}]))"#),
        "more than 20000 checks came out",
    );
}

#[test]
fn a_table_whose_rows_take_no_room_ends() {
    let layout = hostile(r#"(name: "t", kind: Table(of: [(name: "x", when: "0", kind: Int(bits: 8))]))"#);
    assert!(decode(&layout, &Image::raw(vec![1; 1000])).fields.len() < 10);
}

#[test]
fn deep_groups_long_lists_and_endless_expressions_are_refused() {
    let mut deep = r#"(name: "x", kind: Int(bits: 8))"#.to_string();
    for _ in 0..40 {
        deep = format!(r#"(name: "g", kind: Group(of: [{deep}]))"#);
    }
    let text = |fields: &str| format!("(layout: \"h\", format: 1, source: \"x\", fields: [{fields}])");
    assert!(read(&text(&deep)).is_err());
    let long: String = (0..MAX_ITEMS + 2).map(|n| format!("(name: \"f{n}\", kind: Int(bits: 8)),")).collect();
    assert!(read(&text(&long)).is_err());
    for at in
        [format!("{}1{}", "(".repeat(500), ")".repeat(500)), "1+".repeat(5000) + "1", "-".repeat(5000) + "1"]
    {
        assert!(read(&text(&format!("(name: \"f\", at: \"{at}\", kind: Int(bits: 8))"))).is_err());
    }
}

#[test]
fn a_long_chain_of_fields_that_hang_on_each_other_is_ordered() {
    let fields: String = (0..5000)
        .map(|n| format!("(name: \"f{n}\", at: {n}, when: \"f{} >= 0\", kind: Int(bits: 8)),", n + 1))
        .chain(["(name: \"f5000\", at: 5000, kind: Int(bits: 8))".to_string()])
        .collect();
    let decoded = decode(&hostile(&fields), &Image::raw(vec![0; 5001]));
    assert_eq!(decoded.fields.len(), 5001);
    assert_eq!(decoded.fields[0].path, "f0");
}
