//! A part number or a serial in an image, however it is stored.
//!
//! The image is read as characters in every way of [`encoding`], and the wanted text is searched in each: as it
//! was typed, with its separators left out on both sides, and in two parts with something between. What is like
//! it but not it is a near miss, shown character by character and never called a match. Near misses are given
//! only where chance alone would give none, so that a digit string does not drown in accidents.
//!
//! A large image is searched window by window, so that memory does not grow with it: each window is read with a margin
//! on both sides, and a hit belongs to the window in which it begins.

mod chance;
pub(crate) mod encoding;
mod lookalike;
mod search;

pub use encoding::Encoding;
pub use lookalike::{Difference, differences, look_alike, under_each_other};

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use chance::Shares;
use encoding::{ByteChange, View, other_alphabet};
use search::{MOST_BETWEEN, Match, Split, search, search_split, slips_allowed};

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
}

impl Hit {
    /// How it is stored, in words.
    #[must_use]
    pub fn stored_as(&self) -> String {
        let mut words = self.encoding.words().to_owned();
        if self.separators_differ {
            words.push_str(", separated otherwise");
        }
        if let Some(between) = self.between {
            words.push_str(&format!(", in two parts, {} bytes between", between.len()));
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
    /// Whether the wanted text itself was found.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.hits.first().is_some_and(|h| h.exact)
    }
}

/// Hits that are given; a person reads no more.
const MOST_HITS: usize = 50;
/// Hits by chance above which a near miss in a view says nothing.
const CHANCE_FOR_NEAR: f64 = 0.1;
/// Hits by chance from which on it is told.
const CHANCE_TOLD: f64 = 0.05;

/// Signs that part numbers are written with and without.
fn is_separator(symbol: u8) -> bool {
    matches!(symbol, b' ' | b'-' | b'_' | b'.' | b'/' | b':' | b',')
}

/// Why a text cannot be searched for.
#[must_use]
pub fn refusal(wanted: &str) -> Option<String> {
    if wanted.trim().is_empty() {
        return Some("there is no text to search for".to_owned());
    }
    let odd = wanted.chars().find(|c| !matches!(c, ' '..='~'))?;
    Some(format!(
        "{wanted:?} has the character {odd:?}; part numbers are searched for in letters, digits and signs of ASCII"
    ))
}

/// Searches an image for a text; finds nothing when [`refusal`] has something to say.
#[must_use]
pub fn find(image: &Image, wanted: &str) -> Found {
    find_watched(image, wanted, &|_| true).unwrap_or_default()
}

/// Bytes that are searched at once: a multiple of 12, so that words of 16 bits and groups of six-bit symbols begin in
/// every window as they do in the image.
const WINDOW: usize = 12 * 350_000;

/// As [`find`], with as many threads as the machine runs at once. `watch` is told of how many bytes more were searched
/// and says whether to go on; `None` when it did not want to.
#[must_use]
pub fn find_watched(image: &Image, wanted: &str, watch: &(dyn Fn(usize) -> bool + Sync)) -> Option<Found> {
    in_windows(image, wanted, WINDOW, watch)
}

fn in_windows(
    image: &Image,
    wanted: &str,
    size: usize,
    watch: &(dyn Fn(usize) -> bool + Sync),
) -> Option<Found> {
    let wanted = if refusal(wanted).is_none() { wanted.trim() } else { "" };
    let typed = wanted.to_ascii_uppercase().into_bytes();
    let bare: Vec<u8> = typed.iter().copied().filter(|&s| !is_separator(s)).collect();
    // No way of storing it takes more than two bytes a character, parts and separators between included.
    let margin = (4 * (typed.len() + MOST_BETWEEN)).next_multiple_of(12);
    let windows = image.len().div_ceil(size);
    let (next, goes_on, done) = (AtomicUsize::new(0), AtomicBool::new(true), Mutex::new(Vec::new()));
    let search = || {
        while goes_on.load(Ordering::Relaxed) {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= windows {
                break;
            }
            let window = Span::of(index * size, size.min(image.len() - index * size));
            let part = Gathered::of(image, window, margin, &typed, &bare);
            done.lock().unwrap_or_else(PoisonError::into_inner).push((index, part));
            if !watch(window.len()) {
                goes_on.store(false, Ordering::Relaxed);
            }
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
    parts.sort_unstable_by_key(|(index, _)| *index);
    let mut found = Found::default();
    for (_, part) in parts {
        found.by_chance += part.by_chance;
        found.more += part.more;
        found.hits.extend(part.hits);
    }
    if windows > 1 {
        let (hits, more) = ranked(std::mem::take(&mut found.hits));
        found.hits = hits;
        found.more += more;
    }
    found.findings = findings(&found, wanted);
    Some(found)
}

/// What is found in one window of an image.
struct Gathered<'a> {
    image: &'a Image,
    /// Hits that begin here count.
    window: Span,
    /// What is looked at: the window and its margins.
    read: Span,
    hits: Vec<Hit>,
    /// Hits that were left out.
    more: usize,
    by_chance: f64,
}

/// One view of the image with what is wanted in it.
struct Look<'a> {
    view: View,
    encoding: Encoding,
    symbols: &'a [u8],
    wanted: &'a [u8],
}

impl<'a> Gathered<'a> {
    fn of(image: &'a Image, window: Span, margin: usize, typed: &[u8], bare: &[u8]) -> Self {
        let read = Span::new(window.start.saturating_sub(margin), (window.end + margin).min(image.len()));
        let mut gathered = Gathered { image, window, read, hits: Vec::new(), more: 0, by_chance: 0.0 };
        if !typed.is_empty() {
            for view in View::all() {
                gathered.view(view, typed, bare);
            }
            gathered.numbers(bare);
        }
        let (hits, more) = ranked(std::mem::take(&mut gathered.hits));
        Gathered { hits, more, ..gathered }
    }

    fn bytes(&self) -> &'a [u8] {
        self.read.of_bytes(self.image.bytes()).unwrap_or_default()
    }

    /// The share of what chance gives in what is looked at that falls into the window.
    fn share(&self) -> f64 {
        self.window.len() as f64 / self.read.len().max(1) as f64
    }

    /// Whether near misses would tell something, when chance gives so many in what is looked at: in the whole image
    /// it gives more.
    fn tells(&self, hits: f64) -> bool {
        hits * (self.image.len() as f64 / self.read.len().max(1) as f64) <= CHANCE_FOR_NEAR
    }

    fn view(&mut self, view: View, typed: &[u8], bare: &[u8]) {
        let digits = bare.iter().all(u8::is_ascii_digit);
        let hexadecimal = bare.iter().all(u8::is_ascii_hexdigit) && bare.iter().any(u8::is_ascii_digit);
        if view.digits_only()
            && (bare.len() < 3 || !hexadecimal || (!digits && view == View::Bytes(ByteChange::DigitOf)))
        {
            return;
        }
        let symbols = view.symbols(self.bytes());
        let shares = Shares::of(&symbols);
        for encoding in view.encodings() {
            let Some(wanted) = spelled(encoding, if view.digits_only() { bare } else { typed }) else {
                continue;
            };
            let look = Look { view, encoding, symbols: &symbols, wanted: &wanted };
            let slips = slips_allowed(wanted.len());
            let tells = view.has_near_misses() && self.tells(shares.hits(&wanted, slips));
            let near = if tells { slips } else { 0 };
            if !matches!(view, View::Bytes(ByteChange::DropTop)) {
                self.by_chance += shares.hits(&wanted, 0) * self.share();
            }
            for found in search(&symbols, &wanted, near) {
                self.add(&look, found);
            }
        }
        // Separators and splits are matters of plain and wide text.
        if matches!(view, View::Bytes(ByteChange::None) | View::Alternate(_) | View::Swapped) {
            let look = Look { view, encoding: view.encodings()[0], symbols: &symbols, wanted: typed };
            self.bare(&look, bare, &shares);
            let mut spellings = vec![typed];
            if bare != typed {
                spellings.push(bare);
            }
            for wanted in spellings {
                for split in search_split(&symbols, wanted, is_separator) {
                    self.add_split(&Look { wanted, ..look }, split);
                }
            }
        }
    }

    /// Searches with the separators left out, in the wanted text and in the image.
    fn bare(&mut self, look: &Look<'_>, bare: &[u8], shares: &Shares) {
        let kept: Vec<usize> = (0..look.symbols.len()).filter(|&i| !is_separator(look.symbols[i])).collect();
        if bare.is_empty() || (kept.len() == look.symbols.len() && bare == look.wanted) {
            return;
        }
        let symbols: Vec<u8> = kept.iter().map(|&i| look.symbols[i]).collect();
        let slips = slips_allowed(bare.len());
        let near = if self.tells(shares.hits(bare, slips)) { slips } else { 0 };
        for found in search(&symbols, bare, near) {
            let (Some(&start), Some(&last)) = (kept.get(found.start), kept.get(found.start + found.len - 1))
            else {
                continue;
            };
            // A long run of separators parts two fields; that is a split.
            if last - start < 2 * found.len {
                let as_typed = last + 1 - start == found.len && bare == look.wanted;
                if !as_typed {
                    let whole = Match { slips: found.slips, start, len: last + 1 - start };
                    self.push(look, whole, bare, true, None);
                }
            }
        }
    }

    fn add(&mut self, look: &Look<'_>, found: Match) {
        self.push(look, found, look.wanted, false, None);
    }

    fn add_split(&mut self, look: &Look<'_>, split: Split) {
        let whole = Match { slips: 0, start: split.start, len: split.again + split.second - split.start };
        let (first, _) = look.view.place(split.start, split.start + split.first);
        let (second, _) = look.view.place(split.again, split.again + split.second);
        self.push(look, whole, look.wanted, false, Some((split, Span::new(first.end, second.start))));
    }

    fn push(
        &mut self,
        look: &Look<'_>,
        found: Match,
        wanted: &[u8],
        separators_differ: bool,
        split: Option<(Split, Span)>,
    ) {
        let bytes = self.bytes();
        let (encoding, inside, bit) = located(look, found, bytes);
        let Some(place) = self.here(inside) else { return };
        let all = found.start..found.start + found.len;
        let parts = match split {
            Some((s, _)) => vec![s.start..s.start + s.first, s.again..s.again + s.second],
            None => vec![all],
        };
        let read = |range: std::ops::Range<usize>| -> Vec<u8> {
            range.map(|i| look.view.character(bytes, look.symbols, i)).collect()
        };
        let shown: Vec<String> = parts.into_iter().map(|p| readable(encoding, &read(p))).collect();
        let text = shown.join(" + ");
        let wanted_text = readable(encoding, wanted);
        let exact = found.slips == 0;
        let differs = if exact {
            Vec::new()
        } else {
            let upper = text.to_uppercase();
            let compared: String = if separators_differ {
                upper.chars().filter(|&c| !u8::try_from(c).is_ok_and(is_separator)).collect()
            } else {
                upper
            };
            differences(&wanted_text, &compared)
        };
        self.hits.push(Hit {
            place,
            bit,
            encoding,
            separators_differ,
            between: split.map(|(_, between)| self.in_image(between)),
            exact,
            wanted: wanted_text,
            text,
            differs,
        });
    }

    /// Where a place of what is looked at is in the image.
    fn in_image(&self, place: Span) -> Span {
        Span::of(self.read.start + place.start, place.len())
    }

    /// The same, when it is a place of this window that has all its bytes.
    fn here(&self, place: Span) -> Option<Span> {
        let place = self.in_image(place);
        (self.window.contains(place.start) && self.image.is_mapped(place)).then_some(place)
    }

    /// A serial of digits can be stored as the number it is.
    fn numbers(&mut self, bare: &[u8]) {
        let digits = std::str::from_utf8(bare).ok().filter(|t| t.bytes().all(|b| b.is_ascii_digit()));
        // Two bytes are found everywhere.
        let Some(number) = digits.and_then(|d| d.parse::<u64>().ok()).filter(|&n| n > 0xFFFF) else { return };
        let big = number.to_be_bytes();
        let short = usize::try_from(number.leading_zeros() / 8).unwrap_or(0);
        for (encoding, reversed) in [(Encoding::NumberBig, false), (Encoding::NumberLittle, true)] {
            let mut wanted = big[short..].to_vec();
            if reversed {
                wanted.reverse();
            }
            let bytes = self.bytes();
            self.by_chance += Shares::of(bytes).hits(&wanted, 0) * self.share();
            for found in search(bytes, &wanted, 0) {
                if let Some(place) = self.here(Span::of(found.start, found.len)) {
                    self.hits.push(Hit {
                        place,
                        bit: 0,
                        encoding,
                        separators_differ: false,
                        between: None,
                        exact: true,
                        wanted: number.to_string(),
                        text: number.to_string(),
                        differs: Vec::new(),
                    });
                }
            }
        }
    }
}

/// The wanted symbols as they appear in the view of an encoding.
fn spelled(encoding: Encoding, wanted: &[u8]) -> Option<Vec<u8>> {
    match encoding {
        Encoding::Backwards => Some(wanted.iter().rev().copied().collect()),
        Encoding::SixBit { from_space: false, .. } => wanted.iter().map(|&s| other_alphabet(s)).collect(),
        _ => Some(wanted.to_vec()),
    }
}

/// The symbols of a view as a person reads them: the inverse of [`spelled`].
fn readable(encoding: Encoding, symbols: &[u8]) -> String {
    let character = |&s: &u8| match encoding {
        Encoding::SixBit { from_space: false, .. } => char::from(other_alphabet(s).unwrap_or(s)),
        _ => char::from(s),
    };
    match encoding {
        Encoding::Backwards => symbols.iter().rev().map(character).collect(),
        _ => symbols.iter().map(character).collect(),
    }
}

/// Where a match lies; wide text is told from text in every other byte by the zeros between.
fn located(look: &Look<'_>, found: Match, bytes: &[u8]) -> (Encoding, Span, u8) {
    let (place, bit) = look.view.place(found.start, found.start + found.len);
    if look.encoding != Encoding::EveryOther {
        return (look.encoding, place, bit);
    }
    let zero = |at: Option<usize>| at.and_then(|a| bytes.get(a)) == Some(&0);
    if !(place.start + 1..place.end).step_by(2).all(|at| zero(Some(at))) {
        return (Encoding::EveryOther, place, bit);
    }
    let (before, after) = (zero(place.start.checked_sub(1)), zero(Some(place.end)));
    let little = after && (!before || place.start % 2 == 0);
    match (little, before) {
        (true, _) => (Encoding::Utf16Little, Span::new(place.start, place.end + 1), bit),
        (false, true) => (Encoding::Utf16Big, Span::new(place.start - 1, place.end), bit),
        (false, false) => (Encoding::EveryOther, place, bit),
    }
}

/// Sorts hits, the best first, and leaves out what another, better hit at the same place says already.
fn ranked(mut hits: Vec<Hit>) -> (Vec<Hit>, usize) {
    hits.sort_by(|a, b| {
        let key = |h: &Hit| {
            (!h.exact, h.differs.len(), h.between.is_some(), h.separators_differ, h.encoding, h.place)
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

fn findings(found: &Found, wanted: &str) -> Vec<Finding> {
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
                "read the label again, character by character, and read the chip again",
            )
            .at(hit.place),
        ),
        None => findings.push(Finding::new(
            Weight::Doubt,
            Code::NotFound,
            format!(
                "{wanted:?} stands nowhere in the image, however it could be stored, nor anything like it"
            ),
            "this memory does not hold it, or holds it in parts or in code",
            "search for a shorter part of it with `readproof find IMAGE TEXT`, or for another number from the label",
        )),
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
