//! Where a field lies and how long it is.

use super::locate::{entry, top_fields};
use super::{Refused, because, checked, find, node_of};
use crate::notation::{Node, NodeValue, get, splice};
use crate::value::Kind;

/// Moves the field at `path` by `by` bytes. `now` is where it lies, counted from the start of what holds it; it is
/// written when the field had no offset of its own.
///
/// # Errors
/// When there is no such field in the text, its offset is no number, or the layout could not be used afterwards.
pub fn move_by(text: &str, path: &str, by: isize, now: usize) -> Result<String, Refused> {
    let root = node_of(text)?;
    let node = find(&root, path)?.node;
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
    let kind =
        entry(find(&root, path)?.node, "kind").ok_or_else(|| because(format!("{path} has no kind")))?;
    let key = ["bytes", "bits", "digits"]
        .into_iter()
        .find(|key| entry(kind, key).is_some_and(|n| get::as_integer(n).is_some()))
        .ok_or_else(|| because(format!("the kind of {path} states no size; describe the field anew")))?;
    if bytes == 0 {
        return Err(because(format!("{path} would have no byte left")));
    }
    let stated = |number: usize| splice::set_entry(text, kind, key, &number.to_string());
    // Digits are two in a byte or one, and a sign takes the place of one.
    let digits = [bytes * 2, bytes * 2 - 1, bytes, bytes - 1];
    checked(match key {
        "bytes" => stated(bytes),
        "bits" => stated(bytes * 8),
        _ => digits
            .into_iter()
            .map(stated)
            .find(|text| {
                let text = text.as_deref().unwrap_or_default();
                node_of(text).is_ok_and(|root| bytes_of(&root, path) == Some(bytes))
            })
            .flatten(),
    })
}

/// The bytes of the field at `path` as its kind states them.
fn bytes_of(root: &Node, path: &str) -> Option<usize> {
    let kind = entry(find(root, path).ok()?.node, "kind")?;
    Kind::read(kind, &mut Vec::new())?.size().bytes()
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
        Some(path) => entry(find(root, path)?.node, "kind")
            .and_then(|kind| entry(kind, "of"))
            .filter(|n| matches!(n.value, NodeValue::List(_)))
            .ok_or_else(|| because(format!("{path} has no list of fields in the layout"))),
    }
}
