//! Search for a row of symbols in another, exactly or with a few slips, in time that grows with the image only.
//!
//! With at most k wrong symbols, one of k + 1 pieces of the wanted row is right: each piece is searched exactly,
//! and only around its hits is anything compared.

use memchr::memmem::Finder;

/// A place where the wanted symbols stand, more or less.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Match {
    /// How many symbols are wrong, missing or too many.
    pub(super) slips: usize,
    /// First symbol.
    pub(super) start: usize,
    /// Symbols here; one more or less than wanted when one is too many or missing.
    pub(super) len: usize,
}

/// Matches in one view that are kept; a text that stands in more places says nothing.
const MOST_MATCHES: usize = 1024;

/// How many slips are still a near miss of a text of `len` symbols.
pub(super) fn slips_allowed(len: usize) -> usize {
    match len {
        0..=3 => 0,
        4..=5 => 1,
        _ => 2,
    }
}

/// Every place of `wanted` in `symbols` with at most `slips` wrong symbols, or one missing or too many.
/// Places may overlap. At most [`MOST_MATCHES`], the first ones.
pub(super) fn search(symbols: &[u8], wanted: &[u8], slips: usize) -> Vec<Match> {
    let mut found: Vec<Match> = Vec::new();
    if wanted.is_empty() || wanted.len() > symbols.len() + 1 {
        return found;
    }
    let pieces = (slips + 1).min(wanted.len());
    for piece in 0..pieces {
        let (from, to) = (wanted.len() * piece / pieces, wanted.len() * (piece + 1) / pieces);
        let finder = Finder::new(&wanted[from..to]);
        let mut at = 0;
        while let Some(step) = symbols.get(at..).and_then(|rest| finder.find(rest)) {
            let here = at + step;
            at = here + 1;
            found.extend(match_at(symbols, wanted, slips, here, from));
            if found.len() > MOST_MATCHES * pieces * 2 {
                break;
            }
        }
    }
    found.sort_unstable_by_key(|m| (m.start, m.slips, m.len));
    found.dedup_by_key(|m| m.start);
    found.truncate(MOST_MATCHES);
    found
}

/// The match around a piece that was found at `here` and stands at `from` in the wanted symbols.
fn match_at(symbols: &[u8], wanted: &[u8], slips: usize, here: usize, from: usize) -> Option<Match> {
    let start = here.checked_sub(from);
    let wrong = start.and_then(|start| {
        let window = symbols.get(start..start + wanted.len())?;
        let wrong = window.iter().zip(wanted).filter(|(a, b)| a != b).take(slips + 1).count();
        (wrong <= slips).then_some(Match { slips: wrong, start, len: wanted.len() })
    });
    if slips == 0 || wanted.len() < 6 || wrong.is_some_and(|m| m.slips <= 1) {
        return wrong;
    }
    // The piece stands before or behind the place where a symbol is missing or too many.
    let starts = [start, (here + 1).checked_sub(from), here.checked_sub(from + 1)];
    let lengths = [wanted.len() - 1, wanted.len() + 1];
    let one_off = starts.into_iter().flatten().flat_map(|s| lengths.map(|l| (s, l)));
    one_off.into_iter().find_map(|(start, len)| is_one_off(symbols, wanted, start, len)).or(wrong)
}

/// The match of `len` symbols from `start` when one symbol is missing or too many there. At either end a missing
/// symbol is a wrong one, and one too many is none of ours.
fn is_one_off(symbols: &[u8], wanted: &[u8], start: usize, len: usize) -> Option<Match> {
    let window = symbols.get(start..start + len)?;
    let head = window.iter().zip(wanted).take_while(|(a, b)| a == b).count();
    let foot = window.iter().rev().zip(wanted.iter().rev()).take_while(|(a, b)| a == b).count();
    (head >= 1 && foot >= 1 && head + foot >= len.min(wanted.len())).then_some(Match { slips: 1, start, len })
}

/// The two parts of a split text: symbols of the first, symbols of the second.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Split {
    /// First symbol of the first part.
    pub(super) start: usize,
    /// Symbols in the first part.
    pub(super) first: usize,
    /// First symbol of the second part.
    pub(super) again: usize,
    /// Symbols in the second part.
    pub(super) second: usize,
}

/// Symbols that each part of a split text must have.
pub(super) const LEAST_PART: usize = 3;
/// Symbols that may stand between the two parts.
pub(super) const MOST_BETWEEN: usize = 32;

/// Places where `wanted` stands in two parts with something between them. `is_separator` tells the symbols that
/// may be left out where the parts meet. What is between begins and ends with no letter and no digit.
pub(super) fn search_split(symbols: &[u8], wanted: &[u8], is_separator: impl Fn(u8) -> bool) -> Vec<Split> {
    let mut found = Vec::new();
    if wanted.len() < 2 * LEAST_PART {
        return found;
    }
    let finder = Finder::new(&wanted[..LEAST_PART]);
    let mut at = 0;
    while let Some(step) = symbols.get(at..).and_then(|rest| finder.find(rest)) {
        let start = at + step;
        at = start + 1;
        let alike = symbols[start..].iter().zip(wanted).take_while(|(a, b)| a == b).count();
        if alike < wanted.len() {
            found.extend(split_at(symbols, wanted, start, alike, &is_separator));
        }
        if found.len() >= MOST_MATCHES {
            break;
        }
    }
    found
}

fn split_at(
    symbols: &[u8],
    wanted: &[u8],
    start: usize,
    alike: usize,
    is_separator: &impl Fn(u8) -> bool,
) -> Option<Split> {
    // The text ends in the second part: without its last symbols nearby there is none.
    let near = symbols.get(start..symbols.len().min(start + wanted.len() + MOST_BETWEEN))?;
    memchr::memmem::find(near, &wanted[wanted.len() - LEAST_PART..])?;
    // The longest first part first.
    (LEAST_PART..=alike).rev().find_map(|first| {
        let rest = &wanted[first..];
        let bare = rest.iter().position(|&s| !is_separator(s)).map_or(rest, |n| &rest[n..]);
        [rest, bare].into_iter().filter(|r| r.len() >= LEAST_PART).find_map(|rest| {
            let from = start + first;
            let window = symbols.get(from..symbols.len().min(from + MOST_BETWEEN + rest.len()))?;
            let between = window.windows(rest.len()).position(|w| w == rest)?;
            // A letter or digit that touches either part belongs to it, and then it is another text.
            let (touching, before) = (window.first()?, window.get(between.checked_sub(1)?)?);
            if touching.is_ascii_alphanumeric() || before.is_ascii_alphanumeric() {
                return None;
            }
            Some(Split { start, first, again: from + between, second: rest.len() })
        })
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn slips_transpositions_missing_and_extra_symbols_are_found() {
        let slips =
            |text: &str| search(text.as_bytes(), b"FK-2047B", 2).first().map(|m| (m.slips, m.start, m.len));
        assert_eq!(slips("..FK-2047B.."), Some((0, 2, 8)));
        assert_eq!(slips("..FK-2O47B.."), Some((1, 2, 8)));
        assert_eq!(slips("..FK-2407B.."), Some((2, 2, 8)), "two changed places");
        assert_eq!(slips("..FK-247B.."), Some((1, 2, 7)));
        assert_eq!(slips("..FK-20047B.."), Some((1, 2, 9)));
        assert_eq!(slips("..FK-2OA7C.."), None);
        assert_eq!(slips(""), None);
    }

    #[test]
    fn a_text_in_two_parts_is_found_with_what_is_between() {
        let dash = |s: u8| s == b'-';
        let found = |text: &[u8]| search_split(text, b"FK-CR8-2047B", dash);
        assert_eq!(found(b"FK-CR8\0\xFF2047B"), [Split { start: 0, first: 6, again: 8, second: 5 }]);
        assert_eq!(found(b".FK-CR8-....2047B"), [Split { start: 1, first: 7, again: 12, second: 5 }]);
        assert_eq!(found(b"FK-CR8-2047B"), []);
        assert_eq!(found(&[b"FK-CR8".as_slice(), &[0; 40], b"2047B"].concat()), [], "too far apart");
    }

    proptest! {
        #[test]
        fn wrong_symbols_are_found_as_by_comparing_everywhere(
            symbols in prop::collection::vec(0_u8..3, 0..80),
            wanted in prop::collection::vec(0_u8..3, 1..6),
            slips in 0_usize..3,
        ) {
            let wrong = |s: usize| symbols[s..s + wanted.len()].iter().zip(&wanted).filter(|(a, b)| a != b).count();
            let starts = 0..(symbols.len() + 1).saturating_sub(wanted.len());
            let slips = slips.min(wanted.len() - 1);
            let naive: Vec<Match> = starts
                .filter(|&s| wrong(s) <= slips)
                .map(|s| Match { slips: wrong(s), start: s, len: wanted.len() })
                .collect();
            prop_assert_eq!(search(&symbols, &wanted, slips), naive);
        }
    }
}
