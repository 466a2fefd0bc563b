//! Does the image have the size of the chip?

use crate::chip::{self, Chip};
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

/// A finding when an image of `bytes` bytes, which no layout fits and of which no chip was named, has the size of no
/// chip either: nothing says then that it is a read at all.
#[must_use]
pub fn of_no_chip(bytes: usize) -> Option<Finding> {
    chip::of_size(bytes).next().is_none().then(|| {
        Finding::new(
            Weight::Doubt,
            Code::WrongSize,
            format!("no chip in the table holds {bytes} bytes, and no layout fits"),
            "a part of a read, a file of another kind, or a memory that nothing here knows",
            "look whether this is the right file, and name the chip with --chip or the layout with --layout",
        )
    })
}
