//! What is in an unknown memory: regions with their evidence, and a first layout drafted from them.
//!
//! Every region carries how many such regions chance alone would put into random bytes of this size
//! ([`Region::chance`]); [`Confidence`] is only a word for that number. Where two readings of the same bytes
//! compete, the one that chance explains least wins.

mod copies;
mod dense;
mod digits;
mod draft;
mod embedded;
mod fill;
mod labels;
mod many;
mod order;
mod pairs;
mod pointers;
mod tables;
mod text;
mod watch;

pub use draft::{Drafted, draft, drafted};
pub use labels::Label;
pub use many::{ByteClass, Course, Stretch};
pub use tables::{Column, ColumnKind, Table, columns};
pub use text::Encoding;

use std::sync::atomic::AtomicBool;

use crate::image::Image;
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
    /// Packed decimal digits, most significant first.
    PackedDigits(String),
    /// A packed-digit date, as year, month, day.
    PackedDate(String),
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
            Kind::PackedDigits(_) => "packed-digits",
            Kind::PackedDate(_) => "packed-date",
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

/// A word for [`Region::chance`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Confidence {
    /// Chance makes one of these in fewer than twenty surveys or more often.
    Weak,
    /// Chance makes one of these in between twenty and ten thousand surveys.
    Likely,
    /// Chance makes one of these in ten thousand surveys or fewer.
    Sure,
}

impl Confidence {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Confidence::Weak => "weak",
            Confidence::Likely => "likely",
            Confidence::Sure => "sure",
        }
    }
}

impl Region {
    /// The word for the number that chance alone would give.
    #[must_use]
    pub fn confidence(&self) -> Confidence {
        if self.chance < 1e-4 {
            Confidence::Sure
        } else if self.chance < 0.05 {
            Confidence::Likely
        } else {
            Confidence::Weak
        }
    }
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
    /// Bytes that lie in a region other than weak ones.
    pub described: usize,
    /// Whether it was called off before its end; what was found until then is told.
    pub cancelled: bool,
}

/// Surveys one image, or several images of one kind of memory.
///
/// The regions are those of the first image; `course` says what the order of the images means, and `layouts` are
/// looked for inside.
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
    let bytes = &first.bytes()[..first.len().min(MOST_BYTES)];
    let mut survey = one(bytes, layouts, watch);
    if images.len() > 1 {
        let all: Vec<&[u8]> = images.iter().map(|i| &i.bytes()[..i.len().min(MOST_BYTES)]).collect();
        survey.stretches = many::stretches(&all, course);
        for stretch in &mut survey.stretches {
            let around = survey.regions.iter().enumerate().filter(|(_, r)| r.at.covers(stretch.at));
            stretch.region = around.min_by_key(|(_, r)| r.at.len()).map(|(index, _)| index);
        }
    }
    survey.cancelled = watch.is_cancelled();
    survey
}

/// Surveys the bytes of one image.
fn one(bytes: &[u8], layouts: &[Layout], watch: Watch<'_>) -> Survey {
    let fills = fill::fills(bytes);
    let mut regions = Vec::new();
    // From the strongest kind of evidence to the weakest; what is explained is not explained again.
    // The parts of the work are about what each takes for a large image.
    regions.extend(embedded::embedded(bytes, layouts, watch.part(0.0, 0.1)));
    regions.extend(text::texts(bytes, watch.part(0.1, 0.4)));
    regions.extend(copies::copies(bytes, watch.part(0.4, 0.6)));
    regions.extend(tables::tables(bytes, &fills, watch.part(0.6, 0.95)));
    regions.extend(dense::dense(bytes));
    regions.extend(digits::digits(bytes, &fills));
    let mut kept = settle(regions);
    let pointers = pointers::pointers(bytes, &kept, &fills);
    kept.extend(pointers);
    kept.extend(fills);
    kept = settle(kept);
    drop_repeats(&mut kept);
    let order = order::order(bytes, &kept);
    let described = covered(kept.iter().filter(|r| r.confidence() > Confidence::Weak).map(|r| r.at));
    watch.done(1.0);
    Survey { regions: kept, order, bytes: bytes.len(), described, ..Survey::default() }
}

/// Keeps, of regions that overlap, the one that chance explains least, sorted by offset.
///
/// Two overlaps are no conflict: a copy may hold text (both are true), and a table may hold text in its rows.
fn settle(mut regions: Vec<Region>) -> Vec<Region> {
    regions.sort_by(|a, b| {
        a.chance.total_cmp(&b.chance).then(b.at.len().cmp(&a.at.len())).then(a.at.start.cmp(&b.at.start))
    });
    let mut kept: Vec<Region> = Vec::new();
    for region in regions {
        let compatible = |other: &Region| {
            !other.at.overlaps(region.at)
                || holds(&other.kind, &region.kind) && other.at.covers(region.at)
                || holds(&region.kind, &other.kind) && region.at.covers(other.at)
        };
        if kept.iter().all(compatible) {
            kept.push(region);
        }
    }
    kept.sort_by_key(|r| (r.at.start, std::cmp::Reverse(r.at.end)));
    kept
}

/// Drops what is said already: what lies in the second and later rows of a table, and inside a plain copy.
fn drop_repeats(regions: &mut Vec<Region>) {
    let said: Vec<Span> = regions
        .iter()
        .filter_map(|r| match &r.kind {
            Kind::Table(table) => Some(Span::new(r.at.start + table.stride, r.at.end)),
            Kind::Copy { turned: Turned::Plain, .. } => Some(r.at),
            _ => None,
        })
        .collect();
    regions.retain(|r| {
        let whole = matches!(r.kind, Kind::Table(_) | Kind::Copy { turned: Turned::Plain, .. });
        !said.iter().any(|s| s.covers(r.at) && !(whole && *s == r.at))
    });
}

/// True when a region of kind `outer` may have one of kind `inner` inside.
const fn holds(outer: &Kind, inner: &Kind) -> bool {
    match outer {
        Kind::Copy { .. } | Kind::Layout(_) => !matches!(inner, Kind::Copy { .. } | Kind::Layout(_)),
        Kind::Table(_) => {
            matches!(inner, Kind::Text { .. } | Kind::PackedDigits(_) | Kind::PackedDate(_) | Kind::Fill(_))
        }
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
