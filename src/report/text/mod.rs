//! Text for people: cleaned, hexadecimal, counted.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `fit` | wrapped and cut to so many columns |
//! | `name` | names of files: readable, byte for byte, as typed in a shell |

mod fit;
mod name;

use std::borrow::Cow;
use std::fmt::Write as _;
use std::ops::Range;

pub use crate::wording::{address, count, hex, hex_plain, hex_short, list};
pub use fit::{cut, cut_middle, cut_with, width, wrap, wrap_to_copy};
pub use name::{Name, NoName, bytes_of, named, path, shell, word};

use super::paint::Paint;
use crate::span::Span;

/// `text` without anything that could act on a terminal or hide from the reader: control characters, escape
/// sequences, marks that turn the writing direction, invisible characters. Each is shown by its number instead.
///
/// Whatever comes from an image, a layout or a file name goes through here before it is printed.
#[must_use]
pub fn clean(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_hidden) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '\n' => shown.push_str("\\n"),
            '\r' => shown.push_str("\\r"),
            '\t' => shown.push_str("\\t"),
            c if is_hidden(c) && u32::from(c) < 0x100 => {
                let _ = write!(shown, "\\x{:02X}", u32::from(c));
            }
            c if is_hidden(c) => {
                let _ = write!(shown, "\\u{{{:04X}}}", u32::from(c));
            }
            c => shown.push(c),
        }
    }
    Cow::Owned(shown)
}

/// True for what must not reach a terminal as it is.
/// The ranges are those of the Unicode general categories Cc, Cf, Zl and Zp, and the variation selectors.
pub(super) fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(u32::from(c),
            0x00AD | 0x034F | 0x0600..=0x0605 | 0x061C | 0x06DD | 0x070F | 0x0890..=0x0891 | 0x08E2
            | 0x115F..=0x1160 | 0x17B4..=0x17B5 | 0x180B..=0x180F | 0x200B..=0x200F | 0x2028..=0x202E
            | 0x2060..=0x206F | 0x3164 | 0xFE00..=0xFE0F | 0xFEFF | 0xFFA0 | 0xFFF0..=0xFFFB
            | 0x110BD | 0x110CD | 0x13430..=0x1343F | 0x1BCA0..=0x1BCA3 | 0x1D173..=0x1D17A
            | 0xE0000..=0xE0FFF)
}

/// A digest on a screen: the characters that tell two images apart, or all of them.
#[must_use]
pub fn digest(sha256: &str, paint: Paint) -> String {
    const SHOWN: usize = 16;
    if paint.whole {
        sha256.to_owned()
    } else {
        format!("{}…", sha256.chars().take(SHOWN).collect::<String>())
    }
}

/// `0x0040..0x0050`, the end not included, as addresses of an image whose offset 0 is at `base`.
#[must_use]
pub fn range(span: Span, base: u64) -> String {
    let Range { start, end } = span.addresses(base);
    format!("{}..{}", address(start), address(end))
}

/// Where something lies: `0x0040, 16 bytes`.
#[must_use]
pub fn place(span: Span, base: u64) -> String {
    format!("{}, {}", address(span.addresses(base).start), count(span.len(), "byte"))
}

/// A stored number of `bytes` bytes, all its digits written: `00F3`.
#[must_use]
pub fn number(value: u128, bytes: usize) -> String {
    format!("{value:0digits$X}", digits = bytes.saturating_mul(2).min(32))
}

/// `text` as a sentence: first letter upper case when it is a plain word, full stop at the end.
#[must_use]
pub fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut chars = text.chars();
    let Some(first) = chars.next() else { return String::new() };
    let mut sentence = String::with_capacity(text.len() + 1);
    // A name with digits or underscores (`part_number`, `x8`), or before a colon, keeps its spelling.
    let word = text.split(char::is_whitespace).next().unwrap_or_default();
    if word.trim_end_matches(['.', ',', ';']).chars().all(|c| c.is_alphabetic() || "'-".contains(c)) {
        sentence.extend(first.to_uppercase());
    } else {
        sentence.push(first);
    }
    sentence.push_str(chars.as_str());
    if !sentence.ends_with(['.', '?', '!', '…']) {
        sentence.push('.');
    }
    sentence
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn nothing_that_acts_on_a_terminal_is_left() {
        assert_eq!(clean("plain text – °C"), "plain text – °C");
        assert_eq!(clean("a\x1b[31mred"), "a\\x1B[31mred");
        assert_eq!(clean("a\nb\tc\r"), "a\\nb\\tc\\r");
        assert_eq!(clean("\u{9b}2J"), "\\x9B2J");
        assert_eq!(clean("FK\u{202e}8RC"), "FK\\u{202E}8RC");
        assert_eq!(clean("no\u{200b}space\u{feff}"), "no\\u{200B}space\\u{FEFF}");
    }

    #[test]
    fn sentences_keep_the_spelling_of_names() {
        assert_eq!(sentence("the check is broken"), "The check is broken.");
        assert_eq!(sentence("part_number holds \"A\""), "part_number holds \"A\".");
        assert_eq!(sentence("settings.setpoint is odd"), "settings.setpoint is odd.");
        assert_eq!(sentence("settings: stored 8050"), "settings: stored 8050.");
        assert_eq!(sentence("done."), "Done.");
    }

    #[test]
    fn numbers_and_places_read_alike_everywhere() {
        assert_eq!(address(0x40), "0x0040");
        assert_eq!(range(Span::new(0x40, 0x50), 0x1000), "0x1040..0x1050");
        assert_eq!(place(Span::of(0x1FE, 2), 0), "0x01FE, 2 bytes");
        assert_eq!(number(0xF3, 2), "00F3");
        assert_eq!(hex(&[0x4b, 0x04]), "4B 04");
        assert_eq!(hex_plain(&[0x4b, 0x04]), "4B04");
        assert_eq!(hex_short(&[0; 9], 2), "00 00 … (9 bytes)");
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
    }

    proptest! {
        #[test]
        fn cleaned_text_is_clean_and_cleaning_it_again_changes_nothing(text in "\\PC*|[\\x00-\\u{fffff}]*") {
            let once = clean(&text).into_owned();
            prop_assert!(!once.chars().any(is_hidden));
            prop_assert_eq!(clean(&once).into_owned(), once.clone());
        }
    }
}
