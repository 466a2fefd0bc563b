//! Values out of nodes: each function gives the value, or says what is wrong and gives `None`.

use std::ops::RangeInclusive;

use super::{Node, NodeValue, Problem};

/// The number that digits without a sign stand for: decimal, `0x`, `0b`, `0o`, with underscores between them.
#[must_use]
pub fn digits(text: &str) -> Option<u128> {
    let text = text.to_ascii_lowercase();
    let (digits, radix) = [("0x", 16), ("0b", 2), ("0o", 8)]
        .into_iter()
        .find_map(|(prefix, radix)| Some((text.strip_prefix(prefix)?, radix)))
        .unwrap_or((&text, 10));
    if digits.starts_with('_') || digits.ends_with('_') {
        return None;
    }
    let digits = digits.replace('_', "");
    // The standard library would let a sign through.
    digits.chars().all(|c| c.is_digit(radix)).then(|| u128::from_str_radix(&digits, radix).ok())?
}

/// The number that decimal digits alone stand for, without signs, blanks and anything else that the standard library
/// would let through.
#[must_use]
pub fn plain<N: std::str::FromStr>(text: &str) -> Option<N> {
    text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse().ok())?
}

/// The whole number that `text` says: [`digits`], with or without a sign; a real minus sign will do.
#[must_use]
pub fn whole(text: &str) -> Option<i128> {
    let text = text.trim();
    match text.strip_prefix(['-', '\u{2212}']) {
        Some(size) => 0i128.checked_sub_unsigned(digits(size)?),
        None => i128::try_from(digits(text.strip_prefix('+').unwrap_or(text))?).ok(),
    }
}

/// The first and the last of the whole numbers that `text` says with `between` between the two; `None` when it says
/// none.
#[must_use]
pub fn ends(text: &str, between: &str) -> Option<(i128, i128)> {
    let (first, last) = text.split_once(between)?;
    let (first, last) = (whole(first)?, whole(last)?);
    (first <= last).then_some((first, last))
}

/// The whole number of `node`, without a message.
#[must_use]
pub fn as_integer(node: &Node) -> Option<i128> {
    let NodeValue::Number(text) = &node.value else { return None };
    whole(text)
}

/// A whole number within `range`; `what` names it in messages ("a number of bits").
pub fn int<T>(node: &Node, range: RangeInclusive<T>, what: &str, problems: &mut Vec<Problem>) -> Option<T>
where
    T: TryFrom<i128> + Into<i128> + Copy,
{
    let (least, most): (i128, i128) = ((*range.start()).into(), (*range.end()).into());
    let expected = || match most {
        most if least == most => format!("{what}, which can only be {least}"),
        most if least <= i64::MIN.into() && most >= i64::MAX.into() => {
            format!("{what}, a whole number of at most 64 bits")
        }
        most if most >= i128::from(i64::MAX) => format!("{what}, a whole number of at least {least}"),
        most => format!("{what}, a whole number from {least} to {most}"),
    };
    match as_integer(node) {
        Some(value) if least <= value && value <= most => T::try_from(value).ok(),
        _ => {
            let mut problem = Problem::unfit(node, expected());
            if let NodeValue::Text(text) = &node.value
                && digits(text).is_some()
            {
                problem.fix = Some(format!("numbers stand without quotes: {text}"));
            }
            problems.push(problem);
            None
        }
    }
}

/// One of a few whole numbers; `expected` says which.
pub fn one_of<T: TryFrom<i128> + PartialEq>(
    node: &Node,
    numbers: &[T],
    expected: &str,
    problems: &mut Vec<Problem>,
) -> Option<T> {
    let found = as_integer(node).and_then(|n| T::try_from(n).ok()).filter(|n| numbers.contains(n));
    if found.is_none() {
        problems.push(Problem::unfit(node, expected));
    }
    found
}

/// A whole number from 0 up to the largest of 128 bits.
pub fn unsigned(node: &Node, what: &str, problems: &mut Vec<Problem>) -> Option<u128> {
    let value = match &node.value {
        NodeValue::Number(text) => digits(text.strip_prefix('+').unwrap_or(text)),
        _ => None,
    };
    if value.is_none() {
        problems.push(Problem::unfit(node, format!("{what}, a whole number of at least 0")));
    }
    value
}

/// An offset or a number of bytes: a whole number from 0.
pub fn size(node: &Node, what: &str, problems: &mut Vec<Problem>) -> Option<usize> {
    int(node, 0..=i64::from(u32::MAX), what, problems).and_then(|n| usize::try_from(n).ok())
}

/// A number, with or without a fraction.
pub fn real(node: &Node, what: &str, problems: &mut Vec<Problem>) -> Option<f64> {
    let value = match (&node.value, as_integer(node)) {
        (_, Some(whole)) => Some(whole as f64),
        (NodeValue::Number(text), None) => text.parse().ok().filter(|n: &f64| n.is_finite()),
        _ => None,
    };
    if value.is_none() {
        problems.push(Problem::new(node.span, format!("{} is no number", node.shown()), what.to_string()));
    }
    value
}

/// `true` or `false`.
pub fn boolean(node: &Node, problems: &mut Vec<Problem>) -> Option<bool> {
    match &node.value {
        NodeValue::Bool(value) => Some(*value),
        _ => {
            problems.push(Problem::new(
                node.span,
                format!("{} is neither true nor false", node.shown()),
                "true or false",
            ));
            None
        }
    }
}

/// A string in double quotes.
pub fn text<'n>(node: &'n Node, what: &str, problems: &mut Vec<Problem>) -> Option<&'n str> {
    match &node.value {
        NodeValue::Text(text) => Some(text),
        other => {
            let mut problem = Problem::new(
                node.span,
                format!("{} is no string", node.shown()),
                format!("{what} in double quotes"),
            );
            if let NodeValue::Word(word) | NodeValue::Number(word) = other {
                problem.fix = Some(format!("write \"{}\"", super::clip(word)));
            }
            problems.push(problem);
            None
        }
    }
}

/// One of a list of bare words.
pub fn word<T: Copy>(
    node: &Node,
    words: &[(&'static str, T)],
    what: &str,
    problems: &mut Vec<Problem>,
) -> Option<T> {
    let found = match &node.value {
        NodeValue::Word(word) | NodeValue::Text(word) => word.as_str(),
        _ => "",
    };
    if let NodeValue::Word(_) = &node.value
        && let Some((_, value)) = words.iter().find(|(word, _)| *word == found)
    {
        return Some(*value);
    }
    let names = || words.iter().map(|(word, _)| *word);
    let mut problem = Problem::new(
        node.span,
        format!("{} is not {what}", node.shown()),
        format!("one of {}", names().collect::<Vec<_>>().join(", ")),
    )
    .suggest(found, names());
    if matches!(node.value, NodeValue::Text(_)) && names().any(|n| n == found) {
        problem.fix = Some(format!("words stand without quotes: {found}"));
    }
    problems.push(problem);
    None
}

/// `[a, b, …]`.
pub fn list<'n>(node: &'n Node, what: &str, problems: &mut Vec<Problem>) -> Option<&'n [Node]> {
    match &node.value {
        NodeValue::List(items) => Some(items),
        _ => {
            problems.push(
                Problem::new(
                    node.span,
                    format!("{} is no list", node.shown()),
                    format!("{what} in square brackets: [a, b, …]"),
                )
                .fix("put square brackets around it"),
            );
            None
        }
    }
}

/// `[a, b, …]`, or one value that stands for a list of itself.
#[must_use]
pub fn one_or_more(node: &Node) -> &[Node] {
    match &node.value {
        NodeValue::List(items) => items,
        _ => std::slice::from_ref(node),
    }
}

/// `{a: b, …}`.
pub fn map<'n>(node: &'n Node, what: &str, problems: &mut Vec<Problem>) -> Option<&'n [(Node, Node)]> {
    match &node.value {
        NodeValue::Map(items) => Some(items),
        _ => {
            problems.push(Problem::new(
                node.span,
                format!("{} is no map", node.shown()),
                format!("{what} in curly brackets: {{key: value, …}}"),
            ));
            None
        }
    }
}

/// Bytes written as hexadecimal pairs in a string: `"4B 44 31"`; blanks between pairs are free.
pub fn hex(node: &Node, what: &str, problems: &mut Vec<Problem>) -> Option<Vec<u8>> {
    let typed = text(node, what, problems)?;
    let bytes = hex_bytes(typed);
    if bytes.is_none() {
        problems.push(Problem::new(
            node.span,
            format!("{} is not written as hexadecimal pairs", node.shown()),
            format!("{what} as pairs of hexadecimal digits: \"4B 44 31\""),
        ));
    }
    bytes
}

/// The bytes that hexadecimal pairs stand for; `None` when `text` holds anything else.
#[must_use]
pub fn hex_bytes(text: &str) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    for run in text.split_whitespace() {
        if run.len() % 2 != 0 || !run.bytes().all(|b| b.is_ascii_hexdigit()) {
            return None;
        }
        for pair in run.as_bytes().chunks(2) {
            let pair = std::str::from_utf8(pair).ok()?;
            bytes.push(u8::from_str_radix(pair, 16).ok()?);
        }
    }
    Some(bytes)
}
