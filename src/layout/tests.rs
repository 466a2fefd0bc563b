//! Promises of layouts as a whole.

use super::*;
use crate::finding::{Code, Weight};
use crate::image::Image;
use crate::notation::Lines;

/// The layout of `fields`, Big, for images of any size.
fn layout(fields: &str) -> Layout {
    layout_with(fields, "")
}

fn layout_with(fields: &str, more: &str) -> Layout {
    let text = text_of(fields, more);
    read(&text).unwrap_or_else(|problems| panic!("{}\n{text}", told(&text, &problems).join("\n")))
}

fn text_of(fields: &str, more: &str) -> String {
    format!("(layout: \"t\", format: 1, source: \"test\", order: Big, fields: [\n{fields}\n], {more})")
}

fn told(text: &str, problems: &[crate::notation::Problem]) -> Vec<String> {
    let lines = Lines::of(text);
    problems.iter().map(|p| p.line("t.ron", &lines)).collect()
}

/// The problems of a layout with these fields, without their places.
fn problems(fields: &str, more: &str) -> Vec<String> {
    let text = text_of(fields, more);
    read(&text).expect_err("a layout with a problem").into_iter().map(|p| p.what).collect()
}

/// `path=text` of each leaf, absent ones with `?`, odd ones with `!`.
fn shown(layout: &Layout, bytes: &[u8]) -> Vec<String> {
    let decoded = decode(layout, &Image::raw(bytes.to_vec()));
    decoded
        .fields
        .iter()
        .filter(|f| f.shape == Shape::Leaf)
        .map(|f| match &f.state {
            FieldState::Fine => format!("{}={}", f.path, f.text),
            FieldState::Odd(_) => format!("{}={}!", f.path, f.text),
            FieldState::Absent => format!("{}=?", f.path),
        })
        .collect()
}

fn apply(bytes: &[u8], change: &crate::edit::Change) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for edit in &change.edits {
        let range = edit.span().range();
        assert_eq!(bytes[range.clone()], edit.before);
        bytes[range].copy_from_slice(&edit.after);
    }
    bytes
}

const SKETCH: &str = r#"(
    layout: "Cold-room controller, settings memory",
    format: 1,
    source: "invented for the samples",
    fits: (bytes: [8192], marks: [(at: 0x0000, hex: "4B 44 31")]),
    order: Big,
    cautions: ["Disconnect the compressor supply before the board is refitted."],
    fields: [
        (name: "part_number", at: 0x0040, kind: Text(bytes: 16, pad: " "), role: Identity, pattern: "[A-Z]{2}-[0-9]{4}-[0-9]{2}[A-Z]"),
        (name: "serial", at: 0x0050, kind: Bcd(digits: 10), role: Identity),
        (name: "setpoint", at: 0x0060, kind: Int(bits: 16), scale: 0.1, unit: "°C", role: Setting),
        (name: "lockouts", at: 0x0200, kind: Table(rows: 16, stride: 32, of: [
            (name: "cause", at: 0, kind: Choice(bits: 8, of: {1: "high pressure", 2: "low oil"})),
            (name: "hours", at: 2, kind: Int(bits: 32)),
        ]), role: Record, rest: 0xFF),
    ],
    checks: [
        (name: "settings", over: [(0x0040, 0x01FE)], stored: (at: 0x01FE, bytes: 2), by: "CRC-16/XMODEM"),
    ],
)"#;

/// An image for the sketch: the mark, a part number, a serial, a setpoint, one lockout.
fn sketch_image() -> Vec<u8> {
    let mut bytes = vec![0u8; 8192];
    bytes[..3].copy_from_slice(b"KD1");
    bytes[0x40..0x50].copy_from_slice(b"FK-2047-01B     ");
    bytes[0x50..0x55].copy_from_slice(&[0x12, 0x34, 0x56, 0x78, 0x90]);
    bytes[0x60..0x62].copy_from_slice(&[0x00, 0x2B]);
    bytes[0x200..0x400].fill(0xFF);
    bytes[0x260] = 1;
    bytes[0x261] = 0;
    bytes[0x262..0x266].copy_from_slice(&[0, 0, 0x10, 0]);
    let sealed = reseal(&read(SKETCH).unwrap(), &Image::raw(bytes.clone()), &[]).unwrap();
    apply(&bytes, &sealed)
}

#[test]
fn the_sketch_of_the_design_is_read_and_decoded() {
    let layout = read(SKETCH).unwrap_or_else(|p| panic!("{}", told(SKETCH, &p).join("\n")));
    assert_eq!(layout.title, "Cold-room controller, settings memory");
    let image = Image::raw(sketch_image());
    let decoded = decode(&layout, &image);
    let text = |path: &str| decoded.field(path).unwrap().text.clone();
    assert_eq!(text("part_number"), "FK-2047-01B");
    assert_eq!(text("serial"), "1234567890");
    assert_eq!(text("setpoint"), "4.3");
    assert_eq!(text("lockouts[3].cause"), "high pressure");
    assert_eq!(text("lockouts[3].hours"), "4096");
    assert_eq!(decoded.field("lockouts[0].cause").unwrap().at_rest, Some(true));
    assert_eq!(decoded.field("lockouts[3]").unwrap().at_rest, Some(false));
    assert_eq!(decoded.field("lockouts").unwrap().at_rest, Some(false));
    assert_eq!(decoded.field("lockouts[3].cause").unwrap().role, Role::Record);
    assert_eq!(decoded.checks[0].seal, Seal::Sealed);
    assert_eq!(decoded.findings, []);
    let fits = fits(std::slice::from_ref(&layout), &image);
    assert_eq!((fits[0].index, fits[0].bits, fits[0].sized), (0, 24, true));
}

#[test]
fn a_set_field_a_reseal_and_a_rest_are_the_bytes_they_say() {
    let layout = read(SKETCH).unwrap();
    let bytes = sketch_image();
    let image = Image::raw(bytes.clone());
    let change = set(&layout, &image, "setpoint", "-1.5 °C").unwrap_err();
    assert!(change.what.contains("setpoint"), "an unsigned field refuses a sign: {}", change.what);
    let change = set(&layout, &image, "setpoint", "5.0").unwrap();
    assert_eq!(change.label, "set setpoint to 5.0 °C");
    let after = apply(&bytes, &change);
    assert_eq!(&after[0x60..0x62], &[0, 50]);
    let broken = Image::raw(after.clone());
    assert_eq!(decode(&layout, &broken).checks[0].seal, Seal::Broken);
    let sealed = apply(&after, &reseal(&layout, &broken, &["settings"]).unwrap());
    assert_eq!(decode(&layout, &Image::raw(sealed)).checks[0].seal, Seal::Sealed);
    let rested = apply(&bytes, &to_rest(&layout, &image, "lockouts").unwrap());
    assert!(rested[0x200..0x400].iter().all(|&b| b == 0xFF));
    assert_eq!(&rested[..0x200], &bytes[..0x200]);
    let row = to_rest(&layout, &image, "lockouts[3]").unwrap();
    assert!(apply(&bytes, &row)[0x260..0x280].iter().all(|&b| b == 0xFF));
}

#[test]
fn an_edit_that_suits_nothing_is_refused_with_what_would() {
    let layout = read(SKETCH).unwrap();
    let image = Image::raw(sketch_image());
    let refused = |path: &str, typed: &str| {
        let r = set(&layout, &image, path, typed).unwrap_err();
        format!("{}; {}", r.what, r.advice)
    };
    assert_eq!(refused("setpiont", "1"), "the layout has no field \"setpiont\"; did you mean setpoint?");
    assert!(refused("part_number", "FK-20470-1B").contains("does not suit the pattern"));
    assert!(refused("lockouts[3]", "1").contains("holds other fields"));
    assert!(refused("cause", "1").contains("say which: lockouts[0].cause"));
    assert!(refused("setpoint", "4.35").contains("4.3"), "{}", refused("setpoint", "4.35"));
}

#[test]
fn fields_without_a_place_follow_each_other() {
    let l = layout(
        r#"(name: "a", kind: Int(bits: 8)), (name: "b", kind: Int(bits: 16)), (name: "g", kind: Group(of: [
            (name: "c", kind: Int(bits: 8)), (name: "d", at: 3, kind: Int(bits: 8)),
        ])), (name: "e", kind: Int(bits: 8))"#,
    );
    assert_eq!(shown(&l, &[1, 0, 2, 3, 0, 0, 4, 5]), ["a=1", "b=2", "g.c=3", "g.d=4", "e=5"]);
}

#[test]
fn places_follow_pointers_and_lengths_follow_fields() {
    let l = layout(
        r#"(name: "header", kind: Group(of: [(name: "board", kind: Int(bits: 8)), (name: "count", kind: Int(bits: 8))])),
        (name: "area", at: "4 * header.board", from: Image, when: "header.board != 0", kind: Table(rows: "header.count", of: Int(bits: 8))),
        (name: "tail", at: -1, from: End, kind: Int(bits: 8)),
        (name: "behind", at: "end(area) + 1", kind: Int(bits: 8), when: "present(area)")"#,
    );
    assert_eq!(
        shown(&l, &[1, 2, 0, 0, 7, 8, 9, 10, 11]),
        ["header.board=1", "header.count=2", "area[0]=7", "area[1]=8", "tail=11", "behind=9"]
            .map(String::from)
            .into_iter()
            .map(|s| if s == "behind=9" { "behind=10".to_string() } else { s })
            .collect::<Vec<_>>()
    );
    assert_eq!(shown(&l, &[0, 2, 0, 0, 7]), ["header.board=0", "header.count=2", "tail=7"]);
}

#[test]
fn a_field_may_hang_on_one_that_is_written_behind_it() {
    let l = layout(
        r#"(name: "data", at: "where", kind: Bytes(bytes: 1)), (name: "where", at: 0, kind: Int(bits: 8))"#,
    );
    assert_eq!(shown(&l, &[2, 0, 0xAB]), ["data=AB", "where=2"]);
}

#[test]
fn a_computed_value_may_stand_behind_what_hangs_on_it() {
    let l = layout(
        r#"(name: "a", when: "far > 0", kind: Int(bits: 8)), (name: "far", kind: Computed("image - 2")), (name: "b", kind: Int(bits: 8))"#,
    );
    assert_eq!(shown(&l, &[1, 2, 3]), ["a=1", "far=1", "b=2"]);
    assert_eq!(shown(&l, &[1, 2]), ["far=0", "b=1"]);
}

#[test]
fn a_field_that_hangs_on_itself_is_told_with_its_path() {
    let found = problems(
        r#"(name: "a", at: "b", kind: Int(bits: 8)), (name: "b", at: "c + 1", kind: Int(bits: 8)), (name: "c", at: 9, when: "a", kind: Int(bits: 8))"#,
        "",
    );
    assert_eq!(found, ["the field a hangs on itself: a → b → c → a"]);
    assert_eq!(
        problems(r#"(name: "a", when: "a == 1", kind: Int(bits: 8))"#, ""),
        ["the field a hangs on itself: a → a"]
    );
}

#[test]
fn a_tag_chooses_the_shape() {
    let l = layout(
        r#"(name: "rows", kind: Table(rows: 3, stride: 4, of: [
            (name: "tag", kind: Int(bits: 8)),
            (name: "value", kind: ByTag(tag: "tag", shapes: {
                1: Int(bits: 8), "2..3": [(name: "x", kind: Int(bits: 8)), (name: "y", kind: Int(bits: 8))],
            }, other: ("raw", Bytes(bytes: 3)))),
            (name: "after", kind: Int(bits: 8), when: "tag < 9"),
        ]))"#,
    );
    assert_eq!(
        shown(&l, &[1, 5, 6, 0, 3, 7, 8, 9, 9, 1, 2, 3]),
        [
            "rows[0].tag=1",
            "rows[0].value=5",
            "rows[0].after=6",
            "rows[1].tag=3",
            "rows[1].value.x=7",
            "rows[1].value.y=8",
            "rows[1].after=9",
            "rows[2].tag=9",
            "rows[2].raw=01 02 03"
        ]
    );
}

#[test]
fn a_chain_goes_from_record_to_record_up_to_its_end() {
    let l = layout(
        r#"(name: "records", kind: Chain(
            head: [(name: "first", kind: Int(bits: 8)), (name: "long", kind: Int(bits: 16, order: Little), when: "first >= 0x80")],
            tag: "if(first >= 0x80, first, first >> 3)", size: "if(first >= 0x80, long, first & 7)",
            until: "first == 0x78", of: {0x82: ("name", Text), 15: ("end", Bytes)}, other: Bytes,
        )), (name: "rest", kind: Int(bits: 8))"#,
    );
    assert_eq!(
        shown(&l, &[0x82, 2, 0, b'H', b'i', 0x0A, 1, 2, 0x78, 9]),
        [
            "records[0].first=130",
            "records[0].long=2",
            "records[0].name=Hi",
            "records[1].first=10",
            "records[1].value=01 02",
            "records[2].first=120",
            "records[2].end=",
            "rest=9"
        ]
    );
}

#[test]
fn a_table_ends_where_its_condition_says() {
    let l = layout(
        r#"(name: "names", size: "image - 1", kind: Table(going: "byte(0) != 0xC1", of: [
            (name: "length", kind: Int(bits: 8)), (name: "text", size: "length", kind: Text)])),
           (name: "sum", at: -1, from: End, kind: Int(bits: 8))"#,
    );
    assert_eq!(
        shown(&l, &[1, b'a', 2, b'b', b'c', 0xC1, 0, 7]),
        ["names[0].length=1", "names[0].text=a", "names[1].length=2", "names[1].text=bc", "sum=7"]
    );
}

#[test]
fn a_group_may_hold_its_own_size() {
    let l = layout(
        r#"(name: "area", size: "8 * area.length", kind: Group(of: [
            (name: "length", at: 1, kind: Int(bits: 8)), (name: "sum", at: -1, from: End, kind: Int(bits: 8))],
            checks: [(name: "sum", over: ("0", "size(area)"), stored: "sum", by: "SUM-8", stored_bytes: Included)])),
           (name: "after", kind: Int(bits: 8))"#,
    );
    let decoded = decode(&l, &Image::raw(vec![0, 1, 0, 0, 0, 0, 0, 0xFF, 5]));
    assert_eq!(decoded.field("after").unwrap().text, "5");
    assert_eq!(decoded.field("area.sum").unwrap().spans, [Span::new(7, 8)]);
    assert_eq!((decoded.checks[0].name.as_str(), decoded.checks[0].seal), ("area.sum", Seal::Sealed));
}

#[test]
fn the_end_of_a_group_waits_for_the_field_that_tells_its_size() {
    let l = layout(
        r#"(name: "area", size: "area.length", kind: Group(of: [
            (name: "sum", at: -1, from: End, kind: Int(bits: 8)), (name: "length", at: 0, kind: Int(bits: 8))]))"#,
    );
    assert_eq!(shown(&l, &[3, 0, 7, 9]), ["area.sum=7", "area.length=3"]);
}

#[test]
fn bits_are_picked_and_gathered_and_put_back() {
    let l = layout(
        r#"(name: "mode", at: 0, low: 4, kind: Int(bits: 3)),
           (name: "wide", kind: Int(bits: 12), pieces: [(at: 2, low: 4, bits: 4), (at: 1)])"#,
    );
    let bytes = [0b1101_1111, 0xCD, 0xBA];
    assert_eq!(shown(&l, &bytes), ["mode=5", "wide=3021"]);
    let image = Image::raw(bytes.to_vec());
    let field = decode(&l, &image).field("mode").unwrap().clone();
    assert_eq!(field.bits, Some((4, 3)));
    assert_eq!(apply(&bytes, &set(&l, &image, "mode", "2").unwrap()), [0b1010_1111, 0xCD, 0xBA]);
    assert_eq!(apply(&bytes, &set(&l, &image, "wide", "0x123").unwrap()), [0b1101_1111, 0x23, 0x1A]);
}

#[test]
fn the_order_of_picked_bits_stands_beside_the_field() {
    let in_kind =
        ["Int(bits: 16, order: Little)", "Int(bits: 32, words: Little)", "Float(bits: 32, order: Little)"];
    for kind in in_kind {
        let told = problems(&format!(r#"(name: "a", at: 0, low: 0, kind: {kind})"#), "");
        assert!(told[0].contains("another order than the field"), "{told:?}");
    }
    let l = layout(
        r#"(name: "a", at: 0, low: 0, order: Little, kind: Int(bits: 16)),
           (name: "b", at: 0, low: 0, kind: Int(bits: 16, order: Big))"#,
    );
    assert_eq!(shown(&l, &[0x34, 0x12]), ["a=4660", "b=13330"]);
}

#[test]
fn copies_are_compared_and_written_together() {
    let l = layout(
        r#"(name: "gain", at: 0, kind: Int(bits: 16), copies: [(at: 4, inverted: true)]),
           (name: "group", at: 8, copies: [(at: 12)], kind: Group(of: [(name: "a", kind: Int(bits: 8)), (name: "b", kind: Int(bits: 8))]))"#,
    );
    let bytes = [1, 2, 0, 0, 0xFE, 0xFD, 0, 0, 5, 6, 0, 0, 5, 6];
    let image = Image::raw(bytes.to_vec());
    let decoded = decode(&l, &image);
    assert_eq!(decoded.findings, []);
    assert_eq!(decoded.leaf_at(13).unwrap().path, "group.b");
    let after = apply(&bytes, &set(&l, &image, "gain", "0x0304").unwrap());
    assert_eq!(&after[..6], &[3, 4, 0, 0, 0xFC, 0xFB]);
    let after = apply(&bytes, &set(&l, &image, "group.b", "9").unwrap());
    assert_eq!(&after[8..], &[5, 9, 0, 0, 5, 9]);
    let mut odd = bytes;
    odd[5] = 0;
    let decoded = decode(&l, &Image::raw(odd.to_vec()));
    assert_eq!(decoded.findings[0].code, crate::finding::Code::CopiesDiffer);
}

#[test]
fn a_copy_of_bits_leaves_the_other_bits_of_its_bytes_alone() {
    let l = layout(
        r#"(name: "mode", at: 0, low: 4, kind: Int(bits: 3), copies: [(at: 1), (at: 2, inverted: true)])"#,
    );
    let bytes = [0b0101_1111, 0b1101_0000, 0b1010_1010];
    let image = Image::raw(bytes.to_vec());
    assert_eq!(decode(&l, &image).findings, []);
    let after = apply(&bytes, &set(&l, &image, "mode", "2").unwrap());
    assert_eq!(after, [0b0010_1111, 0b1010_0000, 0b1101_1010]);
}

#[test]
fn of_a_number_that_does_not_fill_its_bytes_only_its_own_bits_are_compared_written_and_at_rest() {
    for (order, kind) in [("Big", "Int(bits: 12)"), ("Little", "Int(bits: 12, order: Big)")] {
        let l = layout(&format!(
            r#"(name: "count", at: 0, kind: {kind}, copies: [(at: 2), (at: 4, inverted: true)], role: Record, rest: 0xFF)"#
        ));
        // The upper four bits of the first byte are none of the field's.
        let bytes = [0xA1, 0x23, 0x51, 0x23, 0x7E, 0xDC];
        let image = Image::raw(bytes.to_vec());
        assert_eq!(decode(&l, &image).findings, [], "{order}");
        assert_eq!(shown(&l, &bytes), ["count=291"]);
        let after = apply(&bytes, &set(&l, &image, "count", "0x456").unwrap());
        assert_eq!(after, [0xA4, 0x56, 0x54, 0x56, 0x7B, 0xA9]);
        let rested = apply(&bytes, &to_rest(&l, &image, "count").unwrap());
        assert_eq!(rested, [0xAF, 0xFF, 0x5F, 0xFF, 0x70, 0x00]);
        let field = decode(&l, &Image::raw(rested)).field("count").unwrap().clone();
        assert_eq!(field.at_rest, Some(true));
        let mut other = bytes;
        other[3] ^= 1;
        assert_eq!(
            decode(&l, &Image::raw(other.to_vec())).findings[0].code,
            crate::finding::Code::CopiesDiffer
        );
    }
}

#[test]
fn a_copy_that_is_not_in_the_image_whole_is_not_written() {
    let l = layout(
        r#"(name: "wide", kind: Int(bits: 16), pieces: [(at: 4), (at: 0)], copies: [(at: 7), (at: 5, inverted: true)])"#,
    );
    let bytes = [0x34, 0xCB, 0, 0, 0x12, 0xED];
    let image = Image::raw(bytes.to_vec());
    assert_eq!(decode(&l, &image).findings, []);
    let after = apply(&bytes, &set(&l, &image, "wide", "0x1235").unwrap());
    assert_eq!(after, [0x35, 0xCA, 0, 0, 0x12, 0xED]);
}

#[test]
fn many_inverted_copies_are_all_written_inverted() {
    let copies: String = (1..=16).map(|n| format!("(at: {}, inverted: true),", n * 5)).collect();
    let pieces = "(at: 0), (at: 1), (at: 2), (at: 3), (at: 4)";
    let l =
        layout(&format!(r#"(name: "wide", kind: Int(bits: 40), pieces: [{pieces}], copies: [{copies}])"#));
    let mut bytes = vec![0xFF; 85];
    bytes[..5].fill(0);
    let image = Image::raw(bytes.clone());
    assert_eq!(decode(&l, &image).findings, []);
    let after = apply(&bytes, &set(&l, &image, "wide", "1").unwrap());
    assert!(after[5..].chunks(5).all(|copy| copy == [0xFF, 0xFF, 0xFF, 0xFF, 0xFE]), "{after:?}");
}

#[test]
fn a_value_that_others_hang_on_is_refused_with_what_would_move() {
    let l = layout(
        r#"(name: "count", kind: Int(bits: 8)), (name: "rows", kind: Table(rows: "count", of: Int(bits: 8))), (name: "tail", kind: Int(bits: 8))"#,
    );
    let image = Image::raw(vec![2, 7, 8, 9, 10]);
    let refusal = set(&l, &image, "count", "3").unwrap_err();
    assert!(
        refusal.what.starts_with("count says where other fields lie: rows, tail and rows[2]"),
        "{}",
        refusal.what
    );
    assert_eq!(set(&l, &image, "count", "2").unwrap().edits, []);
}

#[test]
fn a_cut_image_decodes_as_far_as_it_goes() {
    let layout = read(SKETCH).unwrap();
    let decoded = decode(&layout, &Image::raw(sketch_image()[..0x54].to_vec()));
    assert_eq!(decoded.field("part_number").unwrap().text, "FK-2047-01B");
    assert_eq!(decoded.field("serial").unwrap().state, FieldState::Absent);
    assert_eq!(decoded.checks[0].seal, Seal::Unreadable);
    let codes: Vec<_> = decoded.findings.iter().map(|f| f.code.word()).collect();
    assert!(codes.contains(&"field-absent") && codes.contains(&"check-unreadable"), "{codes:?}");
}

#[test]
fn computed_values_are_shown_and_never_set() {
    let l = layout(
        r#"(name: "code", kind: Int(bits: 8)), (name: "size", kind: Computed("1 << (code & 0x0F)"), unit: "MiB"),
           (name: "clock", kind: Computed("byte(1) + 256 * byte(2)"), scale: 0.01, unit: "MHz"),
           (name: "grade", kind: Computed(as: "code >> 4", of: {1: "B"}))"#,
    );
    assert_eq!(shown(&l, &[0x13, 0x34, 0x12]), ["code=19", "size=8", "clock=46.60", "grade=B"]);
    let signed = layout(
        r#"(name: "a", kind: Computed(as: "byte(0) - 1", of: {-1: "none"})),
           (name: "b", kind: Computed("byte(0) + 1"), scale: "1/256", offset: 10)"#,
    );
    assert_eq!(shown(&signed, &[0]), ["a=none", "b=10.004"]);
    let refusal = set(&l, &Image::raw(vec![0x13, 0x34, 0x12]), "size", "4").unwrap_err();
    assert!(refusal.what.contains("worked out"));
}

#[test]
fn blocks_have_checks_of_their_own() {
    let l = layout(
        r#"(name: "blocks", kind: Table(rows: 2, stride: 4, checks: [
            (name: "sum", over: (0, 4), stored: (at: 3, bytes: 1), by: "SUM-8", stored_bytes: Included)],
            of: [(name: "data", at: 0, kind: Bytes(bytes: 3)), (name: "sum", at: 3, kind: Int(bits: 8), role: Check)]))"#,
    );
    let bytes = [1, 2, 3, 250, 1, 1, 1, 0];
    let image = Image::raw(bytes.to_vec());
    let decoded = decode(&l, &image);
    let seals: Vec<_> = decoded.checks.iter().map(|c| (c.name.as_str(), c.seal)).collect();
    assert_eq!(seals, [("blocks[0].sum", Seal::Sealed), ("blocks[1].sum", Seal::Broken)]);
    assert_eq!(apply(&bytes, &reseal(&l, &image, &[]).unwrap()), [1, 2, 3, 250, 1, 1, 1, 253]);
}

#[test]
fn checks_over_stored_checks_are_sealed_last_and_rings_are_refused() {
    let inner = r#"(name: "whole", over: (0, 6), stored: (at: 6, bytes: 1), by: "SUM-8"),
                   (name: "part", over: (0, 3), stored: (at: 3, bytes: 1), by: "SUM-8")"#;
    let l = layout_with(r#"(name: "a", at: 0, kind: Bytes(bytes: 3))"#, &format!("checks: [{inner}]"));
    let bytes = [1, 2, 3, 0, 0, 0, 0];
    assert_eq!(apply(&bytes, &reseal(&l, &Image::raw(bytes.to_vec()), &[]).unwrap()), [1, 2, 3, 6, 0, 0, 12]);
    let ring = r#"(name: "x", over: (0, 2), stored: (at: 2, bytes: 1), by: "SUM-8"),
                  (name: "y", over: (2, 4), stored: (at: 1, bytes: 1), by: "SUM-8")"#;
    let l = layout_with(r#"(name: "a", at: 0, kind: Bytes(bytes: 1))"#, &format!("checks: [{ring}]"));
    let refusal = reseal(&l, &Image::raw(vec![1, 2, 3, 4]), &[]).unwrap_err();
    assert!(refusal.what.contains("x → y → x") || refusal.what.contains("y → x → y"), "{}", refusal.what);
}

#[test]
fn the_best_marks_win_and_a_wrong_size_comes_last() {
    let marked = |marks: &str, bytes: &str| {
        layout_with(
            r#"(name: "a", at: 0, kind: Int(bits: 8))"#,
            &format!("fits: (bytes: {bytes}, marks: [{marks}])"),
        )
    };
    let list = [
        marked(r#"(at: 0, text: "AB")"#, "[16]"),
        marked(r#"(at: 0, text: "ABCD")"#, "[16]"),
        marked(r#"(at: 0, text: "ABCD"), (at: 4, hex: "00 00")"#, "[8]"),
        marked(r#"(at: 0, text: "AX")"#, "[16]"),
        marked(r#"(at: 0, any: ["41 40", "41 42"], mask: "FF F0")"#, "[(from: 8, to: 32, step: 8)]"),
    ];
    let mut bytes = b"ABCD".to_vec();
    bytes.resize(16, 0);
    let fits = fits(&list, &Image::raw(bytes));
    let seen: Vec<_> = fits.iter().map(|f| (f.index, f.bits, f.sized)).collect();
    assert_eq!(seen, [(1, 32, true), (0, 16, true), (4, 11, true), (2, 48, false)]);
}

#[test]
fn what_means_nothing_in_a_mark_is_told() {
    for mark in [
        r#"(at: 0, text: "AB", bits: 9)"#,
        r#"(holds: "1", mask: "FF")"#,
        r#"(sealed: "a", mask: "FF")"#,
        r#"(at: 0, text: "AB", hex: "00")"#,
    ] {
        let found = problems("", &format!("fits: (marks: [{mark}])"));
        assert_eq!(found, ["this is no mark"], "{mark}");
    }
}

#[test]
fn what_is_more_than_a_layout_may_hold_is_told_and_never_cut() {
    let many = |one: &str| vec![one; 65].join(", ");
    for (fits, wanted) in [
        (format!("marks: [(at: 0, any: [{}])]", many("\"01\"")), "65 byte strings"),
        (format!("bytes: [{}], marks: []", many("8")), "65 sizes"),
        (format!("marks: [{}]", many("(at: 0, hex: \"01\")")), "65 marks"),
    ] {
        assert_eq!(problems("", &format!("fits: ({fits})")), [wanted]);
    }
    let shapes: String = (0..70).map(|n| format!("{n}: [(name: \"x\", kind: Int(bits: 8))],")).collect();
    let choice = format!(r#"(name: "v", kind: ByTag(tag: "byte(0)", shapes: {{{shapes}}}))"#);
    let asks = r#"(name: "y", at: "v.x", kind: Int(bits: 8))"#;
    let found = problems(&format!("{choice}, {asks}"), "");
    assert_eq!(found, ["the name v.x can mean more than 64 fields"]);
    let far = format!("{}0", i128::MAX);
    let text = text_of(&format!("(name: \"a\", at: {far}, kind: Int(bits: 8))"), "");
    let told = told(&text, &read(&text).unwrap_err());
    assert!(told[0].ends_with("expected an offset, a whole number of at most 64 bits"), "{told:?}");
}

#[test]
fn every_problem_is_told_at_once_with_its_place() {
    let text = r#"(
    layout: "x", format: 2,
    fields: [
        (name: "a b", at: 0, kind: Int(bits: 99)),
        (name: "c", at: "nmae + 1", kind: Imt(bits: 8)),
        (name: "name", at: 3, kind: Int(bits: 8), rol: Setting, pattern: "["),
        (name: "t", at: 8, kind: Table(rows: 2, stride: 2, of: [(name: "w", at: 1, kind: Int(bits: 16))])),
    ],
    checks: [(name: "k", over: [(4, 4)], stored: (at: 1, bytes: 2), by: "CRC-16/XMODEN")],
)"#;
    let problems = read(text).unwrap_err();
    let lines: Vec<_> = told(text, &problems);
    let expect = [
        "t.ron:1:1: a layout has no entry source",
        "t.ron:2:26: 2 is not fit",
        "t.ron:4:16: \"a b\" cannot be a name",
        "t.ron:4:46: 99 is not fit",
        "t.ron:5:26: there is no field nmae",
        "t.ron:5:43: Imt(…: …) is no kind of field",
        "t.ron:6:51: the field name has no entry rol;",
        "t.ron:6:74: \"[\" is no regular expression",
        "t.ron:7:72: the field w at 0x0001..0x0003 reaches past its row of 2 bytes",
        "t.ron:9:33: the range from 0x4 to 0x4 holds no byte",
        "t.ron:9:73: no check is called \"CRC-16/XMODEN\"",
    ];
    for (wanted, line) in expect.iter().zip(&lines) {
        assert!(line.starts_with(wanted), "{wanted}\n{line}");
    }
    assert_eq!(lines.len(), expect.len(), "{lines:?}");
}

#[test]
fn lint_remarks_on_overlaps_and_holes() {
    let text = text_of(
        r#"(name: "a", at: 0, kind: Int(bits: 16)), (name: "b", at: 1, kind: Int(bits: 8), role: Record)"#,
        r#"fits: (bytes: [4], marks: [(at: 0, hex: "01")])"#,
    );
    let (layout, remarks) = lint(&text);
    assert!(layout.is_some());
    let said: Vec<_> = remarks.iter().map(|r| r.problem.what.as_str()).collect();
    assert_eq!(
        said,
        [
            "2 of 4 bytes belong to no field: 0x0002..0x0004",
            "the field b at 0x0001..0x0002 lies over a at 0x0000..0x0002",
            "the field b is a Record without a rest value",
            "the marks of this alternative give 8 bits of evidence",
        ]
    );
}

#[test]
fn lint_knows_where_what_follows_bits_lies() {
    let fits = r#"fits: (bytes: [6], marks: [(at: 0, hex: "01 02")])"#;
    let group = r#"(name: "g", at: 0, kind: Group(of: [
            (name: "low", at: 0, low: 0, kind: Int(bits: 4)), (name: "high", at: 0, low: 4, kind: Int(bits: 4)),
        ])), (name: "wide", kind: Int(bits: 16), pieces: [(at: 2), (at: 1)]), (name: "rest", kind: Bytes(bytes: 3))"#;
    let (_, remarks) = lint(&text_of(group, fits));
    assert_eq!(remarks, []);
    // What counts from the start of the image may lie outside its row.
    layout(
        r#"(name: "t", kind: Table(rows: 2, stride: 1, of: [
            (name: "x", kind: Int(bits: 8), pieces: [(at: 9, from: Image)])]))"#,
    );
    // Places beyond all numbers are no places.
    let far = i64::MAX;
    let deep = format!(
        r#"(name: "a", at: {far}, kind: Group(of: [(name: "b", at: {far}, kind: Group(of: [
            (name: "c", at: {far}, low: 0, kind: Int(bits: 4)), (name: "d", kind: Int(bits: 8))]))]))"#
    );
    assert!(lint(&text_of(&deep, "")).0.is_some());
}

#[test]
fn rows_that_are_odd_in_the_same_way_are_counted_after_the_third() {
    let l = layout(
        r#"(name: "t", kind: Table(rows: 9, of: [(name: "x", kind: Choice(bits: 8, of: {1: "one"}))]))"#,
    );
    let decoded = decode(&l, &Image::raw(vec![1, 7, 7, 7, 7, 7, 7, 7, 1]));
    let seen: Vec<_> = decoded.findings.iter().map(|f| f.seen.as_str()).collect();
    assert_eq!(seen.len(), 4, "{seen:?}");
    assert_eq!(seen[3], "x: 4 more rows are odd in this way");
    assert_eq!(decoded.findings[3].place, Some(Span::new(4, 8)));
}

#[test]
fn a_table_with_a_wrong_number_of_rows_is_told_where_it_lies() {
    let l = layout(
        r#"(name: "n", kind: Int(bits: 16)), (name: "t", at: 4, kind: Table(rows: "2 * n", of: Int(bits: 8)))"#,
    );
    for (count, why, at) in [
        ([0xFF, 0xFF], "131070 rows are asked for", Span::new(4, 4)),
        ([0, 4], "rows from [2] on lie outside the image", Span::new(4, 6)),
    ] {
        let bytes = [&count[..], &[0, 0, 7, 8]].concat();
        let decoded = decode(&l, &Image::raw(bytes));
        assert!(decoded.findings[0].seen.contains(why), "{:?}", decoded.findings);
        assert_eq!(decoded.findings[0].place, Some(at));
    }
}

#[test]
fn a_value_that_the_layout_does_not_expect_is_told_by_its_code_and_weight() {
    let told = |field: &str, bytes: &[u8]| -> Vec<(Code, Weight)> {
        let decoded = decode(&layout(field), &Image::raw(bytes.to_vec()));
        decoded.findings.iter().map(|f| (f.code, f.weight)).collect()
    };
    let number = r#"(name: "a", at: 0, kind: Int(bits: 8), min: 10, max: 20)"#;
    assert_eq!((told(number, &[10]), told(number, &[20])), (vec![], vec![]));
    assert_eq!(told(number, &[9]), [(Code::OutOfRange, Weight::Doubt)]);
    assert_eq!(told(number, &[21]), [(Code::OutOfRange, Weight::Doubt)]);
    let text = r#"(name: "a", at: 0, kind: Text(bytes: 3), pattern: "[0-9]+")"#;
    assert_eq!(told(text, b"123"), []);
    assert_eq!(told(text, b"12A"), [(Code::PatternUnmet, Weight::Doubt)]);
    let reserved = r#"(name: "a", at: 0, kind: Int(bits: 8), role: Reserved, rest: 0)"#;
    assert_eq!(told(reserved, &[0]), []);
    assert_eq!(told(reserved, &[1]), [(Code::ReservedUsed, Weight::Note)]);
}

#[test]
fn entries_that_mean_nothing_beside_their_kind_are_told() {
    for (fields, wanted) in [
        (
            r#"(name: "g", at: 0, low: 3, kind: Group(of: []))"#,
            "the field g is a Group and lies in whole bytes",
        ),
        (r#"(name: "g", min: 3, kind: Group(of: []))"#, "the field g is a Group and has no value"),
        (
            r#"(name: "t", rest: "4", kind: Table(rows: 1, of: []))"#,
            "the field t is a Table and has no value",
        ),
        (r#"(name: "c", at: 3, kind: Computed("1"))"#, "the field c is a Computed and has no bytes"),
        (r#"(name: "g", unit: "V", kind: Group(of: []))"#, "a Group has no scale, offset or unit"),
        (r#"(name: "t", scale: 2, kind: Table(rows: 1, of: []))"#, "a Table has no scale, offset or unit"),
        (r#"(name: "b", at: 0, low: 3, kind: ByTag(tag: "1", shapes: {1: Int(bits: 7)}))"#, ""),
        (
            r#"(name: "b", kind: ByTag(tag: "1", shapes: {"1..4": Int(bits: 8), 2: Int(bits: 8)}))"#,
            "the shape for 2 is never reached",
        ),
        (
            r#"(name: "b", kind: ByTag(tag: "1", shapes: {"1..4": Int(bits: 8), "3..9": Int(bits: 8)}))"#,
            "the shape for \"3..9\" shares tags with one before it",
        ),
        (
            r#"(name: "x", kind: Int(bits: 8)), (name: "x", kind: Int(bits: 8))"#,
            "the name x is that of two fields of one list",
        ),
        (
            r#"(name: "t", kind: Table(going: "x == 1", of: [(name: "x", kind: Int(bits: 8))]))"#,
            "the field x is not known before its row",
        ),
        (
            r#"(name: "t", kind: Table(rows: 1, of: Int(bits: 8))), (name: "x", at: "t.y", kind: Int(bits: 8))"#,
            "the name t.y leads nowhere",
        ),
        (
            r#"(name: "low", low: 6, kind: Int(bits: 3), in_bytes: 1)"#,
            "3 bits from bit 6 do not fit into 1 byte",
        ),
    ] {
        if wanted.is_empty() {
            layout(fields);
        } else {
            assert_eq!(problems(fields, ""), [wanted], "{fields}");
        }
    }
}
