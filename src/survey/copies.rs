//! The same bytes at two places: plain, inverted or mirrored.

use super::watch::Watch;
use super::{Kind, Region, Turned};
use crate::span::{Span, ending_behind};

/// Bytes that are looked up together, and the shortest copy that is named.
const SHORTEST: usize = 8;
const SHORTEST_NAMED: usize = 12;

/// Copies of earlier bytes, each as long as it goes, the longest first where they overlap.
///
/// Windows of [`SHORTEST`] bytes are looked up in a table of all earlier windows, and a hit is grown in both
/// directions; windows of at most three values are passed over, since fills match everywhere, and what lies in `gaps`
/// is like nothing.
pub(super) fn copies(bytes: &[u8], gaps: &[Span], watch: Watch<'_>) -> Vec<Region> {
    let mut found = Vec::new();
    for (n, turned) in [Turned::Plain, Turned::Inverted, Turned::Mirrored].into_iter().enumerate() {
        if !watch.goes_on(n as f64 / 3.0) {
            break;
        }
        found.extend(turned_copies(bytes, gaps, turned));
    }
    found
}

fn key(window: &[u8]) -> Option<u64> {
    let word: [u8; SHORTEST] = window.try_into().ok()?;
    let mut distinct = [0u64; 4];
    word.iter().for_each(|&b| distinct[usize::from(b >> 6)] |= 1 << (b & 63));
    (distinct.iter().map(|d| d.count_ones()).sum::<u32>() > 3).then(|| u64::from_le_bytes(word))
}

/// The first place of each window, looked up by its hash; a place that finds its slots taken is left out.
struct First {
    slots: Vec<u32>,
    bits: u32,
}

impl First {
    /// Slots that are looked at for one window.
    const PROBES: usize = 4;

    fn new(windows: usize) -> Self {
        let bits = (windows * 2).next_power_of_two().trailing_zeros().max(4);
        First { slots: vec![u32::MAX; (1 << bits) + Self::PROBES], bits }
    }

    fn slot(&self, word: u64) -> usize {
        // Fibonacci hashing: the golden ratio spreads neighbouring words.
        (word.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> (64 - self.bits)) as usize
    }

    fn find(&self, bytes: &[u8], word: u64) -> Option<usize> {
        let from = self.slot(word);
        let places = self.slots[from..from + Self::PROBES].iter().take_while(|&&place| place != u32::MAX);
        places
            .map(|&place| place as usize)
            .find(|&at| bytes.get(at..at + SHORTEST).is_some_and(|w| w == word.to_le_bytes()))
    }

    fn add(&mut self, bytes: &[u8], word: u64, at: usize) {
        if self.find(bytes, word).is_some() {
            return;
        }
        let from = self.slot(word);
        if let Some(slot) = self.slots[from..from + Self::PROBES].iter_mut().find(|s| **s == u32::MAX) {
            *slot = u32::try_from(at).unwrap_or(u32::MAX);
        }
    }
}

fn turned_copies(bytes: &[u8], gaps: &[Span], turned: Turned) -> Vec<Region> {
    let turn = |word: u64| match turned {
        Turned::Plain => word,
        Turned::Inverted => !word,
        Turned::Mirrored => word.swap_bytes(),
    };
    let mut first = First::new(bytes.len());
    let mut found: Vec<Region> = Vec::new();
    let mut done = 0;
    for at in 0..bytes.len().saturating_sub(SHORTEST - 1) {
        let window = Span::of(at, SHORTEST);
        let Some(word) = key(&bytes[window.range()]).filter(|_| is_held(gaps, window)) else { continue };
        let hit = if at >= done { first.find(bytes, turn(word)) } else { None };
        if let Some(of) = hit.filter(|&of| of + SHORTEST <= at) {
            let (here, source) = grow(bytes, gaps, at, of, turned);
            // What repeats at a short distance is rows, not a copy; tables say more about it.
            if here.len() >= SHORTEST_NAMED && here.start >= source.end {
                done = here.end;
                let how = match turned {
                    Turned::Plain => "",
                    Turned::Inverted => ", every bit inverted",
                    Turned::Mirrored => ", read backwards",
                };
                let length = i32::try_from(here.len()).unwrap_or(i32::MAX);
                found.push(Region {
                    at: here,
                    kind: Kind::Copy { of: source.start, turned },
                    evidence: format!("the same {} bytes{how}", here.len()),
                    // Pairs of places, each byte agreeing by chance; real bytes agree more often than 1 in 256.
                    chance: (bytes.len() as f64).powi(2) * 16f64.powi(-length),
                });
            }
        }
        first.add(bytes, word, at);
    }
    found.retain(|r| r.chance < 0.5);
    found
}

/// Whether no gap touches `span`.
fn is_held(gaps: &[Span], span: Span) -> bool {
    ending_behind(gaps, span.start).first().is_none_or(|gap| span.end <= gap.start)
}

/// The copy at `at` and its source at `of`, both made as long as they agree without touching each other.
fn grow(bytes: &[u8], gaps: &[Span], at: usize, of: usize, turned: Turned) -> (Span, Span) {
    let agree = |a: usize, b: usize| {
        let held = is_held(gaps, Span::of(a, 1)) && is_held(gaps, Span::of(b, 1));
        held && bytes[a] == if turned == Turned::Inverted { !bytes[b] } else { bytes[b] }
    };
    if turned == Turned::Mirrored {
        // here[i] = source[len - 1 - i]: forwards here is backwards there.
        let (mut start, mut end) = (at, at + SHORTEST);
        let (mut low, mut high) = (of, of + SHORTEST);
        while end < bytes.len() && low > 0 && agree(end, low - 1) {
            (end, low) = (end + 1, low - 1);
        }
        while start > high && agree(start - 1, high) {
            (start, high) = (start - 1, high + 1);
        }
        return (Span::new(start, end), Span::new(low, high));
    }
    let distance = at - of;
    let (mut start, mut end) = (at, at + SHORTEST);
    while end < bytes.len() && end - at < distance && agree(end, end - distance) {
        end += 1;
    }
    while start > distance && end - start < distance && agree(start - 1, start - 1 - distance) {
        start -= 1;
    }
    (Span::new(start, end), Span::new(start - distance, end - distance))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn image(turn: impl Fn(&[u8]) -> Vec<u8>) -> Vec<u8> {
        let block: Vec<u8> = (0..32u8).map(|i| i.wrapping_mul(37).wrapping_add(11)).collect();
        let mut bytes = vec![0xFF; 256];
        bytes[16..48].copy_from_slice(&block);
        bytes[128..160].copy_from_slice(&turn(&block));
        bytes
    }

    #[test]
    fn copies_are_found_whole_and_with_their_turn() {
        for (turned, bytes) in [
            (Turned::Plain, image(<[u8]>::to_vec)),
            (Turned::Inverted, image(|b| b.iter().map(|x| !x).collect())),
            (Turned::Mirrored, image(|b| b.iter().rev().copied().collect())),
        ] {
            let found = copies(&bytes, &[], Watch::nobody());
            let region = found.iter().find(|r| matches!(r.kind, Kind::Copy { turned: t, .. } if t == turned));
            let region = region.unwrap_or_else(|| panic!("{turned:?} not found"));
            assert!(region.at.covers(Span::of(128, 32)), "{turned:?}: {:?}", region.at);
            assert!(region.chance < 1e-4);
        }
    }

    #[test]
    fn fills_are_no_copies() {
        assert!(copies(&[0xFF; 512], &[], Watch::nobody()).is_empty());
        assert!(copies(&[], &[], Watch::nobody()).is_empty());
    }
}
