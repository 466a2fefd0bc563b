//! Layouts: what a user wrote down about one kind of memory, and what it says about one image.
//!
//! Text becomes a [`Layout`] (every problem at once, each with its place), a layout over an image becomes a
//! [`Decoded`]. A layout is untrusted input: depth, rows, fields and work are bounded, and a cycle is a problem
//! with its path. `docs/layouts.md` is the reference of the language.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `model` | items in scopes, names resolved: what a layout says |
//! | `read`, [`expr`], `resolve` | from text to the model: entries, expressions, names and the order of decoding |
//! | [`composed`] | the table of kinds that hold other fields |
//! | `lint`, `plan` | what can be said about a layout without an image |
//! | `decode` | a layout over an image |
//! | `marks` | by which layout an image is found |
//! | [`choice`] | what is to be said about the layout that was taken |
//! | `set`, `seal`, `patch` | changes through a layout |
//! | `order` | what hangs on something comes after it |
//! | `shipped` | the layouts that come with the program |

pub mod choice;
pub mod composed;
mod decode;
pub mod expr;
mod lint;
mod marks;
mod model;
mod order;
mod patch;
mod plan;
#[cfg(test)]
mod properties;
mod read;
mod resolve;
mod seal;
mod set;
mod shipped;
#[cfg(test)]
mod tests;

use std::sync::Arc;

pub use crate::error::Refusal;
pub use composed::COMPOSED;
pub use decode::{MAX_FIELDS, MAX_ROWS, MAX_WORK, decode};
pub use lint::{Remark, RemarkWeight, lint};
pub use marks::{LEAST_EVIDENCE, LEAST_EVIDENCE_UNSIZED, beginning, fits, may_begin, may_fit};
pub use read::{FORMAT, MAX_GROUPS, MAX_ITEMS, MAX_TEXT, read};
pub use seal::reseal;
pub use set::{expects, set, to_rest};
pub use shipped::SHIPPED;

use crate::check::{Placed, Seal};
use crate::finding::Finding;
use crate::notation::nearest;
use crate::span::Span;
use crate::value::Value;
use crate::wording::short_list;

words! {
    /// What a field is to the repair. The word is that of screens and of JSON, too.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum Role {
        /// What says which unit this is: part number, serial, addresses.
        Identity,
        /// What was measured for this very unit and cannot be made up.
        Calibration,
        /// What may be chosen.
        Setting,
        /// What the unit wrote down: faults, lockouts, counters.
        Record,
        /// A stored check value.
        Check,
        /// What the maker keeps for itself; never changed.
        Reserved,
        /// What holds nothing.
        Filler,
    }
}

/// What a row of the decoded tree is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shape {
    /// It has a value.
    Leaf,
    /// It holds named fields.
    Group,
    /// It holds rows.
    Table,
    /// It is one row of a table or one record of a chain, and holds named fields.
    Row,
}

/// Whether the bytes of a field make sense.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FieldState {
    /// They do.
    Fine,
    /// They do not, and why: pattern not met, digit above 9, copies that differ, number outside its list…
    Odd(String),
    /// A part of it is outside the image or in a gap.
    Absent,
}

/// One row of the decoded tree.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Where it stands in the tree, unique: `lockouts[3].cause`.
    pub path: String,
    /// The last step of the path, or `[3]` for a row.
    pub name: Arc<str>,
    /// What it is.
    pub shape: Shape,
    /// Steps from the top.
    pub depth: usize,
    /// Index of the field it belongs to; always smaller than its own.
    pub parent: Option<usize>,
    /// The bytes it lies in, in reading order; several when its bits are gathered or it has copies.
    pub spans: Vec<Span>,
    /// The bits in use when it does not fill its bytes: lowest bit and number, counted in the number that the
    /// bytes form.
    pub bits: Option<(u32, u32)>,
    /// The kind as shown: `Int 16`, `Text 16`.
    pub kind: Arc<str>,
    /// What it is to the repair.
    pub role: Role,
    /// What it says; `None` for rows, groups, tables, absent bytes and what could not be computed.
    pub value: Option<Value>,
    /// The value as shown, without the unit.
    pub text: String,
    /// The unit, if it has one.
    pub unit: Option<Arc<str>>,
    /// For Records: whether it holds its rest value.
    pub at_rest: Option<bool>,
    /// Whether the bytes make sense.
    pub state: FieldState,
    /// False for computed values and for what the layout says never changes.
    pub editable: bool,
    /// The layout's remark about it.
    pub note: Option<Arc<str>>,
    /// What to heed before this field is changed, where work can hurt someone.
    pub caution: Option<Arc<str>>,
}

impl Field {
    /// Its value as a person reads it, with its unit: `3.5 °C`.
    #[must_use]
    pub fn shown(&self) -> String {
        match &self.unit {
            Some(unit) => format!("{} {unit}", self.text),
            None => self.text.clone(),
        }
    }

    /// From its first to its last byte; empty when it lies in none.
    #[must_use]
    pub fn cover(&self) -> Span {
        let start = self.spans.iter().map(|s| s.start).min().unwrap_or(0);
        Span::new(start, self.spans.iter().map(|s| s.end).max().unwrap_or(start))
    }
}

/// One check of the layout on one image.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// Its name, unique; `blocks[2].sum` for a check that each block has.
    pub name: String,
    /// How and where; `None` when its places could not be worked out.
    pub placed: Option<Placed>,
    /// The value in the image.
    pub stored: Option<u128>,
    /// The value the image should have.
    pub computed: Option<u128>,
    /// Whether they agree.
    pub seal: Seal,
}

/// What a layout says about an image.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Decoded {
    /// The tree, flat: each field stands before what it holds.
    pub fields: Vec<Field>,
    /// The checks, in the order of the layout.
    pub checks: Vec<Check>,
    /// What is wrong with the image by this layout: broken checks, odd fields, unmet patterns, limits reached.
    pub findings: Vec<Finding>,
}

impl Decoded {
    /// The field at `path`; a last step that only one field has will do.
    #[must_use]
    pub fn field(&self, path: &str) -> Option<&Field> {
        self.fields.iter().find(|f| f.path == path).or_else(|| {
            let mut same = self.fields.iter().filter(|f| &*f.name == path);
            same.next().filter(|_| same.next().is_none())
        })
    }

    /// The same, for a path that somebody typed.
    ///
    /// # Errors
    /// When there is no such field, with the nearest; when several have that name, with their paths.
    pub fn named(&self, path: &str) -> Result<&Field, Refusal> {
        if let Some(field) = self.field(path) {
            return Ok(field);
        }
        let same: Vec<&str> =
            self.fields.iter().filter(|f| &*f.name == path).map(|f| f.path.as_str()).collect();
        if !same.is_empty() {
            return Err(Refusal {
                what: format!("several fields are called {path:?}"),
                advice: format!("say which: {}", short_list(&same)),
            });
        }
        let known = self.fields.iter().flat_map(|f| [f.path.as_str(), &*f.name]);
        Err(Refusal {
            what: format!("the layout has no field {path:?}"),
            advice: match nearest(path, known) {
                Some(near) => format!("did you mean {near}?"),
                None => {
                    "name a field as `readproof show IMAGE` lists it, with the groups around it".to_owned()
                }
            },
        })
    }

    /// The innermost leaf that lies over `offset`.
    #[must_use]
    pub fn leaf_at(&self, offset: usize) -> Option<&Field> {
        self.fields
            .iter()
            .rev()
            .find(|f| f.shape == Shape::Leaf && f.spans.iter().any(|s| s.contains(offset)))
    }
}

/// Whether the field at `path` is the one at `outer` or inside it.
#[must_use]
pub fn is_inside(path: &str, outer: &str) -> bool {
    path.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
}

/// The path of the outermost field that the one at `path` is in.
#[must_use]
pub fn top(path: &str) -> &str {
    path.split(['.', '[']).next().unwrap_or(path)
}

/// A layout, read and validated.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// What it is called.
    pub title: String,
    /// Where what it says comes from.
    pub source: String,
    /// A remark about the whole of it.
    pub note: Option<String>,
    /// What to heed where work can hurt someone.
    pub cautions: Vec<String>,
    model: Arc<model::Model>,
}

impl Layout {
    /// Whether it says how its images are recognised; without marks it is used only when it is named.
    #[must_use]
    pub fn has_marks(&self) -> bool {
        !self.model.fits.is_empty()
    }

    /// Whether an image of so many bytes can be of this layout.
    #[must_use]
    pub fn allows(&self, bytes: usize) -> bool {
        self.model.fits.iter().any(|alternative| alternative.allows(bytes))
    }
}

/// How well the marks of a layout fit an image.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Index in the list that was asked about.
    pub index: usize,
    /// How much evidence: bits of marks that agree; the larger, the better.
    pub bits: u32,
    /// Whether the image has a size the layout allows; an image of another size can still be of this layout,
    /// read with a wrong chip selected, and comes after every fit of the right size.
    pub sized: bool,
    /// What agreed, in words.
    pub why: String,
}
