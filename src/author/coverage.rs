//! How much of an image a layout describes.

use crate::layout::{Decoded, Shape};
use crate::span::Span;

/// The runs of bytes, in the order of offsets, that no field with a value and no stored check value lies over, in
/// an image of `len` bytes.
///
/// Reserved and Filler fields describe their bytes too: somebody wrote down that nothing is to be found there.
#[must_use]
pub fn undescribed(decoded: &Decoded, len: usize) -> Vec<Span> {
    let leaves =
        decoded.fields.iter().filter(|f| f.shape == Shape::Leaf).flat_map(|f| f.spans.iter().copied());
    let stored = decoded.checks.iter().filter_map(|c| c.placed.as_ref()).map(|p| p.stored_at);
    let mut taken: Vec<Span> = leaves.chain(stored).filter(|s| !s.is_empty()).collect();
    taken.sort_unstable();
    let mut runs = Vec::new();
    let mut end = 0;
    for span in taken {
        if span.start.min(len) > end {
            runs.push(Span::new(end, span.start.min(len)));
        }
        end = end.max(span.end);
    }
    if end < len {
        runs.push(Span::new(end, len));
    }
    runs
}

/// Per cent of `len` bytes that are described when `undescribed` are not: 100 only when every one is, and 0 only
/// when none is.
#[must_use]
pub fn percent(undescribed: &[Span], len: usize) -> usize {
    let open: usize = undescribed.iter().map(|s| s.len()).sum();
    let described = len.saturating_sub(open);
    match described {
        _ if open == 0 => 100,
        0 => 0,
        _ => ((described as u128 * 100) / len as u128).clamp(1, 99) as usize,
    }
}

/// Bytes of one value that make a piece of their own.
const BLANK_RUN: usize = 8;

/// The run of undescribed bytes `run` in pieces that a person looks at one by one: blank stretches apart from what
/// stands between them.
#[must_use]
pub fn pieces(bytes: &[u8], run: Span) -> Vec<Span> {
    let mut pieces: Vec<Span> = Vec::new();
    let mut open = run.start;
    let mut at = run.start;
    for same in run.of_bytes(bytes).unwrap_or_default().chunk_by(|a, b| a == b) {
        let blank = matches!(same.first(), Some(0x00 | 0xFF)) && same.len() >= BLANK_RUN;
        if blank {
            pieces.extend((open < at).then(|| Span::new(open, at)));
            pieces.push(Span::of(at, same.len()));
            open = at + same.len();
        }
        at += same.len();
    }
    pieces.extend((open < run.end).then(|| Span::new(open, run.end)));
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Image;
    use crate::layout;
    use proptest::prelude::*;

    fn decoded(text: &str, len: usize) -> Decoded {
        layout::decode(&layout::read(text).unwrap(), &Image::raw(vec![0; len]))
    }

    const TEXT: &str = "(layout: \"t\", format: 1, source: \"s\", order: Big, fields: [
        (name: \"a\", at: 2, kind: Int(bits: 16), copies: [(at: 8)]),
        (name: \"g\", at: 4, kind: Group(of: [(name: \"b\", at: 1, kind: Int(bits: 8))])),
    ], checks: [(name: \"c\", over: [(0, 10)], stored: (at: 12, bytes: 2), by: \"CRC-16/XMODEM\")])";

    #[test]
    fn copies_and_stored_checks_are_described_and_the_room_inside_groups_is_not() {
        let runs = undescribed(&decoded(TEXT, 16), 16);
        let told: Vec<(usize, usize)> = runs.iter().map(|r| (r.start, r.end)).collect();
        assert_eq!(told, [(0, 2), (4, 5), (6, 8), (10, 12), (14, 16)]);
        assert_eq!(percent(&runs, 16), 43);
    }

    #[test]
    fn all_and_nothing_are_told_only_when_they_are_true() {
        assert_eq!(percent(&[], 0), 100);
        assert_eq!(percent(&[Span::of(0, 9)], 9), 0);
        assert_eq!(percent(&[Span::of(0, 1)], 1000), 99);
        assert_eq!(percent(&[Span::of(0, 999)], 1000), 1);
    }

    #[test]
    fn blank_stretches_are_pieces_of_their_own() {
        let mut bytes = vec![0xFF; 40];
        bytes[3..8].copy_from_slice(&[1, 2, 0xFF, 0xFF, 5]);
        bytes[20] = 7;
        let told = |run| pieces(&bytes, run).iter().map(|p| (p.start, p.end)).collect::<Vec<_>>();
        assert_eq!(told(Span::new(0, 40)), [(0, 8), (8, 20), (20, 21), (21, 40)]);
        assert_eq!(told(Span::new(9, 12)), [(9, 12)]);
        assert_eq!(told(Span::new(12, 20)), [(12, 20)]);
        assert_eq!(told(Span::new(5, 5)), []);
    }

    proptest! {
        #[test]
        fn every_byte_is_in_a_field_or_in_one_run(fields in proptest::collection::vec((0usize..40, 1usize..6), 0..8)) {
            let written: String = fields.iter().enumerate()
                .map(|(i, (at, bytes))| format!("(name: \"f{i}\", at: {at}, kind: Bytes(bytes: {bytes})),"))
                .collect();
            let text = format!("(layout: \"t\", format: 1, source: \"s\", fields: [{written}])");
            prop_assume!(layout::read(&text).is_ok());
            let decoded = decoded(&text, 48);
            let runs = undescribed(&decoded, 48);
            for at in 0..48 {
                let open = runs.iter().filter(|r| r.contains(at)).count();
                prop_assert_eq!(open, usize::from(decoded.leaf_at(at).is_none()), "offset {}", at);
            }
        }
    }
}
