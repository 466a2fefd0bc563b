//! Edits are values with an inverse; a [`Change`] is one step of undo.

use crate::span::Span;

/// Bytes put in the place of other bytes of the same number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// Offset of the first byte.
    pub at: usize,
    /// What must be there before; applying over anything else is refused.
    pub before: Vec<u8>,
    /// What is there afterwards; as long as `before`.
    pub after: Vec<u8>,
}

impl Edit {
    /// The bytes it touches.
    #[must_use]
    pub fn span(&self) -> Span {
        Span::of(self.at, self.after.len())
    }

    /// The edit that takes this one back.
    #[must_use]
    pub fn inverse(&self) -> Edit {
        Edit { at: self.at, before: self.after.clone(), after: self.before.clone() }
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
