//! Polynomials over the two-element field, modulo the polynomial of a CRC.

/// Residues modulo a polynomial of degree 2 to 64 whose constant term is 1, so that x has an inverse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Field {
    /// Degree of the polynomial.
    pub width: u32,
    /// The polynomial without its leading term.
    pub poly: u64,
}

impl Field {
    /// `None` when the degree is out of reach or x has no inverse.
    pub(super) fn new(width: u32, poly: u64) -> Option<Self> {
        ((2..=64).contains(&width) && poly & 1 == 1).then_some(Field { width, poly })
    }

    const fn mask(self) -> u64 {
        u64::MAX >> (64 - self.width)
    }

    pub(super) const fn times_x(self, value: u64) -> u64 {
        let top = value >> (self.width - 1) & 1;
        (value << 1 & self.mask()) ^ (self.poly & top.wrapping_neg())
    }

    const fn over_x(self, value: u64) -> u64 {
        let low = value & 1;
        ((value ^ (self.poly & low.wrapping_neg())) >> 1) | low << (self.width - 1)
    }

    /// `value` times x^8, `count` times over.
    pub(super) fn times_bytes(self, value: u64, count: usize) -> u64 {
        (0..8 * count).fold(value, |value, _| self.times_x(value))
    }

    pub(super) fn over_byte(self, value: u64) -> u64 {
        (0..8).fold(value, |value, _| self.over_x(value))
    }

    pub(super) fn times(self, a: u64, b: u64) -> u64 {
        let mut sum = 0;
        let (mut factor, mut bits) = (a, b);
        while bits != 0 {
            sum ^= factor & (bits & 1).wrapping_neg();
            factor = self.times_x(factor);
            bits >>= 1;
        }
        sum
    }

    /// 1, x^-8, x^-16, …: `count` of them.
    pub(super) fn inverse_powers(self, count: usize) -> Vec<u64> {
        std::iter::successors(Some(1), |&power| Some(self.over_byte(power))).take(count).collect()
    }

    /// 1, x^8, x^16, …: `count` of them.
    pub(super) fn powers(self, count: usize) -> Vec<u64> {
        std::iter::successors(Some(1), |&power| Some(self.times_bytes(power, 1))).take(count).collect()
    }

    /// What each prefix of `bytes` leaves in a register that began at zero, divided by x^8 for each of its bytes.
    /// Bits of a byte are taken lowest first when `reversed`.
    pub(super) fn prefixes(self, bytes: &[u8], reversed: bool) -> Vec<u64> {
        // The first byte stands before x^width, and over one x^8.
        let mut unit = (0..self.width).fold(1, |value, _| self.times_x(value));
        let mut sum = 0;
        let mut sums = Vec::with_capacity(bytes.len() + 1);
        sums.push(0);
        for &byte in bytes {
            unit = self.over_byte(unit);
            let mut byte = if reversed { byte.reverse_bits() } else { byte };
            let mut factor = unit;
            while byte != 0 {
                sum ^= factor & u64::from(byte & 1).wrapping_neg();
                factor = self.times_x(factor);
                byte >>= 1;
            }
            sums.push(sum);
        }
        sums
    }
}

/// The lowest `width` bits (at most 64) in the other order.
pub(super) const fn reversed(value: u64, width: u32) -> u64 {
    value.reverse_bits() >> (64 - width)
}

/// Multiplication by one fixed residue, for many values.
pub(super) struct Times {
    basis: [u64; 64],
    tables: Vec<[u64; 256]>,
}

impl Times {
    /// Tables pay from a few hundred values on.
    pub(super) fn new(field: Field, factor: u64, values: usize) -> Self {
        let mut times = Times { basis: [0; 64], tables: Vec::new() };
        times.set(field, factor, values);
        times
    }

    /// The same with another factor.
    pub(super) fn set(&mut self, field: Field, factor: u64, values: usize) {
        let mut power = factor;
        for slot in self.basis.iter_mut().take(field.width as usize) {
            *slot = power;
            power = field.times_x(power);
        }
        if values < 256 {
            self.tables.clear();
            return;
        }
        let bytes = field.width.div_ceil(8) as usize;
        self.tables.resize(bytes, [0; 256]);
        for (table, basis) in self.tables.iter_mut().zip(self.basis.chunks(8)) {
            for index in 1..256_usize {
                let low = index.trailing_zeros() as usize;
                table[index] = table[index & (index - 1)] ^ basis[low];
            }
        }
    }

    /// The product with `value`.
    pub(super) fn apply(&self, value: u64) -> u64 {
        match self.tables.as_slice() {
            [] => {
                let (mut sum, mut value) = (0, value);
                while value != 0 {
                    sum ^= self.basis[value.trailing_zeros() as usize];
                    value &= value - 1;
                }
                sum
            }
            [one] => one[(value & 0xFF) as usize],
            [one, two] => one[(value & 0xFF) as usize] ^ two[(value >> 8 & 0xFF) as usize],
            tables => tables
                .iter()
                .enumerate()
                .fold(0, |sum, (i, table)| sum ^ table[(value >> (8 * i) & 0xFF) as usize]),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::check::{Method, catalogue};

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

    #[test]
    fn every_polynomial_of_the_catalogue_lets_x_be_divided_by() {
        for field in fields() {
            assert_eq!(field.over_x(field.times_x(field.mask())), field.mask());
            let (up, down) = (field.powers(40), field.inverse_powers(40));
            assert!(up.iter().zip(&down).all(|(&up, &down)| field.times(up, down) == 1));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn a_range_leaves_the_difference_of_two_prefixes(
            bytes in proptest::collection::vec(any::<u8>(), 1..40),
            (from, to) in (0_usize..40, 0_usize..40),
        ) {
            let (from, to) = (from.min(to) % bytes.len(), to.max(from) % bytes.len());
            let (from, to) = (from.min(to), from.max(to));
            for listed in catalogue() {
                let Method::Crc(crc) = listed.algorithm.method else { continue };
                let Some(field) = Field::new(crc.width.into(), crc.poly as u64) else { continue };
                let sums = field.prefixes(&bytes, crc.refin);
                let down = field.inverse_powers(bytes.len() + 1);
                let started = sums[from] ^ field.times(crc.init as u64, down[from]);
                let left = field.times_bytes(sums[to] ^ started, to);
                let shown = if crc.refout { reversed(left, field.width) } else { left } ^ crc.xorout as u64;
                prop_assert_eq!(u128::from(shown), listed.algorithm.compute([&bytes[from..to]]), "{}", listed.algorithm);
            }
        }

        #[test]
        fn tables_multiply_as_the_definition_does(factor in any::<u64>(), value in any::<u64>()) {
            for field in fields() {
                let (factor, value) = (factor & field.mask(), value & field.mask());
                let product = field.times(factor, value);
                prop_assert_eq!(Times::new(field, factor, 0).apply(value), product);
                prop_assert_eq!(Times::new(field, factor, 1000).apply(value), product);
            }
        }
    }
}
