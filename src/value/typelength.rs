//! Fields that say their own coding and length in their first byte (IPMI FRU).

use crate::notation::get;
use crate::span::ByteOrder;
use crate::wording::{count, hex};

use super::Value;
use super::characters::{Code, Typed, escaped, unescaped};
use super::error::ValueError;
use super::kind::{Leaf, Seen, Size, shown_foreign};
use super::letters::{put_six_bit, six_bit_fit, six_bit_text};
use super::table::{Row, big, option};

/// A field behind a type/length byte: the coding in the two highest bits, the number of bytes in the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TypeLength {
    /// Text of 8 bits is two bytes for each character, lowest first.
    wide: bool,
}

/// What the two bits say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Coding {
    Binary = 0,
    /// Digits, blank, hyphen and point in nibbles, the high one first.
    BcdPlus = 1,
    SixBit = 2,
    Plain = 3,
}

const BCD_PLUS: &[u8] = b"0123456789 -.";
/// Codings in the order of their two bits.
const CODINGS: [Coding; 4] = [Coding::Binary, Coding::BcdPlus, Coding::SixBit, Coding::Plain];
/// Bytes that six bits can count.
const MOST: usize = 63;

fn coding(first: u8) -> Coding {
    CODINGS[usize::from(first >> 6)]
}

fn padding(c: char) -> bool {
    c == ' ' || c == '\0'
}

impl TypeLength {
    fn text_code(self) -> Code {
        if self.wide { Code::Utf16 } else { Code::Latin1 }
    }

    fn plain_bytes(self, text: &str) -> Option<Vec<u8>> {
        let mut bytes = Vec::new();
        for c in text.chars() {
            for unit in self.text_code().units(c)? {
                let [low, high] = unit.to_le_bytes();
                bytes.push(low);
                if self.wide {
                    bytes.push(high);
                }
            }
        }
        Some(bytes)
    }

    fn plain_text(self, bytes: &[u8]) -> Option<String> {
        let units: Vec<u16> = if self.wide {
            if !bytes.len().is_multiple_of(2) {
                return None;
            }
            bytes.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])).collect()
        } else {
            bytes.iter().map(|&b| u16::from(b)).collect()
        };
        self.text_code().decoded(&units).ok()
    }

    /// The bytes of text in a coding, at least `least` of them, filled up with blanks; `None` when it cannot
    /// hold the text.
    fn coded(self, text: &str, coding: Coding, least: usize) -> Option<Vec<u8>> {
        match coding {
            Coding::Binary => None,
            Coding::BcdPlus => {
                let place = |b: u8| BCD_PLUS.iter().position(|&d| d == b).and_then(|n| u8::try_from(n).ok());
                let mut nibbles = text.bytes().map(place).collect::<Option<Vec<u8>>>()?;
                nibbles.resize((nibbles.len().div_ceil(2)).max(least) * 2, 10);
                Some(nibbles.chunks_exact(2).map(|pair| pair[0] << 4 | pair[1]).collect())
            }
            Coding::SixBit => {
                let text = six_bit_fit(text)?;
                let mut bytes = vec![0; (text.len() * 6).div_ceil(8).max(least)];
                put_six_bit(&text, &mut bytes, ByteOrder::Little);
                Some(bytes)
            }
            Coding::Plain => {
                let mut bytes = self.plain_bytes(text)?;
                // One byte of this coding would be read as the end of the fields.
                let least = if bytes.is_empty() { least } else { least.max(2) };
                let blank: &[u8] = if self.wide { &[0x20, 0] } else { &[0x20] };
                while bytes.len() + blank.len() <= least {
                    bytes.extend_from_slice(blank);
                }
                Some(bytes)
            }
        }
    }
}

impl Leaf for TypeLength {
    fn size(&self) -> Size {
        Size::Found
    }

    fn extent(&self, bytes: &[u8]) -> Option<usize> {
        let whole = 1 + usize::from(bytes.first()? & 63);
        (whole <= bytes.len()).then_some(whole)
    }

    fn decode(&self, bytes: &[u8], _order: ByteOrder) -> Seen {
        let Some((&first, body)) = bytes.split_first() else {
            return Seen::nonsense(bytes, "the type/length byte is missing");
        };
        if body.len() != usize::from(first & 63) {
            let wrong = format!("{} behind a type/length byte of {first:02X}", count(body.len(), "byte"));
            return Seen::nonsense(bytes, wrong);
        }
        let text = match coding(first) {
            // A field without bytes is empty text, whatever its coding.
            _ if body.is_empty() => Some(String::new()),
            Coding::Binary => return Seen::fine(Value::Bytes(body.to_vec())),
            Coding::BcdPlus => body
                .iter()
                .flat_map(|b| [b >> 4, b & 15])
                .map(|n| BCD_PLUS.get(usize::from(n)).map(|&c| char::from(c)))
                .collect(),
            Coding::SixBit => Some(six_bit_text(body, ByteOrder::Little)),
            Coding::Plain => self.plain_text(body),
        };
        match text {
            Some(text) => {
                let text = text.trim_end_matches(padding).to_string();
                let control = text.chars().position(char::is_control);
                let oddity = control.map(|n| format!("a control character at place {}", n + 1));
                Seen { value: Value::Text(text), oddity }
            }
            None => Seen::odd(Value::Bytes(body.to_vec()), "its bytes are no text in their coding"),
        }
    }

    /// Keeps the coding where it can hold the value, and the length where the value is not longer.
    fn encode(&self, value: &Value, old: &[u8], _order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        let before = old.first().copied().unwrap_or(0);
        let least = usize::from(before & 63);
        let (coding, body) = match value {
            Value::Bytes(bytes) => (Coding::Binary, bytes.clone()),
            Value::Text(text) => {
                let codings = [coding(before), Coding::Plain, Coding::SixBit, Coding::BcdPlus];
                let fitting = codings.into_iter().find_map(|coding| {
                    let body = self.coded(text, coding, least).filter(|body| body.len() <= MOST)?;
                    Some((coding, body))
                });
                fitting.ok_or_else(|| {
                    ValueError::typed(text, "cannot be coded", format!("text that fits {MOST} bytes"))
                })?
            }
            other => return Err(ValueError::foreign(other, "text or bytes")),
        };
        let length = u8::try_from(body.len()).ok().filter(|&n| usize::from(n) <= MOST).ok_or_else(|| {
            ValueError::typed(
                &self.show(value),
                format!("takes {}", count(body.len(), "byte")),
                format!("at most {MOST}"),
            )
        })?;
        let mut bytes = vec![(coding as u8) << 6 | length];
        bytes.extend(body);
        Ok(bytes)
    }

    /// Text, or `hex: AA BB` for bytes.
    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        if let Some(hex) = typed.trim().strip_prefix(HEX) {
            let bytes = get::hex_bytes(hex).filter(|bytes| !bytes.is_empty() && bytes.len() <= MOST);
            return bytes.map(Value::Bytes).ok_or_else(|| {
                ValueError::typed(typed, "is not written as bytes", format!("1 to {MOST} pairs: {HEX} AA BB"))
            });
        }
        let text: String = unescaped(typed)
            .into_iter()
            .map(|part| match part {
                Typed::Char(c) => c,
                Typed::Byte(byte) => char::from(byte),
            })
            .collect();
        let text = text.trim_end_matches(padding).to_string();
        let bytes = self.plain_bytes(&text).ok_or_else(|| {
            ValueError::typed(typed, "cannot be coded", format!("{} text", self.text_code().name()))
        })?;
        // Shorter codings may hold more: 84 characters of six bits, 126 digits.
        let is_short = |coding| self.coded(&text, coding, 0).is_some_and(|body| body.len() <= MOST);
        let fits = bytes.len() <= MOST || is_short(Coding::SixBit) || is_short(Coding::BcdPlus);
        match fits {
            true => Ok(Value::Text(text)),
            false => Err(ValueError::typed(
                typed,
                format!("takes {}", count(bytes.len(), "byte")),
                format!("at most {MOST}"),
            )),
        }
    }

    fn expects(&self) -> String {
        format!("text of at most {MOST} bytes, or bytes as {HEX} AA BB")
    }

    fn show(&self, value: &Value) -> String {
        match value {
            Value::Text(text) => escaped(text),
            Value::Bytes(bytes) => format!("{HEX} {}", hex(bytes)),
            other => shown_foreign(other),
        }
    }
}

/// What stands before bytes, so that they are not taken for text.
const HEX: &str = "hex:";

/// `TypeLength`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "TypeLength",
    doc: "A field behind a byte that says its coding (bytes, digits, six-bit or eight-bit text) and its length",
    options: &[option(
        "wide",
        "true when its text of eight bits is UTF-16, lowest byte first; false when left out",
    )],
    examples: &[
        big(
            "TypeLength",
            "C4 46 4B 2D 37",
            "FK-7",
            "the form of fields in the IPMI Platform Management FRU Information Storage Definition v1.0, chapter 13",
        ),
        big("TypeLength", "83 29 DC A6", "IPMI", "the same, section 13.3: six-bit text"),
        big("TypeLength", "43 12 B3 4C", "12-34.", "the same, section 13.1: digits of BCD plus"),
        big("TypeLength", "02 AA BB", "hex: AA BB", "the same, section 13: binary"),
    ],
    read: |entries, problems| {
        let wide = entries.or("wide", false, |node| get::boolean(node, problems));
        Some(TypeLength { wide: wide? }.into())
    },
}];
