//! Contents that stand once in the first image, found in the second.

use std::cmp::Reverse;

use crate::span::Span;

/// The same bytes in both images.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Segment {
    pub before: usize,
    pub after: usize,
    pub len: usize,
}

/// Segments that are chained; more are not looked at, the longest are kept.
const MOST_SEGMENTS: usize = 2048;

/// An odd multiplier for a polynomial hash modulo 2^64; its value only has to mix (the 64-bit golden ratio).
const MULTIPLIER: u64 = 0x9E37_79B9_7F4A_7C15;

/// Blocks of the first image by their hash: an open table, half empty.
struct Index {
    block: usize,
    mask: usize,
    /// Hash and offset + 1; 0 is free. An offset of [`Index::TWICE`] is a block that stands more than once.
    slots: Vec<(u64, u32)>,
}

impl Index {
    const TWICE: u32 = u32::MAX;

    /// Every block of `bytes` in `span` that is not all one byte; those that stand twice are marked and never found.
    fn of(bytes: &[u8], span: Span, block: usize) -> Self {
        let blocks = span.len() / block;
        let capacity = (blocks * 2).next_power_of_two().max(16);
        let mut index = Index { block, mask: capacity - 1, slots: vec![(0, 0); capacity] };
        for (n, content) in span.of_bytes(bytes).unwrap_or_default().chunks_exact(block).enumerate() {
            let uniform = content.first().is_some_and(|first| content.iter().all(|b| b == first));
            let Ok(offset) = u32::try_from(span.start + n * block) else { break };
            if !uniform && offset < Self::TWICE - 1 {
                index.add(hash(content), offset);
            }
        }
        index
    }

    fn add(&mut self, hash: u64, offset: u32) {
        let mut at = self.home(hash);
        while let Some(slot) = self.slots.get_mut(at) {
            if slot.1 == 0 {
                *slot = (hash, offset + 1);
                return;
            }
            if slot.0 == hash {
                slot.1 = Self::TWICE;
                return;
            }
            at = (at + 1) & self.mask;
        }
    }

    fn find(&self, hash: u64) -> Option<usize> {
        let mut at = self.home(hash);
        loop {
            match self.slots.get(at) {
                Some(&(_, 0)) | None => return None,
                Some(&(h, offset)) if h == hash => {
                    return (offset != Self::TWICE).then_some(offset as usize - 1);
                }
                Some(_) => at = (at + 1) & self.mask,
            }
        }
    }

    fn home(&self, hash: u64) -> usize {
        (hash.wrapping_mul(MULTIPLIER) >> 32) as usize & self.mask
    }
}

fn hash(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0, |h, &b| h.wrapping_mul(MULTIPLIER).wrapping_add(u64::from(b) + 1))
}

/// Bytes of a block: short enough to find what small edits leave standing, long enough not to agree by chance.
fn block_bytes(bytes: usize) -> usize {
    if bytes <= 64 << 10 { 8 } else { 16 }
}

/// The same contents in `a` of `before` and `b` of `after`: each stretch as long as possible, in the order of
/// `after`, in which they do not overlap.
pub(super) fn segments(before: &[u8], after: &[u8], a: Span, b: Span) -> Vec<Segment> {
    let block = block_bytes(a.len());
    let index = Index::of(before, a, block);
    look_up(&index, before, after, a, b)
}

/// For each span of `after` in `open`, which parts of it stand anywhere in `before`; in order.
pub(super) fn elsewhere(before: &[u8], after: &[u8], open: &[Span]) -> Vec<Segment> {
    let whole = Span::new(0, before.len());
    let index = Index::of(before, whole, block_bytes(before.len()));
    let found = open.iter().flat_map(|&span| look_up(&index, before, after, whole, span));
    found.filter(|s| s.len >= super::SHIFT_BYTES).collect()
}

fn look_up(index: &Index, before: &[u8], after: &[u8], a: Span, b: Span) -> Vec<Segment> {
    let block = index.block;
    let mut found: Vec<Segment> = Vec::new();
    let oldest = (1..block).fold(1_u64, |m, _| m.wrapping_mul(MULTIPLIER));
    let Some(window) = Span::of(b.start, block).of_bytes(after).filter(|_| b.len() >= block) else {
        return found;
    };
    let mut rolling = hash(window);
    let mut at = b.start;
    let mut free = b.start;
    while at + block <= b.end {
        if let Some(start) = index.find(rolling)
            && let Some(segment) = extend(before, after, a, Span::new(free, b.end), start, at, block)
        {
            free = segment.after + segment.len;
            found.push(segment);
            at = free;
            let Some(window) = Span::of(at, block).of_bytes(after) else { break };
            rolling = hash(window);
            continue;
        }
        let (Some(&old), Some(&new)) = (after.get(at), after.get(at + block)) else { break };
        rolling = rolling
            .wrapping_sub((u64::from(old) + 1).wrapping_mul(oldest))
            .wrapping_mul(MULTIPLIER)
            .wrapping_add(u64::from(new) + 1);
        at += 1;
    }
    found
}

/// The longest stretch around a block that is equal in both, inside `a` and `b`; `None` when the block is not.
fn extend(
    before: &[u8],
    after: &[u8],
    a: Span,
    b: Span,
    x: usize,
    y: usize,
    block: usize,
) -> Option<Segment> {
    if Span::of(x, block).of_bytes(before)? != Span::of(y, block).of_bytes(after)? {
        return None;
    }
    let ahead = before.get(x + block..a.end)?.iter().zip(after.get(y + block..b.end)?);
    let ahead = ahead.take_while(|(p, q)| p == q).count();
    let back = before.get(a.start..x)?.iter().rev().zip(after.get(b.start..y)?.iter().rev());
    let back = back.take_while(|(p, q)| p == q).count();
    Some(Segment { before: x - back, after: y - back, len: back + block + ahead })
}

/// The heaviest chain of segments that goes forward in both images, overlaps in the first image cut off.
pub(super) fn chain(segments: &[Segment]) -> Vec<Segment> {
    let mut kept: Vec<Segment> = segments.to_vec();
    if kept.len() > MOST_SEGMENTS {
        kept.sort_by_key(|s| Reverse(s.len));
        kept.truncate(MOST_SEGMENTS);
        kept.sort_by_key(|s| s.after);
    }
    // Best weight of a chain that ends in each segment, and the one before it.
    let mut best: Vec<(usize, Option<usize>)> = Vec::with_capacity(kept.len());
    for (n, segment) in kept.iter().enumerate() {
        let mut choice = (segment.len, None);
        for (m, (earlier, &(weight, _))) in kept.iter().zip(&best).enumerate().take(n) {
            let new = forward(earlier, segment);
            if new > 0 && weight + new > choice.0 {
                choice = (weight + new, Some(m));
            }
        }
        best.push(choice);
    }
    let mut at =
        best.iter().enumerate().max_by_key(|(n, (weight, _))| (*weight, Reverse(*n))).map(|(n, _)| n);
    let mut chain: Vec<Segment> = Vec::new();
    while let Some(n) = at {
        chain.extend(kept.get(n));
        at = best.get(n).and_then(|b| b.1);
    }
    chain.reverse();
    let mut end = 0_usize;
    for segment in &mut chain {
        let overlap = end.saturating_sub(segment.before).min(segment.len);
        segment.before += overlap;
        segment.after += overlap;
        segment.len -= overlap;
        end = segment.before + segment.len;
    }
    chain.retain(|s| s.len > 0);
    chain
}

/// Bytes that `next` adds behind `earlier`; 0 when it does not go forward in the first image.
fn forward(earlier: &Segment, next: &Segment) -> usize {
    let (end, next_end) = (earlier.before + earlier.len, next.before + next.len);
    if earlier.before < next.before { next_end.saturating_sub(end.max(next.before)) } else { 0 }
}
