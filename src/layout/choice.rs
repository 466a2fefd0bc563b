//! What is to be said about the layout that was taken for an image.

use super::Fit;
use crate::finding::{Code, Finding, Weight, argument};
use crate::wording::{count, list};

/// The indexes of those of `fits` that are as good as the first.
pub fn as_good(fits: &[Fit]) -> impl Iterator<Item = usize> {
    let best = fits.first();
    let is_as_good = move |fit: &&Fit| best.is_some_and(|b| (b.bits, b.sized) == (fit.bits, fit.sized));
    fits.iter().skip(1).take_while(is_as_good).map(|fit| fit.index)
}

/// The layout called `title` was named, and its marks are not in the image.
#[must_use]
pub fn unfit(title: &str) -> Finding {
    Finding::new(
        Weight::Doubt,
        Code::LayoutUnfit,
        format!("the marks of the layout {title:?} are not in the image"),
        "the image is of another kind of memory, or the read is poor; the fields then mean nothing",
        "look whether another layout is meant, which `readproof layouts` lists, and read the chip again",
    )
}

/// The image has `bytes` bytes, which the layout called `title` does not allow. What is written from such an image
/// lies elsewhere in the chip, or is only a part of it: that is no matter of taste.
#[must_use]
pub fn wrong_size(bytes: usize, title: &str) -> Finding {
    Finding::new(
        Weight::Fault,
        Code::WrongSize,
        format!("the image has {}, a size that the layout {title:?} does not allow", count(bytes, "byte")),
        "another device was selected when the chip was read, or the read was cut short",
        "read the marking of the chip, which `readproof chips MARKING` explains, select that device, and read again",
    )
}

/// The layouts of these names fit equally well, and the first is used.
#[must_use]
pub fn tie(names: &[&str]) -> Finding {
    let options: Vec<String> = names.iter().map(|name| format!("--layout {}", argument(name))).collect();
    Finding::new(
        Weight::Note,
        Code::LayoutTie,
        format!(
            "the marks of {} fit the image equally well; {} is used",
            list(names),
            names.first().unwrap_or(&"")
        ),
        "the marks alone do not tell which layout is the right one",
        format!("name the right one: {}", options.join(" or ")),
    )
}

/// No layout is known for the image.
#[must_use]
pub fn unknown(weight: Weight) -> Finding {
    Finding::new(
        weight,
        Code::NoLayout,
        "the marks of no layout at hand fit the image",
        "this kind of memory is not known yet, or the read is too poor for its marks",
        "name a layout with --layout, or make a first one with `readproof survey IMAGE --draft OUT.ron`",
    )
}
