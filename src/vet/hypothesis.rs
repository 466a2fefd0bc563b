//! Was the whole read turned about on its way from the chip?
//!
//! Each transform is undone and the result is asked: do a layout's marks and checks fit now, and did not before?
//! That is near proof. Where no layout speaks, the bytes do: does the image look more like a memory now?

use super::transform::Transform;
use super::{by_layout, likeness};
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::layout::{self, Layout};

/// Bytes that are asked how much they look like a memory; the beginning says enough.
const WINDOW: usize = 1 << 16;
/// Images larger than this are not turned about to ask layouts.
const LARGEST: usize = 1 << 20;
/// Bits that undoing must save before the bytes alone raise a doubt: one in a million by chance.
const DOUBT_BITS: i64 = 20;
/// Bits from which on the bytes alone are certain.
const CERTAIN_BITS: i64 = 100;
/// Bits of marks and checks that must agree: with a score of layouts and transforms to try, an accident in ten
/// thousand images.
const MARK_BITS: u32 = 22;
/// Bits of marks that undoing must gain.
const GAINED_MARK_BITS: u32 = 16;

/// What speaks for a transform.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Evidence {
    /// A layout fits after undoing.
    Layout(Standing),
    /// The bytes look more like a memory, by so many bits.
    Likeness(i64),
}

/// The transform that most likely happened to a read by what layouts say, if any.
pub(super) fn by_layouts(image: &Image, layouts: &[Layout]) -> Option<(Transform, Evidence)> {
    if layouts.is_empty() || image.len() > LARGEST {
        return None;
    }
    let before = standing(image, layouts).unwrap_or_default();
    if before.sealed > 0 {
        return None;
    }
    let better = |s: &Standing| {
        let marks = s.bits + s.check_bits >= MARK_BITS && s.bits >= before.bits + GAINED_MARK_BITS;
        // Marks that read the same both ways: the checks decide.
        let seals = s.bits >= before.bits.max(1) && s.checks > 0 && s.sealed == s.checks && before.checks > 0;
        marks || seals
    };
    Transform::all()
        .filter_map(|t| undone_standing(t, image, layouts).filter(better).map(|s| (t, s)))
        .max_by(|a, b| a.1.cmp(&b.1))
        .map(|(transform, best)| (transform, Evidence::Layout(best)))
}

/// The transform that most likely happened to a read by what its bytes look like, if any.
///
/// A stream that is so many bits late has its bytes cut at the same place as one that is the rest of eight bits
/// early, so of the two only the late one is given. `bytes` must not repeat: the same evidence would count twice.
pub(super) fn by_likeness(bytes: &[u8]) -> Option<(Transform, Evidence)> {
    let bytes = &bytes[..bytes.len().min(WINDOW)];
    let before = i64::from(likeness::cost(bytes));
    Transform::all()
        .filter(|t| !matches!(t, Transform::Early(_)))
        .map(|transform| {
            let undone = transform.undo(bytes);
            // Swapping moves bytes by one place only: nothing but the words of texts can tell.
            let gain = match transform {
                Transform::SwappedBytes => likeness::text_gain(bytes, &undone),
                _ => before - i64::from(likeness::cost(&undone)),
            };
            (transform, gain)
        })
        .max_by_key(|&(_, gain)| gain)
        .filter(|&(_, gain)| gain >= DOUBT_BITS)
        .map(|(transform, gain)| (transform, Evidence::Likeness(gain)))
}

/// How well a layout fits: marks, then checks that agree.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) struct Standing {
    /// Bits of the marks.
    bits: u32,
    /// Checks that agree.
    sealed: usize,
    /// Bits of the checks that agree, without the largest, which may be one of the marks.
    check_bits: u32,
    /// All checks of the layout.
    checks: usize,
    /// Which layout.
    index: usize,
    /// What agreed, in the words of its marks.
    why: String,
}

fn standing(image: &Image, layouts: &[Layout]) -> Option<Standing> {
    let judged = by_layout::judge(image, layouts, false)?;
    let (sealed, checks) = judged.seals();
    let (bits, check_bits, index) = (judged.bits, judged.check_bits(), judged.index);
    Some(Standing { bits, sealed, check_bits, checks, index, why: judged.why })
}

/// How the layouts stand after undoing; where bits at the beginning got lost, with the first byte that fits best.
fn undone_standing(transform: Transform, image: &Image, layouts: &[Layout]) -> Option<Standing> {
    let mut undone = Image::with_gaps(image.base(), transform.undo(image.bytes()), image.gaps().to_vec());
    let Transform::Early(lost) = transform else { return standing(&undone, layouts) };
    let first = undone.bytes().first()? & (0xFF >> lost);
    let fill = (0..=0xFF_u8 >> (8 - lost)).map(|bits| first | bits << (8 - lost));
    let best = fill.max_by_key(|&byte| {
        undone.bytes_mut()[0] = byte;
        layout::fits(layouts, &undone).first().map_or(0, |f| f.bits)
    })?;
    undone.bytes_mut()[0] = best;
    standing(&undone, layouts)
}

/// The finding for a transform.
pub(super) fn finding(transform: Transform, evidence: &Evidence, layouts: &[Layout]) -> Finding {
    let remedy = match (transform, evidence) {
        (Transform::Late(bits), Evidence::Likeness(_)) => {
            format!("{}, or {} towards the end", transform.remedy(), 8 - bits)
        }
        _ => transform.remedy(),
    };
    let (weight, seen) = match evidence {
        Evidence::Layout(Standing { index, why, sealed, checks, .. }) => {
            let title = layouts.get(*index).map_or("", |l| l.title.as_str());
            let checks = match checks {
                0 => String::new(),
                n => format!(", {sealed} of {n} checks agree"),
            };
            (
                Weight::Fault,
                format!(
                    "once {remedy}, the image fits the layout \"{title}\" ({why}{checks}); as read it does not"
                ),
            )
        }
        Evidence::Likeness(bits) => (
            if *bits >= CERTAIN_BITS { Weight::Fault } else { Weight::Doubt },
            format!(
                "once {remedy}, the image holds far more text and small numbers than as read ({bits} bits of evidence)"
            ),
        ),
    };
    let (code, means, advice) = match transform {
        Transform::SwappedBytes => (
            Code::BytesSwapped,
            "the reader put the bytes of 16-bit words in the other order, as with a 93C in x16 organisation",
            "select the other word order or organisation and read again",
        ),
        Transform::ReversedBits => (
            Code::BitsReversed,
            "the bits of each byte arrived least significant first",
            "select the other bit order, or check that the right family of chip is selected, and read again",
        ),
        Transform::InvertedBits => (
            Code::BitsInverted,
            "an inverting buffer stands in the line, or the adapter drives it the other way round",
            "take the inverting stage out or select inverted data, and read again",
        ),
        Transform::Late(_) | Transform::Early(_) => (
            Code::BitsShifted,
            "the clock phase or a clock pulse at the start was wrong, so every byte is cut in two",
            "check the clock mode and the length of the wires, lower the clock, and read again",
        ),
    };
    Finding::new(weight, code, seen, means, advice)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECORD: &[u8] =
        b"\x01\x08Frostkeel Works\0\0\x0cFK-CR8-2047B    \x03\xe8\0\x14Cold store three\0\0\0\0\0\0 evaporator defrost\0";

    #[test]
    fn the_bytes_alone_name_what_happened() {
        assert_eq!(by_likeness(RECORD), None);
        for transform in Transform::all() {
            let found = by_likeness(&transform.apply(RECORD)).map(|(t, _)| t);
            let wanted = match transform {
                Transform::Early(bits) => Transform::Late(8 - bits),
                other => other,
            };
            assert_eq!(found, Some(wanted));
        }
    }

    #[test]
    fn noise_blanks_and_nothing_raise_nothing() {
        for bytes in [vec![], vec![0xFF; 512], (0..=255).collect(), vec![0x00, 0x80, 0x01]] {
            assert_eq!(by_likeness(&bytes), None, "{bytes:?}");
        }
    }
}
