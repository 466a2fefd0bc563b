//! The changes of one image, back and forth.

use super::{Change, Edit, Refused, apply};
use crate::image::Image;
use crate::span::Span;

/// Whether a change becomes a step of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joining {
    /// It does.
    Separate,
    /// It becomes part of the last step, if that is the last thing that was done: not undone in part, not saved
    /// since, not closed by [`History::close`]. For the second digit of a byte and for typed runs.
    WithLast,
}

/// How a change came to be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// As a step of its own.
    Made,
    /// As a part of the step before.
    Joined,
    /// It took the last step back.
    TakenBack,
    /// It made a step again that had been taken back.
    MadeAgain,
}

/// One thing that was done to an image; made one after the other, they lead from the saved bytes to those there are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Done {
    /// How it came to be made.
    pub turn: Turn,
    /// What was changed.
    pub change: Change,
}

/// The changes of one image. Without bound: a day of typing is a few hundred kilobytes.
///
/// The saved state is a position among the changes. When the way to it is cut off, by a new change after an undo,
/// no position is the saved one any more and the image stays unsaved until it is saved again.
#[derive(Debug, Clone)]
pub struct History {
    changes: Vec<Change>,
    /// Changes that are made; those after it are undone.
    position: usize,
    saved: Option<usize>,
    /// Whether the last change may still be joined.
    open: bool,
    /// What was done since it was asked last, for whoever keeps a journal; `None` while nobody asks.
    done: Option<Vec<Done>>,
    /// Whether the image was saved since then; what was done before that is not told any more.
    was_saved: bool,
}

impl Default for History {
    fn default() -> Self {
        Self::new()
    }
}

impl History {
    /// The history of an image that is as it was opened: nothing to undo, nothing unsaved.
    #[must_use]
    pub const fn new() -> Self {
        History {
            changes: Vec::new(),
            position: 0,
            saved: Some(0),
            open: false,
            done: None,
            was_saved: false,
        }
    }

    /// From now on tells what is done, see [`History::take_done`].
    pub fn tell(&mut self) {
        self.done.get_or_insert_default();
    }

    /// What was done since it was asked last and since the image was saved last, and whether it was saved in between.
    pub fn take_done(&mut self) -> (bool, Vec<Done>) {
        (std::mem::take(&mut self.was_saved), self.done.as_mut().map(std::mem::take).unwrap_or_default())
    }

    fn note(&mut self, turn: Turn, change: impl FnOnce() -> Change) {
        if let Some(done) = &mut self.done {
            done.push(Done { turn, change: change() });
        }
    }

    /// Makes a change and keeps it; changes that were undone are dropped. A change that changes no byte is not kept.
    ///
    /// # Errors
    /// When it does not fit the image, which then is as it was.
    pub fn apply(&mut self, image: &mut Image, change: Change, joining: Joining) -> Result<(), Refused> {
        apply(image, &change)?;
        if change.is_empty() {
            return Ok(());
        }
        if self.saved.is_some_and(|saved| saved > self.position) {
            self.saved = None;
        }
        self.changes.truncate(self.position);
        let joined = joining == Joining::WithLast && self.open && !self.changes.is_empty();
        self.note(if joined { Turn::Joined } else { Turn::Made }, || change.clone());
        match self.changes.last_mut().filter(|_| joined) {
            Some(last) => join(last, change),
            None => {
                self.changes.push(change);
                self.position += 1;
            }
        }
        self.open = true;
        Ok(())
    }

    /// Takes the last change back and returns it; `None` when there is none.
    ///
    /// # Errors
    /// When the image no longer holds what the change left, because something else wrote to it.
    pub fn undo(&mut self, image: &mut Image) -> Result<Option<&Change>, Refused> {
        let Some(change) = self.position.checked_sub(1).and_then(|at| self.changes.get(at)) else {
            return Ok(None);
        };
        let back = change.inverse();
        apply(image, &back)?;
        self.position -= 1;
        self.open = false;
        self.note(Turn::TakenBack, || back);
        Ok(self.changes.get(self.position))
    }

    /// Makes the change again that was taken back last, and returns it; `None` when there is none.
    ///
    /// # Errors
    /// As for [`History::undo`].
    pub fn redo(&mut self, image: &mut Image) -> Result<Option<&Change>, Refused> {
        let Some(change) = self.changes.get(self.position) else { return Ok(None) };
        apply(image, change)?;
        let again = change.clone();
        self.position += 1;
        self.open = false;
        self.note(Turn::MadeAgain, || again);
        Ok(self.changes.get(self.position - 1))
    }

    /// What undo would take back.
    #[must_use]
    pub fn undoable(&self) -> Option<&Change> {
        self.changes.get(self.position.checked_sub(1)?)
    }

    /// What redo would make again.
    #[must_use]
    pub fn redoable(&self) -> Option<&Change> {
        self.changes.get(self.position)
    }

    /// The changes that are made, first to last.
    #[must_use]
    pub fn made(&self) -> &[Change] {
        self.changes.get(..self.position).unwrap_or_default()
    }

    /// Every place that a change here was made in or could be made in again.
    #[must_use]
    pub fn touched(&self) -> Vec<Span> {
        self.changes.iter().flat_map(|c| &c.edits).map(Edit::span).collect()
    }

    /// Ends the last step: the next change starts a new one even if it asks to be joined.
    pub fn close(&mut self) {
        self.open = false;
    }

    /// Says that the image as it is now has been saved.
    pub fn mark_saved(&mut self) {
        self.saved = Some(self.position);
        self.open = false;
        self.was_saved = true;
        self.done.iter_mut().for_each(Vec::clear);
    }

    /// Says that nothing is saved of what `image` was or is: its file is another one by now.
    pub fn forget_saved(&mut self) {
        self.saved = None;
        self.open = false;
    }

    /// `image` as it was saved last; `None` when the way there is cut off, or something else wrote to it.
    #[must_use]
    pub fn saved_state(&self, image: &Image) -> Option<Image> {
        let saved = self.saved?;
        let (mut way, mut image) = (self.clone(), image.clone());
        while way.position > saved {
            way.undo(&mut image).ok()??;
        }
        while way.position < saved {
            way.redo(&mut image).ok()??;
        }
        Some(image)
    }

    /// True when the image is not in its saved state.
    #[must_use]
    pub fn is_unsaved(&self) -> bool {
        self.saved != Some(self.position)
    }
}

/// Adds `change` to `last`. Edits of the same or neighbouring bytes become one, so that a long typed run stays
/// one edit.
fn join(last: &mut Change, change: Change) {
    last.label = change.label;
    for edit in change.edits {
        match last.edits.last_mut() {
            Some(before) => {
                if let Err(edit) = merge(before, edit) {
                    last.edits.push(edit);
                }
            }
            None => last.edits.push(edit),
        }
    }
}

/// Makes `first` do what `first` then `second` do, when `second` begins inside `first` or right after it and neither
/// resizes the image; else gives `second` back.
fn merge(first: &mut Edit, second: Edit) -> Result<(), Edit> {
    let keeps_length = |e: &Edit| e.before.len() == e.after.len();
    let Some(skip) = second.at.checked_sub(first.at).filter(|&skip| skip <= first.after.len()) else {
        return Err(second);
    };
    if !keeps_length(first) || !keeps_length(&second) {
        return Err(second);
    }
    let inside = (first.after.len() - skip).min(second.after.len());
    if let Some(bytes) = first.after.get_mut(skip..skip + inside) {
        bytes.copy_from_slice(second.after.get(..inside).unwrap_or_default());
    }
    first.before.extend_from_slice(second.before.get(inside..).unwrap_or_default());
    first.after.extend_from_slice(second.after.get(inside..).unwrap_or_default());
    Ok(())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn write(history: &mut History, image: &mut Image, at: usize, bytes: &[u8], joining: Joining) {
        let change = Change::overwrite(image, format!("write {bytes:02X?}"), at, bytes.to_vec()).unwrap();
        history.apply(image, change, joining).unwrap();
    }

    #[test]
    fn two_digits_of_a_byte_are_one_step_when_the_caller_says_so() {
        let (mut history, mut image) = (History::new(), Image::raw(vec![0; 4]));
        write(&mut history, &mut image, 1, &[0x40], Joining::Separate);
        write(&mut history, &mut image, 1, &[0x4B], Joining::WithLast);
        write(&mut history, &mut image, 2, &[0x31], Joining::WithLast);
        assert_eq!(history.made().len(), 1);
        assert_eq!(
            history.undoable().unwrap().edits,
            [Edit { at: 1, before: vec![0, 0], after: vec![0x4B, 0x31] }]
        );
        history.undo(&mut image).unwrap();
        assert_eq!(image.bytes(), [0; 4]);
        write(&mut history, &mut image, 1, &[0x40], Joining::WithLast);
        assert_eq!(history.made().len(), 1, "after an undo there is nothing to join");
    }

    #[test]
    fn nothing_joins_across_a_save_or_a_close() {
        for end in [History::mark_saved, History::close] {
            let (mut history, mut image) = (History::new(), Image::raw(vec![0; 4]));
            write(&mut history, &mut image, 0, &[1], Joining::Separate);
            end(&mut history);
            write(&mut history, &mut image, 1, &[2], Joining::WithLast);
            assert_eq!(history.made().len(), 2);
        }
    }

    #[test]
    fn save_undo_and_another_edit_stay_unsaved_whatever_is_undone() {
        let (mut history, mut image) = (History::new(), Image::raw(vec![0; 4]));
        write(&mut history, &mut image, 0, &[1], Joining::Separate);
        history.mark_saved();
        assert!(!history.is_unsaved());
        history.undo(&mut image).unwrap();
        assert!(history.is_unsaved());
        history.redo(&mut image).unwrap();
        assert!(!history.is_unsaved(), "back in the saved state");
        history.undo(&mut image).unwrap();
        write(&mut history, &mut image, 0, &[2], Joining::Separate);
        assert!(history.is_unsaved());
        history.undo(&mut image).unwrap();
        assert!(history.is_unsaved(), "the saved state cannot be reached any more");
        assert!(history.redo(&mut image).unwrap().is_some());
        assert!(history.is_unsaved());
    }

    #[test]
    fn a_change_that_changes_nothing_is_no_step_and_keeps_what_was_undone() {
        let (mut history, mut image) = (History::new(), Image::raw(vec![0; 4]));
        write(&mut history, &mut image, 0, &[1], Joining::Separate);
        history.undo(&mut image).unwrap();
        write(&mut history, &mut image, 0, &[0], Joining::Separate);
        assert!(history.redoable().is_some() && !history.is_unsaved());
    }

    #[test]
    fn undo_over_bytes_that_something_else_wrote_is_refused() {
        let (mut history, mut image) = (History::new(), Image::raw(vec![0; 4]));
        write(&mut history, &mut image, 0, &[1], Joining::Separate);
        image.bytes_mut()[0] = 7;
        assert!(history.undo(&mut image).is_err());
        assert_eq!((image.bytes(), history.made().len()), (&[7, 0, 0, 0][..], 1));
    }

    #[test]
    fn what_is_done_is_told_once_and_not_beyond_a_save() {
        let (mut history, mut image) = (History::new(), Image::raw(vec![0; 4]));
        write(&mut history, &mut image, 0, &[9], Joining::Separate);
        assert_eq!(history.take_done(), (false, vec![]), "nobody asked");
        history.tell();
        write(&mut history, &mut image, 1, &[1], Joining::Separate);
        write(&mut history, &mut image, 1, &[2], Joining::WithLast);
        history.undo(&mut image).unwrap();
        history.redo(&mut image).unwrap();
        let (saved, done) = history.take_done();
        let told: Vec<Turn> = done.iter().map(|d| d.turn).collect();
        assert_eq!((saved, told), (false, vec![Turn::Made, Turn::Joined, Turn::TakenBack, Turn::MadeAgain]));
        assert_eq!(history.take_done(), (false, vec![]));
        history.undo(&mut image).unwrap();
        history.mark_saved();
        history.undo(&mut image).unwrap();
        let (saved, done) = history.take_done();
        assert_eq!((saved, done.len()), (true, 1), "what was done before the save is in the file");
    }

    /// What a user may do next.
    #[derive(Debug, Clone)]
    enum Step {
        Write(prop::sample::Index, Vec<u8>, bool),
        Resize(usize),
        Undo,
        Redo,
        Save,
    }

    fn any_step() -> impl Strategy<Value = Step> {
        prop_oneof![
            4 => (any::<prop::sample::Index>(), prop::collection::vec(0u8..3, 1..4), any::<bool>())
                .prop_map(|(at, bytes, join)| Step::Write(at, bytes, join)),
            1 => (1usize..20).prop_map(Step::Resize),
            3 => Just(Step::Undo),
            2 => Just(Step::Redo),
            1 => Just(Step::Save),
        ]
    }

    proptest! {
        /// Against a history that copies the whole image for every step.
        #[test]
        fn undo_redo_and_save_agree_with_whole_copies(steps in prop::collection::vec(any_step(), 0..60)) {
            let first: Vec<u8> = (0..12).collect();
            let mut image = Image::raw(first.clone());
            let mut history = History::new();
            history.tell();
            // The file, and what was done to it since it was saved.
            let mut file = image.clone();
            // Each copy and whether it is the saved one.
            let (mut copies, mut at) = (vec![(first.clone(), true)], 0usize);
            let mut may_join = false;
            for step in steps {
                match step {
                    Step::Write(place, bytes, join) => {
                        let place = place.index(image.len());
                        let bytes = bytes[..bytes.len().min(image.len() - place)].to_vec();
                        let change = Change::overwrite(&image, "w", place, bytes).unwrap();
                        let changes = !change.is_empty();
                        let joining = if join { Joining::WithLast } else { Joining::Separate };
                        history.apply(&mut image, change, joining).unwrap();
                        if changes {
                            if join && may_join {
                                copies[at] = (image.bytes().to_vec(), false);
                            } else {
                                copies.truncate(at + 1);
                                copies.push((image.bytes().to_vec(), false));
                                at += 1;
                            }
                            may_join = true;
                        }
                    }
                    Step::Resize(len) => {
                        let change = Change::resize(&image, len, 0xEE).unwrap();
                        let changes = !change.is_empty();
                        history.apply(&mut image, change, Joining::Separate).unwrap();
                        if changes {
                            copies.truncate(at + 1);
                            copies.push((image.bytes().to_vec(), false));
                            at += 1;
                            may_join = true;
                        }
                    }
                    Step::Undo => {
                        prop_assert_eq!(history.undo(&mut image).unwrap().is_some(), at > 0);
                        may_join &= at == 0;
                        at = at.saturating_sub(1);
                    }
                    Step::Redo => {
                        let there = at + 1 < copies.len();
                        prop_assert_eq!(history.redo(&mut image).unwrap().is_some(), there);
                        may_join &= !there;
                        at += usize::from(there);
                    }
                    Step::Save => {
                        history.mark_saved();
                        copies.iter_mut().for_each(|c| c.1 = false);
                        copies[at].1 = true;
                        may_join = false;
                    }
                }
                prop_assert_eq!(image.bytes(), &copies[at].0[..]);
                let (saved, done) = history.take_done();
                if saved {
                    file = image.clone();
                }
                for done in &done {
                    apply(&mut file, &done.change).unwrap();
                }
                prop_assert_eq!(file.bytes(), image.bytes(), "what was done leads from the file to the image");
                prop_assert_eq!(history.is_unsaved(), !copies[at].1);
                let saved = copies.iter().find(|c| c.1).map(|c| &c.0[..]);
                let state = history.saved_state(&image);
                prop_assert_eq!(state.as_ref().map(Image::bytes), saved);
                prop_assert_eq!(history.undoable().is_some(), at > 0);
                prop_assert_eq!(history.redoable().is_some(), at + 1 < copies.len());
            }
            while history.undo(&mut image).unwrap().is_some() {}
            prop_assert_eq!(image.bytes(), &first[..]);
        }
    }
}
