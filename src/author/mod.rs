//! Writing a layout while looking at an image: fields are put into its text, changed and taken out by their paths,
//! and everything that was not touched keeps its comments and its formatting.
//!
//! Every function takes the text of a layout and gives the new text. The new text is read before it is given, so
//! that a text that could be used stays one that can be used.

mod checks;
mod coverage;
mod head;
mod likely;
mod locate;
mod scaling;
mod shape;
mod table;

pub use checks::add_check;
pub use coverage::{percent, pieces, undescribed};
pub use head::{Head, head, mark, set_head};
pub use likely::{Likely, Reading, likely, reading};
pub use scaling::Scaling;
pub use shape::{move_by, stretch};
pub use table::{NewColumn, NewTable, columns, count_rows, guess_columns, table};

use crate::layout::{self, Role};
use crate::notation::{Node, NodeValue, Problem, splice};
use crate::span::ByteOrder;
use crate::wording::count;
use locate::{Place, entry, name_of, number_at, place_of};

/// A field to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewField {
    /// Its name: small letters, digits and underscores.
    pub name: String,
    /// The group, or a row of the table, that it goes into; without one it stands at the top.
    pub inside: Option<String>,
    /// Offset of its first byte, counted from the start of what it goes into.
    pub at: usize,
    /// Its kind as a layout writes it: `Int(bits: 16)`.
    pub kind: String,
    /// How its number is shown.
    pub scaling: Scaling,
    /// What it is to the repair.
    pub role: Role,
    /// The byte that fills it while it holds nothing.
    pub rest: Option<u8>,
    /// A remark.
    pub note: Option<String>,
}

/// Columns of a line that a person still likes to read.
const LINE: usize = 118;

impl NewField {
    /// The field as a layout writes it; a note that makes its line long stands in the next one.
    fn written(&self) -> String {
        let NewField { name, inside, at, kind, scaling, role, rest, note } = self;
        let (at, indent) = match inside {
            Some(_) => (shape::short_offset(*at as i128), 16),
            None => (shape::offset(*at as i128), 12),
        };
        let shown = scaling.written();
        let rest = rest.map(|byte| format!(", rest: {byte:#04X}")).unwrap_or_default();
        let field = format!("(name: {name:?}, at: {at}, kind: {kind}{shown}, role: {}{rest}", role.word());
        let Some(note) = note.as_ref().map(|n| format!("note: {n:?}")) else { return format!("{field})") };
        let last = field.lines().last().map_or(0, |l| l.chars().count());
        if indent + last + note.chars().count() > LINE {
            format!("{field},\n{:indent$}{note})", "")
        } else {
            format!("{field}, {note})")
        }
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

/// The byte order that the text of a layout states.
#[must_use]
pub fn order(text: &str) -> ByteOrder {
    let root = crate::notation::parse(text).ok();
    let word = root.as_ref().and_then(|root| entry(root, "order")).and_then(Node::head);
    word.and_then(ByteOrder::of_word).unwrap_or_default()
}

/// What the text of the field at `path` states as its `key`: the text of its kind, its note as written.
#[must_use]
pub fn stated(text: &str, path: &str, key: &str) -> Option<String> {
    let root = crate::notation::parse(text).ok()?;
    let node = entry(place_of(&root, path)?.node, key)?;
    match &node.value {
        NodeValue::Text(text) => Some(text.clone()),
        _ => text.get(node.span.start..node.span.end).map(str::to_owned),
    }
}

/// Whether the group, or the table of the row, at `path` has a list of fields in the text.
#[must_use]
pub fn can_hold(text: &str, path: &str) -> bool {
    crate::notation::parse(text).is_ok_and(|root| shape::list_in(&root, Some(path)).is_ok())
}

/// What is wrong with a kind as typed, in words; `None` when a layout can hold it.
#[must_use]
pub fn kind_problem(kind: &str) -> Option<String> {
    let read = layout::read(&layout_of(&format!("(name: \"f\", at: 0, kind: {kind})")));
    read.err().map(|problems| short(&problems))
}

/// The text of a layout with one field only.
fn layout_of(field: &str) -> String {
    format!("(layout: \"t\", format: 1, source: \"s\", fields: [{field}])")
}

/// How many fields the text of a layout has, those inside others counted.
#[must_use]
pub fn fields(text: &str) -> usize {
    fn inside(list: Option<&Node>) -> usize {
        let Some(NodeValue::List(nodes)) = list.map(|l| &l.value) else { return 0 };
        nodes.iter().map(|n| 1 + inside(entry(n, "kind").and_then(|kind| entry(kind, "of")))).sum()
    }
    crate::notation::parse(text).map_or(0, |root| inside(locate::top_fields(&root)))
}

/// What is wrong with a name of a field, in words; `None` when a layout can hold it.
#[must_use]
pub fn name_problem(name: &str) -> Option<String> {
    let read = layout::read(&layout_of(&format!("(name: {name:?}, at: 0, kind: Int(bits: 8))")));
    read.err().map(|problems| short(&problems))
}

/// The first of some problems with what to do, and what was expected only where nobody knows that.
fn short(problems: &[Problem]) -> String {
    problems.first().map_or_else(String::new, |p| match &p.fix {
        Some(fix) => format!("{}; {fix}", p.what),
        None => format!("{}; expected {}", p.what, p.expected),
    })
}

/// Puts a field in, among those beside it in the order of offsets.
///
/// # Errors
/// When the name is taken or the field cannot be written.
pub fn add(text: &str, field: &NewField) -> Result<String, Refused> {
    let root = node_of(text)?;
    let list = shape::list_in(&root, field.inside.as_deref())?;
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
    let node = find(&root, path)?.node;
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
    let node = place.node;
    let Some(at) = number_at(node).and_then(|at| usize::try_from(at).ok()) else {
        return Err(because(format!("{path} has no offset of its own; give it one first")));
    };
    if bytes == 0 || bytes >= all {
        return Err(because(format!("{path} has {} and cannot be split at {bytes}", count(all, "byte"))));
    }
    let second = second_name(name_of(node).unwrap_or_default(), place.list);
    // The second first: places in front of it stay true.
    let written = format!(
        "(name: {second:?}, at: {:#06X}, kind: Bytes(bytes: {}){})",
        at + bytes,
        all - bytes,
        entry(node, "role").and_then(Node::head).map(|r| format!(", role: {r}")).unwrap_or_default()
    );
    let with_second = splice::insert(text, place.list, place.index + 1, &[written]);
    let with_second = with_second.ok_or_else(|| because("the fields are no list"))?;
    let root = node_of(&with_second)?;
    let node = find(&root, path)?.node;
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
    use crate::span::Span;

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
            inside: None,
            at,
            kind: "Int(bits: 16)".to_owned(),
            scaling: Scaling::default(),
            role: Role::Setting,
            rest: None,
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
    fn a_name_that_no_layout_can_hold_is_refused_with_why() {
        for name in ["serial", "rows_2"] {
            assert_eq!(name_problem(name), None, "{name}");
        }
        for name in ["", "two words", "a.b", "a\"b"] {
            assert!(name_problem(name).is_some_and(|why| !why.is_empty()), "{name:?}");
        }
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
    fn a_note_that_makes_a_line_long_stands_in_the_next_one() {
        let note = Some("what the meter of the bench said when the door was open".repeat(2));
        let text = add(TEXT, &NewField { note: note.clone(), ..field("setpoint", 8) }).unwrap();
        assert!(text.contains("role: Setting,\n            note: \"what"), "{text}");
        let scaling = Scaling::typed("0.1 °C").unwrap();
        let text = add(TEXT, &NewField { scaling, rest: Some(0xFF), ..field("setpoint", 8) }).unwrap();
        assert!(
            text.contains("Int(bits: 16), scale: 0.1, unit: \"°C\", role: Setting, rest: 0xFF),"),
            "{text}"
        );
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
    fn a_field_goes_into_a_group_and_counts_from_its_start() {
        let inner = NewField { inside: Some("block".to_owned()), ..field("spare", 6) };
        let text = add(TEXT, &inner).unwrap();
        assert!(paths(&text).contains(&"block.spare".to_owned()), "{text}");
        let line = "            (name: \"spare\", at: 0x06, kind: Int(bits: 16), role: Setting),\n";
        assert!(text.contains(line), "{text}");
        assert!(lost(TEXT, &text).is_empty(), "{text}");
        assert!(add(TEXT, &NewField { inside: Some("mark".to_owned()), ..field("x", 0) }).is_err());
    }

    #[test]
    fn a_field_is_moved_and_stretched_and_a_size_that_does_not_suit_is_refused() {
        let text = move_by(TEXT, "block.starts", 2, 4).unwrap();
        assert!(text.contains("(name: \"starts\", at: 0x0006, kind"), "{text}");
        assert!(move_by(TEXT, "mark", -1, 0).is_err());
        let text = stretch(TEXT, "mark", 6).unwrap();
        assert!(text.contains("kind: Text(bytes: 6)"), "{text}");
        let text = stretch(TEXT, "block.hours", 3).unwrap();
        assert!(text.contains("kind: Int(bits: 24)), // since it was made"), "{text}");
        assert!(matches!(stretch(TEXT, "block.hours", 99), Err(Refused::Problems(_))));
        for (kind, digits) in [
            ("Bcd(digits: 4)", 6),
            ("Bcd(digits: 3, sign: Last)", 5),
            ("Bcd(digits: 2, unpacked: true)", 3),
            ("Bcd(digits: 2, sign: First, zone: 3)", 2),
        ] {
            let text = change(TEXT, "block.starts", "kind", Some(kind)).unwrap();
            let text = stretch(&text, "block.starts", 3).unwrap();
            assert!(text.contains(&format!("Bcd(digits: {digits}")), "{kind}: {text}");
        }
        assert!(stretch(TEXT, "block", 9).is_err());
        assert!(stretch(TEXT, "mark", 0).is_err());
    }

    #[test]
    fn a_table_is_made_of_the_fields_of_its_first_row_with_their_comments() {
        let text = "\
(
    layout: \"t\",
    format: 1,
    source: \"s\",
    order: Big,
    fields: [
        (name: \"mark\", at: 0, kind: Text(bytes: 4)),
        // When it happened.
        (name: \"hours\", at: 0x10, kind: Int(bits: 16)), // of operation
        (name: \"cause\", at: 0x12, kind: Int(bits: 8))
    ],
)
";
        let rows = NewTable {
            name: "events".to_owned(),
            first: Span::new(0x10, 0x14),
            stride: 4,
            rows: 3,
            role: Role::Record,
            columns: vec![],
        };
        let made = table(text, &rows, &["hours", "cause"]).unwrap();
        assert!(paths(&made).contains(&"events[2].cause".to_owned()), "{made}");
        assert!(
            made.contains(
                "        (name: \"events\", at: 0x0010, kind: Table(rows: 3, stride: 4, of: [\n            \
                 // When it happened.\n            (name: \"hours\", at: 0x00, kind: Int(bits: 16)), // of \
                 operation\n            (name: \"cause\", at: 0x02, kind: Int(bits: 8)),\n        ]), role: \
                 Record, rest: 0xFF),\n    ],"
            ),
            "{made}"
        );
        assert!(table(text, &rows, &["mark", "cause"]).is_err(), "others stand between them");
        assert!(table(text, &NewTable { stride: 3, ..rows.clone() }, &[]).is_err());
        let plain = table(TEXT, &NewTable { first: Span::new(0x20, 0x28), stride: 8, ..rows }, &[]).unwrap();
        assert!(paths(&plain).contains(&"events[0].bytes".to_owned()), "{plain}");
        assert!(lost(TEXT, &plain).is_empty());
    }

    #[test]
    fn what_the_text_states_can_be_asked() {
        assert_eq!(stated(TEXT, "block.hours", "kind").as_deref(), Some("Int(bits: 32)"));
        assert_eq!(stated(TEXT, "block.hours", "note"), None);
        assert_eq!(order(TEXT), ByteOrder::Big);
        assert!(kind_problem("Int(bits: 16)").is_none());
        assert!(kind_problem("Imt(bits: 16)").unwrap().contains("Imt"));
    }

    #[test]
    fn a_layout_begins_empty_and_can_be_used() {
        let text = add(&begin("board"), &field("first", 0)).unwrap();
        assert_eq!(paths(&text), ["first"]);
    }
}
