//! Letters packed into five or six bits.

use crate::notation::{Entries, Problem, get};
use crate::span::ByteOrder;
use crate::wording::count;

use super::Value;
use super::bytes::read_bytes;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Family, Leaf, Seen, Size, shown_foreign};
use super::number::{Face, Facing, Number};
use super::table::{Row, big, option};

/// Letters of five bits, 1 for A to 26 for Z, the first one highest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FiveBit {
    letters: u32,
}

/// What code 0 stands for; the others follow in the order of ASCII.
const ZERO: u8 = b'@';

impl FiveBit {
    fn expected(self) -> String {
        format!("{} from A to Z", count(self.letters as usize, "letter"))
    }
}

impl Facing for FiveBit {
    fn seen(&self, _form: &Form, raw: u64) -> Seen {
        let codes = (0..self.letters).rev().map(|n| (raw >> (5 * n) & 31) as u8);
        let text: String = codes.map(|code| char::from(ZERO + code)).collect();
        match text.chars().find(|c| !c.is_ascii_uppercase()) {
            Some(other) => Seen::odd(Value::Text(text), format!("code {} is no letter", other as u8 - ZERO)),
            None => Seen::fine(Value::Text(text)),
        }
    }

    fn raw(&self, _form: &Form, value: &Value) -> Result<u64, ValueError> {
        let Value::Text(text) = value else { return Err(ValueError::foreign(value, self.expected())) };
        let codes = ZERO..ZERO + 32;
        if text.len() != self.letters as usize || !text.bytes().all(|b| codes.contains(&b)) {
            return Err(ValueError::typed(text, "cannot be stored", self.expected()));
        }
        Ok(text.bytes().fold(0, |raw, b| raw << 5 | u64::from(b - ZERO)))
    }

    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        let value = Value::Text(typed.to_ascii_uppercase());
        self.raw(form, &value)
            .map(|_| value)
            .map_err(|error| ValueError::typed(typed, "is not fit", error.expected))
    }

    fn expects(&self, _form: &Form) -> String {
        self.expected()
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        shown_foreign(value)
    }
}

fn read_five(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Family> {
    let letters = entries.or("letters", 3, |node| get::int(node, 1..=12u32, "a number of letters", problems));
    let form = Form::of(letters.map(|n| n * 5), entries, problems)?.or_order(ByteOrder::Big);
    Some(Number::family(form, Face::FiveBit(FiveBit { letters: letters? })))
}

/// Text of six bits for each character, from blank (0) to underscore (63).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SixBit {
    bytes: Option<usize>,
    order: ByteOrder,
}

/// The characters in `bytes`, blanks included; the first character's bits are the lowest of the first byte, or
/// the highest when `order` is Big.
pub(super) fn six_bit_text(bytes: &[u8], order: ByteOrder) -> String {
    (0..bytes.len() * 8 / 6).map(|n| char::from(0x20 + six_bits(bytes, n, order))).collect()
}

fn six_bits(bytes: &[u8], n: usize, order: ByteOrder) -> u8 {
    (0..6).fold(0, |code, k| {
        let bit = n * 6 + k;
        let byte = bytes.get(bit / 8).copied().unwrap_or(0);
        match order {
            ByteOrder::Little => code | (byte >> (bit % 8) & 1) << k,
            ByteOrder::Big => code << 1 | byte >> (7 - bit % 8) & 1,
        }
    })
}

/// Puts `text` into `bytes`, filled up with blanks; bits beyond the last whole character stay.
pub(super) fn put_six_bit(text: &str, bytes: &mut [u8], order: ByteOrder) {
    let codes = text.bytes().map(|b| b.wrapping_sub(0x20) & 63).chain(std::iter::repeat(0));
    for (n, code) in codes.take(bytes.len() * 8 / 6).enumerate() {
        for k in 0..6 {
            let bit = n * 6 + k;
            let (value, place) = match order {
                ByteOrder::Little => (code >> k & 1, bit % 8),
                ByteOrder::Big => (code >> (5 - k) & 1, 7 - bit % 8),
            };
            if let Some(byte) = bytes.get_mut(bit / 8) {
                *byte = *byte & !(1 << place) | value << place;
            }
        }
    }
}

/// The text in upper case, when six bits can hold it.
pub(super) fn six_bit_fit(text: &str) -> Option<String> {
    let upper = text.to_ascii_uppercase();
    upper.bytes().all(|b| (0x20..0x60).contains(&b)).then_some(upper)
}

impl Leaf for SixBit {
    fn size(&self) -> Size {
        self.bytes.map_or(Size::Given, Size::Bytes)
    }

    fn decode(&self, bytes: &[u8], _order: ByteOrder) -> Seen {
        Seen::fine(Value::Text(six_bit_text(bytes, self.order).trim_end_matches(' ').to_string()))
    }

    fn encode(&self, value: &Value, old: &[u8], _order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        let Value::Text(text) = value else { return Err(ValueError::foreign(value, "text")) };
        self.parse(text)?;
        let fit = old.len() * 8 / 6;
        if text.len() > fit {
            let wrong = format!("has {}", count(text.len(), "character"));
            return Err(ValueError::typed(text, wrong, format!("at most {fit}")));
        }
        let mut bytes = old.to_vec();
        put_six_bit(text, &mut bytes, self.order);
        Ok(bytes)
    }

    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let text = six_bit_fit(typed)
            .ok_or_else(|| ValueError::typed(typed, "does not fit six bits", self.expects()))?;
        let text = text.trim_end_matches(' ').to_string();
        match self.bytes.map(|bytes| bytes * 8 / 6) {
            Some(fit) if text.len() > fit => Err(ValueError::typed(
                typed,
                format!("has {}", count(text.len(), "character")),
                format!("at most {fit}"),
            )),
            _ => Ok(Value::Text(text)),
        }
    }

    fn expects(&self) -> String {
        let marks = "capital letters, digits and ASCII marks up to _";
        match self.bytes {
            Some(bytes) => format!("at most {} {marks}", bytes * 8 / 6),
            None => marks.to_string(),
        }
    }

    fn show(&self, value: &Value) -> String {
        shown_foreign(value)
    }
}

/// `Letters`, `SixBit`.
pub(super) const ROWS: &[Row] = &[
    Row {
        name: "Letters",
        doc: "Capital letters of five bits each, 1 for A to 26 for Z, the first one highest",
        options: &[
            option("letters", "how many, 1 to 12; 3 when left out"),
            option(
                "order",
                "Big or Little: which byte stands first; Big when left out, whatever the layout's order",
            ),
            form::WORDS,
        ],
        examples: &[
            big(
                "Letters",
                "10 AC",
                "DEL",
                "the manufacturer name of the monitor dell-e178wfp-vga in the test data of edid-decode; bit order by VESA E-EDID release A.2, section 3.4.1",
            ),
            big("Letters(letters: 2)", "00 22", "AB", "worked by hand"),
        ],
        read: read_five,
    },
    Row {
        name: "SixBit",
        doc: "Text of six bits for each character: code 0 is a blank, the others follow in the order of ASCII up to _",
        options: &[
            option("bytes", "how many; left out where the layout says it in another way"),
            option(
                "order",
                "Little when the first character stands in the lowest bits, Big when in the highest; Little when left out",
            ),
        ],
        examples: &[
            big(
                "SixBit(bytes: 3)",
                "29 DC A6",
                "IPMI",
                "IPMI Platform Management FRU Information Storage Definition v1.0, section 13.3",
            ),
            big(
                "SixBit(bytes: 3, order: Big)",
                "A7 0B 69",
                "IPMI",
                "the same letters packed by hand, highest bits first",
            ),
        ],
        read: |entries, problems| {
            let bytes = read_bytes(entries, problems);
            let order = entries.or("order", ByteOrder::Little, |node| {
                get::word(node, &ByteOrder::WORDS, "an order", problems)
            });
            Some(SixBit { bytes: bytes?, order: order? }.into())
        },
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bits_beyond_the_last_character_stay() {
        for order in [ByteOrder::Little, ByteOrder::Big] {
            let mut bytes = [0xFF, 0xFF];
            put_six_bit("  ", &mut bytes, order);
            assert_eq!(bytes, if order == ByteOrder::Little { [0x00, 0xF0] } else { [0x00, 0x0F] });
        }
    }
}
