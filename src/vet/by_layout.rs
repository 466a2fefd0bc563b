//! What a layout says about a read: marks, size, fields, checks.

use super::tail;
use crate::check::Seal;
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::layout::{self, Decoded, Layout, Role, Shape};

/// The layout that a read is judged by.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Index in the list of layouts.
    pub index: usize,
    /// Whether the size of the image is one that the layout allows.
    pub sized: bool,
    /// Whether its marks fit; a layout that the user named is used whether they do or not.
    pub marked: bool,
    /// Another layout whose marks fit as well, when there is one.
    pub tie: Option<usize>,
    /// Fields, checks and findings.
    pub decoded: Decoded,
}

impl Judged {
    /// Whether the layout proves the read: its marks and size fit, every check agrees and is long enough to prove
    /// something, and nothing in it is odd. What looks strange by its bytes alone is then so by design.
    #[must_use]
    pub fn proves(&self) -> bool {
        let bytes: usize =
            self.decoded.checks.iter().filter_map(|c| c.placed.as_ref()).map(|p| p.stored_at.len()).sum();
        self.sized
            && self.marked
            && bytes >= 2
            && self.is_sealed()
            && self.decoded.findings.iter().all(|f| f.weight == Weight::Note)
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
#[must_use]
pub fn judge(image: &Image, layouts: &[Layout], named: bool) -> Option<Judged> {
    let fits = layout::fits(layouts, image);
    if named {
        let fit = fits.iter().find(|f| f.index == 0);
        let decoded = layout::decode(layouts.first()?, image);
        let sized = fit.is_none_or(|f| f.sized);
        return Some(Judged { index: 0, sized, marked: fit.is_some(), tie: None, decoded });
    }
    let best = fits.first()?;
    let tie = fits.get(1).filter(|f| f.bits == best.bits && f.sized == best.sized).map(|f| f.index);
    let decoded = layout::decode(layouts.get(best.index)?, image);
    Some(Judged { index: best.index, sized: best.sized, marked: true, tie, decoded })
}

/// What the layout finds, and that there is none or more than one.
#[must_use]
pub fn findings(judged: Option<&Judged>, layouts: &[Layout], image: &Image) -> Vec<Finding> {
    let Some(judged) = judged else {
        return vec![Finding::new(
            Weight::Note,
            Code::NoLayout,
            "no layout's marks fit, so this is judged by its bytes alone",
            "another kind of memory, or a read that is badly wrong",
            "name a layout with --layout if you have one, or look what is in it with `readproof survey IMAGE`",
        )];
    };
    let title = |index: usize| layouts.get(index).map_or("", |l| l.title.as_str());
    let mut found = judged.decoded.findings.clone();
    if !judged.marked {
        found.push(Finding::new(
            Weight::Doubt,
            Code::LayoutUnfit,
            format!("the marks of the layout {:?} are not in the image", title(judged.index)),
            "the layout is for another kind of memory, or the read is badly wrong",
            "look whether another layout is meant, which `readproof layouts` lists, and read the chip again",
        ));
    }
    if let Some(other) = judged.tie {
        found.push(Finding::new(
            Weight::Note,
            Code::LayoutTie,
            format!(
                "the layouts {:?} and {:?} fit equally well; the first is used",
                title(judged.index),
                title(other)
            ),
            "the marks cannot tell the two apart",
            "look up their names with `readproof layouts`, and name the right one with --layout",
        ));
    }
    if !judged.sized {
        found.push(Finding::new(
            Weight::Fault,
            Code::WrongSize,
            format!(
                "the image has {} bytes, which is no size of the layout {:?}",
                image.len(),
                title(judged.index)
            ),
            "another device was selected for the read, or it was cut short",
            "read the marking of the chip, which `readproof chips MARKING` explains, select that device, and read again",
        ));
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
