//! Words for sentences: addresses, counts, lists, bytes. The one place that says how they are written.

use std::fmt::Write as _;

/// `0x0040`: at least four digits.
#[must_use]
pub fn address(address: u64) -> String {
    format!("0x{address:04X}")
}

/// `1 byte`, `2 bytes`; the noun takes a plain s.
#[must_use]
pub fn count(n: usize, noun: &str) -> String {
    if n == 1 { format!("1 {noun}") } else { format!("{n} {noun}s") }
}

/// `1 entry`, `2 entries`.
#[must_use]
pub fn count_of(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", does(n, one, many))
}

/// The word that goes with so many: `lies` with one, `lie` with others.
#[must_use]
pub fn does<'w>(n: usize, one: &'w str, many: &'w str) -> &'w str {
    if n == 1 { one } else { many }
}

/// `a`, `a and b`, `a, b and c`.
#[must_use]
pub fn list<S: AsRef<str>>(items: &[S]) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [head @ .., last] => {
            let head: Vec<&str> = head.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", head.join(", "), last.as_ref())
        }
    }
}

/// As [`list`], but of more than six only six are named: `a, b, c, d, e, f and 2 more`.
#[must_use]
pub fn short_list<S: AsRef<str>>(items: &[S]) -> String {
    const MOST: usize = 6;
    match items.get(..MOST).filter(|head| head.len() < items.len()) {
        Some(head) => {
            let named: Vec<&str> = head.iter().map(AsRef::as_ref).collect();
            format!("{} and {} more", named.join(", "), items.len() - MOST)
        }
        None => list(items),
    }
}

/// `4B 44 31`.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    let pairs: Vec<String> = bytes.iter().map(|b| format!("{b:02X}")).collect();
    pairs.join(" ")
}

/// `4B4431`, for programs.
#[must_use]
pub fn hex_plain(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, b| {
        let _ = write!(text, "{b:02X}");
        text
    })
}

/// `4B 44 31 … (16 bytes)`: at most `most` bytes are written out.
#[must_use]
pub fn hex_short(bytes: &[u8], most: usize) -> String {
    match bytes.get(..most) {
        Some(head) if head.len() < bytes.len() => {
            format!("{} … ({})", hex(head), count(bytes.len(), "byte"))
        }
        _ => hex(bytes),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_and_byte_strings_are_cut_with_what_is_left() {
        assert_eq!(short_list(&["a", "b", "c"]), "a, b and c");
        assert_eq!(short_list(&["a", "b", "c", "d", "e", "f", "g", "h"]), "a, b, c, d, e, f and 2 more");
        assert_eq!(hex_short(&[1, 0xAB], 8), "01 AB");
        assert_eq!(hex_short(&[0; 9], 8), "00 00 00 00 00 00 00 00 … (9 bytes)");
        assert_eq!((count(1, "byte").as_str(), count(2, "byte").as_str()), ("1 byte", "2 bytes"));
        assert_eq!(
            (count_of(1, "entry", "entries"), count_of(0, "entry", "entries")),
            ("1 entry".into(), "0 entries".into())
        );
        assert_eq!((does(1, "lies", "lie"), does(0, "lies", "lie")), ("lies", "lie"));
        assert_eq!(address(0x40), "0x0040");
    }
}
