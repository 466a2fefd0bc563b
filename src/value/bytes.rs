//! Bytes as they are, and identifiers that are written as bytes: EUI and GUID.

use crate::notation::{Entries, Problem, get};
use crate::span::ByteOrder;
use crate::wording::{count, hex};

use super::Value;
use super::error::ValueError;
use super::kind::{Leaf, Seen, Size};
use super::table::{Row, big, little, option};

/// Bytes and how they are written.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Raw {
    /// How many; the layout says it when it is left out.
    bytes: Option<usize>,
    /// How the written order comes from the stored one.
    stored: Stored,
    written: Written,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Stored {
    AsWritten,
    Backwards,
    /// The first three groups of a GUID backwards, the rest as written.
    Mixed,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Written {
    /// `AA BB`.
    Pairs,
    /// `AA:BB`.
    Colons,
    /// `aabbccdd-eeff-…`.
    Guid,
}

/// The largest field of bytes.
const MOST: u32 = 1 << 24;

impl Raw {
    /// Stored order to written order and back: its own inverse.
    fn turned(&self, bytes: &[u8]) -> Vec<u8> {
        let mut bytes = bytes.to_vec();
        match self.stored {
            Stored::AsWritten => {}
            Stored::Backwards => bytes.reverse(),
            Stored::Mixed => {
                for part in [0..4, 4..6, 6..8] {
                    if let Some(part) = bytes.get_mut(part) {
                        part.reverse();
                    }
                }
            }
        }
        bytes
    }

    fn expected(&self) -> String {
        let bytes = self.bytes.map_or("bytes".to_string(), |n| count(n, "byte"));
        let example = match self.written {
            Written::Pairs => "AA BB",
            Written::Colons => "AA:BB:CC",
            Written::Guid => "00112233-4455-6677-8899-aabbccddeeff",
        };
        format!("{bytes} as hexadecimal digits: {example}")
    }
}

impl Leaf for Raw {
    fn size(&self) -> Size {
        self.bytes.map_or(Size::Given, Size::Bytes)
    }

    fn decode(&self, bytes: &[u8], _order: ByteOrder) -> Seen {
        Seen::fine(Value::Bytes(self.turned(bytes)))
    }

    fn encode(&self, value: &Value, old: &[u8], _order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        let Value::Bytes(bytes) = value else { return Err(ValueError::foreign(value, self.expected())) };
        if bytes.len() != old.len() {
            return Err(ValueError::typed(
                &self.show(value),
                format!("has {}", count(bytes.len(), "byte")),
                count(old.len(), "byte"),
            ));
        }
        Ok(self.turned(bytes))
    }

    /// Hexadecimal digits; blanks, colons, hyphens, dots, underscores and commas between them are free.
    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let bare = typed.trim().trim_start_matches('{').trim_end_matches('}');
        let bare = bare.strip_prefix("0x").or_else(|| bare.strip_prefix("0X")).unwrap_or(bare);
        let groups: Vec<&str> =
            bare.split([' ', ':', '-', '.', '_', ',']).filter(|g| !g.is_empty()).collect();
        // "A:1" must not become "A1": groups hold whole bytes.
        let digits: String = groups.concat();
        let whole = groups.iter().all(|g| g.len() % 2 == 0);
        let bytes = if whole { crate::notation::get::hex_bytes(&digits) } else { None };
        let bytes =
            bytes.ok_or_else(|| ValueError::typed(typed, "is not written as bytes", self.expected()))?;
        match self.bytes {
            Some(wanted) if wanted != bytes.len() => {
                Err(ValueError::typed(typed, format!("has {}", count(bytes.len(), "byte")), self.expected()))
            }
            _ => Ok(Value::Bytes(bytes)),
        }
    }

    fn expects(&self) -> String {
        self.expected()
    }

    fn show(&self, value: &Value) -> String {
        let Value::Bytes(bytes) = value else { return super::kind::shown_foreign(value) };
        match self.written {
            Written::Pairs => hex(bytes),
            Written::Colons => hex(bytes).replace(' ', ":"),
            Written::Guid => {
                let mut text = String::new();
                for (n, byte) in bytes.iter().enumerate() {
                    if matches!(n, 4 | 6 | 8 | 10) {
                        text.push('-');
                    }
                    text.push_str(&format!("{byte:02x}"));
                }
                text
            }
        }
    }
}

/// Takes `bytes` from the entries, when it is there.
pub(super) fn read_bytes(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Option<usize>> {
    entries.or("bytes", None, |node| {
        get::int(node, 1..=MOST, "a number of bytes", problems).map(|n| Some(n as usize))
    })
}

/// `Bytes`, `Eui`, `Guid`.
pub(super) const ROWS: &[Row] = &[
    Row {
        name: "Bytes",
        doc: "Bytes as they are, in hexadecimal pairs",
        options: &[option("bytes", "how many; left out where the layout says it in another way")],
        examples: &[big("Bytes(bytes: 3)", "00 17 6A", "00 17 6A", "common practice, no source")],
        read: |entries, problems| {
            let bytes = read_bytes(entries, problems)?;
            Some(Raw { bytes, stored: Stored::AsWritten, written: Written::Pairs }.into())
        },
    },
    Row {
        name: "Eui",
        doc: "A network address (EUI-48, EUI-64) or its maker's part (OUI)",
        options: &[
            option("bytes", "3, 6 or 8; 6 when left out"),
            option(
                "order",
                "Big when it is stored as it is written, Little when backwards; Big when left out",
            ),
        ],
        examples: &[
            big("Eui", "00 00 5E 00 53 01", "00:00:5E:00:53:01", "the range for documentation of RFC 9542"),
            little(
                "Eui(bytes: 8, order: Little)",
                "01 00 00 10 FE 5E 00 00",
                "00:00:5E:FE:10:00:00:01",
                "invented, under the maker's part that RFC 9542 uses for documentation",
            ),
        ],
        read: |entries, problems| {
            let bytes =
                entries.or("bytes", 6, |node| get::one_of(node, &[3, 6, 8], "3, 6 or 8 bytes", problems));
            let stored = entries
                .or("order", ByteOrder::Big, |node| get::word(node, &ByteOrder::WORDS, "an order", problems));
            let stored = if stored? == ByteOrder::Big { Stored::AsWritten } else { Stored::Backwards };
            Some(Raw { bytes: Some(bytes?), stored, written: Written::Colons }.into())
        },
    },
    Row {
        name: "Guid",
        doc: "A GUID (UUID) of 16 bytes",
        options: &[option(
            "order",
            "Big when it is stored as it is written (RFC 9562), Mixed when its first three groups stand backwards, Little when all of it does; Big when left out",
        )],
        examples: &[
            big(
                "Guid",
                "F8 1D 4F AE 7D EC 11 D0 A7 65 00 A0 C9 1E 6B F6",
                "f81d4fae-7dec-11d0-a765-00a0c91e6bf6",
                "RFC 9562, section 4",
            ),
            big(
                "Guid(order: Mixed)",
                "AE 4F 1D F8 EC 7D D0 11 A7 65 00 A0 C9 1E 6B F6",
                "f81d4fae-7dec-11d0-a765-00a0c91e6bf6",
                "the same in the order of Python 3's uuid.UUID.bytes_le",
            ),
        ],
        read: |entries, problems| {
            const KINDS: &[(&str, Stored)] =
                &[("Big", Stored::AsWritten), ("Mixed", Stored::Mixed), ("Little", Stored::Backwards)];
            let stored =
                entries.or("order", Stored::AsWritten, |node| get::word(node, KINDS, "an order", problems));
            Some(Raw { bytes: Some(16), stored: stored?, written: Written::Guid }.into())
        },
    },
];
