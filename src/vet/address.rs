//! Address lines that do nothing: contents that repeat because a larger device was selected, a line that is
//! stuck, two lines that are shorted.
//!
//! When address line k has no effect, the byte at every address equals the byte at the address with bit k the
//! other way. That holds by nature where both are fill, so only pairs with a byte that is neither 00 nor FF nor
//! the commonest value count as evidence, and there must be enough of them with enough different values.

use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::count;

/// Places with a telling byte that are looked at; more add nothing.
const MOST_PLACES: usize = 1 << 16;
/// Pairs that must agree before a line is called dead.
const LEAST_PAIRS: usize = 8;
/// Different values among them.
const LEAST_VALUES: u32 = 4;
/// For one pair that disagrees, so many must agree.
const PAIRS_PER_SLIP: usize = 48;
/// The same for contents that repeat.
const COPIES_PER_SLIP: usize = 12;
/// The smallest serial memories hold so many bytes.
const SMALLEST_CHIP: usize = 16;

/// What the address lines of a read look like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Lines {
    /// The contents repeat, exactly or but for a few bytes.
    Repeat {
        /// Bytes after which everything comes again: the likely capacity.
        period: usize,
        /// Bytes of the repetitions that differ from the first.
        slips: usize,
    },
    /// This line has no effect; the lines above it have.
    Stuck(u32),
    /// These two lines act as one, and the address seen is their AND (`true`) or their OR.
    Shorted(u32, u32, bool),
}

impl Lines {
    /// Offset past which the image holds nothing of its own because of this, when that is one place.
    pub(super) fn period(&self) -> Option<usize> {
        match *self {
            Lines::Repeat { period, .. } => Some(period),
            Lines::Stuck(_) | Lines::Shorted(..) => None,
        }
    }
}

/// The part of a read that comes again and again, when its contents repeat.
#[must_use]
pub fn repeated(image: &Image) -> Option<Image> {
    let period = examine(image.bytes()).first()?.period()?;
    Some(first_part(image, period))
}

/// The first bytes of an image, with the gaps in them.
pub(super) fn first_part(image: &Image, bytes: usize) -> Image {
    let within = Span::new(0, bytes.min(image.len()));
    let gaps = image.gaps().iter().filter_map(|g| g.intersection(within)).collect();
    Image::with_gaps(image.base(), image.bytes()[within.range()].to_vec(), gaps)
}

/// What is wrong with the address lines of a read, if anything.
pub(super) fn examine(bytes: &[u8]) -> Vec<Lines> {
    let telling = Telling::of(bytes);
    let lines = bytes.len().next_power_of_two().trailing_zeros();
    let across = |k: u32| telling.pairs(|i| Some(i ^ 1 << k));
    let mut found = Vec::new();
    // Dead lines from some line up to the topmost are a repetition; a poor read of one may have many slips.
    let from = (0..lines).rev().take_while(|&k| across(k).holds(COPIES_PER_SLIP)).last();
    let weak: Vec<u32> = (0..from.unwrap_or(lines)).filter(|&k| across(k).holds(COPIES_PER_SLIP)).collect();
    // A stuck line stands alone; several in a row are a table of equal rows.
    let alone = |k: u32| weak.iter().all(|other| other.abs_diff(k) != 1);
    let dead = weak.iter().copied().filter(|&k| alone(k) && across(k).holds(PAIRS_PER_SLIP));
    if let Some(from) = from.filter(|k| 1_usize << k >= SMALLEST_CHIP) {
        let period = 1 << from;
        let slips = bytes.iter().zip(bytes[..period].iter().cycle()).filter(|(a, b)| a != b).count();
        found.push(Lines::Repeat { period, slips });
    }
    // A short pattern makes all of them dead; that is told elsewhere.
    if from.is_none_or(|k| 1_usize << k >= SMALLEST_CHIP) {
        found.extend(dead.map(Lines::Stuck));
    }
    if found.is_empty() && weak.is_empty() {
        found.extend(shorted(&telling, lines));
    }
    found
}

fn shorted(telling: &Telling<'_>, lines: u32) -> Option<Lines> {
    let pairs = (0..lines).flat_map(|high| (0..high).map(move |low| (low, high)));
    pairs.into_iter().find_map(|(low, high)| {
        let both = 1_usize << low | 1 << high;
        // Where the two differ, the address is read with both clear (AND) or with both set (OR).
        let seen_at = |i: usize, and: bool| match i & both {
            0 if and => Some([i | 1 << low, i | 1 << high]),
            0 => None,
            b if b == both => (!and).then_some([i & !(1 << low), i & !(1 << high)]),
            _ if and => Some([i & !both, i & !both]),
            _ => Some([i | both, i | both]),
        };
        [true, false].into_iter().find_map(|and| {
            // Evidence from each of the two mixed settings, or one dead line would pass for a short.
            [0, 1]
                .iter()
                .all(|&side| {
                    let pairs = telling.pairs(|i| seen_at(i, and).map(|p| p[side]));
                    pairs.holds(PAIRS_PER_SLIP) && pairs.slips == 0
                })
                .then_some(Lines::Shorted(low, high, and))
        })
    })
}

/// The places of a read with a byte that says something.
struct Telling<'a> {
    bytes: &'a [u8],
    places: Vec<usize>,
}

/// How many pairs agree and how many do not.
struct Pairs {
    agree: usize,
    slips: usize,
    values: u32,
}

impl Pairs {
    fn holds(&self, pairs_per_slip: usize) -> bool {
        self.agree >= LEAST_PAIRS && self.values >= LEAST_VALUES && self.slips * pairs_per_slip <= self.agree
    }
}

impl<'a> Telling<'a> {
    fn of(bytes: &'a [u8]) -> Self {
        let mut counts = [0_usize; 256];
        for &b in bytes {
            counts[usize::from(b)] += 1;
        }
        let common = (0..=255_u8).max_by_key(|&b| counts[usize::from(b)]).unwrap_or(0xFF);
        let says = |b: u8| b != common && b != 0x00 && b != 0xFF;
        let telling = bytes.iter().filter(|&&b| says(b)).count();
        let step = telling.div_ceil(MOST_PLACES).max(1);
        let places = (0..bytes.len()).filter(|&i| says(bytes[i])).step_by(step).collect();
        Telling { bytes, places }
    }

    /// Compares each telling byte with the one at the place `partner` gives for it; stops when too many differ.
    fn pairs(&self, partner: impl Fn(usize) -> Option<usize>) -> Pairs {
        let mut seen = [0_u64; 4];
        let mut pairs = Pairs { agree: 0, slips: 0, values: 0 };
        // Past this many slips no number of agreements that is left can make it hold.
        let most = self.places.len() / COPIES_PER_SLIP;
        for &i in &self.places {
            let Some(&other) = partner(i).and_then(|p| self.bytes.get(p)) else { continue };
            let byte = self.bytes[i];
            if byte == other {
                pairs.agree += 1;
                seen[usize::from(byte >> 6)] |= 1 << (byte & 63);
            } else {
                pairs.slips += 1;
                if pairs.slips > most {
                    return pairs;
                }
            }
        }
        pairs.values = seen.iter().map(|s| s.count_ones()).sum();
        pairs
    }
}

/// The finding for what the lines look like. `chip` is the capacity that the chip has, when it is known from the
/// chip or from a layout whose marks fit.
pub(super) fn finding(lines: &Lines, len: usize, chip: Option<usize>) -> Finding {
    match *lines {
        Lines::Repeat { period, slips } => repeat(period, slips, len, chip),
        Lines::Stuck(line) => Finding::new(
            Weight::Fault,
            Code::AddressLine,
            format!(
                "every byte equals the one {} bytes further: address line A{line} has no effect",
                1_u64 << line
            ),
            "the line is stuck, broken or not connected, or the chip is wired or addressed in another way",
            format!("check the contact and the drive of A{line}, and read again"),
        ),
        Lines::Shorted(low, high, and) => Finding::new(
            Weight::Fault,
            Code::AddressLine,
            format!(
                "address lines A{low} and A{high} act as one: where they differ, the byte is the one with both {}",
                if and { "low" } else { "high" }
            ),
            "the two lines are shorted",
            format!("look for a bridge between A{low} and A{high}, and read again"),
        ),
    }
}

fn repeat(period: usize, slips: usize, len: usize, chip: Option<usize>) -> Finding {
    let times = len / period;
    let but = match slips {
        0 => "exactly".to_owned(),
        n => format!("but for {}", count(n, "byte")),
    };
    let seen = format!("the contents repeat every {period} bytes, {times} times, {but}");
    if !len.is_power_of_two() {
        return Finding::new(
            Weight::Note,
            Code::Repeats,
            seen,
            "no chip has this size, so the file was put together of equal blocks",
            "ask where the file comes from",
        )
        .at(Span::of(0, period));
    }
    let confirmed = chip == Some(period);
    let weight = if confirmed || (slips == 0 && times >= 4) { Weight::Fault } else { Weight::Doubt };
    let means = if chip == Some(len) {
        format!(
            "the maker keeps a copy in the upper half, or address line A{} does nothing",
            period.trailing_zeros()
        )
    } else if confirmed {
        format!("a device of {len} bytes was selected for a chip of {period}")
    } else {
        format!(
            "a larger device was selected than the chip, which likely holds {period} bytes, or the maker keeps equal copies"
        )
    };
    Finding::new(
        weight,
        Code::Repeats,
        seen,
        means,
        format!(
            "read the marking of the chip, select a device of {period} bytes if it says so, and read again"
        ),
    )
    .at(Span::new(period, len))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 256 bytes in which no two halves of anything are equal.
    fn content() -> Vec<u8> {
        (0..256_usize).map(|i| ((i * 167) ^ (i >> 3) ^ 0x5A) as u8).collect()
    }

    /// What is read when the address is changed on its way.
    fn read(bytes: &[u8], address: impl Fn(usize) -> usize) -> Vec<u8> {
        (0..bytes.len()).map(|i| bytes[address(i)]).collect()
    }

    #[test]
    fn a_larger_device_repeats_and_the_period_is_the_capacity() {
        assert_eq!(examine(&content()), []);
        let twice = content().repeat(8);
        assert_eq!(examine(&twice), [Lines::Repeat { period: 256, slips: 0 }]);
        let mut nearly = twice.clone();
        nearly[700] ^= 1;
        assert_eq!(examine(&nearly), [Lines::Repeat { period: 256, slips: 1 }]);
    }

    #[test]
    fn each_stuck_line_is_named_at_either_level() {
        for line in 0..7 {
            for high in [false, true] {
                let bytes = read(&content(), |i| if high { i | 1 << line } else { i & !(1 << line) });
                assert_eq!(examine(&bytes), [Lines::Stuck(line)], "A{line} {high}");
            }
        }
    }

    #[test]
    fn each_pair_of_shorted_lines_is_named() {
        for high in 1..8 {
            for low in 0..high {
                let both = 1 << low | 1 << high;
                let and = read(&content(), |i| if i & both == both { i } else { i & !both });
                assert_eq!(examine(&and), [Lines::Shorted(low, high, true)], "A{low} A{high}");
                let or = read(&content(), |i| if i & both == 0 { i } else { i | both });
                assert_eq!(examine(&or), [Lines::Shorted(low, high, false)], "A{low} A{high}");
            }
        }
    }

    #[test]
    fn mostly_blank_images_and_blank_halves_raise_nothing() {
        let mut blank = vec![0xFF; 8192];
        assert_eq!(examine(&blank), []);
        blank[..6].copy_from_slice(&[1, 2, 3, 4, 5, 6]);
        assert_eq!(examine(&blank), []);
        blank[..256].copy_from_slice(&content());
        assert_eq!(examine(&blank), []);
        let zeros_then_ff = [vec![0; 4096], vec![0xFF; 4096]].concat();
        assert_eq!(examine(&zeros_then_ff), []);
    }

    #[test]
    fn equal_blocks_in_a_file_of_no_chips_size_are_only_a_note() {
        let lines = examine(&content().repeat(47));
        let found = finding(&lines[0], 47 * 256, None);
        assert_eq!((found.weight, found.code), (Weight::Note, Code::Repeats));
    }

    #[test]
    fn a_table_of_equal_rows_is_no_stuck_line() {
        let mut bytes = vec![0xFF; 2048];
        bytes[..1024].copy_from_slice(&content()[..64].repeat(16));
        assert_eq!(examine(&bytes), []);
    }

    #[test]
    fn two_copies_are_a_doubt_until_the_chip_is_known() {
        let lines = Lines::Repeat { period: 4096, slips: 0 };
        assert_eq!(finding(&lines, 8192, None).weight, Weight::Doubt);
        assert_eq!(finding(&lines, 8192, Some(4096)).weight, Weight::Fault);
        assert_eq!(finding(&lines, 8192, Some(8192)).weight, Weight::Doubt);
    }
}
