//! Numbers that equal the place where something begins, or the length of what follows.

use std::collections::{HashMap, HashSet};

use super::{Kind, Region};
use crate::span::{ByteOrder, Span};

/// The fewest different places that are pointed at before the numbers are called pointers.
const FEWEST: usize = 3;

/// Pointers and lengths worth naming: 16-bit numbers at even offsets, of one byte order, in groups that chance
/// does not explain. A pointer is an address, or counts from the first byte, which has the address `base`.
pub(super) fn pointers(
    bytes: &[u8],
    base: u64,
    gaps: &[Span],
    regions: &[Region],
    fills: &[Region],
) -> Vec<Region> {
    let orders = [ByteOrder::Big, ByteOrder::Little].into_iter();
    let counted = orders.clone().flat_map(|order| of_order(bytes, 0, gaps, regions, fills, order));
    let mut found: Vec<Region> = counted.collect();
    if base > 0 {
        let by_address = orders.flat_map(|order| of_order(bytes, base, gaps, regions, fills, order));
        found.extend(by_address.filter(|region| matches!(region.kind, Kind::Pointer { .. })));
    }
    found
}

/// Those of one byte order; a pointer is the place where something begins, plus `base`.
fn of_order(
    bytes: &[u8],
    base: u64,
    gaps: &[Span],
    regions: &[Region],
    fills: &[Region],
    order: ByteOrder,
) -> Vec<Region> {
    let mut inside = vec![false; bytes.len()];
    // Half a number is none.
    gaps.iter().for_each(|gap| inside[gap.start & !1..gap.end].fill(true));
    let said = |r: &&Region| {
        matches!(
            r.kind,
            Kind::Text { .. } | Kind::Fill(_) | Kind::Dense | Kind::Copy { .. } | Kind::Linked { .. }
        )
    };
    regions.iter().chain(fills).filter(said).for_each(|r| inside[r.at.range()].fill(true));
    let starts: HashSet<usize> =
        regions.iter().filter(|r| r.chance < 1e-3).map(|r| r.at.start).filter(|&s| s >= 16).collect();
    let lengths_at: HashMap<usize, usize> = regions.iter().map(|r| (r.at.start, r.at.len())).collect();
    let mut words = 0usize;
    let mut pointers = Vec::new();
    let mut lengths = Vec::new();
    for (i, pair) in bytes.chunks_exact(2).enumerate() {
        let at = i * 2;
        if inside[at] {
            continue;
        }
        words += 1;
        let value = order.number_u64(pair) as usize;
        let to = (value as u64).checked_sub(base).and_then(|to| usize::try_from(to).ok());
        pointers.extend(to.filter(|to| starts.contains(to)).map(|to| (at, to)));
        if let Some(&length) = lengths_at.get(&(at + 2)).filter(|&&length| length == value && value >= 4) {
            lengths.push((at, length));
        }
    }
    // By chance each word hits one of the starts; so many different starts are hit by chance only as often as
    // all those hits together. Real numbers are small and round more often than random ones, as starts are.
    const ROUND: f64 = 16.0;
    let expected = ROUND * words as f64 * starts.len() as f64 / 65_536.0;
    let distinct = pointers.iter().map(|p| p.1).collect::<std::collections::BTreeSet<_>>().len();
    if distinct < FEWEST {
        pointers.clear();
    }
    let group = expected.powi(i32::try_from(distinct).unwrap_or(i32::MAX));
    let mut found: Vec<Region> = pointers
        .into_iter()
        .map(|(at, to)| Region {
            at: Span::of(at, 2),
            kind: Kind::Pointer { to, order },
            evidence: format!(
                "the number {:#06x} ({}) is where a region begins{}",
                base.saturating_add(to as u64),
                order.words(),
                if base == 0 { "" } else { ", by its address" }
            ),
            chance: group,
        })
        .collect();
    found.extend(lengths.into_iter().map(|(at, bytes_after)| Region {
        at: Span::of(at, 2),
        kind: Kind::Length { bytes: bytes_after, order },
        evidence: format!(
            "the number {bytes_after} ({}) is the length of the region after it",
            order.words()
        ),
        chance: regions.len() as f64 / 65_536.0,
    }));
    found.retain(|r| r.chance < 0.05);
    found
}

#[cfg(test)]
mod tests {
    use super::super::survey;
    use super::*;
    use crate::image::Image;
    use crate::survey::Course;

    #[test]
    fn a_directory_of_pointers_is_found_in_its_order() {
        let mut bytes = vec![0xFF; 1024];
        for (i, (at, text)) in
            [(0x0100, "COMPRESSOR ONE"), (0x0180, "EVAPORATOR FAN"), (0x0240, "DEFROST HEATER")]
                .iter()
                .enumerate()
        {
            bytes[i * 2..i * 2 + 2].copy_from_slice(&u16::to_be_bytes(*at));
            bytes[usize::from(*at)..usize::from(*at) + text.len()].copy_from_slice(text.as_bytes());
        }
        let to = |bytes: &[u8], base: u64| -> Vec<usize> {
            let image = Image::with_gaps(base, bytes.to_vec(), Vec::new());
            let found = survey(&[&image], Course::Units, &[]).regions.into_iter();
            let to = |r: Region| match r.kind {
                Kind::Pointer { to, order: ByteOrder::Big } => Some(to),
                _ => None,
            };
            found.filter_map(to).collect()
        };
        assert_eq!(to(&bytes, 0), [0x0100, 0x0180, 0x0240]);
        // Counted from the first byte of a memory that begins elsewhere, or by address.
        assert_eq!(to(&bytes, 0x8000), [0x0100, 0x0180, 0x0240]);
        (0..3).for_each(|i| bytes[i * 2] += 0x80);
        assert_eq!(to(&bytes, 0x8000), [0x0100, 0x0180, 0x0240]);
        assert!(to(&bytes, 0).is_empty());
    }
}
