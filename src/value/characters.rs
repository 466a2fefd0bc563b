//! Characters as they are stored, and as they are shown and typed.

use crate::wording::{count, count_of};

/// How characters become units: bytes, or 16-bit words for UTF-16.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Code {
    Ascii,
    Latin1,
    Utf8,
    Utf16,
}

impl Code {
    pub(super) const WORDS: &[(&str, Code)] =
        &[("Ascii", Code::Ascii), ("Latin1", Code::Latin1), ("Utf8", Code::Utf8), ("Utf16", Code::Utf16)];

    pub(super) fn name(self) -> &'static str {
        match self {
            Code::Ascii => "ASCII",
            Code::Latin1 => "Latin-1",
            Code::Utf8 => "UTF-8",
            Code::Utf16 => "UTF-16",
        }
    }

    /// So many of what a field of text is measured in.
    pub(super) fn units_of(self, n: usize) -> String {
        match self {
            Code::Ascii => count(n, "ASCII character"),
            Code::Latin1 => count(n, "Latin-1 character"),
            Code::Utf8 => count_of(n, "byte in UTF-8", "bytes in UTF-8"),
            Code::Utf16 => count_of(n, "unit of UTF-16", "units of UTF-16"),
        }
    }

    /// The characters of units, or the place and the unit that stands for none.
    pub(super) fn decoded(self, units: &[u16]) -> Result<String, (usize, u16)> {
        match self {
            Code::Ascii | Code::Latin1 => {
                let most = if self == Code::Ascii { 0x7F } else { 0xFF };
                units
                    .iter()
                    .enumerate()
                    .map(|(n, &u)| u8::try_from(u).ok().filter(|_| u <= most).map(char::from).ok_or((n, u)))
                    .collect()
            }
            Code::Utf8 => {
                let bytes: Vec<u8> = units.iter().map(|&u| u.to_be_bytes()[1]).collect();
                String::from_utf8(bytes).map_err(|e| {
                    let place = e.utf8_error().valid_up_to();
                    (place, units.get(place).copied().unwrap_or(0))
                })
            }
            Code::Utf16 => {
                let mut text = String::new();
                let mut place = 0;
                for c in char::decode_utf16(units.iter().copied()) {
                    let c = c.map_err(|e| (place, e.unpaired_surrogate()))?;
                    place += c.len_utf16();
                    text.push(c);
                }
                Ok(text)
            }
        }
    }

    /// The units of a character; `None` when the code has none for it.
    pub(super) fn units(self, c: char) -> Option<Vec<u16>> {
        match self {
            Code::Ascii => u16::try_from(u32::from(c)).ok().filter(|&u| u <= 0x7F).map(|u| vec![u]),
            Code::Latin1 => u16::try_from(u32::from(c)).ok().filter(|&u| u <= 0xFF).map(|u| vec![u]),
            Code::Utf8 => Some(c.encode_utf8(&mut [0; 4]).bytes().map(u16::from).collect()),
            Code::Utf16 => Some(c.encode_utf16(&mut [0; 2]).to_vec()),
        }
    }
}

/// Text as shown and typed: a backslash doubled, control characters of ASCII as `\x0A`, others and invisible ones as
/// `\u{202E}`.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' => out.push_str("\\\\"),
            c if c.is_ascii_control() => out.push_str(&format!("\\x{:02X}", u32::from(c))),
            // A byte of its own is another one than this character's in UTF-8; then marks that turn or hide text.
            '\u{80}'..='\u{9F}'
            | '\u{200B}'..='\u{200F}'
            | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}'
            | '\u{FEFF}' => {
                out.push_str(&format!("\\u{{{:X}}}", u32::from(c)));
            }
            c => out.push(c),
        }
    }
    out
}

/// A typed character, or a byte typed as `\x0A`.
pub(super) enum Typed {
    Char(char),
    Byte(u8),
}

/// Undoes [`escaped`]; a backslash that begins nothing known stands for itself.
pub(super) fn unescaped(typed: &str) -> Vec<Typed> {
    let mut out = Vec::new();
    let mut rest = typed;
    while let Some(c) = rest.chars().next() {
        let escape = rest.strip_prefix('\\').and_then(|after| {
            if let Some(after) = after.strip_prefix('\\') {
                return Some((Typed::Char('\\'), after));
            }
            if let Some(hex) = after.strip_prefix('x') {
                let digits = hex.get(..2).filter(|d| d.bytes().all(|b| b.is_ascii_hexdigit()))?;
                return Some((Typed::Byte(u8::from_str_radix(digits, 16).ok()?), hex.get(2..)?));
            }
            let (hex, after) = after.strip_prefix("u{")?.split_once('}')?;
            let digits = Some(hex).filter(|d| d.bytes().all(|b| b.is_ascii_hexdigit()))?;
            Some((Typed::Char(char::from_u32(u32::from_str_radix(digits, 16).ok()?)?), after))
        });
        match escape {
            Some((typed, after)) => {
                out.push(typed);
                rest = after;
            }
            None => {
                out.push(Typed::Char(c));
                rest = &rest[c.len_utf8()..];
            }
        }
    }
    out
}
