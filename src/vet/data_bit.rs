//! A data bit that reads the same in every byte.
//!
//! That alone proves nothing: the top bit of plain ASCII is always 0, small numbers have no high bits, a blank
//! image has no bits at all. So a constant bit counts only when the other seven vary as they would in an image
//! where this one should vary too, or when the fill gives it away: FF that became F7.

use crate::finding::{Code, Finding, Weight};

/// A bit that is the same in every byte.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StuckBit {
    /// Which bit; 0 is the least significant.
    pub bit: u8,
    /// The level it is stuck at.
    pub high: bool,
    /// Whether the evidence leaves no room for another explanation.
    pub certain: bool,
}

/// Different values that must occur before a constant bit is odd.
const LEAST_VALUES: usize = 16;
/// From so many values on, nothing but a stuck bit explains it.
const MANY_VALUES: usize = 32;
/// Part of the image that the damaged fill must make up: one in so many bytes.
const FILL_PART: usize = 8;

/// The data bits of `bytes` that are stuck by the evidence.
pub(super) fn examine(bytes: &[u8]) -> Vec<StuckBit> {
    let mut counts = [0_usize; 256];
    for &b in bytes {
        counts[usize::from(b)] += 1;
    }
    let values: Vec<u8> = (0..=255).filter(|&b| counts[usize::from(b)] > 0).collect();
    let and = values.iter().fold(0xFF, |all, v| all & v);
    let or = values.iter().fold(0x00, |all, v| all | v);
    (0..8_u8)
        .filter_map(|bit| {
            let mask = 1 << bit;
            let high = and & mask != 0;
            (high || or & mask == 0).then(|| judge(bit, high, &values, &counts, bytes.len())).flatten()
        })
        .collect()
}

fn judge(bit: u8, high: bool, values: &[u8], counts: &[usize; 256], len: usize) -> Option<StuckBit> {
    let mask = 1_u8 << bit;
    // The fill gives it away: FF read as F7, 00 read as 08. A fill of spaces is no such thing.
    let damaged_fill = if high { mask } else { !mask };
    let filled = counts[usize::from(damaged_fill)];
    let plain_text = values.iter().all(|&v| is_text(v));
    if values.len() >= 3 && filled >= 16 && filled * FILL_PART >= len && !plain_text {
        return Some(StuckBit { bit, high, certain: true });
    }
    if values.len() < LEAST_VALUES {
        return None;
    }
    let odd = if plain_text {
        // Letters and digits vary in their low five bits.
        bit <= 4
    } else if high {
        true
    } else if bit == 7 {
        // Without text, and with all of the low codes in use, high values would be in use too.
        let codes = values.iter().filter(|&&v| !is_text(v)).count();
        codes >= 12 && values.len() >= 40
    } else {
        // Small numbers have no high bits: one of the bits above must be in use, in many values; and text has
        // none but letters and digits above bit 4.
        let above = values.iter().filter(|&&v| v >> bit != 0).count();
        let other = values.iter().filter(|&&v| !is_text(v)).count();
        let in_use = above >= LEAST_VALUES / 2 || (above >= 3 && values.len() >= MANY_VALUES);
        in_use && (bit <= 4 || other >= 4)
    };
    odd.then_some(StuckBit { bit, high, certain: values.len() >= MANY_VALUES })
}

/// Bytes of plain text: printable ASCII, line ends, and the zero that ends it.
fn is_text(byte: u8) -> bool {
    matches!(byte, 0x20..=0x7E | 0x00 | 0x09 | 0x0A | 0x0D)
}

/// The finding for a stuck bit.
pub(super) fn finding(stuck: StuckBit) -> Finding {
    let level = u8::from(stuck.high);
    Finding::new(
        if stuck.certain { Weight::Fault } else { Weight::Doubt },
        Code::DataBit,
        format!("bit {} is {level} in every byte, while the other bits vary", stuck.bit),
        format!(
            "the line or the sampling of bit {} is stuck at {level}; what it held is lost from this read",
            stuck.bit
        ),
        "check the contacts of the data lines, lower the clock, and read again",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stuck(bytes: &[u8]) -> Vec<(u8, bool)> {
        examine(bytes).iter().map(|s| (s.bit, s.high)).collect()
    }

    /// Bytes of all kinds with fill after them.
    fn content(fill: u8) -> Vec<u8> {
        let mut bytes: Vec<u8> = (0..200_usize).map(|i| ((i * 167) ^ (i >> 3)) as u8).collect();
        bytes.resize(1024, fill);
        bytes
    }

    #[test]
    fn each_bit_at_either_level_is_named() {
        for fill in [0x00, 0xFF] {
            for bit in 0..8_u8 {
                let low: Vec<u8> = content(fill).iter().map(|b| b & !(1 << bit)).collect();
                assert_eq!(stuck(&low), [(bit, false)]);
                let high: Vec<u8> = content(fill).iter().map(|b| b | 1 << bit).collect();
                assert_eq!(stuck(&high), [(bit, true)]);
            }
        }
    }

    #[test]
    fn text_small_numbers_sparse_and_blank_images_raise_nothing() {
        let text =
            b"Frostkeel cold-room controller, settings memory. Part FK-CR8-2047B, serial 2207140312.\r\n\0";
        assert_eq!(stuck(text), []);
        assert_eq!(stuck(&[&text[..], &[0; 400]].concat()), []);
        assert_eq!(stuck(b"lower case and digits 0123456789 only, 7 bits, no line end"), []);
        assert_eq!(stuck(&(0..=31).collect::<Vec<u8>>()), []);
        assert_eq!(stuck(&(0..=9).cycle().take(300).collect::<Vec<u8>>()), []);
        let mut sparse = vec![0xFF; 4096];
        sparse[7..12].copy_from_slice(&[0x83, 0xA1, 0xFF, 0x90, 0xC3]);
        assert_eq!(stuck(&sparse), []);
        assert_eq!(stuck(&[0xFF; 64]), []);
        assert_eq!(stuck(&[b' '; 64]), []);
        assert_eq!(stuck(&[]), []);
    }

    #[test]
    fn damaged_fill_gives_it_away_even_when_little_else_is_there() {
        let mut sparse = vec![0xFF; 256];
        sparse[..6].copy_from_slice(&[0x11, 0x82, 0x35, 0x40, 0x03, 0x91]);
        let read: Vec<u8> = sparse.iter().map(|b| b & !0x08).collect();
        assert_eq!(stuck(&read), [(3, false)]);
    }
}
