//! From text to tree. Goes on after a problem where it can, so that one reading tells them all.

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
        let mut entries: Vec<(Name, Node)> = Vec::new();
        let mut seen = std::collections::HashSet::new();
        let closed = items(scanner, open, ')', |scanner| {
            let Some(entry) = scanner.word() else {
                named_wrongly(scanner, depth);
                return false;
            };
            scanner.skip_blank();
            if !scanner.eat(':') {
                let expected = format!("a colon and a value after the name {}", entry.text);
                if scanner.peek() == Some('=') {
                    scanner.stray(&expected);
                } else {
                    let span = entry.span;
                    scanner.problem(Problem::new(
                        span,
                        format!("{} stands without a value", super::clip(&entry.text)),
                        expected,
                    ));
                    return false;
                }
            }
            if !seen.insert(entry.text.clone()) {
                scanner.problem(
                    Problem::new(
                        entry.span,
                        format!("{} is written twice", super::clip(&entry.text)),
                        "each name once",
                    )
                    .fix("delete one of the two"),
                );
            }
            match value(scanner, depth + 1) {
                Some(node) => {
                    entries.push((entry, node));
                    true
                }
                None => false,
            }
        });
        return closed.then_some(NodeValue::Struct(name, entries));
    }
    let mut values = Vec::new();
    let closed = items(scanner, open, ')', |scanner| match value(scanner, depth + 1) {
        Some(node) => {
            values.push(node);
            true
        }
        None => false,
    });
    closed.then_some(NodeValue::Tuple(name, values))
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
    let mut values = Vec::new();
    let closed = items(scanner, open, ']', |scanner| match value(scanner, depth + 1) {
        Some(node) => {
            values.push(node);
            true
        }
        None => false,
    });
    closed.then_some(NodeValue::List(values))
}

fn map(scanner: &mut Scanner<'_>, depth: usize) -> Option<NodeValue> {
    let open = scanner.at;
    scanner.bump();
    let mut entries = Vec::new();
    let closed = items(scanner, open, '}', |scanner| {
        let Some(key) = value(scanner, depth + 1) else { return false };
        scanner.skip_blank();
        if !scanner.eat(':') {
            let what = format!("{} stands without a value", key.shown());
            scanner.problem(Problem::new(key.span, what, "a colon and a value after the key"));
            return false;
        }
        match value(scanner, depth + 1) {
            Some(node) => {
                entries.push((key, node));
                true
            }
            None => false,
        }
    });
    closed.then_some(NodeValue::Map(entries))
}

/// What stands between an opening bracket at `open` and its `close`, parted by commas; each item is read by
/// `item`, which says whether it was one. Returns false when the bracket is never closed.
fn items(
    scanner: &mut Scanner<'_>,
    open: usize,
    close: char,
    mut item: impl FnMut(&mut Scanner<'_>) -> bool,
) -> bool {
    loop {
        scanner.skip_blank();
        if scanner.eat(close) {
            return true;
        }
        if scanner.peek().is_none() {
            return never_closed(scanner, open, close);
        }
        if scanner.problems.len() >= MAX_PROBLEMS {
            return false;
        }
        if !item(scanner) {
            resume(scanner);
        }
        scanner.skip_blank();
        match scanner.peek() {
            Some(',') => {
                scanner.bump();
            }
            Some(c) if c == close => {}
            None => return never_closed(scanner, open, close),
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
                return false;
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

fn never_closed(scanner: &mut Scanner<'_>, open: usize, close: char) -> bool {
    let opened = scanner.text[open..].chars().next().unwrap_or(' ');
    // With another problem before it, a missing end is most likely its consequence.
    if scanner.problems.is_empty() {
        scanner.problem(Problem::new(
            TextSpan::new(open, open + 1),
            format!("'{opened}' is never closed"),
            format!("'{close}' at its end"),
        ));
    }
    false
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
