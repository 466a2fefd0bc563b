//! Binary floating-point numbers of IEEE 754.

use crate::notation::get;
use crate::span::ByteOrder;

use super::Value;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Leaf, Seen, Size, shown_foreign};
use super::table::{Row, big, little, option};

/// A binary floating-point number of 16, 32 or 64 bits.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Float {
    form: Form,
}

/// What may be typed.
const EXPECTED: &str = "a number such as 0.25, -3e5, inf or NaN";

/// The value of a half-precision number; exact.
pub(super) fn half(bits: u16) -> f64 {
    let (exponent, fraction) = (i32::from(bits >> 10 & 0x1F), f64::from(bits & 0x3FF));
    let size = match exponent {
        0 => fraction * 2f64.powi(-24),
        31 if fraction == 0.0 => f64::INFINITY,
        31 => f64::NAN,
        _ => (1024.0 + fraction) * 2f64.powi(exponent - 25),
    };
    if bits >> 15 == 1 { -size } else { size }
}

/// The half-precision number nearest to `value`, halves to even.
fn to_half(value: f64) -> u16 {
    let sign = if value.is_sign_negative() { 0x8000 } else { 0 };
    if value.is_nan() {
        return 0x7E00;
    }
    // Positive halves grow with their bits, so the nearest is found by search.
    let size = value.abs();
    let (mut low, mut high) = (0u16, 0x7C00u16);
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if half(middle) <= size { low = middle } else { high = middle }
    }
    let above = if high == 0x7C00 { 65536.0 } else { half(high) };
    let (down, up) = (size - half(low), above - size);
    let nearest = if size >= above || up < down || (up == down && low & 1 == 1) { high } else { low };
    sign | nearest
}

impl Float {
    /// `raw` has exactly the bits of the type.
    fn value(&self, raw: u64) -> f64 {
        match self.form.bits {
            16 => half(raw as u16),
            32 => f64::from(f32::from_bits(raw as u32)),
            _ => f64::from_bits(raw),
        }
    }

    /// The nearest number of the type.
    fn raw(&self, value: f64) -> u64 {
        match self.form.bits {
            16 => u64::from(to_half(value)),
            32 if value.is_nan() => u64::from(f32::NAN.to_bits()),
            32 => u64::from((value as f32).to_bits()),
            _ if value.is_nan() => f64::NAN.to_bits(),
            _ => value.to_bits(),
        }
    }
}

impl Leaf for Float {
    fn size(&self) -> Size {
        Size::Bytes(self.form.bytes())
    }

    fn is_picked_in(&self, order: ByteOrder) -> bool {
        // What was picked is handed over with the most significant byte first.
        self.form.is_picked_in(order) && self.form.is_picked_in(ByteOrder::Big)
    }

    fn decode(&self, bytes: &[u8], order: ByteOrder) -> Seen {
        let value = self.value(self.form.gather(bytes, order));
        if value.is_nan() {
            Seen::odd(Value::Real(value), "no number")
        } else {
            Seen::fine(Value::Real(value))
        }
    }

    fn encode(&self, value: &Value, old: &[u8], order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        let number = match value {
            Value::Real(number) => *number,
            other => other.decimal().ok_or_else(|| ValueError::foreign(other, "a number"))?.to_f64(),
        };
        Ok(self.form.spread(self.raw(number), old, order))
    }

    /// The stored number nearest to what is typed; numbers too large to store are refused.
    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let text = typed.trim().replace('\u{2212}', "-");
        // f64's own reader takes what we take: decimal digits, exponent, inf, nan.
        let number: f64 = text.parse().map_err(|_| ValueError::typed(typed, "is no number", EXPECTED))?;
        let stored = self.value(self.raw(number));
        if number.is_finite() && !stored.is_finite()
            || text.bytes().any(|b| b.is_ascii_digit()) && !number.is_finite()
        {
            return Err(ValueError::typed(
                typed,
                "is too large",
                format!("a number that {} bits hold", self.form.bits),
            ));
        }
        Ok(Value::Real(stored))
    }

    fn expects(&self) -> String {
        EXPECTED.to_string()
    }

    fn show(&self, value: &Value) -> String {
        let Value::Real(number) = value else { return shown_foreign(value) };
        let size = number.abs();
        let plain = size == 0.0 || (1e-5..1e16).contains(&size) || !number.is_finite();
        match (self.form.bits, plain) {
            (64, true) => format!("{number}"),
            (64, false) => format!("{number:e}"),
            (_, true) => format!("{}", *number as f32),
            (_, false) => format!("{:e}", *number as f32),
        }
    }
}

/// `Float`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Float",
    doc: "A binary floating-point number of IEEE 754",
    options: &[option("bits", "16, 32 or 64"), form::ORDER, form::WORDS],
    examples: &[
        big(
            "Float(bits: 32)",
            "C0 49 0F DB",
            "-3.1415927",
            "IEEE 754 binary32; pi rounded, as in Rust's f32",
        ),
        little("Float(bits: 16)", "00 3C", "1", "IEEE 754 binary16"),
        little(
            "Float(bits: 64)",
            "18 2D 44 54 FB 21 09 40",
            "3.141592653589793",
            "IEEE 754 binary64; as in Rust's f64",
        ),
    ],
    read: |entries, problems| {
        let bits = entries
            .required("bits", problems)
            .and_then(|node| get::one_of(node, &[16, 32, 64], "16, 32 or 64 bits", problems));
        let form = Form::of(bits, entries, problems)?;
        Some(Float { form }.into())
    },
}];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_have_the_values_that_ieee_754_gives_them() {
        // From Python 3's struct module, format "e".
        for (bits, value) in [
            (0x3C00, 1.0),
            (0xC000, -2.0),
            (0x7BFF, 65504.0),
            (0x0001, 2f64.powi(-24)),
            (0x3555, 0.333_251_953_125),
        ] {
            assert_eq!(half(bits), value);
        }
        assert!(half(0x7C00).is_infinite() && half(0x7C01).is_nan());
    }

    #[test]
    fn every_half_goes_to_its_number_and_back() {
        for bits in 0..=u16::MAX {
            let value = half(bits);
            if !value.is_nan() {
                assert_eq!(to_half(value), bits, "{bits:#06x}");
            }
        }
    }

    #[test]
    fn numbers_between_two_halves_round_to_the_nearest_then_to_even() {
        assert_eq!(to_half(1.0 + 2f64.powi(-11)), 0x3C00);
        assert_eq!(to_half(1.0 + 3.0 * 2f64.powi(-11)), 0x3C02);
        assert_eq!(to_half(65519.9), 0x7BFF);
        assert_eq!(to_half(65520.0), 0x7C00);
        assert_eq!(to_half(1e9), 0x7C00);
        assert_eq!(to_half(-2f64.powi(-26)), 0x8000);
    }
}
