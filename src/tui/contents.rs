//! The bytes of an open image: as they were opened, as they are now, and every step between.

use std::sync::Arc;

use crate::compare::Differences;
use crate::edit::{Change, Edit, History, Joining, Refused};
use crate::image::Image;
use crate::skyline::{Look, Seen, Skyline};

/// The bytes of an open image. They change only by steps that can be taken back, and what hangs on them follows.
pub struct Contents {
    image: Image,
    before: Arc<Image>,
    /// Undo, redo, and whether everything is saved.
    pub history: History,
    skyline: Skyline,
    writes: u64,
    /// They are being written to a file, and stay as they are until that is done.
    pub is_being_saved: bool,
}

impl Contents {
    /// The bytes of an image that was opened.
    #[must_use]
    pub fn new(image: Image) -> Contents {
        Contents {
            before: Arc::new(image.clone()),
            history: History::new(),
            skyline: Skyline::of(&image),
            writes: 0,
            is_being_saved: false,
            image,
        }
    }

    /// As they are now.
    #[must_use]
    pub fn image(&self) -> &Image {
        &self.image
    }

    /// As they were opened.
    #[must_use]
    pub fn before(&self) -> &Image {
        &self.before
    }

    /// Counts the changes: the bytes are the same as long as it is.
    #[must_use]
    pub fn writes(&self) -> u64 {
        self.writes
    }

    /// The whole image at a glance.
    #[must_use]
    pub fn skyline(&self) -> &Skyline {
        &self.skyline
    }

    /// What of a large image has to be looked over for its [`Contents::skyline`]; `None` when nothing has.
    pub fn look(&mut self) -> Option<Look> {
        self.skyline.look(&self.image)
    }

    /// Takes what was seen when a part was looked over.
    pub fn looked(&mut self, seen: Seen) {
        self.skyline.take(seen);
    }

    /// Whether there are changes that no file holds.
    #[must_use]
    pub fn is_modified(&self) -> bool {
        self.history.is_unsaved()
    }

    /// Says why nothing may be changed now.
    ///
    /// # Errors
    /// While they are being saved.
    pub fn may_change(&self) -> Result<(), Refused> {
        let what = "the image is being saved and stays as it is until then";
        if self.is_being_saved { Err(Refused { at: 0, what: what.into() }) } else { Ok(()) }
    }

    /// Makes a change; returns whether it is a step of its own.
    ///
    /// # Errors
    /// When it does not fit, or nothing may be changed now; then the bytes are as they were.
    pub fn apply(&mut self, change: Change, joining: Joining) -> Result<bool, Refused> {
        self.may_change()?;
        let (edits, steps) = (change.edits.clone(), self.history.made().len());
        self.history.apply(&mut self.image, change, joining)?;
        self.changed(&edits);
        Ok(self.history.made().len() > steps)
    }

    /// Takes the last change back; returns it.
    ///
    /// # Errors
    /// When something else wrote to the image, or nothing may be changed now.
    pub fn undo(&mut self) -> Result<Option<Change>, Refused> {
        self.may_change()?;
        let undone = self.history.undo(&mut self.image)?.cloned();
        undone.iter().for_each(|change| self.changed(&change.inverse().edits));
        Ok(undone)
    }

    /// Makes the change again that was taken back last; returns it.
    ///
    /// # Errors
    /// As for [`Contents::undo`].
    pub fn redo(&mut self) -> Result<Option<Change>, Refused> {
        self.may_change()?;
        let redone = self.history.redo(&mut self.image)?.cloned();
        redone.iter().for_each(|change| self.changed(&change.edits));
        Ok(redone)
    }

    fn changed(&mut self, edits: &[Edit]) {
        edits.iter().for_each(|edit| self.skyline.change(&self.image, edit));
        self.writes += 1;
    }

    /// Takes `theirs`, which a file holds now, for what was opened; `is_same` when these bytes are the same.
    pub fn opened_again(&mut self, theirs: Image, is_same: bool) {
        self.before = theirs.into();
        if is_same {
            self.history.mark_saved();
        } else {
            self.history.forget_saved();
        }
    }

    /// Where they differ from what was opened. Only changes that are in force can have made a difference, so only
    /// their bytes are looked at.
    #[must_use]
    pub fn differences(&self) -> Differences {
        let touched = self.history.made().iter().flat_map(|c| &c.edits).map(Edit::span).collect();
        Differences::within(&self.before, &self.image, touched)
    }

    /// Whether the byte at `at` differs from the one that was opened.
    #[must_use]
    pub fn is_edited(&self, at: usize) -> bool {
        self.before.bytes().get(at) != self.image.bytes().get(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn put(contents: &mut Contents, byte: u8) -> Result<bool, Refused> {
        let change = Change::overwrite(contents.image(), "typed", 1, vec![byte])?;
        contents.apply(change, Joining::Separate)
    }

    #[test]
    fn nothing_changes_while_the_bytes_are_being_saved_and_every_change_counts() {
        let mut contents = Contents::new(Image::raw(vec![0; 4]));
        assert_eq!(put(&mut contents, 7), Ok(true));
        contents.is_being_saved = true;
        assert!(put(&mut contents, 8).is_err() && contents.undo().is_err() && contents.redo().is_err());
        assert_eq!((contents.image().bytes(), contents.writes()), (&[0, 7, 0, 0][..], 1));
        contents.is_being_saved = false;
        contents.undo().unwrap();
        contents.redo().unwrap();
        assert_eq!(contents.writes(), 3);
        assert!(contents.is_edited(1) && !contents.is_edited(0));
    }

    #[test]
    fn what_a_file_holds_now_is_what_was_opened_and_only_the_same_bytes_are_saved() {
        let mut contents = Contents::new(Image::raw(vec![0; 4]));
        put(&mut contents, 7).unwrap();
        contents.opened_again(Image::raw(vec![0, 7, 0, 0]), true);
        assert!(!contents.is_modified() && contents.differences().is_empty());
        contents.opened_again(Image::raw(vec![0, 9, 0, 0]), false);
        assert!(contents.is_modified() && !contents.differences().is_empty());
    }
}
