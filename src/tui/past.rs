//! Undo and redo of one image.

use crate::edit::Change;
use crate::image::Image;

/// Steps that were taken and can be taken back.
#[derive(Debug, Clone, Default)]
pub struct Past {
    steps: Vec<Change>,
    /// Steps in force; those after it were undone.
    done: usize,
    /// The steps that were in force at the last save; `None` once that branch is gone.
    saved: Option<usize>,
    touched: bool,
}

impl Past {
    /// Applies a step.
    pub fn apply(&mut self, image: &mut Image, change: Change) -> bool {
        self.steps.truncate(self.done);
        if !self.touched {
            (self.touched, self.saved) = (true, Some(0));
        }
        if self.saved.is_some_and(|s| s > self.done) {
            self.saved = None;
        }
        put(image, &change, true);
        self.steps.push(change);
        self.done += 1;
        true
    }

    /// Takes one back.
    pub fn undo(&mut self, image: &mut Image) -> Option<Change> {
        self.done = self.done.checked_sub(1)?;
        let change = self.steps.get(self.done)?.clone();
        put(image, &change, false);
        Some(change)
    }

    /// Takes an undone one again.
    pub fn redo(&mut self, image: &mut Image) -> Option<Change> {
        let change = self.steps.get(self.done)?.clone();
        put(image, &change, true);
        self.done += 1;
        Some(change)
    }

    /// The last step in force.
    #[must_use]
    pub fn last(&self) -> Option<&Change> {
        self.steps.get(self.done.checked_sub(1)?)
    }

    /// Whether a step can be taken back.
    #[must_use]
    pub fn can_undo(&self) -> bool {
        self.done > 0
    }

    /// Whether an undone step can be taken again.
    #[must_use]
    pub fn can_redo(&self) -> bool {
        self.done < self.steps.len()
    }

    /// The edits of every step in force.
    pub fn in_force(&self) -> impl Iterator<Item = &crate::edit::Edit> {
        self.steps.iter().take(self.done).flat_map(|c| &c.edits)
    }

    /// Everything is saved now.
    pub fn mark_saved(&mut self) {
        (self.touched, self.saved) = (true, Some(self.done));
    }

    /// Whether everything is saved.
    #[must_use]
    pub fn is_saved(&self) -> bool {
        !self.touched || self.saved == Some(self.done)
    }
}

fn put(image: &mut Image, change: &Change, forward: bool) {
    let bytes = image.bytes_mut();
    let edits: Vec<_> = if forward {
        change.edits.iter().map(|e| (e.at, &e.after)).collect()
    } else {
        change.edits.iter().rev().map(|e| (e.at, &e.before)).collect()
    };
    for (at, after) in edits {
        if let Some(place) = bytes.get_mut(at..at + after.len()) {
            place.copy_from_slice(after);
        }
    }
}
