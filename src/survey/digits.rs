//! Packed and unpacked decimal digits: runs long enough to be no chance.

use std::collections::BTreeSet;

use super::dates::share;
use super::{Kind, Region};
use crate::find::Encoding;
use crate::find::encoding::{ByteChange, View};
use crate::span::Span;

/// The most bytes of a run that are taken as one number.
const LONGEST: usize = 16;

/// True when both halves of the byte are decimal digits.
const fn packed(byte: u8) -> bool {
    byte >> 4 <= 9 && byte & 15 <= 9
}

/// Packed-digit numbers that stand alone (something else than digits on both sides), and unpacked ones.
///
/// A short run of packed digits is weak evidence, since 100 of 256 byte values are packed digits; the chance
/// says so. A run that both a fill and the edge of a fill bound is a field of its own and weighs more.
pub(super) fn digits(bytes: &[u8], fills: &[Region]) -> Vec<Region> {
    let edges: BTreeSet<usize> =
        fills.iter().flat_map(|f| [f.at.start, f.at.end]).chain([0, bytes.len()]).collect();
    let mut found = Vec::new();
    let mut start = 0;
    for run in bytes.chunk_by(|&a, &b| packed(a) == packed(b)) {
        // What a fill has of the run is no part of the number.
        let (from, to) = (start, start + run.len());
        start = to;
        if !packed(run[0]) {
            continue;
        }
        let cuts: Vec<usize> =
            [from].into_iter().chain(edges.range(from + 1..to).copied()).chain([to]).collect();
        for cut in cuts.windows(2) {
            found.extend(number(bytes, Span::new(cut[0], cut[1]), &edges));
        }
    }
    found.extend(unpacked(bytes, &edges));
    found.retain(|r| r.chance < 0.5);
    found
}

/// The number that packed digits make, unless chance or something simpler explains them.
fn number(bytes: &[u8], at: Span, edges: &BTreeSet<usize>) -> Option<Region> {
    let run = at.of_bytes(bytes)?;
    let distinct = run.iter().collect::<BTreeSet<_>>().len();
    if !(4..=LONGEST).contains(&run.len()) || distinct < 3 {
        return None;
    }
    let printable = run.iter().filter(|b| (0x20..0x7F).contains(*b)).count();
    if printable * 5 > run.len() * 4 {
        return None;
    }
    let bounded = edges.contains(&at.start) && edges.contains(&at.end);
    // Few places of an image are bounded on both sides; each is one try instead of one an offset.
    let tries = if bounded { edges.len() } else { bytes.len() };
    // How much commoner a byte is in any memory than in a row of digits, where each of a hundred is as likely. Zeros
    // are commoner in numbers as well, which are filled up with them.
    let against = |&b: &u8| if b == 0 { 5.0 } else { share(b) * 100.0 };
    let chance = tries as f64 * run.iter().map(against).product::<f64>();
    Some(Region {
        at,
        kind: digits_through(View::Nibbles { high_first: true }, Encoding::PackedDigits, run),
        evidence: format!("{} bytes whose halves are all decimal digits", run.len()),
        chance,
    })
}

/// Numbers of one digit a byte, told from rows of small numbers by their fills on both sides and by using most digits.
fn unpacked(bytes: &[u8], edges: &BTreeSet<usize>) -> Vec<Region> {
    let mut found = Vec::new();
    let mut start = 0;
    for run in bytes.chunk_by(|&a, &b| (a <= 9) == (b <= 9)) {
        let at = Span::of(start, run.len());
        start = at.end;
        let distinct = run.iter().collect::<BTreeSet<_>>().len();
        let bounded = edges.contains(&at.start) && edges.contains(&at.end);
        if run[0] > 9 || !(6..=20).contains(&run.len()) || distinct < 4 || !bounded {
            continue;
        }
        // Small numbers are commoner than 10 in 256; one in three is a rough share.
        let chance = edges.len() as f64 * (1.0f64 / 3.0).powi(i32::try_from(run.len()).unwrap_or(i32::MAX));
        found.push(Region {
            at,
            kind: digits_through(View::Bytes(ByteChange::DigitOf), Encoding::UnpackedDigits, run),
            evidence: format!("{} bytes from 0 to 9 between fills", run.len()),
            chance,
        });
    }
    found
}

fn digits_through(view: View, encoding: Encoding, run: &[u8]) -> Kind {
    Kind::PackedDigits { digits: String::from_utf8_lossy(&view.symbols(run)).into_owned(), encoding }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn digits_of(region: &Region) -> &str {
        let Kind::PackedDigits { digits, .. } = &region.kind else { panic!("{region:?}") };
        digits
    }

    #[test]
    fn a_serial_between_fills_weighs_more_than_one_among_other_bytes() {
        let mut bytes = vec![0xFF; 64];
        bytes[20..25].copy_from_slice(&[0x24, 0x07, 0x31, 0x10, 0x58]);
        let alone = digits(&bytes, &super::super::fill::fills(&bytes));
        let mut among = vec![0xAB; 64];
        among[20..25].copy_from_slice(&[0x24, 0x07, 0x31, 0x10, 0x58]);
        let among = digits(&among, &[]);
        assert_eq!(digits_of(&alone[0]), "2407311058");
        assert!(among.is_empty() || alone[0].chance < among[0].chance);
    }

    #[test]
    fn digits_of_one_byte_each_are_found_between_fills() {
        let mut bytes = vec![0xFF; 64];
        bytes[20..30].copy_from_slice(&[2, 4, 0, 7, 3, 1, 0, 0, 5, 8]);
        assert_eq!(digits_of(&digits(&bytes, &super::super::fill::fills(&bytes))[0]), "2407310058");
    }

    #[test]
    fn texts_and_small_numbers_are_no_packed_digits() {
        for run in [b"1042 2047 " as &[u8], &[1, 0, 2, 0, 4, 0, 9, 0, 1, 0]] {
            let mut bytes = vec![0xAB; 64];
            bytes[20..20 + run.len()].copy_from_slice(run);
            assert!(digits(&bytes, &[]).is_empty());
        }
    }
}
