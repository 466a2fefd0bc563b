//! Rows of one shape: where bytes agree with the bytes one row further on more often than chance allows.

use super::watch::Watch;
use super::{Kind, Region};
use crate::span::Span;

/// Rows of one shape.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Bytes in a row.
    pub stride: usize,
    /// Number of rows.
    pub rows: usize,
    /// What the columns hold, in order, covering the row.
    pub columns: Vec<Column>,
}

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
    Counter,
    /// Printable text.
    Text,
    /// Few different values.
    Enumeration,
    /// Anything else.
    Number,
}

impl ColumnKind {
    /// The word on screens.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            ColumnKind::Constant => "constant",
            ColumnKind::Counter => "counter",
            ColumnKind::Text => "text",
            ColumnKind::Enumeration => "enumeration",
            ColumnKind::Number => "number",
        }
    }
}

/// The longest row looked for, and the fewest rows of a table.
const LONGEST_ROW: usize = 128;
const FEWEST_ROWS: usize = 4;
/// Bits of evidence below which no table is named, beyond what the tries (offsets times row lengths) cost.
const EVIDENCE_BITS: f64 = 20.0;
/// Tables named at most.
const MOST_TABLES: usize = 32;

/// Tables, the strongest first, no two of them over the same bytes.
pub(super) fn tables(bytes: &[u8], fills: &[Region], watch: Watch<'_>) -> Vec<Region> {
    let mut open = vec![true; bytes.len()];
    // Long fills agree with themselves at every distance; they are no evidence.
    for fill in fills {
        open[fill.at.range()].fill(false);
    }
    let longest = LONGEST_ROW.min(bytes.len() / FEWEST_ROWS);
    let tries = (bytes.len().max(1) * longest.max(1)) as f64;
    let mut found = Vec::new();
    while found.len() < MOST_TABLES && watch.goes_on(found.len() as f64 / MOST_TABLES as f64) {
        let best = (2..=longest)
            .filter_map(|stride| best_stretch(bytes, &open, stride).map(|(at, bits)| (stride, at, bits)))
            // A whole number of rows explains the same bytes with a longer row; the shortest row wins unless a
            // longer one explains clearly more.
            .reduce(|a, b| if b.2 > a.2 * 1.15 { b } else { a });
        let Some((stride, at, bits)) = best else { break };
        if bits < EVIDENCE_BITS + tries.log2() {
            break;
        }
        let rows = at.len() / stride;
        open[at.range()].fill(false);
        if rows < FEWEST_ROWS {
            continue;
        }
        let at = Span::of(at.start, rows * stride);
        let columns = columns(&bytes[at.range()], stride);
        if columns.iter().all(|c| c.kind == ColumnKind::Number) {
            continue;
        }
        found.push(Region {
            at,
            evidence: format!(
                "{rows} rows of {stride} bytes: bytes agree with the next row far more often than chance \
                 ({bits:.0} bits of evidence)"
            ),
            kind: Kind::Table(Table { stride, rows, columns }),
            chance: tries * (-bits).exp2(),
        });
    }
    found
}

/// The stretch in which bytes agree best with those `stride` further on, and its evidence in bits.
///
/// Each agreement earns log2(0.5 / p) bits, each disagreement costs: the score of "agrees half the time" against
/// "agrees with probability p", with p the chance that two unrelated bytes here agree. The best stretch is that
/// of the largest sum (Kadane).
fn best_stretch(bytes: &[u8], open: &[bool], stride: usize) -> Option<(Span, f64)> {
    const P: f64 = 1.0 / 24.0; // controllers' bytes agree far more often than 1 in 256
    let (gain, cost) = ((0.5 / P).log2(), ((1.0 - P) / 0.5).log2());
    let (mut sum, mut from) = (0.0f64, 0);
    let mut best: Option<(Span, f64)> = None;
    for at in 0..bytes.len().checked_sub(stride)? {
        if !open[at] || !open[at + stride] {
            if !open[at] && !open[at + stride] {
                sum = 0.0;
                from = at + 1;
            }
            continue;
        }
        if bytes[at] == bytes[at + stride] {
            sum += gain;
        } else {
            sum -= cost;
        }
        if sum <= 0.0 {
            (sum, from) = (0.0, at + 1);
        } else if best.is_none_or(|(_, b)| sum > b) {
            best = Some((Span::new(from, at + 1 + stride), sum));
        }
    }
    best
}

/// What the columns of a table hold: each byte of the row is judged over all rows, neighbours that behave alike
/// are one column.
#[must_use]
pub fn columns(table: &[u8], stride: usize) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::new();
    let mut at = 0;
    while at < stride {
        let column = |width: usize| table.chunks_exact(stride).map(move |row| &row[at..at + width]);
        let kind = kind_of(column(1).map(|c| c[0]));
        // The low byte of a counter changes in every row, its high bytes seldom: a big-endian counter begins
        // with constant bytes, so wider numbers are tried first.
        let counter = [4usize, 3, 2].into_iter().find(|&w| {
            at + w <= stride && {
                let numbers: Vec<u64> =
                    column(w).map(|c| c.iter().fold(0, |n, &b| n << 8 | u64::from(b))).collect();
                grows(&numbers) && numbers.first() != numbers.last() && kind != ColumnKind::Text
            }
        });
        let (bytes, kind) = match counter {
            Some(width) => (width, ColumnKind::Counter),
            None => (1, kind),
        };
        match columns.last_mut() {
            Some(last)
                if last.kind == kind && kind != ColumnKind::Counter && kind != ColumnKind::Enumeration =>
            {
                last.bytes += bytes;
            }
            _ => columns.push(Column { at, bytes, kind }),
        }
        at += bytes;
    }
    columns
}

/// True when at least four numbers only grow, or only fall, and in most steps do change.
fn grows(numbers: &[u64]) -> bool {
    let steps = numbers.len().saturating_sub(1);
    let up = numbers.windows(2).filter(|w| w[1] > w[0]).count();
    let down = numbers.windows(2).filter(|w| w[1] < w[0]).count();
    steps >= FEWEST_ROWS - 1 && (up == 0 || down == 0) && (up + down) * 4 >= steps * 3
}

fn kind_of(values: impl Iterator<Item = u8>) -> ColumnKind {
    let values: Vec<u8> = values.collect();
    let distinct = values.iter().collect::<std::collections::BTreeSet<_>>().len();
    if distinct == 1 {
        ColumnKind::Constant
    } else if values.iter().all(|b| (0x20..0x7F).contains(b)) {
        ColumnKind::Text
    } else if distinct <= 6 && distinct * 2 <= values.len() {
        ColumnKind::Enumeration
    } else if grows(&values.iter().map(|&b| u64::from(b)).collect::<Vec<_>>()) {
        ColumnKind::Counter
    } else {
        ColumnKind::Number
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A log of 12 rows of 16 bytes: mark, event, 32-bit hours, text, filler.
    fn log() -> Vec<u8> {
        let mut bytes: Vec<u8> = (0..512usize).map(|i| (i * i * 31 + i * 7) as u8).collect();
        for row in 0..12u32 {
            let at = 128 + row as usize * 16;
            let hours = 41_000 + row * 37;
            bytes[at] = 0xA5;
            bytes[at + 1] = (row % 3) as u8;
            bytes[at + 2..at + 6].copy_from_slice(&hours.to_be_bytes());
            bytes[at + 6..at + 10].copy_from_slice(b"HP01");
            bytes[at + 10..at + 16].fill(0);
        }
        bytes
    }

    #[test]
    fn a_log_is_found_with_its_row_length_and_columns() {
        let found = tables(&log(), &[], Watch::nobody());
        let region = &found[0];
        let Kind::Table(table) = &region.kind else { panic!() };
        assert_eq!(table.stride, 16);
        assert!((11..=13).contains(&table.rows), "{} rows", table.rows);
        assert!(region.at.start.abs_diff(128) < 16, "{:?}", region.at);
        assert!(table.columns.iter().any(|c| c.kind == ColumnKind::Counter));
        assert_eq!(table.columns.iter().map(|c| c.bytes).sum::<usize>(), 16);
    }

    #[test]
    fn noise_and_fills_hold_no_table() {
        use sha2::{Digest, Sha256};
        let random: Vec<u8> = (0u32..128).flat_map(|i| Sha256::digest(i.to_le_bytes())).collect();
        assert!(tables(&random, &[], Watch::nobody()).is_empty());
        let blank = vec![0xFF; 4096];
        assert!(tables(&blank, &super::super::fill::fills(&blank), Watch::nobody()).is_empty());
    }
}
