//! Does the image have the size of the chip?

use crate::chip::Chip;
use crate::finding::{Code, Finding, Weight};

/// A finding unless an image of `bytes` bytes is the whole chip.
#[must_use]
pub fn check(bytes: usize, chip: &Chip) -> Option<Finding> {
    if bytes == chip.bytes {
        return None;
    }
    let seen = format!("the image has {bytes} bytes, but a {} holds {}", chip.name, chip.bytes);
    let (means, advice) = if bytes > chip.bytes {
        (
            "a larger device was selected for the read, or the file holds more than this chip",
            "select the device that is printed on the chip and read it again",
        )
    } else {
        (
            "a smaller device was selected, the read was cut short, or this is a part of the chip only",
            "select the device that is printed on the chip and read all of it",
        )
    };
    Some(Finding::new(Weight::Fault, Code::WrongSize, seen, means, advice))
}
