//! Promises of the reader as a whole, among them agreement with the `ron` crate (crates.io, 0.12), which is the
//! reference implementation of the notation.

use proptest::prelude::*;

use super::*;

fn problems(text: &str) -> Vec<String> {
    let lines = Lines::of(text);
    parse(text).unwrap_err().iter().map(|p| p.line("t.ron", &lines)).collect()
}

/// A tree as `ron` would tell it: names of brackets are lost there, and tuples are sequences.
fn as_ron(node: &Node) -> Option<ron::Value> {
    use ron::Value;
    Some(match &node.value {
        NodeValue::Bool(b) => Value::Bool(*b),
        NodeValue::Number(text) => ron::from_str(text).ok()?,
        NodeValue::Text(text) => Value::String(text.clone()),
        NodeValue::Char(c) => Value::Char(*c),
        NodeValue::Word(_) => return None,
        NodeValue::List(items) | NodeValue::Tuple(_, items) if !items.is_empty() => {
            Value::Seq(items.iter().map(as_ron).collect::<Option<_>>()?)
        }
        NodeValue::List(_) => Value::Seq(Vec::new()),
        NodeValue::Tuple(..) => Value::Unit,
        NodeValue::Map(items) => Value::Map(
            items
                .iter()
                .map(|(k, v)| Some((as_ron(k)?, as_ron(v)?)))
                .collect::<Option<Vec<_>>>()?
                .into_iter()
                .collect(),
        ),
        NodeValue::Struct(_, items) => Value::Map(
            items
                .iter()
                .map(|(k, v)| Some((Value::String(k.text.clone()), as_ron(v)?)))
                .collect::<Option<Vec<_>>>()?
                .into_iter()
                .collect(),
        ),
    })
}

/// Text that is nearly always well formed, with blanks and remarks strewn in.
fn some_ron() -> impl Strategy<Value = String> {
    let blank = prop::sample::select(vec!["", " ", "\n", "\t", " // remark\n", "/* a /* b */ c */"]);
    let leaf = prop_oneof![
        any::<bool>().prop_map(|b| b.to_string()),
        any::<i64>().prop_map(|n| n.to_string()),
        any::<u32>().prop_map(|n| format!("{n:#x}")),
        any::<u8>().prop_map(|n| format!("{n:#b}")),
        (any::<i32>(), 0u32..1000).prop_map(|(a, b)| format!("{a}.{b}")),
        (1u32..99, -9i32..9).prop_map(|(a, b)| format!("{a}e{b}")),
        Just("1_000".to_string()),
        any::<String>().prop_map(|s| format!("{s:?}").replace("\\u{", "\\u{")),
        "[a-z \\\\]{0,8}".prop_map(|s| format!("r#\"{s}\"#")),
        any::<char>()
            .prop_filter("quoted otherwise", |c| !c.is_control() && !matches!(c, '\'' | '\\'))
            .prop_map(|c| format!("'{c}'")),
    ];
    leaf.prop_recursive(4, 32, 5, move |inner| {
        let item = (blank.clone(), inner.clone(), blank.clone()).prop_map(|(a, i, b)| format!("{a}{i}{b}"));
        let items = prop::collection::vec(item.clone(), 0..5).prop_map(|v| v.join(","));
        let entries = prop::collection::btree_map("[a-z_]{2,6}", item, 1..5);
        prop_oneof![
            items.clone().prop_map(|s| format!("[{s}]")),
            items.prop_map(|s| format!("({s})")),
            entries.clone().prop_map(|m| {
                format!("({})", m.iter().map(|(k, v)| format!("{k} : {v}")).collect::<Vec<_>>().join(","))
            }),
            entries.prop_map(|m| {
                format!("{{{}}}", m.iter().map(|(k, v)| format!("{k:?}:{v}")).collect::<Vec<_>>().join(","))
            }),
        ]
    })
}

proptest! {
    #[test]
    fn what_the_reference_reads_is_read_the_same(text in some_ron()) {
        let theirs: Result<ron::Value, _> = ron::from_str(&text);
        let ours = parse(&text);
        match (ours, theirs) {
            (Ok(ours), Ok(theirs)) => prop_assert_eq!(as_ron(&ours), Some(theirs), "{}", text),
            (Err(problems), Ok(theirs)) => prop_assert!(false, "refused {text:?}, which is {theirs:?}: {problems:?}"),
            _ => {}
        }
    }

    #[test]
    fn any_text_is_read_or_refused_with_places_inside_it(text in any::<String>()) {
        if let Err(problems) = parse(&text) {
            prop_assert!(!problems.is_empty() && problems.len() <= MAX_PROBLEMS);
            for p in problems {
                prop_assert!(p.span.start <= p.span.end && p.span.start <= text.len());
                let _ = p.line("t", &Lines::of(&text));
            }
        }
    }

    #[test]
    fn a_damaged_text_never_panics_and_is_refused_with_a_reason(
        text in some_ron(), at in any::<prop::sample::Index>(), junk in "[\\[\\](){}\"'\\\\,:=#$a-z0-9“”]{0,3}",
    ) {
        let mut at = at.index(text.len().max(1));
        while !text.is_char_boundary(at) { at -= 1; }
        let cut = text[at..].chars().next().map_or(0, char::len_utf8);
        let damaged = format!("{}{junk}{}", &text[..at], &text[at + cut..]);
        if let Err(problems) = parse(&damaged) {
            prop_assert!(!problems.is_empty());
        }
    }

    #[test]
    fn every_value_is_where_its_place_says(text in some_ron()) {
        fn walk(node: &Node, text: &str) {
            let again = parse(&text[node.span.start..node.span.end]).unwrap();
            assert_eq!(again.shown(), node.shown());
            match &node.value {
                NodeValue::List(v) | NodeValue::Tuple(_, v) => v.iter().for_each(|n| walk(n, text)),
                NodeValue::Struct(_, v) => v.iter().for_each(|(name, n)| {
                    assert_eq!(&text[name.span.start..name.span.end], name.text);
                    walk(n, text);
                }),
                NodeValue::Map(v) => v.iter().for_each(|(k, n)| { walk(k, text); walk(n, text); }),
                _ => {}
            }
        }
        if let Ok(node) = parse(&text) { walk(&node, &text); }
    }
}

#[test]
fn a_byte_order_mark_at_the_start_is_passed_over() {
    assert!(parse("\u{feff}(a: 1)").is_ok());
}

#[test]
fn attributes_of_the_notation_are_passed_over() {
    assert!(parse("#![enable(implicit_some)]\n(a: 1)").is_ok());
}

#[test]
fn names_without_brackets_keep_their_place_and_their_neighbours() {
    let node = parse("Some ( 3 )").unwrap();
    assert!(matches!(node.value, NodeValue::Tuple(Some(ref n), ref v) if n.text == "Some" && v.len() == 1));
    let node = parse("[Big , Little]").unwrap();
    let NodeValue::List(items) = &node.value else { panic!("{node:?}") };
    assert_eq!((items[0].span, items[1].span), (TextSpan::new(1, 4), TextSpan::new(7, 13)));
}

#[test]
fn slips_of_people_who_write_by_hand_are_told_with_their_fix() {
    let table: &[(&str, &[&str])] = &[
        (
            "(a: “x”)",
            &[
                "t.ron:1:5: “x” stands in typographic quotes; expected a string in the straight quotes of the keyboard; write \"x\"",
            ],
        ),
        (
            "(a: 'Big')",
            &["t.ron:1:5: 'Big' stands in single quotes; expected a string in \"…\"; write \"Big\""],
        ),
        (
            "(a: \"C:\\Users\")",
            &[
                "t.ron:1:8: \\U means nothing in a string; expected \\n, \\r, \\t, \\0, \\\\, \\\", \\x41 or \\u{B0}; write \\\\ for a backslash, or r\"…\" for a string in which a backslash is plain",
            ],
        ),
        ("(a: 1 b: 2)", &["t.ron:1:7: 'b' follows a value; expected a comma or ')'; put a comma before it"]),
        (
            "(a = 1)",
            &[
                "t.ron:1:4: '=' cannot stand here; expected a colon and a value after the name a; a name and its value are parted by a colon",
            ],
        ),
        (
            "(a: 1, \"b\": 2)",
            &[
                "t.ron:1:8: \"b\" stands where a name should; expected a name, a colon and a value; names stand without quotes: b: …",
            ],
        ),
        (
            "(a: 40h)",
            &[
                "t.ron:1:5: 40h is no number; expected decimal digits, 0x and hexadecimal digits, or 0b and binary digits; write 0x40",
            ],
        ),
        ("(a: 1, a: 2)", &["t.ron:1:8: a is written twice; expected each name once; delete one of the two"]),
        ("(a: [1, 2)", &["t.ron:1:10: ')' closes what '[' opened; expected ']'"]),
        ("(a: 1", &["t.ron:1:1: '(' is never closed; expected ')' at its end"]),
        (
            "(a: \"x",
            &[
                "t.ron:1:5: a string is never closed; expected \" at its end; close it; a quote inside a string is written \\\"",
            ],
        ),
        (
            "(a: )",
            &[
                "t.ron:1:5: ')' stands where a value is missing; expected a value: a number, a string in \"…\", a word, (…), […] or {…}",
            ],
        ),
        ("(a: 1) b", &["t.ron:1:8: 'b' follows the end of the value; expected nothing but remarks"]),
        (
            "",
            &[
                "t.ron:1:1: the text ends where a value is missing; expected a value: a number, a string in \"…\", a word, (…), […] or {…}",
            ],
        ),
        (
            "/* never",
            &[
                "t.ron:1:1: a remark /* is never closed; expected */ at its end; close it, or use // for a remark of one line",
                "t.ron:1:9: the text ends where a value is missing; expected a value: a number, a string in \"…\", a word, (…), […] or {…}",
            ],
        ),
        // Two slips, both told.
        (
            "(a: 1 b: 'xy')",
            &[
                "t.ron:1:7: 'b' follows a value; expected a comma or ')'; put a comma before it",
                "t.ron:1:10: 'xy' stands in single quotes; expected a string in \"…\"; write \"xy\"",
            ],
        ),
    ];
    for (text, expected) in table {
        let found = problems(text);
        assert_eq!(&found, expected, "{text}");
    }
}

#[test]
fn nesting_is_bounded_and_told() {
    let deep = format!("{}1{}", "[".repeat(MAX_DEPTH), "]".repeat(MAX_DEPTH));
    assert!(parse(&deep).is_ok());
    let deeper = "[".repeat(100_000);
    assert!(parse(&deeper).unwrap_err()[0].what.contains("nested more than"));
}

#[test]
fn a_long_text_is_read_in_one_pass() {
    // Each of these grows quadratically in a reader that looks ahead without bound.
    for text in [
        "(a:".repeat(200_000),
        "/*".repeat(200_000),
        "'".repeat(200_000),
        "(a ".repeat(200_000),
        "1e-".repeat(200_000),
    ] {
        assert!(parse(&text).is_err());
    }
    let long = format!("[{}]", "0x12, ".repeat(200_000));
    assert!(parse(&long).is_ok());
}

#[test]
fn integers_are_read_in_every_notation() {
    for (text, value) in [
        ("0x40", Some(64)),
        ("1_000", Some(1000)),
        ("0b1010", Some(10)),
        ("0o17", Some(15)),
        ("-3", Some(-3)),
        ("+3", Some(3)),
        ("-0x10", Some(-16)),
        ("1.5", None),
        ("\"3\"", None),
        ("170141183460469231731687303715884105727", Some(i128::MAX)),
        ("170141183460469231731687303715884105728", None),
        ("-170141183460469231731687303715884105728", Some(i128::MIN)),
    ] {
        assert_eq!(get::as_integer(&parse(text).unwrap()), value, "{text}");
    }
}

#[test]
fn values_of_the_wrong_sort_are_told_with_what_was_expected() {
    let mut out = Vec::new();
    let node = parse("[\"16\", 99, Bgi, \"Big\", 3, yes, \"4B 4\"]").unwrap();
    let items = get::list(&node, "values", &mut out).unwrap();
    let orders = [("Big", 1), ("Little", 2)];
    assert_eq!(get::int(&items[0], 1u8..=64, "a number of bits", &mut out), None);
    assert_eq!(get::int(&items[1], 1u8..=64, "a number of bits", &mut out), None);
    assert_eq!(get::word(&items[2], &orders, "a byte order", &mut out), None);
    assert_eq!(get::word(&items[3], &orders, "a byte order", &mut out), None);
    assert_eq!(get::text(&items[4], "a name", &mut out), None);
    assert_eq!(get::boolean(&items[5], &mut out), None);
    assert_eq!(get::hex(&items[6], "a mark", &mut out), None);
    let fixes: Vec<_> = out.iter().map(|p| p.fix.as_deref().unwrap_or("")).collect();
    assert_eq!(
        fixes,
        [
            "numbers stand without quotes: 16",
            "",
            "did you mean Big?",
            "words stand without quotes: Big",
            "write \"3\"",
            "",
            ""
        ]
    );
    assert_eq!(out[1].expected, "a number of bits, a whole number from 1 to 64");
}
