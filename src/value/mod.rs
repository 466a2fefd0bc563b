//! Values of fields: (kind, bytes) to value, value to bytes, typed text to value.

/// What the bytes of a field say.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A whole number.
    Int(i128),
    /// A number with a fraction.
    Real(f64),
    /// Text, padding taken off.
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
