//! The algorithms of the catalogue by what their look-ups have in common.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use super::gf2::Field;
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
    /// Bytes added to a sum of 16 bits that is rotated by one bit before each.
    Rotating,
}

/// Algorithms that differ by their constants only.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kernel {
    pub family: Family,
    pub bits: u32,
    pub members: Vec<Algorithm>,
}

/// Every kernel of the catalogue. Left out is the CRC of 82 bits, whose remainders fill no machine word.
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
        Method::BsdSum => Family::Rotating,
    })
}

impl Family {
    /// Bytes of a word.
    pub(super) fn step(self) -> usize {
        match self {
            Family::Crc { .. } | Family::Rotating => 1,
            Family::Sum { word, .. } | Family::Xor { word, .. } | Family::Pair { word, .. } => {
                usize::from(word / 8)
            }
        }
    }

    /// Bits that one image may be worth: a sum of small words is not spread over all its bits.
    pub(super) fn evidence(self) -> u32 {
        match self {
            Family::Sum { word, .. } => u32::from(word) + 6,
            Family::Crc { .. } | Family::Xor { .. } | Family::Pair { .. } | Family::Rotating => 64,
        }
    }
}

/// `bits` ones at the bottom, 1 to 64.
pub(super) const fn mask(bits: u32) -> u64 {
    u64::MAX >> (64 - bits)
}
