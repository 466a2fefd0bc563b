//! Numbers of sums: exclusive or, addition, and the two running sums of Fletcher and Adler.

use super::Algebra;
use crate::check::{Finish, Method};
use crate::hunt::kernel::mask;
use crate::span::ByteOrder;

/// The golden ratio's fraction spreads numbers that differ in few bits.
const fn spread(number: u64) -> u64 {
    (number ^ number >> 32).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}

/// Words of a sum.
#[derive(Clone, Copy)]
pub(in crate::hunt) struct Words {
    pub bytes: usize,
    pub order: ByteOrder,
}

impl Words {
    /// A word of ones.
    const fn ones(self) -> u64 {
        mask(8 * self.bytes as u32)
    }

    fn running(self, bytes: &[u8], mut join: impl FnMut(u64, u64) -> u64) -> Vec<u64> {
        let mut numbers = Vec::with_capacity(bytes.len() / self.bytes + 1);
        let mut sum = 0;
        numbers.push(sum);
        for word in bytes.chunks_exact(self.bytes).map(|word| self.order.number_u64(word)) {
            sum = join(sum, word);
            numbers.push(sum);
        }
        numbers
    }
}

/// Words joined by exclusive or: the number is what is joined so far.
pub(in crate::hunt) struct Xor {
    pub words: Words,
}

impl Algebra for Xor {
    const ENDS_ALIKE: bool = true;

    fn numbers(&self, bytes: &[u8]) -> Vec<u64> {
        self.words.running(bytes, |sum, word| sum ^ word)
    }

    fn register(&self, stored: u64) -> Option<u64> {
        Some(stored)
    }

    fn plus(&self, a: u64, b: u64) -> u64 {
        a ^ b
    }

    fn less(&self, a: u64, b: u64) -> u64 {
        a ^ b
    }

    fn begin(&self, method: Method, _at: usize, number: u64) -> u64 {
        match method {
            Method::Sum(sum) => match sum.finish {
                Finish::Plain => number ^ sum.init,
                Finish::To(constant) => number ^ sum.init ^ constant,
            },
            _ => number,
        }
    }

    fn word(&self, bytes: &[u8], first: &[u8]) -> u64 {
        self.words.order.number_u64(bytes) ^ self.words.order.number_u64(first)
    }

    #[inline]
    fn after(&self, value: u64, word: u64) -> u64 {
        value ^ word
    }

    #[inline]
    fn start(&self, end: u64, placed: u64) -> u64 {
        end ^ placed
    }

    fn start_without(&self, hole: (u64, u64), _bytes: usize, end: u64, placed: u64) -> Option<u64> {
        Some(hole.0 ^ hole.1 ^ end ^ placed)
    }

    fn ones(&self, from: usize, to: usize) -> u64 {
        if (to - from).is_multiple_of(2) { 0 } else { self.words.ones() }
    }

    #[inline]
    fn hash(&self, number: u64) -> u64 {
        spread(number)
    }
}

/// Words added, the carry lost or brought round: the number is the sum so far. Values that are what is missing to a
/// constant are reckoned negative.
pub(in crate::hunt) struct Sum<const CARRY: bool> {
    pub words: Words,
    /// All ones: the modulus with the carry brought round, one less than it otherwise.
    pub mask: u64,
    pub missing: bool,
}

impl<const CARRY: bool> Sum<CARRY> {
    /// With the carry brought round all ones is zero.
    const fn reduced(&self, value: u64) -> u64 {
        if CARRY { value % self.mask } else { value & self.mask }
    }
}

impl<const CARRY: bool> Algebra for Sum<CARRY> {
    const ENDS_ALIKE: bool = true;

    fn numbers(&self, bytes: &[u8]) -> Vec<u64> {
        self.words.running(bytes, |sum, word| self.plus(sum, self.reduced(word)))
    }

    fn register(&self, stored: u64) -> Option<u64> {
        let value = self.reduced(stored);
        Some(if self.missing { self.less(0, value) } else { value })
    }

    #[inline]
    fn plus(&self, a: u64, b: u64) -> u64 {
        if CARRY { sum_below(a, b, self.mask) } else { a.wrapping_add(b) & self.mask }
    }

    #[inline]
    fn less(&self, a: u64, b: u64) -> u64 {
        if CARRY { less(a, b, self.mask) } else { a.wrapping_sub(b) & self.mask }
    }

    fn begin(&self, method: Method, _at: usize, number: u64) -> u64 {
        match method {
            Method::Sum(sum) => {
                let number = self.less(number, self.reduced(sum.init));
                match sum.finish {
                    Finish::Plain => number,
                    Finish::To(constant) => self.plus(number, self.reduced(constant)),
                }
            }
            _ => number,
        }
    }

    fn word(&self, bytes: &[u8], first: &[u8]) -> u64 {
        self.less(
            self.reduced(self.words.order.number_u64(bytes)),
            self.reduced(self.words.order.number_u64(first)),
        )
    }

    #[inline]
    fn after(&self, value: u64, word: u64) -> u64 {
        self.plus(value, word)
    }

    #[inline]
    fn start(&self, end: u64, placed: u64) -> u64 {
        self.less(end, placed)
    }

    fn start_without(&self, hole: (u64, u64), _bytes: usize, end: u64, placed: u64) -> Option<u64> {
        Some(self.less(self.plus(end, hole.0), self.plus(hole.1, placed)))
    }

    fn ones(&self, from: usize, to: usize) -> u64 {
        (from..to).fold(0, |sum, _| self.plus(sum, self.reduced(self.words.ones())))
    }

    #[inline]
    fn hash(&self, number: u64) -> u64 {
        spread(number)
    }
}

/// Two running sums: in the upper half the sum so far, in the lower one the words times their positions. A placed
/// value has in the lower half what is left when its sum is taken off that many times.
pub(in crate::hunt) struct Pair {
    pub words: Words,
    /// Bits of either sum.
    pub half: u32,
    pub modulus: u64,
    /// The first sum before the first word.
    pub init: u64,
}

const LOW: u64 = 0xFFFF_FFFF;

impl Pair {
    fn halves(&self, a: u64, b: u64, join: impl Fn(u64, u64) -> u64) -> u64 {
        join(a >> 32, b >> 32) << 32 | join(a & LOW, b & LOW)
    }
}

impl Algebra for Pair {
    const ENDS_ALIKE: bool = false;

    fn numbers(&self, bytes: &[u8]) -> Vec<u64> {
        let mut at = 0;
        self.words.running(bytes, |sum, word| {
            let word = word % self.modulus;
            let weighted = at % self.modulus * word % self.modulus;
            at += 1;
            self.plus(sum, word << 32 | weighted)
        })
    }

    fn register(&self, stored: u64) -> Option<u64> {
        let (sum, sums) = (stored & mask(self.half), stored >> self.half);
        (sum < self.modulus && sums < self.modulus).then_some(sum << 32 | sums)
    }

    fn plus(&self, a: u64, b: u64) -> u64 {
        self.halves(a, b, |a, b| sum_below(a, b, self.modulus))
    }

    #[inline]
    fn less(&self, a: u64, b: u64) -> u64 {
        self.halves(a, b, |a, b| less(a, b, self.modulus))
    }

    fn begin(&self, _method: Method, at: usize, number: u64) -> u64 {
        self.less(number, self.init << 32 | (at as u64 % self.modulus * self.init % self.modulus))
    }

    fn place(&self, value: u64, at: usize) -> u64 {
        let sum = value >> 32;
        let taken = at as u64 % self.modulus * sum % self.modulus;
        sum << 32 | less(value & LOW, taken, self.modulus)
    }

    #[inline]
    fn back(&self, placed: u64) -> u64 {
        let sum = placed >> 32;
        sum << 32 | sum_below(placed & LOW, sum, self.modulus)
    }

    fn word(&self, bytes: &[u8], first: &[u8]) -> u64 {
        less(
            self.words.order.number_u64(bytes) % self.modulus,
            self.words.order.number_u64(first) % self.modulus,
            self.modulus,
        )
    }

    #[inline]
    fn after(&self, value: u64, word: u64) -> u64 {
        let sum = sum_below(value >> 32, word, self.modulus);
        sum << 32 | sum_below(value & LOW, sum, self.modulus)
    }

    #[inline]
    fn start(&self, end: u64, placed: u64) -> u64 {
        let weighted = sum_below(end & LOW, placed & LOW, self.modulus);
        less(end >> 32, placed >> 32, self.modulus) << 32 | weighted
    }

    fn ones(&self, from: usize, to: usize) -> u64 {
        let word = self.words.ones() % self.modulus;
        (from..to)
            .fold(0, |sum, at| self.plus(sum, word << 32 | (at as u64 % self.modulus * word % self.modulus)))
    }

    #[inline]
    fn hash(&self, number: u64) -> u64 {
        spread(number)
    }
}

/// `a` less `b` modulo `modulus`, both below it.
const fn less(a: u64, b: u64, modulus: u64) -> u64 {
    if a >= b { a - b } else { a + (modulus - b) }
}

/// `a` and `b` added modulo `modulus`, all below 2^63.
const fn sum_below(a: u64, b: u64, modulus: u64) -> u64 {
    let sum = a + b;
    if sum >= modulus { sum - modulus } else { sum }
}
