//! Changes that look like a fault of reading rather than like an edit.

use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::{address, count, short_list};

/// Bytes of one value from which a stretch looks like a clip that lost its contact.
const BLOCK_BYTES: usize = 16;

/// Single flipped bits from which on they are no chance of an edit.
const FLIPS: usize = 3;

/// Looks at changes in `open` places: those that no sealed check speaks for and nobody meant. A sealed check all but
/// rules out a fault of reading.
pub(super) fn findings(before: &Image, after: &Image, open: impl Iterator<Item = Span>) -> Vec<Finding> {
    let mut joined = Vec::new();
    open.for_each(|span| span.go_on(&mut joined));
    flips(before, after, &joined).into_iter().chain(blocks(before, after, &joined)).collect()
}

fn flips(before: &Image, after: &Image, open: &[Span]) -> Option<Finding> {
    let flipped = |span: &&Span| {
        span.len() == 1
            && match (before.bytes().get(span.start), after.bytes().get(span.start)) {
                (Some(was), Some(is)) => (was ^ is).count_ones() == 1,
                _ => false,
            }
    };
    let flipped: Vec<Span> = open.iter().filter(flipped).copied().collect();
    // A flag or a digit that was changed on purpose can be one bit too; several scattered ones are none.
    if flipped.len() < FLIPS || flipped.len() * 2 < open.len() {
        return None;
    }
    let first = *flipped.first()?;
    let places: Vec<String> = flipped.iter().map(|s| address(before.address(s.start))).collect();
    Some(
        Finding::new(
            Weight::Doubt,
            Code::LooksLikeReadFault,
            format!("{} differ by a single bit: {}", count(flipped.len(), "byte"), short_list(&places)),
            "bits that flip one by one are a poor read, not an edit",
            "read the chip again, vet both reads with `readproof vet BEFORE READ2`, and ask how the changed image came about",
        )
        .at(first),
    )
}

fn blocks(before: &Image, after: &Image, open: &[Span]) -> Option<Finding> {
    let uniform = |span: &&Span| {
        let bytes = span.of_bytes(after.bytes()).unwrap_or_default();
        let first = bytes.first().copied();
        span.len() >= BLOCK_BYTES
            && matches!(first, Some(0x00 | 0xFF))
            && bytes.iter().all(|b| Some(*b) == first)
    };
    let span = open.iter().find(uniform)?;
    let value = after.bytes().get(span.start).copied().unwrap_or_default();
    Some(
        Finding::new(
            Weight::Doubt,
            Code::LooksLikeReadFault,
            format!("{} from {} on now hold {value:02X}", count(span.len(), "byte"), address(before.address(span.start))),
            "a stretch that reads as one value is a lost contact or an erased block, unless it was cleared on purpose",
            "read the chip again, vet both reads with `readproof vet BEFORE READ2`, and ask how the changed image came about",
        )
        .at(*span),
    )
}
