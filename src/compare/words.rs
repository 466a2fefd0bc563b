//! Words for findings: addresses, counts and lists the way the reports write them.

/// `0x0040`: at least four digits.
pub(super) fn address(address: u64) -> String {
    format!("0x{address:04X}")
}

/// `4B 04`; at most eight bytes are written out.
pub(super) fn hex(bytes: &[u8]) -> String {
    let mut text: Vec<String> = bytes.iter().take(8).map(|b| format!("{b:02X}")).collect();
    if bytes.len() > 8 {
        text.push(format!("… ({} bytes)", bytes.len()));
    }
    text.join(" ")
}

/// `1 byte`, `2 bytes`; the noun takes a plain s.
pub(super) fn count(n: usize, noun: &str) -> String {
    if n == 1 { format!("1 {noun}") } else { format!("{n} {noun}s") }
}

/// `a`, `a and b`, `a, b and c`; at most six are named.
pub(super) fn list<S: AsRef<str>>(items: &[S]) -> String {
    const MOST: usize = 6;
    let named: Vec<&str> = items.iter().take(MOST).map(AsRef::as_ref).collect();
    match (items.len() > MOST, named.as_slice()) {
        (true, named) => format!("{} and {} more", named.join(", "), items.len() - MOST),
        (false, []) => String::new(),
        (false, [one]) => (*one).to_owned(),
        (false, [head @ .., last]) => format!("{} and {last}", head.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_and_byte_strings_are_cut_with_what_is_left() {
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
        assert_eq!(list(&["a", "b", "c", "d", "e", "f", "g", "h"]), "a, b, c, d, e, f and 2 more");
        assert_eq!(hex(&[1, 0xAB]), "01 AB");
        assert_eq!(hex(&[0; 9]), "00 00 00 00 00 00 00 00 … (9 bytes)");
        assert_eq!((count(1, "byte").as_str(), count(2, "byte").as_str()), ("1 byte", "2 bytes"));
        assert_eq!(address(0x40), "0x0040");
    }
}
