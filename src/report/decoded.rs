//! Fields and checks of an image by its layout, as text and as JSON.

use std::io::{self, Write};

use serde::Serialize;

use super::json;
use super::paint::{Extent, Paint, Tone};
use super::table::{Cell, Table};
use super::text;
use crate::check::Seal;
use crate::layout::{Check, Decoded, Field, FieldState, Role, Shape};

/// Rows of a long table that are shown before the rest is told in one line.
const FIRST_ROWS: usize = 4;
/// A table of up to this many rows is no long one.
const SHORT_TABLE: usize = 16;
/// A value is not cut shorter than this, however little room there is.
const LEAST_VALUE_COLUMNS: usize = 16;
/// Columns that address, role, state and the space between columns take beside field and value.
const OTHER_COLUMNS: usize = 6 + 11 + 8 + 4 * 2;

/// Prints the decoded tree as aligned columns: address, field (indented by depth), value, role, state.
/// `base` is the address of the image's first byte.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_fields(
    out: &mut dyn Write,
    paint: Paint,
    decoded: &Decoded,
    base: u64,
    extent: Extent,
) -> io::Result<()> {
    let mut table = Table::new(&["at", "field", "value", "role", "state"]);
    let fields = &decoded.fields;
    let names = fields.iter().filter(|f| !is_quiet_filler(f)).map(|f| text::width(&f.name) + 2 * f.depth);
    let value_columns =
        paint.width.saturating_sub(names.max().unwrap_or(0) + OTHER_COLUMNS).max(LEAST_VALUE_COLUMNS);
    let mut at = 0;
    while let Some(field) = fields.get(at) {
        let folded = if extent == Extent::Short { fold(fields, at) } else { None };
        if let Some(fold) = folded {
            table.row(fold.cells(fields, base));
            at = fold.end;
            continue;
        }
        let hidden = extent == Extent::Short && is_quiet_filler(field);
        if !hidden {
            let mut cells = cells(field, base);
            if extent == Extent::Short {
                cells[2] = text::cut(&value(field), value_columns).as_ref().into();
            }
            table.row(cells);
        }
        at += 1;
    }
    table.write(out, paint)
}

fn is_quiet_filler(field: &Field) -> bool {
    field.shape == Shape::Leaf && field.role == Role::Filler && field.state == FieldState::Fine
}

/// Neighbouring rows of a table that are told in one line.
struct Fold {
    first: usize,
    last: usize,
    rows: usize,
    /// Index after the last field inside the last row.
    end: usize,
    at_rest: bool,
}

impl Fold {
    fn cells(&self, fields: &[Field], base: u64) -> [Cell; 5] {
        let (Some(first), Some(last)) = (fields.get(self.first), fields.get(self.last)) else {
            return Default::default();
        };
        let name = format!("{}{} to {}", "  ".repeat(first.depth), first.name, last.name);
        let address = text::address(first.cover().addresses(base).start);
        let (said, state) = if self.at_rest {
            (String::new(), Cell::new(Tone::Quiet, "at rest"))
        } else {
            (format!("{} more, see --all", text::count(self.rows, "row")), Cell::default())
        };
        [address.into(), name.into(), said.into(), first.role.word().into(), state]
    }
}

/// The rows from `at` on that are told in one line: at least two at rest, or what follows the first rows of a long
/// table up to its end or to rows at rest.
fn fold(fields: &[Field], at: usize) -> Option<Fold> {
    let first = fields.get(at).filter(|f| is_row(fields, f))?;
    let number = row_number(first)?;
    let long = || rows_of(fields, first).nth(SHORT_TABLE).is_some();
    let at_rest = rests(fields, at);
    if !at_rest && (number < FIRST_ROWS || !long()) {
        return None;
    }
    let mut fold = Fold { first: at, last: at, rows: 0, end: at, at_rest };
    while let Some(row) = fields.get(fold.end) {
        if row.parent != first.parent || !is_row(fields, row) || rests(fields, fold.end) != at_rest {
            break;
        }
        fold.last = fold.end;
        fold.rows += 1;
        fold.end = end_of(fields, fold.end);
    }
    (fold.rows > 1).then_some(fold)
}

/// A row of fields, or a row that is a single value.
fn is_row(fields: &[Field], field: &Field) -> bool {
    let in_table = || field.parent.and_then(|p| fields.get(p)).is_some_and(|p| p.shape == Shape::Table);
    field.shape == Shape::Row || in_table()
}

fn row_number(row: &Field) -> Option<usize> {
    row.name.strip_prefix('[')?.strip_suffix(']')?.parse().ok()
}

fn rows_of<'a>(fields: &'a [Field], row: &Field) -> impl Iterator<Item = &'a Field> {
    let parent = row.parent;
    fields.iter().skip(parent.map_or(0, |p| p + 1)).filter(move |f| f.parent == parent)
}

/// Whether every leaf of the row at `at` holds its rest value.
fn rests(fields: &[Field], at: usize) -> bool {
    let inside = fields.get(at..end_of(fields, at)).unwrap_or_default();
    let mut leaves = inside.iter().filter(|f| f.shape == Shape::Leaf && !is_quiet_filler(f)).peekable();
    leaves.peek().is_some() && leaves.all(|f| f.at_rest == Some(true) && f.state == FieldState::Fine)
}

/// The index after the last field inside the field at `at`.
fn end_of(fields: &[Field], at: usize) -> usize {
    let depth = fields.get(at).map_or(0, |f| f.depth);
    let inside = fields.iter().skip(at + 1).take_while(|f| f.depth > depth).count();
    at + 1 + inside
}

/// Prints fields that were asked for by name, with their whole paths and whole values; why a value is odd stands
/// below.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_chosen(out: &mut dyn Write, paint: Paint, fields: &[&Field], base: u64) -> io::Result<()> {
    let mut table = Table::new(&["at", "field", "role", "state", "value"]);
    for field in fields {
        let [at, _, value, role, state] = cells(field, base);
        let state = match field.state {
            FieldState::Odd(_) => Cell::new(Tone::Doubt, "odd"),
            _ => state,
        };
        table.row([at, field.path.as_str().into(), role, state, value]);
    }
    table.write(out, paint)
}

fn cells(field: &Field, base: u64) -> [Cell; 5] {
    let leaf = field.shape == Shape::Leaf;
    let name = format!("{}{}", "  ".repeat(field.depth), field.name);
    let name = if leaf { Cell::from(name) } else { Cell::new(Tone::Strong, name) };
    let role = if leaf { field.role.word() } else { "" };
    [place(field, base).into(), name, value(field).into(), role.into(), state(field)]
}

/// Where a field lies: its address, and the bits when it does not fill its bytes.
fn place(field: &Field, base: u64) -> String {
    if field.spans.is_empty() {
        return String::new();
    }
    let address = text::address(field.cover().addresses(base).start);
    match field.bits {
        Some((low, 1)) => format!("{address} bit {low}"),
        Some((low, bits)) => format!("{address} bits {low}-{}", low.saturating_add(bits.saturating_sub(1))),
        None => address,
    }
}

/// The value with its unit, as shown everywhere.
#[must_use]
pub fn value(field: &Field) -> String {
    match &field.unit {
        Some(unit) if !field.text.is_empty() => format!("{} {unit}", field.text),
        _ => field.text.clone(),
    }
}

fn state(field: &Field) -> Cell {
    match &field.state {
        FieldState::Odd(why) => Cell::new(Tone::Doubt, format!("odd: {why}")),
        FieldState::Absent => Cell::new(Tone::Doubt, "not in the image"),
        FieldState::Fine if field.shape != Shape::Leaf => Cell::default(),
        FieldState::Fine => match field.at_rest {
            Some(true) => Cell::new(Tone::Quiet, "at rest"),
            Some(false) if field.role == Role::Record => Cell::new(Tone::Strong, "recorded"),
            _ => Cell::default(),
        },
    }
}

/// Prints the checks as aligned columns, the state first, the ranges last.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_checks(out: &mut dyn Write, paint: Paint, checks: &[Check], base: u64) -> io::Result<()> {
    let mut table = Table::new(&["state", "check", "by", "at", "stored", "computed", "over"]);
    for check in checks {
        let bytes = check.placed.as_ref().map_or(0, |p| p.stored_at.len());
        let shown = |value: Option<u128>| value.map_or("-".to_owned(), |v| text::number(v, bytes));
        let (by, at, over) = match &check.placed {
            Some(placed) => (
                placed.algorithm.name.to_string(),
                text::address(placed.stored_at.addresses(base).start),
                placed.over.iter().map(|&s| text::range(s, base)).collect::<Vec<_>>().join(", "),
            ),
            None => (String::new(), String::new(), "its place could not be worked out".to_owned()),
        };
        table.row([
            Cell::new(check.seal, check.seal.word()),
            check.name.as_str().into(),
            by.into(),
            at.into(),
            shown(check.stored).into(),
            Cell::new(
                if check.seal == Seal::Broken { Tone::Bad } else { Tone::Plain },
                shown(check.computed),
            ),
            over.into(),
        ]);
    }
    table.write(out, paint)
}

/// One leaf field in JSON.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FieldJson {
    /// Its path: `lockouts[3].cause`.
    pub path: String,
    /// Address of its first byte; null when it lies in none.
    pub at: Option<u64>,
    /// Bytes from its first to its last one.
    pub bytes: usize,
    /// Lowest bit and number of bits, when it does not fill its bytes.
    pub bits: Option<(u32, u32)>,
    /// The kind: `Int 16`.
    pub kind: String,
    /// The role.
    pub role: &'static str,
    /// The value as a number, a string or an object; null when the bytes are absent.
    pub value: serde_json::Value,
    /// The value as shown, without the unit.
    pub text: String,
    /// The unit.
    pub unit: Option<String>,
    /// Whether the bytes make sense.
    pub ok: bool,
    /// Why not, in words.
    pub odd: Option<String>,
    /// For Records: whether it holds its rest value.
    pub at_rest: Option<bool>,
    /// The bytes, in reading order; null when a part is not in the image.
    pub seen_as: Option<String>,
}

impl FieldJson {
    /// The mirror of `field` in `image`.
    #[must_use]
    pub fn new(field: &Field, image: &crate::image::Image) -> Self {
        let bytes: Option<Vec<&[u8]>> = field.spans.iter().map(|&s| image.get(s)).collect();
        FieldJson {
            path: field.path.clone(),
            at: (!field.spans.is_empty()).then(|| image.address(field.cover().start)),
            bytes: field.cover().len(),
            bits: field.bits,
            kind: field.kind.to_string(),
            role: field.role.word(),
            value: field.value.as_ref().map_or(serde_json::Value::Null, value_json),
            text: field.text.clone(),
            unit: field.unit.as_deref().map(str::to_owned),
            ok: field.state == FieldState::Fine,
            odd: match &field.state {
                FieldState::Fine => None,
                FieldState::Odd(why) => Some(why.clone()),
                FieldState::Absent => Some("not in the image".to_owned()),
            },
            at_rest: field.at_rest,
            seen_as: bytes.map(|b| text::hex_plain(&b.concat())),
        }
    }
}

/// A value in JSON: numbers as numbers (as text where a reader could lose digits), text as text, bytes as
/// hexadecimal text, a choice as `{number, label}`, flags as `{number, set}`.
#[must_use]
pub fn value_json(value: &crate::value::Value) -> serde_json::Value {
    use serde_json::{Value as Json, json};

    use crate::value::Value;
    match value {
        Value::Int(n) => whole(*n),
        // A double holds every digit that a scaled number of up to 53 bits shows.
        Value::Decimal(d) => serde_json::Number::from_f64(d.to_f64()).map_or(Json::Null, Json::Number),
        Value::Real(x) => serde_json::Number::from_f64(*x).map_or(Json::Null, Json::Number),
        Value::Text(text) => Json::String(text.clone()),
        Value::Bytes(bytes) => Json::String(text::hex_plain(bytes)),
        Value::Choice(n, label) => json!({"number": whole(i128::from(*n)), "label": label}),
        Value::Flags(n, set) => json!({"number": whole(i128::from(*n)), "set": set}),
        Value::Date(date) => Json::String(date.to_string()),
    }
}

/// Numbers beyond 2^53 lose digits in readers that hold numbers as doubles (RFC 8259, section 6).
fn whole(n: i128) -> serde_json::Value {
    const EXACT: i128 = 1 << 53;
    match i64::try_from(n) {
        Ok(small) if -EXACT < n && n < EXACT => serde_json::Value::from(small),
        _ => serde_json::Value::String(n.to_string()),
    }
}

/// One check in JSON.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CheckJson {
    /// Its name.
    pub name: String,
    /// The algorithm; null when its places could not be worked out.
    pub by: Option<String>,
    /// The ranges covered, as addresses, the end not included.
    pub over: Vec<(u64, u64)>,
    /// Address of the stored value.
    pub stored_at: Option<u64>,
    /// The value in the image.
    pub stored: Option<String>,
    /// The value it should have.
    pub computed: Option<String>,
    /// Whether they agree; null when that cannot be told.
    pub sealed: Option<bool>,
}

impl CheckJson {
    /// The mirror of `check` in an image whose first byte has address `base`.
    #[must_use]
    pub fn new(check: &Check, base: u64) -> Self {
        let placed = check.placed.as_ref();
        let bytes = placed.map_or(0, |p| p.stored_at.len());
        CheckJson {
            name: check.name.clone(),
            by: placed.map(|p| p.algorithm.name.to_string()),
            over: placed.map_or(Vec::new(), |p| json::ranges(&p.over, base)),
            stored_at: placed.map(|p| p.stored_at.addresses(base).start),
            stored: check.stored.map(|v| text::number(v, bytes)),
            computed: check.computed.map(|v| text::number(v, bytes)),
            sealed: match check.seal {
                Seal::Sealed => Some(true),
                Seal::Broken => Some(false),
                Seal::Unreadable => None,
            },
        }
    }
}

/// The leaf fields of a decoded image in JSON.
#[must_use]
pub fn fields_json(decoded: &Decoded, image: &crate::image::Image) -> Vec<FieldJson> {
    decoded.fields.iter().filter(|f| f.shape == Shape::Leaf).map(|f| FieldJson::new(f, image)).collect()
}

/// The checks of a decoded image in JSON.
#[must_use]
pub fn checks_json(decoded: &Decoded, base: u64) -> Vec<CheckJson> {
    decoded.checks.iter().map(|c| CheckJson::new(c, base)).collect()
}
