//! By which layout an image is found.

use super::decode::decode;
use super::model::{Alternative, Mark};
use super::{Decoded, Fit, Layout};
use crate::check::Seal;
use crate::image::Image;
use crate::notation;
use crate::span::Span;

/// Evidence below this many bits is none: every 256th image of noise would have it.
pub const LEAST_EVIDENCE: u32 = 8;

/// Evidence that an image of a size the layout does not allow must have.
pub const LEAST_EVIDENCE_UNSIZED: u32 = 16;

/// The layouts whose marks fit `image`, best first; the first two with equal `bits` and `sized` are a tie.
#[must_use]
pub fn fits(layouts: &[Layout], image: &Image) -> Vec<Fit> {
    let mut fits: Vec<Fit> =
        layouts.iter().enumerate().filter_map(|(index, layout)| best(index, layout, image)).collect();
    // The sort keeps the order of the list among equals.
    fits.sort_by_key(|fit| (!fit.sized, std::cmp::Reverse(fit.bits)));
    fits
}

/// How well the best alternative of one layout fits.
fn best(index: usize, layout: &Layout, image: &Image) -> Option<Fit> {
    let mut decoded: Option<Decoded> = None;
    layout
        .model
        .fits
        .iter()
        .filter_map(|alternative| {
            let (bits, why) = evidence(alternative, layout, image, &mut decoded)?;
            let sized = alternative.allows(image.len());
            let least = if sized { LEAST_EVIDENCE } else { LEAST_EVIDENCE_UNSIZED };
            (bits >= least).then_some(Fit { index, bits, sized, why })
        })
        .max_by_key(|fit| (fit.sized, fit.bits))
}

/// False when the marks of the layout with this text are not in `image`; told by what stands before its fields, so
/// that the rest need not be read. A layout that [`fits()`] is never told so.
#[must_use]
pub fn may_fit(text: &str, image: &Image) -> bool {
    let alternatives = text
        .split_once("\n    fields:")
        .and_then(|(head, _)| notation::parse(&format!("{head}\n)")).ok())
        .and_then(|node| super::read::fits_alone(&node));
    // What is not told there is told by the whole.
    alternatives.is_none_or(|all| {
        all.iter()
            .any(|one| one.marks.iter().all(|mark| bytes_agree(mark, |at| image.get(at)).unwrap_or(true)))
    })
}

/// False when [`fits()`] tells less than `least` bits of this layout for an image that begins with `bytes`; told by
/// what marks look at only, which is quick.
#[must_use]
pub fn may_begin(layout: &Layout, bytes: &[u8], least: u32) -> bool {
    layout.model.fits.iter().any(|alternative| {
        alternative.most_bits() >= least
            && alternative.marks.iter().all(|mark| bytes_agree(mark, |at| at.of_bytes(bytes)).unwrap_or(true))
    })
}

/// The first `bytes` bytes of an image as marks of this layout want them; `None` where none does.
#[must_use]
pub fn beginning(layout: &Layout, bytes: usize) -> Vec<Option<u8>> {
    let mut beginning = vec![None; bytes];
    for mark in layout.model.fits.first().map_or(&[][..], |alternative| &alternative.marks) {
        if let Mark::Bytes { at, any, .. } = mark
            && let Some(wanted) = any.first()
        {
            let places = beginning.iter_mut().skip(*at);
            places.zip(wanted).for_each(|(place, &byte)| *place = Some(byte));
        }
    }
    beginning
}

/// Whether a mark that only looks at bytes agrees with what `held` gives of a place; `None` for others.
fn bytes_agree<'i>(mark: &Mark, held: impl Fn(Span) -> Option<&'i [u8]>) -> Option<bool> {
    let Mark::Bytes { at, any, mask } = mark else { return None };
    let len = any.first().map_or(0, Vec::len);
    let agrees = |bytes: &[u8]| {
        any.iter().any(|wanted| match mask {
            None => bytes == wanted.as_slice(),
            Some(mask) => bytes.iter().zip(wanted).zip(mask).all(|((a, b), m)| (a ^ b) & m == 0),
        })
    };
    Some(held(Span::of(*at, len)).is_some_and(agrees))
}

/// The bits of evidence and what they are; `None` when one mark does not agree.
fn evidence(
    alternative: &Alternative,
    layout: &Layout,
    image: &Image,
    decoded: &mut Option<Decoded>,
) -> Option<(u32, String)> {
    let mut bits = 0u32;
    let mut places = Vec::new();
    // Marks that only look at bytes are asked first: decoding is dear.
    for mark in &alternative.marks {
        if let Mark::Bytes { at, .. } = mark {
            if bytes_agree(mark, |at| image.get(at)) == Some(false) {
                return None;
            }
            bits = bits.saturating_add(mark.bits());
            places.push(format!("{at:#06x}"));
        }
    }
    let mut why = Vec::new();
    match places.as_slice() {
        [] => {}
        [one] => why.push(format!("the mark at {one}")),
        [first @ .., last] => why.push(format!("the marks at {} and {last}", first.join(", "))),
    }
    let mut conditions = 0;
    for mark in &alternative.marks {
        match mark {
            Mark::Bytes { .. } => {}
            Mark::Sealed { check, bits: worth, .. } => {
                let decoded = decoded.get_or_insert_with(|| decode(layout, image));
                let found = decoded.checks.iter().find(|c| c.name == **check)?;
                if found.seal != Seal::Sealed {
                    return None;
                }
                let width = found.placed.as_ref().map_or(0, |p| p.algorithm.bits());
                bits = bits.saturating_add(if *worth == 0 { width } else { *worth });
                why.push(format!("the check {check} is sealed"));
            }
            Mark::Holds { that, bits: worth } => {
                if !super::decode::holds(layout, image, that) {
                    return None;
                }
                bits = bits.saturating_add(*worth);
                conditions += 1;
            }
        }
    }
    match conditions {
        0 => {}
        1 => why.push("a condition of the layout holds".to_string()),
        n => why.push(format!("{n} conditions of the layout hold")),
    }
    Some((bits, why.join(", ")))
}

impl Alternative {
    /// Whether an image of this size can be of the layout.
    pub(super) fn allows(&self, bytes: usize) -> bool {
        self.sizes.is_empty()
            || self.sizes.iter().any(|s| s.least <= bytes && bytes <= s.most && bytes.is_multiple_of(s.step))
    }

    /// No less than the bits of evidence that its marks can give together.
    fn most_bits(&self) -> u32 {
        let most = |mark: &Mark| match mark {
            // No check is wider.
            Mark::Sealed { bits: 0, .. } => 128,
            mark => mark.bits(),
        };
        self.marks.iter().map(most).fold(0, u32::saturating_add)
    }

    /// The bits of evidence that its marks give together, those of checks by name not counted.
    pub(super) fn bits(&self) -> u32 {
        self.marks.iter().map(Mark::bits).fold(0, u32::saturating_add)
    }
}

impl Mark {
    /// The bits of evidence that the mark gives; of a check without its own number, those of 16 bits.
    fn bits(&self) -> u32 {
        match self {
            Mark::Bytes { any, mask, .. } => {
                let ones = match mask {
                    Some(mask) => mask.iter().map(|byte| byte.count_ones()).sum(),
                    None => any.first().map_or(0, |s| s.len() as u32 * 8),
                };
                ones.saturating_sub(any.len().next_power_of_two().trailing_zeros())
            }
            Mark::Sealed { bits: 0, .. } => 16,
            Mark::Sealed { bits, .. } | Mark::Holds { bits, .. } => *bits,
        }
    }
}
