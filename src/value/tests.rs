//! What every kind promises, run over the table.

use std::sync::LazyLock;

use proptest::prelude::*;

use crate::notation::{self, get::hex_bytes};
use crate::span::ByteOrder;

use super::{Example, Kind, Row, Size, Value, rows};

fn examples() -> impl Iterator<Item = &'static Example> {
    rows().flat_map(|row| row.examples)
}

fn kind(ron: &str) -> Kind {
    let mut problems = Vec::new();
    let kind = Kind::read(&notation::parse(ron).unwrap(), &mut problems);
    assert_eq!(problems, [], "{ron}");
    kind.unwrap()
}

fn scaled(ron: &str, scale: &str) -> Kind {
    let mut problems = Vec::new();
    let scale = notation::parse(scale).unwrap();
    let kind = kind(ron).presented(Some(&scale), None, None, &mut problems);
    assert_eq!(problems, []);
    kind.unwrap()
}

/// The problems of a kind, each as its three sentences.
fn problems(ron: &str) -> Vec<String> {
    let mut problems = Vec::new();
    let kind = Kind::read(&notation::parse(ron).unwrap(), &mut problems);
    assert!(kind.is_none() || !problems.is_empty());
    problems
        .iter()
        .map(|p| format!("{}; {}; {}", p.what, p.expected, p.fix.as_deref().unwrap_or("")))
        .collect()
}

#[test]
fn every_example_shows_its_text_and_comes_back_from_it() {
    for example in examples() {
        let kind = kind(example.ron);
        let bytes = hex_bytes(example.bytes).unwrap();
        let what = example.ron;
        assert!(kind.size().bytes().is_none_or(|n| n == bytes.len()), "{what}: {:?}", kind.size());
        if kind.size() == Size::Found {
            let mut longer = bytes.clone();
            longer.extend([0x55; 4]);
            assert_eq!(kind.extent(&longer), Some(bytes.len()), "{what}");
        }
        let seen = kind.decode(&bytes, example.order);
        assert_eq!(kind.show(&seen.value), example.text, "{what}");
        let typed = kind.parse(example.text).unwrap_or_else(|e| panic!("{what}: {e}"));
        assert_eq!(typed, seen.value, "{what}");
        // A field that tells its own size tells its coding in its first byte.
        let kept = usize::from(kind.size() == Size::Found);
        let mut blank = vec![0; bytes.len()];
        blank[..kept].copy_from_slice(&bytes[..kept]);
        assert_eq!(kind.encode(&typed, &blank, example.order).unwrap(), bytes, "{what}");
    }
}

#[test]
fn every_example_has_its_source_or_says_that_it_has_none() {
    for example in examples() {
        let source = example.source.trim();
        let is_said = source.contains("no source") || source.contains("from memory");
        assert!(is_said || source.len() >= 4, "{}: where does {:?} come from?", example.ron, example.source);
    }
}

#[test]
fn every_row_documents_exactly_the_options_it_takes() {
    for row in rows() {
        let told =
            problems(&format!("{}(zzzz: 1)", row.name)).into_iter().find(|p| p.contains("zzzz")).unwrap();
        let expected = told.split("; ").nth(1).unwrap();
        let taken = expected.strip_prefix("one of ").unwrap_or("");
        let mut taken: Vec<&str> = taken.split(", ").filter(|n| !n.is_empty()).collect();
        let mut told: Vec<&str> = row.options.iter().map(|o| o.name).collect();
        taken.sort_unstable();
        taken.dedup();
        told.sort_unstable();
        assert_eq!(told, taken, "{}", row.name);
    }
}

#[test]
fn names_are_unique_and_docs_are_one_sentence() {
    let mut names: Vec<_> = rows().map(|row| row.name).collect();
    names.sort_unstable();
    let all = names.len();
    names.dedup();
    assert_eq!(names.len(), all);
    for row in rows() {
        assert!(!row.examples.is_empty(), "{} has no example", row.name);
        assert!(!row.doc.ends_with('.') && !row.doc.contains('\n'), "{}", row.name);
        assert!(row.options.iter().all(|o| !o.doc.ends_with('.')), "{}", row.name);
    }
}

#[test]
fn a_mistake_in_a_kind_is_told_with_what_was_expected() {
    for (ron, parts) in [
        ("Imt(bits: 8)", &["Imt(…: …) is no kind of field", "did you mean Int?"][..]),
        ("Int(bits: 65)", &["65 is not fit", "from 1 to 64"]),
        ("Int(bits: 8, bytes: 1)", &["both bits and bytes", "take one out"]),
        ("Int", &["the size is missing", "bits: 16"]),
        ("Int(bits: 24, words: Little)", &["24 bits do not fill 16-bit words"]),
        ("Int(bits: 8, sined: true)", &["no entry sined", "did you mean signed?"]),
        ("Float(bits: 24)", &["24 is not fit", "16, 32 or 64"]),
        ("Choice(bits: 2, of: {4: \"a\"})", &["4 is no number of the list", "from 0 to 3"]),
        ("Choice(bits: 8, of: {1: \"a\", \"0 to 3\": \"b\"})", &["is already \"a\""]),
        ("Choice(bits: 8)", &["no entry of"]),
        ("Flags(bits: 8, of: {8: \"a\"})", &["8 is not fit", "from 0 to 7"]),
        ("Flags(bits: 8, of: [\"a\", \"A\"])", &["name of another bit"]),
        ("Text(bytes: 3, code: Utf16)", &["3 bytes are no whole words"]),
        ("Text(bytes: 3, pad: \"ab\")", &["\"ab\" is not fit", "one character"]),
        ("Bcd(digits: 0)", &["0 is not fit"]),
        ("Date(form: \"YY DD\")", &["is no date or time"]),
        ("Date(form: \"YY MO\")", &["\"MO\" is no part of a date"]),
        ("Since(bits: 8, count: Years, from: \"2000-01-01\")", &["Years", "Seconds, Minutes"]),
        ("Since(bits: 8, count: Days, from: \"2000-13-01\")", &["is no date"]),
        ("Eui(bytes: 5)", &["5 is not fit", "3, 6 or 8"]),
    ] {
        let told = problems(ron).join("\n");
        assert!(parts.iter().all(|part| told.contains(part)), "{ron}: {told}");
    }
}

#[test]
fn typed_nonsense_is_refused_with_the_text_quoted_and_what_was_expected() {
    for (ron, typed, part) in [
        ("Int(bits: 8)", "256", "0 to 255"),
        ("Int(bits: 8)", "-1", "0 to 255"),
        ("Int(bits: 8)", "", "a whole number"),
        ("Int(bits: 8)", "1 2", "a whole number"),
        ("Int(bits: 8)", "--1", "a whole number"),
        ("Int(bits: 8)", "0x-1", "a whole number"),
        ("Int(bits: 8, sign: Ones)", "-128", "-127 to 127"),
        // What the standard library reads as a number is not what a person types as one.
        ("Int(bits: 8)", "4_", "a whole number"),
        ("Int(bits: 8)", "_4", "a whole number"),
        ("Int(bits: 8)", "0x_4", "a whole number"),
        ("Int(bits: 8)", "0x+4", "a whole number"),
        ("Int(bits: 8)", "\u{664}", "a whole number"),
        ("Text(bytes: 6, code: Latin1)", "ÿ", "ends with what is read as blank"),
        ("Text(bytes: 6, pad: \" \", align: Right)", "\\x00A", "begins with what is read as blank"),
        ("Flags(bits: 8, of: [\"fan\"])", "bit +3", "the name of no bit"),
        ("Date(form: \"YYYY MM DD\")", "+2024-03-15", "2024-03-15"),
        ("Date(form: \"YYYY MM DD\")", "2024-+3-15", "2024-03-15"),
        ("Date(form: \"hh mm\")", "+9:30", "12:00"),
        ("Maker", "bank +1 code 0x2C", "bank"),
        ("Maker", "bank 1 code 0x+C", "bank"),
        ("Text(bytes: 1)", "AB", "has 2 ASCII characters; expected at most 1"),
        ("Float(bits: 32)", "1e39", "32 bits"),
        ("Float(bits: 32)", "one", "a number"),
        ("Choice(bits: 8, of: {1: \"low oil\"})", "low oi", "did you mean low oil?"),
        ("Choice(bits: 8, of: {1: \"a\", 2: \"a\"})", "a", "a (number)"),
        ("Flags(bits: 8, of: [\"fan\"])", "fan, fam", "did you mean fan?"),
        ("Text(bytes: 4)", "FK-77", "at most 4"),
        ("Text(bytes: 4)", "é", "ASCII characters"),
        ("Text(bytes: 4, end: 0x0A)", "a\\x0A", "without it"),
        ("Bcd(digits: 4)", "123", "4 digits"),
        ("Bcd(digits: 4)", "12a4", "4 digits"),
        ("Date(form: \"YY MM DD\")", "2023-02-29", "2024-03-15"),
        ("Date(form: \"YY MM DD\")", "1999-01-01", "from 2000 to 2099"),
        ("Date(form: \"YY MM DD\")", "2024-01-01 10:00", "2024-03-15"),
        ("Date(form: \"YY WW\")", "2024-W55", "2024-W12"),
        ("Since(bits: 8, count: Days, from: \"2000-01-01\")", "2001-01-01", "2000-01-01 to 2000-09-12"),
        (
            "Since(bits: 16, count: Minutes, from: \"2000-01-01\")",
            "2000-01-01 00:00:30",
            "2000-01-01 00:00 or 2000-01-01 00:01",
        ),
        ("Eui", "AC:DE:48:0:0:0", "6 bytes"),
        ("Guid", "f81d4fae", "16 bytes"),
        ("Bytes(bytes: 2)", "AA BB CC", "2 bytes"),
    ] {
        let error = kind(ron).parse(typed).map_err(|e| e.to_string());
        let error = error.expect_err(&format!("{ron} took {typed:?}"));
        assert!(error.contains(part), "{ron} {typed:?}: {error}");
    }
}

#[test]
fn every_kind_says_what_may_be_typed() {
    for (ron, expected) in [
        ("Int(bits: 8, signed: true)", "a whole number from -128 to 127"),
        ("Int(bits: 8, unset: 255)", "a whole number from 0 to 255, or not set"),
        ("Choice(bits: 2, of: [\"off\", \"on\"])", "one of off, on, or its number"),
        ("Text(bytes: 16, pad: \" \")", "at most 16 ASCII characters"),
        ("Text(bytes: 16, code: Utf16)", "at most 8 units of UTF-16"),
        ("Bcd(digits: 10)", "10 digits"),
        ("Date(form: \"YY WW\", unset: 0)", "a date as 2024-W12, or not set"),
        (
            "Since(bits: 8, count: Days, from: \"2000-01-01\")",
            "a date and time from 2000-01-01 to 2000-09-12",
        ),
        ("Version(parts: [4, 4])", "2 whole numbers with points between: 1.1"),
    ] {
        assert_eq!(kind(ron).expects(), expected);
    }
    for kind in MANY.iter() {
        let expected = kind.expects();
        assert!(!expected.is_empty() && !expected.ends_with('.'), "{kind:?}: {expected}");
    }
}

#[test]
fn bits_that_are_not_the_fields_own_are_kept() {
    let kind = kind("Int(bits: 12)");
    assert_eq!(kind.encode(&Value::Int(0x123), &[0xF0, 0x00], ByteOrder::Big).unwrap(), [0xF1, 0x23]);
    assert_eq!(kind.encode(&Value::Int(0x123), &[0x00, 0xF0], ByteOrder::Little).unwrap(), [0x23, 0xF1]);
}

#[test]
fn a_unit_may_be_typed_behind_a_number() {
    let mut problems = Vec::new();
    let [scale, unit] = ["0.1", "\"°C\""].map(|ron| notation::parse(ron).unwrap());
    let kind = kind("Int(bits: 16, signed: true)")
        .presented(Some(&scale), None, Some(&unit), &mut problems)
        .unwrap();
    for typed in ["4.0", "4.0 °C", "4°C", " 4.0 "] {
        assert_eq!(kind.parse(typed).map(|v| kind.show(&v)), Ok("4.0".to_string()), "{typed}");
    }
    assert_eq!(kind.range(), Some(("-3276.8".to_string(), "3276.7".to_string())));
    assert_eq!(kind.unit(), Some("°C"));
}

#[test]
fn what_is_shown_is_typed_whole_even_where_it_ends_in_the_letters_of_the_unit() {
    let with_unit = |ron: &str, unit: &str| {
        let unit = notation::parse(&format!("{unit:?}")).unwrap();
        kind(ron).presented(None, None, Some(&unit), &mut Vec::new()).unwrap()
    };
    for example in examples().filter(|e| !e.text.is_empty()) {
        let value = kind(example.ron).parse(example.text).unwrap();
        for at in example.text.char_indices().map(|(at, _)| at) {
            let kind = with_unit(example.ron, &example.text[at..]);
            assert_eq!(kind.parse(example.text), Ok(value.clone()), "{} with {:?}", example.ron, kind.unit());
        }
    }
    // Nor is a text that is too long made to fit.
    assert!(with_unit("Text(bytes: 4)", "V").parse("24 DCV").is_err());
    assert_eq!(with_unit("Int(bits: 8, base: Hex)", "F").parse("0x1F"), Ok(Value::Int(0x1F)));
}

#[test]
fn a_scale_on_something_that_is_no_number_is_a_problem() {
    let scale = notation::parse("0.1").unwrap();
    for ron in ["Text(bytes: 2)", "Choice(bits: 8, of: [\"a\"])", "Guid", "Float(bits: 32)"] {
        let mut problems = Vec::new();
        assert!(kind(ron).presented(Some(&scale), None, None, &mut problems).is_none(), "{ron}");
        assert!(problems[0].expected.contains("no scale"), "{ron}");
    }
}

#[test]
fn text_with_odd_bytes_or_padding_is_shown_and_called_odd() {
    let kind = kind("Text(bytes: 4, pad: \" \")");
    for (bytes, shown, oddity) in [
        (*b"AB  ", "AB", None),
        (*b"AB\0\0", "AB", Some("padded with 00 where 20 belongs")),
        ([0xFF; 4], "", Some("blank: filled with FF")),
        ([0; 4], "", Some("blank: filled with 00")),
        (*b"A\x1bB ", "A\\x1BB", Some("a control character at place 2")),
        (*b"A\x80B ", "A\\x80B", Some("80 at place 2 is no ASCII")),
        (*b"    ", "", None),
    ] {
        let seen = kind.decode(&bytes, ByteOrder::Big);
        assert_eq!(
            (kind.show(&seen.value).as_str(), seen.oddity.as_deref()),
            (shown, oddity),
            "{bytes:02X?}"
        );
        assert_eq!(kind.encode(&seen.value, &bytes, ByteOrder::Big).unwrap(), bytes);
    }
}

#[test]
fn characters_that_are_more_than_one_byte_are_typed_as_they_are_shown() {
    let kind = kind("Text(bytes: 4, code: Utf8)");
    let seen = kind.decode(&[b'A', 0xC2, 0x85, 0], ByteOrder::Big);
    let shown = kind.show(&seen.value);
    assert_eq!(shown, "A\\u{85}");
    assert_eq!(kind.parse(&shown), Ok(seen.value.clone()));
    assert_eq!(kind.encode(&seen.value, &[0; 4], ByteOrder::Big).unwrap(), [b'A', 0xC2, 0x85, 0]);
}

#[test]
fn labels_have_no_blanks_around_them_and_are_not_empty() {
    for (ron, bytes) in [
        ("Choice(bits: 8, of: {1: \" on \"}, other: \" else \")", [1, 5]),
        ("Bool(bits: 8, no: \" shut \", yes: \" open \")", [0, 1]),
    ] {
        let kind = kind(ron);
        for byte in bytes {
            let seen = kind.decode(&[byte], ByteOrder::Big);
            assert_eq!(kind.parse(&kind.show(&seen.value)), Ok(seen.value), "{ron} {byte}");
        }
    }
    for ron in ["Bool(no: \"\")", "Choice(bits: 8, of: [\"a\"], other: \" \")"] {
        assert!(problems(ron)[0].contains("the label is empty"), "{ron}");
    }
}

#[test]
fn many_digits_are_stored_whatever_the_coding_was_before() {
    let kind = kind("TypeLength");
    let digits = "12".repeat(60);
    let value = kind.parse(&digits).unwrap();
    let stored = kind.encode(&value, &[0xC1, b'?'], ByteOrder::Big).unwrap();
    assert_eq!((stored[0], stored.len()), (0x7C, 61));
    assert_eq!(kind.decode(&stored, ByteOrder::Big).value, value);
}

static MANY: LazyLock<Vec<Kind>> = LazyLock::new(many);

/// Kinds of many forms, beyond the examples.
fn many() -> Vec<Kind> {
    let mut kinds: Vec<Kind> = examples().map(|e| kind(e.ron)).collect();
    kinds.extend([
        scaled("Int(bits: 16, signed: true)", "0.1"),
        scaled("Int(bits: 16, signed: true)", "\"1/256\""),
        scaled("Int(bits: 12, sign: Magnitude)", "-2.5"),
        scaled("Bcd(digits: 5, sign: First)", "0.01"),
        scaled("Bcd(digits: 4, number: true)", "0.1"),
    ]);
    kinds.extend(
        [
            "Int(bits: 1, signed: true)",
            "Int(bits: 64)",
            "Int(bits: 64, signed: true, words: Big, order: Little)",
            "Choice(bits: 5, of: {1: \"2\", 3: \"b\", \"4 to 9\": \"b\", 10: \"b (4)\"}, other: \"else\")",
            "Flags(bits: 5, of: {1: \"a\", 4: \"b\"})",
            "Text(bytes: 6, code: Utf8, end: 0)",
            "Text(bytes: 6, code: Utf16, order: Big, align: Right, pad: \" \")",
            "Text(bytes: 5, end: \";\", pad: 0xFF)",
            "Bcd(digits: 6, order: Little, filler: 0xF)",
            "Bcd(digits: 7, nibbles: LowFirst)",
            "Bcd(digits: 4, zone: 3)",
            "Since(bits: 16, count: Hours, from: \"1980-01-01\", signed: true, unset: [0xFFFF, 0])",
            "Date(form: \"ss mm hh -- DD MM YY\")",
            "Date(form: \"YYYY MM DD\", coded: Binary)",
            "Date(form: \"YYYY MM\", coded: Ascii)",
            "Date(form: \"hh mm\", coded: Binary)",
            "Guid(order: Little)",
        ]
        .map(kind),
    );
    kinds
}

proptest! {
    // Each case tries every kind there is.
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn any_bytes_decode_and_go_back_unchanged(bytes in proptest::collection::vec(any::<u8>(), 0..20), big: bool) {
        let order = if big { ByteOrder::Big } else { ByteOrder::Little };
        for kind in MANY.iter() {
            // Once as they come (any length must be survived), once at the kind's own length.
            let seen = kind.decode(&bytes, order);
            prop_assert_eq!(&kind.encode(&seen.value, &bytes, order).unwrap(), &bytes, "{:?}", kind);
            let _ = (kind.show(&seen.value), kind.extent(&bytes), kind.label(), kind.range());
            let own: Vec<u8> = bytes.iter().copied().cycle().take(kind.size().bytes().unwrap_or(6)).collect();
            if own.is_empty() {
                continue;
            }
            let seen = kind.decode(&own, order);
            prop_assert_eq!(&kind.encode(&seen.value, &own, order).unwrap(), &own, "{:?}", kind);
            // Written over other bytes, the value reads the same.
            if seen.oddity.is_none() {
                let typed = kind.parse(&kind.show(&seen.value));
                prop_assert_eq!(typed.as_ref(), Ok(&seen.value), "{:?} {:02X?}", kind, own);
                let mut blank = vec![0x5A; own.len()];
                if kind.size() == Size::Found {
                    blank[0] = own[0];
                }
                let written = kind.encode(&seen.value, &blank, order).unwrap();
                prop_assert_eq!(&kind.decode(&written, order).value, &seen.value, "{:?} {:02X?}", kind, own);
                let again = kind.encode(&kind.decode(&blank, order).value, &written, order);
                let back = again.and_then(|bytes| kind.encode(&seen.value, &bytes, order));
                if let Ok(back) = back {
                    prop_assert_eq!(back, written, "{:?}", kind);
                }
            }
        }
    }

    #[test]
    fn any_number_gathered_from_bits_goes_back_unchanged(number: u128) {
        for kind in MANY.iter() {
            let width = match kind.size() {
                Size::Bits(bits) => bits,
                Size::Bytes(bytes) if bytes <= 16 => u32::try_from(bytes * 8).unwrap(),
                _ => continue,
            };
            let number = number & (u128::MAX >> (128 - width));
            let seen = kind.decode_number(number);
            prop_assert_eq!(kind.encode_number(&seen.value, number), Ok(number));
        }
    }

    #[test]
    fn any_typed_text_is_taken_or_refused_and_what_is_taken_can_be_stored(typed in "\\PC{0,12}|[-0-9a-fA-Fx.: W]{0,20}") {
        for kind in MANY.iter() {
            if let Ok(value) = kind.parse(&typed) {
                let old = vec![0; kind.size().bytes().unwrap_or(40)];
                let bytes = kind.encode(&value, &old, ByteOrder::Little);
                prop_assert!(bytes.is_ok(), "{:?} {typed:?} {bytes:?}", kind);
                let seen = kind.decode(&bytes.unwrap(), ByteOrder::Little);
                prop_assert_eq!(&kind.show(&seen.value), &kind.show(&value), "{:?} {:?}", kind, typed);
            }
        }
    }
}

/// Values that an option might be given, sensible and not.
fn pool(option: &str) -> &'static [&'static str] {
    match option {
        "bits" => &["1", "3", "7", "8", "12", "16", "24", "31", "32", "48", "63", "64", "0", "65"],
        "bytes" => &["1", "2", "3", "4", "6", "8", "9", "16", "0", "-1"],
        "digits" => &["1", "2", "5", "8", "17", "18", "19", "38", "64", "65"],
        "letters" | "continued" => &["1", "2", "3", "8", "12", "16"],
        "fraction" => &["1", "4", "8", "16", "31", "32", "33"],
        "order" | "words" => &["Big", "Little", "Mixed"],
        "signed" | "swapped" | "unpacked" | "number" | "wide" => &["true", "false"],
        "sign" => &["Twos", "Ones", "Magnitude", "First", "Last"],
        "code" => &["Ascii", "Latin1", "Utf8", "Utf16"],
        "coded" => &["Bcd", "Binary", "Ascii"],
        "count" => &["Seconds", "Minutes", "Hours", "Days", "Weeks"],
        "from" => {
            &["\"1970-01-01\"", "\"0001-01-01\"", "\"9999-12-31 23:59:59\"", "2000", "1990", "0", "9900"]
        }
        "form" => {
            &["\"YY MM DD\"", "\"hh mm ss\"", "\"YYYY MM DD hh\"", "\"CC YY WW\"", "\"WW YY --\"", "\"YY\""]
        }
        "part" => &["Date", "Time", "Both"],
        "parts" => &["[4, 4]", "[8]", "[32, 32]", "[1, 31, 32]", "[32, 32, 1]", "[]", "[3, 2]"],
        "nibbles" => &["HighFirst", "LowFirst"],
        "align" => &["Left", "Right"],
        "of" => &[
            "{0: \"a\", 3: \"b\"}",
            "[\"x\", \"y\"]",
            "{0: 1.5, 1: 2}",
            "[1, 2, 1e12]",
            "0.0001",
            "1e12",
            "3",
        ],
        "base" => &["2", "10", "1.0001", "1e9", "Hex", "Binary"],
        "times" | "per" => &["1", "10", "0.001", "1e9"],
        "pad" | "end" => &["0", "\" \"", "0xFF", "0x0A", "0xFFFF"],
        "unset" => &["0", "[0, 255]", "0xFFFF", "18446744073709551615"],
        "zone" => &["0", "3", "15"],
        "filler" => &["10", "15"],
        "model" => &["255", "55"],
        _ => &["\"text\"", "true", "1"],
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn any_options_give_a_kind_that_keeps_its_promises_or_problems(
        row in any::<prop::sample::Index>(),
        picks in proptest::collection::vec((any::<prop::sample::Index>(), 0..3u8), 12),
        bytes in proptest::collection::vec(any::<u8>(), 70),
        scale in proptest::option::of(prop::sample::select(vec!["0.1", "\"1/256\"", "-7", "1e-9", "1e20", "0"])),
        big: bool,
    ) {
        let all: Vec<&Row> = rows().collect();
        let row = all[row.index(all.len())];
        let given = row.options.iter().zip(&picks).filter(|(_, (_, chance))| *chance > 0);
        let options: Vec<String> = given
            .map(|(option, (pick, _))| format!("{}: {}", option.name, pick.get(pool(option.name))))
            .collect();
        let ron = format!("{}({})", row.name, options.join(", "));
        let mut problems = Vec::new();
        let kind = Kind::read(&notation::parse(&ron).unwrap(), &mut problems);
        prop_assert!(kind.is_some() || !problems.is_empty(), "{}", ron);
        let Some(mut kind) = kind else { return Ok(()) };
        if let Some(scale) = scale {
            let scale = notation::parse(scale).unwrap();
            match kind.presented(Some(&scale), None, None, &mut problems) {
                Some(scaled) => kind = scaled,
                None => {
                    prop_assert!(!problems.is_empty(), "{}", ron);
                    return Ok(());
                }
            }
        }
        let order = if big { ByteOrder::Big } else { ByteOrder::Little };
        let own = match kind.size() {
            Size::Found => kind.extent(&bytes).unwrap_or(0),
            size => size.bytes().unwrap_or(12),
        };
        let Some(bytes) = bytes.get(..own) else { return Ok(()) };
        let seen = kind.decode(bytes, order);
        let shown = kind.show(&seen.value);
        let kept = kind.encode(&seen.value, bytes, order);
        prop_assert_eq!(kept.as_deref(), Ok(bytes), "{}", ron);
        let _ = (kind.range(), kind.label(), kind.decode_number(u128::MAX), kind.parse(""), kind.parse("1e30"));
        if seen.oddity.is_none() {
            let typed = kind.parse(&shown);
            prop_assert_eq!(typed.as_ref(), Ok(&seen.value), "{} {:02X?}", ron, bytes);
            if kind.size() != Size::Found {
                let written = kind.encode(&seen.value, &vec![0; bytes.len()], order).unwrap();
                prop_assert_eq!(&kind.decode(&written, order).value, &seen.value, "{} {:02X?}", ron, bytes);
            }
        }
    }
}

#[test]
fn a_value_whose_usual_number_stands_for_nothing_is_odd_and_kept() {
    for (ron, byte, shown, oddity) in [
        // Zero has two numbers where the sign is apart (common practice, no source).
        ("Int(bits: 8, sign: Ones, unset: 0)", 0xFF, "0", "stored as 255, where 0, the usual number"),
        ("Int(bits: 8, sign: Magnitude, unset: 0)", 0x80, "0", "stored as 128, where 0, the usual number"),
        ("Lookup(bits: 8, of: [1, 1, 2], unset: 0)", 0x01, "1", "stored as 1, where 0, the usual number"),
    ] {
        let kind = kind(ron);
        let seen = kind.decode(&[byte], ByteOrder::Big);
        assert_eq!(kind.show(&seen.value), shown);
        assert!(seen.oddity.as_deref().is_some_and(|told| told.contains(oddity)), "{ron}: {:?}", seen.oddity);
        assert_eq!(kind.encode(&seen.value, &[byte], ByteOrder::Big), Ok(vec![byte]), "{ron}");
        assert!(kind.parse(shown).is_err(), "{ron}");
    }
}
