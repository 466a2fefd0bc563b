//! A part number or a serial in an image, however it is stored.
//!
//! The image is read as characters in every way of [`encoding`], and the wanted text is searched in each: as it
//! was typed, with its separators left out on both sides, and in two parts with something between. What is like
//! it but not it is a near miss, shown character by character and never called a match. Near misses are given
//! only where chance alone would give none, so that a digit string does not drown in accidents.
//!
//! Every way of storing it is looked for in one pass over the bytes, see [`probe`]; only where the bytes could begin
//! something is anything read as characters. A large image is searched window by window, and a hit belongs to the
//! window in which it begins.

mod chance;
pub(crate) mod encoding;
mod gather;
mod lookalike;
mod probe;
mod search;

pub use encoding::Encoding;
pub use lookalike::{Difference, differences, look_alike, under_each_other};

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::count;
use gather::Plan;

/// A place where the wanted text stands, or something like it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hit {
    /// The bytes it lies in.
    pub place: Span,
    /// The bit of the first byte at which it begins, counted in the order of reading; 0 unless it is packed.
    pub bit: u8,
    /// How it is stored.
    pub encoding: Encoding,
    /// Whether it is the wanted text only once separators are left out.
    pub separators_differ: bool,
    /// Bytes between its two parts, when it is split.
    pub between: Option<Span>,
    /// Whether it is the wanted text; a near miss is not.
    pub exact: bool,
    /// The wanted text as it was compared: without separators where they were left out.
    pub wanted: String,
    /// What is stored, as text.
    pub text: String,
    /// Where it differs; empty when it is exact.
    pub differs: Vec<Difference>,
    /// The longer text that an exact hit is a part of: letters or digits touch it, at once or behind a hyphen.
    pub within: Option<String>,
}

impl Hit {
    /// Whether it is the wanted text, and nothing longer that holds it.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.exact && self.within.is_none()
    }

    /// How it is stored, in words.
    #[must_use]
    pub fn stored_as(&self) -> String {
        let mut words = self.encoding.words().to_owned();
        if self.separators_differ {
            words.push_str(", separated otherwise");
        }
        if let Some(between) = self.between {
            words.push_str(&format!(", in two parts, {} between", count(between.len(), "byte")));
        }
        if let Some(longer) = &self.within {
            words.push_str(&format!(", a part of {longer:?}"));
        }
        words
    }
}

/// What a search came to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// Exact hits first, then near misses with few differences, then by how simply they are stored.
    pub hits: Vec<Hit>,
    /// Hits that were left out because there are too many.
    pub more: usize,
    /// Exact hits that chance alone would give, over all encodings.
    pub by_chance: f64,
    /// That it was not found, that only something like it was, that it is too short.
    pub findings: Vec<Finding>,
}

impl Found {
    /// Whether the wanted text itself was found, not only as a part of something longer.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.hits.first().is_some_and(Hit::is_whole)
    }

    /// Takes the hits of which somebody knows that nothing belongs to them but what they are, such as the value of a
    /// field, for whole.
    pub fn are_whole(&mut self, known: impl Fn(&Hit) -> bool) {
        self.hits.iter_mut().filter(|hit| known(hit)).for_each(|hit| hit.within = None);
        self.hits.sort_by_key(|hit| (!hit.exact, !hit.is_whole()));
        if self.is_exact() {
            self.findings.retain(|f| f.code != Code::NearMiss);
        }
    }
}

/// Hits that are given; a person reads no more.
const MOST_HITS: usize = 50;
/// Hits by chance from which on it is told.
const CHANCE_TOLD: f64 = 0.05;

/// What to do where something else is stored than was wanted.
pub(crate) const CHECK_LABEL: &str = "read the label again, character by character, and read the chip again";

/// Why a text cannot be searched for.
#[must_use]
pub fn refusal(wanted: &str) -> Option<String> {
    if wanted.trim().is_empty() {
        return Some("there is no text to search for".to_owned());
    }
    let odd = wanted.chars().find(|c| !matches!(c, ' '..='~'))?;
    Some(format!(
        "{wanted:?} has {}; part numbers are searched for in letters, digits and signs of ASCII",
        lookalike::name(odd)
    ))
}

/// Searches an image for a text; finds nothing when [`refusal`] has something to say.
#[must_use]
pub fn find(image: &Image, wanted: &str) -> Found {
    find_watched(image, wanted, &|_, _| true).unwrap_or_default()
}

/// Told of how many bytes more were searched and what was found in them; says whether to go on.
pub type Watch<'a> = &'a (dyn Fn(usize, &[Hit]) -> bool + Sync);

/// Bytes that are searched between two looks at whether to go on.
const WINDOW: usize = 4 << 20;

/// As [`find`], with as many threads as the machine runs at once; `None` when `watch` did not want to go on.
#[must_use]
pub fn find_watched(image: &Image, wanted: &str, watch: Watch<'_>) -> Option<Found> {
    in_windows(image, wanted, WINDOW, watch)
}

fn in_windows(image: &Image, wanted: &str, size: usize, watch: Watch<'_>) -> Option<Found> {
    let wanted = if refusal(wanted).is_none() { wanted.trim() } else { "" };
    let plan = Plan::of(image, wanted);
    let windows = image.len().div_ceil(size);
    let (next, goes_on, done) = (AtomicUsize::new(0), AtomicBool::new(true), Mutex::new(Vec::new()));
    let search = || {
        while goes_on.load(Ordering::Relaxed) {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= windows {
                break;
            }
            let window = Span::of(index * size, size.min(image.len() - index * size));
            let (hits, more) = plan.hits(window);
            if !watch(window.len(), &hits) {
                goes_on.store(false, Ordering::Relaxed);
            }
            done.lock().unwrap_or_else(PoisonError::into_inner).push((index, hits, more));
        }
    };
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(windows);
    std::thread::scope(|scope| {
        (1..threads).for_each(|_| drop(scope.spawn(search)));
        search();
    });
    let mut parts = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    if !goes_on.into_inner() && parts.len() < windows {
        return None;
    }
    parts.sort_unstable_by_key(|(index, ..)| *index);
    let mut found = Found { by_chance: plan.by_chance, ..Found::default() };
    for (_, hits, more) in parts {
        found.more += more;
        found.hits.extend(hits);
    }
    if windows > 1 {
        let (hits, more) = ranked(std::mem::take(&mut found.hits));
        found.hits = hits;
        found.more += more;
    }
    found.findings = findings(&found, wanted, image);
    Some(found)
}

/// Sorts hits, the best first, and leaves out what another, better hit at the same place says already.
fn ranked(mut hits: Vec<Hit>) -> (Vec<Hit>, usize) {
    hits.sort_by(|a, b| {
        let key = |h: &Hit| {
            (
                !h.exact,
                h.within.is_some(),
                h.differs.len(),
                h.between.is_some(),
                h.separators_differ,
                h.encoding,
                h.place,
            )
        };
        key(a).cmp(&key(b))
    });
    let mut kept: Vec<Hit> = Vec::new();
    let mut more = 0;
    for hit in hits {
        let same_place = |k: &Hit| {
            let shared = k.place.intersection(hit.place).map_or(0, Span::len);
            shared * 2 >= k.place.len().min(hit.place.len()).max(1)
        };
        if kept.iter().any(same_place) {
            continue;
        }
        if kept.len() < MOST_HITS {
            kept.push(hit);
        } else {
            more += 1;
        }
    }
    (kept, more)
}

fn findings(found: &Found, wanted: &str, image: &Image) -> Vec<Finding> {
    let mut findings = Vec::new();
    let exact = found.hits.iter().filter(|h| h.exact).count();
    match found.hits.first() {
        Some(hit) if !hit.exact => findings.push(
            Finding::new(
                Weight::Doubt,
                Code::NearMiss,
                format!("the image holds {:?}, not {wanted:?}", hit.text),
                format!(
                    "{}, so this is another part until the label says otherwise",
                    how_many(hit.differs.len())
                ),
                CHECK_LABEL,
            )
            .at(hit.place),
        ),
        None => findings.push(Finding::new(
            Weight::Doubt,
            Code::NotFound,
            format!(
                "{wanted:?} stands nowhere in the image, however it could be stored, nor anything like it"
            ),
            match image.gaps().iter().map(|gap| gap.len()).sum() {
                0 => "this memory does not hold it, or holds it in parts or in code".to_owned(),
                gaps => format!(
                    "this memory does not hold it, or holds it in parts, in code, or in the {} that the file does not \
                     hold",
                    count(gaps, "byte")
                ),
            },
            "search for a shorter part of it with `readproof find IMAGE TEXT`, or for another number from the label",
        )),
        Some(Hit { within: Some(longer), place, .. }) => findings.push(
            Finding::new(
                Weight::Doubt,
                Code::NearMiss,
                format!("the image holds {wanted:?} only as a part of {longer:?}"),
                "a longer number is another part, unless what touches it is another field",
                CHECK_LABEL,
            )
            .at(*place),
        ),
        Some(_) => {}
    }
    if found.by_chance >= CHANCE_TOLD {
        findings.push(Finding::new(
            Weight::Note,
            Code::ShortText,
            format!(
                "chance alone would give {} of a text as short as {wanted:?} in this image",
                hits_in_words(found.by_chance)
            ),
            match exact {
                0 => "a longer text says more",
                _ => "a hit may be an accident",
            },
            "search for a longer part of the number with `readproof find IMAGE TEXT`",
        ));
    }
    findings
}

/// `one character differs`, `2 characters differ`.
#[must_use]
pub fn how_many(differs: usize) -> String {
    match differs {
        1 => "one character differs".to_owned(),
        n => format!("{n} characters differ"),
    }
}

fn hits_in_words(expected: f64) -> String {
    if expected >= 9.5 {
        format!("about {expected:.0} hits")
    } else if expected >= 0.95 {
        format!("about {expected:.1} hits")
    } else {
        format!("a hit in one image of {:.0}", (1.0 / expected).max(2.0))
    }
}

#[cfg(test)]
mod tests;
