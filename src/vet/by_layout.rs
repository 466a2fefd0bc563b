//! What a layout says about a read: marks, size, fields, checks.

use super::tail;
use crate::check::Seal;
use crate::finding::{Finding, Weight};
use crate::image::Image;
use crate::layout::{self, Decoded, Layout, Role, Shape, choice};

/// The layout that a read is judged by.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Index in the list of layouts.
    pub index: usize,
    /// Whether the size of the image is one that the layout allows.
    pub sized: bool,
    /// Whether its marks fit; a layout that the user named is used whether they do or not.
    pub marked: bool,
    /// Bits of evidence that the marks are; none where they do not fit.
    pub bits: u32,
    /// What of them agreed, in words.
    pub why: String,
    /// Other layouts whose marks fit as well.
    pub as_good: Vec<usize>,
    /// Fields, checks and findings.
    pub decoded: Decoded,
}

impl Judged {
    /// Whether the layout proves the read: its marks and size fit, every check agrees and is long enough to prove
    /// something, and nothing in it is odd. What looks strange by its bytes alone is then so by design.
    #[must_use]
    pub fn proves(&self) -> bool {
        self.sized
            && self.marked
            && self.is_sealed()
            && self.sealed_bytes().sum::<usize>() >= 2
            && self.decoded.findings.iter().all(|f| f.weight == Weight::Note)
    }

    /// Bytes of each check value that agrees.
    fn sealed_bytes(&self) -> impl Iterator<Item = usize> {
        let agreeing = self.decoded.checks.iter().filter(|c| c.seal == Seal::Sealed);
        agreeing.filter_map(|c| c.placed.as_ref()).map(|p| p.stored_at.len())
    }

    /// Bits of the checks that agree, without the largest, which may be one of the marks.
    #[must_use]
    pub fn check_bits(&self) -> u32 {
        let all: usize = self.sealed_bytes().sum();
        8 * (all - self.sealed_bytes().max().unwrap_or(0)) as u32
    }

    /// Whether there are checks and all of them agree.
    #[must_use]
    pub fn is_sealed(&self) -> bool {
        let (sealed, all) = self.seals();
        all > 0 && sealed == all
    }

    /// Whether a check that agrees covers anything past `offset`.
    #[must_use]
    pub fn checks_past(&self, offset: usize) -> bool {
        let agreeing = self.decoded.checks.iter().filter(|c| c.seal == Seal::Sealed);
        agreeing.filter_map(|c| c.placed.as_ref()).flat_map(|p| &p.over).any(|span| span.end > offset)
    }

    /// Checks that agree, and all checks.
    #[must_use]
    pub fn seals(&self) -> (usize, usize) {
        let checks = &self.decoded.checks;
        (checks.iter().filter(|c| c.seal == Seal::Sealed).count(), checks.len())
    }
}

/// Finds the layout of a read and decodes it. `named` says that the user named the first of the layouts.
pub(super) fn judge(image: &Image, layouts: &[Layout], named: bool) -> Option<Judged> {
    let fits = layout::fits(layouts, image);
    let fit = match named {
        true => fits.iter().find(|f| f.index == 0),
        false => Some(fits.first()?),
    };
    let index = fit.map_or(0, |f| f.index);
    let layout = layouts.get(index)?;
    Some(Judged {
        index,
        sized: fit.map_or(!layout.has_marks() || layout.allows(image.len()), |f| f.sized),
        marked: fit.is_some(),
        bits: fit.map_or(0, |f| f.bits),
        why: fit.map_or_else(String::new, |f| f.why.clone()),
        as_good: if named { Vec::new() } else { choice::as_good(&fits).collect() },
        decoded: layout::decode(layout, image),
    })
}

/// What the layout finds, and that there is none or that it does not suit.
pub(super) fn findings(judged: Option<&Judged>, layouts: &[Layout], image: &Image) -> Vec<Finding> {
    let Some((judged, layout)) = judged.and_then(|j| Some((j, layouts.get(j.index)?))) else {
        return vec![choice::unknown(Weight::Note)];
    };
    let mut found = judged.decoded.findings.clone();
    if !judged.marked && layout.has_marks() {
        found.push(choice::unfit(&layout.title));
    }
    if !judged.sized {
        found.push(choice::wrong_size(image.len(), &layout.title));
    }
    found.extend(cut_field(judged, image.bytes()));
    found
}

/// An end of one value that begins in the middle of a field, while a check is broken.
fn cut_field(judged: &Judged, bytes: &[u8]) -> Option<Finding> {
    let broken = judged.decoded.checks.iter().find(|c| c.seal == Seal::Broken)?;
    let (end, value) = tail::one_value(bytes)?;
    let cut = judged.decoded.fields.iter().find(|f| {
        f.shape == Shape::Leaf
            && !matches!(f.role, Role::Filler | Role::Reserved)
            && f.spans.iter().any(|s| s.start < end.start && end.start < s.end)
    });
    // The stored check in the end, or a field that the end begins in: either says that it was once written.
    let lost_check = judged
        .decoded
        .checks
        .iter()
        .find(|c| c.seal == Seal::Broken && c.placed.as_ref().is_some_and(|p| end.covers(p.stored_at)));
    let why = match (cut, lost_check) {
        (Some(field), _) => {
            format!("beginning in the middle of {}, and the check {} is broken", field.path, broken.name)
        }
        (None, Some(check)) => format!("the stored value of the check {} with it", check.name),
        (None, None) => return None,
    };
    Some(tail::finding(end, value, Weight::Fault, &why))
}
