//! How often a region is right, from how well chance explains it.
//!
//! Chance is reckoned for random bytes, and real memories are not random: numbers read as digits, rows of numbers as
//! dates. So what was claimed of published memories, their layouts hidden, was counted against what the layouts say,
//! and for each kind of region a curve was laid through the shares that were right. The test `survey_truth` prints
//! and holds them.

use super::{Kind, Region};
use crate::find::Encoding;

/// A word for [`Region::probability`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Confidence {
    /// Fewer than six of ten such regions are right.
    Weak,
    /// Six of ten or more are.
    Likely,
    /// Nineteen of twenty or more are.
    Sure,
}

impl Confidence {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Confidence::Weak => "weak",
            Confidence::Likely => "likely",
            Confidence::Sure => "sure",
        }
    }
}

/// How regions of a kind are right: `most` of those that chance does not explain at all; half of that where the chance
/// is `half`.
struct Curve {
    most: f64,
    half: f64,
}

/// The curve for a kind of region.
const fn curve(kind: &Kind) -> Curve {
    match kind {
        Kind::Text { encoding: Encoding::Text | Encoding::Utf16Big | Encoding::Utf16Little, .. } => {
            Curve { most: 0.96, half: 0.05 }
        }
        Kind::Text { .. } => Curve { most: 0.9, half: 1e-3 },
        Kind::PackedDigits { .. } => Curve { most: 0.9, half: 1e-5 },
        Kind::Date { .. } => Curve { most: 0.9, half: 0.3 },
        Kind::Table(_) => Curve { most: 0.75, half: 1e-6 },
        Kind::Pointer { .. } | Kind::Length { .. } | Kind::Linked { .. } => Curve { most: 0.95, half: 0.01 },
        // What these say is seen, not guessed; only that it matters is.
        Kind::Fill(_) | Kind::Copy { .. } | Kind::Dense | Kind::Layout(_) => Curve { most: 1.0, half: 0.1 },
    }
}

impl Region {
    /// The share of such regions that are right, 0 to 1: of those with 0.9, nine in ten.
    #[must_use]
    pub fn probability(&self) -> f64 {
        let Curve { most, half } = curve(&self.kind);
        most / (1.0 + self.chance.max(0.0) / half)
    }

    /// The word for that share.
    #[must_use]
    pub fn confidence(&self) -> Confidence {
        match self.probability() {
            p if p >= 0.95 => Confidence::Sure,
            p if p >= 0.6 => Confidence::Likely,
            _ => Confidence::Weak,
        }
    }
}
