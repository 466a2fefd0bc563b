//! Why a value was refused.

use std::fmt;

/// Why typed text or a value does not suit a kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ValueError {
    /// What is wrong, quoting the typed text: one sentence without its full stop.
    pub what: String,
    /// What was expected.
    pub expected: String,
}

impl ValueError {
    /// Typed text that is not what was expected.
    #[must_use]
    pub fn typed(typed: &str, wrong: impl fmt::Display, expected: impl Into<String>) -> Self {
        ValueError { what: format!("\"{}\" {wrong}", quoted(typed)), expected: expected.into() }
    }

    /// A value of another kind than the field's.
    #[must_use]
    pub(super) fn foreign(value: &super::Value, expected: impl Into<String>) -> Self {
        ValueError { what: format!("{value:?} is of another kind"), expected: expected.into() }
    }
}

impl fmt::Display for ValueError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; expected {}", self.what, self.expected)
    }
}

impl std::error::Error for ValueError {}

/// Typed text as it may stand in a message: control characters escaped, cut when long.
pub(super) fn quoted(typed: &str) -> String {
    const LONGEST: usize = 64;
    let mut out: String = typed
        .chars()
        .take(LONGEST)
        .flat_map(|c| if c.is_control() { c.escape_default().collect::<Vec<_>>() } else { vec![c] })
        .collect();
    if typed.chars().nth(LONGEST).is_some() {
        out.push('…');
    }
    out
}
