//! Kinds that selected bytes may be of, the likely ones first, each with the value it would give.

use super::Scaling;
use crate::image::Image;
use crate::layout::{self, Field};
use crate::notation;
use crate::span::ByteOrder;
use crate::value::Kind;

/// A kind that bytes may be of.
#[derive(Debug, Clone, PartialEq)]
pub struct Likely {
    /// The kind as a layout writes it.
    pub kind: String,
    /// What the bytes say by it, in the layout's byte order.
    pub shows: String,
    /// Whether they make sense by it.
    pub sensible: bool,
    score: u32,
}

/// Kinds for `bytes`, the likeliest first; `Bytes` is always among them.
///
/// What counts: kinds whose every byte value is unusual (text, packed digits, dates of our time) before numbers,
/// numbers in the layout's order before the other one unless they are small in that, plain bytes last; for bytes
/// that hold nothing, plain bytes first.
#[must_use]
pub fn likely(bytes: &[u8], order: ByteOrder) -> Vec<Likely> {
    let n = bytes.len();
    if n == 0 {
        return Vec::new();
    }
    let is_blank = n > 1 && (bytes.iter().all(|b| *b == 0xFF) || bytes.iter().all(|b| *b == 0));
    let mut kinds: Vec<(String, u32)> = vec![(format!("Bytes(bytes: {n})"), if is_blank { 200 } else { 1 })];
    texts(bytes, &mut kinds);
    dates(bytes, &mut kinds);
    numbers(bytes, order, &mut kinds);
    let mut found: Vec<Likely> =
        kinds.into_iter().filter_map(|(kind, score)| seen(kind, score, bytes, order)).collect();
    found.sort_by_key(|l| (!l.sensible, std::cmp::Reverse(l.score)));
    found
}

/// Text, and identifiers of bytes.
fn texts(bytes: &[u8], kinds: &mut Vec<(String, u32)>) {
    let n = bytes.len();
    let texts = bytes.iter().filter(|b| (0x20..0x7F).contains(*b)).count();
    let letters = bytes.iter().filter(|b| b.is_ascii_alphanumeric()).count();
    let padding = bytes.iter().rev().take_while(|b| matches!(b, 0x00 | 0xFF)).count();
    let is_text = n >= 2 && texts > 0 && texts + padding == n && letters * 2 >= texts;
    if is_text {
        let pad = match bytes.last() {
            Some(0x20) => ", pad: \" \"",
            Some(0xFF) => ", pad: 0xFF",
            _ => "",
        };
        kinds.push((format!("Text(bytes: {n}{pad})"), 100 + texts.min(50) as u32));
    }
    if n >= 4 && n.is_multiple_of(2) {
        for (word, high) in [("Big", 0), ("Little", 1)] {
            let is_letter =
                |p: &[u8]| p[high] == 0 && (p[1 - high] == 0 || (0x20..0x7F).contains(&p[1 - high]));
            if bytes.chunks_exact(2).all(is_letter) && letters * 4 >= n {
                kinds.push((format!("Text(bytes: {n}, code: Utf16, order: {word})"), 140));
            }
        }
    }
    match n {
        6 if !is_text => kinds.push(("Eui".to_owned(), 20)),
        16 if !is_text => kinds.push(("Guid".to_owned(), 15)),
        _ => {}
    }
}

/// Packed digits and dates.
fn dates(bytes: &[u8], kinds: &mut Vec<(String, u32)>) {
    let n = bytes.len();
    let are_digits = bytes.iter().all(|b| b >> 4 <= 9 && b & 15 <= 9) && bytes.iter().any(|&b| b > 9);
    if are_digits {
        kinds.push((format!("Bcd(digits: {})", n * 2), 40 + (n as u32 * 4).min(40)));
    }
    match n {
        4 if are_digits => {
            kinds.push(("Date(form: \"CC YY MM DD\")".to_owned(), 120));
            kinds.push(("Date(form: \"DD MM CC YY\")".to_owned(), 110));
        }
        3 if are_digits => {
            kinds.push(("Date(form: \"YY MM DD\")".to_owned(), 70));
            kinds.push(("Date(form: \"DD MM YY\")".to_owned(), 65));
        }
        _ => {}
    }
    if let Ok(word) = <[u8; 4]>::try_from(bytes) {
        let our_time = |seconds: u32| (788_918_400..2_524_608_000).contains(&seconds);
        for (order, seconds) in [("Big", u32::from_be_bytes(word)), ("Little", u32::from_le_bytes(word))] {
            // From 1995 to 2049; other numbers are seldom moments.
            let score = if our_time(seconds) { 60 } else { 8 };
            let kind = "Since(bits: 32, count: Seconds, from: \"1970-01-01\", order: ";
            kinds.push((format!("{kind}{order})"), score));
        }
    }
}

/// Numbers.
fn numbers(bytes: &[u8], order: ByteOrder, kinds: &mut Vec<(String, u32)>) {
    let n = bytes.len();
    if n > 8 {
        return;
    }
    let bits = n * 8;
    let (other, high, low) = match order {
        ByteOrder::Big => ("Little", bytes.first(), bytes.last()),
        ByteOrder::Little => ("Big", bytes.last(), bytes.first()),
    };
    kinds.push((format!("Int(bits: {bits})"), 50));
    // Small numbers below zero begin with bits that are all set.
    let negative = n > 1 && high == Some(&0xFF) && low != Some(&0xFF);
    kinds.push((format!("Int(bits: {bits}, signed: true)"), if negative { 55 } else { 45 }));
    kinds.push((format!("Int(bits: {bits}, base: Hex)"), 30));
    if n > 1 {
        let smaller = low == Some(&0) && high != Some(&0);
        kinds.push((format!("Int(bits: {bits}, order: {other})"), if smaller { 52 } else { 35 }));
    }
    match n {
        1 => {
            kinds.push(("Flags(bits: 8, of: {})".to_owned(), 12));
            let value = bytes.first().copied().unwrap_or_default();
            kinds.push((format!("Choice(bits: 8, of: {{{value}: \"state {value}\"}})"), 14));
        }
        2 => kinds.push(("Flags(bits: 16, of: {})".to_owned(), 12)),
        _ => {}
    }
    if let Ok(word) = <[u8; 4]>::try_from(bytes) {
        for (name, value) in [("Big", f32::from_be_bytes(word)), ("Little", f32::from_le_bytes(word))] {
            // Measured values are neither tiny nor huge; round ones are seldom anything else.
            let score = match (1e-3..1e6).contains(&value.abs()) {
                true if value.to_bits().trailing_zeros() >= 15 => 75,
                true => 58,
                false => 6,
            };
            kinds.push((format!("Float(bits: 32, order: {name})"), score));
        }
    }
}

/// What bytes say by a kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// What they say, as shown.
    pub shows: String,
    /// Why they make no sense by it.
    pub oddity: Option<String>,
    /// How many of them it takes; `None` when they are too few to tell.
    pub bytes: Option<usize>,
}

/// What `bytes` say by a kind as typed, shown as `scaling` says.
///
/// # Errors
/// What is wrong with the kind, or with how it is shown, in words.
pub fn reading(kind: &str, scaling: &Scaling, bytes: &[u8], order: ByteOrder) -> Result<Reading, String> {
    if let Some(problem) = super::kind_problem(kind) {
        return Err(problem);
    }
    let node = notation::parse(kind).map_err(|p| super::Refused::Problems(p).why())?;
    // A kind that holds other fields is none that bytes are read by.
    let Some(read) = Kind::read(&node, &mut Vec::new()) else {
        return Ok(Reading { shows: String::new(), oddity: None, bytes: None });
    };
    let extent = read.extent(bytes);
    let bytes = extent.and_then(|n| bytes.get(..n)).unwrap_or(bytes);
    let seen = read.decode(bytes, order);
    let shows = match scaling.written() {
        plain if plain.is_empty() => read.show(&seen.value),
        shown => scaled(kind, &shown, bytes, order)?,
    };
    Ok(Reading { shows, oddity: seen.oddity, bytes: extent })
}

/// What a layout of only this field shows.
fn scaled(kind: &str, shown: &str, bytes: &[u8], order: ByteOrder) -> Result<String, String> {
    let field = format!("(name: \"f\", at: 0, kind: {kind}{shown}, order: {})", order.word());
    let layout = layout::read(&super::layout_of(&field)).map_err(|p| super::Refused::Problems(p).why())?;
    let decoded = layout::decode(&layout, &Image::raw(bytes.to_vec()));
    Ok(decoded.fields.first().map(Field::shown).unwrap_or_default())
}

/// What `bytes` say by a kind; `None` when the kind is not fit for them.
fn seen(kind: String, score: u32, bytes: &[u8], order: ByteOrder) -> Option<Likely> {
    let node = notation::parse(&kind).ok()?;
    let read = Kind::read(&node, &mut Vec::new())?;
    let seen = read.decode(bytes, order);
    Some(Likely { shows: read.show(&seen.value), sensible: seen.oddity.is_none(), kind, score })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn first(bytes: &[u8]) -> (String, String) {
        let all = likely(bytes, ByteOrder::Big);
        (all[0].kind.clone(), all[0].shows.clone())
    }

    #[test]
    fn the_likeliest_kind_is_the_one_a_person_would_pick() {
        for (bytes, kind, shows) in [
            (&b"FK-CR8-2047B    "[..], "Text(bytes: 16, pad: \" \")", "FK-CR8-2047B"),
            (&[0, b'S', 0, b't', 0, b'o', 0, b'r'], "Text(bytes: 8, code: Utf16, order: Big)", "Stor"),
            (&[0x20, 0x22, 0x07, 0x14], "Date(form: \"CC YY MM DD\")", "2022-07-14"),
            (&[0x22, 0x07, 0x14, 0x03, 0x12], "Bcd(digits: 10)", "2207140312"),
            (&[0x00, 0x28], "Int(bits: 16)", "40"),
            (&[0xFF, 0xF6], "Int(bits: 16, signed: true)", "-10"),
            (&[0x28, 0x00], "Int(bits: 16, order: Little)", "40"),
            (&[0x14, 0x07, 0x20, 0x22], "Date(form: \"DD MM CC YY\")", "2022-07-14"),
            (&[0x41, 0xA4, 0x00, 0x00], "Float(bits: 32, order: Big)", "20.5"),
            (&[0xFF; 4], "Bytes(bytes: 4)", "FF FF FF FF"),
            (
                &[0xFF, 0x80, 0x01, 0x7F, 0xC3, 0x99, 0x88, 0xAA, 0xBB],
                "Bytes(bytes: 9)",
                "FF 80 01 7F C3 99 88 AA BB",
            ),
        ] {
            assert_eq!(first(bytes), (kind.to_owned(), shows.to_owned()));
        }
    }

    #[test]
    fn a_number_is_shown_as_it_is_scaled() {
        let shows = |line: &str| {
            let scaling = Scaling::typed(line).unwrap();
            reading("Int(bits: 16, signed: true)", &scaling, &[0xFF, 0xF6], ByteOrder::Big).map(|r| r.shows)
        };
        assert_eq!(shows("").unwrap(), "-10");
        assert_eq!(shows("0.1 °C").unwrap(), "-1.0 °C");
        assert_eq!(shows("K").unwrap(), "-10 K");
        assert!(reading("Text(bytes: 2)", &Scaling::typed("0.1").unwrap(), b"AB", ByteOrder::Big).is_err());
    }

    #[test]
    fn a_kind_of_fixed_size_is_read_from_the_first_bytes_that_it_takes() {
        for kind in ["Text(bytes: 4)", "Int(bits: 32)", "Bytes(bytes: 4)", "SixBit(bytes: 4)"] {
            let read = |bytes| reading(kind, &Scaling::default(), bytes, ByteOrder::Big).unwrap();
            assert_eq!(read(b"FK-CR8-1").bytes, Some(4), "{kind}");
            assert_eq!(read(b"FK-CR8-1").oddity, None, "{kind}");
            assert_eq!(read(b"FK").bytes, None, "{kind}");
        }
    }

    #[test]
    fn every_kind_offered_can_be_written_into_a_layout() {
        for n in 1..20usize {
            for seed in 0..32u8 {
                let bytes: Vec<u8> = (0..n)
                    .map(|i| seed.wrapping_mul(37).wrapping_add((i as u8).wrapping_mul(seed)))
                    .collect();
                for offer in likely(&bytes, ByteOrder::Little) {
                    assert_eq!(crate::author::kind_problem(&offer.kind), None, "{}", offer.kind);
                }
            }
        }
        assert!(likely(&[], ByteOrder::Big).is_empty());
    }
}
