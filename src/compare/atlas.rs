//! Which fields and checks lie over a place.

use crate::check::ones;
use crate::layout::{Decoded, Field, Role, Shape};
use crate::span::Span;

/// What lies over changed bytes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Touched {
    /// The path of the field, or the name of the check.
    pub path: String,
    /// What it is to the repair.
    pub role: Role,
    /// What kind of place it is.
    pub place: TouchedPlace,
}

/// In which way bytes belong to what is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TouchedPlace {
    /// They are the bytes of a field.
    Field,
    /// They store a check.
    Check,
    /// They lie in a group, a table or a row, but in none of its fields.
    Between,
}

#[derive(Debug, Clone, Copy)]
enum Owner {
    Field(usize),
    Check(usize),
}

/// The places of a decoded image, sorted once for many questions.
#[derive(Debug)]
pub struct Atlas<'a> {
    decoded: &'a Decoded,
    /// Leaf fields and stored checks by their first byte.
    leaves: Vec<(Span, Owner)>,
    /// For each of `leaves`, how far it and those before it reach.
    reach: Vec<usize>,
    /// Groups, tables and rows by their first byte, the deepest last.
    holders: Vec<(Span, usize)>,
}

impl<'a> Atlas<'a> {
    /// Sorts the places of `decoded`.
    #[must_use]
    pub fn of(decoded: &'a Decoded) -> Self {
        let mut leaves = Vec::new();
        let mut holders = Vec::new();
        for (index, field) in decoded.fields.iter().enumerate() {
            for &span in field.spans.iter().filter(|s| !s.is_empty()) {
                match field.shape {
                    Shape::Leaf => leaves.push((span, Owner::Field(index))),
                    Shape::Group | Shape::Table | Shape::Row => holders.push((span, index)),
                }
            }
        }
        for (index, check) in decoded.checks.iter().enumerate() {
            if let Some(placed) = &check.placed {
                leaves.push((placed.stored_at, Owner::Check(index)));
            }
        }
        leaves.sort_by_key(|(span, _)| *span);
        holders.sort_by_key(|(span, index)| (span.start, *index));
        let mut far = 0;
        let reach = leaves
            .iter()
            .map(|(span, _)| {
                far = far.max(span.end);
                far
            })
            .collect();
        Atlas { decoded, leaves, reach, holders }
    }

    /// The fields and checks over any byte of `span`.
    fn over(&self, span: Span) -> impl Iterator<Item = (Span, Owner)> + '_ {
        let end = self.leaves.partition_point(|(s, _)| s.start < span.end);
        // Whatever lies before an entry that reaches no further than the start cannot reach further either.
        let start = self.reach.get(..end).unwrap_or_default().partition_point(|&r| r <= span.start);
        let entries = self.leaves.get(start..end).unwrap_or_default();
        entries.iter().copied().filter(move |(s, _)| s.overlaps(span))
    }

    /// The innermost group, table or row over `offset`.
    fn holder(&self, offset: usize) -> Option<&'a Field> {
        let end = self.holders.partition_point(|(s, _)| s.start <= offset);
        let (span, mut index) = *self.holders.get(end.checked_sub(1)?)?;
        if span.contains(offset) {
            return self.decoded.fields.get(index);
        }
        loop {
            let field = self.decoded.fields.get(index)?;
            if field.shape != Shape::Leaf && field.spans.iter().any(|s| s.contains(offset)) {
                return Some(field);
            }
            index = field.parent.filter(|&parent| parent < index)?;
        }
    }

    /// Whether a field lies over `span` that does not fill its bytes.
    pub(super) fn has_bits(&self, span: Span) -> bool {
        let bits = |owner| match owner {
            Owner::Field(index) => self.decoded.fields.get(index).is_some_and(|f| f.bits.is_some()),
            Owner::Check(_) => false,
        };
        self.over(span).any(|(_, owner)| bits(owner))
    }

    /// The bits of the byte at `at` that somebody has described: all of them between the fields of a group, unless that
    /// is of Settings, and those of the fields and checks over it.
    pub(super) fn described(&self, at: usize) -> u8 {
        if self.holder(at).is_some_and(|holder| holder.role != Role::Setting) {
            return 0xFF;
        }
        let bits = |(span, owner)| match owner {
            Owner::Field(index) => self.decoded.fields.get(index).map_or(0, |f| bits_of(f, span, at)),
            Owner::Check(_) => 0xFF,
        };
        self.over(Span::of(at, 1)).map(bits).fold(0, |all, bits| all | bits)
    }

    /// Where inside `span` what lies over the bytes may change, `span`'s own ends left out.
    pub(super) fn borders(&self, span: Span) -> Vec<usize> {
        let mut borders = Vec::new();
        let mut ends = |s: Span| {
            borders.extend([s.start, s.end].into_iter().filter(|&at| span.start < at && at < span.end))
        };
        for (place, _) in self.over(span) {
            ends(place);
        }
        let from = self.holders.partition_point(|(s, _)| s.start <= span.start);
        let to = self.holders.partition_point(|(s, _)| s.start < span.end);
        for (place, _) in self.holders.get(from..to).unwrap_or_default() {
            ends(*place);
        }
        if let Some(holder) = self.holder(span.start) {
            holder.spans.iter().for_each(|&s| ends(s));
        }
        borders
    }

    /// What lies over `span`; fields that do not fill their bytes only when `changed` says so of their index.
    /// Where there is neither field nor check, the innermost group, table or row over the first byte.
    pub(super) fn touched(&self, span: Span, changed: impl Fn(usize) -> bool) -> Vec<Touched> {
        let mut touched = Vec::new();
        for (_, owner) in self.over(span) {
            match owner {
                Owner::Field(index) => {
                    let Some(field) = self.decoded.fields.get(index) else { continue };
                    if field.bits.is_none() || changed(index) {
                        touched.push(of_field(field, TouchedPlace::Field));
                    }
                }
                Owner::Check(index) => {
                    if let Some(check) = self.decoded.checks.get(index) {
                        let path = check.name.clone();
                        touched.push(Touched { path, role: Role::Check, place: TouchedPlace::Check });
                    }
                }
            }
        }
        if touched.is_empty()
            && let Some(holder) = self.holder(span.start)
        {
            touched.push(of_field(holder, TouchedPlace::Between));
        }
        touched
    }
}

/// The bits of the byte at `at` that are the field's, of which `span` is one place.
fn bits_of(field: &Field, span: Span, at: usize) -> u8 {
    let Some((low, bits)) = field.bits else { return 0xFF };
    let used = ones(bits).checked_shl(low).unwrap_or(0);
    let part = |bytes: usize| used.checked_shr(8 * bytes as u32).unwrap_or(0) as u8;
    // The order of its bytes is not told here, so those of either order are.
    part(at - span.start) | part(span.end - 1 - at)
}

fn of_field(field: &Field, place: TouchedPlace) -> Touched {
    Touched { path: field.path.clone(), role: field.role, place }
}
