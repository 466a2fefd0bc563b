//! Writing a layout while looking at an image: fields are put into its text, changed and taken out by their paths,
//! and everything that was not touched keeps its comments and its formatting.
//!
//! Every function takes the text of a layout and gives the new text. The new text is read before it is given, so
//! that a text that could be used stays one that can be used.

mod likely;
mod locate;

pub use likely::{Likely, likely};

use crate::layout::{self, Role};
use crate::notation::{Node, NodeValue, Problem, splice};
use locate::{Place, name_of, node_at, number_at, place_of, top_fields};

/// A field to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewField {
    /// Its name: small letters, digits and underscores.
    pub name: String,
    /// Offset of its first byte in the image.
    pub at: usize,
    /// Its kind as a layout writes it: `Int(bits: 16)`.
    pub kind: String,
    /// What it is to the repair.
    pub role: Role,
    /// A remark.
    pub note: Option<String>,
}

impl NewField {
    /// The field as a layout writes it.
    fn written(&self) -> String {
        let NewField { name, at, kind, role, note } = self;
        let rest = if *role == Role::Record { ", rest: 0xFF" } else { "" };
        let note = note.as_ref().map(|n| format!(", note: {n:?}")).unwrap_or_default();
        format!("(name: {name:?}, at: {at:#06X}, kind: {kind}, role: {}{rest}{note})", role.word())
    }
}

/// Why a change of a layout's text was refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refused {
    /// The text, or what it would become, has these problems.
    Problems(Vec<Problem>),
    /// What was asked for cannot be done, and why, with what to do instead.
    Because(String),
}

impl Refused {
    /// Why, in one sentence without its full stop.
    #[must_use]
    pub fn why(&self) -> String {
        match self {
            Refused::Because(why) => why.clone(),
            Refused::Problems(problems) => problems.first().map_or_else(String::new, |p| {
                let fix = p.fix.as_ref().map(|f| format!("; {f}")).unwrap_or_default();
                format!("{}; expected {}{fix}", p.what, p.expected)
            }),
        }
    }
}

/// The text of a layout without fields. It has no marks, so it is used only when it is named.
#[must_use]
pub fn begin(title: &str) -> String {
    format!(
        "(\n    layout: {title:?},\n    format: 1,\n    source: \"worked out from images\",\n    \
         order: Big,\n    fields: [\n    ],\n)\n"
    )
}

/// Puts a field in, among the fields of the top in the order of offsets.
///
/// # Errors
/// When the name is taken or the field cannot be written.
pub fn add(text: &str, field: &NewField) -> Result<String, Refused> {
    let root = node_of(text)?;
    let list = top_fields(&root).ok_or_else(|| because("the layout has no list of fields"))?;
    let NodeValue::List(nodes) = &list.value else {
        return Err(because("the fields of the layout are no list"));
    };
    if nodes.iter().any(|n| name_of(n) == Some(field.name.as_str())) {
        return Err(because(format!("there is a field called {} already; give another name", field.name)));
    }
    // Behind the last field that begins before it; fields whose offset is not a number stay where they are.
    let before = nodes.iter().rposition(|n| number_at(n).is_some_and(|at| at <= field.at as i128));
    let index = before.map_or(0, |i| i + 1);
    checked(splice::insert(text, list, index, &[field.written()]))
}

/// Changes one entry of the field at `path`: `entry` is `name`, `at`, `kind`, `role`, `note`…, `value` as a layout
/// writes it; `None` takes the entry out.
///
/// # Errors
/// When there is no such field in the text, or it could not be used afterwards.
pub fn change(text: &str, path: &str, entry: &str, value: Option<&str>) -> Result<String, Refused> {
    let root = node_of(text)?;
    let place = find(&root, path)?;
    let node = node_at(&place)?;
    checked(match value {
        Some(value) => splice::set_entry(text, node, entry, value),
        None => splice::remove_entry(text, node, entry),
    })
}

/// Takes the field at `path` out.
///
/// # Errors
/// When there is no such field in the text, or another one hangs on it.
pub fn remove(text: &str, path: &str) -> Result<String, Refused> {
    let root = node_of(text)?;
    let place = find(&root, path)?;
    checked(splice::remove(text, place.list, place.index))
}

/// Makes two fields of bytes of the field at `path`, the second beginning `bytes` bytes behind its start.
/// `all` is how many bytes it has now.
///
/// # Errors
/// When there is no such field in the text or it has not more than `bytes` bytes.
pub fn split(text: &str, path: &str, bytes: usize, all: usize) -> Result<String, Refused> {
    let root = node_of(text)?;
    let place = find(&root, path)?;
    let node = node_at(&place)?;
    let Some(at) = number_at(node).and_then(|at| usize::try_from(at).ok()) else {
        return Err(because(format!("{path} has no offset of its own; give it one first")));
    };
    if bytes == 0 || bytes >= all {
        return Err(because(format!("{path} has {all} bytes and cannot be split at {bytes}")));
    }
    let name = name_of(node).unwrap_or_default().to_owned();
    let second = second_name(&name, place.list);
    // The second first: places in front of it stay true.
    let written = format!(
        "(name: {second:?}, at: {:#06X}, kind: Bytes(bytes: {}){})",
        at + bytes,
        all - bytes,
        role_of(node).map(|r| format!(", role: {r}")).unwrap_or_default()
    );
    let with_second = splice::insert(text, place.list, place.index + 1, &[written]);
    let with_second = with_second.ok_or_else(|| because("the fields are no list"))?;
    let root = node_of(&with_second)?;
    let node_place = find(&root, path)?;
    let node = node_at(&node_place)?;
    checked(splice::set_entry(&with_second, node, "kind", &format!("Bytes(bytes: {bytes})")))
}

/// A name for the second half: the first's with `_2`, or the next number that is free.
fn second_name(name: &str, list: &Node) -> String {
    let taken: Vec<&str> = match &list.value {
        NodeValue::List(nodes) => nodes.iter().filter_map(name_of).collect(),
        _ => Vec::new(),
    };
    (2..).map(|n| format!("{name}_{n}")).find(|n| !taken.contains(&n.as_str())).unwrap_or_default()
}

/// The role that the text of a field states.
fn role_of(node: &Node) -> Option<&str> {
    let NodeValue::Struct(_, entries) = &node.value else { return None };
    entries.iter().find(|(name, _)| name.text == "role").and_then(|(_, node)| node.head())
}

fn because(why: impl Into<String>) -> Refused {
    Refused::Because(why.into())
}

fn node_of(text: &str) -> Result<Node, Refused> {
    crate::notation::parse(text).map_err(Refused::Problems)
}

fn find<'n>(root: &'n Node, path: &str) -> Result<Place<'n>, Refused> {
    place_of(root, path).ok_or_else(|| {
        because(format!("{path} is not written out in the layout; only fields that are can be changed here"))
    })
}

/// `text` if it can be read as a layout.
fn checked(text: Option<String>) -> Result<String, Refused> {
    let text = text.ok_or_else(|| because("the text of the layout has another shape than expected there"))?;
    layout::read(&text).map_err(Refused::Problems)?;
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Image;

    const TEXT: &str = "\
// What the bench knows of it.
(
    layout: \"t\",
    format: 1,
    source: \"worked out\",
    order: Big,
    fields: [
        // The mark, never changed.
        (name: \"mark\", at: 0, kind: Text(bytes: 4), role: Identity),
        (name: \"block\", at: 0x10, kind: Group(of: [
            (name: \"hours\", at: 0, kind: Int(bits: 32)), // since it was made
            (name: \"starts\", at: 4, kind: Int(bits: 16)),
        ]), role: Record, rest: 0xFF),
    ],
)
";

    fn field(name: &str, at: usize) -> NewField {
        NewField {
            name: name.to_owned(),
            at,
            kind: "Int(bits: 16)".to_owned(),
            role: Role::Setting,
            note: None,
        }
    }

    /// The paths that the layout of `text` gives an image, in order.
    fn paths(text: &str) -> Vec<String> {
        let layout = layout::read(text).unwrap();
        let decoded = layout::decode(&layout, &Image::raw(vec![0x41; 64]));
        decoded.fields.iter().map(|f| f.path.clone()).collect()
    }

    /// Every line of `before` that `after` lacks.
    fn lost<'t>(before: &'t str, after: &str) -> Vec<&'t str> {
        before.lines().filter(|line| !after.lines().any(|l| l == *line)).collect()
    }

    #[test]
    fn a_field_is_added_in_the_order_of_offsets_and_nothing_else_changes() {
        let text = add(TEXT, &field("setpoint", 8)).unwrap();
        assert_eq!(paths(&text)[..2], ["mark", "setpoint"]);
        assert!(lost(TEXT, &text).is_empty(), "{text}");
        assert!(
            text.contains("        (name: \"setpoint\", at: 0x0008, kind: Int(bits: 16), role: Setting),\n"),
            "{text}"
        );
        let last = add(&text, &field("last", 0x20)).unwrap();
        assert_eq!(paths(&last).last().unwrap(), "last");
        assert!(matches!(add(&text, &field("mark", 0x30)), Err(Refused::Because(_))));
    }

    #[test]
    fn entries_of_fields_inside_groups_are_changed_and_their_comments_stay() {
        let text = change(TEXT, "block.hours", "unit", Some("\"h\"")).unwrap();
        assert!(text.contains("kind: Int(bits: 32), unit: \"h\"), // since it was made"), "{text}");
        let text = change(&text, "block.hours", "name", Some("\"run_hours\"")).unwrap();
        assert!(paths(&text).contains(&"block.run_hours".to_owned()));
        assert!(change(TEXT, "block.nothing", "unit", Some("\"h\"")).is_err());
        assert!(matches!(change(TEXT, "mark", "kind", Some("Int(bits: 99)")), Err(Refused::Problems(_))));
    }

    #[test]
    fn a_field_is_taken_out_and_one_that_others_need_is_kept() {
        let text = remove(TEXT, "block.starts").unwrap();
        assert!(!paths(&text).contains(&"block.starts".to_owned()));
        assert_eq!(lost(TEXT, &text).len(), 1);
        let needed = change(TEXT, "block", "when", Some("\"mark == 'AAAA'\"")).unwrap();
        assert!(matches!(remove(&needed, "mark"), Err(Refused::Problems(_))), "block hangs on mark");
    }

    #[test]
    fn a_field_is_split_into_two_of_bytes() {
        let text = split(TEXT, "mark", 1, 4).unwrap();
        assert_eq!(paths(&text)[..2], ["mark", "mark_2"]);
        assert!(text.contains("// The mark, never changed."), "{text}");
        assert!(split(TEXT, "mark", 4, 4).is_err());
    }

    #[test]
    fn a_layout_begins_empty_and_can_be_used() {
        let text = add(&begin("board"), &field("first", 0)).unwrap();
        assert_eq!(paths(&text), ["first"]);
    }
}
