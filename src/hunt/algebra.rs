//! Arithmetic on the numbers of prefixes, for every family of checks.
//!
//! Positions are the places between words. Every position has a *number*, worked out from the words before it. A
//! range from position `a` to position `b` has the value `v` when the number where it begins is
//! [`Algebra::start`] of the number where it ends and of `v` *placed* there. Numbers and values of two images can be
//! subtracted, and then say the same of the differences.

use super::gf2::{Field, Steps, Times, reversed};
use super::kernel::{mask, number};
use crate::check::{Finish, Method};
use crate::span::ByteOrder;

/// What the look-ups need to know of a family.
pub(super) trait Algebra: Sync {
    /// Positions with equal numbers are alike as ends too, because values mean the same wherever they are placed.
    const ENDS_ALIKE: bool;

    /// The number of every position of `bytes`, whole words only.
    fn numbers(&self, bytes: &[u8]) -> Vec<u64>;

    /// A stored value as it is reckoned with; `None` when no range can have it.
    fn register(&self, stored: u64) -> Option<u64>;

    fn plus(&self, a: u64, b: u64) -> u64;

    fn less(&self, a: u64, b: u64) -> u64;

    /// The number of a position as the beginning of a range, for an algorithm with constants.
    fn begin(&self, method: Method, at: usize, number: u64) -> u64;

    /// The number of a position as the end of a range, for an algorithm with constants.
    fn end(&self, _method: Method, _at: usize, number: u64) -> u64 {
        number
    }

    /// [`Algebra::begin`] of every position.
    fn begins(&self, method: Method, numbers: &[u64]) -> Vec<u64> {
        numbers.iter().enumerate().map(|(at, &number)| self.begin(method, at, number)).collect()
    }

    /// [`Algebra::end`] of every position.
    fn ends(&self, _method: Method, numbers: &[u64]) -> Vec<u64> {
        numbers.to_vec()
    }

    /// A value as it counts at the end of a range.
    fn place(&self, value: u64, _at: usize) -> u64 {
        value
    }

    /// The same for many values.
    fn place_all(&self, values: &[u64], at: usize, placed: &mut Vec<u64>) {
        placed.clear();
        placed.extend(values.iter().map(|&value| self.place(value, at)));
    }

    /// What was placed at one position placed at the one before.
    #[inline]
    fn back(&self, placed: u64) -> u64 {
        placed
    }

    /// What the word in which two images differ adds to the difference of their values.
    fn word(&self, bytes: &[u8], first: &[u8]) -> u64;

    /// The value of a range that is one word longer.
    fn after(&self, value: u64, word: u64) -> u64;

    /// The number that the beginning of a range must have.
    fn start(&self, end: u64, placed: u64) -> u64;

    /// The same for a range with a hole of `bytes` bytes from one position to another, when what follows moves up;
    /// `None` when it cannot be told. For sums it is as if the hole held zeros.
    fn start_without(&self, _hole: (u64, u64), _bytes: usize, _end: u64, _placed: u64) -> Option<u64> {
        None
    }

    /// What words of ones from one position to another add to the number of every position behind them.
    fn ones(&self, from: usize, to: usize) -> u64;

    /// Numbers spread over 64 bits.
    fn hash(&self, number: u64) -> u64;
}

/// CRCs: the register after the words before a position, shifted on to the end of the image as if zeros followed.
pub(super) struct Crc {
    field: Field,
    refin: bool,
    refout: bool,
    steps: Steps,
    /// How far each position is from the last one, as a power of x.
    shifts: Vec<u64>,
}

impl Crc {
    pub(super) fn new(field: Field, refin: bool, refout: bool, last: usize) -> Self {
        let steps = Steps::new(field);
        let shifts = steps.powers_down(last);
        Crc { field, refin, refout, steps, shifts }
    }

    fn constants(&self, method: Method) -> (u64, u64) {
        let Method::Crc(crc) = method else { return (0, 0) };
        let xorout = crc.xorout as u64;
        let xorout = if self.refout { reversed(xorout, self.field.width) } else { xorout };
        (self.field.residue(crc.init as u64), self.field.residue(xorout))
    }

    /// `numbers` with `constant` placed at each position.
    fn with_placed(&self, constant: u64, numbers: &[u64]) -> Vec<u64> {
        let mut with = numbers.to_vec();
        if constant != 0 {
            let mut placed = constant;
            for number in with.iter_mut().rev() {
                *number ^= placed;
                placed = self.steps.times_byte(placed);
            }
        }
        with
    }

    fn shift(&self, at: usize) -> u64 {
        self.shifts.get(at).copied().unwrap_or_default()
    }
}

impl Algebra for Crc {
    const ENDS_ALIKE: bool = false;

    fn numbers(&self, bytes: &[u8]) -> Vec<u64> {
        self.steps.prefixes(bytes, self.refin)
    }

    fn register(&self, stored: u64) -> Option<u64> {
        let width = self.field.width;
        let value = if self.refout { reversed(stored, width) } else { stored };
        (stored <= mask(width as u8)).then(|| self.field.residue(value))
    }

    fn plus(&self, a: u64, b: u64) -> u64 {
        a ^ b
    }

    fn less(&self, a: u64, b: u64) -> u64 {
        a ^ b
    }

    fn begin(&self, method: Method, at: usize, number: u64) -> u64 {
        number ^ self.place(self.constants(method).0, at)
    }

    fn end(&self, method: Method, at: usize, number: u64) -> u64 {
        number ^ self.place(self.constants(method).1, at)
    }

    fn begins(&self, method: Method, numbers: &[u64]) -> Vec<u64> {
        self.with_placed(self.constants(method).0, numbers)
    }

    fn ends(&self, method: Method, numbers: &[u64]) -> Vec<u64> {
        self.with_placed(self.constants(method).1, numbers)
    }

    fn place(&self, value: u64, at: usize) -> u64 {
        self.steps.times(self.shift(at), value)
    }

    fn place_all(&self, values: &[u64], at: usize, placed: &mut Vec<u64>) {
        // Tables pay from here on.
        const MANY: usize = 64;
        placed.clear();
        if values.len() < MANY {
            placed.extend(values.iter().map(|&value| self.place(value, at)));
        } else {
            let mut times = Times::new(self.field);
            times.set(self.field, self.shift(at));
            placed.extend(values.iter().map(|&value| times.apply(value)));
        }
    }

    #[inline]
    fn back(&self, placed: u64) -> u64 {
        self.steps.times_byte(placed)
    }

    fn word(&self, bytes: &[u8], first: &[u8]) -> u64 {
        let change = number(bytes, ByteOrder::Big) ^ number(first, ByteOrder::Big);
        if self.refin { change.reverse_bits() } else { change << 56 }
    }

    #[inline]
    fn after(&self, value: u64, word: u64) -> u64 {
        self.steps.times_byte(value ^ word)
    }

    #[inline]
    fn start(&self, end: u64, placed: u64) -> u64 {
        end ^ placed
    }

    fn start_without(&self, hole: (u64, u64), bytes: usize, end: u64, placed: u64) -> Option<u64> {
        let behind = hole.1 ^ end ^ placed;
        Some(hole.0 ^ (0..bytes).fold(behind, |behind, _| self.steps.times_byte(behind)))
    }

    fn ones(&self, from: usize, to: usize) -> u64 {
        // In either order of its bits.
        let register = (from..to).fold(0, |register, _| self.after(register, 0xFF << 56));
        self.place(register, to)
    }

    #[inline]
    fn hash(&self, number: u64) -> u64 {
        // Remainders are spread as they are.
        number
    }
}

/// The golden ratio's fraction spreads numbers that differ in few bits.
const fn spread(number: u64) -> u64 {
    (number ^ number >> 32).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}

/// Words of a sum.
#[derive(Clone, Copy)]
pub(super) struct Words {
    pub bytes: usize,
    pub order: ByteOrder,
}

impl Words {
    fn number(self, word: &[u8]) -> u64 {
        number(word, self.order)
    }

    /// A word of ones.
    const fn ones(self) -> u64 {
        mask(8 * self.bytes as u8)
    }

    fn running(self, bytes: &[u8], mut join: impl FnMut(u64, u64) -> u64) -> Vec<u64> {
        let mut numbers = Vec::with_capacity(bytes.len() / self.bytes + 1);
        let mut sum = 0;
        numbers.push(sum);
        for word in bytes.chunks_exact(self.bytes).map(|word| self.number(word)) {
            sum = join(sum, word);
            numbers.push(sum);
        }
        numbers
    }
}

/// Words joined by exclusive or: the number is what is joined so far.
pub(super) struct Xor {
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
        self.words.number(bytes) ^ self.words.number(first)
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
pub(super) struct Sum<const CARRY: bool> {
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
        self.less(self.reduced(self.words.number(bytes)), self.reduced(self.words.number(first)))
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
pub(super) struct Pair {
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
        let (sum, sums) = (stored & mask(self.half as u8), stored >> self.half);
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
        less(self.words.number(bytes) % self.modulus, self.words.number(first) % self.modulus, self.modulus)
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
