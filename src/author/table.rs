//! A table made of its first row.

use super::locate::{name_of, number_at, top_fields};
use super::shape::{offset, short_offset};
use super::{Refused, because, checked, find, likely, node_of};
use crate::layout::Role;
use crate::notation::{Node, NodeValue, get, splice};
use crate::span::{ByteOrder, Span};
use crate::survey::{self, ColumnKind};
use crate::wording::count;

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
    /// The fields of a row, where the layout has none in the first row yet.
    pub columns: Vec<NewColumn>,
}

/// A field of each row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewColumn {
    /// Its name.
    pub name: String,
    /// Bytes from the start of the row.
    pub at: usize,
    /// Its kind as a layout writes it.
    pub kind: String,
}

/// The columns that `typed` asks for, in a row of `row` bytes: their widths in bytes, one after the other, each with
/// a name in front of a colon if it is to have one: `hours:2 cause:1 5`. What is left of the row is one more.
///
/// # Errors
/// What is wrong with it, in words.
pub fn columns(typed: &str, first_row: &[u8], order: ByteOrder) -> Result<Vec<NewColumn>, String> {
    let (mut columns, mut at) = (Vec::new(), 0);
    let mut put = |name: Option<&str>, bytes: usize, at: usize| {
        let shown = first_row.get(at..at + bytes).unwrap_or_default();
        let name = name.map_or_else(|| format!("at_{at:02x}"), str::to_owned);
        columns.push(NewColumn { name, at, kind: column_kind(shown, order) });
    };
    for word in typed.split([' ', ',']).filter(|w| !w.is_empty()) {
        let (name, width) = match word.split_once(':') {
            Some((name, width)) => (Some(name).filter(|n| !n.is_empty()), width),
            None => (None, word),
        };
        let bytes = get::plain::<usize>(width).filter(|n| *n > 0);
        let bytes = bytes.ok_or_else(|| format!("{word:?} is no column; write bytes, or NAME:BYTES"))?;
        if at + bytes > first_row.len() {
            return Err(format!("the columns take more than a row of {}", count(first_row.len(), "byte")));
        }
        put(name, bytes, at);
        at += bytes;
    }
    if at < first_row.len() {
        put(None, first_row.len() - at, at);
    }
    Ok(columns)
}

/// Widths of columns for rows of `stride` bytes, as [`columns`] takes them: neighbouring bytes that behave alike from
/// row to row.
#[must_use]
pub fn guess_columns(rows: &[u8], stride: usize) -> String {
    let filled = rows.chunks_exact(stride.max(1)).take_while(|r| !is_blank(r)).count();
    let rows = rows.get(..filled * stride).unwrap_or_default();
    if filled < FEWEST_ROWS {
        // Too few to tell: what holds something, and what does not.
        let blank = |at: &usize| rows.iter().skip(*at).step_by(stride.max(1)).all(|b| *b == 0xFF || *b == 0);
        let held = stride - (0..stride).rev().take_while(blank).count();
        let widths = [held, stride - held];
        return widths.iter().filter(|w| **w > 0).map(ToString::to_string).collect::<Vec<_>>().join(" ");
    }
    let mut widths: Vec<(usize, ColumnKind)> = Vec::new();
    for column in survey::columns(rows, stride) {
        match widths.last_mut() {
            // A number's high bytes are constant as long as it is small.
            Some((bytes, last @ ColumnKind::Constant))
                if column.kind != ColumnKind::Text && *bytes + column.bytes <= 2 =>
            {
                (*bytes, *last) = (*bytes + column.bytes, column.kind);
            }
            _ => widths.push((column.bytes, column.kind)),
        }
    }
    widths.iter().map(|(bytes, _)| bytes.to_string()).collect::<Vec<_>>().join(" ")
}

/// How many rows of a table with the first row at `row` there seem to be before `end`: those that hold something and
/// agree with the row before in a quarter of their bytes, and the blank ones behind them if something ends them.
#[must_use]
pub fn count_rows(bytes: &[u8], row: Span, end: usize) -> usize {
    const MOST: usize = 256;
    let stride = row.len().max(1);
    let area = bytes.get(row.start..end.min(bytes.len())).unwrap_or_default();
    let rows: Vec<&[u8]> = area.chunks_exact(stride).take(MOST).collect();
    let goes_on = |pair: &[&[u8]]| match pair {
        [before, row] => {
            !is_blank(row) && before.iter().zip(*row).filter(|(a, b)| a == b).count() * 4 >= stride
        }
        _ => false,
    };
    let filled = 1 + rows.windows(2).take_while(|pair| goes_on(pair)).count();
    let resting = rows.iter().skip(filled).take_while(|r| is_blank(r)).count();
    let is_ended = filled + resting < rows.len() || end < bytes.len();
    if is_ended { filled + resting } else { filled }
}

/// The fewest rows that tell of columns.
const FEWEST_ROWS: usize = 4;

fn is_blank(row: &[u8]) -> bool {
    row.iter().all(|b| *b == 0xFF) || row.iter().all(|b| *b == 0)
}

/// The kind of a column that holds `bytes` in the first row.
fn column_kind(bytes: &[u8], order: ByteOrder) -> String {
    let kinds = likely::likely(bytes, order);
    kinds.into_iter().next().map_or_else(|| format!("Bytes(bytes: {})", bytes.len()), |l| l.kind)
}

/// Makes a table of a first row. `inside` are the paths of the fields at the top that lie in that row: they become
/// the fields of a row, with their comments. Without any, its `columns` are; without those, a row is plain bytes.
///
/// # Errors
/// When the fields do not stand one after the other in the text, one of them has no offset that is a number, the
/// name is taken, or the layout could not be used afterwards.
pub fn table(text: &str, table: &NewTable, inside: &[&str]) -> Result<String, Refused> {
    let NewTable { name, first, stride, rows, .. } = table;
    if *rows == 0 {
        return Err(because("a table has at least one row"));
    }
    if *stride < first.len() {
        let why = format!(
            "a row has {}, so rows cannot follow each other every {stride}",
            count(first.len(), "byte")
        );
        return Err(because(why));
    }
    let root = node_of(text)?;
    let (list, nodes) = listed(&root)?;
    let taken = |n: &Node| name_of(n).is_some_and(|n| n == name && !inside.contains(&n));
    if nodes.iter().any(taken) {
        return Err(because(format!("there is a field called {name} already; give another name")));
    }
    if inside.is_empty() {
        let before = nodes.iter().rposition(|n| number_at(n).is_some_and(|at| at <= first.start as i128));
        let row = format!("{}\n{}        {}", table.head(), table.fields(), table.foot());
        return checked(splice::insert(text, list, before.map_or(0, |i| i + 1), &[row]));
    }
    let text = counted_from(text, first.start, inside)?;
    let root = node_of(&text)?;
    let (list, nodes) = listed(&root)?;
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
    let new = format!("{indent}{}\n{}{indent}{},\n", table.head(), with_comma(&deeper), table.foot());
    checked(Some(splice::replace(&text, span, &new)))
}

impl NewTable {
    /// What stands before the fields of a row.
    fn head(&self) -> String {
        let NewTable { name, first, stride, rows, .. } = self;
        let at = offset(first.start as i128);
        format!("(name: {name:?}, at: {at}, kind: Table(rows: {rows}, stride: {stride}, of: [")
    }

    /// The columns, or the plain bytes of a row, as fields.
    fn fields(&self) -> String {
        let whole =
            || NewColumn { name: "bytes".into(), at: 0, kind: format!("Bytes(bytes: {})", self.first.len()) };
        let columns = if self.columns.is_empty() { vec![whole()] } else { self.columns.clone() };
        let field = |NewColumn { name, at, kind }: &NewColumn| {
            format!("            (name: {name:?}, at: {}, kind: {kind}),\n", short_offset(*at as i128))
        };
        columns.iter().map(field).collect()
    }

    /// What stands behind the fields of a row.
    fn foot(&self) -> String {
        let rest = if self.role == Role::Record { ", rest: 0xFF" } else { "" };
        format!("]), role: {}{rest})", self.role.word())
    }
}

/// The text in which the offsets of the fields at `paths` count from `start`.
fn counted_from(text: &str, start: usize, paths: &[&str]) -> Result<String, Refused> {
    let mut text = text.to_owned();
    for path in paths {
        // Each change leaves the tree out of date.
        let root = node_of(&text)?;
        let node = find(&root, path)?.node;
        let at = number_at(node).map(|at| at - start as i128).filter(|at| *at >= 0);
        let at = at.ok_or_else(|| because(format!("{path} has no offset of its own; give it one first")))?;
        let written = splice::set_entry(&text, node, "at", &short_offset(at));
        text = written.ok_or_else(|| because(format!("{path} is no field that can be changed here")))?;
    }
    Ok(text)
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

/// The list of fields at the top, and its elements.
fn listed(root: &Node) -> Result<(&Node, &[Node]), Refused> {
    match top_fields(root) {
        Some(list @ Node { value: NodeValue::List(nodes), .. }) => Ok((list, nodes)),
        _ => Err(because("the layout has no list of fields")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_counted_up_to_what_is_no_row_and_blank_ones_only_where_something_ends_them() {
        let mut bytes = vec![0xFF; 64];
        for row in 0..3u8 {
            bytes[usize::from(row) * 4..][..4].copy_from_slice(&[0, 100 + row, 7, 0xFF]);
        }
        let rows = |bytes: &[u8], end| count_rows(bytes, Span::of(0, 4), end);
        assert_eq!(rows(&bytes, 64), 3);
        assert_eq!(rows(&bytes, 32), 8);
        bytes[40] = 5;
        assert_eq!(rows(&bytes, 64), 10);
        assert_eq!(count_rows(&bytes, Span::of(60, 4), 64), 1);
        assert_eq!(count_rows(&bytes, Span::of(62, 4), 64), 1);
    }

    #[test]
    fn columns_are_typed_as_widths_with_names_and_the_rest_is_one_more() {
        let row = [0x00, 0x28, 3, 0xFF, 0xFF];
        let told = |typed: &str| {
            let columns = columns(typed, &row, ByteOrder::Big)?;
            Ok(columns.iter().map(|c| format!("{} {} {}", c.name, c.at, c.kind)).collect::<Vec<_>>())
        };
        assert!(
            columns("hours:+2", &row, ByteOrder::Big).unwrap_err().starts_with("\"hours:+2\" is no column")
        );
        assert_eq!(
            told("hours:2, cause:1"),
            Ok::<_, String>(vec![
                "hours 0 Int(bits: 16)".into(),
                "cause 2 Int(bits: 8)".into(),
                "at_03 3 Bytes(bytes: 2)".into()
            ])
        );
        assert_eq!(told("").map(|c: Vec<String>| c.len()), Ok(1));
        for wrong in ["9", "x", "0", "hours:", "2 2 2"] {
            assert!(told(wrong).is_err(), "{wrong}");
        }
    }
}
