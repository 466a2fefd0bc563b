//! What is in an unknown memory: regions with their evidence, and a first layout drafted from them.
//!
//! Every region carries how many such regions chance alone would put into bytes of this size ([`Region::chance`]).
//! Where two readings of the same bytes compete, the one that chance explains least wins. How often regions of that
//! kind and chance are right is [`Region::probability`], measured on memories whose layout is known.

mod columns;
mod confidence;
mod copies;
mod dates;
mod dense;
mod digits;
mod draft;
mod embedded;
mod fill;
mod labels;
mod linked;
mod many;
mod order;
mod pairs;
mod pointers;
mod sixbit;
mod tables;
mod text;
mod watch;
mod weigh;

pub use columns::{Column, ColumnKind, columns};
pub use confidence::Confidence;
pub use dates::DateForm;
pub use draft::{Drafted, draft, drafted};
pub use labels::Label;
pub use linked::Header;
pub use many::{ByteClass, Course, Stretch};
pub use tables::Table;

use std::collections::HashMap;
use std::sync::atomic::AtomicBool;

use crate::find::Encoding;
use crate::finding::Finding;
use crate::image::{Common, Image};
use crate::layout::Layout;
use crate::span::{ByteOrder, Span};
use watch::Watch;

/// Bytes that a survey looks at; the rest of a larger image is named as not looked at.
/// The slowest parts grow with the size times the longest row, so this keeps a survey within seconds.
pub const MOST_BYTES: usize = 4 << 20;

/// What a region holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// One value throughout.
    Fill(u8),
    /// Text: its encoding, what it says, and what it looks like.
    Text {
        /// How the letters are stored.
        encoding: Encoding,
        /// What it says, without padding.
        text: String,
        /// What kind of text it looks like.
        label: Label,
    },
    /// Decimal digits, packed or one a byte, most significant first.
    PackedDigits {
        /// The digits.
        digits: String,
        /// How they are stored.
        encoding: Encoding,
    },
    /// A date, perhaps with a time of day, that is stored part by part.
    Date {
        /// The date, as year, month, day.
        said: String,
        /// How it is stored.
        form: DateForm,
    },
    /// Records one behind the other, each with its length before it.
    Linked {
        /// How the length is said.
        header: Header,
        /// Number of records.
        records: usize,
    },
    /// The same bytes as at another offset.
    Copy {
        /// Offset of the first of the two.
        of: usize,
        /// How the bytes were turned.
        turned: Turned,
    },
    /// Rows of one shape.
    Table(Table),
    /// A number that equals the offset where something begins.
    Pointer {
        /// Where it points.
        to: usize,
        /// Its byte order.
        order: ByteOrder,
    },
    /// A number that equals the length of what follows it.
    Length {
        /// The length it states.
        bytes: usize,
        /// Its byte order.
        order: ByteOrder,
    },
    /// Bytes without visible structure: compressed, encrypted or random.
    Dense,
    /// A layout whose marks fit here.
    Layout(String),
}

/// How a copy differs from its original.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Turned {
    /// Not at all.
    Plain,
    /// Every bit is inverted.
    Inverted,
    /// The last byte stands first.
    Mirrored,
}

impl Kind {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Kind::Fill(_) => "fill",
            Kind::Text { label, .. } => label.word(),
            Kind::PackedDigits { encoding: Encoding::UnpackedDigits, .. } => "digits",
            Kind::PackedDigits { .. } => "packed-digits",
            Kind::Date { form: DateForm { packed: true, .. }, .. } => "packed-date",
            Kind::Date { .. } => "date",
            Kind::Linked { .. } => "records",
            Kind::Copy { .. } => "copy",
            Kind::Table(_) => "table",
            Kind::Pointer { .. } => "pointer",
            Kind::Length { .. } => "length",
            Kind::Dense => "dense",
            Kind::Layout(_) => "layout",
        }
    }
}

/// A part of the image and what it seems to hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Where.
    pub at: Span,
    /// What.
    pub kind: Kind,
    /// What speaks for it: one sentence without its full stop.
    pub evidence: String,
    /// How many such regions random bytes of the surveyed size would hold.
    pub chance: f64,
}

/// What a survey came to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Survey {
    /// What was found, in the order of offsets.
    pub regions: Vec<Region>,
    /// The byte order that the numbers speak for, and the evidence.
    pub order: Option<(ByteOrder, String)>,
    /// With several images: how the bytes differ between them.
    pub stretches: Vec<Stretch>,
    /// Bytes that were looked at.
    pub bytes: usize,
    /// Bytes of the first image that lie in gaps: they were never read, so that nothing is told of them.
    pub in_gaps: usize,
    /// Bytes behind [`MOST_BYTES`], which were not looked at.
    pub beyond: usize,
    /// Bytes that lie in a region other than weak ones.
    pub described: usize,
    /// Whether it was called off before its end; what was found until then is told.
    pub cancelled: bool,
    /// That the images share no address.
    pub findings: Vec<Finding>,
}

/// Surveys one image, or several images of one kind of memory.
///
/// The regions are those of the first image; `course` says what the order of the images means, and `layouts` are
/// looked for inside. Images are compared address by address, or from their first bytes on where they share no
/// address; what lies before the first image's first byte is left out.
#[must_use]
pub fn survey(images: &[&Image], course: Course, layouts: &[Layout]) -> Survey {
    under(images, course, layouts, Watch::nobody())
}

/// As [`survey`]. `progress` is told the part done, 0 to 1; setting `cancel` ends the survey soon.
#[must_use]
pub fn watched(
    images: &[&Image],
    course: Course,
    layouts: &[Layout],
    progress: &(dyn Fn(f64) + Sync),
    cancel: &AtomicBool,
) -> Survey {
    under(images, course, layouts, Watch::new(progress, cancel))
}

fn under(images: &[&Image], course: Course, layouts: &[Layout], watch: Watch<'_>) -> Survey {
    let Some(first) = images.first() else { return Survey::default() };
    let mut survey = one(first, layouts, watch);
    if let Some((common, remark)) = Common::of_one_kind(images).filter(|_| images.len() > 1) {
        survey.stretches = stretches(&common, course);
        survey.findings.extend(remark);
        let mut index = Index::default();
        survey.regions.iter().enumerate().for_each(|(item, region)| index.add(region.at, item));
        for stretch in &mut survey.stretches {
            let around = index.around(stretch.at).filter(|&item| survey.regions[item].at.covers(stretch.at));
            stretch.region = around.min_by_key(|&item| survey.regions[item].at.len());
        }
    }
    survey.cancelled = watch.is_cancelled();
    survey
}

/// How the images differ, by offsets of the first one.
fn stretches(common: &Common<'_>, course: Course) -> Vec<Stretch> {
    let most = MOST_BYTES.saturating_sub(common.shift);
    let tails: Vec<&[u8]> = common.tails.iter().map(|tail| &tail[..tail.len().min(most)]).collect();
    let mut found = many::stretches(&tails, &common.gaps, course);
    found.iter_mut().for_each(|stretch| stretch.at = stretch.at.moved(common.shift));
    // What only the first image has before the others begin.
    if common.shift > 0 {
        found.insert(0, Stretch::missing(Span::new(0, common.shift.min(MOST_BYTES))));
    }
    found
}

/// Surveys the bytes of one image. What lies in its gaps was never read, so that nothing is told of it.
fn one(image: &Image, layouts: &[Layout], watch: Watch<'_>) -> Survey {
    let looked_at = Span::new(0, image.len().min(MOST_BYTES));
    let bytes = &image.bytes()[looked_at.range()];
    let gaps: Vec<Span> = image.gaps().iter().filter_map(|gap| gap.intersection(looked_at)).collect();
    let held: Vec<Span> = image.segments().filter_map(|(at, _)| at.intersection(looked_at)).collect();
    let held_bytes: usize = held.iter().map(|at| at.len()).sum();
    let of_whole = |at: usize| at as f64 / bytes.len().max(1) as f64;
    let (mut regions, mut fills) = (Vec::new(), Vec::new());
    // From the strongest kind of evidence to the weakest; what is explained is not explained again.
    // The parts of the work are about what each takes for a large image.
    regions.extend(embedded::embedded(bytes, &gaps, layouts, watch.part(0.0, 0.1)));
    for &at in &held {
        let watch = watch.part(0.1, 0.9).part(of_whole(at.start), of_whole(at.end));
        let (own, own_fills) = inside(&bytes[at.range()], watch);
        // The more bytes there are around these, the oftener chance makes such a region.
        let oftener = held_bytes as f64 / at.len() as f64;
        let placed = |region| placed(region, at.start, oftener);
        regions.extend(own.into_iter().filter_map(placed));
        fills.extend(own_fills.into_iter().filter_map(placed));
    }
    regions.extend(copies::copies(bytes, &gaps, watch.part(0.9, 1.0)));
    let mut kept = settle(regions);
    let pointers = pointers::pointers(bytes, image.base(), &gaps, &kept, &fills);
    kept.extend(pointers);
    kept.extend(fills);
    kept = settle(kept);
    drop_repeats(&mut kept);
    let order = order::order(bytes, &gaps, &kept);
    let described = covered(kept.iter().filter(|r| r.confidence() > Confidence::Weak).map(|r| r.at));
    watch.done(1.0);
    Survey {
        regions: kept,
        order,
        bytes: held_bytes,
        in_gaps: bytes.len() - held_bytes,
        beyond: image.len() - bytes.len(),
        described,
        ..Survey::default()
    }
}

/// What is found in bytes by themselves, and the fills among them.
fn inside(bytes: &[u8], watch: Watch<'_>) -> (Vec<Region>, Vec<Region>) {
    let fills = fill::fills(bytes);
    let mut regions = text::texts(bytes, watch.part(0.0, 0.35));
    regions.extend(linked::linked(bytes, watch.part(0.35, 0.5)));
    regions.extend(tables::tables(bytes, &fills, watch.part(0.5, 1.0)));
    regions.extend(dense::dense(bytes));
    regions.extend(digits::digits(bytes, &fills));
    regions.extend(dates::dates(bytes));
    (regions, fills)
}

/// A region of bytes that begin at `start`, of an image that has so many times more of them; `None` where that many
/// explain it.
fn placed(mut region: Region, start: usize, oftener: f64) -> Option<Region> {
    const MOST_CHANCE: f64 = 0.5;
    region.at = region.at.moved(start);
    // What is dense is seen, not reckoned.
    if region.kind != Kind::Dense {
        region.chance *= oftener;
    }
    (oftener <= 1.0 || region.chance <= MOST_CHANCE).then_some(region)
}

/// Keeps, of regions that overlap, the one that chance explains least, sorted by offset.
///
/// Some overlaps are no conflict: a copy may hold text (both are true), and a table may hold text in its rows.
fn settle(mut regions: Vec<Region>) -> Vec<Region> {
    regions.sort_by(|a, b| {
        a.chance.total_cmp(&b.chance).then(b.at.len().cmp(&a.at.len())).then(a.at.start.cmp(&b.at.start))
    });
    // What is kept, by its start, in two layers: what may hold others, and what may not. Inside one layer, what is
    // kept overlaps only where one holds the other, so that few need to be looked at.
    let mut kept: Vec<Region> = Vec::new();
    let mut index = Index::default();
    for region in regions {
        let fits = index.around(region.at).all(|other| {
            let other: &Region = &kept[other];
            holds(&other.kind, &region.kind) && other.at.covers(region.at)
                || holds(&region.kind, &other.kind) && region.at.covers(other.at)
        });
        if fits {
            index.add(region.at, kept.len());
            kept.push(region);
        }
    }
    kept.sort_by_key(|r| (r.at.start, std::cmp::Reverse(r.at.end)));
    kept
}

/// Finds what overlaps a span, by blocks of the image.
#[derive(Default)]
struct Index {
    blocks: HashMap<usize, Vec<(Span, usize)>>,
    /// What is so long that it would lie in too many blocks.
    long: Vec<(Span, usize)>,
}

impl Index {
    const BLOCK: usize = 256;
    const MOST_BLOCKS: usize = 16;

    fn blocks(at: Span) -> std::ops::RangeInclusive<usize> {
        at.start / Self::BLOCK..=at.end.saturating_sub(1).max(at.start) / Self::BLOCK
    }

    fn add(&mut self, at: Span, item: usize) {
        if Self::blocks(at).count() > Self::MOST_BLOCKS {
            self.long.push((at, item));
            return;
        }
        for block in Self::blocks(at) {
            self.blocks.entry(block).or_default().push((at, item));
        }
    }

    /// The items that overlap `at`, some of them more than once.
    fn around(&self, at: Span) -> impl Iterator<Item = usize> {
        let inside = Self::blocks(at).filter_map(|block| self.blocks.get(&block)).flatten();
        inside.chain(&self.long).filter(move |(span, _)| span.overlaps(at)).map(|(_, item)| *item)
    }
}

/// Drops what is said already: what lies in the columns of text of a table, and fills and digits that lie in its
/// second and later rows or inside a plain copy.
fn drop_repeats(regions: &mut Vec<Region>) {
    let said: Vec<(Span, Kind)> = regions
        .iter()
        .filter_map(|r| match &r.kind {
            Kind::Table(table) => Some((Span::new(r.at.start + table.stride, r.at.end), r.kind.clone())),
            Kind::Copy { turned: Turned::Plain, .. } | Kind::Text { .. } => Some((r.at, r.kind.clone())),
            _ => None,
        })
        .collect();
    let mut index = Index::default();
    said.iter().enumerate().for_each(|(item, (at, _))| index.add(*at, item));
    regions.retain(|r| {
        let says = |item: usize| {
            let (at, kind) = &said[item];
            let in_text = |table: &Table| {
                let column = (r.at.start - at.start) % table.stride;
                let inside = |c: &&Column| c.at <= column && column < c.at + c.bytes;
                table.columns.iter().find(inside).is_some_and(|c| c.kind == ColumnKind::Text)
            };
            at.covers(r.at)
                && match (&r.kind, kind) {
                    (Kind::Table(_) | Kind::Copy { turned: Turned::Plain, .. }, _) => *at != r.at,
                    (inner, Kind::Text { .. }) => matches!(inner, Kind::Fill(_)),
                    (Kind::Text { .. } | Kind::Linked { .. }, Kind::Table(table)) => in_text(table),
                    (Kind::Text { .. } | Kind::Date { .. } | Kind::Linked { .. }, _) => false,
                    _ => true,
                }
        };
        !index.around(r.at).any(says)
    });
}

/// True when a region of kind `outer` may have one of kind `inner` inside.
const fn holds(outer: &Kind, inner: &Kind) -> bool {
    match outer {
        Kind::Copy { .. } | Kind::Layout(_) => !matches!(inner, Kind::Copy { .. } | Kind::Layout(_)),
        Kind::Table(_) | Kind::Linked { .. } => matches!(
            inner,
            Kind::Text { .. }
                | Kind::PackedDigits { .. }
                | Kind::Date { .. }
                | Kind::Fill(_)
                | Kind::Copy { .. }
        ),
        Kind::Text { .. } => matches!(inner, Kind::Fill(_)),
        _ => false,
    }
}

/// How many offsets lie in at least one of `spans`, which come sorted by their start.
fn covered(spans: impl Iterator<Item = Span>) -> usize {
    let (mut total, mut end) = (0, 0);
    for span in spans {
        total += span.end.saturating_sub(span.start.max(end));
        end = end.max(span.end);
    }
    total
}
