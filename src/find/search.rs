//! What stands around a piece of the wanted symbols that was found: the whole, exactly or with a few slips, or in two
//! parts.
//!
//! With at most k wrong symbols, one of k + 1 pieces of the wanted row is right: so each piece is searched exactly, and
//! only around its hits is anything compared.

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

/// How many slips are still a near miss of a text of `len` symbols.
pub(super) fn slips_allowed(len: usize) -> usize {
    match len {
        0..=3 => 0,
        4..=5 => 1,
        _ => 2,
    }
}

/// The pieces of `len` wanted symbols, one of which is right wherever at most `slips` symbols are not.
pub(super) fn pieces(len: usize, slips: usize) -> impl Iterator<Item = std::ops::Range<usize>> {
    let pieces = (slips + 1).min(len);
    (0..pieces).map(move |piece| len * piece / pieces..len * (piece + 1) / pieces)
}

/// The match around a piece that was found at `here` and stands at `from` in the wanted symbols.
pub(super) fn match_at(
    symbols: &[u8],
    wanted: &[u8],
    slips: usize,
    here: usize,
    from: usize,
) -> Option<Match> {
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

/// The two parts of a split text, the first of which begins where its match does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Split {
    /// Symbols in the first part.
    pub(super) first: usize,
    /// Symbols from the beginning of the first part to that of the second.
    pub(super) again: usize,
    /// Symbols in the second part.
    pub(super) second: usize,
}

/// Symbols that each part of a split text must have.
pub(super) const LEAST_PART: usize = 3;
/// Symbols that may stand between the two parts.
pub(super) const MOST_BETWEEN: usize = 32;

/// The place where `wanted` stands in two parts with something between them, the first one from the first of `symbols`
/// on. `is_separator` tells the symbols that may be left out where the parts meet. What is between begins and ends with
/// no letter and no digit.
pub(super) fn split_from(symbols: &[u8], wanted: &[u8], is_separator: impl Fn(u8) -> bool) -> Option<Split> {
    let alike = symbols.iter().zip(wanted).take_while(|(a, b)| a == b).count();
    if wanted.len() < 2 * LEAST_PART || alike < LEAST_PART || alike == wanted.len() {
        return None;
    }
    // The text ends in the second part: without its last symbols nearby there is none.
    let near = symbols.get(..symbols.len().min(wanted.len() + MOST_BETWEEN))?;
    memchr::memmem::find(near, &wanted[wanted.len() - LEAST_PART..])?;
    // The longest first part first.
    (LEAST_PART..=alike).rev().find_map(|first| {
        let rest = &wanted[first..];
        let bare = rest.iter().position(|&s| !is_separator(s)).map_or(rest, |n| &rest[n..]);
        [rest, bare].into_iter().filter(|r| r.len() >= LEAST_PART).find_map(|rest| {
            let window = symbols.get(first..symbols.len().min(first + MOST_BETWEEN + rest.len()))?;
            let between = window.windows(rest.len()).position(|w| w == rest)?;
            // A letter or digit that touches either part belongs to it, and then it is another text.
            let (touching, before) = (window.first()?, window.get(between.checked_sub(1)?)?);
            if touching.is_ascii_alphanumeric() || before.is_ascii_alphanumeric() {
                return None;
            }
            Some(Split { first, again: first + between, second: rest.len() })
        })
    })
}
