//! Found checks as entries of a layout, put into its text so that comments and formatting stay as they are.

use super::Way;
use crate::check::{Method, StoredBytes};
use crate::notation::{NodeValue, Problem, TextSpan, parse, splice};

/// A layout's text with checks added.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Added {
    /// The whole text.
    pub text: String,
    /// The names given to the checks, in their order.
    pub names: Vec<String>,
}

/// The entry of a layout's `checks` that says the same as `way`, under `name`.
#[must_use]
pub fn entry(way: &Way, name: &str) -> String {
    let Way { by, over, stored_at, order, stored_bytes } = way;
    let address = |at: usize| format!("0x{at:04X}");
    let by = match by.method {
        // Parameters hold no quotation marks, and names none either.
        Method::Crc(_) | Method::Sum(_) if by.name.ends_with(')') => by.name.to_string(),
        _ => format!("\"{}\"", by.name),
    };
    let mut entry = format!(
        "(name: \"{name}\", over: [({}, {})], stored: (at: {}, bytes: {}), by: {by}",
        address(over.start),
        address(over.end),
        address(stored_at.start),
        stored_at.len(),
    );
    // A layout has an order of its own, which need not be the check's.
    if stored_at.len() > 1 {
        entry.push_str(&format!(", order: {}", order.word()));
    }
    if *stored_bytes != StoredBytes::default() {
        entry.push_str(&format!(", stored_bytes: {}", stored_bytes.word()));
    }
    entry.push(')');
    entry
}

/// The text of a layout with an entry for each of `ways` behind the last of its checks.
///
/// # Errors
/// When the text cannot be read, or is no layout.
pub fn add(text: &str, ways: &[&Way]) -> Result<Added, Vec<Problem>> {
    let root = parse(text)?;
    let NodeValue::Struct(_, entries) = &root.value else {
        return Err(vec![Problem::new(root.span, "this is no layout", "(layout: \"…\", fields: […], …)")]);
    };
    let Some((_, checks)) = entries.iter().find(|(name, _)| name.text == "checks") else {
        let Some((name, last)) = entries.last() else {
            return Err(vec![Problem::new(root.span, "the layout is empty", "(layout: \"…\", fields: […])")]);
        };
        let last = TextSpan::new(name.span.start, last.span.end);
        return add(&splice::behind(text, last, &["checks: []".to_owned()]), ways);
    };
    let NodeValue::List(list) = &checks.value else {
        return Err(vec![Problem::new(checks.span, "checks is no list", "[(name: …, over: …), …]")]);
    };
    let taken: Vec<String> = list.iter().filter_map(|check| name_of(&check.value)).collect();
    let mut names: Vec<String> = Vec::new();
    for way in ways {
        let plain = format!("check_{:04x}", way.stored_at.start);
        let numbered = (2..).map(|n| format!("{plain}_{n}"));
        let free = |name: &String| !taken.contains(name) && !names.contains(name);
        names.extend(std::iter::once(plain.clone()).chain(numbered).find(free));
    }
    let lines: Vec<String> = ways.iter().zip(&names).map(|(way, name)| entry(way, name)).collect();
    let text = splice::insert(text, checks, list.len(), &lines).unwrap_or_else(|| text.to_owned());
    Ok(Added { text, names })
}

fn name_of(value: &NodeValue) -> Option<String> {
    let NodeValue::Struct(_, entries) = value else { return None };
    entries.iter().find_map(|(name, node)| match &node.value {
        NodeValue::Text(text) if name.text == "name" => Some(text.clone()),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::by_name;
    use crate::span::{ByteOrder, Span};

    fn way() -> Way {
        Way {
            by: by_name("CRC-16/XMODEM").unwrap(),
            over: Span::new(0x40, 0x7E),
            stored_at: Span::of(0x7E, 2),
            order: ByteOrder::Little,
            stored_bytes: StoredBytes::Excluded,
        }
    }

    const ENTRY: &str = "(name: \"check_007e\", over: [(0x0040, 0x007E)], stored: (at: 0x007E, bytes: 2), \
                         by: \"CRC-16/XMODEM\", order: Little)";

    fn check(before: &str, after: &str) {
        let added = add(before, &[&way()]).unwrap();
        assert_eq!(added.text, after.replace("ENTRY", ENTRY));
        assert!(parse(&added.text).is_ok(), "{}", added.text);
    }

    #[test]
    fn an_entry_goes_behind_the_last_check_and_leaves_comments_where_they_are() {
        check(
            "(\n  checks: [\n    (name: \"a\"), // the first\n    // the end\n  ], // all\n)",
            "(\n  checks: [\n    (name: \"a\"), // the first\n    ENTRY,\n    // the end\n  ], // all\n)",
        );
        check("(checks: [(name: \"a\")])", "(checks: [(name: \"a\"),\nENTRY])");
        check("(\n  checks: [],\n)", "(\n  checks: [\n      ENTRY,\n  ],\n)");
        check(
            "(\n  layout: \"x\", // title\n)\n",
            "(\n  layout: \"x\", // title\n  checks: [\n      ENTRY,\n  ],\n)\n",
        );
        check(
            "(\r\n  layout: \"x\", // t\r\n)",
            "(\r\n  layout: \"x\", // t\n  checks: [\n      ENTRY,\n  ],\r\n)",
        );
    }

    #[test]
    fn a_name_that_is_taken_gets_a_number() {
        let added = add("(checks: [(name: \"check_007e\")])", &[&way(), &way()]).unwrap();
        assert_eq!(added.names, ["check_007e_2", "check_007e_3"]);
    }

    #[test]
    fn what_is_no_layout_is_refused() {
        assert!(add("[1, 2]", &[&way()]).is_err());
        assert!(add("(checks: 5)", &[&way()]).is_err());
        assert!(add("(checks: [", &[&way()]).is_err());
    }

    #[test]
    fn parameters_are_written_without_quotes() {
        let custom = Way { by: by_name("CRC(width: 16, poly: 0x1021, init: 0x1234)").unwrap(), ..way() };
        assert!(entry(&custom, "x").contains("by: CRC(width: 16, poly: 0x1021, init: 0x1234, "));
    }
}
