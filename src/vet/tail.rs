//! An end that turned to one value: contact lost in the middle of the read.
//!
//! Most images end in fill, and their contents stop wherever they stop. So an end of one value is odd only when
//! it begins off every page boundary and is not what this image fills its other free places with. Even then an
//! end of FF is only noted: many makers write a structure filled with zeros into an erased chip. What the bytes
//! cannot tell, a layout or a second read can.

use crate::finding::{Code, Finding, Weight};
use crate::span::Span;

/// An end shorter than this says nothing.
const LEAST_BYTES: usize = 16;
/// Bytes of a stretch of fill elsewhere that count.
const LEAST_FILL: usize = 4;
/// Bytes of the other fill that must stand elsewhere.
const LEAST_OTHER_FILL: usize = 12;
/// The smallest page that serial memories have.
const SMALLEST_PAGE: usize = 8;

/// The end of `bytes` that holds one value; `None` when that is all of them or less than a few.
pub(super) fn one_value(bytes: &[u8]) -> Option<(Span, u8)> {
    let &last = bytes.last()?;
    let start = bytes.iter().rposition(|&b| b != last)? + 1;
    let span = Span::new(start, bytes.len());
    (span.len() >= LEAST_BYTES).then_some((span, last))
}

/// The end that was likely lost, by the bytes alone. `page` is the chip's page, when it is known.
pub(super) fn examine(bytes: &[u8], page: Option<usize>) -> Option<Finding> {
    let (end, value) = one_value(bytes)?;
    if end.start % page.unwrap_or(SMALLEST_PAGE).max(SMALLEST_PAGE) == 0 {
        return None;
    }
    let before = &bytes[..end.start];
    let (mut same, mut other) = (0, 0);
    for run in before.chunk_by(|a, b| a == b).filter(|r| r.len() >= LEAST_FILL) {
        match run.first() {
            Some(&b) if b == value => same += run.len(),
            Some(0x00 | 0xFF) => other += run.len(),
            _ => {}
        }
    }
    let odd = match value {
        0x00 | 0xFF => same == 0 && other >= LEAST_OTHER_FILL,
        // Text fields are filled with spaces.
        b' ' => false,
        _ => same == 0,
    };
    let weight = if value == 0xFF { Weight::Note } else { Weight::Doubt };
    let why = "which begins off a page boundary and is not what the other free places of this image hold";
    odd.then(|| finding(end, value, weight, why))
}

/// The finding for a lost end.
pub(super) fn finding(end: Span, value: u8, weight: Weight, why: &str) -> Finding {
    Finding::new(
        weight,
        Code::TailLost,
        format!(
            "from offset 0x{:04X} to the end, {} bytes, everything is {value:02X}, {why}",
            end.start,
            end.len()
        ),
        match weight {
            Weight::Note => {
                "the memory is not used to its end, or contact was lost there and the rest was never read"
            }
            _ => "contact or supply was lost during the read, and the rest was never read",
        },
        "reseat the clip or the chip, read again, and vet both reads with `readproof vet IMAGE READ2`",
    )
    .at(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn image(fill: u8, stop: usize, tail: u8) -> Vec<u8> {
        let mut bytes: Vec<u8> =
            (0..512_usize).map(|i| if i % 64 < 40 { (i * 7 + 3) as u8 | 1 } else { fill }).collect();
        bytes[stop..].fill(tail);
        bytes
    }

    fn lost(bytes: &[u8], page: Option<usize>) -> Option<(Span, Weight)> {
        examine(bytes, page).and_then(|f| Some((f.place?, f.weight)))
    }

    #[test]
    fn an_end_unlike_the_other_fill_and_off_a_page_is_lost() {
        assert_eq!(lost(&image(0x00, 333, 0xFF), None), Some((Span::new(333, 512), Weight::Note)));
        assert_eq!(lost(&image(0xFF, 333, 0x6A), None), Some((Span::new(333, 512), Weight::Doubt)));
        assert_eq!(lost(&image(0xFF, 336, 0xFF), None), None, "on a page boundary");
        assert_eq!(lost(&image(0xFF, 333, 0xFF), None), None, "the usual fill");
        assert_eq!(lost(&image(0x00, 510, 0xFF), None), None, "too short");
        assert_eq!(lost(&image(0x00, 333, b' '), None), None, "spaces");
    }

    #[test]
    fn a_known_page_counts_instead_of_the_smallest() {
        assert_eq!(lost(&image(0x00, 336, 0xFF), Some(32)), Some((Span::new(336, 512), Weight::Note)));
        assert_eq!(lost(&image(0x00, 352, 0xFF), Some(32)), None);
    }
}
