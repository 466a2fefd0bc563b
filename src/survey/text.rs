//! Text, in the encodings that small memories use.

use super::labels::{self, Label};
use super::watch::Watch;
use super::{Kind, Region};
use crate::span::Span;

/// How the letters of a text are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Encoding {
    /// One byte a letter.
    Ascii,
    /// Two bytes a letter, the zero first.
    Utf16Big,
    /// Two bytes a letter, the zero second.
    Utf16Little,
    /// One byte a letter, the two bytes of each 16-bit word exchanged.
    Swapped,
    /// One byte a letter, every bit inverted.
    Inverted,
    /// One byte a letter, the top bit set or holding the parity.
    TopBit,
    /// A letter in every other byte, one constant value (not zero) between.
    EveryOther,
}

impl Encoding {
    /// The words on screens and in JSON.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Encoding::Ascii => "ASCII",
            Encoding::Utf16Big => "UTF-16, high byte first",
            Encoding::Utf16Little => "UTF-16, low byte first",
            Encoding::Swapped => "ASCII, bytes of 16-bit words exchanged",
            Encoding::Inverted => "ASCII, all bits inverted",
            Encoding::TopBit => "ASCII with the top bit used",
            Encoding::EveryOther => "ASCII in every other byte",
        }
    }
}

/// Sets of characters, the smallest first; a text is weighed by the smallest set that holds it.
const SETS: [(&str, f64); 4] =
    [("digits", 10.0), ("capitals and digits", 41.0), ("letters and digits", 67.0), ("printable", 95.0)];

/// Which of [`SETS`] a character first belongs to.
const fn set_of(c: u8) -> Option<usize> {
    match c {
        b'0'..=b'9' => Some(0),
        b'A'..=b'Z' | b' ' | b'-' | b'.' | b'/' | b'_' => Some(1),
        b'a'..=b'z' => Some(2),
        0x20..=0x7E => Some(3),
        _ => None,
    }
}

/// The fewest characters that are called text, and the most that chance may give of it.
const SHORTEST: usize = 4;
const MOST_CHANCE: f64 = 0.5;

/// Every text of `bytes`.
pub(super) fn texts(bytes: &[u8], watch: Watch<'_>) -> Vec<Region> {
    type Way = fn(&[u8]) -> Vec<Region>;
    let ways: [Way; 4] = [
        |bytes| plain(bytes, |b| b, Encoding::Ascii),
        |bytes| plain(bytes, |b| !b, Encoding::Inverted),
        top_bit,
        wide,
    ];
    let mut found = Vec::new();
    for (n, way) in ways.into_iter().enumerate() {
        if !watch.goes_on(n as f64 / 4.0) {
            break;
        }
        found.extend(way(bytes));
    }
    found
}

/// Runs of printable characters after `turn`.
fn plain(bytes: &[u8], turn: impl Fn(u8) -> u8, encoding: Encoding) -> Vec<Region> {
    let mut found = Vec::new();
    let mut start = 0;
    for run in bytes.chunk_by(|&a, &b| set_of(turn(a)).is_some() == set_of(turn(b)).is_some()) {
        if set_of(turn(run[0])).is_some() {
            let text: Vec<u8> = run.iter().map(|&b| turn(b)).collect();
            for (from, part) in parts(&text) {
                let at = start + from;
                found.extend(weigh(bytes, at, 1, part, encoding));
            }
        }
        start += run.len();
    }
    found
}

/// Cuts a run of printable characters where four or more spaces stand (fields padded with spaces that touch), and
/// takes off characters that only look like text beside a text of a smaller set (`!FK-CR8` is `FK-CR8`).
fn parts(text: &[u8]) -> Vec<(usize, &[u8])> {
    let mut parts = Vec::new();
    let (mut from, mut i) = (0, 0);
    while i < text.len() {
        let spaces = text[i..].iter().take_while(|&&c| c == b' ').count();
        if spaces >= 4 || (spaces > 0 && i + spaces == text.len()) {
            purest(from, &text[from..i], &mut parts);
            i += spaces;
            from = i;
        } else {
            i += spaces.max(1);
        }
    }
    purest(from, &text[from..], &mut parts);
    parts
}

/// Adds the stretch of `text` (which stands at `from`) that chance explains least, then those on both sides of it.
fn purest<'t>(from: usize, text: &'t [u8], parts: &mut Vec<(usize, &'t [u8])>) {
    let bits = |set: usize, len: usize| len as f64 * (256.0 / SETS[set].1).log2();
    let mut best: Option<(f64, Span)> = None;
    // Digits alone are no boundary: a serial may end in letters.
    for set in 1..SETS.len() {
        let mut start = 0;
        let inside = |c: u8| set_of(c).is_some_and(|s| s <= set);
        for run in text.chunk_by(|&a, &b| inside(a) == inside(b)) {
            if inside(run[0]) && best.is_none_or(|(b, _)| bits(set, run.len()) > b) {
                best = Some((bits(set, run.len()), Span::of(start, run.len())));
            }
            start += run.len();
        }
    }
    let Some((_, span)) = best.filter(|(_, span)| span.len() >= SHORTEST) else { return };
    purest(from, &text[..span.start], parts);
    parts.push((from + span.start, &text[span.range()]));
    purest(from + span.end, &text[span.end..], parts);
}

/// Runs in which the low seven bits are printable, all top bits are set or make the parity even or odd, and
/// at least one top bit is set (else it is plain ASCII).
fn top_bit(bytes: &[u8]) -> Vec<Region> {
    let rules: [fn(u8) -> bool; 3] =
        [|b| b >= 0x80, |b| b.count_ones().is_multiple_of(2), |b| !b.count_ones().is_multiple_of(2)];
    let mut found = Vec::new();
    for rule in rules {
        let fits = |b: u8| rule(b) && set_of(b & 0x7F).is_some();
        let mut start = 0;
        for run in bytes.chunk_by(|&a, &b| fits(a) == fits(b)) {
            if fits(run[0]) && run.iter().filter(|&&b| b >= 0x80).count() * 4 >= run.len() {
                let text: Vec<u8> = run.iter().map(|&b| b & 0x7F).collect();
                for (from, part) in parts(&text) {
                    found.extend(weigh(bytes, start + from, 1, part, Encoding::TopBit));
                }
            }
            start += run.len();
        }
    }
    found
}

/// Runs of two-byte letters: printable, and beside it one constant value.
fn wide(bytes: &[u8]) -> Vec<Region> {
    let mut found = Vec::new();
    for phase in 0..2usize {
        let pairs = bytes.get(phase..).unwrap_or_default().chunks_exact(2);
        let pairs: Vec<[u8; 2]> = pairs.map(|p| [p[0], p[1]]).collect();
        for letter in 0..2usize {
            let other = 1 - letter;
            let same = |a: &[u8; 2], b: &[u8; 2]| {
                set_of(a[letter]).is_some() && set_of(b[letter]).is_some() && a[other] == b[other]
            };
            let mut start = 0;
            for run in pairs.chunk_by(same) {
                let beside = run[0][other];
                // A printable constant beside the letters is more likely a text of its own.
                if set_of(run[0][letter]).is_some() && set_of(beside).is_none() {
                    let text: Vec<u8> = run.iter().map(|p| p[letter]).collect();
                    let encoding = match (beside, letter) {
                        (0, 0) => Encoding::Utf16Little,
                        (0, _) => Encoding::Utf16Big,
                        _ => Encoding::EveryOther,
                    };
                    for (from, part) in parts(&text) {
                        found.extend(weigh(bytes, phase + (start + from) * 2, 2, part, encoding));
                    }
                }
                start += run.len();
            }
        }
    }
    found
}

/// A region for `text`, stored `step` bytes a letter from `at`, unless it is too short or chance explains it.
fn weigh(bytes: &[u8], at: usize, step: usize, text: &[u8], encoding: Encoding) -> Option<Region> {
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
    let set = text.iter().filter_map(|&c| set_of(c)).max()?;
    let letters = i32::try_from(text.len()).unwrap_or(i32::MAX);
    let mut chance = bytes.len() as f64 * SETS.len() as f64 * (SETS[set].1 / 256.0).powi(letters);
    match encoding {
        Encoding::Ascii | Encoding::Inverted | Encoding::Swapped => {}
        // The bits or bytes beside the letters must agree as well.
        Encoding::TopBit => chance *= 3.0 * 0.5f64.powi(letters),
        Encoding::Utf16Big | Encoding::Utf16Little | Encoding::EveryOther => {
            chance *= 256f64.powi(1 - letters);
        }
    }
    let mut shown = String::from_utf8_lossy(text).into_owned();
    let mut encoding = encoding;
    if encoding == Encoding::Ascii
        && at.is_multiple_of(2)
        && let Some(swapped) = reads_better_swapped(text)
    {
        shown = swapped;
        encoding = Encoding::Swapped;
    }
    let shown = shown.trim().to_owned();
    let (label, why) = labels::label(&shown);
    if label != Label::Text {
        // A text of a known form is one of very few among all texts of its length.
        chance *= labels::rarity(label);
    }
    if chance > MOST_CHANCE {
        return None;
    }
    let span = Span::of(at, text.len() * step);
    let evidence = format!(
        "{} characters, {}, {}{}",
        text.len(),
        SETS[set].0,
        encoding.words(),
        why.map(|w| format!("; {w}")).unwrap_or_default()
    );
    Some(Region { at: span, kind: Kind::Text { encoding, text: shown, label }, evidence, chance })
}

/// The text with the bytes of each 16-bit word exchanged, when that has far fewer changes between letters,
/// digits and signs: real text keeps its words and its numbers together.
fn reads_better_swapped(text: &[u8]) -> Option<String> {
    if text.len() < 8 {
        return None;
    }
    let mut swapped = text.to_vec();
    swapped.chunks_exact_mut(2).for_each(|pair| pair.swap(0, 1));
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
    let (as_is, turned) = (breaks(text), breaks(&swapped));
    (turned + 3 <= as_is).then(|| String::from_utf8_lossy(&swapped).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bytes that hold nothing printable, so that only what a test puts in can be found.
    fn noise(len: usize) -> Vec<u8> {
        (0..len).map(|i| (i * 7 % 13) as u8 + 1).collect()
    }

    fn found(put: &[u8]) -> Vec<(Encoding, String, Label)> {
        let mut bytes = noise(256);
        bytes[64..64 + put.len()].copy_from_slice(put);
        texts(&bytes, Watch::nobody())
            .into_iter()
            .map(|r| match r.kind {
                Kind::Text { encoding, text, label } => (encoding, text, label),
                other => panic!("{other:?} is no text"),
            })
            .collect()
    }

    #[test]
    fn a_part_number_is_found_in_every_encoding() {
        let wanted = "FK-CR8-2047B";
        let ascii = wanted.as_bytes().to_vec();
        let each = |f: &dyn Fn(u8) -> Vec<u8>| ascii.iter().flat_map(|&c| f(c)).collect::<Vec<u8>>();
        let odd_parity = |c: u8| if c.count_ones().is_multiple_of(2) { c | 0x80 } else { c };
        for (bytes, encoding) in [
            (ascii.clone(), Encoding::Ascii),
            (each(&|c| vec![!c]), Encoding::Inverted),
            (each(&|c| vec![c | 0x80]), Encoding::TopBit),
            (each(&|c| vec![odd_parity(c)]), Encoding::TopBit),
            (each(&|c| vec![c, 0]), Encoding::Utf16Little),
            (each(&|c| vec![0, c]), Encoding::Utf16Big),
            (each(&|c| vec![c, 0xFF]), Encoding::EveryOther),
        ] {
            let all = found(&bytes);
            assert!(
                all.iter().any(|(e, t, _)| *e == encoding && t == wanted),
                "{encoding:?} not found among {all:?}"
            );
        }
    }

    #[test]
    fn swapped_words_are_told_by_the_breaks_between_letters_and_digits() {
        let mut swapped = *b"COLDROOM 20470815 ";
        swapped.chunks_exact_mut(2).for_each(|p| p.swap(0, 1));
        assert!(found(&swapped).iter().any(|(e, t, _)| *e == Encoding::Swapped && t == "COLDROOM 20470815"));
        assert!(found(b"COLDROOM 20470815 ").iter().all(|(e, ..)| *e == Encoding::Ascii));
    }

    #[test]
    fn space_padded_fields_that_touch_are_told_apart() {
        let texts: Vec<String> = found(b"FK-CR8-2047B    SN20470815    ").into_iter().map(|f| f.1).collect();
        assert_eq!(texts, ["FK-CR8-2047B", "SN20470815"]);
    }

    #[test]
    fn short_runs_that_chance_explains_are_not_text() {
        assert!(found(b"aZ~k").is_empty());
    }
}
