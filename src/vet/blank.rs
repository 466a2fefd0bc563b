//! Is there anything in the image at all?

use crate::finding::{Code, Finding, Weight};
use crate::image::Image;

/// A finding when there is no byte, when every mapped byte holds the same value, or the same few bytes over and over.
pub(super) fn check(image: &Image) -> Option<Finding> {
    if image.segments().next().is_none() {
        return Some(Finding::new(
            Weight::Fault,
            Code::Blank,
            "the read holds no byte",
            "the file is empty",
            "read the chip again, and look at the size of the file before it is used",
        ));
    }
    if let Some(first) = image.only_value().filter(|_| image.len() >= 2) {
        let bytes: usize = image.segments().map(|(span, _)| span.len()).sum();
        let seen = if bytes == 1 {
            format!("its only byte is {first:02X}")
        } else {
            format!("all {bytes} bytes are {first:02X}")
        };
        let (means, advice) = match first {
            0xFF => (
                "an erased chip, or no contact at all: a line that nobody drives reads as ones",
                "check seat, orientation, supply and ground, and read again; a chip that holds data must not read FF throughout",
            ),
            0x00 => (
                "the data line is held low or has no pull-up, or the chip has no supply",
                "check the data line, its pull-up and the supply, and read again",
            ),
            _ => (
                "the chip was filled on purpose, or the reader repeats one byte without reading",
                "check contact and the selected device, and read again",
            ),
        };
        return Some(Finding::new(Weight::Fault, Code::Blank, seen, means, advice));
    }
    pattern(image)
}

/// A read of fewer bytes can repeat by chance.
const PATTERN_BYTES: usize = 64;

fn pattern(image: &Image) -> Option<Finding> {
    let bytes = image.bytes();
    let period = [2, 4, 8]
        .into_iter()
        .find(|&p| bytes.len() >= PATTERN_BYTES && bytes[p..] == bytes[..bytes.len() - p])?;
    let shown: Vec<String> = bytes.iter().take(period).map(|b| format!("{b:02X}")).collect();
    Some(Finding::new(
        Weight::Doubt,
        Code::Repeats,
        format!("the same {period} bytes, {}, stand in all the image", shown.join(" ")),
        "a chip filled by a test, or a reader that repeats what is on its lines",
        "check contact and the selected device, and read again",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::span::Span;

    fn code(bytes: Vec<u8>) -> Option<Code> {
        check(&Image::raw(bytes)).map(|f| f.code)
    }

    #[test]
    fn one_value_throughout_is_blank_whatever_the_value() {
        for value in [0xFF, 0x00, 0xA5] {
            assert_eq!(code(vec![value; 256]), Some(Code::Blank));
        }
        let mut one_off = vec![0xFF; 256];
        one_off[200] = 0xFE;
        assert_eq!(code(one_off), None);
        assert_eq!(code(Vec::new()), Some(Code::Blank));
    }

    #[test]
    fn gaps_do_not_hide_blankness() {
        let image = Image::with_gaps(0, vec![0xFF, 0xFF, 0, 0], vec![Span::of(0, 2)]);
        let found = check(&image).unwrap();
        assert_eq!((found.code, found.seen.as_str()), (Code::Blank, "all 2 bytes are 00"));
    }

    #[test]
    fn a_test_pattern_is_a_doubt() {
        assert_eq!(code([0x55, 0xAA].repeat(64)), Some(Code::Repeats));
        assert_eq!(code([0x55, 0xAA].repeat(8)), None);
    }
}
