//! The ways in which a text is stored, each as a view: the image read as a row of characters.
//!
//! A view turns the image into symbols, one byte each, that are upper-case ASCII where the image holds a letter,
//! digit or sign under that encoding. One search then serves all encodings.

use crate::span::Span;

/// How a text is stored; the simplest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Encoding {
    /// One byte a character, ASCII.
    Text,
    /// Two bytes a character, the zero first.
    Utf16Big,
    /// Two bytes a character, the zero last.
    Utf16Little,
    /// ASCII with the bytes of each 16-bit word swapped.
    SwappedWords,
    /// ASCII in every other byte, with something else between.
    EveryOther,
    /// ASCII, last character first.
    Backwards,
    /// ASCII with a parity bit on top.
    Parity,
    /// Two decimal digits a byte, the first in the high half.
    PackedDigits,
    /// Two decimal digits a byte, the first in the low half.
    PackedDigitsSwapped,
    /// One decimal digit a byte, 00 to 09.
    UnpackedDigits,
    /// A binary number, most significant byte first.
    NumberBig,
    /// A binary number, least significant byte first.
    NumberLittle,
    /// ASCII with every bit inverted.
    InvertedBits,
    /// ASCII with the bits of each byte in the other order.
    ReversedBits,
    /// ASCII with the halves of each byte swapped.
    SwappedNibbles,
    /// Six bits a character.
    SixBit {
        /// Whether the first character has the most significant bits.
        high_first: bool,
        /// Whether code 0 is a space (else it is `@`, and A is 1).
        from_space: bool,
    },
}

impl Encoding {
    /// The words for it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Encoding::Text => "text",
            Encoding::Utf16Big => "UTF-16 text, high byte first",
            Encoding::Utf16Little => "UTF-16 text, low byte first",
            Encoding::SwappedWords => "text with the bytes of 16-bit words swapped",
            Encoding::EveryOther => "text in every other byte",
            Encoding::Backwards => "text backwards",
            Encoding::Parity => "text with a parity bit",
            Encoding::PackedDigits => "packed digits",
            Encoding::PackedDigitsSwapped => "packed digits, low half first",
            Encoding::UnpackedDigits => "digits, one a byte",
            Encoding::NumberBig => "binary number, high byte first",
            Encoding::NumberLittle => "binary number, low byte first",
            Encoding::InvertedBits => "text with inverted bits",
            Encoding::ReversedBits => "text with reversed bits",
            Encoding::SwappedNibbles => "text with the halves of bytes swapped",
            Encoding::SixBit { high_first: true, from_space: true } => {
                "six-bit text, high bits first, space is 0"
            }
            Encoding::SixBit { high_first: true, from_space: false } => {
                "six-bit text, high bits first, A is 1"
            }
            Encoding::SixBit { high_first: false, from_space: true } => {
                "six-bit text, low bits first, space is 0"
            }
            Encoding::SixBit { high_first: false, from_space: false } => {
                "six-bit text, low bits first, A is 1"
            }
        }
    }
}

/// How the image is read as a row of symbols.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum View {
    /// One symbol a byte, through a change of the byte.
    Bytes(ByteChange),
    /// One symbol a byte, the two of each word swapped.
    Swapped,
    /// One symbol every second byte, from the byte 0 or 1.
    Alternate(usize),
    /// Two symbols a byte, the high half first or the low one.
    Nibbles { high_first: bool },
    /// Four symbols every three bytes, from a bit 0 to 5.
    SixBits { high_first: bool, phase: usize },
}

/// What is done to a byte before it is a character.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum ByteChange {
    None,
    Invert,
    Reverse,
    SwapHalves,
    DropTop,
    DigitOf,
}

impl ByteChange {
    pub(super) fn of(self, byte: u8) -> u8 {
        match self {
            ByteChange::None => byte,
            ByteChange::Invert => !byte,
            ByteChange::Reverse => byte.reverse_bits(),
            ByteChange::SwapHalves => byte.rotate_left(4),
            ByteChange::DropTop => byte & 0x7F,
            ByteChange::DigitOf if byte <= 9 => b'0' + byte,
            ByteChange::DigitOf => 0,
        }
    }
}

impl View {
    /// Every view, the simplest first.
    pub(crate) fn all() -> impl Iterator<Item = View> {
        use ByteChange as Change;
        let bytes = [Change::None, Change::DropTop, Change::Invert, Change::Reverse, Change::SwapHalves];
        let six = [false, true]
            .into_iter()
            .flat_map(|high_first| (0..6).map(move |phase| View::SixBits { high_first, phase }));
        bytes
            .into_iter()
            .map(View::Bytes)
            .chain([View::Swapped, View::Alternate(0), View::Alternate(1), View::Bytes(Change::DigitOf)])
            .chain([View::Nibbles { high_first: true }, View::Nibbles { high_first: false }])
            .chain(six)
    }

    /// The encodings that are read through it.
    pub(crate) fn encodings(self) -> Vec<Encoding> {
        match self {
            View::Bytes(ByteChange::None) => vec![Encoding::Text, Encoding::Backwards],
            View::Bytes(ByteChange::Invert) => vec![Encoding::InvertedBits],
            View::Bytes(ByteChange::Reverse) => vec![Encoding::ReversedBits],
            View::Bytes(ByteChange::SwapHalves) => vec![Encoding::SwappedNibbles],
            View::Bytes(ByteChange::DropTop) => vec![Encoding::Parity],
            View::Bytes(ByteChange::DigitOf) => vec![Encoding::UnpackedDigits],
            View::Swapped => vec![Encoding::SwappedWords],
            View::Alternate(_) => vec![Encoding::EveryOther],
            View::Nibbles { high_first: true } => vec![Encoding::PackedDigits],
            View::Nibbles { high_first: false } => vec![Encoding::PackedDigitsSwapped],
            View::SixBits { high_first, .. } => {
                [true, false].map(|from_space| Encoding::SixBit { high_first, from_space }).to_vec()
            }
        }
    }

    /// Whether only digits (and A to F) can be stored in it.
    pub(crate) fn digits_only(self) -> bool {
        matches!(self, View::Nibbles { .. } | View::Bytes(ByteChange::DigitOf))
    }

    /// Whether near misses are looked for. Six-bit texts begin at bytes; from a bit that no byte begins at, only
    /// the text itself is looked for.
    pub(crate) fn has_near_misses(self) -> bool {
        !matches!(self, View::SixBits { phase, .. } if phase % 2 == 1)
    }

    /// Reads the image as symbols.
    pub(crate) fn symbols(self, bytes: &[u8]) -> Vec<u8> {
        match self {
            View::Bytes(change) => {
                let mut table = [0; 256];
                for byte in 0..=255_u8 {
                    table[usize::from(byte)] = change.of(byte).to_ascii_uppercase();
                }
                bytes.iter().map(|&b| table[usize::from(b)]).collect()
            }
            View::Swapped => {
                let mut symbols = bytes.to_ascii_uppercase();
                for word in symbols.chunks_exact_mut(2) {
                    word.swap(0, 1);
                }
                symbols
            }
            View::Alternate(from) => bytes.iter().skip(from).step_by(2).map(u8::to_ascii_uppercase).collect(),
            View::Nibbles { high_first } => {
                let pair =
                    |&b: &u8| if high_first { [digit(b >> 4), digit(b)] } else { [digit(b), digit(b >> 4)] };
                bytes.iter().flat_map(pair).collect()
            }
            View::SixBits { high_first, phase } => six_bits(bytes, high_first, phase),
        }
    }

    /// Symbol `index`, as [`View::symbols`] has it; `None` behind the end.
    pub(super) fn symbol(self, bytes: &[u8], index: usize) -> Option<u8> {
        self.character(bytes, index).map(|c| c.to_ascii_uppercase())
    }

    /// The character that symbol `index` is, in its own case.
    pub(crate) fn character(self, bytes: &[u8], index: usize) -> Option<u8> {
        let at = self.first_byte(index);
        let byte = *bytes.get(at)?;
        Some(match self {
            View::Bytes(change) => change.of(byte),
            // A byte without a second one is no word.
            View::Swapped => bytes.get(at | 1).map(|_| byte)?,
            View::Alternate(_) => byte,
            View::Nibbles { high_first } => {
                digit(if index.is_multiple_of(2) == high_first { byte >> 4 } else { byte })
            }
            View::SixBits { high_first, phase } => {
                let bit = (phase + 6 * index) % 8;
                // The second byte counts only where the code reaches into it.
                let next = if bit > 2 { *bytes.get(at + 1)? } else { 0 };
                let code = match high_first {
                    true => u16::from_be_bytes([byte, next]) >> (10 - bit),
                    false => u16::from_le_bytes([byte, next]) >> bit,
                };
                (code & 63) as u8 + b' '
            }
        })
    }

    /// The symbols from `start` on, up to `end` or the last there is.
    pub(super) fn read(self, bytes: &[u8], start: usize, end: usize) -> Vec<u8> {
        (start..end).map_while(|index| self.symbol(bytes, index)).collect()
    }

    /// The byte in which symbol `index` begins.
    fn first_byte(self, index: usize) -> usize {
        match self {
            View::Bytes(_) => index,
            View::Swapped => index ^ 1,
            View::Alternate(from) => index * 2 + from,
            View::Nibbles { .. } => index / 2,
            View::SixBits { phase, .. } => (index * 6 + phase) / 8,
        }
    }

    /// The bytes that the symbols `start..end` lie in, and the bit of the first byte at which they begin, counted
    /// in the order of reading.
    pub(crate) fn place(self, start: usize, end: usize) -> (Span, u8) {
        let last = end.max(start + 1) - 1;
        let (first, last_byte) = (self.first_byte(start), self.first_byte(last));
        match self {
            View::Swapped => {
                let inside = (start..end).map(|i| self.first_byte(i));
                let from = inside.clone().min().unwrap_or(first);
                (Span::new(from, inside.max().unwrap_or(from) + 1), 0)
            }
            View::Nibbles { .. } => (Span::new(first, last_byte + 1), if start % 2 == 1 { 4 } else { 0 }),
            View::SixBits { phase, .. } => {
                let bit = start * 6 + phase;
                (Span::new(first, (last * 6 + phase + 5) / 8 + 1), (bit % 8) as u8)
            }
            View::Bytes(_) | View::Alternate(_) => (Span::new(first, last_byte + 1), 0),
        }
    }
}

/// The digit of the low half of a byte.
pub(super) fn digit(half: u8) -> u8 {
    b"0123456789ABCDEF"[usize::from(half & 15)]
}

/// Six-bit symbols from bit `phase` (0 to 5) on, as the characters from space to underscore.
///
/// Four symbols lie in the 24 bits from the phase on, and those in four bytes; so the bytes are taken three by
/// three, each time with one more.
fn six_bits(bytes: &[u8], high_first: bool, phase: usize) -> Vec<u8> {
    let symbols = (bytes.len() * 8).saturating_sub(phase) / 6;
    let mut out = Vec::with_capacity(symbols + 4);
    let mut four = |group: [u8; 4]| {
        let codes = if high_first {
            let held = u32::from_be_bytes(group) << phase;
            [held >> 26, held >> 20, held >> 14, held >> 8]
        } else {
            let held = u32::from_le_bytes(group) >> phase;
            [held, held >> 6, held >> 12, held >> 18]
        };
        out.extend(codes.map(|code| (code & 63) as u8 + b' '));
    };
    let mut at = 0;
    while let Some(&[a, b, c, d]) = bytes.get(at..at + 4) {
        four([a, b, c, d]);
        at += 3;
    }
    // What is left, with nothing after it.
    while at < bytes.len() {
        four([0, 1, 2, 3].map(|i| bytes.get(at + i).copied().unwrap_or(0)));
        at += 3;
    }
    out.truncate(symbols);
    out
}

/// The same text in the alphabet in which `@` is 0 and A is 1, as it appears in a six-bit view; it is its own
/// inverse. `None` for a character that six bits cannot hold.
pub(crate) fn other_alphabet(symbol: u8) -> Option<u8> {
    matches!(symbol, b' '..=b'_').then(|| ((symbol - b' ') ^ 0x20) + b' ')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_view_reads_what_was_stored_in_it() {
        let cases: &[(View, &[u8], &str)] = &[
            (View::Bytes(ByteChange::None), b"Ab-1", "AB-1"),
            (View::Bytes(ByteChange::Invert), &[!b'A', !b'1'], "A1"),
            (View::Bytes(ByteChange::Reverse), &[0x82, 0x8C], "A1"),
            (View::Bytes(ByteChange::SwapHalves), &[0x14, 0x13], "A1"),
            (View::Bytes(ByteChange::DropTop), &[0xC1, 0x31], "A1"),
            (View::Bytes(ByteChange::DigitOf), &[2, 0, 4, 7], "2047"),
            (View::Swapped, b"BADC", "ABCD"),
            (View::Alternate(1), b".A.B", "AB"),
            (View::Nibbles { high_first: true }, &[0x20, 0x47], "2047"),
            (View::Nibbles { high_first: false }, &[0x02, 0x74], "2047"),
            // "IPMI" packed as in the worked example of the Platform Management FRU Information Storage
            // Definition (Intel), section on 6-bit ASCII: 29h DCh A6h.
            (View::SixBits { high_first: false, phase: 0 }, &[0x29, 0xDC, 0xA6], "IPMI"),
            // The same four codes 101001 110000 101101 101001, first bits on top.
            (View::SixBits { high_first: true, phase: 0 }, &[0xA7, 0x0B, 0x69], "IPMI"),
        ];
        for &(view, bytes, wanted) in cases {
            assert_eq!(view.symbols(bytes), wanted.as_bytes(), "{view:?}");
        }
    }

    #[test]
    fn six_bit_symbols_begin_at_any_bit() {
        for high_first in [false, true] {
            for phase in 0..6 {
                let bytes = [0xA5, 0x3C, 0x96, 0x0F, 0xE1, 0x77, 0x42];
                let bit = |n: usize| {
                    let byte = bytes[n / 8];
                    if high_first { byte >> (7 - n % 8) & 1 } else { byte >> (n % 8) & 1 }
                };
                let naive: Vec<u8> = (0..(56 - phase) / 6)
                    .map(|i| {
                        (0..6).fold(0, |code, k| {
                            let b = bit(phase + 6 * i + k);
                            if high_first { code << 1 | b } else { code | b << k }
                        }) + b' '
                    })
                    .collect();
                assert_eq!(
                    View::SixBits { high_first, phase }.symbols(&bytes),
                    naive,
                    "{high_first} {phase}"
                );
            }
        }
    }

    #[test]
    fn a_symbol_alone_is_the_one_that_stands_in_the_row_of_all() {
        let bytes: Vec<u8> = (0..61_u8).map(|i| i.wrapping_mul(37) ^ 0x5A).collect();
        for view in View::all() {
            let symbols = view.symbols(&bytes);
            // A last byte without a second one is no swapped word.
            let all = if view == View::Swapped { 60 } else { symbols.len() };
            assert_eq!(view.read(&bytes, 0, all), symbols[..all], "{view:?}");
            assert_eq!(view.symbol(&bytes, all), None, "{view:?}");
        }
    }

    #[test]
    fn the_two_six_bit_alphabets_lead_into_each_other() {
        assert_eq!(other_alphabet(b'!'), Some(b'A'));
        assert_eq!(other_alphabet(b'A'), Some(b'!'));
        assert_eq!(other_alphabet(b'a'), None);
    }
}
