//! Arithmetic on the numbers of prefixes, for every family of checks.
//!
//! Positions are the places between words. Every position has a *number*, worked out from the words before it. A
//! range from position `a` to position `b` has the value `v` when the number where it begins is
//! [`Algebra::start`] of the number where it ends and of `v` *placed* there. Numbers and values of two images can be
//! subtracted, and then say the same of the differences.

mod crc;
mod sums;

pub(super) use crc::Crc;
pub(super) use sums::{Pair, Sum, Words, Xor};

use crate::check::Method;

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
