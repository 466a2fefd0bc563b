//! Values of fields: (kind, bytes) to value, value to bytes, typed text to value.
//!
//! A [`Kind`] says how the bytes of one field become a value and back. Each family of kinds is one small file
//! with its rows of the table that [`rows`] tells; reading, `layouts --explain` and the reference page are made from
//! that table, and a test runs the examples of every row.
//!
//! What every kind promises:
//! - decoding never panics and gives a value for any bytes, with an oddity in words when they make no sense;
//! - encoding the value that the bytes already hold changes none of them;
//! - encoding keeps the bits that are not the field's own;
//! - the text shown for a value can be typed back.

mod bcd;
mod bytes;
mod characters;
mod choice;
mod counter;
mod curve;
mod decimal;
mod dos;
mod error;
mod fixed;
mod flags;
mod float;
mod form;
mod kind;
mod letters;
mod maker;
mod number;
mod parts;
mod readings;
mod reference;
mod scale;
mod table;
#[cfg(test)]
mod tests;
mod text;
mod typelength;

pub use decimal::Decimal;
pub use error::ValueError;
pub use kind::{Kind, Seen, Size};
pub use readings::{Reading, WAYS_TO_READ, readings};
pub use reference::reference;
pub use scale::{Scaling, exact};
pub use table::{Example, OptionDoc, Row, option, row, rows};

/// What the bytes of a field say.
#[derive(Debug, Clone)]
pub enum Value {
    /// A whole number.
    Int(i128),
    /// A number with decimal places, exact.
    Decimal(Decimal),
    /// A binary floating-point number, or one that comes from a formula.
    Real(f64),
    /// Text, padding taken off; also what is written like text: digits, versions, weeks.
    Text(String),
    /// Bytes that mean nothing to us.
    Bytes(Vec<u8>),
    /// One of a list: the stored number and, where the layout names it, its label.
    Choice(u64, Option<String>),
    /// Named bits: the stored number and the names of those that are set.
    Flags(u64, Vec<String>),
    /// A date, a time or both.
    Date(jiff::civil::DateTime),
}

impl PartialEq for Value {
    /// Two values that are not numbers are the same; plus and minus zero are not, for their bytes differ.
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Value::Int(a), Value::Int(b)) => a == b,
            (Value::Decimal(a), Value::Decimal(b)) => a == b,
            (Value::Real(a), Value::Real(b)) => a.to_bits() == b.to_bits() || a.is_nan() && b.is_nan(),
            (Value::Text(a), Value::Text(b)) => a == b,
            (Value::Bytes(a), Value::Bytes(b)) => a == b,
            (Value::Choice(a, _), Value::Choice(b, _)) | (Value::Flags(a, _), Value::Flags(b, _)) => a == b,
            (Value::Date(a), Value::Date(b)) => a == b,
            _ => false,
        }
    }
}

impl Value {
    /// The whole number that is stored or shown; `None` for what is no whole number.
    #[must_use]
    pub fn whole(&self) -> Option<i128> {
        match self {
            Value::Int(n) => Some(*n),
            Value::Choice(n, _) | Value::Flags(n, _) => Some(i128::from(*n)),
            Value::Decimal(d) => d.whole(),
            Value::Text(digits) if !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit()) => {
                digits.parse().ok()
            }
            _ => None,
        }
    }

    /// The exact decimal number, for comparing with the limits of a layout; `None` for what is no number.
    #[must_use]
    pub fn decimal(&self) -> Option<Decimal> {
        match self {
            Value::Decimal(d) => Some(*d),
            Value::Real(r) => Decimal::parse(&format!("{r}")),
            _ => self.whole().map(|n| Decimal::new(n, 0)),
        }
    }
}
