//! Numbers of CRCs: the register after the words before a position, shifted on to the end of the image as if zeros
//! followed.

use super::Algebra;
use crate::check::Method;
use crate::hunt::gf2::{Field, Steps, Times, reversed};
use crate::hunt::kernel::mask;
use crate::span::ByteOrder;

/// CRCs of one polynomial and one order of bits.
pub(in crate::hunt) struct Crc {
    field: Field,
    refin: bool,
    refout: bool,
    steps: Steps,
    /// How far each position is from the last one, as a power of x.
    shifts: Vec<u64>,
}

impl Crc {
    pub(in crate::hunt) fn new(field: Field, refin: bool, refout: bool, last: usize) -> Self {
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
        (stored <= mask(width)).then(|| self.field.residue(value))
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
        let change = ByteOrder::Big.number_u64(bytes) ^ ByteOrder::Big.number_u64(first);
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
