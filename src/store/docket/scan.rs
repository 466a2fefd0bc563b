//! Where the entries of a docket stand in its text, however the text came about.

use super::form::{WORDS, read_entry};
use crate::notation::{Node, NodeValue, parse, splice};

/// What was found in a text.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Scanned {
    /// Whether it is a docket's at all.
    pub is_docket: bool,
    /// The entries, from their first byte to the one after their last bracket.
    pub entries: Vec<(usize, usize)>,
    /// The list they stand in, when everything around it is as it should be.
    pub list: Option<Node>,
    /// What makes no sense, and where.
    pub problems: Vec<(usize, String)>,
}

impl Scanned {
    /// `text` with an entry more at the end of its list; `None` when its brackets are wrong.
    pub(super) fn with_entry(&self, text: &str, entry: &str) -> Option<String> {
        splice::insert(text, self.list.as_ref()?, usize::MAX, &[entry.to_owned()])
    }
}

/// Finds the entries in `text`.
pub(super) fn scan(text: &str) -> Scanned {
    match parse(text) {
        Ok(node) => whole(node),
        Err(problems) if begins_docket(text) => {
            let mut scanned = left_over(text);
            scanned.problems.extend(
                problems.into_iter().map(|p| (p.span.start, format!("{}; expected {}", p.what, p.expected))),
            );
            scanned
        }
        Err(_) => Scanned::default(),
    }
}

/// The entries of a text whose brackets and quotes are right.
fn whole(node: Node) -> Scanned {
    let mut scanned = Scanned::default();
    let end = node.span.end;
    let NodeValue::Struct(None, keys) = node.value else { return scanned };
    scanned.is_docket = keys.iter().any(|(name, _)| name.text == "docket");
    let list = keys.into_iter().find(|(name, _)| name.text == "entries").map(|(_, list)| list);
    match &list {
        Some(Node { value: NodeValue::List(nodes), .. }) => {
            for node in nodes {
                if node.head().is_some_and(|word| WORDS.contains(&word)) {
                    scanned.entries.push((node.span.start, node.span.end));
                } else {
                    scanned
                        .problems
                        .push((node.span.start, format!("{} is no entry; it is passed over", node.shown())));
                }
            }
            scanned.list = list;
        }
        _ => scanned.problems.push((end, "the docket ends before its entries".to_owned())),
    }
    scanned
}

/// Whether a damaged text was a docket: its first key is `docket`, or it holds what begins as an entry does.
fn begins_docket(text: &str) -> bool {
    let mut rest = text.trim_start();
    while rest.starts_with("//") {
        rest = rest.split_once('\n').map_or("", |(_, rest)| rest).trim_start();
    }
    rest.strip_prefix('(').is_some_and(|rest| rest.trim_start().starts_with("docket"))
        || entry_starts(text).next().is_some()
}

/// Where lines begin as an entry does.
fn entry_starts(text: &str) -> impl Iterator<Item = usize> {
    let begins = |line: &str| {
        WORDS.iter().any(|word| line.strip_prefix(word).is_some_and(|rest| rest.starts_with('(')))
    };
    text.split_inclusive('\n')
        .scan(0, |at, line| {
            let start = *at + line.len() - line.trim_start().len();
            *at += line.len();
            Some((start, line))
        })
        .filter(move |(_, line)| begins(line.trim_start()))
        .map(|(start, _)| start)
}

/// The entries of a text that was cut short or lost a bracket or a quote. The program begins an entry in a line of
/// its own and writes no line breaks into strings, so what is wrong with one entry ends where the next line begins
/// one.
fn left_over(text: &str) -> Scanned {
    let mut scanned = Scanned { is_docket: true, ..Scanned::default() };
    let mut starts = entry_starts(text).peekable();
    while let Some(start) = starts.next() {
        let end = starts.peek().copied().unwrap_or(text.len());
        let brackets = text[start..end].match_indices(')').map(|(at, _)| start + at + 1);
        // Most entries end in the last bracket or, at the end of the docket, in the one before it.
        match brackets.rev().find(|&end| read_entry(&text[start..end]).is_ok()) {
            Some(end) => scanned.entries.push((start, end)),
            None => scanned.problems.push((start, "the entry that begins here does not end".to_owned())),
        }
    }
    scanned
}
