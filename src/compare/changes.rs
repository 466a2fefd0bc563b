//! The change list of two images, what it means by their layout, and totals.

use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap, HashSet};

use super::atlas::{Atlas, Touched, TouchedPlace};
use super::runs::{differing, differing_first};
use crate::edit::{Change, Edit};
use crate::image::Image;
use crate::layout::{self, Check, Decoded, Field, FieldState, Layout, Role, Shape};
use crate::span::Span;

/// The largest gap that is put in front of an image so that it begins where another one does.
const MAX_FRONT: u64 = 16 << 20;

/// Both images with the same first address: the one that begins later gets a gap in front. `None` when they lie so
/// far apart that no address can be meant to be the same; they are then best compared from their first bytes.
#[must_use]
pub fn common_base<'a>(a: &'a Image, b: &'a Image) -> Option<(Cow<'a, Image>, Cow<'a, Image>)> {
    let base = a.base().min(b.base());
    let overlap = a.base().max(b.base()) < a.address(a.len()).min(b.address(b.len()));
    if a.base() != b.base() && !overlap {
        return None;
    }
    Some((from_base(a, base)?, from_base(b, base)?))
}

fn from_base(image: &Image, base: u64) -> Option<Cow<'_, Image>> {
    let front = image.base() - base;
    if front == 0 {
        return Some(Cow::Borrowed(image));
    }
    let front = usize::try_from(front).ok().filter(|_| front <= MAX_FRONT)?;
    let mut bytes = vec![crate::image::GAP_FILL; front];
    bytes.extend_from_slice(image.bytes());
    let moved = image.gaps().iter().map(|g| Span::new(g.start + front, g.end + front));
    let mut gaps: Vec<Span> = vec![Span::new(0, front)];
    gaps.extend(moved);
    let mut moved = Image::with_gaps(base, bytes, gaps);
    moved.start = image.start;
    moved.header.clone_from(&image.header);
    Some(Cow::Owned(moved))
}

/// Where two images with the same first address differ.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Differences {
    /// Bytes that both have, with other contents: each stretch as long as possible, in order.
    pub changed: Vec<Span>,
    /// Bytes that only the first image has.
    pub only_before: Vec<Span>,
    /// Bytes that only the second image has.
    pub only_after: Vec<Span>,
    /// Bytes that both have.
    pub common_bytes: usize,
}

impl Differences {
    /// Compares offset by offset.
    #[must_use]
    pub fn between(before: &Image, after: &Image) -> Self {
        Self::of_first(before, after, usize::MAX, &mut |_| true).map(|(all, _)| all).unwrap_or_default()
    }

    /// As [`Differences::between`], but what both have is only compared until about `most` stretches differ; true when
    /// it ended there. `watch` is told of how many bytes more were compared and says whether to go on; `None` when it
    /// did not want to.
    pub fn of_first(
        before: &Image,
        after: &Image,
        most: usize,
        watch: &mut dyn FnMut(usize) -> bool,
    ) -> Option<(Self, bool)> {
        let (mut changed, done) = differing_first(before.bytes(), after.bytes(), most, watch)?;
        let (in_before, in_after) = (mapped(before), mapped(after));
        let both = common(&in_before, &in_after);
        if before.gaps().len() + after.gaps().len() > 0 {
            changed = common(&changed, &both);
        }
        let differences = Differences {
            changed,
            only_before: without(&in_before, &in_after),
            only_after: without(&in_after, &in_before),
            common_bytes: both.iter().map(|s| s.len()).sum(),
        };
        Some((differences, done < before.len().min(after.len())))
    }

    /// As [`Differences::between`] for images that are known to differ in the places `touched` only, if at all; it
    /// costs what those hold.
    #[must_use]
    pub fn within(before: &Image, after: &Image, mut touched: Vec<Span>) -> Self {
        if before.len() != after.len() || before.gaps().len() + after.gaps().len() > 0 {
            return Differences::between(before, after);
        }
        touched.sort_unstable_by_key(|s| s.start);
        let mut changed: Vec<Span> = Vec::new();
        let mut done = 0;
        for span in touched {
            let part = Span::new(span.start.max(done), span.end.max(done));
            let (Some(a), Some(b)) = (part.of_bytes(before.bytes()), part.of_bytes(after.bytes())) else {
                continue;
            };
            for run in differing(a, b) {
                let run = Span::of(part.start + run.start, run.len());
                match changed.last_mut() {
                    Some(last) if last.end == run.start => last.end = run.end,
                    _ => changed.push(run),
                }
            }
            done = part.end;
        }
        Differences { changed, common_bytes: before.len(), ..Differences::default() }
    }

    /// True when nothing differs.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.changed.is_empty() && self.same_places()
    }

    /// True when both have bytes in the same places.
    #[must_use]
    pub fn same_places(&self) -> bool {
        self.only_before.is_empty() && self.only_after.is_empty()
    }

    /// Bytes that both have and that differ.
    #[must_use]
    pub fn changed_bytes(&self) -> usize {
        self.changed.iter().map(|s| s.len()).sum()
    }

    /// The edits that make the common bytes of `before` those of `after`; applied to `before` they give `after`
    /// where both have bytes in the same places.
    #[must_use]
    pub fn change(&self, before: &Image, after: &Image, label: impl Into<String>) -> Change {
        let edit = |span: &Span| {
            let (old, new) = (span.of_bytes(before.bytes())?, span.of_bytes(after.bytes())?);
            Some(Edit { at: span.start, before: old.to_vec(), after: new.to_vec() })
        };
        Change { label: label.into(), edits: self.changed.iter().filter_map(edit).collect() }
    }
}

fn mapped(image: &Image) -> Vec<Span> {
    image.segments().map(|(span, _)| span).collect()
}

/// What two sorted lists of spans share.
fn common(a: &[Span], b: &[Span]) -> Vec<Span> {
    let (mut i, mut j, mut shared) = (0, 0, Vec::new());
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        shared.extend(x.intersection(*y));
        if x.end < y.end { i += 1 } else { j += 1 }
    }
    shared
}

/// What of the sorted list `a` is not in the sorted list `b`.
fn without(a: &[Span], b: &[Span]) -> Vec<Span> {
    let (mut left, mut j) = (Vec::new(), 0);
    for &span in a {
        let mut start = span.start;
        while b.get(j).is_some_and(|y| y.end <= start) {
            j += 1;
        }
        for hole in b.get(j..).unwrap_or_default().iter().take_while(|y| y.start < span.end) {
            if start < hole.start {
                left.push(Span::new(start, hole.start));
            }
            start = hole.end.max(start);
        }
        if start < span.end {
            left.push(Span::new(start, span.end));
        }
    }
    left
}

/// Bytes that differ and lie under the same fields.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// Where.
    pub span: Span,
    /// What lies over them, in either image; empty where the layout says nothing.
    pub touched: Vec<Touched>,
}

impl Changed {
    /// True when the layout says nothing about the bytes.
    ///
    /// Bytes between the fields of a Setting group are nobody's: a group is seldom given a role on purpose, and
    /// what it does not describe must not pass for a setting.
    #[must_use]
    pub fn is_undescribed(&self) -> bool {
        self.touched.iter().all(|t| t.place == TouchedPlace::Between && t.role == Role::Setting)
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
        let changes = differences.changed.iter().map(|&span| Changed { span, touched: Vec::new() }).collect();
        return Comparison { differences, changes, ..Comparison::default() };
    };
    let pairs = pairs(&was.fields, &is.fields);
    let changed_pairs: Vec<_> = pairs.into_iter().filter(|p| p.differs(before, after)).collect();
    let changed_before: HashSet<usize> = changed_pairs.iter().filter_map(|p| Some(p.before?.0)).collect();
    let changed_after: HashSet<usize> = changed_pairs.iter().filter_map(|p| Some(p.after?.0)).collect();
    let (old, new) = (Atlas::of(was), Atlas::of(is));
    let mut changes = Vec::new();
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
            match changes.last_mut() {
                Some(Changed { span: last, touched: t }) if last.end == start && *t == touched => {
                    last.end = cut
                }
                _ => changes.push(Changed { span, touched }),
            }
            start = cut;
        }
    }
    let fields: Vec<FieldChange> = changed_pairs.iter().map(Pair::change).collect();
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

    fn change(&self) -> FieldChange {
        let path = self.after.or(self.before).map(|(_, f)| f.path.clone()).unwrap_or_default();
        let owned = |side: Option<(usize, &Field)>| side.map(|(_, f)| f.clone());
        FieldChange { path, before: owned(self.before), after: owned(self.after) }
    }
}

/// The leaf fields of both, those of the first in their order, then what only the second has.
fn pairs<'a>(was: &'a [Field], is: &'a [Field]) -> Vec<Pair<'a>> {
    fn leaves(fields: &[Field]) -> impl Iterator<Item = (usize, &Field)> {
        let there = |f: &Field| f.shape == Shape::Leaf && f.state != FieldState::Absent;
        fields.iter().enumerate().filter(move |(_, f)| there(f))
    }
    // Two images of one kind nearly always have the same fields in the same order.
    let mut after: HashMap<&str, usize> = HashMap::new();
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
    after.extend(leaves(is).map(|(n, f)| (f.path.as_str(), n)));
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
