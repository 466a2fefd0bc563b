//! Does the image have the size of the chip?

use super::text;
use crate::chip::{self, Chip};
use crate::finding::{Code, Finding, Weight};
use crate::wording::count;

/// A finding unless an image of `bytes` bytes is the whole chip.
pub(super) fn check(bytes: usize, chip: &Chip) -> Option<Finding> {
    if bytes == chip.bytes {
        return None;
    }
    let seen = format!("the image has {}, but a {} holds {}", count(bytes, "byte"), chip.name, chip.bytes);
    let (means, advice) = if bytes > chip.bytes {
        (
            "a larger device was selected for the read, or the file holds more than this chip",
            "select the device that is printed on the chip, which `readproof chips MARKING` explains, and read it again",
        )
    } else {
        (
            "a smaller device was selected, the read was cut short, or this is a part of the chip only",
            "select the device that is printed on the chip, which `readproof chips MARKING` explains, and read all of it",
        )
    };
    Some(Finding::new(Weight::Fault, Code::WrongSize, seen, means, advice))
}

/// A finding when an image, which no layout fits and of which no chip was named, has the size of no chip either, and
/// is smaller than every chip or holds text alone: nothing says then that it is a read at all. Other sizes are common
/// among parts of reads.
pub(super) fn of_no_chip(bytes: &[u8]) -> Option<Finding> {
    let smallest = chip::CHIPS.iter().map(|chip| chip.bytes).min().unwrap_or(0);
    let is_no_read = chip::of_size(bytes.len()).next().is_none()
        && (bytes.len() < smallest || text::plain(bytes).is_some());
    is_no_read.then(|| {
        Finding::new(
            Weight::Doubt,
            Code::WrongSize,
            format!("no chip in the table holds {}, and no layout fits", count(bytes.len(), "byte")),
            "a file of another kind, a part of a read, or a memory that nothing here knows",
            "look whether this is the right file; if it is, name the chip with `readproof vet IMAGE --chip MARKING`",
        )
    })
}
