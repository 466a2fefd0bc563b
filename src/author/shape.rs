//! Where a field lies and how long it is, and rows made of fields.

use super::locate::{Place, entry, name_of, node_at, number_at, top_fields};
use super::{Refused, because, checked, find, node_of};
use crate::layout::Role;
use crate::notation::{Node, NodeValue, TextSpan, get, splice};
use crate::span::Span;

/// Moves the field at `path` by `by` bytes. `now` is where it lies, counted from the start of what holds it; it is
/// written when the field had no offset of its own.
///
/// # Errors
/// When there is no such field in the text, its offset is no number, or the layout could not be used afterwards.
pub fn move_by(text: &str, path: &str, by: isize, now: usize) -> Result<String, Refused> {
    let root = node_of(text)?;
    let place = find(&root, path)?;
    let node = node_at(&place)?;
    let old = match entry(node, "at") {
        None => now as i128,
        Some(at) => get::as_integer(at)
            .ok_or_else(|| because(format!("the offset of {path} is worked out; change it in the text")))?,
    };
    let new = old + by as i128;
    if old >= 0 && new < 0 {
        return Err(because(format!("{path} cannot begin before the start of what holds it")));
    }
    checked(splice::set_entry(text, node, "at", &offset(new)))
}

/// Makes the field at `path` `bytes` bytes long.
///
/// # Errors
/// When there is no such field in the text, its kind states no size, or the layout could not be used afterwards.
pub fn stretch(text: &str, path: &str, bytes: usize) -> Result<String, Refused> {
    let root = node_of(text)?;
    let place = find(&root, path)?;
    let kind = entry(node_at(&place)?, "kind").ok_or_else(|| because(format!("{path} has no kind")))?;
    let sized = [("bytes", 1), ("bits", 8), ("digits", 2)]
        .into_iter()
        .find(|(key, _)| entry(kind, key).is_some_and(|n| get::as_integer(n).is_some()));
    let Some((key, units)) = sized else {
        return Err(because(format!("the kind of {path} states no size; describe the field anew")));
    };
    if bytes == 0 {
        return Err(because(format!("{path} would have no byte left")));
    }
    checked(splice::set_entry(text, kind, key, &(bytes * units).to_string()))
}

/// A table to be made from its first row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewTable {
    /// Its name.
    pub name: String,
    /// The first row.
    pub first: Span,
    /// Bytes from one row to the next.
    pub stride: usize,
    /// How many rows.
    pub rows: usize,
    /// What the table is to the repair.
    pub role: Role,
}

/// Makes a table of a first row. `inside` are the paths of the fields at the top that lie in that row: they become
/// the fields of a row, with their comments. Without any, a row is plain bytes.
///
/// # Errors
/// When the fields do not stand one after the other in the text, one of them has no offset that is a number, the
/// name is taken, or the layout could not be used afterwards.
pub fn table(text: &str, table: &NewTable, inside: &[&str]) -> Result<String, Refused> {
    let NewTable { name, first, stride, rows, role } = table;
    if *stride < first.len() || *rows == 0 {
        let why = format!("a row has {} bytes, so rows cannot follow each other every {stride}", first.len());
        return Err(because(if *rows == 0 { "a table has at least one row".into() } else { why }));
    }
    let rest = if *role == Role::Record { ", rest: 0xFF" } else { "" };
    let head = format!(
        "(name: {name:?}, at: {:#06X}, kind: Table(rows: {rows}, stride: {stride}, of: [",
        first.start
    );
    let foot = format!("]), role: {}{rest})", role.word());
    let mut text = text.to_owned();
    {
        let root = node_of(&text)?;
        let nodes = listed(&root)?;
        let taken = |n: &Node| name_of(n).is_some_and(|n| n == name && !inside.contains(&n));
        if nodes.iter().any(taken) {
            return Err(because(format!("there is a field called {name} already; give another name")));
        }
        if inside.is_empty() {
            let before = nodes.iter().rposition(|n| number_at(n).is_some_and(|at| at <= first.start as i128));
            let list = top_fields(&root).ok_or_else(|| because("the layout has no list of fields"))?;
            let bytes = first.len();
            let row = format!(
                "{head}\n            (name: \"bytes\", at: 0, kind: Bytes(bytes: {bytes})),\n        {foot}"
            );
            return checked(splice::insert(&text, list, before.map_or(0, |i| i + 1), &[row]));
        }
    }
    // Offsets inside a row count from its start. Each change leaves the tree out of date, so it is made again.
    for path in inside {
        let root = node_of(&text)?;
        let place = find(&root, path)?;
        let node = node_at(&place)?;
        let at = number_at(node).map(|at| at - first.start as i128).filter(|at| *at >= 0);
        let at = at.ok_or_else(|| because(format!("{path} has no offset of its own; give it one first")))?;
        let written = splice::set_entry(&text, node, "at", &short_offset(at));
        text = written.ok_or_else(|| because(format!("{path} is no field that can be changed here")))?;
    }
    let root = node_of(&text)?;
    let list = top_fields(&root).ok_or_else(|| because("the layout has no list of fields"))?;
    let nodes = listed(&root)?;
    let of = |path: &&str| nodes.iter().position(|n| name_of(n) == Some(path));
    let mut indices: Vec<usize> = inside.iter().filter_map(of).collect();
    indices.sort_unstable();
    let (Some(&from), Some(&to)) = (indices.first(), indices.last()) else {
        return Err(because("the fields of the row do not stand at the top of the layout"));
    };
    if indices.len() != inside.len() || to - from + 1 != indices.len() {
        return Err(because("the fields of the row do not stand one after the other in the layout"));
    }
    let span = splice::lines_of(&text, list, from, to).ok_or_else(|| {
        because("the fields of the row share a line with others; put each in a line of its own")
    })?;
    let body = text.get(span.start..span.end).unwrap_or_default();
    let indent: String = body.chars().take_while(|c| c.is_whitespace() && *c != '\n').collect();
    let deeper: String = body
        .split_inclusive('\n')
        .map(|line| if line.trim().is_empty() { line.to_owned() } else { format!("    {line}") })
        .collect();
    let new = format!("{indent}{head}\n{}{indent}{foot},\n", with_comma(&deeper));
    checked(Some(splice::replace(&text, TextSpan::new(span.start, span.end), &new)))
}

/// Lines of elements, the last of which may lack its comma.
fn with_comma(lines: &str) -> String {
    let end = lines.trim_end().len();
    let (body, tail) = lines.split_at(end);
    let tail = if tail.is_empty() { "\n" } else { tail };
    let last = body.lines().last().unwrap_or_default();
    if body.ends_with(',') || last.contains("//") {
        format!("{body}{tail}")
    } else {
        format!("{body},{tail}")
    }
}

fn listed(root: &Node) -> Result<&[Node], Refused> {
    match top_fields(root).map(|list| &list.value) {
        Some(NodeValue::List(nodes)) => Ok(nodes),
        _ => Err(because("the layout has no list of fields")),
    }
}

/// An offset as layouts write it.
pub(super) fn offset(at: i128) -> String {
    if at < 0 { at.to_string() } else { format!("{at:#06X}") }
}

/// An offset inside a group or row as layouts write it.
pub(super) fn short_offset(at: i128) -> String {
    if at < 0 { at.to_string() } else { format!("{at:#04X}") }
}

/// The list of fields that the group or row at `path` holds; the one of the top without a path.
pub(super) fn list_in<'n>(root: &'n Node, path: Option<&str>) -> Result<&'n Node, Refused> {
    let none = || because("the layout has no list of fields");
    match path {
        None => top_fields(root).ok_or_else(none),
        Some(path) => {
            let place: Place<'n> = find(root, path)?;
            let node = match &place.list.value {
                NodeValue::List(nodes) => nodes.get(place.index),
                _ => None,
            };
            node.and_then(|n| entry(entry(n, "kind")?, "of"))
                .filter(|n| matches!(n.value, NodeValue::List(_)))
                .ok_or_else(|| because(format!("{path} has no list of fields in the layout")))
        }
    }
}
