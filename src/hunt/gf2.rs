//! Polynomials over the two-element field, modulo the polynomial of a CRC.
//!
//! A residue stands at the top of a 64-bit word, its highest coefficient in the highest bit, so that multiplying by
//! x is the same shift for every degree.

/// Residues modulo a polynomial of degree 1 to 64 whose constant term is 1, so that x has an inverse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Field {
    /// Degree of the polynomial.
    pub width: u32,
    /// The polynomial without its leading term, at the bottom of the word.
    pub poly: u64,
}

impl Field {
    /// `None` when the degree is out of reach or x has no inverse.
    pub(super) fn new(width: u32, poly: u64) -> Option<Self> {
        ((1..=64).contains(&width) && poly & 1 == 1).then_some(Field { width, poly })
    }

    /// The residue whose coefficients are the low bits of `value`.
    pub(super) const fn residue(self, value: u64) -> u64 {
        value << (64 - self.width)
    }

    const fn times_x(self, residue: u64) -> u64 {
        let top = (residue >> 63).wrapping_neg();
        (residue << 1) ^ (self.residue(self.poly) & top)
    }

    const fn over_x(self, residue: u64) -> u64 {
        let low = residue >> (64 - self.width) & 1;
        ((residue ^ (self.residue(self.poly) & low.wrapping_neg())) >> 1) | low << 63
    }
}

/// Tables that make multiplication in one field quick.
pub(super) struct Steps {
    field: Field,
    /// What the highest byte of a residue becomes when it is shifted out.
    byte: [u64; 256],
    /// The same for the highest four bits.
    nibble: [u64; 16],
}

impl Steps {
    pub(super) fn new(field: Field) -> Self {
        let mut steps = Steps { field, byte: [0; 256], nibble: [0; 16] };
        let entering = steps.entering();
        fill(&mut steps.nibble, field, entering);
        fill(&mut steps.byte, field, entering);
        steps
    }

    /// x to the power of the degree: what the lowest bit of a byte stands for when it enters the register.
    const fn entering(&self) -> u64 {
        self.field.residue(self.field.poly)
    }

    /// `residue` times x^8; when a byte was joined to its highest bits, the register after that byte.
    #[inline]
    pub(super) const fn times_byte(&self, residue: u64) -> u64 {
        (residue << 8) ^ self.byte[(residue >> 56) as usize]
    }

    const fn times_nibble(&self, residue: u64) -> u64 {
        (residue << 4) ^ self.nibble[(residue >> 60) as usize]
    }

    fn multiples(&self, residue: u64) -> [u64; 16] {
        let mut multiples = [0; 16];
        fill(&mut multiples, self.field, residue);
        multiples
    }

    /// The polynomial whose coefficients are the bits of `byte`, times `residue`.
    pub(super) fn times_small(&self, byte: u8, residue: u64) -> u64 {
        if byte == 0 {
            return 0;
        }
        let multiples = self.multiples(residue);
        self.times_nibble(multiples[usize::from(byte >> 4)]) ^ multiples[usize::from(byte & 15)]
    }

    /// The product of two residues.
    pub(super) fn times(&self, a: u64, b: u64) -> u64 {
        let multiples = self.multiples(a);
        let plain = b >> (64 - self.field.width);
        (0..self.field.width.div_ceil(4)).rev().fold(0, |product, nibble| {
            self.times_nibble(product) ^ multiples[(plain >> (4 * nibble) & 15) as usize]
        })
    }

    /// x^8 to the powers `last`, …, 1, 0: how far each position is from the last one.
    pub(super) fn powers_down(&self, last: usize) -> Vec<u64> {
        let mut powers = vec![self.field.residue(1); last + 1];
        for position in (0..last).rev() {
            powers[position] = self.times_byte(powers[position + 1]);
        }
        powers
    }

    /// What each prefix of `bytes` leaves in a register that began at zero, shifted on to the end of `bytes` as if
    /// zeros followed. Bits of a byte are taken lowest first when `reversed`.
    pub(super) fn prefixes(&self, bytes: &[u8], reversed: bool) -> Vec<u64> {
        let mut unit = self.entering();
        let mut sums = vec![0; bytes.len() + 1];
        for (position, &byte) in bytes.iter().enumerate().rev() {
            let byte = if reversed { byte.reverse_bits() } else { byte };
            sums[position + 1] = self.times_small(byte, unit);
            unit = self.times_byte(unit);
        }
        let mut sum = 0;
        for slot in &mut sums {
            sum ^= *slot;
            *slot = sum;
        }
        sums
    }
}

/// In each place the sum of `unit` times x^i for the bits i of its index.
fn fill(table: &mut [u64], field: Field, unit: u64) {
    let mut power = unit;
    let mut size = 1;
    while size < table.len() {
        for index in 0..size {
            table[size + index] = table[index] ^ power;
        }
        power = field.times_x(power);
        size *= 2;
    }
}

/// The lowest `width` bits (at most 64) in the other order.
pub(super) const fn reversed(value: u64, width: u32) -> u64 {
    value.reverse_bits() >> (64 - width)
}

/// Multiplication of many residues by one.
pub(super) struct Times {
    tables: Vec<[u64; 256]>,
}

impl Times {
    pub(super) fn new(field: Field) -> Self {
        Times { tables: vec![[0; 256]; field.width.div_ceil(8) as usize] }
    }

    /// Sets what is multiplied by.
    pub(super) fn set(&mut self, field: Field, factor: u64) {
        // The lowest byte may hang over the lowest coefficient; its low bits are never set.
        let spare = 8 * self.tables.len() as u32 - field.width;
        let mut power = (0..spare).fold(factor, |power, _| field.over_x(power));
        for table in self.tables.iter_mut().rev() {
            fill(table, field, power);
            power = (0..8).fold(power, |power, _| field.times_x(power));
        }
    }

    /// The product with `residue`.
    #[inline]
    pub(super) fn apply(&self, residue: u64) -> u64 {
        let byte = |place: usize| (residue >> (56 - 8 * place) & 0xFF) as usize;
        match self.tables.as_slice() {
            [a, b] => a[byte(0)] ^ b[byte(1)],
            [a, b, c, d] => a[byte(0)] ^ b[byte(1)] ^ c[byte(2)] ^ d[byte(3)],
            tables => {
                tables.iter().enumerate().fold(0, |product, (place, table)| product ^ table[byte(place)])
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::check::{Method, catalogue};
    use crate::hunt::kernel::mask;

    fn fields() -> Vec<Field> {
        catalogue()
            .iter()
            .filter_map(|listed| match listed.algorithm.method {
                Method::Crc(crc) if crc.width <= 64 => {
                    Some(Field::new(crc.width.into(), crc.poly as u64).expect("an odd polynomial"))
                }
                _ => None,
            })
            .collect()
    }

    /// Multiplication by the definition.
    fn product(field: Field, a: u64, b: u64) -> u64 {
        (0..field.width).fold(0, |sum, bit| {
            let coefficient = b >> (64 - field.width + bit) & 1;
            let shifted = (0..bit).fold(a, |a, _| field.times_x(a));
            sum ^ (shifted & coefficient.wrapping_neg())
        })
    }

    #[test]
    fn every_polynomial_of_the_catalogue_lets_x_be_divided_by() {
        for field in fields() {
            let most = field.residue(mask(field.width));
            assert_eq!(field.over_x(field.times_x(most)), most);
            let back = (0..8).fold(Steps::new(field).times_byte(most), |value, _| field.over_x(value));
            assert_eq!(back, most);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn a_range_leaves_the_difference_of_two_prefixes(
            bytes in proptest::collection::vec(any::<u8>(), 1..40),
            (from, to) in (0_usize..40, 0_usize..40),
        ) {
            let (from, to) = (from % bytes.len(), to % bytes.len());
            let (from, to) = (from.min(to), from.max(to));
            for listed in catalogue() {
                let Method::Crc(crc) = listed.algorithm.method else { continue };
                let Some(field) = Field::new(crc.width.into(), crc.poly as u64) else { continue };
                let steps = Steps::new(field);
                let sums = steps.prefixes(&bytes, crc.refin);
                let shifts = steps.powers_down(bytes.len());
                let started = sums[from] ^ steps.times(field.residue(crc.init as u64), shifts[from]);
                let computed = listed.algorithm.compute([&bytes[from..to]]) as u64 ^ crc.xorout as u64;
                let register = if crc.refout { reversed(computed, field.width) } else { computed };
                let ended = sums[to] ^ steps.times(field.residue(register), shifts[to]);
                prop_assert_eq!(started, ended, "{}", listed.algorithm);
            }
        }

        #[test]
        fn tables_multiply_as_the_definition_does(factor in any::<u64>(), value in any::<u64>()) {
            for field in fields() {
                let (factor, value) = (field.residue(factor), field.residue(value));
                let product = product(field, factor, value);
                prop_assert_eq!(Steps::new(field).times(factor, value), product);
                let mut times = Times::new(field);
                times.set(field, factor);
                prop_assert_eq!(times.apply(value), product);
            }
        }
    }
}
