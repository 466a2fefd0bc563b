//! Where two byte strings differ.

use crate::span::Span;

/// Bytes that are compared at once while nothing differs; small enough to stay in the nearest cache when they do.
const CHUNK: usize = 16 << 10;

/// Bytes that are compared between two looks at whether to go on.
const PIECE: usize = 4 << 20;

/// The stretches in which `a` and `b` differ, as far as both go: each as long as possible, in order, not touching.
/// Equal bytes are passed over at the speed of memory.
#[must_use]
pub fn differing(a: &[u8], b: &[u8]) -> Vec<Span> {
    differing_first(a, b, usize::MAX, &mut |_| true).map(|(runs, _)| runs).unwrap_or_default()
}

/// As [`differing`], but only until there are about `most` stretches; then how many bytes were compared. `watch` is
/// told of how many bytes more were compared and says whether to go on; `None` when it did not want to.
pub(super) fn differing_first(
    a: &[u8],
    b: &[u8],
    most: usize,
    watch: &mut dyn FnMut(usize) -> bool,
) -> Option<(Vec<Span>, usize)> {
    let mut runs: Vec<Span> = Vec::new();
    let len = a.len().min(b.len());
    let (a, b) = (a.get(..len).unwrap_or_default(), b.get(..len).unwrap_or_default());
    let mut done = 0;
    for (a, b) in a.chunks(PIECE).zip(b.chunks(PIECE)) {
        for (n, (x, y)) in a.chunks(CHUNK).zip(b.chunks(CHUNK)).enumerate() {
            if x != y {
                in_chunk(done + n * CHUNK, x, y, &mut runs);
            }
        }
        done += a.len();
        if !watch(a.len()) {
            return None;
        }
        if runs.len() >= most {
            break;
        }
    }
    Some((runs, done))
}

fn in_chunk(base: usize, a: &[u8], b: &[u8], runs: &mut Vec<Span>) {
    const WORD: usize = 16;
    for (n, (x, y)) in a.chunks(WORD).zip(b.chunks(WORD)).enumerate() {
        if x == y {
            continue;
        }
        let base = base + n * WORD;
        for (i, _) in x.iter().zip(y).enumerate().filter(|(_, (x, y))| x != y) {
            Span::of(base + i, 1).go_on(runs);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Byte by byte.
    fn naive(a: &[u8], b: &[u8]) -> Vec<Span> {
        let mut runs = Vec::new();
        let mut start = None;
        for at in 0..=a.len().min(b.len()) {
            let differs = at < a.len().min(b.len()) && a[at] != b[at];
            match (differs, start) {
                (true, None) => start = Some(at),
                (false, Some(from)) => {
                    runs.push(Span::new(from, at));
                    start = None;
                }
                _ => {}
            }
        }
        runs
    }

    proptest! {
        #[test]
        fn runs_are_those_of_the_naive_walk(
            mut a in proptest::collection::vec(0u8..3, 0..200),
            flips in proptest::collection::vec((0usize..200, 0u8..3), 0..40),
            fill in 0usize..9000,
            tail in 0usize..5,
        ) {
            // A long equal stretch in front, so that runs lie across the borders of chunks.
            a.splice(0..0, std::iter::repeat_n(7, fill));
            let mut b = a.clone();
            for (at, byte) in flips {
                if let Some(place) = b.get_mut(fill.saturating_sub(100) + at) {
                    *place = byte;
                }
            }
            b.truncate(b.len().saturating_sub(tail));
            prop_assert_eq!(differing(&a, &b), naive(&a, &b));
            prop_assert_eq!(differing(&b, &a), naive(&a, &b));
        }
    }
}
