//! What a layout says, names resolved: items in scopes.
//!
//! A *scope* is a list of fields that stand side by side: the top of the layout, the fields of a group, the
//! fields of a row. An *item* is one field of a scope as it is written; an image can hold it many times (once
//! per row) or not at all. Items and scopes refer to each other by index, so that nothing is searched for by
//! name when an image is decoded.

use std::sync::Arc;

use regex::Regex;

use super::Role;
use super::expr::Expr;
use crate::check::{Algorithm, StoredBytes};
use crate::notation::TextSpan;
use crate::span::ByteOrder;
use crate::value::{Decimal, Kind, Scaling, Value};

/// Index of an item.
pub(super) type ItemId = usize;
/// Index of a scope.
pub(super) type ScopeId = usize;

/// Everything that a layout says about places.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Model {
    pub items: Vec<Item>,
    /// The first is the top.
    pub scopes: Vec<Scope>,
    pub fits: Vec<Alternative>,
}

/// Fields side by side.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Scope {
    /// The item that holds it; `None` for the top.
    pub owner: Option<ItemId>,
    /// The items in the order of the layout, which is that of screens. An item's slot is its index here.
    pub slots: Vec<ItemId>,
    /// The slots in the order of decoding, the shapes of a choice left out: what a field hangs on comes first.
    pub order: Vec<usize>,
    /// Whether `order` is another one than that of the layout.
    pub permuted: bool,
    pub checks: Vec<CheckSpec>,
}

/// One field as it is written.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Item {
    pub name: Arc<str>,
    /// Where its name stands in the layout.
    pub span: TextSpan,
    pub scope: ScopeId,
    pub slot: usize,
    pub place: ItemPlace,
    pub size: Option<Expr>,
    /// The size of a group is told by a field inside it.
    pub late_size: bool,
    pub when: Option<Expr>,
    pub form: Form,
    pub order: ByteOrder,
    pub role: Role,
    pub rest: Option<Rest>,
    pub unit: Option<Arc<str>>,
    pub limits: Option<Limits>,
    pub pattern: Option<Pattern>,
    pub note: Option<Arc<str>>,
    pub caution: Option<Arc<str>>,
    /// Written once by the maker; never changed through a layout.
    pub fixed: bool,
    pub copies: Vec<CopyPlace>,
    /// The kind as shown.
    pub kind: Arc<str>,
    /// Another item of its list has the same name.
    pub twin: bool,
}

/// Where an item lies.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum ItemPlace {
    /// Behind the field before it.
    Next,
    /// At an offset from an origin.
    At(Origin, Expr),
    /// In bits of several places, the most significant first.
    Pieces(Vec<Piece>),
}

/// What an offset counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Origin {
    /// The start of the enclosing group or row.
    #[default]
    Parent,
    /// The start of the image.
    Image,
    /// The end of what encloses it; offsets are negative.
    End,
}

/// Bits of one place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Piece {
    pub origin: Origin,
    pub at: Expr,
    /// Bytes that form the number the bits are counted in.
    pub bytes: usize,
    /// The lowest bit, 0 being the least significant.
    pub low: u32,
    pub bits: u32,
}

/// A second place that holds the same.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CopyPlace {
    pub origin: Origin,
    pub at: Expr,
    /// Every bit is the other way.
    pub inverted: bool,
}

/// What an item is made of.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Form {
    /// Bytes that are one value.
    Leaf(Kind),
    /// A value worked out from others; it has no bytes.
    Computed(Box<ComputedForm>),
    /// Fields of its own.
    Group(ScopeId),
    /// Rows of fields.
    Table(Box<TableForm>),
    /// One of several items of the same scope, chosen by a tag; their slots follow this one's.
    ByTag(Box<TagForm>),
}

/// A computed value.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ComputedForm {
    pub expr: Expr,
    /// What is shown in the place of a number.
    pub labels: Vec<(i128, Arc<str>)>,
    /// How the number is shown, when it is not as it is.
    pub scaling: Option<Scaling>,
}

/// Rows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TableForm {
    /// How many; without it, rows until something ends them or no byte is left.
    pub rows: Option<Expr>,
    /// Bytes from one row to the next; without it each row begins where the one before ends.
    pub stride: Option<Expr>,
    /// Rows go on only while this holds, asked before each row.
    pub going: Option<Expr>,
    /// The row in which this holds is the last one.
    pub until: Option<Expr>,
    /// The fields of a row. A row that is a single value has a scope with one item without a name.
    pub scope: ScopeId,
    /// Whether each row is a value and no fields.
    pub bare: bool,
}

/// A choice.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TagForm {
    pub tag: Expr,
    /// What the tag must be, and the slot of the shape that is then taken.
    pub shapes: Vec<(Tags, usize)>,
    /// The slot of the shape for every other tag.
    pub other: Option<usize>,
}

/// Values of a tag.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Tags {
    /// From the first to the last, both included.
    Numbers(i128, i128),
    Text(String),
}

/// What a Record holds when nothing is recorded.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Rest {
    /// Every byte is this one.
    Fill(u8),
    /// A value as it would be typed, until the kind is known.
    Typed(String),
    /// A value.
    Value(Value),
}

/// The least and the greatest value, as they are shown: after scaling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limits {
    pub least: Option<Decimal>,
    pub most: Option<Decimal>,
}

/// What text must look like, from its first to its last character.
#[derive(Debug, Clone)]
pub(super) struct Pattern {
    pub text: Arc<str>,
    pub regex: Regex,
}

impl PartialEq for Pattern {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

/// A check as it is written.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CheckSpec {
    pub name: Arc<str>,
    pub span: TextSpan,
    pub algorithm: Algorithm,
    pub over: Vec<Stretch>,
    pub stored: Stretch,
    pub stored_bytes: StoredBytes,
    pub order: ByteOrder,
    pub when: Option<Expr>,
}

/// Bytes of an image, counted from the start of the enclosing group or row.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Stretch {
    /// From the first up to, not including, the second.
    Between(Expr, Expr),
    /// From the first, so many bytes.
    Bytes(Origin, Expr, Expr),
    /// Those of a field.
    Field(Expr),
}

/// One way an image can show that it is of this layout.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Alternative {
    /// Where it stands in the layout.
    pub span: TextSpan,
    /// Sizes it can have; any when empty.
    pub sizes: Vec<Sizes>,
    pub marks: Vec<Mark>,
}

/// Sizes of an image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sizes {
    pub least: usize,
    pub most: usize,
    /// Only multiples of this.
    pub step: usize,
}

/// What an image of this layout shows.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Mark {
    /// One of several byte strings at a place; with a mask, only its bits count.
    Bytes { at: usize, any: Vec<Vec<u8>>, mask: Option<Vec<u8>> },
    /// A check that is sealed, and the evidence it counts for.
    Sealed { check: Arc<str>, bits: u32, span: TextSpan },
    /// Something that holds at the top of the layout, and the evidence it counts for.
    Holds { that: Expr, bits: u32 },
}

impl TagForm {
    /// The slots of every shape.
    pub(super) fn slots(&self) -> impl Iterator<Item = usize> + '_ {
        self.shapes.iter().map(|(_, slot)| *slot).chain(self.other)
    }
}
