//! Packed decimal digits: runs long enough to be no chance, and dates.

use super::{Kind, Region};
use crate::span::Span;

/// The most bytes of a run that are taken as one number.
const LONGEST: usize = 16;

/// True when both halves of the byte are decimal digits.
const fn packed(byte: u8) -> bool {
    byte >> 4 <= 9 && byte & 15 <= 9
}

/// The digits of packed bytes.
fn shown(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02X}")).collect()
}

/// Packed-digit numbers that stand alone (something else than digits on both sides), and packed-digit dates.
///
/// A short run of packed digits is weak evidence, since 100 of 256 byte values are packed digits; the chance
/// says so. A run that both a fill and the edge of a fill bound is a field of its own and weighs more.
pub(super) fn digits(bytes: &[u8], fills: &[Region]) -> Vec<Region> {
    let bounded =
        |at: usize| at == 0 || at == bytes.len() || fills.iter().any(|f| f.at.end == at || f.at.start == at);
    let mut found = Vec::new();
    let mut start = 0;
    for run in bytes.chunk_by(|&a, &b| packed(a) == packed(b)) {
        let at = Span::of(start, run.len());
        start = at.end;
        if !packed(run[0]) || fills.iter().any(|f| f.at.covers(at)) {
            continue;
        }
        found.extend(dates(bytes, at));
        let distinct = run.iter().collect::<std::collections::BTreeSet<_>>().len();
        if run.len() < 4 || run.len() > LONGEST || distinct < 3 {
            continue;
        }
        // Zeros are everywhere; only the other bytes are evidence.
        let length = i32::try_from(run.iter().filter(|&&b| b != 0).count()).unwrap_or(i32::MAX);
        let mut chance = bytes.len() as f64 * (100.0f64 / 256.0).powi(length);
        if bounded(at.start) && bounded(at.end) {
            // Few places of an image are bounded on both sides; each is one try instead of one an offset.
            chance = (2 * fills.len() + 2) as f64 * (100.0f64 / 256.0).powi(length);
        }
        found.push(Region {
            at,
            kind: Kind::PackedDigits(shown(run)),
            evidence: format!("{} bytes whose halves are all decimal digits", run.len()),
            chance,
        });
    }
    found.retain(|r| r.chance < 0.5);
    found
}

/// Dates as century, year, month, day in four packed bytes (`20 24 05 31`), plainly of this age.
fn dates(bytes: &[u8], run: Span) -> Vec<Region> {
    let digits = |b: u8| i16::from(b >> 4) * 10 + i16::from(b & 15);
    let Some(inside) = run.of_bytes(bytes) else { return Vec::new() };
    inside
        .windows(4)
        .enumerate()
        .filter_map(|(i, w)| {
            let year = digits(w[0]) * 100 + digits(w[1]);
            let (month, day) = (i8::try_from(digits(w[2])).ok()?, i8::try_from(digits(w[3])).ok()?);
            if !(1990..2060).contains(&year) {
                return None;
            }
            let date = jiff::civil::Date::new(year, month, day).ok()?;
            Some(Region {
                at: Span::of(run.start + i, 4),
                kind: Kind::PackedDate(date.to_string()),
                evidence: format!("packed digits that form the date {date}"),
                // 70 years of 366 days among 2^32 words.
                chance: bytes.len() as f64 * (70.0 * 366.0) / 4_294_967_296.0,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_packed_date_is_read() {
        let mut bytes = vec![0xAB; 64];
        bytes[20..24].copy_from_slice(&[0x20, 0x24, 0x05, 0x31]);
        let found = digits(&bytes, &[]);
        assert!(
            found.iter().any(|r| r.kind == Kind::PackedDate("2024-05-31".to_owned()) && r.at.start == 20)
        );
    }

    #[test]
    fn a_serial_between_fills_weighs_more_than_one_among_other_bytes() {
        let mut bytes = vec![0xFF; 64];
        bytes[20..25].copy_from_slice(&[0x24, 0x07, 0x31, 0x00, 0x58]);
        let alone = digits(&bytes, &super::super::fill::fills(&bytes));
        let mut among = vec![0xAB; 64];
        among[20..25].copy_from_slice(&[0x24, 0x07, 0x31, 0x00, 0x58]);
        let among = digits(&among, &[]);
        assert_eq!(alone[0].kind, Kind::PackedDigits("2407310058".to_owned()));
        assert!(among.is_empty() || alone[0].chance < among[0].chance);
    }
}
