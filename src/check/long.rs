//! CRCs of long ranges, shortened before the `crc` crate computes them, and shared between all cores.
//!
//! A CRC is the remainder of a division, so a multiple of the polynomial may be added to the message without changing
//! it. A multiple of four terms, all of them powers of x^8, takes a whole byte away from the front and puts it at three
//! places further on: plain exclusive ors of bytes, which processors do by the dozen. What is left at the end is a few
//! thousand bytes with the same remainder, and those are the crate's. From memory, the idea is that of Russell,
//! "Chorba: A novel CRC32 implementation" (arXiv 2412.16398, 2024).

use std::collections::HashMap;
use std::num::NonZero;
use std::thread;

use super::ones;

/// Ranges from this size on are worth the work.
pub(super) const LONG: usize = 1 << 20;

/// Bytes that are moved at once, the least distance to the next place.
const LANE: usize = 64;

/// How long ranges are computed with one polynomial.
#[derive(Debug, Clone, Copy)]
pub(super) struct Long {
    ring: Ring,
    hops: Option<[usize; 3]>,
}

impl Long {
    pub(super) fn new(width: u8, poly: u128) -> Self {
        let ring = Ring::new(width, poly);
        Long { ring, hops: ring.hops() }
    }

    /// The register after `bytes`, where `of` tells the register after bytes that find it zero.
    pub(super) fn register(&self, before: u128, bytes: &[u8], of: impl Fn(&[u8]) -> u128 + Sync) -> u128 {
        let cores = thread::available_parallelism().map_or(1, NonZero::get);
        self.in_parts(before, bytes, bytes.len().div_ceil(cores).max(LONG / 2), of)
    }

    /// The same, each part of so many bytes by a thread of its own.
    fn in_parts(&self, before: u128, bytes: &[u8], part: usize, of: impl Fn(&[u8]) -> u128 + Sync) -> u128 {
        let after = |part: &[u8]| match self.hops {
            Some(hops) => of(&shortened(part, hops)),
            None => of(part),
        };
        let (first, others) = bytes.split_at(part.min(bytes.len()));
        thread::scope(|scope| {
            let after = &after;
            let others: Vec<_> =
                others.chunks(part).map(|part| (part.len(), scope.spawn(move || after(part)))).collect();
            let first = self.ring.shifted(before, first.len()) ^ after(first);
            others.into_iter().fold(first, |register, (len, other)| {
                let own = other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
                self.ring.shifted(register, len) ^ own
            })
        })
    }
}

/// Polynomials over the two-element field modulo that of a CRC; their highest coefficient stands in the highest bit.
#[derive(Debug, Clone, Copy)]
struct Ring {
    width: u32,
    poly: u128,
}

impl Ring {
    fn new(width: u8, poly: u128) -> Self {
        let width = u32::from(width);
        Ring { width, poly: poly << (128 - width) }
    }

    const fn one(self) -> u128 {
        1 << (128 - self.width)
    }

    const fn times_x(self, value: u128) -> u128 {
        (value << 1) ^ (self.poly & (value >> 127).wrapping_neg())
    }

    fn times_byte(self, value: u128) -> u128 {
        (0..8).fold(value, |value, _| self.times_x(value))
    }

    fn product(self, a: u128, b: u128) -> u128 {
        (0..self.width).fold(0, |sum, bit| self.times_x(sum) ^ (a & (b << bit >> 127).wrapping_neg()))
    }

    /// A register after `len` zero bytes.
    fn shifted(self, register: u128, len: usize) -> u128 {
        let (mut shift, mut square, mut left) = (self.one(), self.times_byte(self.one()), len);
        while left > 0 {
            if left & 1 == 1 {
                shift = self.product(shift, square);
            }
            square = self.product(square, square);
            left >>= 1;
        }
        self.product(shift, register << (128 - self.width)) >> (128 - self.width)
    }

    /// How far on a byte may be put, at three places, instead of where it stands. `None` for polynomials of more than
    /// 32 bits, whose multiples of four terms are too long, and for the few that were chosen to have none.
    fn hops(self) -> Option<[usize; 3]> {
        /// Among so many powers, all but one polynomial of 32 bits in ten thousand have such a multiple by chance.
        const POWERS: usize = 6500;
        if self.width > 32 {
            return None;
        }
        let powers: Vec<u32> = std::iter::successors(Some(self.one()), |&power| Some(self.times_byte(power)))
            .take(POWERS)
            .map(|power| (power >> 96) as u32)
            .collect();
        // Most of the sums are no power, which a bit for each of few hashes tells at once.
        let hash = |power: u32| (power.wrapping_mul(0x9E37_79B1) >> 16) as usize;
        let mut maybe = vec![0_u64; 1 << 10];
        let mut places = HashMap::new();
        for (last, &power) in powers.iter().enumerate().skip(LANE) {
            let near = last - LANE;
            maybe[hash(powers[near]) >> 6] |= 1 << (hash(powers[near]) & 63);
            places.insert(powers[near], near);
            for (place, middle) in powers[..=near].iter().enumerate().skip(1) {
                let other = power ^ middle ^ powers[0];
                if maybe[hash(other) >> 6] >> (hash(other) & 63) & 1 == 0 {
                    continue;
                }
                if let Some(&other) = places.get(&other).filter(|&&other| other > 0 && other != place) {
                    return Some([last - place, last - other, last]);
                }
            }
        }
        None
    }
}

/// Fewer bytes that leave the same in a register that was zero: all but the last are put further on.
fn shortened(bytes: &[u8], hops: [usize; 3]) -> Vec<u8> {
    /// With what stands before it, it fits into the nearest cache.
    const BLOCK: usize = 16 << 10;
    let reach = hops.into_iter().max().unwrap_or_default();
    let moved = bytes.len().saturating_sub(reach) / LANE * LANE;
    // What became of the bytes before a block, then of the block.
    let mut held = vec![0; reach + BLOCK];
    for block in bytes[..moved].chunks(BLOCK) {
        for (at, lane) in block.as_chunks::<LANE>().0.iter().enumerate() {
            let (before, here) = held.split_at_mut(reach + at * LANE);
            let [a, b, c] = hops.map(|hop| &before[before.len() - hop..][..LANE]);
            for ((((here, byte), a), b), c) in here.iter_mut().zip(lane).zip(a).zip(b).zip(c) {
                *here = byte ^ a ^ b ^ c;
            }
        }
        held.copy_within(block.len()..block.len() + reach, 0);
    }
    let mut left = bytes[moved..].to_vec();
    for hop in hops {
        left.iter_mut().zip(&held[reach - hop..reach]).for_each(|(byte, before)| *byte ^= before);
    }
    left
}

/// The lowest `width` bits in the other order.
pub(super) const fn reversed(value: u128, width: u8) -> u128 {
    match width {
        0 => 0,
        _ => (value & ones(width as u32)).reverse_bits() >> (128 - width as u32),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::crc::CrcRunning;
    use crate::check::{CrcParameters, Method, catalogue};

    /// One algorithm of each polynomial in the catalogue, without what happens to the register at both ends.
    fn listed() -> Vec<CrcParameters> {
        let mut listed: Vec<CrcParameters> = Vec::new();
        for one in catalogue() {
            let Method::Crc(parameters) = one.algorithm.method else { continue };
            let is_known = |p: &CrcParameters| {
                let of = |p: &CrcParameters| (p.width, p.poly, p.refin);
                of(p) == of(&parameters)
            };
            if !listed.iter().any(is_known) {
                listed.push(CrcParameters { init: 0, xorout: 0, refout: false, ..parameters });
            }
        }
        listed
    }

    fn noise(len: usize) -> Vec<u8> {
        (0..len as u32).map(|i| (i.wrapping_mul(i).wrapping_mul(2_654_435_761) >> 23) as u8).collect()
    }

    fn of(parameters: CrcParameters, bytes: &[u8]) -> u128 {
        let mut running = CrcRunning::new(parameters);
        running.update(bytes);
        running.finish()
    }

    #[test]
    fn nearly_all_polynomials_have_a_multiple_of_four_terms_and_the_parts_of_a_range_are_put_together() {
        let bytes = noise(30_077);
        for parameters in listed() {
            let long = Long::new(parameters.width, parameters.poly);
            let power = |at: usize| long.ring.shifted(1, at);
            match long.hops {
                Some([a, b, c]) => {
                    assert!(parameters.width <= 32 && a >= LANE && b >= LANE && c > a && c > b);
                    assert_eq!(power(c), power(c - a) ^ power(c - b) ^ 1, "{parameters:?}");
                }
                // These three tell five wrong bits apart over thousands of bytes, which is the same as having none.
                None => assert!(
                    parameters.width > 32
                        || matches!(parameters.poly, 0xF4AC_FB13 | 0xA833_982B | 0x741B_8CD7),
                    "{parameters:?}"
                ),
            }
            let before = ones(u32::from(parameters.width)) / 3;
            for (len, part) in [(30_077, 10_000), (30_077, 40_000), (9999, 7), (0, 5)] {
                let bytes = &bytes[..len];
                let whole = long.in_parts(before, bytes, part.max(len / 9), |bytes| of(parameters, bytes));
                assert_eq!(whole, of(CrcParameters { init: before, ..parameters }, bytes), "{parameters:?}");
            }
        }
    }

    #[test]
    fn a_long_piece_gives_what_short_ones_give_whatever_stands_at_both_ends_of_the_register() {
        let bytes = noise(LONG + 77);
        // Reflected and not, one of them at one end only; a width that is no whole bytes, and one without a multiple.
        let names =
            ["CRC-32/CKSUM", "CRC-32/ISO-HDLC", "CRC-12/UMTS", "CRC-5/USB", "CRC-64/XZ", "CRC-82/DARC"];
        for algorithm in names.map(|name| crate::check::by_name(name).unwrap()) {
            let short = algorithm.compute(bytes.chunks(LONG - 1));
            assert_eq!(algorithm.compute([&bytes[..]]), short, "{algorithm}");
            let pieces = [&bytes[..50], &bytes[50..LONG + 50], &bytes[LONG + 50..]];
            assert_eq!(algorithm.compute(pieces), short, "{algorithm}");
        }
    }

    #[test]
    fn shortened_bytes_leave_the_same_and_are_few() {
        let zero = listed().into_iter().find(|p| p.width == 32).unwrap();
        let hops = Ring::new(32, zero.poly).hops().unwrap();
        for len in [0, 1, 100, 5000, 40_000, 40_001, 40_063, 40_064] {
            let bytes = noise(len);
            let short = shortened(&bytes, hops);
            assert!(short.len() < hops[2] + LANE);
            let padded = [vec![0; 3], bytes].concat();
            assert_eq!(of(zero, &short), of(zero, &padded), "{len} bytes");
        }
    }
}
