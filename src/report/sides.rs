//! Images side by side: what each is, by which layout they are read, and what differs between two of them.

use std::io::{self, Write};

use serde::Serialize;

use super::decoded::{CheckJson, value, value_json};
use super::head::write_left;
use super::paint::{Extent, Paint, Tone};
use super::show::Taken;
use super::table::{Cell, Table};
use super::text;
use crate::check::Seal;
use crate::compare::{Changed, CheckPair, Comparison, FieldChange};
use crate::image::{Format, Image};
use crate::layout::{Check, Field, Layout, Role, top};

/// One of the images that are compared.
pub struct Side<'a> {
    /// Its file, or `-`.
    pub path: text::Name,
    /// How its bytes were written.
    pub format: Format,
    /// The image.
    pub image: &'a Image,
    /// The digest of its file; `None` for large images, where making it would take longer than comparing.
    pub sha256: Option<String>,
}

/// Columns that a value takes in a table of two sides.
const VALUE_COLUMNS: usize = 24;

/// Bytes that are written out of each change.
const HEX_BYTES: usize = 6;

/// Prints which images are compared, and by which layout.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_head(
    out: &mut dyn Write,
    paint: Paint,
    sides: &[(&str, &Side<'_>)],
    layout: Option<&Taken<'_>>,
) -> io::Result<()> {
    let mut table = Table::new(&["", ""]);
    for (label, side) in sides {
        let bytes = text::count(side.image.len(), "byte");
        let line = format!("{}, {bytes}, {}", text::named(&side.path), side.format.name());
        table.row([Cell::new(Tone::Quiet, label), line.into()]);
        if let Some(sha256) = &side.sha256 {
            table.row([Cell::new(Tone::Quiet, "sha-256"), sha256.as_str().into()]);
        }
    }
    if let Some(taken) = layout {
        let place = taken.path.as_deref().unwrap_or(taken.name);
        let line = format!("{} ({place}), {}", taken.layout.title, taken.why);
        table.row([Cell::new(Tone::Quiet, "layout"), line.into()]);
    }
    table.write(out, paint)
}

/// What of a field stands in a table of two sides.
fn short(field: Option<&Field>, extent: Extent) -> Cell {
    let Some(field) = field else { return Cell::new(Tone::Quiet, "(not there)") };
    let text = text::clean(&value(field)).into_owned();
    let text = if text.is_empty() { "(empty)".to_owned() } else { text };
    match extent {
        Extent::Short => text::cut(&text, VALUE_COLUMNS).into(),
        Extent::All => text.into(),
    }
}

/// How many of `changes`, from the first on, went to rest in one outermost field; see [`MOST_RESTED`].
#[must_use]
pub fn rested_together(changes: &[FieldChange]) -> usize {
    let Some(first) = changes.first() else { return 0 };
    let alike = |f: &&FieldChange| gone_to_rest(f) && top(&f.path) == top(&first.path);
    changes.iter().take_while(alike).count()
}

/// More fields than this that went to rest together are told in one line.
pub const MOST_RESTED: usize = 3;

/// Prints the fields that changed, as values.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_fields(
    out: &mut dyn Write,
    paint: Paint,
    fields: &[FieldChange],
    extent: Extent,
) -> io::Result<()> {
    let mut table = Table::new(&["field", "before", "after", "role"]);
    let mut rows = 0;
    let mut at = 0;
    while let Some(change) = fields.get(at) {
        let together = rested_together(fields.get(at..).unwrap_or_default());
        let folded = extent == Extent::Short && together > MOST_RESTED;
        if rows >= extent.rows() {
            let left = text::count(fields.len() - at, "more field");
            table.row([Cell::new(Tone::Quiet, format!("… {left}")), "".into(), "--all prints them".into()]);
            break;
        }
        rows += 1;
        let role = change.role().map_or("", Role::word);
        if folded {
            let name = format!("{} ({})", top(&change.path), text::count(together, "field"));
            table.row([name.into(), "recorded".into(), Cell::new(Tone::Strong, "at rest"), role.into()]);
            at += together;
            continue;
        }
        let after = match change.came_to_rest() {
            true => Cell::new(
                Tone::Strong,
                format!("{} (at rest)", change.after.as_ref().map_or(String::new(), value)),
            ),
            false => short(change.after.as_ref(), extent),
        };
        let mut before = short(change.before.as_ref(), extent);
        if before == after {
            before = "(copies or padding differ)".into();
        }
        table.row([change.path.as_str().into(), before, after, role.into()]);
        at += 1;
    }
    table.write(out, paint)
}

/// True for a Record that came to rest, or that is gone because its count did.
fn gone_to_rest(change: &FieldChange) -> bool {
    change.came_to_rest() || change.is_counted_out()
}

/// Prints the checks of both sides; those that are sealed and stay as they are only when all is asked for.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_checks(out: &mut dyn Write, paint: Paint, checks: &[CheckPair]) -> io::Result<()> {
    let mut table = Table::new(&["check", "before", "", "after", "", "by"]);
    for pair in checks {
        let by = pair.after.as_ref().or(pair.before.as_ref()).and_then(|c| c.placed.as_ref());
        let [seal_before, stored_before] = side_of(pair.before.as_ref());
        let [seal_after, stored_after] = side_of(pair.after.as_ref());
        table.row([
            pair.name.as_str().into(),
            stored_before,
            seal_before,
            stored_after,
            seal_after,
            by.map_or("".into(), |p| p.algorithm.name.as_ref().into()),
        ]);
    }
    table.write(out, paint)
}

fn side_of(check: Option<&Check>) -> [Cell; 2] {
    let Some(check) = check else { return [Cell::new(Tone::Quiet, "(not there)"), "".into()] };
    let bytes = check.placed.as_ref().map_or(0, |p| p.stored_at.len());
    let number = |v: Option<u128>| v.map_or("-".to_owned(), |v| text::number(v, bytes));
    let seal = match check.seal {
        Seal::Broken => format!("broken: {} computed", number(check.computed)),
        seal => seal.word().to_owned(),
    };
    [Cell::new(check.seal, seal), number(check.stored).into()]
}

/// Prints the change list: where, from what, to what, under which fields.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_changes(
    out: &mut dyn Write,
    paint: Paint,
    changes: &[&Changed],
    (before, after): (&Image, &Image),
    extent: Extent,
) -> io::Result<()> {
    let mut table = Table::new(&["at", "bytes", "before", "after", "field"]).right(1);
    for change in changes.iter().take(extent.rows()) {
        let hex = |image: &Image| {
            let bytes = change.span.of_bytes(image.bytes()).unwrap_or_default();
            match bytes.get(..HEX_BYTES) {
                Some(head) if head.len() < bytes.len() => format!("{} …", text::hex(head)),
                _ => text::hex(bytes),
            }
        };
        table.row([
            text::address(before.address(change.span.start)),
            change.span.len().to_string(),
            hex(before),
            hex(after),
            change.paths().collect::<Vec<_>>().join(", "),
        ]);
    }
    table.write(out, paint)?;
    write_left(out, paint, extent, changes.len(), "more place")
}

/// Prints how much changed in each role.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_totals(out: &mut dyn Write, paint: Paint, comparison: &Comparison) -> io::Result<()> {
    let mut table = Table::new(&["role", "fields", "bytes"]).right(1).right(2);
    for total in &comparison.totals {
        let role = total.role.map_or("not described", Role::word);
        table.row([role.to_owned(), total.fields.to_string(), total.bytes.to_string()]);
    }
    table.write(out, paint)
}

/// One image in JSON.
#[derive(Debug, Serialize)]
pub struct SideJson {
    #[serde(flatten)]
    name: text::Name,
    bytes: usize,
    sha256: Option<String>,
    format: &'static str,
}

impl SideJson {
    /// The mirror of `side`.
    #[must_use]
    pub fn new(side: &Side<'_>) -> Self {
        SideJson {
            name: side.path.clone(),
            bytes: side.image.len(),
            sha256: side.sha256.clone(),
            format: side.format.word(),
        }
    }
}

/// A layout by the name it goes by, in JSON: `{name, title}`.
#[derive(Debug, Serialize)]
pub struct NamedLayoutJson {
    name: String,
    title: String,
}

impl From<(&Layout, &str)> for NamedLayoutJson {
    fn from((layout, name): (&Layout, &str)) -> Self {
        NamedLayoutJson { name: name.to_owned(), title: layout.title.clone() }
    }
}

/// A layout in JSON: `{name, title, path}`.
#[derive(Debug, Serialize)]
pub struct LayoutJson {
    #[serde(flatten)]
    named: NamedLayoutJson,
    #[serde(flatten)]
    file: text::NoName,
}

impl LayoutJson {
    /// The mirror of `taken`.
    #[must_use]
    pub fn new(taken: &Taken<'_>) -> Self {
        LayoutJson { named: (taken.layout, taken.name).into(), file: taken.path.as_ref().into() }
    }
}

/// One change in JSON: `{at, bytes, before, after, fields}`.
#[derive(Debug, Serialize)]
pub struct ChangeJson {
    at: u64,
    bytes: usize,
    before: String,
    after: String,
    fields: Vec<String>,
}

impl ChangeJson {
    /// The mirror of `change` between two images.
    #[must_use]
    pub fn new(change: &Changed, before: &Image, after: &Image) -> Self {
        let hex = |image: &Image| text::hex_plain(change.span.of_bytes(image.bytes()).unwrap_or_default());
        ChangeJson {
            at: before.address(change.span.start),
            bytes: change.span.len(),
            before: hex(before),
            after: hex(after),
            fields: change.paths().map(str::to_owned).collect(),
        }
    }
}

/// A changed field in JSON: `{path, role, unit, before, after}`; a side is null where the field is not there.
#[derive(Debug, Serialize)]
pub struct FieldChangeJson {
    path: String,
    role: Option<&'static str>,
    unit: Option<String>,
    before: Option<ValueJson>,
    after: Option<ValueJson>,
    came_to_rest: bool,
}

#[derive(Debug, Serialize)]
struct ValueJson {
    value: serde_json::Value,
    text: String,
}

impl FieldChangeJson {
    /// The mirror of `change`.
    #[must_use]
    pub fn new(change: &FieldChange) -> Self {
        let side = |field: &Option<Field>| {
            field.as_ref().map(|f| ValueJson {
                value: f.value.as_ref().map_or(serde_json::Value::Null, value_json),
                text: f.text.clone(),
            })
        };
        FieldChangeJson {
            path: change.path.clone(),
            role: change.role().map(Role::word),
            unit: change.field().and_then(|f| f.unit.as_deref()).map(str::to_owned),
            before: side(&change.before),
            after: side(&change.after),
            came_to_rest: change.came_to_rest(),
        }
    }
}

/// A check on both sides in JSON: `{name, before, after}`, each a check or null.
#[derive(Debug, Serialize)]
pub struct CheckPairJson {
    name: String,
    before: Option<CheckJson>,
    after: Option<CheckJson>,
}

impl CheckPairJson {
    /// The mirror of `pair` in images whose first byte has address `base`.
    #[must_use]
    pub fn new(pair: &CheckPair, base: u64) -> Self {
        let side = |check: &Option<Check>| check.as_ref().map(|c| CheckJson::new(c, base));
        CheckPairJson { name: pair.name.clone(), before: side(&pair.before), after: side(&pair.after) }
    }
}

/// How much changed in one role, in JSON; the role is null for bytes that are not described.
#[derive(Debug, Serialize)]
pub struct TotalJson {
    role: Option<&'static str>,
    fields: usize,
    bytes: usize,
}

/// The totals of a comparison in JSON.
#[must_use]
pub fn totals_json(comparison: &Comparison) -> Vec<TotalJson> {
    let total = |t: &crate::compare::Total| TotalJson {
        role: t.role.map(Role::word),
        fields: t.fields,
        bytes: t.bytes,
    };
    comparison.totals.iter().map(total).collect()
}
