//! Text, in every encoding that is searched by `find`: the image is read through the same views.

use super::labels::{self, Label};
use super::watch::Watch;
use super::{Kind, Region, sixbit};
use crate::find::Encoding;
use crate::find::encoding::{ByteChange, View};
use crate::span::Span;

/// Sets of characters, the smallest first; a text is weighed by the smallest set that holds it.
const SETS: [(&str, f64); 4] =
    [("digits", 10.0), ("capitals and digits", 43.0), ("letters and digits", 69.0), ("printable", 95.0)];

/// Which of [`SETS`] a character first belongs to.
const fn set_of(c: u8) -> Option<usize> {
    match c {
        b'0'..=b'9' => Some(0),
        b'A'..=b'Z' | b' ' | b'-' | b'.' | b'/' | b'_' | b'+' => Some(1),
        b'a'..=b'z' => Some(2),
        0x20..=0x7E => Some(3),
        _ => None,
    }
}

/// The fewest characters that are called text, and the most that chance may give of it.
const SHORTEST: usize = 4;
const MOST_CHANCE: f64 = 0.5;

/// Spaces that are taken as padding of the text before them.
const MOST_PADDING: usize = 64;

/// Every text of `bytes`.
pub(super) fn texts(bytes: &[u8], watch: Watch<'_>) -> Vec<Region> {
    let views: Vec<View> = View::all().collect();
    let mut found = Vec::new();
    for (n, &view) in views.iter().enumerate() {
        if !watch.goes_on(n as f64 / views.len() as f64) {
            break;
        }
        found.extend(match view {
            // Digits are no text; see `digits`.
            View::Bytes(ByteChange::DigitOf) | View::Nibbles { .. } => Vec::new(),
            View::Bytes(ByteChange::DropTop) => parity(bytes),
            View::Bytes(_) | View::Swapped => plain(bytes, view),
            View::Alternate(phase) => wide(bytes, phase),
            View::SixBits { .. } => sixbit::texts(bytes, view),
        });
    }
    found
}

/// Runs of printable characters of a view that reads one of each byte.
fn plain(bytes: &[u8], view: View) -> Vec<Region> {
    let Some(&encoding) = view.encodings().first() else { return Vec::new() };
    let symbols = view.symbols(bytes);
    let characters: Vec<u8> = (0..symbols.len()).map(|i| view.character(bytes, i).unwrap_or(0)).collect();
    let mut found = Vec::new();
    let mut start = 0;
    for run in characters.chunk_by(|&a, &b| set_of(a).is_some() == set_of(b).is_some()) {
        if set_of(run[0]).is_some() {
            for (from, part) in parts(run) {
                let (at, _) = view.place(start + from, start + from + part.len());
                found.extend(weigh(bytes, at, part, encoding));
            }
        }
        start += run.len();
    }
    found
}

/// Cuts a run of printable characters where two or more spaces stand (fields padded with spaces that touch) and
/// before a date that ends it, and takes off characters that only look like text beside a text of a smaller set
/// (`!FK-CR8` is `FK-CR8`).
fn parts(text: &[u8]) -> Vec<(usize, &[u8])> {
    let mut parts = Vec::new();
    let (mut from, mut i) = (0, 0);
    while i < text.len() {
        let spaces = text[i..].iter().take_while(|&&c| c == b' ').count();
        if spaces >= 2 || (spaces > 0 && i + spaces == text.len()) {
            split_date(from, &text[from..i], &mut parts);
            i += spaces;
            from = i;
        } else {
            i += spaces.max(1);
        }
    }
    split_date(from, &text[from..], &mut parts);
    parts
}

/// Adds a text, a date in digits at its end apart from what stands before it.
fn split_date<'t>(from: usize, text: &'t [u8], parts: &mut Vec<(usize, &'t [u8])>) {
    // The colons of a time of day would part it from its day.
    if (8..=32).contains(&text.len()) && labels::label(&String::from_utf8_lossy(text)).0 == Label::Date {
        parts.push((from, text));
        return;
    }
    if let Some(space) = text.iter().rposition(|&c| c == b' ').filter(|&space| space >= SHORTEST) {
        let last = &text[space + 1..];
        let all_digits = matches!(last.len(), 6 | 8) && last.iter().all(u8::is_ascii_digit);
        if all_digits && labels::label(&String::from_utf8_lossy(last)).0 == Label::Date {
            purest(from, &text[..space], parts);
            parts.push((from + space + 1, last));
            return;
        }
    }
    purest(from, text, parts);
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
            let long = run.len() >= SHORTEST && inside(run[0]);
            if long && best.is_none_or(|(b, _)| bits(set, run.len()) > b) {
                best = Some((bits(set, run.len()), Span::of(start, run.len())));
            }
            start += run.len();
        }
    }
    let Some((_, span)) = best else { return };
    purest(from, &text[..span.start], parts);
    parts.push((from + span.start, &text[span.range()]));
    purest(from + span.end, &text[span.end..], parts);
}

/// Runs in which the low seven bits are printable, all top bits are set or make the parity even or odd, and
/// at least one in four top bits is set (else it is plain ASCII).
fn parity(bytes: &[u8]) -> Vec<Region> {
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
                    found.extend(weigh(bytes, Span::of(start + from, part.len()), part, Encoding::Parity));
                }
            }
            start += run.len();
        }
    }
    found
}

/// Runs of two-byte letters that begin at even or odd offsets: printable, and beside each one constant value.
fn wide(bytes: &[u8], phase: usize) -> Vec<Region> {
    let mut found = Vec::new();
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
                    let at = Span::of(phase + (start + from) * 2, part.len() * 2);
                    found.extend(weigh(bytes, at, part, encoding));
                }
            }
            start += run.len();
        }
    }
    found
}

/// A region for `text` at `at`, unless it is too short or chance explains it.
fn weigh(bytes: &[u8], at: Span, text: &[u8], encoding: Encoding) -> Option<Region> {
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
    let (mut shown, mut encoding) = (String::from_utf8_lossy(text).into_owned(), encoding);
    match encoding {
        Encoding::Text if is_backwards(text) => {
            shown = shown.chars().rev().collect();
            encoding = Encoding::Backwards;
        }
        _ => {}
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
            (ascii.clone(), Encoding::Text),
            (each(&|c| vec![!c]), Encoding::InvertedBits),
            (each(&|c| vec![c.reverse_bits()]), Encoding::ReversedBits),
            (each(&|c| vec![c.rotate_left(4)]), Encoding::SwappedNibbles),
            (each(&|c| vec![c | 0x80]), Encoding::Parity),
            (each(&|c| vec![odd_parity(c)]), Encoding::Parity),
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
        let mut swapped = *b"Cold Room Control 20478815";
        swapped.chunks_exact_mut(2).for_each(|p| p.swap(0, 1));
        assert!(
            found(&swapped)
                .iter()
                .any(|(e, t, _)| *e == Encoding::SwappedWords && t == "Cold Room Control 20478815")
        );
        assert!(found(b"Cold Room Control 20478815").iter().all(|(e, ..)| *e == Encoding::Text));
    }

    #[test]
    fn a_text_is_read_backwards_when_only_that_makes_sense() {
        let back = |text: &str| text.bytes().rev().collect::<Vec<u8>>();
        for text in ["Cold Room Two", "2024-05-31", "1G4AH59H45G118341"] {
            let all = found(&back(text));
            assert!(all.iter().any(|(e, t, _)| *e == Encoding::Backwards && t == text), "{all:?}");
            assert!(found(text.as_bytes()).iter().all(|(e, ..)| *e == Encoding::Text));
        }
    }

    #[test]
    fn a_long_six_bit_text_is_found_in_either_order_and_alphabet() {
        let wanted = "COLD ROOM CONTROLLER FK-CR8-2047B MADE IN 2024 SERIAL NUMBER 2407310058 LINE 2";
        for high_first in [true, false] {
            for from_space in [true, false] {
                let codes = wanted.bytes().map(|c| if from_space { c - 0x20 } else { c & 0x3F });
                let bits: Vec<u8> = codes
                    .flat_map(|code| {
                        (0..6).map(move |i| if high_first { code >> (5 - i) & 1 } else { code >> i & 1 })
                    })
                    .collect();
                let pack = |bits: &[u8]| {
                    let place = |i: usize| if high_first { 7 - i } else { i };
                    bits.iter().enumerate().fold(0u8, |byte, (i, bit)| byte | bit << place(i))
                };
                let bytes: Vec<u8> = bits.chunks(8).map(pack).collect();
                let all = found(&bytes);
                let encoding = Encoding::SixBit { high_first, from_space };
                assert!(
                    all.iter().any(|(e, t, _)| *e == encoding && t.contains("ROOM CONTROLLER FK-CR8-2047B")),
                    "{encoding:?} not found among {all:?}"
                );
            }
        }
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
