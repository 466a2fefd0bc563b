//! Edits are values with an inverse; a [`Change`] is one step of undo, a [`History`] the way back and forth.

mod history;

pub use history::{Done, History, Joining, Turn};

use crate::error::Error;
use crate::image::Image;
use crate::span::Span;
use crate::wording::{count, does};

/// Bytes put in the place of other bytes.
///
/// Both have the same number, except at the end of the image: an edit that ends where the image ends may make it
/// longer or shorter, which is how an image is resized.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// Offset of the first byte.
    pub at: usize,
    /// What must be there before; applying over anything else is refused.
    pub before: Vec<u8>,
    /// What is there afterwards.
    pub after: Vec<u8>,
}

impl Edit {
    /// The bytes that are there afterwards.
    #[must_use]
    pub fn span(&self) -> Span {
        Span::of(self.at, self.after.len())
    }

    /// The edit that takes this one back.
    #[must_use]
    pub fn inverse(&self) -> Edit {
        Edit { at: self.at, before: self.after.clone(), after: self.before.clone() }
    }

    /// Makes the edit, or changes nothing.
    fn apply(&self, image: &mut Image) -> Result<(), Refused> {
        let place = Span::of(self.at, self.before.len());
        let address = |offset: usize| format!("0x{:04X}", image.address(offset));
        let refuse = |at: usize, what: String| Err(Refused { at, what });
        if place.end > image.len() {
            let (from, end) = (address(self.at), address(image.len()));
            return refuse(
                self.at,
                format!(
                    "{} from {from} {} past the end {end}",
                    count(self.before.len(), "byte"),
                    does(self.before.len(), "reaches", "reach")
                ),
            );
        }
        if let Some(gap) = image.gaps().iter().find(|gap| gap.overlaps(place)) {
            let at = gap.start.max(self.at);
            return refuse(
                at,
                format!("{} is in a gap of the image; there is no byte to change", address(at)),
            );
        }
        let there = place.of_bytes(image.bytes()).unwrap_or_default();
        if let Some(at) = there.iter().zip(&self.before).position(|(is, was)| is != was) {
            let (is, was) = (there.get(at).copied(), self.before.get(at).copied());
            let (is, was) = (is.unwrap_or_default(), was.unwrap_or_default());
            let at = self.at + at;
            return refuse(at, format!("{} holds {is:02X}, and {was:02X} was expected there", address(at)));
        }
        if self.before.len() == self.after.len() {
            image.write(self.at, &self.after);
            return Ok(());
        }
        if place.end != image.len() {
            let (from, end) = (address(self.at), address(image.len()));
            let what =
                format!("{} cannot take the place of {}", count(self.after.len(), "byte"), self.before.len());
            return refuse(
                self.at,
                format!("{what} at {from}: only at the end, {end}, can an image be resized"),
            );
        }
        image.replace_end(self.at, &self.after);
        Ok(())
    }
}

/// What one command of the user changes: one step of undo.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Change {
    /// What was done, as shown by undo: "set setpoint to 4.0 °C".
    pub label: String,
    /// The edits, in the order they are applied.
    pub edits: Vec<Edit>,
}

impl Change {
    /// The change that puts `bytes` at `at`.
    ///
    /// # Errors
    /// When a part of the place is outside the image or in a gap.
    pub fn overwrite(
        image: &Image,
        label: impl Into<String>,
        at: usize,
        bytes: Vec<u8>,
    ) -> Result<Change, Refused> {
        let place = Span::of(at, bytes.len());
        let Some(before) = image.get(place) else {
            let address = image.address(at);
            let are = does(bytes.len(), "is not", "are not all");
            let what = format!("{} from 0x{address:04X} {are} in the image", count(bytes.len(), "byte"));
            return Err(Refused { at, what });
        };
        let edit = Edit { at, before: before.to_vec(), after: bytes };
        Ok(Change { label: label.into(), edits: vec![edit] })
    }

    /// The change that gives the image `len` bytes: cuts its end off, or extends it with `fill`.
    ///
    /// # Errors
    /// When nothing would be left, or what is to be cut off has gaps.
    pub fn resize(image: &Image, len: usize, fill: u8) -> Result<Change, Refused> {
        let label = format!("resize from {} to {}", image.len(), count(len, "byte"));
        if len == 0 {
            return Err(Refused { at: 0, what: "an image has at least one byte".to_owned() });
        }
        let cut = Span::new(len, image.len());
        // The last byte that is left must be a mapped one, or the image would end in a gap.
        let concerned = Span::new(len - 1, cut.end);
        if !cut.is_empty() && !image.is_mapped(concerned) {
            let what =
                "the end that would be cut off has gaps; write the image as raw with a fill byte first";
            return Err(Refused { at: len, what: what.to_owned() });
        }
        let edit = Edit {
            at: len.min(image.len()),
            before: cut.of_bytes(image.bytes()).unwrap_or_default().to_vec(),
            after: vec![fill; len.saturating_sub(image.len())],
        };
        let edits = if edit.before.is_empty() && edit.after.is_empty() { Vec::new() } else { vec![edit] };
        Ok(Change { label, edits })
    }

    /// True when it changes no byte.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.edits.iter().all(|e| e.before == e.after)
    }

    /// The change that takes this one back.
    #[must_use]
    pub fn inverse(&self) -> Change {
        Change { label: self.label.clone(), edits: self.edits.iter().rev().map(Edit::inverse).collect() }
    }
}

/// Why a change was refused; the image is as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Offset of the first byte that stands against it.
    pub at: usize,
    /// What stands against it, with its address: one sentence without its full stop.
    pub what: String,
}

impl From<Refused> for Error {
    fn from(refused: Refused) -> Self {
        Error::new(refused.what).advice("make the change from the image as it is now")
    }
}

/// Makes a change, whole or not at all.
///
/// # Errors
/// When the image does not hold what the change expects, or has no byte where it writes.
pub fn apply(image: &mut Image, change: &Change) -> Result<(), Refused> {
    for (done, edit) in change.edits.iter().enumerate() {
        if let Err(refused) = edit.apply(image) {
            for edit in change.edits.iter().take(done).rev() {
                // What was just done can be taken back: its bytes are there.
                let taken_back = edit.inverse().apply(image);
                debug_assert_eq!(taken_back, Ok(()));
            }
            return Err(refused);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edit(at: usize, before: &[u8], after: &[u8]) -> Edit {
        Edit { at, before: before.to_vec(), after: after.to_vec() }
    }

    fn change(edits: &[Edit]) -> Change {
        Change { label: "test".to_owned(), edits: edits.to_vec() }
    }

    #[test]
    fn a_change_is_made_whole_or_not_at_all() {
        let mut image = Image::raw(vec![1, 2, 3, 4]);
        let refused = apply(&mut image, &change(&[edit(0, &[1], &[9]), edit(2, &[7], &[8])])).unwrap_err();
        assert_eq!(refused, Refused { at: 2, what: "0x0002 holds 03, and 07 was expected there".to_owned() });
        assert_eq!(image.bytes(), [1, 2, 3, 4]);
        let twice = change(&[edit(0, &[1], &[9]), edit(0, &[9, 2], &[8, 7])]);
        apply(&mut image, &twice).unwrap();
        assert_eq!(image.bytes(), [8, 7, 3, 4]);
        apply(&mut image, &twice.inverse()).unwrap();
        assert_eq!(image.bytes(), [1, 2, 3, 4]);
    }

    #[test]
    fn nothing_is_written_past_the_end_or_into_a_gap() {
        let mut image = Image::with_gaps(0x100, vec![1, GAP, GAP, 4], vec![Span::new(1, 3)]);
        const GAP: u8 = crate::image::GAP_FILL;
        let past = apply(&mut image, &change(&[edit(3, &[4, 5], &[0, 0])])).unwrap_err();
        assert!(past.what.contains("reach past the end 0x0104"), "{past:?}");
        let gap = apply(&mut image, &change(&[edit(0, &[1, GAP], &[0, 0])])).unwrap_err();
        assert_eq!((gap.at, gap.what.contains("0x0101 is in a gap")), (1, true));
        assert!(Change::overwrite(&image, "x", 2, vec![0, 0]).is_err());
        assert!(Change::overwrite(&image, "x", usize::MAX, vec![0, 0]).is_err());
        assert!(Change::resize(&image, 3, 0).is_err());
        assert!(apply(&mut image, &change(&[edit(usize::MAX, &[0], &[1])])).is_err());
    }

    #[test]
    fn an_image_is_resized_at_its_end_only_and_back() {
        let mut image = Image::raw(vec![1, 2, 3, 4]);
        let grow = Change::resize(&image, 6, 0xFF).unwrap();
        apply(&mut image, &grow).unwrap();
        assert_eq!(image.bytes(), [1, 2, 3, 4, 0xFF, 0xFF]);
        let cut = Change::resize(&image, 1, 0).unwrap();
        apply(&mut image, &cut).unwrap();
        assert_eq!(image.bytes(), [1]);
        for change in [&cut, &grow] {
            apply(&mut image, &change.inverse()).unwrap();
        }
        assert_eq!(image.bytes(), [1, 2, 3, 4]);
        assert!(Change::resize(&image, 4, 0).unwrap().is_empty());
        assert!(Change::resize(&image, 0, 0).is_err());
        let middle = apply(&mut image, &change(&[edit(1, &[2], &[2, 2])])).unwrap_err();
        assert!(middle.what.contains("only at the end"), "{middle:?}");
    }
}
