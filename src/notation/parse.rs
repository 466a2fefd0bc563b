//! From text to tree. Goes on after a problem where it can, so that one reading tells them all.

use std::collections::HashSet;

use super::lookalikes::is_curly_quote;
use super::scan::Scanner;
use super::{Name, Node, NodeValue, Problem, TextSpan};

/// How deeply brackets may be nested.
pub const MAX_DEPTH: usize = 64;

/// How many problems of one text are told.
pub const MAX_PROBLEMS: usize = 100;

/// Reads RON `text` as one value. A byte order mark and `#![enable(…)]` lines at the start are passed over;
/// `implicit_some` is how the tree works anyway.
///
/// # Errors
/// Every problem that was found, in the order of the text, at most [`MAX_PROBLEMS`].
pub fn parse(text: &str) -> Result<Node, Vec<Problem>> {
    let mut scanner = Scanner::new(text);
    skip_attributes(&mut scanner);
    let node = value(&mut scanner, 0);
    scanner.skip_blank();
    if scanner.problems.is_empty() && scanner.at < text.len() {
        let rest = TextSpan::new(scanner.at, text.len());
        let c = scanner.peek().unwrap_or(' ');
        scanner.problem(Problem::new(
            rest,
            format!("'{}' follows the end of the value", c.escape_debug()),
            "nothing but remarks",
        ));
    }
    match node {
        Some(node) if scanner.problems.is_empty() => Ok(node),
        _ => Err(scanner.problems),
    }
}

fn skip_attributes(scanner: &mut Scanner<'_>) {
    loop {
        scanner.skip_blank();
        if !scanner.rest().starts_with("#![") {
            return;
        }
        let rest = scanner.rest();
        scanner.at += rest.find(']').map_or(rest.len(), |n| n + 1);
    }
}

/// What a problem says about a place where a value should stand.
const A_VALUE: &str = "a value: a number, a string in \"…\", a word, (…), […] or {…}";

/// One value; `None` after a problem from which no value could be made.
fn value(scanner: &mut Scanner<'_>, depth: usize) -> Option<Node> {
    scanner.skip_blank();
    let start = scanner.at;
    if depth > MAX_DEPTH {
        scanner.problem(Problem::new(
            TextSpan::new(start, start),
            format!("brackets are nested more than {MAX_DEPTH} deep"),
            "a flatter text",
        ));
        scanner.at = scanner.text.len();
        return None;
    }
    let value = match scanner.peek() {
        Some('(') => round(scanner, None, depth)?,
        Some('[') => list(scanner, depth)?,
        Some('{') => map(scanner, depth)?,
        Some('"') => NodeValue::Text(scanner.string()),
        Some('\'') => match scanner.character() {
            Ok(c) => NodeValue::Char(c),
            Err(text) => NodeValue::Text(text),
        },
        Some(c) if is_curly_quote(c) => NodeValue::Text(scanner.curly_string()),
        Some('0'..='9' | '+' | '-' | '.') => NodeValue::Number(scanner.number()),
        Some('r') if scanner.rest()[1..].starts_with(['"', '#']) => match scanner.raw_string() {
            Some(text) => NodeValue::Text(text),
            None => {
                scanner.bump();
                scanner.stray("a string r\"…\" or r#\"…\"#");
                return None;
            }
        },
        _ => match scanner.word() {
            Some(name) => worded(scanner, name, depth)?,
            None => {
                if !matches!(scanner.peek(), Some(')' | ']' | '}' | ',') | None) {
                    scanner.stray(A_VALUE);
                } else {
                    let what = match scanner.peek() {
                        Some(c) => format!("'{c}' stands where a value is missing"),
                        None => "the text ends where a value is missing".to_string(),
                    };
                    scanner.problem(Problem::new(TextSpan::new(start, start + 1), what, A_VALUE));
                }
                return None;
            }
        },
    };
    Some(Node { span: scanner.span_from(start), value })
}

/// What begins with a word: the word alone, or the name of a bracket.
fn worded(scanner: &mut Scanner<'_>, name: Name, depth: usize) -> Option<NodeValue> {
    let end = scanner.at;
    scanner.skip_blank();
    if scanner.peek() == Some('(') {
        return round(scanner, Some(name), depth);
    }
    scanner.at = end;
    Some(match name.text.as_str() {
        "true" => NodeValue::Bool(true),
        "false" => NodeValue::Bool(false),
        _ => NodeValue::Word(name.text),
    })
}

/// `( … )`: entries with names, or values without.
fn round(scanner: &mut Scanner<'_>, name: Option<Name>, depth: usize) -> Option<NodeValue> {
    let open = scanner.at;
    scanner.bump();
    scanner.skip_blank();
    if scanner.at_entry() {
        let mut seen = HashSet::new();
        let entries = items(scanner, open, ')', |scanner| entry(scanner, depth, &mut seen))?;
        return Some(NodeValue::Struct(name, entries));
    }
    let values = items(scanner, open, ')', |scanner| value(scanner, depth + 1))?;
    Some(NodeValue::Tuple(name, values))
}

/// `name: value`; `seen` are the names before it.
fn entry(scanner: &mut Scanner<'_>, depth: usize, seen: &mut HashSet<String>) -> Option<(Name, Node)> {
    let Some(entry) = scanner.word() else {
        named_wrongly(scanner, depth);
        return None;
    };
    scanner.skip_blank();
    if !scanner.eat(':') {
        let expected = format!("a colon and a value after the name {}", entry.text);
        if scanner.peek() != Some('=') {
            let what = format!("{} stands without a value", super::clip(&entry.text));
            scanner.problem(Problem::new(entry.span, what, expected));
            return None;
        }
        scanner.stray(&expected);
    }
    if !seen.insert(entry.text.clone()) {
        let what = format!("{} is written twice", super::clip(&entry.text));
        scanner.problem(Problem::new(entry.span, what, "each name once").fix("delete one of the two"));
    }
    Some((entry, value(scanner, depth + 1)?))
}

/// Says what is wrong where the name of an entry should stand, and passes it.
fn named_wrongly(scanner: &mut Scanner<'_>, depth: usize) {
    const EXPECTED: &str = "a name, a colon and a value";
    let start = scanner.at;
    if !matches!(scanner.peek(), Some('"' | '\'' | '0'..='9')) {
        scanner.stray(EXPECTED);
        return;
    }
    let Some(node) = value(scanner, depth + 1) else { return };
    let what = format!("{} stands where a name should", node.shown());
    let mut problem = Problem::new(scanner.span_from(start), what, EXPECTED);
    if let NodeValue::Text(text) = &node.value {
        problem.fix = Some(format!("names stand without quotes: {}: …", super::clip(text)));
    }
    scanner.problem(problem);
}

fn list(scanner: &mut Scanner<'_>, depth: usize) -> Option<NodeValue> {
    let open = scanner.at;
    scanner.bump();
    items(scanner, open, ']', |scanner| value(scanner, depth + 1)).map(NodeValue::List)
}

fn map(scanner: &mut Scanner<'_>, depth: usize) -> Option<NodeValue> {
    let open = scanner.at;
    scanner.bump();
    let entries = items(scanner, open, '}', |scanner| {
        let key = value(scanner, depth + 1)?;
        scanner.skip_blank();
        if !scanner.eat(':') {
            let what = format!("{} stands without a value", key.shown());
            scanner.problem(Problem::new(key.span, what, "a colon and a value after the key"));
            return None;
        }
        Some((key, value(scanner, depth + 1)?))
    });
    entries.map(NodeValue::Map)
}

/// What stands between an opening bracket at `open` and its `close`, parted by commas; each item is read by `item`,
/// and what could not be read is left out. `None` when the bracket is never closed.
fn items<T>(
    scanner: &mut Scanner<'_>,
    open: usize,
    close: char,
    mut item: impl FnMut(&mut Scanner<'_>) -> Option<T>,
) -> Option<Vec<T>> {
    let mut items = Vec::new();
    loop {
        scanner.skip_blank();
        if scanner.eat(close) {
            return Some(items);
        }
        if scanner.peek().is_none() {
            never_closed(scanner, open, close);
            return None;
        }
        if scanner.problems.len() >= MAX_PROBLEMS {
            return None;
        }
        match item(scanner) {
            Some(item) => items.push(item),
            None => resume(scanner),
        }
        scanner.skip_blank();
        match scanner.peek() {
            Some(',') => {
                scanner.bump();
            }
            Some(c) if c == close => {}
            None => {
                never_closed(scanner, open, close);
                return None;
            }
            Some(')' | ']' | '}') => {
                let found = scanner.peek().unwrap_or(' ');
                let opened = scanner.text[open..].chars().next().unwrap_or(' ');
                let at = scanner.at;
                scanner.problem(Problem::new(
                    TextSpan::new(at, at + 1),
                    format!("'{found}' closes what '{opened}' opened"),
                    format!("'{close}'"),
                ));
                // Everything after a bracket that does not match would be misread.
                scanner.at = scanner.text.len();
                return None;
            }
            Some(_) => {
                let at = scanner.at;
                scanner.problem(
                    Problem::new(
                        TextSpan::new(at, at),
                        format!("'{}' follows a value", scanner.peek().unwrap_or(' ').escape_debug()),
                        format!("a comma or '{close}'"),
                    )
                    .fix("put a comma before it"),
                );
                if !starts_item(scanner) {
                    scanner.bump();
                    resume(scanner);
                }
            }
        }
    }
}

/// True where something that could be an item begins, so that only a comma was forgotten.
fn starts_item(scanner: &Scanner<'_>) -> bool {
    scanner.peek().is_some_and(|c| c.is_alphanumeric() || matches!(c, '_' | '"' | '(' | '[' | '{' | '-'))
}

fn never_closed(scanner: &mut Scanner<'_>, open: usize, close: char) {
    let opened = scanner.text[open..].chars().next().unwrap_or(' ');
    // With another problem before it, a missing end is most likely its consequence.
    if scanner.problems.is_empty() {
        scanner.problem(Problem::new(
            TextSpan::new(open, open + 1),
            format!("'{opened}' is never closed"),
            format!("'{close}' at its end"),
        ));
    }
}

/// Passes what is left of an item that could not be read: up to the comma or bracket that ends it.
fn resume(scanner: &mut Scanner<'_>) {
    let mut open = 0usize;
    while let Some(c) = scanner.peek() {
        match c {
            '(' | '[' | '{' => open += 1,
            ')' | ']' | '}' if open == 0 => return,
            ')' | ']' | '}' => open -= 1,
            ',' if open == 0 => return,
            '"' => {
                scanner.string();
                continue;
            }
            '/' => {
                let at = scanner.at;
                scanner.skip_blank();
                if scanner.at != at {
                    continue;
                }
            }
            _ => {}
        }
        scanner.bump();
    }
}
