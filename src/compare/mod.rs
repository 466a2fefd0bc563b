//! What differs between images, and whether a changed image is safe to write.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `runs` | where two byte strings differ, at the speed of memory |
//! | `atlas` | which fields and checks lie over a place |
//! | `differences` | where two images differ, gaps and lengths included |
//! | `changes` | the change list, changed fields, checks on both sides, totals |
//! | `many` | more than two images: the same in all, unit-specific, unstable |
//! | `align` | contents that moved: same, changed, missing, inserted, moved |
//! | `audit` | is a changed image safe to write? |
//! | `amend` | instructions to a changed image |
//! | `carry` | changes carried over to what somebody else made of the image meanwhile |
//! | `change_list` | a change list that is kept and applied to another image |
//!
//! Images are compared address by address. Where their first addresses differ, [`common_base`] fills the front of
//! one with a gap, so that offsets mean the same in both.

pub mod align;
pub mod amend;
mod atlas;
pub mod audit;
mod carry;
#[cfg(test)]
mod cases;
mod change_list;
mod changes;
mod differences;
mod many;
mod runs;
#[cfg(test)]
mod tests;

pub use atlas::{Atlas, Touched, TouchedPlace};
pub use carry::{Carried, NotCarried, carry};
pub use change_list::{ChangeList, Listed};
pub use changes::{Changed, CheckPair, Comparison, FieldChange, Total, compare, compare_at, decode_both};
pub use differences::{Differences, common_base};
pub use many::{Stability, Stretch, Summary, summary};
pub use runs::differing;
