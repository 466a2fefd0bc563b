//! What the columns of rows of one shape hold.

use std::collections::BTreeSet;

use super::dates::{DateForm, FORMS, share};
use crate::span::ByteOrder;

/// Neighbouring bytes of every row that behave alike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Offset in the row.
    pub at: usize,
    /// Bytes.
    pub bytes: usize,
    /// What they hold.
    pub kind: ColumnKind,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ColumnKind {
    /// The same in every row.
    Constant,
    /// A number that only grows, or only falls, from row to row.
    Counter(ByteOrder),
    /// A date stored part by part.
    Date(DateForm),
    /// Seconds since 1970 (POSIX), in four bytes.
    Seconds(ByteOrder),
    /// Printable text.
    Text,
    /// Few different values.
    Enumeration,
    /// Bits that are set and cleared one by one.
    Flags,
    /// Anything else.
    Number,
}

impl ColumnKind {
    /// The word on screens.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            ColumnKind::Constant => "constant",
            ColumnKind::Counter(_) => "counter",
            ColumnKind::Date(_) => "date",
            ColumnKind::Seconds(_) => "time",
            ColumnKind::Text => "text",
            ColumnKind::Enumeration => "enumeration",
            ColumnKind::Flags => "flags",
            ColumnKind::Number => "number",
        }
    }

    /// Whether neighbouring bytes of this kind are one column.
    const fn joins(self) -> bool {
        matches!(self, ColumnKind::Constant | ColumnKind::Text | ColumnKind::Number)
    }
}

/// What the columns of a table hold, in order, covering the row of `stride` bytes. Each byte of the row is judged
/// over all rows that are not blank; neighbours that behave alike are one column.
#[must_use]
pub fn columns(table: &[u8], stride: usize) -> Vec<Column> {
    let blank = |row: &[u8]| row.iter().all(|&b| b == 0xFF) || row.iter().all(|&b| b == 0x00);
    let mut rows: Vec<&[u8]> = table.chunks_exact(stride.max(1)).filter(|row| !blank(row)).collect();
    if rows.is_empty() {
        rows = table.chunks_exact(stride.max(1)).collect();
    }
    if rows.is_empty() {
        return vec![Column { at: 0, bytes: stride, kind: ColumnKind::Number }];
    }
    let mut columns: Vec<Column> = Vec::new();
    let mut at = 0;
    // Dates first: they are the surest, and what stands before them ends where they begin.
    while at < stride {
        let next = (at..stride)
            .find_map(|at| moment(&rows, at, stride).map(|(bytes, kind)| Column { at, bytes, kind }));
        let end = next.as_ref().map_or(stride, |c| c.at);
        while at < end {
            let (bytes, kind) = column(&rows, at, end);
            match columns.last_mut() {
                Some(last) if last.kind == kind && kind.joins() => last.bytes += bytes,
                _ => columns.push(Column { at, bytes, kind }),
            }
            at += bytes;
        }
        if let Some(column) = next {
            at += column.bytes;
            columns.push(column);
        }
    }
    columns
}

/// The fewest rows that tell a date, a counter or the like.
const FEWEST: usize = 3;

/// The cells of `width` bytes at `at`.
fn cells<'r>(rows: &'r [&[u8]], at: usize, width: usize) -> impl Iterator<Item = &'r [u8]> {
    rows.iter().map(move |row| &row[at..at + width])
}

/// The date or the moment in seconds at `at`: its bytes, and what they hold.
fn moment(rows: &[&[u8]], at: usize, stride: usize) -> Option<(usize, ColumnKind)> {
    let distinct = |width: usize| cells(rows, at, width).collect::<BTreeSet<_>>();
    let fits = |width: usize| at + width <= stride && distinct(width).len() >= FEWEST;
    if rows.len() < FEWEST {
        return None;
    }
    // Small numbers read as dates; so many different dates in rows of the same bytes are no chance.
    let is_date = |form: &DateForm| {
        let bytes = form.bytes();
        let chance = |c: &&[u8]| form.moments() * c.iter().map(|&b| share(b)).product::<f64>();
        fits(bytes)
            && cells(rows, at, bytes).all(|c| form.read(c).is_some())
            && distinct(bytes).iter().map(chance).product::<f64>() < 1e-3
    };
    if let Some(form) = FORMS.into_iter().find(is_date) {
        return Some((form.bytes(), ColumnKind::Date(form)));
    }
    let printable = |c: &[u8]| c.iter().all(|b| (0x20..0x7F).contains(b));
    if !fits(4) || cells(rows, at, 4).all(printable) {
        return None;
    }
    let numbers = |order: ByteOrder| cells(rows, at, 4).map(|c| order.number_u64(c)).collect::<Vec<u64>>();
    // The two low bytes of moments differ from row to row; a small number beside a letter is no moment.
    let varies = |at: usize| cells(rows, at, 1).collect::<BTreeSet<_>>().len() * 2 >= rows.len().min(64);
    let order = [ByteOrder::Big, ByteOrder::Little].into_iter().find(|&order| {
        let low = if order == ByteOrder::Big { [at + 2, at + 3] } else { [at, at + 1] };
        low.into_iter().all(varies) && are_moments(&numbers(order))
    })?;
    Some((4, ColumnKind::Seconds(order)))
}

/// The column that begins at `at` and ends at `end` at the latest: its bytes, and what they hold.
fn column(rows: &[&[u8]], at: usize, end: usize) -> (usize, ColumnKind) {
    let single = kind_of(rows, at);
    if rows.len() < FEWEST || single == ColumnKind::Text {
        return (1, single);
    }
    // The low byte of a counter changes in every row, its high bytes seldom, so wider numbers are tried first. What
    // begins with a constant byte is no little-endian counter, what ends with one no big-endian one, and where the
    // highest byte alone counts, the others are not the counter's.
    let is_counter = |width: usize, order: ByteOrder| {
        let (low, high) = match order {
            ByteOrder::Big => (at + width - 1, at),
            ByteOrder::Little => (at, at + width - 1),
        };
        let byte = |at: usize| cells(rows, at, 1).map(|c| u64::from(c[0])).collect::<Vec<u64>>();
        kind_of(rows, low) != ColumnKind::Constant
            && !grows(&byte(high))
            && grows(&cells(rows, at, width).map(|c| order.number_u64(c)).collect::<Vec<u64>>())
    };
    for width in [4, 3, 2].into_iter().filter(|width| at + width <= end) {
        if let Some(order) = [ByteOrder::Big, ByteOrder::Little].into_iter().find(|&o| is_counter(width, o)) {
            return (width, ColumnKind::Counter(order));
        }
    }
    (1, single)
}

/// True for numbers that are all seconds of 2000 to 2037, lie within fifteen years and mostly differ.
fn are_moments(numbers: &[u64]) -> bool {
    let (low, high) =
        (numbers.iter().min().copied().unwrap_or(0), numbers.iter().max().copied().unwrap_or(0));
    let distinct = numbers.iter().collect::<BTreeSet<_>>().len();
    low >= 946_684_800
        && high < 2_145_916_800
        && high - low < 15 * 31_557_600
        && distinct * 4 >= numbers.len() * 3
}

/// True when the numbers only grow, or only fall, and in most steps do change.
fn grows(numbers: &[u64]) -> bool {
    let steps = numbers.len().saturating_sub(1);
    let up = numbers.windows(2).filter(|w| w[1] > w[0]).count();
    let down = numbers.windows(2).filter(|w| w[1] < w[0]).count();
    steps >= FEWEST && (up == 0 || down == 0) && (up + down) * 4 >= steps * 3
}

/// What one byte of the rows is.
fn kind_of(rows: &[&[u8]], at: usize) -> ColumnKind {
    let values: Vec<u8> = rows.iter().map(|row| row[at]).collect();
    let distinct: BTreeSet<u8> = values.iter().copied().collect();
    if distinct.len() == 1 {
        ColumnKind::Constant
    } else if values.iter().all(|b| (0x20..0x7F).contains(b))
        && values.iter().any(|b| b.is_ascii_alphabetic())
    {
        ColumnKind::Text
    } else if are_flags(&distinct) && distinct.len() * 2 <= values.len() {
        ColumnKind::Flags
    } else if distinct.len() <= 8 && distinct.len() * 2 <= values.len() {
        ColumnKind::Enumeration
    } else if grows(&values.iter().map(|&b| u64::from(b)).collect::<Vec<_>>()) {
        ColumnKind::Counter(ByteOrder::Big)
    } else {
        ColumnKind::Number
    }
}

/// True for values that are single bits and unions of them, too far apart for the numbers of a list.
fn are_flags(values: &BTreeSet<u8>) -> bool {
    let singles = values.iter().filter(|v| v.is_power_of_two()).fold(0u8, |all, v| all | v);
    let unions = values.iter().filter(|v| **v != 0 && !v.is_power_of_two());
    let most = values.last().map_or(0, |v| usize::from(*v));
    values.len() >= 3
        && values.iter().all(|v| v & !singles == 0)
        && unions.count() >= 1
        && most > 2 * values.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(rows: &[Vec<u8>]) -> Vec<(usize, usize, &'static str)> {
        let table = rows.concat();
        columns(&table, rows[0].len()).into_iter().map(|c| (c.at, c.bytes, c.kind.word())).collect()
    }

    #[test]
    fn a_log_has_its_columns_named() {
        let rows: Vec<Vec<u8>> = (0..12u32)
            .map(|n| {
                let mut row = vec![0xA5, [1, 2, 7][n as usize % 3]];
                row.extend((1_672_531_200 + n * 90_000 + n * n * 777).to_be_bytes());
                row.extend((41_000 + n * 37).to_le_bytes());
                row.extend([0x24, 1 + n as u8 % 9, 0x10 + n as u8 % 8, 0x12, 0x30, n as u8 % 10]);
                row.extend([[0x00, 0x10, 0x04, 0x14][n as usize % 4], 0]);
                row.extend([b"HP", b"LO", b"OK"][n as usize % 3]);
                row
            })
            .collect();
        assert_eq!(
            told(&rows),
            [
                (0, 1, "constant"),
                (1, 1, "enumeration"),
                (2, 4, "time"),
                (6, 4, "counter"),
                (10, 6, "date"),
                (16, 1, "flags"),
                (17, 1, "constant"),
                (18, 2, "text"),
            ]
        );
    }

    #[test]
    fn blank_rows_do_not_blur_the_columns() {
        let mut rows: Vec<Vec<u8>> = (0..6u8).map(|n| vec![0x11, n * 3]).collect();
        rows.extend(vec![vec![0xFF; 2]; 10]);
        assert_eq!(told(&rows), [(0, 2, "counter")]);
    }

    #[test]
    fn any_rows_have_columns_that_cover_them() {
        for stride in 1..9 {
            let table: Vec<u8> = (0..40u32).map(|i| (i * i * 31 + 7) as u8).collect();
            assert_eq!(columns(&table, stride).iter().map(|c| c.bytes).sum::<usize>(), stride);
        }
        assert_eq!(columns(&[], 3).iter().map(|c| c.bytes).sum::<usize>(), 3);
    }
}
