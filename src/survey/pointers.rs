//! Numbers that equal the place where something begins, or the length of what follows.

use std::collections::{HashMap, HashSet};

use super::{Kind, Region};
use crate::span::{ByteOrder, Span};

/// The fewest different places that are pointed at before the numbers are called pointers.
const FEWEST: usize = 3;

/// Pointers and lengths worth naming: 16-bit numbers at even offsets, of one byte order, in groups that chance
/// does not explain.
pub(super) fn pointers(bytes: &[u8], gaps: &[Span], regions: &[Region], fills: &[Region]) -> Vec<Region> {
    [ByteOrder::Big, ByteOrder::Little]
        .into_iter()
        .flat_map(|order| of_order(bytes, gaps, regions, fills, order))
        .collect()
}

fn of_order(
    bytes: &[u8],
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
        if starts.contains(&value) {
            pointers.push((at, value));
        }
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
            evidence: format!("the number {to:#06x} ({}) is where a region begins", order.words()),
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
        let found = survey(&[&Image::raw(bytes)], Course::Units, &[]);
        let to: Vec<usize> = found
            .regions
            .iter()
            .filter_map(|r| match r.kind {
                Kind::Pointer { to, order: ByteOrder::Big } => Some(to),
                _ => None,
            })
            .collect();
        assert_eq!(to, [0x0100, 0x0180, 0x0240]);
    }
}
