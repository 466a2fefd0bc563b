//! The one table of kinds: reading, explaining, the reference page and the tests of examples come from it.

use crate::notation::{Entries, Problem};
use crate::span::ByteOrder;

use super::kind::Family;
use super::{
    bcd, bytes, choice, counter, curve, dos, fixed, flags, float, letters, maker, number, parts, text,
    typelength,
};

/// One kind: its name, what it is, its options, examples that a test runs.
pub struct Row {
    /// The name in layouts.
    pub name: &'static str,
    /// What it is, in one sentence without its full stop.
    pub doc: &'static str,
    /// What may stand in its brackets.
    pub options: &'static [OptionDoc],
    /// Examples; the first is the plainest.
    pub examples: &'static [Example],
    /// Makes the kind from the entries of its brackets.
    pub(super) read: fn(&mut Entries<'_>, &mut Vec<Problem>) -> Option<Family>,
}

/// One option of a kind.
pub struct OptionDoc {
    /// Its name in the brackets.
    pub name: &'static str,
    /// What it says, its default included.
    pub doc: &'static str,
}

/// A kind as written in a layout, bytes, and the text they show.
pub struct Example {
    /// The kind in RON.
    pub ron: &'static str,
    /// The byte order of the layout.
    pub order: ByteOrder,
    /// Bytes in hexadecimal pairs.
    pub bytes: &'static str,
    /// What they show, and what may be typed to get them back.
    pub text: &'static str,
    /// Where the example comes from.
    pub source: &'static str,
}

/// The rows of each family.
const KINDS: &[&[Row]] = &[
    number::ROWS,
    fixed::ROWS,
    float::ROWS,
    curve::ROWS,
    choice::ROWS,
    flags::ROWS,
    text::ROWS,
    letters::ROWS,
    typelength::ROWS,
    bcd::ROWS,
    counter::ROWS,
    parts::ROWS,
    dos::ROWS,
    maker::ROWS,
    bytes::ROWS,
];

/// Every kind, family by family.
pub fn rows() -> impl Iterator<Item = &'static Row> {
    KINDS.iter().copied().flatten()
}

/// The row of the kind called `name`.
#[must_use]
pub fn row(name: &str) -> Option<&'static Row> {
    rows().find(|row| row.name == name)
}

/// An example in a layout whose numbers stand most significant byte first.
pub(super) const fn big(
    ron: &'static str,
    bytes: &'static str,
    text: &'static str,
    source: &'static str,
) -> Example {
    Example { ron, order: ByteOrder::Big, bytes, text, source }
}

/// An example in a layout whose numbers stand least significant byte first.
pub(super) const fn little(
    ron: &'static str,
    bytes: &'static str,
    text: &'static str,
    source: &'static str,
) -> Example {
    Example { ron, order: ByteOrder::Little, bytes, text, source }
}

/// An option and what it says.
#[must_use]
pub const fn option(name: &'static str, doc: &'static str) -> OptionDoc {
    OptionDoc { name, doc }
}
