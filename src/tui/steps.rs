//! The steps that a layout took since a file held it, and their order among the changes of bytes: Undo takes back what
//! was done last, whichever it was.

use std::path::PathBuf;

use super::annotate::InForce;
use super::sheet::Sheet;
use crate::store::Identity;

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

impl Turn {
    const fn layout(self) -> Option<u64> {
        match self {
            Turn::Layout(id) => Some(id),
            Turn::Bytes => None,
        }
    }
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
    pub(super) fn last_done(&self) -> Option<u64> {
        self.done.last()?.layout()
    }

    /// The step that Redo would take again, when it is one of the layout.
    pub(super) fn last_undone(&self) -> Option<u64> {
        self.undone.last()?.layout()
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
    pub(super) fn take_step(&mut self, id: u64, label: String, after: InForce) {
        self.steps.forget_undone();
        // What is typed next is no continuation of what was typed before.
        self.contents.history.close();
        self.steps.steps.push(Step { id, label, before: self.layout().cloned(), after: after.clone() });
        self.steps.made += 1;
        self.steps.done.push(Turn::Layout(id));
        self.described.put(Some(after));
        self.decode();
    }

    /// Takes back the step `id` that was taken back in another image; returns whether it was the last one here.
    pub(super) fn also_back(&mut self, id: u64) -> bool {
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
    pub(super) fn also_again(&mut self, id: u64) -> bool {
        if self.steps.steps.get(self.steps.made).is_none_or(|step| step.id != id) {
            return false;
        }
        self.steps.undone.retain(|turn| *turn != Turn::Layout(id));
        self.steps.done.push(Turn::Layout(id));
        self.layout_again();
        true
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
        let now = self.layout().map(|l| (l.path.clone(), l.kept.clone()));
        self.described.put(then.map(|then| match now {
            Some((path, kept)) => InForce { path, kept, ..then },
            None => then,
        }));
        self.decode();
    }

    /// Whether the layout has changes that no file holds.
    #[must_use]
    pub fn layout_is_modified(&self) -> bool {
        self.steps.saved != Some(self.steps.made)
    }

    /// Says that the text of the layout is in a file now.
    pub fn layout_saved(&mut self, path: PathBuf, identity: Identity) {
        self.described.saved(path, identity);
        self.steps.saved = Some(self.steps.made);
    }

    /// Gives the changes of the layout up: they need not be saved.
    pub fn layout_given_up(&mut self) {
        self.steps.saved = Some(self.steps.made);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::author;
    use crate::edit::{Change, Joining};
    use crate::image::{Format, Image};
    use crate::layout::Role;

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
        let after = sheet.with_text(&text).unwrap();
        sheet.take_step(at as u64, format!("named {name}"), after);
    }

    fn put(sheet: &mut Sheet, at: usize, byte: u8, joining: Joining) {
        let change = Change::overwrite(sheet.image(), "typed", at, vec![byte]).unwrap();
        sheet.apply(change, joining).unwrap();
    }

    fn state(sheet: &Sheet) -> (Vec<u8>, Vec<String>) {
        let paths = sheet.decoded().fields.iter().map(|f| f.path.clone()).collect();
        (sheet.image().bytes().to_vec(), paths)
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
        assert!(sheet.layout().is_none() && !sheet.layout_is_modified());
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
        assert_eq!(sheet.image().bytes()[0], 0x10);
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
