//! The cheapest alignment of two short stretches.
//!
//! Gotoh, "An improved algorithm for matching biological sequences", Journal of Molecular Biology 162 (1982): three
//! costs for each pair of offsets (ending in a pair, in a missing byte, in an inserted byte), so that beginning to
//! shift costs more than going on.

use super::{OPENING, Step};
use crate::span::Span;

/// Pairs of offsets that may still be looked at in one alignment.
#[derive(Debug)]
pub(super) struct Budget {
    cells: usize,
}

/// In all; one is worked out in about four nanoseconds.
const ALL_CELLS: usize = 24 << 20;
/// In one place; each takes a byte of memory.
const MOST_CELLS: usize = 8 << 20;

impl Default for Budget {
    fn default() -> Self {
        Budget { cells: ALL_CELLS }
    }
}

/// Whether stretches of these lengths can be aligned exactly.
pub(super) fn fits(a: usize, b: usize, budget: &Budget) -> bool {
    a == 0 || b == 0 || cells(a, b) <= budget.cells.min(MOST_CELLS)
}

fn cells(a: usize, b: usize) -> usize {
    a.saturating_add(1).saturating_mul(b.saturating_add(1))
}

/// How a path reaches a pair of offsets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Pair,
    Missing,
    Inserted,
}

/// Where the cheapest path into each state comes from, two bits a state.
mod from {
    use super::State;

    pub(super) const fn bits(state: State) -> u8 {
        match state {
            State::Pair => 0,
            State::Missing => 1,
            State::Inserted => 2,
        }
    }

    const fn state(bits: u8) -> State {
        match bits & 3 {
            0 => State::Pair,
            1 => State::Missing,
            _ => State::Inserted,
        }
    }

    pub(super) const fn pack(pair: u8, missing: u8, inserted: u8) -> u8 {
        pair | missing << 2 | inserted << 4
    }

    pub(super) const fn of(cell: u8, into: State) -> State {
        match into {
            State::Pair => state(cell),
            State::Missing => state(cell >> 2),
            State::Inserted => state(cell >> 4),
        }
    }
}

/// Far above any cost, far below overflow.
const NEVER: u32 = u32::MAX / 4;

/// The steps from `a` to `b`, whose first bytes have the given offsets in their images.
pub(super) fn align(a: &[u8], b: &[u8], before: usize, after: usize, budget: &mut Budget) -> Vec<Step> {
    if a.is_empty() || b.is_empty() {
        return [
            Step::Missing { before: Span::of(before, a.len()), after },
            Step::Inserted { after: Span::of(after, b.len()), before: before + a.len() },
        ]
        .into_iter()
        .filter(|s| !s.before().is_empty() || !s.after().is_empty())
        .collect();
    }
    budget.cells = budget.cells.saturating_sub(cells(a.len(), b.len()));
    let (trace, end) = costs(a, b);
    walk_back(a, b, before, after, &trace, end)
}

/// The cheaper of three with its state; pairs are preferred, so that equal costs give no shift.
fn cheapest(pair: u32, missing: u32, inserted: u32) -> (u32, State) {
    if pair <= missing && pair <= inserted {
        (pair, State::Pair)
    } else if missing <= inserted {
        (missing, State::Missing)
    } else {
        (inserted, State::Inserted)
    }
}

/// For each pair of offsets where the cheapest paths come from, row by row, and the state at the very end.
fn costs(a: &[u8], b: &[u8]) -> (Vec<u8>, State) {
    let open = OPENING as u32;
    let columns = b.len() + 1;
    let mut trace = vec![0_u8; columns * (a.len() + 1)];
    // Cost of ending in each state, for one row of offsets of `b`.
    let mut pair = vec![NEVER; columns];
    let mut missing = vec![NEVER; columns];
    let mut inserted = vec![NEVER; columns];
    for (j, (cell, cost)) in trace.iter_mut().zip(inserted.iter_mut()).enumerate().take(columns) {
        *cost = if j == 0 { NEVER } else { open + j as u32 };
        *cell = from::pack(0, 0, if j == 1 { 0 } else { from::bits(State::Inserted) });
    }
    if let Some(start) = pair.first_mut() {
        *start = 0;
    }
    for (&x, row) in a.iter().zip(trace.chunks_exact_mut(columns).skip(1)) {
        // The row before, one column to the left.
        let mut corner = (NEVER, NEVER, NEVER);
        // This row, one column to the left.
        let mut left = (NEVER, NEVER, NEVER);
        let cells = row.iter_mut().zip(pair.iter_mut()).zip(missing.iter_mut().zip(inserted.iter_mut()));
        for (j, ((cell, p), (m, i))) in cells.enumerate() {
            let above = (*p, *m, *i);
            let (into_pair, pair_from) = match j.checked_sub(1).and_then(|j| b.get(j)) {
                Some(&y) => {
                    let (cost, state) = cheapest(corner.0, corner.1, corner.2);
                    (cost + u32::from(x != y), state)
                }
                None => (NEVER, State::Pair),
            };
            let (into_missing, missing_from) = cheapest(above.0 + open + 1, above.1 + 1, above.2 + open + 1);
            let (into_inserted, inserted_from) = cheapest(left.0 + open + 1, left.1 + open + 1, left.2 + 1);
            left = (into_pair.min(NEVER), into_missing.min(NEVER), into_inserted.min(NEVER));
            (*p, *m, *i) = left;
            *cell = from::pack(from::bits(pair_from), from::bits(missing_from), from::bits(inserted_from));
            corner = above;
        }
    }
    let last = |row: &[u32]| row.last().copied().unwrap_or(NEVER);
    let (_, end) = cheapest(last(&pair), last(&missing), last(&inserted));
    (trace, end)
}

fn walk_back(a: &[u8], b: &[u8], before: usize, after: usize, trace: &[u8], end: State) -> Vec<Step> {
    let columns = b.len() + 1;
    let (mut i, mut j, mut state) = (a.len(), b.len(), end);
    let mut steps = Vec::new();
    while i > 0 || j > 0 {
        let cell = trace.get(i * columns + j).copied().unwrap_or(0);
        let came_from = from::of(cell, state);
        match state {
            State::Pair if i > 0 && j > 0 => {
                (i, j) = (i - 1, j - 1);
                let (x, y) = (before + i, after + j);
                steps.push(if a.get(i) == b.get(j) {
                    Step::Same { before: x, after: y, len: 1 }
                } else {
                    Step::Changed { before: x, after: y, len: 1 }
                });
            }
            State::Missing if i > 0 => {
                i -= 1;
                steps.push(Step::Missing { before: Span::of(before + i, 1), after: after + j });
            }
            State::Inserted if j > 0 => {
                j -= 1;
                steps.push(Step::Inserted { after: Span::of(after + j, 1), before: before + i });
            }
            // The borders can only be left along themselves.
            _ => {
                state = if i > 0 { State::Missing } else { State::Inserted };
                continue;
            }
        }
        state = came_from;
    }
    steps.reverse();
    steps
}
