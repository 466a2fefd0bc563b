//! A layout that is written while its image is looked at: its text, the steps it took, and whether a file holds it.
//!
//! Steps of the layout and changes of bytes are taken back in the order in which they were made, by one key: what
//! Undo takes back is always what was done last, and it says which.
//!
//! Images of one kind share a layout: a step of it is a step in every open image that follows the same text, and
//! Undo in any of them takes it back in all.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::app::App;
use super::sheet::Sheet;
use crate::author;
use crate::edit::Refused;
use crate::layout::{self, Layout, Role};
use crate::notation::Problem;
use crate::span::Span;
use crate::store::Identity;

/// Where the text of a layout is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kept {
    /// With the program; it is saved as a new file only.
    Shipped,
    /// Nowhere yet.
    Nowhere,
    /// In a file of the user, which was this when it was read.
    File(Option<Identity>),
    /// In a file that this session wrote, which was this then.
    Ours(Option<Identity>),
}

/// The layout in force, and where it was read from.
#[derive(Debug, Clone)]
pub struct InForce {
    /// Its file, or the name of a shipped one; for a new one, the file that is suggested.
    pub path: PathBuf,
    /// Where its text is kept.
    pub kept: Kept,
    /// Its text, comments and all.
    pub text: Arc<str>,
    /// What it says.
    pub layout: Arc<Layout>,
}

impl InForce {
    /// A layout by its text.
    ///
    /// # Errors
    /// Every problem of the text.
    pub fn of_text(path: PathBuf, kept: Kept, text: &str) -> Result<InForce, Vec<Problem>> {
        Ok(InForce { path, kept, text: text.into(), layout: layout::read(text)?.into() })
    }

    /// How many fields it has, those inside others counted.
    #[must_use]
    pub fn fields(&self) -> usize {
        author::fields(&self.text)
    }

    fn with(&self, text: &str) -> Result<InForce, Vec<Problem>> {
        InForce::of_text(self.path.clone(), self.kept.clone(), text)
    }
}

/// What one step of the layout led from and to.
#[derive(Debug, Clone)]
struct Step {
    /// The same in every image that took it.
    id: u64,
    label: String,
    /// `None` when there was no layout.
    before: Option<InForce>,
    after: InForce,
}

/// What was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Turn {
    Bytes,
    /// With the number of the step.
    Layout(u64),
}

/// The steps of a layout, and their order among the changes of bytes.
#[derive(Debug, Clone)]
pub struct Steps {
    steps: Vec<Step>,
    /// Steps that are made; those after it are undone.
    made: usize,
    /// How many steps were made when a file held the text.
    saved: Option<usize>,
    /// What was done, last at the end.
    done: Vec<Turn>,
    /// What was taken back, last at the end.
    undone: Vec<Turn>,
}

impl Default for Steps {
    fn default() -> Self {
        Steps { steps: Vec::new(), made: 0, saved: Some(0), done: Vec::new(), undone: Vec::new() }
    }
}

impl Steps {
    fn forget_undone(&mut self) {
        self.undone.clear();
        self.steps.truncate(self.made);
        if self.saved.is_some_and(|saved| saved > self.made) {
            self.saved = None;
        }
    }

    /// Bytes were changed; `grew` when that was a step of its own.
    pub(super) fn bytes_changed(&mut self, grew: bool) {
        self.forget_undone();
        if grew {
            self.done.push(Turn::Bytes);
        }
    }

    /// Another layout is in force: its steps begin anew.
    pub(super) fn begin(&mut self) {
        self.done.retain(|t| *t == Turn::Bytes);
        self.undone.retain(|t| *t == Turn::Bytes);
        (self.steps, self.made, self.saved) = (Vec::new(), 0, Some(0));
    }

    /// What was done last, taken off the list of what was done.
    pub(super) fn back(&mut self) -> Option<Turn> {
        let turn = self.done.pop()?;
        self.undone.push(turn);
        Some(turn)
    }

    /// What was taken back last, taken off the list of what was taken back.
    pub(super) fn again(&mut self) -> Option<Turn> {
        let turn = self.undone.pop()?;
        self.done.push(turn);
        Some(turn)
    }

    /// The step that Undo would take back, when it is one of the layout.
    fn last_done(&self) -> Option<u64> {
        match self.done.last() {
            Some(Turn::Layout(id)) => Some(*id),
            _ => None,
        }
    }

    /// The step that Redo would take again, when it is one of the layout.
    fn last_undone(&self) -> Option<u64> {
        match self.undone.last() {
            Some(Turn::Layout(id)) => Some(*id),
            _ => None,
        }
    }

    /// Whether there is something to take back.
    #[must_use]
    pub fn can_undo(&self) -> bool {
        !self.done.is_empty()
    }

    /// Whether there is something to do again.
    #[must_use]
    pub fn can_redo(&self) -> bool {
        !self.undone.is_empty()
    }
}

impl Sheet {
    /// The text of the layout, of a new one when none is in force.
    #[must_use]
    pub fn layout_text(&self) -> String {
        match &self.layout {
            Some(in_force) => in_force.text.to_string(),
            None => {
                let stem = self.origin.file_stem().unwrap_or_default().to_string_lossy();
                author::begin(&crate::report::text::clean(&stem))
            }
        }
    }

    /// Puts another text of the layout in force, as one step that can be taken back; `id` tells it from others.
    ///
    /// # Errors
    /// Every problem of the text; then nothing has changed.
    pub fn write_layout(&mut self, id: u64, label: String, text: &str) -> Result<(), Vec<Problem>> {
        let after = match &self.layout {
            Some(in_force) => in_force.with(text)?,
            None => InForce::of_text(self.origin.with_extension("ron"), Kept::Nowhere, text)?,
        };
        self.take_step(id, label, after);
        Ok(())
    }

    fn take_step(&mut self, id: u64, label: String, after: InForce) {
        self.steps.forget_undone();
        // What is typed next is no continuation of what was typed before.
        self.history.close();
        self.steps.steps.push(Step { id, label, before: self.layout.clone(), after: after.clone() });
        self.steps.made += 1;
        self.steps.done.push(Turn::Layout(id));
        self.layout = Some(after);
        self.decode();
    }

    /// Takes back the step `id` that was taken back in another image; returns whether it was the last one here.
    fn also_back(&mut self, id: u64) -> bool {
        let last = self.steps.made.checked_sub(1).and_then(|last| self.steps.steps.get(last));
        if last.is_none_or(|step| step.id != id) {
            return false;
        }
        self.steps.done.retain(|turn| *turn != Turn::Layout(id));
        self.steps.undone.push(Turn::Layout(id));
        self.layout_back();
        true
    }

    /// Takes the step `id` again that was taken again in another image; returns whether it was the next one here.
    fn also_again(&mut self, id: u64) -> bool {
        if self.steps.steps.get(self.steps.made).is_none_or(|step| step.id != id) {
            return false;
        }
        self.steps.undone.retain(|turn| *turn != Turn::Layout(id));
        self.steps.done.push(Turn::Layout(id));
        self.layout_again();
        true
    }

    /// Whether a step of the layout of `other` is one here too: both follow the same text, or both images are as
    /// large and follow none yet.
    fn shares_with(&self, other: &Sheet) -> bool {
        match (&self.layout, &other.layout) {
            (Some(a), Some(b)) => a.path == b.path && a.text == b.text,
            (None, None) => self.image.len() == other.image.len(),
            _ => false,
        }
    }

    pub(super) fn layout_back(&mut self) -> Option<String> {
        self.steps.made = self.steps.made.checked_sub(1)?;
        let step = self.steps.steps.get(self.steps.made)?.clone();
        self.put_back(step.before);
        Some(step.label)
    }

    pub(super) fn layout_again(&mut self) -> Option<String> {
        let step = self.steps.steps.get(self.steps.made)?.clone();
        self.steps.made += 1;
        self.put_back(Some(step.after));
        Some(step.label)
    }

    /// Puts a text of another moment in force. Where it is kept is what it is now: undoing does not undo a save.
    fn put_back(&mut self, then: Option<InForce>) {
        let now = self.layout.as_ref().map(|l| (l.path.clone(), l.kept.clone()));
        self.layout = then.map(|then| match now {
            Some((path, kept)) => InForce { path, kept, ..then },
            None => then,
        });
        if self.layout.is_none() {
            self.decoded = layout::Decoded::default();
        }
        self.decode();
    }

    /// Whether the layout has changes that no file holds.
    #[must_use]
    pub fn layout_is_modified(&self) -> bool {
        self.steps.saved != Some(self.steps.made)
    }

    /// Says that the text of the layout is in a file now.
    pub fn layout_saved(&mut self, path: PathBuf, identity: Identity) {
        if let Some(in_force) = &mut self.layout {
            (in_force.path, in_force.kept) = (path, Kept::Ours(Some(identity)));
        }
        self.steps.saved = Some(self.steps.made);
    }

    /// Gives the changes of the layout up: they need not be saved.
    pub fn layout_given_up(&mut self) {
        self.steps.saved = Some(self.steps.made);
    }

    /// The next piece of undescribed bytes behind the cursor, or the last before it; round and round. Blank stretches
    /// are pieces of their own.
    #[must_use]
    pub fn next_undescribed(&self, forward: bool) -> Option<Span> {
        // Bytes of a run that are looked at for pieces: a large image is not read through for one key.
        const WINDOW: usize = 1 << 20;
        let (runs, here) = (&self.undescribed, self.selection());
        let pieces = |run: Span| author::pieces(self.image.bytes(), run);
        let ahead = |run: &Span| {
            let start = run.start.max(here.start.saturating_sub(WINDOW));
            pieces(Span::new(start, run.end.min(start.max(here.start) + WINDOW)))
        };
        let back = |run: &Span| {
            let end = if run.contains(here.start) { here.start } else { run.end };
            pieces(Span::new(run.start.max(end.saturating_sub(WINDOW)), end)).into_iter().rev()
        };
        if forward {
            // The one around the cursor comes first, unless it is what is selected.
            let next =
                |p: &Span| p.end > here.start && *p != here && (p.start >= here.start || !here.covers(*p));
            let behind = runs.iter().filter(|r| r.end > here.start).flat_map(ahead).find(next);
            behind.or_else(|| {
                runs.first()
                    .and_then(|r| pieces(Span::new(r.start, r.end.min(r.start + WINDOW))).first().copied())
            })
        } else {
            let before = runs.iter().rev().filter(|r| r.start < here.start).flat_map(back).next();
            before.or_else(|| {
                runs.last().and_then(|r| {
                    pieces(Span::new(r.start.max(r.end.saturating_sub(WINDOW)), r.end)).last().copied()
                })
            })
        }
    }

    /// Shows only the fields of one role, or all again.
    pub fn show_only(&mut self, role: Option<Role>) {
        self.only_role = role;
        self.list_fields();
        self.follow_cursor();
    }
}

impl App {
    /// The images of which a step of this image's layout is a step too, this one first.
    #[must_use]
    pub fn sharing(&self) -> Vec<usize> {
        let (here, it) = (self.current(), self.it());
        let others = self.images().iter().enumerate().filter(|(i, s)| *i != here && s.shares_with(it));
        std::iter::once(here).chain(others.map(|(i, _)| i)).collect()
    }

    /// Changes the text of the layout as one step, here and in every image that shares it; returns in how many.
    ///
    /// # Errors
    /// Every problem of the text; then nothing has changed.
    pub fn write_layout(&mut self, label: &str, text: &str) -> Result<usize, Vec<Problem>> {
        let sharing = self.sharing();
        self.steps_taken += 1;
        let id = self.steps_taken;
        self.it_mut().write_layout(id, label.to_owned(), text)?;
        self.bring_along(&sharing, id, label, |_| false);
        Ok(sharing.len())
    }

    /// Puts another layout in force as one step, here and in every image that shares the one before.
    pub fn take_up(&mut self, label: &str, after: InForce) {
        let sharing = self.sharing();
        self.steps_taken += 1;
        let id = self.steps_taken;
        self.it_mut().take_step(id, label.to_owned(), after);
        self.bring_along(&sharing, id, label, |_| false);
    }

    /// Takes back what was done last in this image; a step of the layout in every image that shares it.
    ///
    /// # Errors
    /// When something else wrote to the image.
    pub fn undo(&mut self) -> Result<Option<String>, Refused> {
        let (sharing, id) = (self.sharing(), self.it().steps.last_done());
        let label = self.it_mut().undo()?;
        if let (Some(id), Some(label)) = (id, &label) {
            self.bring_along(&sharing, id, label, |sheet| sheet.also_back(id));
        }
        Ok(label)
    }

    /// Does again what was taken back last in this image; a step of the layout in every image that shares it.
    ///
    /// # Errors
    /// As for [`App::undo`].
    pub fn redo(&mut self) -> Result<Option<String>, Refused> {
        let (sharing, id) = (self.sharing(), self.it().steps.last_undone());
        let label = self.it_mut().redo()?;
        if let (Some(id), Some(label)) = (id, &label) {
            self.bring_along(&sharing, id, label, |sheet| sheet.also_again(id));
        }
        Ok(label)
    }

    /// Puts the layout of this image in force in the others of `sharing`: by `alike` where that can be done there,
    /// else as a step of its own.
    fn bring_along(&mut self, sharing: &[usize], id: u64, label: &str, alike: impl Fn(&mut Sheet) -> bool) {
        let now = self.it().layout.clone();
        for &index in sharing.iter().skip(1) {
            let Some(sheet) = self.images_mut().get_mut(index) else { continue };
            if !alike(sheet)
                && let Some(now) = &now
            {
                sheet.take_step(id, label.to_owned(), now.clone());
            }
        }
    }

    /// Says that the text of the layout is in a file now.
    pub fn layout_saved(&mut self, path: &Path, identity: &Identity) {
        for index in self.sharing() {
            if let Some(sheet) = self.images_mut().get_mut(index) {
                sheet.layout_saved(path.to_path_buf(), identity.clone());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::{Change, Joining};
    use crate::image::{Format, Image};

    fn sheet() -> Sheet {
        Sheet::new("unit.bin".into(), Image::raw(vec![1, 2, 3, 4]), Format::Raw)
    }

    fn name(sheet: &mut Sheet, name: &str, at: usize) {
        let field = author::NewField {
            name: name.into(),
            inside: None,
            at,
            kind: "Int(bits: 8)".into(),
            scaling: author::Scaling::default(),
            role: Role::Setting,
            rest: None,
            note: None,
        };
        let text = author::add(&sheet.layout_text(), &field).unwrap();
        sheet.write_layout(at as u64, format!("named {name}"), &text).unwrap();
    }

    fn put(sheet: &mut Sheet, at: usize, byte: u8, joining: Joining) {
        let change = Change::overwrite(&sheet.image, "typed", at, vec![byte]).unwrap();
        sheet.apply(change, joining).unwrap();
    }

    fn state(sheet: &Sheet) -> (Vec<u8>, Vec<String>) {
        let paths = sheet.decoded.fields.iter().map(|f| f.path.clone()).collect();
        (sheet.image.bytes().to_vec(), paths)
    }

    #[test]
    fn steps_of_the_layout_and_of_bytes_are_taken_back_in_the_order_they_were_made() {
        let mut sheet = sheet();
        let mut states = vec![state(&sheet)];
        name(&mut sheet, "a", 0);
        states.push(state(&sheet));
        put(&mut sheet, 1, 0x22, Joining::Separate);
        states.push(state(&sheet));
        name(&mut sheet, "b", 1);
        states.push(state(&sheet));
        for before in states.iter().rev().skip(1) {
            assert!(sheet.undo().unwrap().is_some());
            assert_eq!(state(&sheet), *before);
        }
        assert_eq!(sheet.undo().unwrap(), None);
        assert!(sheet.layout.is_none() && !sheet.layout_is_modified());
        for after in &states[1..] {
            assert!(sheet.redo().unwrap().is_some());
            assert_eq!(state(&sheet), *after);
        }
        assert_eq!(sheet.redo().unwrap(), None);
    }

    #[test]
    fn a_digit_typed_after_a_step_of_the_layout_is_a_step_of_its_own() {
        let mut sheet = sheet();
        put(&mut sheet, 0, 0x10, Joining::Separate);
        name(&mut sheet, "a", 0);
        put(&mut sheet, 0, 0x12, Joining::WithLast);
        sheet.undo().unwrap();
        assert_eq!(sheet.image.bytes()[0], 0x10);
        assert_eq!(sheet.undo().unwrap().as_deref(), Some("named a"));
    }

    #[test]
    fn something_new_after_undo_drops_what_was_undone_of_both() {
        let mut sheet = sheet();
        put(&mut sheet, 0, 9, Joining::Separate);
        name(&mut sheet, "a", 0);
        sheet.undo().unwrap();
        sheet.undo().unwrap();
        name(&mut sheet, "b", 1);
        assert!(!sheet.steps.can_redo());
        assert_eq!(sheet.redo().unwrap(), None);
        assert_eq!(state(&sheet), (vec![1, 2, 3, 4], vec!["b".to_owned()]));
    }
}
