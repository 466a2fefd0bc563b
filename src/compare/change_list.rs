//! A change list that is kept and made again on another image of the same kind.

use super::changes::Comparison;
use crate::check::Seal;
use crate::edit::{self, Change, Edit};
use crate::image::Image;
use crate::layout::{self, Layout, Refusal};
use crate::wording::address;

/// The changes from one image to another.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ChangeList {
    /// The title of the layout that the fields are named by.
    pub layout: Option<String>,
    /// Bytes of the images it suits.
    pub image_bytes: usize,
    /// The address of their first byte.
    pub base: u64,
    /// The changes, in the order of their places.
    pub changes: Vec<Listed>,
}

/// One change of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// Where, from what, to what.
    pub edit: Edit,
    /// The paths of what lies there.
    pub fields: Vec<String>,
    /// The check that is stored there. Its value hangs on everything it covers, which is other in another unit, so
    /// it is sealed again rather than written.
    pub check: Option<String>,
}

impl ChangeList {
    /// The changes of `comparison`, by the layout called `layout`.
    #[must_use]
    pub fn of(before: &Image, after: &Image, layout: Option<&Layout>, comparison: &Comparison) -> Self {
        let mut changes = Vec::new();
        for changed in &comparison.changes {
            let bytes = |image: &Image| changed.span.of_bytes(image.bytes()).unwrap_or_default().to_vec();
            let stored_there =
                |c: &&layout::Check| c.placed.as_ref().is_some_and(|p| p.stored_at.covers(changed.span));
            let checks = comparison.checks.iter().filter_map(|pair| pair.after.as_ref());
            let check = checks.filter(|c| c.seal == Seal::Sealed).find(stored_there);
            changes.push(Listed {
                edit: Edit { at: changed.span.start, before: bytes(before), after: bytes(after) },
                fields: changed.paths().map(str::to_owned).collect(),
                check: check.map(|c| c.name.clone()),
            });
        }
        ChangeList {
            layout: layout.map(|l| l.title.clone()),
            image_bytes: before.len(),
            base: before.base(),
            changes,
        }
    }

    /// The change that the list makes of `image`: its bytes, and by `layout` the checks it sealed, sealed anew.
    ///
    /// # Errors
    /// When the image has another size or layout, the bytes under a change are not the expected ones (with the
    /// place), or a check that would be sealed is not sealed now.
    pub fn change(&self, image: &Image, layout: Option<&Layout>) -> Result<Change, Refusal> {
        self.suits(image, layout)?;
        let by_layout = layout.is_some();
        let (mut literal, mut names) = (Vec::new(), Vec::new());
        for listed in &self.changes {
            match &listed.check {
                Some(name) if by_layout => names.push(name.as_str()),
                _ => literal.push(listed.edit.clone()),
            }
        }
        names.dedup();
        let label = format!("apply a list of {} changes", self.changes.len());
        let mut change = Change { label, edits: literal };
        let mut result = image.clone();
        edit::apply(&mut result, &change).map_err(|refused| Refusal {
            what: refused.what,
            advice: if self.is_made(image) {
                "these changes are in the image already".to_owned()
            } else {
                "the list was made from an image with other contents there; make the change anew for this one"
                    .to_owned()
            },
        })?;
        let Some(layout) = layout else { return Ok(change) };
        let now = layout::decode(layout, image);
        for &name in &names {
            let seal = now.checks.iter().find(|c| c.name == name).map(|c| c.seal);
            if seal != Some(Seal::Sealed) {
                return Err(Refusal {
                    what: format!("the check {name} is not sealed in this image as it is"),
                    advice: "look at the image with `readproof show` first; sealing it now would hide what is wrong"
                        .to_owned(),
                });
            }
        }
        if !names.is_empty() {
            change.edits.extend(layout::reseal(layout, &result, &names)?.edits);
        }
        Ok(change)
    }

    fn suits(&self, image: &Image, layout: Option<&Layout>) -> Result<(), Refusal> {
        if (image.len(), image.base()) != (self.image_bytes, self.base) {
            return Err(Refusal {
                what: format!(
                    "the list suits images of {} bytes from {} on; this one has {} from {} on",
                    self.image_bytes,
                    address(self.base),
                    image.len(),
                    address(image.base())
                ),
                advice: "apply it to an image of the same kind".to_owned(),
            });
        }
        match (&self.layout, layout) {
            (Some(wanted), Some(layout)) if *wanted != layout.title => Err(Refusal {
                what: format!(
                    "the list was made by the layout \"{wanted}\", and this image is \"{}\"",
                    layout.title
                ),
                advice: "apply it to an image of the same kind".to_owned(),
            }),
            _ => Ok(()),
        }
    }

    /// Whether `image` holds what the list makes, checks left aside.
    fn is_made(&self, image: &Image) -> bool {
        self.changes
            .iter()
            .filter(|c| c.check.is_none())
            .all(|c| c.edit.span().of_bytes(image.bytes()) == Some(&c.edit.after[..]))
    }
}
