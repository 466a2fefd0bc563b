//! The change list of two images, what it means by their layout, and totals.

use std::collections::{BTreeMap, HashMap, HashSet};

use super::atlas::{Atlas, Touched, TouchedPlace};
use super::differences::Differences;
use crate::image::Image;
use crate::layout::{self, Check, Decoded, Field, FieldState, Layout, Role, Shape};
use crate::span::Span;

/// Bytes that differ and lie under the same fields.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// Where.
    pub span: Span,
    /// What lies over them, in either image; empty where the layout says nothing.
    pub touched: Vec<Touched>,
    /// Whether bits changed beside those of the fields that are named.
    pub has_loose_bits: bool,
}

impl Changed {
    /// True when the layout says nothing about the bytes, or not about all of their bits.
    ///
    /// Bytes between the fields of a Setting group are nobody's: a group is seldom given a role on purpose, and
    /// what it does not describe must not pass for a setting.
    #[must_use]
    pub fn is_undescribed(&self) -> bool {
        self.has_loose_bits
            || self.touched.iter().all(|t| t.place == TouchedPlace::Between && t.role == Role::Setting)
    }

    /// The roles of what lies over the bytes, the most guarded first.
    #[must_use]
    pub fn guarded_role(&self) -> Option<Role> {
        if self.is_undescribed() {
            return None;
        }
        self.touched.iter().map(|t| t.role).min_by_key(|role| guard(*role))
    }

    /// The paths of what lies over the bytes.
    pub fn paths(&self) -> impl Iterator<Item = &str> {
        self.touched.iter().map(|t| t.path.as_str())
    }
}

/// Which of two roles speaks for bytes that have both: the one that asks for more care.
const fn guard(role: Role) -> u8 {
    match role {
        Role::Identity => 0,
        Role::Calibration => 1,
        Role::Reserved => 2,
        Role::Record => 3,
        Role::Setting => 4,
        Role::Check => 5,
        Role::Filler => 6,
    }
}

/// A field whose value is not the same in both images.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldChange {
    /// Its path.
    pub path: String,
    /// The field in the first image; `None` where it has none of that path.
    pub before: Option<Field>,
    /// The field in the second image; `None` where it has none of that path.
    pub after: Option<Field>,
    /// Whether the second image has no bytes where the field was.
    pub is_cut_off: bool,
}

impl FieldChange {
    /// The field where it is, in the second image if it is there.
    #[must_use]
    pub fn field(&self) -> Option<&Field> {
        self.after.as_ref().or(self.before.as_ref())
    }

    /// What it is to the repair.
    #[must_use]
    pub fn role(&self) -> Option<Role> {
        self.field().map(|f| f.role)
    }

    /// True for a Record that was written and now holds its rest value.
    #[must_use]
    pub fn came_to_rest(&self) -> bool {
        let rest = |f: &Option<Field>| f.as_ref().and_then(|f| f.at_rest);
        rest(&self.before) == Some(false) && rest(&self.after) == Some(true)
    }

    /// True for a Record that is not there any more although its bytes are: its count went to rest.
    #[must_use]
    pub fn is_counted_out(&self) -> bool {
        self.role() == Some(Role::Record) && self.after.is_none() && !self.is_cut_off
    }
}

/// One check in both images.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckPair {
    /// Its name.
    pub name: String,
    /// In the first image; `None` where it has none of that name.
    pub before: Option<Check>,
    /// In the second image; `None` where it has none of that name.
    pub after: Option<Check>,
}

/// How much changed in one role.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Total {
    /// The role; `None` for bytes that the layout does not describe.
    pub role: Option<Role>,
    /// Fields whose value changed.
    pub fields: usize,
    /// Bytes that differ.
    pub bytes: usize,
}

/// What differs between two images and what that means by their layout.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Comparison {
    /// Where they differ.
    pub differences: Differences,
    /// The change list: the differing bytes, cut where other fields begin.
    pub changes: Vec<Changed>,
    /// The fields whose value changed, in the order of the layout.
    pub fields: Vec<FieldChange>,
    /// All checks, whether changed or not.
    pub checks: Vec<CheckPair>,
    /// How much changed in each role, those without a change left out.
    pub totals: Vec<Total>,
}

/// What `layout` says about both images.
#[must_use]
pub fn decode_both(layout: &Layout, before: &Image, after: &Image) -> (Decoded, Decoded) {
    (layout::decode(layout, before), layout::decode(layout, after))
}

/// Compares two images with the same first address; `decoded` is what their layout says about each.
#[must_use]
pub fn compare(before: &Image, after: &Image, decoded: Option<(&Decoded, &Decoded)>) -> Comparison {
    compare_at(Differences::between(before, after), before, after, decoded)
}

/// As [`compare`], for images that are known to differ in these places.
#[must_use]
pub fn compare_at(
    differences: Differences,
    before: &Image,
    after: &Image,
    decoded: Option<(&Decoded, &Decoded)>,
) -> Comparison {
    let Some((was, is)) = decoded else {
        let changes = differences.changed.iter().map(|&span| Changed {
            span,
            touched: Vec::new(),
            has_loose_bits: false,
        });
        let changes = changes.collect();
        return Comparison { differences, changes, ..Comparison::default() };
    };
    let pairs = pairs(&was.fields, &is.fields);
    let changed_pairs: Vec<_> = pairs.into_iter().filter(|p| p.differs(before, after)).collect();
    let changed_before: HashSet<usize> = changed_pairs.iter().filter_map(|p| Some(p.before?.0)).collect();
    let changed_after: HashSet<usize> = changed_pairs.iter().filter_map(|p| Some(p.after?.0)).collect();
    let (old, new) = (Atlas::of(was), Atlas::of(is));
    let mut changes: Vec<Changed> = Vec::new();
    for &run in &differences.changed {
        let mut cuts = old.borders(run);
        cuts.extend(new.borders(run));
        cuts.push(run.end);
        cuts.sort_unstable();
        cuts.dedup();
        let mut start = run.start;
        for cut in cuts {
            let span = Span::new(start, cut);
            let mut touched = old.touched(span, |i| changed_before.contains(&i));
            touched.extend(new.touched(span, |i| changed_after.contains(&i)));
            tidy(&mut touched);
            let has_loose_bits = (old.has_bits(span) || new.has_bits(span))
                && span.range().any(|at| {
                    let byte = |image: &Image| image.bytes().get(at).copied().unwrap_or_default();
                    (byte(before) ^ byte(after)) & !(old.described(at) | new.described(at)) != 0
                });
            match changes.last_mut() {
                Some(last)
                    if last.span.end == start
                        && (&last.touched, last.has_loose_bits) == (&touched, has_loose_bits) =>
                {
                    last.span.end = cut
                }
                _ => changes.push(Changed { span, touched, has_loose_bits }),
            }
            start = cut;
        }
    }
    let fields: Vec<FieldChange> = changed_pairs.iter().map(|pair| pair.change(after)).collect();
    let totals = totals(&changes, &fields);
    Comparison { differences, changes, fields, checks: check_pairs(&was.checks, &is.checks), totals }
}

/// Fields and checks once each; where one of the images has a field, the other's rows and groups say nothing more.
fn tidy(touched: &mut Vec<Touched>) {
    if touched.iter().any(|t| t.place != TouchedPlace::Between) {
        touched.retain(|t| t.place != TouchedPlace::Between);
    }
    // A stored check may be a field of that role as well; the field is then the better name.
    if touched.iter().any(|t| t.place == TouchedPlace::Field && t.role == Role::Check) {
        touched.retain(|t| t.place != TouchedPlace::Check);
    }
    touched.sort();
    touched.dedup();
}

/// A leaf field in either image.
struct Pair<'a> {
    before: Option<(usize, &'a Field)>,
    after: Option<(usize, &'a Field)>,
}

impl Pair<'_> {
    fn differs(&self, before: &Image, after: &Image) -> bool {
        let (Some((_, was)), Some((_, is))) = (self.before, self.after) else { return true };
        if was.text != is.text || was.state != is.state || was.unit != is.unit {
            return true;
        }
        // Padding and copies belong to the field although its value does not show them. Of bits that do not fill
        // their bytes only the value is known to be the field's.
        was.bits.is_none()
            && was.spans.len() == is.spans.len()
            && was
                .spans
                .iter()
                .zip(&is.spans)
                .any(|(w, i)| w.of_bytes(before.bytes()) != i.of_bytes(after.bytes()))
    }

    fn change(&self, after: &Image) -> FieldChange {
        let path = self.after.or(self.before).map(|(_, f)| f.path.clone()).unwrap_or_default();
        let owned = |side: Option<(usize, &Field)>| side.map(|(_, f)| f.clone());
        let is_cut_off = self.before.is_some_and(|(_, f)| f.spans.iter().any(|&span| !after.is_mapped(span)));
        FieldChange { path, before: owned(self.before), after: owned(self.after), is_cut_off }
    }
}

/// The leaf fields of both, those of the first in their order, then what only the second has.
fn pairs<'a>(was: &'a [Field], is: &'a [Field]) -> Vec<Pair<'a>> {
    fn leaves(fields: &[Field]) -> impl Iterator<Item = (usize, &Field)> {
        let there = |f: &Field| f.shape == Shape::Leaf && f.state != FieldState::Absent;
        fields.iter().enumerate().filter(move |(_, f)| there(f))
    }
    // Two images of one kind nearly always have the same fields in the same order.
    let same_order =
        was.len() == is.len() && was.iter().zip(is).all(|(w, i)| w.path == i.path && w.shape == i.shape);
    if same_order {
        return was
            .iter()
            .zip(is)
            .enumerate()
            .filter(|(_, (w, i))| {
                w.shape == Shape::Leaf && (w.state != FieldState::Absent || i.state != FieldState::Absent)
            })
            .map(|(n, (w, i))| Pair { before: Some((n, w)), after: Some((n, i)) })
            .collect();
    }
    let mut after: HashMap<&str, usize> = leaves(is).map(|(n, f)| (f.path.as_str(), n)).collect();
    let mut pairs: Vec<Pair<'a>> = leaves(was)
        .map(|(n, f)| {
            let other = after.remove(f.path.as_str());
            Pair { before: Some((n, f)), after: other.and_then(|i| Some((i, is.get(i)?))) }
        })
        .collect();
    let new = leaves(is).filter(|(_, f)| after.contains_key(f.path.as_str()));
    pairs.extend(new.map(|(n, f)| Pair { before: None, after: Some((n, f)) }));
    pairs
}

fn check_pairs(was: &[Check], is: &[Check]) -> Vec<CheckPair> {
    let named = |checks: &[Check], name: &str| checks.iter().find(|c| c.name == name).cloned();
    let mut pairs: Vec<CheckPair> = was
        .iter()
        .map(|c| CheckPair { name: c.name.clone(), before: Some(c.clone()), after: named(is, &c.name) })
        .collect();
    let new = is.iter().filter(|c| !was.iter().any(|w| w.name == c.name));
    pairs.extend(new.map(|c| CheckPair { name: c.name.clone(), before: None, after: Some(c.clone()) }));
    pairs
}

fn totals(changes: &[Changed], fields: &[FieldChange]) -> Vec<Total> {
    let mut by_role: BTreeMap<Option<Role>, (usize, usize)> = BTreeMap::new();
    for change in changes {
        by_role.entry(change.guarded_role()).or_default().1 += change.span.len();
    }
    for field in fields {
        by_role.entry(field.role()).or_default().0 += 1;
    }
    let roles = Role::ALL.into_iter().map(Some).chain([None]);
    roles
        .filter_map(|role| by_role.get(&role).map(|&(fields, bytes)| Total { role, fields, bytes }))
        .collect()
}
