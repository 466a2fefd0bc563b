//! Changing a RON text at places: comments and formatting outside what is changed stay as they are.
//!
//! Each function takes a text, a [`Node`] of the tree that [`super::parse()`] made of that very text, and gives the
//! new text; the tree is then out of date and has to be made again.

use super::{Node, NodeValue, TextSpan};

/// `text` with `with` in the place of `span`.
#[must_use]
pub fn replace(text: &str, span: TextSpan, with: &str) -> String {
    let (before, after) = (text.get(..span.start).unwrap_or(text), text.get(span.end..).unwrap_or_default());
    format!("{before}{with}{after}")
}

/// `text` with `elements` as further elements of `list`, from place `index` on, each in lines of its own.
///
/// They stand in front of the element that had that place, and of the comments above it; at the end behind the
/// last element, its comma and the comment in its line. `None` when `list` is no list.
#[must_use]
pub fn insert(text: &str, list: &Node, index: usize, elements: &[String]) -> Option<String> {
    let NodeValue::List(nodes) = &list.value else { return None };
    let Some(last) = nodes.last() else {
        let indent = indent_at(text, list.span.start).to_owned();
        let added: String = elements.iter().map(|e| format!("{indent}    {e},\n")).collect();
        let inside = text.get(list.span.start..list.span.end - 1)?.trim_end();
        return Some(replace(text, list.span, &format!("{inside}\n{added}{indent}]")));
    };
    let Some(next) = nodes.get(index) else { return Some(behind(text, last.span, elements)) };
    let Some(at) = line_start_with_comments(text, next.span.start) else {
        // The element shares its line with the one before it or with the bracket.
        let added: String = elements.iter().map(|e| format!("{e}, ")).collect();
        return Some(replace(text, TextSpan::new(next.span.start, next.span.start), &added));
    };
    let indent = indent_at(text, next.span.start).to_owned();
    let added: String = elements.iter().map(|e| format!("{indent}{e},\n")).collect();
    Some(replace(text, TextSpan::new(at, at), &added))
}

/// `text` without element `index` of `list`: with its comma, the comments directly above it and behind it in its
/// line, and its line when nothing else stands there. `None` when there is no such element.
#[must_use]
pub fn remove(text: &str, list: &Node, index: usize) -> Option<String> {
    let NodeValue::List(nodes) = &list.value else { return None };
    let node = nodes.get(index)?;
    let mut span = node.span;
    span.end = after_comma(text, span.end);
    let line_end = text[span.end..].find('\n').map_or(text.len(), |n| span.end + n);
    let rest = text[span.end..line_end].trim_start();
    if (rest.is_empty() || rest.starts_with("//")) && line_end <= list.span.end {
        return Some(match line_start_with_comments(text, node.span.start) {
            Some(start) => replace(text, TextSpan::new(start, (line_end + 1).min(text.len())), ""),
            None => {
                // The blank in front of it goes too, the comment behind the line stays.
                let before = text[..span.start].trim_end_matches(' ').len();
                replace(text, TextSpan::new(before, span.end), "")
            }
        });
    }
    span.end += text[span.end..].len() - text[span.end..].trim_start_matches(' ').len();
    Some(replace(text, span, ""))
}

/// The whole lines of elements `from` to `to` of `list`, the comments above the first among them. `None` when
/// something else stands in these lines, or there are no such elements.
#[must_use]
pub fn lines_of(text: &str, list: &Node, from: usize, to: usize) -> Option<TextSpan> {
    let NodeValue::List(nodes) = &list.value else { return None };
    own_lines(text, list.span, TextSpan::new(nodes.get(from)?.span.start, nodes.get(to)?.span.end))
}

/// The whole lines of what stands at `inner`, inside the brackets at `outer`, the comments above it among them. `None`
/// when something else stands in these lines.
fn own_lines(text: &str, outer: TextSpan, inner: TextSpan) -> Option<TextSpan> {
    let start = line_start_with_comments(text, inner.start)?;
    let after = after_comma(text, inner.end);
    let end = text[after..].find('\n').map(|n| after + n)?;
    let rest = text[after..end].trim_start();
    let ends = start > outer.start && end <= outer.end;
    (ends && (rest.is_empty() || rest.starts_with("//"))).then_some(TextSpan::new(start, end + 1))
}

/// `text` with `value` as the value of the entry `key` of `node`, a struct; a new entry comes behind the others.
/// `None` when `node` is no struct.
#[must_use]
pub fn set_entry(text: &str, node: &Node, key: &str, value: &str) -> Option<String> {
    let NodeValue::Struct(_, entries) = &node.value else { return None };
    if let Some((_, old)) = entries.iter().find(|(name, _)| name.text == key) {
        return Some(replace(text, old.span, value));
    }
    Some(match entries.last() {
        Some((_, last)) => {
            replace(text, TextSpan::new(last.span.end, last.span.end), &format!(", {key}: {value}"))
        }
        None => replace(text, node.span, &format!("({key}: {value})")),
    })
}

/// `text` with `entry`, `key: value`, in front of entry `index` of `node`, a struct, in a line of its own; behind the
/// last when there is no such entry. `None` when `node` is no struct.
#[must_use]
pub fn insert_entry(text: &str, node: &Node, index: usize, entry: &str) -> Option<String> {
    let NodeValue::Struct(_, entries) = &node.value else { return None };
    let Some((next, _)) = entries.get(index) else {
        return Some(match entries.last() {
            Some((name, value)) => {
                behind(text, TextSpan::new(name.span.start, value.span.end), &[entry.to_owned()])
            }
            None => replace(text, node.span, &format!("({entry})")),
        });
    };
    let Some(at) = line_start_with_comments(text, next.span.start) else {
        return Some(replace(text, TextSpan::new(next.span.start, next.span.start), &format!("{entry}, ")));
    };
    let line = format!("{}{entry},\n", indent_at(text, next.span.start));
    Some(replace(text, TextSpan::new(at, at), &line))
}

/// `text` without the entry `key` of `node`: with its comma, and, where it has lines of its own, with these and the
/// comments above them. `None` when there is no such entry.
#[must_use]
pub fn remove_entry(text: &str, node: &Node, key: &str) -> Option<String> {
    let NodeValue::Struct(_, entries) = &node.value else { return None };
    let index = entries.iter().position(|(name, _)| name.text == key)?;
    let (name, value) = &entries[index];
    if let Some(lines) = own_lines(text, node.span, TextSpan::new(name.span.start, value.span.end)) {
        return Some(replace(text, lines, ""));
    }
    let span = match index.checked_sub(1) {
        Some(before) => TextSpan::new(entries[before].1.span.end, value.span.end),
        None => {
            let end = after_comma(text, value.span.end);
            let blanks = text[end..].len() - text[end..].trim_start().len();
            TextSpan::new(name.span.start, end + blanks)
        }
    };
    Some(replace(text, span, ""))
}

/// `text` with `elements` behind the element or entry at `span`: behind its comma and the comment in its line, each
/// in a line of its own.
#[must_use]
pub fn behind(text: &str, span: TextSpan, elements: &[String]) -> String {
    let indent = indent_at(text, span.start).to_owned();
    let after = after_comma(text, span.end);
    let line = text[after..].lines().next().unwrap_or_default();
    let comment = if line.trim_start().starts_with("//") { line.trim_end_matches('\r') } else { "" };
    let rest = TextSpan::new(after, after + comment.len());
    let mut added: String = elements.iter().map(|e| format!("\n{indent}{e},")).collect();
    if after > span.end {
        return replace(text, rest, &format!("{comment}{added}"));
    }
    added.pop();
    replace(text, rest, &format!(",{comment}{added}"))
}

/// The place behind the comma that follows `end`, or `end` itself where none does.
fn after_comma(text: &str, end: usize) -> usize {
    let rest = text.get(end..).unwrap_or_default();
    let blanks = rest.len() - rest.trim_start().len();
    if rest[blanks..].starts_with(',') { end + blanks + 1 } else { end }
}

/// Where the line begins in which `at` stands; when only comments stand in the lines above, where they begin.
/// `None` when something stands before `at` in its line.
fn line_start_with_comments(text: &str, at: usize) -> Option<usize> {
    let start_of = |at: usize| text[..at].rfind('\n').map_or(0, |n| n + 1);
    let mut start = start_of(at);
    if !text[start..at].trim().is_empty() {
        return None;
    }
    while start > 0 {
        let above = start_of(start - 1);
        if !text[above..start].trim_start().starts_with("//") {
            break;
        }
        start = above;
    }
    Some(start)
}

/// The blanks at the beginning of the line in which `at` stands.
fn indent_at(text: &str, at: usize) -> &str {
    let line = text[..at].rfind('\n').map_or(0, |end| end + 1);
    let blanks = text[line..].len() - text[line..].trim_start_matches([' ', '\t']).len();
    &text[line..(line + blanks).min(at)]
}

#[cfg(test)]
mod tests {
    use super::super::parse;
    use super::*;

    const TEXT: &str = "\
(
    fields: [ // all of them
        // the mark
        (name: \"mark\", at: 0), // first
        (name: \"serial\", at: 8, role: Identity), (name: \"sum\", at: 12),
    ],
)
";

    fn fields(text: &str) -> Node {
        let NodeValue::Struct(_, entries) = parse(text).unwrap().value else { panic!("{text}") };
        entries.into_iter().next().unwrap().1
    }

    fn element(text: &str, index: usize) -> Node {
        let NodeValue::List(nodes) = fields(text).value else { panic!("{text}") };
        nodes[index].clone()
    }

    #[test]
    fn an_element_comes_in_front_of_its_successor_and_its_comments() {
        let first = insert(TEXT, &fields(TEXT), 0, &["(name: \"x\")".to_owned()]).unwrap();
        assert!(first.contains("// all of them\n        (name: \"x\"),\n        // the mark\n"), "{first}");
        let second = insert(TEXT, &fields(TEXT), 1, &["(name: \"x\")".to_owned()]).unwrap();
        assert!(second.contains("// first\n        (name: \"x\"),\n        (name: \"serial\""), "{second}");
        let third = insert(TEXT, &fields(TEXT), 2, &["(name: \"x\")".to_owned()]).unwrap();
        assert!(third.contains("role: Identity), (name: \"x\"), (name: \"sum\""), "{third}");
        let last = insert(TEXT, &fields(TEXT), 9, &["(name: \"x\")".to_owned()]).unwrap();
        assert!(last.contains("at: 12),\n        (name: \"x\"),\n    ],"), "{last}");
        for text in [first, second, third, last] {
            assert!(parse(&text).is_ok(), "{text}");
        }
    }

    #[test]
    fn an_empty_list_gets_lines_of_its_own() {
        let text = "(fields: [])";
        let filled = insert(text, &fields(text), 0, &["(name: \"x\")".to_owned()]).unwrap();
        assert_eq!(filled, "(fields: [\n    (name: \"x\"),\n])");
    }

    #[test]
    fn an_element_goes_with_its_comments_and_its_line() {
        let without = remove(TEXT, &fields(TEXT), 0).unwrap();
        assert!(!without.contains("mark") && !without.contains("// first"), "{without}");
        assert!(without.contains("// all of them\n        (name: \"serial\""), "{without}");
        let without = remove(TEXT, &fields(TEXT), 1).unwrap();
        assert!(without.contains("        (name: \"sum\", at: 12),\n"), "{without}");
        let without = remove(TEXT, &fields(TEXT), 2).unwrap();
        assert!(without.contains("role: Identity),\n    ],"), "{without}");
    }

    #[test]
    fn entries_are_changed_in_place_added_behind_and_taken_away() {
        let serial = element(TEXT, 1);
        let changed = set_entry(TEXT, &serial, "at", "0x0A").unwrap();
        assert!(changed.contains("(name: \"serial\", at: 0x0A, role: Identity)"), "{changed}");
        let added = set_entry(TEXT, &serial, "note", "\"n\"").unwrap();
        assert!(added.contains("role: Identity, note: \"n\")"), "{added}");
        let without = remove_entry(TEXT, &serial, "role").unwrap();
        assert!(without.contains("(name: \"serial\", at: 8)"), "{without}");
        let without = remove_entry(TEXT, &serial, "name").unwrap();
        assert!(without.contains("(at: 8, role: Identity)"), "{without}");
        let text = "(\n    layout: \"b\", // ours\n    // Seen twice.\n    note: \"n\", // so far\n    fields: [],\n)";
        let without = remove_entry(text, &parse(text).unwrap(), "note").unwrap();
        assert_eq!(without, "(\n    layout: \"b\", // ours\n    fields: [],\n)");
    }
}
