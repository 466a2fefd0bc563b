//! Contents that moved: what of one image stands where in another.
//!
//! Memories are mostly compared address by address. But a table that grew by a row, a dump with a header in front or
//! a read that lost a byte shifts everything behind it, and then every byte seems changed. The alignment lays the
//! second image out as pieces of the first: the same, changed in place, inserted; what of the first is missing; and
//! which inserted pieces are missing ones that moved.
//!
//! The plan: equal ends are cut off; contents that stand once in the first image are looked up in the second by a
//! rolling hash (`anchors`), which costs one pass over each; the heaviest chain of them that goes forward in both is
//! kept; the small places between them are aligned exactly (`exact`). Costs stay near linear as long as the edits
//! are small, and bounded whatever the bytes are.

mod anchors;
mod exact;

use crate::span::Span;
use anchors::Segment;

/// A stretch of the second image, or a place in it where something of the first is missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// The same bytes in both.
    Same {
        /// Offset in the first image.
        before: usize,
        /// Offset in the second image.
        after: usize,
        /// Bytes.
        len: usize,
    },
    /// As many bytes in both, but others.
    Changed {
        /// Offset in the first image.
        before: usize,
        /// Offset in the second image.
        after: usize,
        /// Bytes.
        len: usize,
    },
    /// Bytes of the first image that are not here in the second.
    Missing {
        /// Where in the first image.
        before: Span,
        /// Where in the second image they would stand.
        after: usize,
    },
    /// Bytes of the second image that are not here in the first.
    Inserted {
        /// Where in the second image.
        after: Span,
        /// Where in the first image they would stand.
        before: usize,
    },
    /// Inserted bytes that are elsewhere in the first image.
    Moved {
        /// Offset in the first image.
        before: usize,
        /// Offset in the second image.
        after: usize,
        /// Bytes.
        len: usize,
        /// True when they also stay where they were: a copy.
        copied: bool,
    },
}

impl Step {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Step::Same { .. } => "same",
            Step::Changed { .. } => "changed",
            Step::Missing { .. } => "missing",
            Step::Inserted { .. } => "inserted",
            Step::Moved { copied: false, .. } => "moved",
            Step::Moved { copied: true, .. } => "copied",
        }
    }

    /// The bytes of the first image that it speaks of; empty for inserted ones, at the place where they would stand.
    #[must_use]
    pub const fn before(&self) -> Span {
        match *self {
            Step::Same { before, len, .. }
            | Step::Changed { before, len, .. }
            | Step::Moved { before, len, .. } => Span::of(before, len),
            Step::Missing { before, .. } => before,
            Step::Inserted { before, .. } => Span::of(before, 0),
        }
    }

    /// The bytes of the second image that it makes; empty for missing ones, at the place where they would stand.
    #[must_use]
    pub const fn after(&self) -> Span {
        match *self {
            Step::Same { after, len, .. }
            | Step::Changed { after, len, .. }
            | Step::Moved { after, len, .. } => Span::of(after, len),
            Step::Missing { after, .. } => Span::of(after, 0),
            Step::Inserted { after, .. } => after,
        }
    }
}

/// The second image as pieces of the first.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Alignment {
    /// In the order of the second image, which they cover without holes; missing pieces stand where they would be.
    pub steps: Vec<Step>,
}

/// Equal bytes that end up at another address count as a shift from this many on; fewer agree by chance.
const SHIFT_BYTES: usize = 16;

impl Alignment {
    /// True when a stretch that cannot agree by chance stands at another offset.
    #[must_use]
    pub fn is_shifted(&self) -> bool {
        self.steps.iter().any(|step| match *step {
            Step::Same { before, after, len } => before != after && len >= SHIFT_BYTES,
            Step::Moved { copied, .. } => !copied,
            _ => false,
        })
    }

    /// Where the byte at offset `after` of the second image is in the first: the same byte, or the one it took the
    /// place of. `None` for what was inserted.
    #[must_use]
    pub fn to_before(&self, after: usize) -> Option<usize> {
        let end = self.steps.partition_point(|s| s.after().start <= after);
        let step = self.steps.get(..end)?.iter().rev().find(|s| s.after().contains(after))?;
        let before = step.before();
        (!before.is_empty()).then(|| before.start + (after - step.after().start))
    }

    /// Where the byte at offset `before` of the first image is in the second. `None` for what is missing.
    #[must_use]
    pub fn to_after(&self, before: usize) -> Option<usize> {
        let stays = |s: &&Step| {
            !matches!(s, Step::Missing { .. } | Step::Inserted { .. } | Step::Moved { copied: true, .. })
        };
        let step = self.steps.iter().filter(stays).find(|s| s.before().contains(before))?;
        Some(step.after().start + (before - step.before().start))
    }

    /// The second image, made from the first and, where bytes are other ones, from the second.
    #[must_use]
    pub fn rebuild(&self, before: &[u8], after: &[u8]) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(after.len());
        for step in &self.steps {
            let piece = match step {
                Step::Same { .. } | Step::Moved { .. } => step.before().of_bytes(before),
                Step::Changed { .. } | Step::Inserted { .. } => step.after().of_bytes(after),
                Step::Missing { .. } => None,
            };
            bytes.extend_from_slice(piece.unwrap_or_default());
        }
        bytes
    }

    /// What the alignment costs: 1 for each byte changed, inserted or missing, and [`OPENING`] for each place where
    /// bytes were inserted or are missing. Moved pieces count as inserted.
    #[must_use]
    pub fn cost(&self) -> usize {
        let mut cost = 0;
        // Pieces of one inserted stretch may be told apart as moved.
        let (mut inserting, mut missing) = (false, false);
        for step in &self.steps {
            match step {
                Step::Same { .. } => (inserting, missing) = (false, false),
                Step::Changed { len, .. } => {
                    (inserting, missing) = (false, false);
                    cost += len;
                }
                Step::Inserted { .. } | Step::Moved { .. } => {
                    cost += step.after().len() + if inserting { 0 } else { OPENING };
                    (inserting, missing) = (true, false);
                }
                Step::Missing { before, .. } => {
                    cost += before.len() + if missing { 0 } else { OPENING };
                    (inserting, missing) = (false, true);
                }
            }
        }
        cost
    }
}

/// What it costs to begin inserting or leaving out bytes. Bytes of a memory are far more often changed in place than
/// moved, so a shift must explain more than this many bytes before it is believed.
pub const OPENING: usize = 12;

/// Aligns `after` with `before`.
#[must_use]
pub fn align(before: &[u8], after: &[u8]) -> Alignment {
    let front = before.iter().zip(after).take_while(|(a, b)| a == b).count();
    let (a, b) = (before.get(front..).unwrap_or_default(), after.get(front..).unwrap_or_default());
    let back = a.iter().rev().zip(b.iter().rev()).take_while(|(a, b)| a == b).count();
    let inner_a = Span::new(front, before.len() - back);
    let inner_b = Span::new(front, after.len() - back);
    let mut steps = Vec::new();
    push(&mut steps, Step::Same { before: 0, after: 0, len: front });
    let mut budget = exact::Budget::default();
    let segments = if inner_a.len().saturating_mul(inner_b.len()) <= SMALL_CELLS {
        Vec::new()
    } else {
        anchors::segments(before, after, inner_a, inner_b)
    };
    let (mut at_a, mut at_b) = (inner_a.start, inner_b.start);
    for segment in anchors::chain(&segments) {
        let (gap_a, gap_b) = (Span::new(at_a, segment.before), Span::new(at_b, segment.after));
        between(before, after, gap_a, gap_b, &mut budget, &mut steps);
        push(&mut steps, Step::Same { before: segment.before, after: segment.after, len: segment.len });
        (at_a, at_b) = (segment.before + segment.len, segment.after + segment.len);
    }
    let (gap_a, gap_b) = (Span::new(at_a, inner_a.end), Span::new(at_b, inner_b.end));
    between(before, after, gap_a, gap_b, &mut budget, &mut steps);
    push(&mut steps, Step::Same { before: inner_a.end, after: inner_b.end, len: back });
    Alignment { steps: moved(before, after, steps) }
}

/// Pairs of offsets up to which a place is aligned exactly without a second thought.
const SMALL_CELLS: usize = 1 << 16;

/// Equal bytes in place that are believed in a larger place that is as long in both: a shift and its way back would
/// have to be hidden around them.
const BELIEVED_BYTES: usize = 32;

/// The place between two anchors: in place where that cannot be beaten, exactly where that is affordable, else byte
/// by byte from its beginning.
fn between(before: &[u8], after: &[u8], a: Span, b: Span, budget: &mut exact::Budget, steps: &mut Vec<Step>) {
    if a.is_empty() && b.is_empty() {
        return;
    }
    let (x, y) = (a.of_bytes(before).unwrap_or_default(), b.of_bytes(after).unwrap_or_default());
    let runs = if a.len() == b.len() { super::runs::differing(x, y) } else { Vec::new() };
    let changed: usize = runs.iter().map(|r| r.len()).sum();
    // Whoever shifts must shift back, which costs two openings and a byte each.
    if a.len() == b.len() && changed <= 2 * (OPENING + 1) {
        return in_place(a, b, steps, &runs);
    }
    if a.len().saturating_mul(b.len()) > SMALL_CELLS && a.len() == b.len() {
        let (mut done, mut split) = (0, false);
        let ends = runs.iter().map(|r| r.end);
        let starts = runs.iter().skip(1).map(|r| r.start).chain([x.len()]);
        let first = runs.first().map_or(x.len(), |r| r.start);
        for (from, to) in [(0, first)].into_iter().chain(ends.zip(starts)) {
            if to - from < BELIEVED_BYTES {
                continue;
            }
            split = true;
            let part =
                |whole: Span, start: usize, end: usize| Span::new(whole.start + start, whole.start + end);
            between(before, after, part(a, done, from), part(b, done, from), budget, steps);
            push(steps, Step::Same { before: a.start + from, after: b.start + from, len: to - from });
            done = to;
        }
        if split {
            let rest = |whole: Span| Span::new(whole.start + done, whole.end);
            return between(before, after, rest(a), rest(b), budget, steps);
        }
    }
    if exact::fits(a.len(), b.len(), budget) {
        for step in exact::align(x, y, a.start, b.start, budget) {
            push(steps, step);
        }
        return;
    }
    in_place(a, b, steps, &super::runs::differing(x, y));
}

/// Byte by byte from the beginning of both; what only one has is missing or inserted at the end.
fn in_place(a: Span, b: Span, steps: &mut Vec<Step>, runs: &[Span]) {
    let len = a.len().min(b.len());
    let mut done = 0;
    for run in runs {
        push(steps, Step::Same { before: a.start + done, after: b.start + done, len: run.start - done });
        push(
            steps,
            Step::Changed { before: a.start + run.start, after: b.start + run.start, len: run.len() },
        );
        done = run.end;
    }
    push(steps, Step::Same { before: a.start + done, after: b.start + done, len: len - done });
    push(steps, Step::Missing { before: Span::new(a.start + len, a.end), after: b.start + len });
    push(steps, Step::Inserted { after: Span::new(b.start + len, b.end), before: a.end });
}

/// Adds a step, joined with the last one where it goes on.
fn push(steps: &mut Vec<Step>, step: Step) {
    if step.before().is_empty() && step.after().is_empty() {
        return;
    }
    let joined = match (steps.last(), step) {
        (Some(&Step::Same { before, after, len }), Step::Same { before: b, after: a, len: more })
            if before + len == b && after + len == a =>
        {
            Some(Step::Same { before, after, len: len + more })
        }
        (Some(&Step::Changed { before, after, len }), Step::Changed { before: b, after: a, len: more })
            if before + len == b && after + len == a =>
        {
            Some(Step::Changed { before, after, len: len + more })
        }
        (Some(&Step::Missing { before, after }), Step::Missing { before: b, .. })
            if before.end == b.start =>
        {
            Some(Step::Missing { before: Span::new(before.start, b.end), after })
        }
        (Some(&Step::Inserted { after, before }), Step::Inserted { after: a, .. })
            if after.end == a.start =>
        {
            Some(Step::Inserted { after: Span::new(after.start, a.end), before })
        }
        _ => None,
    };
    match (joined, steps.last_mut()) {
        (Some(joined), Some(last)) => *last = joined,
        _ => steps.push(step),
    }
}

/// Inserted and changed stretches of the second image that are found elsewhere in the first.
fn moved(before: &[u8], after: &[u8], steps: Vec<Step>) -> Vec<Step> {
    let open: Vec<Span> = steps
        .iter()
        .filter(|s| matches!(s, Step::Inserted { .. } | Step::Changed { .. }))
        .map(|s| s.after())
        .filter(|s| s.len() >= SHIFT_BYTES)
        .collect();
    if open.is_empty() {
        return steps;
    }
    let found = anchors::elsewhere(before, after, &open);
    let left: Vec<Span> = steps
        .iter()
        .filter(|s| matches!(s, Step::Missing { .. } | Step::Changed { .. }))
        .map(|s| s.before())
        .collect();
    let mut told = Vec::new();
    for step in steps {
        if !matches!(step, Step::Inserted { .. } | Step::Changed { .. }) {
            told.push(step);
            continue;
        }
        let span = step.after();
        let mut at = span.start;
        let first = found.partition_point(|s| s.after < span.start);
        for segment in found.get(first..).unwrap_or_default().iter().take_while(|s| s.after < span.end) {
            told.extend(part(step, Span::new(at, segment.after)));
            let from = Span::of(segment.before, segment.len);
            let copied = !left.iter().any(|l| l.covers(from));
            // What a changed stretch took the place of is missing now.
            if let Step::Changed { before, after, .. } = step {
                let lost = Span::of(before + (segment.after - after), segment.len);
                push(&mut told, Step::Missing { before: lost, after: segment.after });
            }
            let Segment { before, after, len } = *segment;
            told.push(Step::Moved { before, after, len, copied });
            at = segment.after + segment.len;
        }
        told.extend(part(step, Span::new(at, span.end)));
    }
    told
}

/// The part of an inserted or changed step that makes `span` of the second image.
fn part(step: Step, span: Span) -> Option<Step> {
    match step {
        _ if span.is_empty() => None,
        Step::Inserted { before, .. } => Some(Step::Inserted { after: span, before }),
        Step::Changed { before, after, .. } => {
            Some(Step::Changed { before: before + (span.start - after), after: span.start, len: span.len() })
        }
        other => Some(other),
    }
}

#[cfg(test)]
mod tests;
