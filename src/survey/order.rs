//! Which byte of a number stands first, judged by where the small halves are.

use super::{Kind, Region};
use crate::span::{ByteOrder, Span};

/// The byte order that small 16-bit numbers at even offsets speak for; `None` when they do not.
pub(super) fn order(bytes: &[u8], gaps: &[Span], regions: &[Region]) -> Option<(ByteOrder, String)> {
    let mut explained = vec![false; bytes.len()];
    // Half a number says nothing either.
    gaps.iter().for_each(|gap| explained[gap.start & !1..gap.end].fill(true));
    let said = |r: &&Region| matches!(r.kind, Kind::Fill(_) | Kind::Text { .. } | Kind::Dense);
    regions.iter().filter(said).for_each(|r| explained[r.at.range()].fill(true));
    let (mut big, mut little) = (0usize, 0usize);
    for (i, pair) in bytes.chunks_exact(2).enumerate() {
        // A byte of at most 3 beside a larger one is the high half of a number under 1024.
        let (first, second) = (pair[0] <= 3 && pair[1] > 3, pair[1] <= 3 && pair[0] > 3);
        if (first || second) && !explained[i * 2] {
            big += usize::from(first);
            little += usize::from(second);
        }
    }
    let (more, less, order) =
        if big >= little { (big, little, ByteOrder::Big) } else { (little, big, ByteOrder::Little) };
    // Twice as many, and more than three deviations beyond an even split.
    (more >= 8 && more >= 2 * less && (more - less).pow(2) > 9 * (more + less)).then(|| {
        let which = if order == ByteOrder::Big { "first" } else { "second" };
        (order, format!("{more} of {} small 16-bit numbers have their high byte {which}", more + less))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_numbers_tell_the_order() {
        let numbers: Vec<u16> = (0..64).map(|i| 40 + i * 9).collect();
        let big: Vec<u8> = numbers.iter().flat_map(|n| n.to_be_bytes()).collect();
        let little: Vec<u8> = numbers.iter().flat_map(|n| n.to_le_bytes()).collect();
        assert_eq!(order(&big, &[], &[]).map(|o| o.0), Some(ByteOrder::Big));
        assert_eq!(order(&little, &[], &[]).map(|o| o.0), Some(ByteOrder::Little));
        assert_eq!(order(&[0xFF; 64], &[], &[]), None);
    }
}
