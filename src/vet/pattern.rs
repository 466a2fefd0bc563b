//! What the differences between two reads have in common, and what that usually means.

use super::tail;
use super::transform::Transform;
use crate::span::Span;

/// What the differences between two reads have in common.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Pattern {
    /// All in this one bit of their bytes.
    OneBit(u8),
    /// One read has the bytes of the addresses with this line the other way.
    OneAddressLine(u32),
    /// All in this stretch.
    Burst(Span),
    /// Most of them (so many bytes) in this stretch, the rest scattered.
    BurstAndScattered(Span, usize),
    /// Everything from here on is one value in one of the reads.
    Tail(Span, u8),
    /// One read is the other turned about as a whole.
    Transformed(Transform),
    /// Nothing.
    Scattered,
}

/// Differences that lie no further apart than this are one stretch.
const JOIN_WITHIN: usize = 8;
/// Differences that must share a bit, an address line or a stretch before that counts.
const LEAST_SHARED: usize = 4;

impl Pattern {
    /// What the places `differing` of two equally long reads have in common; `shift` is added to the offsets told.
    pub(super) fn of(here: &[u8], there: &[u8], differing: &[usize], shift: usize) -> Self {
        let Some(&first) = differing.first() else { return Pattern::Scattered };
        if differing.len() < LEAST_SHARED {
            return Pattern::Scattered;
        }
        let whole = |t: &Transform| {
            let inner = 1..here.len().saturating_sub(1).max(1);
            t.apply(there).get(inner.clone()) == here.get(inner)
        };
        if differing.len() * 4 >= there.iter().filter(|&&b| b != 0xFF && b != 0x00).count()
            && let Some(transform) = Transform::all().find(whole)
        {
            return Pattern::Transformed(transform);
        }
        let bits = differing.iter().fold(0, |bits, &i| bits | (here[i] ^ there[i]));
        if bits.is_power_of_two() {
            return Pattern::OneBit(bits.trailing_zeros() as u8);
        }
        for line in 0..usize::BITS - here.len().leading_zeros() {
            let other = |i: usize| i ^ 1 << line;
            let explained = |from: &[u8], to: &[u8]| {
                let same = || differing.iter().filter(|&&i| from.get(other(i)) == Some(&to[i]));
                // Fill is the same wherever it is read.
                let telling = same().filter(|&&i| !matches!(to[i], 0x00 | 0xFF)).count();
                telling >= LEAST_SHARED && same().count() * 20 >= differing.len() * 19
            };
            if explained(there, here) || explained(here, there) {
                return Pattern::OneAddressLine(line);
            }
        }
        // An end of one value that begins where the differences begin.
        for bytes in [here, there] {
            if let Some((tail, value)) = tail::one_value(bytes)
                && tail.start <= first
                && first < tail.start + JOIN_WITHIN
            {
                return Pattern::Tail(Span::new(tail.start + shift, tail.end + shift), value);
            }
        }
        burst(differing, shift)
    }

    /// What the differences have in common, and what that usually means.
    pub(super) fn words(&self) -> (String, &'static str) {
        match self {
            Pattern::OneBit(bit) => {
                (format!("all in bit {bit}"), "a weak or stuck data bit, or a poor contact of the data line")
            }
            Pattern::OneAddressLine(line) => (
                format!("all where address line A{line} matters"),
                "address line contact, or a bit lost while the address was sent",
            ),
            Pattern::Burst(span) => (
                format!("all in one burst, offsets {span}"),
                "contact or supply was disturbed for a moment, or the chip changed there between the reads",
            ),
            Pattern::BurstAndScattered(span, n) => (
                format!("{n} of them in one burst, offsets {span}, the rest scattered"),
                "contact or supply was disturbed during that read",
            ),
            Pattern::Tail(span, value) => (
                format!("from offset 0x{:04X} to the end, where one read holds only {value:02X}", span.start),
                "contact was lost during one of the reads",
            ),
            Pattern::Transformed(transform) => (
                format!("one read is the other turned about: {}", transform.remedy()),
                "the reads were made with different settings",
            ),
            Pattern::Scattered => (
                "scattered, with nothing in common".to_owned(),
                "noise: a poor contact, long wires, a clock that is too fast, or a weak supply",
            ),
        }
    }
}

/// The stretch with most of the differences in it, if they lie closer together there than elsewhere.
fn burst(differing: &[usize], shift: usize) -> Pattern {
    // Runs in which at least every eighth byte differs.
    let runs: Vec<&[usize]> = differing.chunk_by(|a, b| b - a <= JOIN_WITHIN).collect();
    let Some(longest) = runs.iter().max_by_key(|r| r.len()).filter(|r| r.len() >= LEAST_SHARED) else {
        return Pattern::Scattered;
    };
    let span = Span::new(longest[0] + shift, longest[longest.len() - 1] + 1 + shift);
    if longest.len() == differing.len() {
        Pattern::Burst(span)
    } else if longest.len() * 3 >= differing.len() {
        Pattern::BurstAndScattered(span, longest.len())
    } else {
        Pattern::Scattered
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn content() -> Vec<u8> {
        (0..512_usize).map(|i| ((i * 167) ^ (i >> 3) ^ 0x5A) as u8).collect()
    }

    fn between(here: &[u8]) -> Pattern {
        let there = content();
        let differing: Vec<usize> = (0..here.len()).filter(|&i| here[i] != there[i]).collect();
        Pattern::of(here, &there, &differing, 0)
    }

    #[test]
    fn what_the_differences_have_in_common_is_told() {
        let pattern = |change: fn(&mut Vec<u8>)| {
            let mut bytes = content();
            change(&mut bytes);
            between(&bytes)
        };
        assert_eq!(pattern(|b| b.iter_mut().step_by(50).for_each(|b| *b ^= 0x10)), Pattern::OneBit(4));
        assert_eq!(
            pattern(|b| b[100..120].iter_mut().for_each(|b| *b = !*b)),
            Pattern::Burst(Span::new(100, 120))
        );
        assert_eq!(
            pattern(|b| {
                b[100..120].iter_mut().for_each(|b| *b = !*b);
                [7, 300, 450].iter().for_each(|&i| b[i] ^= 0x81);
            }),
            Pattern::BurstAndScattered(Span::new(100, 120), 20)
        );
        assert_eq!(pattern(|b| b[333..].fill(0xFF)), Pattern::Tail(Span::new(333, 512), 0xFF));
        assert_eq!(
            pattern(|b| [3, 99, 201, 340, 400].iter().zip([1, 6, 128, 24, 3]).for_each(|(&i, x)| b[i] ^= x)),
            Pattern::Scattered
        );
        assert_eq!(
            pattern(|b| *b = (0..512).map(|i| content()[i & !64]).collect()),
            Pattern::OneAddressLine(6)
        );
        for transform in Transform::all() {
            assert_eq!(between(&transform.apply(&content())), Pattern::Transformed(transform));
        }
    }

    #[test]
    fn a_stretch_that_became_fill_is_no_address_line_although_fill_stands_where_the_line_points() {
        let mut there = content();
        there[256..].fill(0xFF);
        let mut here = there.clone();
        here[100..120].fill(0xFF);
        let differing: Vec<usize> = (100..120).filter(|&i| here[i] != there[i]).collect();
        let Pattern::Burst(span) = Pattern::of(&here, &there, &differing, 0) else { panic!("{differing:?}") };
        assert!(Span::new(100, 120).covers(span));
    }
}
