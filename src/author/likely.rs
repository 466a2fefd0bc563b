//! Kinds that selected bytes may be of, the likely ones first, each with the value it would give.

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
/// numbers in the layout's order before the other one, plain bytes last.
#[must_use]
pub fn likely(bytes: &[u8], order: ByteOrder) -> Vec<Likely> {
    let n = bytes.len();
    if n == 0 {
        return Vec::new();
    }
    let bits = n * 8;
    let mut kinds: Vec<(String, u32)> = vec![(format!("Bytes(bytes: {n})"), 1)];
    let texts = bytes.iter().filter(|b| (0x20..0x7F).contains(*b)).count();
    let letters = bytes.iter().filter(|b| b.is_ascii_alphanumeric()).count();
    let padding = bytes.iter().rev().take_while(|b| matches!(b, 0x00 | 0xFF)).count();
    if n >= 2 && texts > 0 && texts + padding == n && letters * 2 >= texts {
        let pad = match bytes.last() {
            Some(0x20) => ", pad: \" \"",
            Some(0xFF) => ", pad: 0xFF",
            _ => "",
        };
        kinds.push((format!("Text(bytes: {n}{pad})"), 100 + texts.min(50) as u32));
    }
    let pairs = || bytes.chunks_exact(2);
    if n >= 4 && n.is_multiple_of(2) {
        for (word, high) in [("Big", 0), ("Little", 1)] {
            if pairs().all(|p| p[high] == 0 && (p[1 - high] == 0 || (0x20..0x7F).contains(&p[1 - high])))
                && bytes.iter().filter(|b| b.is_ascii_alphanumeric()).count() * 4 >= n
            {
                kinds.push((format!("Text(bytes: {n}, code: Utf16, order: {word})"), 140));
            }
        }
    }
    if bytes.iter().all(|b| b >> 4 <= 9 && b & 15 <= 9) && bytes.iter().any(|&b| b > 9) {
        kinds.push((format!("Bcd(digits: {})", n * 2), 40 + (n as u32 * 4).min(40)));
        if n == 4 {
            kinds.push(("Date(form: \"CC YY MM DD\")".to_owned(), 120));
        }
        if n == 3 {
            kinds.push(("Date(form: \"YY MM DD\")".to_owned(), 70));
        }
    }
    if n == 6 {
        kinds.push(("Eui".to_owned(), 20));
    }
    if n == 16 {
        kinds.push(("Guid".to_owned(), 15));
    }
    if n <= 8 {
        let other = if order == ByteOrder::Big { "Little" } else { "Big" };
        kinds.push((format!("Int(bits: {bits})"), 50));
        kinds.push((format!("Int(bits: {bits}, signed: true)"), 45));
        kinds.push((format!("Int(bits: {bits}, base: Hex)"), 30));
        if n > 1 {
            kinds.push((format!("Int(bits: {bits}, order: {other})"), 35));
        }
        if n == 1 {
            kinds.push(("Flags(bits: 8, of: {})".to_owned(), 12));
        }
        if n == 4 {
            kinds.push(("Float(bits: 32)".to_owned(), 25));
            kinds.push(("Since(bits: 32, count: Seconds, from: \"1970-01-01\")".to_owned(), 28));
        }
    }
    let mut found: Vec<Likely> =
        kinds.into_iter().filter_map(|(kind, score)| seen(kind, score, bytes, order)).collect();
    found.sort_by_key(|l| (!l.sensible, std::cmp::Reverse(l.score)));
    found
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

/// What `bytes` say by a kind as typed.
///
/// # Errors
/// What is wrong with the kind, in words.
pub fn reading(kind: &str, bytes: &[u8], order: ByteOrder) -> Result<Reading, String> {
    if let Some(problem) = super::kind_problem(kind) {
        return Err(problem);
    }
    let node = notation::parse(kind).map_err(|p| super::Refused::Problems(p).why())?;
    // A kind that holds other fields is none that bytes are read by.
    let Some(read) = Kind::read(&node, &mut Vec::new()) else {
        return Ok(Reading { shows: String::new(), oddity: None, bytes: None });
    };
    let extent = read.extent(bytes);
    let seen = read.decode(extent.and_then(|n| bytes.get(..n)).unwrap_or(bytes), order);
    Ok(Reading { shows: read.show(&seen.value), oddity: seen.oddity, bytes: extent })
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
    fn every_kind_offered_can_be_written_into_a_layout() {
        for n in 1..20usize {
            for seed in 0..32u8 {
                let bytes: Vec<u8> = (0..n)
                    .map(|i| seed.wrapping_mul(37).wrapping_add((i as u8).wrapping_mul(seed)))
                    .collect();
                for offer in likely(&bytes, ByteOrder::Little) {
                    let text = format!(
                        "(layout: \"t\", format: 1, source: \"s\", fields: [(name: \"f\", at: 0, kind: {})])",
                        offer.kind
                    );
                    assert!(crate::layout::read(&text).is_ok(), "{text}");
                }
            }
        }
        assert!(likely(&[], ByteOrder::Big).is_empty());
    }
}
