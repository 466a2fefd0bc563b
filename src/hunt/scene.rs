//! The images, the natural places in them, and how natural a range is.

use std::collections::BTreeSet;

use super::kernel;
use super::moves::{Move, Moves};
use super::{Question, Untried};
use crate::span::Span;

/// How natural a range and the place of its check value are, from the most to the least natural.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reach {
    /// Everything but the stored value, which stands at the very end or the very beginning.
    Whole,
    /// Range and value together fill a stretch between two strong places: an end of the image, a quarter of it, a
    /// given place, an end of a blank stretch.
    Section,
    /// Range and value together fill a stretch between two aligned places.
    Block,
    /// The value adjoins the range, and the stretch begins at an aligned place or ends at a strong one.
    Edge,
    /// The range lies between two strong places, the value anywhere outside.
    Bounded,
    /// The range lies between two strong places, the value anywhere inside it.
    Inside,
    /// The range lies between two well aligned places, the value anywhere inside it.
    Around,
    /// The range begins at a strong place, its end and the value are anywhere.
    Start,
    /// The value adjoins the range, which begins or ends anywhere.
    Adjoining,
    /// Range and value are anywhere.
    Free,
}

impl Reach {
    /// All, the most natural first.
    pub const ALL: [Reach; 10] = [
        Reach::Whole,
        Reach::Section,
        Reach::Block,
        Reach::Edge,
        Reach::Bounded,
        Reach::Inside,
        Reach::Around,
        Reach::Start,
        Reach::Adjoining,
        Reach::Free,
    ];

    /// What it is, in words that continue "over".
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Reach::Whole => "the whole image",
            Reach::Section => "a section of the image",
            Reach::Block => "an aligned block",
            Reach::Edge => "a range with one natural end, its value beside it",
            Reach::Bounded => "a section, its value elsewhere",
            Reach::Inside => "a section, its value inside",
            Reach::Around => "an aligned block, its value inside",
            Reach::Start => "a range with a natural start, its value anywhere",
            Reach::Adjoining => "any range, its value beside it",
            Reach::Free => "any range, its value anywhere",
        }
    }
}

/// Strong places at most; more would make "natural" mean nothing.
const MOST_STRONG: usize = 32;
/// Stretches between gaps at most whose ends are strong places.
const MOST_HELD: usize = 4;
/// Aligned places at most.
const MOST_ALIGNED: usize = 512;
/// Ends of blocks at most that may have their value inside them.
const MOST_BLOCKS: usize = 128;
/// A stretch of one value is blank from this many bytes on.
const BLANK: usize = 12;

/// What is searched.
pub(super) struct Scene<'a> {
    /// Different images, cut to one length.
    pub images: Vec<&'a [u8]>,
    /// That length.
    pub len: usize,
    /// The stretches that all images hold, in order.
    pub held: Vec<Span>,
    /// How many offsets before each differ between images.
    varying: Vec<u32>,
    /// How those do.
    moves: Moves,
    /// Strong places, sorted.
    pub strong: Vec<usize>,
    /// Aligned and strong places, sorted.
    pub aligned: Vec<usize>,
    /// Strong places and the most aligned ones, sorted.
    pub blocks: Vec<usize>,
    is_strong: Vec<bool>,
    is_aligned: Vec<bool>,
    /// Hits above it are not wanted.
    pub limit: f64,
}

impl<'a> Scene<'a> {
    pub(super) fn new(question: &'a Question<'_>) -> Self {
        let len = question.images.iter().map(|image| image.len()).min().unwrap_or(0);
        let mut images: Vec<&[u8]> = Vec::new();
        for image in &question.images {
            let bytes = Span::new(0, len).of_bytes(image.bytes()).unwrap_or_default();
            if !images.contains(&bytes) {
                images.push(bytes);
            }
        }
        // What [`super::hunt`] lays together has the same gaps in every image.
        let first = question.images.first();
        let base = first.map_or(0, |image| image.base());
        let held: Vec<Span> =
            first.into_iter().flat_map(|image| image.segments()).map(|(at, _)| at).collect();
        let mut varying = Vec::with_capacity(len + 1);
        let mut count = 0;
        varying.push(0);
        for at in 0..len {
            let first = images.first().map(|bytes| bytes[at]);
            count += u32::from(images.iter().any(|bytes| Some(bytes[at]) != first));
            varying.push(count);
        }
        let strong = strong_places(&images, len, &held, &question.bounds);
        let grid = |most: usize| {
            let grain = (len / most).max(8).next_power_of_two();
            // Aligned is what has a round address.
            let from = (grain - (base % grain as u64) as usize) % grain;
            (from..len).step_by(grain).chain(strong.iter().copied()).collect::<BTreeSet<usize>>()
        };
        let (aligned, blocks) = (grid(MOST_ALIGNED), grid(MOST_BLOCKS));
        let flags = |places: &mut dyn Iterator<Item = &usize>| {
            let mut flags = vec![false; len + 1];
            places.for_each(|&at| flags[at] = true);
            flags
        };
        Scene {
            moves: Moves::new(&images, len),
            images,
            len,
            held,
            varying,
            is_strong: flags(&mut strong.iter()),
            is_aligned: flags(&mut aligned.iter()),
            blocks: blocks.into_iter().collect(),
            strong: strong.into_iter().collect(),
            aligned: aligned.into_iter().collect(),
            limit: question.limit,
        }
    }

    /// How many offsets before this one differ between images.
    fn varying_before(&self, offset: usize) -> usize {
        self.varying.get(offset).copied().unwrap_or(0) as usize
    }

    /// Offsets inside `span` that differ between images.
    pub(super) fn varying_in(&self, span: Span) -> usize {
        self.varying_before(span.end) - self.varying_before(span.start)
    }

    /// How those move from the first image to the others, by exclusive or.
    pub(super) fn toggled_in(&self, span: Span) -> &[Move] {
        &self.moves.toggled[self.varying_before(span.start)..self.varying_before(span.end)]
    }

    /// How those move from the first image to the others, by subtraction.
    pub(super) fn added_in(&self, span: Span) -> &[Move] {
        &self.moves.added[self.varying_before(span.start)..self.varying_before(span.end)]
    }

    /// True when there is a single image, whose bytes are all the evidence.
    pub(super) fn is_single(&self) -> bool {
        self.images.len() < 2
    }

    /// How many numbers there are for each position: one for a single image, else one for each difference.
    pub(super) fn channels(&self) -> usize {
        self.images.len().saturating_sub(1).max(1)
    }

    /// True when every image holds all of `span`.
    pub(super) fn is_held(&self, span: Span) -> bool {
        self.held
            .get(self.held.partition_point(|held| held.end < span.end))
            .is_some_and(|held| held.covers(span))
    }

    /// Where a value of `bytes` bytes can be stored: in a single image where it is not one byte repeated, which every
    /// blank stretch holds; in several where they differ.
    pub(super) fn places(&self, bytes: usize) -> Vec<usize> {
        (0..(self.len + 1).saturating_sub(bytes))
            .filter(|&at| {
                let span = Span::of(at, bytes);
                let tells = match self.images.first() {
                    Some(image) if self.is_single() => bytes == 1 || !is_uniform(&image[span.range()]),
                    _ => self.varying_in(span) > 0,
                };
                tells && self.is_held(span)
            })
            .collect()
    }

    /// Images that differ in `over` or in `stored_at`.
    pub(super) fn independent(&self, over: Span, stored_at: Span) -> Vec<&'a [u8]> {
        let mut seen: Vec<&[u8]> = Vec::new();
        for &image in &self.images {
            let same = |other: &&[u8]| [over, stored_at].iter().all(|s| image[s.range()] == other[s.range()]);
            if !seen.iter().any(same) {
                seen.push(image);
            }
        }
        seen
    }

    pub(super) fn reach(&self, over: Span, stored_at: Span) -> Reach {
        let strong = |at: usize| self.is_strong.get(at).copied().unwrap_or(false);
        let aligned = |at: usize| self.is_aligned.get(at).copied().unwrap_or(false);
        let both = Span::new(over.start.min(stored_at.start), over.end.max(stored_at.end));
        let (behind, before) = (over.end == stored_at.start, stored_at.end == over.start);
        let adjoins = behind || before;
        if over.covers(stored_at) {
            return if strong(over.start) && strong(over.end) { Reach::Inside } else { Reach::Around };
        }
        match () {
            () if adjoins && both == Span::new(0, self.len) => Reach::Whole,
            () if adjoins && strong(both.start) && strong(both.end) => Reach::Section,
            () if adjoins && aligned(both.start) && aligned(both.end) => Reach::Block,
            () if behind && aligned(both.start) || before && strong(both.end) => Reach::Edge,
            () if strong(over.start) && strong(over.end) => Reach::Bounded,
            () if adjoins => Reach::Adjoining,
            () if strong(over.start) => Reach::Start,
            () => Reach::Free,
        }
    }

    /// How many ranges with a place there are that are at least as natural as `reach`, for a value of `bytes` bytes.
    pub(super) fn ranges(&self, reach: Reach, bytes: usize) -> f64 {
        let places =
            if self.is_single() { self.len } else { self.varying_in(Span::new(0, self.len)) * bytes.min(2) };
        let (n, p) = (self.len as f64, places.min(self.len) as f64);
        let (strong, aligned) = (self.strong.len() as f64, self.aligned.len() as f64);
        let size = |reach| match reach {
            Reach::Whole => 2.0,
            Reach::Section => strong * strong,
            Reach::Block => aligned * aligned,
            Reach::Edge => (aligned + strong) * p,
            Reach::Bounded => strong * strong * p / 2.0,
            Reach::Inside => strong * strong * p,
            Reach::Around => (self.blocks.len() as f64).powi(2) * p,
            Reach::Start => strong * n * p,
            Reach::Adjoining => n * p,
            Reach::Free => n * n * p / 2.0,
        };
        let own = size(reach);
        Reach::ALL.into_iter().map(size).filter(|&other| other <= own).sum()
    }

    /// How many hits over ranges as natural as `reach` chance alone would give, for checks of `width` bits, when all
    /// images together are `evidence` bits of evidence and `ways` algorithms and byte orders are tried.
    pub(super) fn expected(&self, reach: Reach, width: u32, evidence: f64, ways: usize) -> f64 {
        ways as f64 * self.ranges(reach, width.div_ceil(8) as usize) * (-evidence).exp2()
    }

    /// The same when every image is evidence with all bits of the check.
    fn expected_of(&self, reach: Reach, width: u32) -> f64 {
        let evidence = f64::from(width) * self.images.len() as f64;
        self.expected(reach, width, evidence, kernel::ways(width))
    }

    /// Whether checks of `width` bits, each of `images` images being `evidence` bits of evidence, would tell anything
    /// over ranges as natural as `reach`.
    pub(super) fn tells(&self, reach: Reach, width: u32, evidence: u32, images: usize) -> bool {
        let evidence = f64::from(evidence) * images as f64;
        self.expected(reach, width, evidence, kernel::ways(width)) <= self.limit && self.is_tried(reach)
    }

    /// With a single image the value must adjoin its range, or the range lie between strong places.
    fn is_tried(&self, reach: Reach) -> bool {
        !(self.is_single() && matches!(reach, Reach::Around | Reach::Start | Reach::Free))
    }

    /// For each number of bits, the most natural kind of range that was left out because of chance.
    pub(super) fn untried(&self) -> Vec<Untried> {
        let left_out = |bits: u32| {
            Reach::ALL.into_iter().filter(|&reach| self.is_tried(reach)).find_map(|reach| {
                let expected = self.expected_of(reach, bits);
                (expected > self.limit).then_some(Untried { bits, reach, expected })
            })
        };
        kernel::widths().into_iter().filter_map(left_out).collect()
    }
}

fn is_uniform(bytes: &[u8]) -> bool {
    bytes.iter().all(|byte| bytes.first() == Some(byte))
}

fn strong_places(images: &[&[u8]], len: usize, held: &[Span], given: &[usize]) -> BTreeSet<usize> {
    let mut places: BTreeSet<usize> = [0, len].into();
    // Where the bytes begin and end that there are at all, as far as they are few.
    places.extend(held.iter().take(MOST_HELD).flat_map(|held| [held.start, held.end]));
    if len >= 64 {
        places.extend((1..4).map(|quarter| len * quarter / 4));
    }
    let room = MOST_STRONG.saturating_sub(places.len());
    places.extend(given.iter().copied().filter(|&at| at <= len).take(room));
    // Where a stretch begins or ends that holds one value, the same in every image.
    let same = |at: usize, value: u8| images.iter().all(|bytes| bytes.get(at) == Some(&value));
    let mut at = 0;
    while at < len && places.len() + 2 <= MOST_STRONG {
        let value = images.first().map_or(0, |bytes| bytes[at]);
        let end = (at..len).find(|&at| !same(at, value)).unwrap_or(len);
        if end - at >= BLANK {
            places.extend([at, end]);
        }
        at = end.max(at + 1);
    }
    places
}
