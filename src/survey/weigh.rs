//! What a text is worth against chance, and what it looks like.

use super::labels::{self, Label};
use super::{Kind, Region};
use crate::find::Encoding;
use crate::find::encoding::View;
use crate::span::Span;

/// Sets of characters, the smallest first; a text is weighed by the smallest set that holds it.
pub(super) const SETS: [(&str, f64); 4] =
    [("digits", 10.0), ("capitals and digits", 43.0), ("letters and digits", 69.0), ("printable", 95.0)];

/// Which of [`SETS`] a character first belongs to.
pub(super) const fn set_of(c: u8) -> Option<usize> {
    match c {
        b'0'..=b'9' => Some(0),
        b'A'..=b'Z' | b' ' | b'-' | b'.' | b'/' | b'_' | b'+' => Some(1),
        b'a'..=b'z' => Some(2),
        0x20..=0x7E => Some(3),
        _ => None,
    }
}

/// The fewest characters that are called text, and the most that chance may give of it.
pub(super) const SHORTEST: usize = 4;
const MOST_CHANCE: f64 = 0.5;

/// Spaces that are taken as padding of the text before them.
const MOST_PADDING: usize = 64;

/// A region for `text` at `at`, unless it is too short or chance explains it.
pub(super) fn weigh(bytes: &[u8], at: Span, text: &[u8], encoding: Encoding) -> Option<Region> {
    let distinct = {
        let mut seen = [false; 256];
        text.iter().for_each(|&c| seen[usize::from(c)] = true);
        seen.iter().filter(|&&s| s).count()
    };
    // A run of one or two characters is a fill, and one that only rises or falls is a row of numbers.
    let ramp = text.windows(2).all(|w| w[0] <= w[1]) || text.windows(2).all(|w| w[0] >= w[1]);
    let plain = text.iter().filter(|c| c.is_ascii_alphanumeric() || **c == b' ').count();
    if text.len() < SHORTEST || distinct < 3 || ramp || plain * 3 < text.len() * 2 {
        return None;
    }
    let mut shown = String::from_utf8_lossy(text).into_owned();
    let mut encoding = encoding;
    if encoding == Encoding::Text && is_backwards(text) {
        shown = shown.chars().rev().collect();
        encoding = Encoding::Backwards;
    }
    // The same bytes are read unswapped as well, and that is simpler unless it breaks words and numbers.
    let better =
        if encoding == Encoding::SwappedWords { reads_better(text, at.of_bytes(bytes)?)? } else { 1.0 };
    let set = text.iter().filter_map(|&c| set_of(c)).max()?;
    let letters = i32::try_from(text.len()).unwrap_or(i32::MAX);
    let mut at = at;
    // Spaces behind a text pad it; nothing else is stored as spaces.
    if encoding == Encoding::Text {
        let spaces = bytes[at.end..].iter().take(MOST_PADDING).take_while(|&&b| b == b' ').count();
        // Fields have round lengths; a single space behind one is a number that begins there.
        let round = (at.len() + spaces) & !3;
        at.end = at.start + if spaces < 4 && round >= at.len() { round } else { at.len() + spaces };
    }
    let beside = match encoding {
        // The bits or bytes beside the letters must agree as well.
        Encoding::Parity => 3.0 * 0.5f64.powi(letters),
        Encoding::Utf16Big | Encoding::Utf16Little | Encoding::EveryOther => 256f64.powi(1 - letters),
        _ => 1.0,
    };
    // Where an image or what follows a fill begins is one of few places, and a mark or a name stands there often.
    let first = at.start == 0 || at.start >= 4 && is_fill(&bytes[at.start - 4..at.start]);
    let tries = if first { (bytes.len() as f64).sqrt() } else { bytes.len() as f64 };
    let chance = tries * plain_chance(text) * beside * rareness(encoding) * better;
    region(at, text.len(), shown.trim(), encoding, SETS[set].0, chance)
}

/// The share of random bytes that are a text like this one: of its length, and all of the smallest set it is of.
pub(super) fn plain_chance(text: &[u8]) -> f64 {
    let set = text.iter().map(|&c| set_of(c).unwrap_or(SETS.len() - 1)).max().unwrap_or(0);
    SETS.len() as f64 * (SETS[set].1 / 256.0).powi(i32::try_from(text.len()).unwrap_or(i32::MAX))
}

/// True for bytes of one value that is a usual filler.
fn is_fill(bytes: &[u8]) -> bool {
    matches!(bytes.first(), Some(0x00 | 0xFF)) && bytes.iter().all(|b| *b == bytes[0])
}

/// How much less often than plain text a text is stored so; common practice, no source.
const fn rareness(encoding: Encoding) -> f64 {
    match encoding {
        Encoding::Text | Encoding::Utf16Big | Encoding::Utf16Little => 1.0,
        Encoding::SwappedWords => 100.0,
        Encoding::EveryOther | Encoding::Parity | Encoding::InvertedBits | Encoding::Backwards => 30.0,
        _ => 300.0,
    }
}

/// The region of a text that says `shown`, unless chance explains it.
fn region(
    at: Span,
    characters: usize,
    shown: &str,
    encoding: Encoding,
    of: &str,
    chance: f64,
) -> Option<Region> {
    let (label, why) = labels::label(shown);
    // A text of a known form is one of very few among all texts of its length.
    let chance = chance * labels::rarity(label, shown.len());
    if chance > MOST_CHANCE {
        return None;
    }
    let why = why.map(|w| format!("; {w}")).unwrap_or_default();
    let evidence = format!("{characters} characters, {of}, {}{why}", encoding.words());
    Some(Region { at, kind: Kind::Text { encoding, text: shown.to_owned(), label }, evidence, chance })
}

/// The region of a six-bit text: the symbols of `range` as they were read in `view`, for which `bits` of evidence speak.
pub(super) fn six_bit(
    view: View,
    encoding: Encoding,
    read: &[u8],
    (start, end): (usize, usize),
    bits: f64,
) -> Option<Region> {
    let text = read.get(start..end)?;
    let first = start + text.iter().position(u8::is_ascii_alphanumeric)?;
    let last = start + text.iter().rposition(u8::is_ascii_alphanumeric)?;
    let text = &read[first..=last];
    let (at, _) = view.place(first, last + 1);
    let chance = read.len() as f64 * (-bits).exp2() * rareness(encoding);
    let shown = String::from_utf8_lossy(text);
    region(at, text.len(), shown.trim(), encoding, "capitals and digits", chance)
}

/// How much less the stored bytes are like a text than `text`, in which their words are exchanged: a factor of the
/// chance, from how many fewer changes between letters, digits and signs it has. Real text keeps its words and its
/// numbers together. `None` when it reads no better.
fn reads_better(text: &[u8], stored: &[u8]) -> Option<f64> {
    let breaks = |t: &[u8]| {
        let class = |c: u8| match c {
            b'0'..=b'9' => 0u8,
            b'A'..=b'Z' => 1,
            b'a'..=b'z' => 2,
            b' ' => 3,
            _ => 4,
        };
        // A capital before a small letter is no break; the other way round it is.
        let t = t.trim_ascii();
        t.windows(2).filter(|w| class(w[0]) != class(w[1]) && !(class(w[0]) == 1 && class(w[1]) == 2)).count()
    };
    let fewer = breaks(stored).checked_sub(breaks(text)).filter(|&fewer| fewer >= 3 && text.len() >= 8)?;
    // Of two neighbours in a text, one pair in three or four is a break.
    Some(0.25f64.powi(i32::try_from(fewer).unwrap_or(i32::MAX)))
}

/// True for a text that reads backwards: capitals end its words instead of beginning them, or only from its end it
/// is a date or a VIN.
fn is_backwards(text: &[u8]) -> bool {
    let ends = text.windows(2).filter(|w| w[0].is_ascii_lowercase() && w[1].is_ascii_uppercase());
    let begins = text.windows(2).filter(|w| w[0].is_ascii_uppercase() && w[1].is_ascii_lowercase());
    if begins.count() == 0 && ends.count() >= 2 {
        return true;
    }
    let said = String::from_utf8_lossy(text);
    let said = said.trim();
    let from_end: String = said.chars().rev().collect();
    let telling = |text: &str| matches!(labels::label(text).0, Label::Vin | Label::Date);
    said.contains(|c: char| !c.is_ascii_digit()) && telling(&from_end) && !telling(said)
}
