//! Everything that is looked for in an image, and what is found of it in a part of it.

use std::borrow::Cow;
use std::sync::atomic::{AtomicU8, Ordering};

use memchr::memmem::Finder;

use super::chance::Shares;
use super::encoding::{ByteChange, Encoding, View, other_alphabet};
use super::lookalike::differences;
use super::probe::{Probe, Probes};
use super::search::{LEAST_PART, MOST_BETWEEN, Match, Split, match_at, pieces, slips_allowed, split_from};
use super::{Hit, ranked};
use crate::image::Image;
use crate::span::Span;

/// Hits by chance above which a near miss in a view says nothing.
const CHANCE_FOR_NEAR: f64 = 0.1;

/// Matches of one look that are kept in a window; a text that stands in more places says nothing.
const MOST_MATCHES: usize = 1024;

/// Parts of a large image from which chance is reckoned, and their size: whole words and whole groups of symbols.
const PARTS: usize = 256;
const PART: usize = 12 * 64;

/// Signs that part numbers are written with and without.
pub(super) fn is_separator(symbol: u8) -> bool {
    matches!(symbol, b' ' | b'-' | b'_' | b'.' | b'/' | b':' | b',')
}

/// One thing that is looked for.
#[derive(Debug)]
struct Look {
    view: View,
    encoding: Encoding,
    /// As the view shows it.
    wanted: Vec<u8>,
    how: How,
}

/// How the wanted symbols may stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    /// As they are, with so many slips.
    Whole(usize),
    /// With separators left out on both sides, and so many slips.
    Bare {
        /// How many.
        slips: usize,
        /// The text was typed without any, so that it is found as it is where none are stored.
        is_typed: bool,
    },
    /// In two parts.
    Split,
}

/// A look that was met.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Met {
    look: usize,
    found: Match,
    split: Option<Split>,
}

/// A serial of digits as the number it is.
struct Number {
    encoding: Encoding,
    bytes: Vec<u8>,
    text: String,
}

/// Everything that is looked for in an image.
pub(super) struct Plan<'a> {
    image: &'a Image,
    looks: Vec<Look>,
    probes: Probes,
    numbers: Vec<Number>,
    /// Bytes that no match is longer than.
    reach: usize,
    /// Exact hits that chance alone would give, over all encodings.
    pub(super) by_chance: f64,
    /// Whether bytes of one value alone hold nothing: 0 as long as nobody asked, 1 for no, 2 for yes.
    dull: [AtomicU8; 256],
}

impl<'a> Plan<'a> {
    /// What is to be looked for when `wanted` is; nothing when that is empty.
    pub(super) fn of(image: &'a Image, wanted: &str) -> Self {
        let typed = wanted.to_ascii_uppercase().into_bytes();
        let bare: Vec<u8> = typed.iter().copied().filter(|&s| !is_separator(s)).collect();
        let mut plan = Plan {
            image,
            looks: Vec::new(),
            probes: Probes::new(),
            numbers: Vec::new(),
            // No way of storing it takes more than two bytes a character, parts and separators between included.
            reach: 4 * (typed.len() + MOST_BETWEEN),
            by_chance: 0.0,
            dull: [const { AtomicU8::new(0) }; 256],
        };
        if !typed.is_empty() {
            let held = held(image);
            let sample = sample(&held);
            let parts = held.len() as f64 / sample.len().max(1) as f64;
            View::all().for_each(|view| plan.view(view, &typed, &bare, &sample, parts));
            plan.numbers(&bare, &Shares::of(&sample, parts));
        }
        plan
    }

    fn view(&mut self, view: View, typed: &[u8], bare: &[u8], sample: &[u8], parts: f64) {
        let digits = bare.iter().all(u8::is_ascii_digit);
        let hexadecimal = bare.iter().all(u8::is_ascii_hexdigit) && bare.iter().any(u8::is_ascii_digit);
        if view.digits_only()
            && (bare.len() < 3 || !hexadecimal || (!digits && view == View::Bytes(ByteChange::DigitOf)))
        {
            return;
        }
        let shares = Shares::of(&view.symbols(sample), parts);
        // Near misses would tell something only where chance gives none.
        let near = |wanted: &[u8]| {
            let slips = slips_allowed(wanted.len());
            if shares.hits(wanted, slips) <= CHANCE_FOR_NEAR { slips } else { 0 }
        };
        for encoding in view.encodings() {
            let Some(wanted) = spelled(encoding, if view.digits_only() { bare } else { typed }) else {
                continue;
            };
            if !matches!(view, View::Bytes(ByteChange::DropTop)) {
                self.by_chance += shares.hits(&wanted, 0);
            }
            let slips = if view.has_near_misses() { near(&wanted) } else { 0 };
            self.look(Look { view, encoding, wanted, how: How::Whole(slips) });
        }
        // Separators and splits are matters of plain and wide text.
        if matches!(view, View::Bytes(ByteChange::None) | View::Alternate(_) | View::Swapped) {
            let encoding = view.encodings()[0];
            let mut look =
                |wanted: &[u8], how| self.look(Look { view, encoding, wanted: wanted.to_vec(), how });
            look(bare, How::Bare { slips: near(bare), is_typed: bare == typed });
            look(typed, How::Split);
            if bare != typed {
                look(bare, How::Split);
            }
        }
    }

    fn look(&mut self, look: Look) {
        let len = look.wanted.len();
        let pieces: Vec<_> = match look.how {
            How::Whole(slips) | How::Bare { slips, .. } => pieces(len, slips).collect(),
            How::Split if len >= 2 * LEAST_PART => std::iter::once(0..LEAST_PART).collect(),
            How::Split => Vec::new(),
        };
        for range in pieces {
            let (from, piece) = (range.start, &look.wanted[range]);
            let with_separators = matches!(look.how, How::Bare { .. });
            self.probes.add(look.view, piece, from, with_separators, self.looks.len());
        }
        self.looks.push(look);
    }

    /// A serial of digits can be stored as the number it is.
    fn numbers(&mut self, bare: &[u8], shares: &Shares) {
        let digits = std::str::from_utf8(bare).ok().filter(|t| t.bytes().all(|b| b.is_ascii_digit()));
        // Two bytes are found everywhere.
        let Some(number) = digits.and_then(|d| d.parse::<u64>().ok()).filter(|&n| n > 0xFFFF) else { return };
        let big = number.to_be_bytes();
        let short = usize::try_from(number.leading_zeros() / 8).unwrap_or(0);
        for (encoding, reversed) in [(Encoding::NumberBig, false), (Encoding::NumberLittle, true)] {
            let mut bytes = big[short..].to_vec();
            if reversed {
                bytes.reverse();
            }
            self.by_chance += shares.hits(&bytes, 0);
            self.numbers.push(Number { encoding, bytes, text: number.to_string() });
        }
    }

    /// The hits that begin in `window`, the best first, and how many were left out.
    pub(super) fn hits(&self, window: Span) -> (Vec<Hit>, usize) {
        let bytes = self.image.bytes();
        // What begins in the window may be known by a piece behind it, and what begins at a bit, by one before.
        let around =
            (window.start.saturating_sub(self.reach), bytes.len().min(window.end.saturating_add(self.reach)));
        let is_dull = |value| self.is_dull(value);
        let mut hits: Vec<Hit> =
            self.met(bytes, around, &is_dull).into_iter().filter_map(|met| self.hit(met, window)).collect();
        for number in &self.numbers {
            let end = bytes.len().min(window.end + number.bytes.len() - 1);
            let found = bytes.get(window.start..end).unwrap_or_default();
            let finder = Finder::new(&number.bytes);
            let places = finder.find_iter(found).take(MOST_MATCHES);
            let places = places.map(|at| Span::of(at + window.start, number.bytes.len()));
            hits.extend(places.filter(|place| self.image.is_mapped(*place)).map(|place| Hit {
                place,
                bit: 0,
                encoding: number.encoding,
                separators_differ: false,
                between: None,
                exact: true,
                wanted: number.text.clone(),
                text: number.text.clone(),
                differs: Vec::new(),
                within: None,
            }));
        }
        ranked(hits)
    }

    /// Whether an image of bytes of this value alone holds nothing that is looked for.
    fn is_dull(&self, value: u8) -> bool {
        let known = &self.dull[usize::from(value)];
        match known.load(Ordering::Relaxed) {
            0 => {
                let fill = vec![value; 4 * self.reach];
                let is_dull = self.met(&fill, (0, fill.len()), &|_| false).is_empty();
                known.store(1 + u8::from(is_dull), Ordering::Relaxed);
                is_dull
            }
            known => known == 2,
        }
    }

    /// What is met in `bytes` from pieces that begin in `around`; each once.
    fn met(&self, bytes: &[u8], around: (usize, usize), is_dull: &dyn Fn(u8) -> bool) -> Vec<Met> {
        let mut met = Vec::new();
        let mut many = vec![0; self.looks.len()];
        self.probes.scan(bytes, around, (self.reach, is_dull), &mut |at, probe| {
            let Some((index, symbol)) = probe.at(at) else { return };
            let Some(look) = self.looks.get(index).filter(|_| many[index] < MOST_MATCHES) else { return };
            if let Some((found, split)) = look.meets(bytes, symbol, probe) {
                many[index] += 1;
                met.push(Met { look: index, found, split });
            }
        });
        let place = |m: &Met| (m.look, m.found.start);
        met.sort_unstable_by(|a, b| place(a).cmp(&place(b)).then_with(|| a.cmp(b)));
        met.dedup_by_key(|m| place(m));
        met
    }

    fn hit(&self, met: Met, window: Span) -> Option<Hit> {
        let Met { found, split, .. } = met;
        let look = self.looks.get(met.look)?;
        let bytes = self.image.bytes();
        let (encoding, place, bit) = look.located(found, bytes);
        if !window.contains(place.start) || !self.image.is_mapped(place) {
            return None;
        }
        let separators_differ = matches!(look.how, How::Bare { .. });
        let start = found.start;
        let parts = match split {
            Some(s) => vec![start..start + s.first, start + s.again..start + s.again + s.second],
            None => std::iter::once(start..start + found.len).collect(),
        };
        let between = match &parts[..] {
            [first, second] => {
                let [first, second] = [first, second].map(|part| look.view.place(part.start, part.end).0);
                Some(Span::new(first.end, second.start))
            }
            _ => None,
        };
        let ends = parts.first().map(|p| p.start).zip(parts.last().map(|p| p.end));
        let read = |range: std::ops::Range<usize>| -> Vec<u8> {
            range.map(|i| look.view.character(bytes, i).unwrap_or(0)).collect()
        };
        let shown: Vec<String> = parts.into_iter().map(|p| readable(encoding, &read(p))).collect();
        let text = shown.join(" + ");
        let wanted = readable(encoding, &look.wanted);
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
            differences(&wanted, &compared)
        };
        let longer = ends.filter(|_| exact).and_then(|(start, end)| look.longer(bytes, start, end));
        let within = longer.map(|range| readable(encoding, &read(range)));
        Some(Hit { place, bit, encoding, separators_differ, between, exact, wanted, text, differs, within })
    }
}

impl Look {
    /// What stands around the piece of a probe that begins at `symbol`, should it be there.
    fn meets(&self, bytes: &[u8], symbol: usize, probe: &Probe) -> Option<(Match, Option<Split>)> {
        let (view, wanted, piece) = (self.view, &self.wanted, &probe.piece);
        if let How::Bare { slips, is_typed } = self.how {
            return Some((self.bare(bytes, symbol, probe, slips, is_typed)?, None));
        }
        if (0..piece.len()).any(|k| view.symbol(bytes, symbol + k) != piece.get(k).copied()) {
            return None;
        }
        match self.how {
            How::Whole(0) => Some((Match { slips: 0, start: symbol, len: wanted.len() }, None)),
            How::Whole(slips) => {
                let lowest = symbol.saturating_sub(probe.from + 1);
                let near = view.read(bytes, lowest, symbol + wanted.len() + 2 - probe.from);
                let found = match_at(&near, wanted, slips, symbol - lowest, probe.from)?;
                Some((Match { start: lowest + found.start, ..found }, None))
            }
            _ => {
                let near = view.read(bytes, symbol, symbol + 2 * wanted.len() + MOST_BETWEEN);
                let split = split_from(&near, wanted, is_separator)?;
                let len = split.again + split.second;
                Some((Match { slips: 0, start: symbol, len }, Some(split)))
            }
        }
    }

    /// The same with the separators left out, in the wanted text and in the image.
    fn bare(
        &self,
        bytes: &[u8],
        symbol: usize,
        probe: &Probe,
        slips: usize,
        is_typed: bool,
    ) -> Option<Match> {
        let most = 2 * (self.wanted.len() + 2);
        let mut next = symbol;
        // Nearly every candidate ends at its second symbol.
        let (mut rest, mut wanted) = (probe.piece.iter(), probe.piece.first());
        rest.next();
        while let Some(&piece) = wanted {
            let there = self.view.symbol(bytes, next)?;
            match there == piece {
                true => wanted = rest.next(),
                false if is_separator(there) && next - symbol < most => {}
                false => return None,
            }
            next += 1;
        }
        let lowest = symbol.saturating_sub(most);
        let near = self.view.read(bytes, lowest, symbol + most);
        let kept: Vec<usize> = (0..near.len()).filter(|&i| !is_separator(near[i])).collect();
        let symbols: Vec<u8> = kept.iter().map(|&i| near[i]).collect();
        let here = kept.iter().position(|&i| i == symbol - lowest)?;
        let found = match_at(&symbols, &self.wanted, slips, here, probe.from)?;
        let (start, last) = (*kept.get(found.start)?, *kept.get(found.start + found.len - 1)?);
        let len = last + 1 - start;
        // A long run of separators parts two fields; that is a split. And what has none is found as it is.
        let is_as_typed = len == found.len && is_typed;
        (last - start < 2 * found.len && !is_as_typed).then_some(Match {
            slips: found.slips,
            start: lowest + start,
            len,
        })
    }

    /// The symbols of the longer text that the symbols from `start` to `end` are a part of. Only where text is text do
    /// letters and digits beside it say so; among packed digits nearly everything is one.
    fn longer(&self, bytes: &[u8], start: usize, end: usize) -> Option<std::ops::Range<usize>> {
        if self.view.digits_only() || matches!(self.view, View::SixBits { .. }) {
            return None;
        }
        let symbol = |index: usize| self.view.symbol(bytes, index);
        let before = touching((1..=start).map_while(|n| symbol(start - n)));
        let after = touching((end..).map_while(symbol));
        (before + after > 0).then(|| start - before..end + after)
    }

    /// Where a match lies; wide text is told from text in every other byte by the zeros between.
    fn located(&self, found: Match, bytes: &[u8]) -> (Encoding, Span, u8) {
        let (place, bit) = self.view.place(found.start, found.start + found.len);
        if self.encoding != Encoding::EveryOther {
            return (self.encoding, place, bit);
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
}

/// The bytes that the image holds, without its gaps.
fn held(image: &Image) -> Cow<'_, [u8]> {
    match image.gaps() {
        [] => Cow::Borrowed(image.bytes()),
        _ => Cow::Owned(image.segments().flat_map(|(_, bytes)| bytes).copied().collect()),
    }
}

/// How many of the symbols beside a text go on with it: letters and digits, one sign between any two of them.
fn touching(beside: impl Iterator<Item = u8>) -> usize {
    const MOST: usize = 32;
    let (mut len, mut sign) = (0, false);
    for (n, symbol) in beside.take(MOST).enumerate() {
        match symbol {
            symbol if symbol.is_ascii_alphanumeric() => (len, sign) = (n + 1, false),
            b'-' | b'_' | b'/' | b'.' if !sign => sign = true,
            _ => break,
        }
    }
    len
}

/// Parts spread over the bytes, or all of them when they are few.
fn sample(bytes: &[u8]) -> Cow<'_, [u8]> {
    if bytes.len() <= PARTS * PART {
        return Cow::Borrowed(bytes);
    }
    let step = (bytes.len() / PARTS / 12 * 12).max(PART);
    let parts = (0..PARTS).filter_map(|n| bytes.get(n * step..n * step + PART));
    Cow::Owned(parts.flatten().copied().collect())
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
