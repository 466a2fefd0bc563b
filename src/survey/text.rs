//! Text, in every encoding that is searched by `find`: the image is read through the same views.

use super::labels::{self, Label};
use super::watch::Watch;
use super::weigh::{SETS, SHORTEST, set_of, weigh};
use super::{Region, sixbit};
use crate::find::Encoding;
use crate::find::encoding::{ByteChange, View};
use crate::span::Span;

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::Kind;

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
