//! Where two images differ, address by address.

use std::borrow::Cow;

use super::runs::{differing, differing_first};
use crate::edit::{Change, Edit};
use crate::image::{GAP_FILL, Image};
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
    let mut bytes = vec![GAP_FILL; front];
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
                Span::of(part.start + run.start, run.len()).go_on(&mut changed);
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

/// The stretches that an image has bytes in.
pub(super) fn mapped(image: &Image) -> Vec<Span> {
    image.segments().map(|(span, _)| span).collect()
}

/// What two sorted lists of spans share.
pub(super) fn common(a: &[Span], b: &[Span]) -> Vec<Span> {
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
