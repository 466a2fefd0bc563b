//! Rows of one shape: where bytes agree with the bytes one row further on more often than chance allows.

use super::columns::{Column, ColumnKind, columns};
use std::collections::BTreeSet;

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

/// The shortest and the longest row looked for, and the fewest rows of a table. Rows of two bytes are wide text and
/// single numbers.
const SHORTEST_ROW: usize = 3;
const LONGEST_ROW: usize = 128;
const FEWEST_ROWS: usize = 4;
/// Bits of evidence below which no table is named, beyond what the tries (offsets times row lengths) cost.
const EVIDENCE_BITS: f64 = 20.0;
/// Tables named at most.
const MOST_TABLES: usize = 32;

/// Tables, the strongest first, no two of them over the same bytes.
pub(super) fn tables(bytes: &[u8], fills: &[Region], watch: Watch<'_>) -> Vec<Region> {
    let mut open = vec![1u8; bytes.len()];
    // Long fills agree with themselves at every distance; they are no evidence.
    for fill in fills {
        open[fill.at.range()].fill(0);
    }
    let longest = LONGEST_ROW.min(bytes.len() / FEWEST_ROWS);
    let tries = (bytes.len().max(1) * longest.max(1)) as f64;
    let least = EVIDENCE_BITS + tries.log2();
    let mut stretches: Vec<Stretch> = Vec::new();
    for stride in SHORTEST_ROW..=longest {
        if !watch.goes_on(stride as f64 / longest as f64) {
            break;
        }
        for near in promising(bytes, &open, stride, least) {
            stretches.extend(best_stretch(bytes, &open, stride, near).filter(|s| s.bits >= least));
        }
    }
    // A whole number of rows explains the same bytes with a longer row; the shortest row wins unless a longer one
    // explains clearly more.
    let weight = |s: &Stretch| s.bits * (1.0 - 0.15 * s.stride as f64 / LONGEST_ROW as f64);
    stretches.sort_by(|a, b| weight(b).total_cmp(&weight(a)).then(a.at.start.cmp(&b.at.start)));
    let edges: BTreeSet<usize> =
        fills.iter().flat_map(|f| [f.at.start, f.at.end]).chain([0, bytes.len()]).collect();
    let mut taken: Vec<Span> = Vec::new();
    let mut found = Vec::new();
    for Stretch { stride, at, bits } in stretches {
        if found.len() >= MOST_TABLES || taken.iter().any(|t| t.overlaps(at)) {
            continue;
        }
        taken.push(at);
        let at = in_step(at, stride, &edges);
        let rows = at.len() / stride;
        if rows < FEWEST_ROWS || taken[..taken.len() - 1].iter().any(|t| t.overlaps(at)) {
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

/// Bytes that agree with those a row further on.
struct Stretch {
    stride: usize,
    at: Span,
    bits: f64,
}

/// The chance that two unrelated bytes agree: controllers' bytes agree far more often than 1 in 256. Each agreement
/// earns log2(0.5 / p) bits, each disagreement costs: the score of "agrees half the time" against "agrees with
/// probability p".
const AGREE: f64 = 1.0 / 24.0;

/// What an agreement earns and a disagreement costs, in bits.
fn gain_and_cost() -> (f64, f64) {
    ((0.5 / AGREE).log2(), ((1.0 - AGREE) / 0.5).log2())
}

/// Stretches of whole blocks that may hold rows of `stride` bytes: those whose sum of scores is enough.
///
/// Blocks are counted as a whole, which is what makes the many row lengths quick; [`best_stretch`] looks closer.
fn promising(bytes: &[u8], open: &[u8], stride: usize, least: f64) -> Vec<Span> {
    const BLOCK: usize = 64;
    let (gain, cost) = gain_and_cost();
    let further = bytes.get(stride..).unwrap_or_default();
    let open_further = open.get(stride..).unwrap_or_default();
    let pairs = bytes.chunks(BLOCK).zip(further.chunks(BLOCK));
    let opens = open.chunks(BLOCK).zip(open_further.chunks(BLOCK));
    let scores = pairs.zip(opens).map(|((a, b), (open_a, open_b))| {
        let (mut both, mut agree) = (0u8, 0u8);
        for (((a, b), open_a), open_b) in a.iter().zip(b).zip(open_a).zip(open_b) {
            let counts = open_a & open_b;
            both += counts;
            agree += counts & u8::from(a == b);
        }
        f64::from(agree) * gain - f64::from(both - agree) * cost
    });
    let mut found = Vec::new();
    // Inside one block the sum may rise by this much more than the block's own score tells.
    let slack = BLOCK as f64 * cost;
    let (mut from, mut sum, mut best) = (0, 0.0f64, (0usize, 0.0f64));
    let mut close = |from: usize, best: (usize, f64)| {
        if best.1 + 2.0 * slack >= least && best.1 > 0.0 {
            let start = (from * BLOCK).saturating_sub(BLOCK);
            found.push(Span::new(start, ((best.0 + 2) * BLOCK + stride).min(bytes.len())));
        }
    };
    for (block, score) in scores.enumerate() {
        sum += score;
        if sum > best.1 {
            best = (block, sum);
        }
        if sum <= 0.0 {
            close(from, best);
            (from, sum, best) = (block + 1, 0.0, (block + 1, 0.0));
        }
    }
    close(from, best);
    found
}

/// The stretch of `near` in which bytes agree best with those `stride` further on: that of the largest sum of scores
/// (Kadane).
fn best_stretch(bytes: &[u8], open: &[u8], stride: usize, near: Span) -> Option<Stretch> {
    let (gain, cost) = gain_and_cost();
    let (mut sum, mut from) = (0.0f64, near.start);
    let mut best: Option<Stretch> = None;
    for at in near.start..near.end.checked_sub(stride)? {
        let (here, there) = (open[at] == 1, open[at + stride] == 1);
        if !here || !there {
            if !here && !there {
                (sum, from) = (0.0, at + 1);
            }
            continue;
        }
        sum += if bytes[at] == bytes[at + stride] { gain } else { -cost };
        if sum <= 0.0 {
            (sum, from) = (0.0, at + 1);
        } else if best.as_ref().is_none_or(|b| sum > b.bits) {
            best = Some(Stretch { stride, at: Span::new(from, at + 1 + stride), bits: sum });
        }
    }
    best
}

/// A stretch with its start and end where rows begin and end: the first bytes of a row may all differ from the next
/// row's, so that the agreement begins inside it. Rows begin at a round offset just before, else where a fill ends
/// within a row before.
fn in_step(at: Span, stride: usize, edges: &BTreeSet<usize>) -> Span {
    let earliest = (at.start + 1).saturating_sub(stride);
    let edge = edges.range(earliest..=at.start).next_back().copied();
    let round = at.start & !15;
    let start = if round >= earliest && at.start - round < 4 { round } else { edge.unwrap_or(at.start) };
    // The last row ends where a fill begins, if it does so before another row would end.
    let end = edges.range(at.end..at.end + stride).next().copied().unwrap_or(at.end);
    Span::new(start, end.max(at.end))
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
        assert!(table.columns.iter().any(|c| matches!(c.kind, ColumnKind::Counter(_))));
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
