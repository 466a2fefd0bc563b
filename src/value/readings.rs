//! The bytes at one place read in every common way, for somebody who does not know yet what they are.

use std::sync::LazyLock;

use crate::notation;
use crate::span::ByteOrder;

use super::{Kind, Value};

/// Bytes read in one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// What they are read as: `unsigned 16`, `text`, `days since 1970`.
    pub name: &'static str,
    /// The byte order; `None` where it makes no difference.
    pub order: Option<ByteOrder>,
    /// How many bytes are read.
    pub bytes: usize,
    /// What they say, as it can be typed; `None` when there are too few of them or they make no sense that way.
    pub text: Option<String>,
    /// The kind as a layout writes it, but for the order.
    pub ron: &'static str,
    /// The kind, by which a typed text can be written back with [`Kind::parse`] and [`Kind::encode`].
    pub kind: &'static Kind,
}

/// Both orders, or none where it makes no difference.
const BOTH: &[Option<ByteOrder>] = &[Some(ByteOrder::Big), Some(ByteOrder::Little)];
const NONE: &[Option<ByteOrder>] = &[None];

/// The ways to read bytes: a name, a kind in RON, the orders to try.
const WAYS: &[(&str, &str, &[Option<ByteOrder>])] = &[
    ("bits", "Int(bits: 8, base: Binary)", NONE),
    ("unsigned 8", "Int(bits: 8)", NONE),
    ("signed 8", "Int(bits: 8, signed: true)", NONE),
    ("unsigned 16", "Int(bits: 16)", BOTH),
    ("signed 16", "Int(bits: 16, signed: true)", BOTH),
    ("unsigned 24", "Int(bits: 24)", BOTH),
    ("unsigned 32", "Int(bits: 32)", BOTH),
    ("signed 32", "Int(bits: 32, signed: true)", BOTH),
    ("unsigned 64", "Int(bits: 64)", BOTH),
    ("float 16", "Float(bits: 16)", BOTH),
    ("float 32", "Float(bits: 32)", BOTH),
    ("float 64", "Float(bits: 64)", BOTH),
    ("digits", "Bcd(digits: 8)", NONE),
    ("digits, low first", "Bcd(digits: 8, nibbles: LowFirst)", NONE),
    ("text", "Text(bytes: 16)", NONE),
    ("text, swapped", "Text(bytes: 16, swapped: true)", NONE),
    ("UTF-16", "Text(bytes: 16, code: Utf16)", BOTH),
    ("six-bit text", "SixBit(bytes: 6)", NONE),
    ("seconds since 1970", "Since(bits: 32, count: Seconds, from: \"1970-01-01\")", BOTH),
    ("days since 1970", "Since(bits: 16, count: Days, from: \"1970-01-01\")", BOTH),
    ("FAT date and time", "DosTime", BOTH),
    ("BCD day-month-year", "Date(form: \"DD MM YY\")", NONE),
    ("BCD year-month-day", "Date(form: \"YY MM DD\")", NONE),
];

/// How many ways there are; one with two byte orders counts once.
pub const WAYS_TO_READ: usize = WAYS.len();

static KINDS: LazyLock<Vec<Kind>> = LazyLock::new(|| {
    let read = |ron: &str| Kind::read(&notation::parse(ron).ok()?, &mut Vec::new());
    WAYS.iter().filter_map(|(_, ron, _)| read(ron)).collect()
});

/// What the bytes that begin at `bytes` say, read in every common way; always the same rows in the same order.
/// Text is shown up to its first odd byte.
#[must_use]
pub fn readings(bytes: &[u8]) -> Vec<Reading> {
    let ways = WAYS.iter().zip(KINDS.iter());
    ways.flat_map(|(&(name, ron, orders), kind)| {
        orders.iter().map(move |&order| {
            let wanted = kind.size().bytes().unwrap_or(0);
            let text = if kind.name() == "Text" {
                clean_text(kind, bytes.get(..wanted).unwrap_or(bytes), order)
            } else {
                bytes.get(..wanted).and_then(|bytes| {
                    let seen = kind.decode(bytes, order.unwrap_or_default());
                    seen.oddity.is_none().then(|| kind.show(&seen.value))
                })
            };
            Reading { name, order, bytes: wanted, text, ron, kind }
        })
    })
    .collect()
}

/// The longest run of text at the start of `bytes`.
fn clean_text(kind: &Kind, bytes: &[u8], order: Option<ByteOrder>) -> Option<String> {
    // Shorter text than the kind's is read from bytes that are filled up with its padding, 0.
    let wanted = kind.size().bytes().unwrap_or(0);
    (1..=bytes.len() / 2).rev().map(|words| words * 2).find_map(|n| {
        let mut filled = bytes[..n].to_vec();
        filled.resize(wanted, 0);
        let seen = kind.decode(&filled, order.unwrap_or_default());
        match seen.value {
            Value::Text(text) if seen.oddity.is_none() && !text.is_empty() => Some(text),
            _ => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn text(bytes: &[u8], name: &str, order: Option<ByteOrder>) -> Option<String> {
        let readings = readings(bytes);
        readings.into_iter().find(|r| r.name == name && r.order == order).unwrap().text
    }

    #[test]
    fn every_way_has_its_kind() {
        assert_eq!(KINDS.len(), WAYS.len());
    }

    #[test]
    fn bytes_are_read_as_the_common_kinds_in_both_orders() {
        let bytes = [0x12, 0x34, 0x56, 0x78, 0xFF];
        let both = |name| [ByteOrder::Big, ByteOrder::Little].map(|o| text(&bytes, name, Some(o)).unwrap());
        assert_eq!(text(&bytes, "bits", None).as_deref(), Some("0b00010010"));
        assert_eq!(both("unsigned 16"), ["4660", "13330"]);
        assert_eq!(both("unsigned 32"), ["305419896", "2018915346"]);
        assert_eq!(text(&bytes, "digits", None).as_deref(), Some("12345678"));
        assert_eq!(text(&bytes, "digits, low first", None).as_deref(), Some("21436587"));
        assert_eq!(text(&bytes, "unsigned 64", Some(ByteOrder::Big)), None);
        assert_eq!(text(b"FK-CR8\x00\xFFzz", "text", None).as_deref(), Some("FK-CR8"));
        assert_eq!(text(b"KFC-8R\xFF", "text, swapped", None).as_deref(), Some("FK-CR8"));
        assert_eq!(
            text(&[0x49, 0x96, 0x02, 0xD2], "seconds since 1970", Some(ByteOrder::Big)).as_deref(),
            Some("2009-02-13 23:31:30")
        );
    }

    proptest! {
        #[test]
        fn the_rows_are_the_same_for_any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..24)) {
            let names = |bytes: &[u8]| readings(bytes).into_iter().map(|r| (r.name, r.order)).collect::<Vec<_>>();
            prop_assert_eq!(names(&bytes), names(&[]));
        }
    }
}
