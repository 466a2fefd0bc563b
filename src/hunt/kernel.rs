//! Numbers for prefixes and stored values, for every family of checks.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use super::gf2::{Field, reversed};
use crate::check::{Algorithm, Finish, Method, Operation, SumParameters, catalogue};
use crate::span::ByteOrder;

/// What the algorithms of a kernel have in common: all but their constants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Family {
    Crc {
        field: Field,
        refin: bool,
        refout: bool,
    },
    /// Words added; the stored value is the sum or, when `missing`, what is missing to a constant.
    Sum {
        bits: u8,
        word: u8,
        order: ByteOrder,
        carry: bool,
        missing: bool,
    },
    Xor {
        bits: u8,
        word: u8,
        order: ByteOrder,
    },
    /// Two running sums: a Fletcher sum of `bits` bits, or Adler-32 when the first starts at `init` 1.
    Pair {
        half: u32,
        word: u8,
        modulus: u64,
        init: u64,
    },
}

/// Algorithms that differ by their constants only.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kernel {
    pub family: Family,
    pub bits: u32,
    pub members: Vec<Algorithm>,
}

/// Every kernel of the catalogue. Left out are the CRC of 82 bits, whose residues fill no machine word, and the
/// BSD sum, whose rotation lets no prefix be taken out of a range.
pub(super) fn kernels() -> &'static [Kernel] {
    static ALL: LazyLock<Vec<Kernel>> = LazyLock::new(|| {
        let mut kernels: Vec<Kernel> = Vec::new();
        for listed in catalogue() {
            let algorithm = &listed.algorithm;
            let Some(family) = family(algorithm.method) else { continue };
            match kernels.iter_mut().find(|kernel| kernel.family == family) {
                Some(kernel) => kernel.members.push(algorithm.clone()),
                None => {
                    kernels.push(Kernel { family, bits: algorithm.bits(), members: vec![algorithm.clone()] });
                }
            }
        }
        kernels
    });
    &ALL
}

/// The byte orders in which a value of `bits` bits can be stored.
pub(super) fn orders(bits: u32) -> &'static [ByteOrder] {
    if bits <= 8 { &[ByteOrder::Big] } else { &[ByteOrder::Big, ByteOrder::Little] }
}

/// How many algorithms of `bits` bits there are, each counted for each byte order.
pub(super) fn ways(bits: u32) -> usize {
    let members = |kernel: &Kernel| kernel.members.len();
    kernels().iter().filter(|kernel| kernel.bits == bits).map(members).sum::<usize>() * orders(bits).len()
}

/// The same for kernels, which is what is tried when constants are solved for.
pub(super) fn kernel_ways(bits: u32) -> usize {
    kernels().iter().filter(|kernel| kernel.bits == bits).count() * orders(bits).len()
}

/// Every number of bits that a kernel has.
pub(super) fn widths() -> BTreeSet<u32> {
    kernels().iter().map(|kernel| kernel.bits).collect()
}

fn family(method: Method) -> Option<Family> {
    Some(match method {
        Method::Crc(crc) => Family::Crc {
            field: Field::new(crc.width.into(), u64::try_from(crc.poly).ok()?)?,
            refin: crc.refin,
            refout: crc.refout,
        },
        Method::Sum(SumParameters { operation, bits, word, order, finish, .. }) => match operation {
            Operation::Xor => Family::Xor { bits, word, order },
            Operation::Add | Operation::AddCarry => Family::Sum {
                bits,
                word,
                order,
                carry: operation == Operation::AddCarry,
                missing: finish != Finish::Plain,
            },
        },
        Method::Fletcher(bits) => {
            let half = u32::from(bits / 2);
            Family::Pair { half, word: bits / 2, modulus: (1 << half) - 1, init: 0 }
        }
        Method::Adler32 => Family::Pair { half: 16, word: 8, modulus: 65_521, init: 1 },
        // Folding brings the carry round.
        Method::SystemVSum => {
            Family::Sum { bits: 16, word: 8, order: ByteOrder::Big, carry: true, missing: false }
        }
        Method::BsdSum => return None,
    })
}

impl Family {
    /// Bytes of a word.
    pub(super) fn step(self) -> usize {
        match self {
            Family::Crc { .. } => 1,
            Family::Sum { word, .. } | Family::Xor { word, .. } | Family::Pair { word, .. } => {
                usize::from(word / 8)
            }
        }
    }

    /// Bits that one image may be worth: a sum of small words is not spread over all its bits.
    pub(super) fn evidence(self) -> u32 {
        match self {
            Family::Sum { word, .. } => u32::from(word) + 6,
            Family::Crc { .. } | Family::Xor { .. } | Family::Pair { .. } => 64,
        }
    }

    fn order(self) -> ByteOrder {
        match self {
            Family::Sum { order, .. } | Family::Xor { order, .. } => order,
            Family::Crc { .. } => ByteOrder::Big,
            Family::Pair { .. } => ByteOrder::Little,
        }
    }

    /// Whether differences between images can be looked up instead of the images' own numbers.
    pub(super) fn has_differences(self) -> bool {
        !matches!(self, Family::Pair { .. })
    }

    /// The number of every prefix of `bytes`, word by word.
    pub(super) fn prefixes(self, bytes: &[u8]) -> Vec<u64> {
        if let Family::Crc { field, refin, .. } = self {
            return field.prefixes(bytes, refin);
        }
        let order = self.order();
        let words = bytes.chunks_exact(self.step()).map(|word| number(word, order));
        let mut prefixes = Vec::with_capacity(bytes.len() / self.step() + 1);
        prefixes.push(0);
        match self {
            Family::Pair { modulus, .. } => {
                let (mut sum, mut weighted) = (0, 0);
                for (index, word) in words.enumerate() {
                    sum = (sum + word) % modulus;
                    weighted = (weighted + index as u64 % modulus * (word % modulus)) % modulus;
                    prefixes.push(sum << 32 | weighted);
                }
            }
            _ => {
                let mut sum = 0;
                for word in words {
                    sum = self.join(sum, word);
                    prefixes.push(sum);
                }
            }
        }
        prefixes
    }

    /// Two numbers put together.
    pub(super) fn join(self, a: u64, b: u64) -> u64 {
        match self {
            Family::Crc { .. } | Family::Xor { .. } => a ^ b,
            Family::Sum { bits, carry, .. } => {
                let mask = mask(bits);
                let sum = u128::from(a) + u128::from(b);
                if carry { (sum % u128::from(mask)) as u64 } else { sum as u64 & mask }
            }
            Family::Pair { modulus, .. } => {
                let half = |a: u64, b: u64| (a + b) % modulus;
                half(a >> 32, b >> 32) << 32 | half(a & LOW, b & LOW)
            }
        }
    }

    /// A stored value as the sums count it: with end-around carry all ones is zero.
    pub(super) fn reduced(self, value: u64) -> u64 {
        match self {
            Family::Sum { bits, carry: true, .. } => value % mask(bits),
            _ => value,
        }
    }

    /// What `b` must be joined with to give `a`; both reduced.
    #[inline]
    pub(super) fn part(self, a: u64, b: u64) -> u64 {
        match self {
            Family::Crc { .. } | Family::Xor { .. } => a ^ b,
            Family::Sum { bits, carry: false, .. } => a.wrapping_sub(b) & mask(bits),
            Family::Sum { bits, .. } => less(a, b, mask(bits)),
            Family::Pair { modulus, .. } => {
                let half = |a: u64, b: u64| less(a, b, modulus);
                half(a >> 32, b >> 32) << 32 | half(a & LOW, b & LOW)
            }
        }
    }

    /// The number of the prefix up to position `at` as the beginning of a range.
    pub(super) fn as_start(self, at: usize, prefix: u64) -> u64 {
        match self {
            Family::Pair { modulus, init, .. } => {
                let weighted = (prefix & LOW) + (modulus - at as u64 % modulus * init % modulus);
                (prefix & !LOW) | (weighted % modulus)
            }
            _ => prefix,
        }
    }

    /// For a pair of sums: the number at the beginning of a range that ends at position `at` and has `value`.
    #[inline]
    pub(super) fn start_of_pair(self, at: usize, prefix: u64, value: u64) -> u64 {
        let Family::Pair { modulus, init, .. } = self else { return prefix };
        let (low, high) = (value >> 32, value & LOW);
        let sum = less(prefix >> 32, low, modulus);
        // Positions are below 2^32 and so are the sums.
        let weight = at as u64 * (low + init) % modulus;
        let joined = high + (prefix & LOW);
        let joined = if joined >= modulus { joined - modulus } else { joined };
        (sum << 32) | less(joined, weight, modulus)
    }

    /// For a pair of sums: the value, as it enters the look-up, of a range that ends at position `at`.
    pub(super) fn value_of_pair(self, at: usize, start: u64, end: u64) -> u64 {
        let Family::Pair { modulus, init, .. } = self else { return self.part(end, start) };
        let sum = ((end >> 32) + modulus - (start >> 32)) % modulus;
        let at = at as u64 % modulus;
        let high = (at * sum + at * init) % modulus + (start & LOW) + modulus - (end & LOW);
        (sum << 32) | (high % modulus)
    }

    /// A stored `value` as it enters the look-up, for an algorithm with these constants; `None` when no range can
    /// have it.
    pub(super) fn wanted(self, member: &Algorithm, value: u64) -> Option<u64> {
        match (self, member.method) {
            (Family::Crc { field, refout, .. }, Method::Crc(crc)) => self
                .register(value)
                .map(|_| shown_to_register(value ^ crc.xorout as u64, field.width, refout)),
            (Family::Sum { .. } | Family::Xor { .. }, Method::Sum(sum)) => {
                let value = match sum.finish {
                    Finish::Plain => self.reduced(value),
                    Finish::To(constant) => self.part(self.reduced(constant), self.reduced(value)),
                };
                Some(self.part(value, self.reduced(sum.init)))
            }
            (Family::Sum { .. }, _) => Some(self.reduced(value)),
            (Family::Pair { half, modulus, init, .. }, _) => {
                let (low, high) = (value & ((1 << half) - 1), value >> half);
                (low < modulus && high < modulus).then(|| ((low + modulus - init) % modulus) << 32 | high)
            }
            _ => None,
        }
    }

    /// A stored value as the register of a CRC; `None` when it has more bits. Other families keep it.
    pub(super) fn register(self, value: u64) -> Option<u64> {
        match self {
            Family::Crc { field, refout, .. } => {
                (value <= mask(field.width as u8)).then(|| shown_to_register(value, field.width, refout))
            }
            _ => Some(self.reduced(value)),
        }
    }

    /// The difference of two stored values as it enters the look-up.
    pub(super) fn wanted_difference(self, value: u64, first: u64) -> Option<u64> {
        let (value, first) = (self.register(value)?, self.register(first)?);
        Some(match self {
            Family::Sum { missing: true, .. } => self.part(first, value),
            _ => self.part(value, first),
        })
    }
}

/// `a` less `b` modulo `modulus`, both below it.
const fn less(a: u64, b: u64, modulus: u64) -> u64 {
    if a >= b { a - b } else { a + modulus - b }
}

const LOW: u64 = 0xFFFF_FFFF;

const fn shown_to_register(value: u64, width: u32, refout: bool) -> u64 {
    if refout { reversed(value, width) } else { value }
}

const fn mask(bits: u8) -> u64 {
    u64::MAX >> (64 - bits as u32)
}

/// The number that at most eight `bytes` form.
pub(super) fn number(bytes: &[u8], order: ByteOrder) -> u64 {
    let join = |value: u64, &byte: &u8| value << 8 | u64::from(byte);
    match order {
        ByteOrder::Big => bytes.iter().fold(0, join),
        ByteOrder::Little => bytes.iter().rev().fold(0, join),
    }
}
