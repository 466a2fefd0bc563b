//! What a marking on a chip can mean.
//!
//! On small packages makers leave out leading or trailing digits of the name, and put letters of their own around
//! and into it (common practice, no source). So a marking is taken apart into letters and digits, and every chip
//! whose name holds it is a candidate; the fewer characters had to be left out, the better.

use super::{CHIPS, Chip, Family};
use crate::notation::nearest;

/// A chip that a marking can stand for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    /// The chip.
    pub chip: &'static Chip,
    /// The generic name that fits: its first or its other one.
    pub name: &'static str,
    /// Characters of the name that the marking leaves out; 0 for the whole name.
    pub left_out: usize,
    /// Why it is a candidate: one sentence without its full stop.
    pub why: String,
}

/// Shorter markings fit nearly every chip.
const SHORTEST: usize = 2;

/// The chips that `marking` can stand for, the likeliest first.
#[must_use]
pub fn explain(marking: &str) -> Vec<Candidate> {
    let Some(read) = Reading::of(marking) else { return Vec::new() };
    let mut candidates: Vec<(Candidate, usize)> = CHIPS
        .iter()
        .flat_map(|chip| [Some(chip.name), chip.also].into_iter().flatten().map(move |name| (chip, name)))
        .filter_map(|(chip, name)| read.as_part_of(chip, name))
        .collect();
    // NOR flash rarely comes in packages so small that its name is shortened; the size is more often whole than the
    // series; a Microwire chip is usually wired x16.
    candidates.sort_by_key(|(candidate, trailing)| {
        let Chip { family, word_bits, .. } = *candidate.chip;
        let shortened_nor = family == Family::SpiNor && candidate.left_out > 0;
        (candidate.left_out, shortened_nor, *trailing, family == Family::Microwire && word_bits == 8)
    });
    candidates.into_iter().map(|(candidate, _)| candidate).collect()
}

/// The names of chips that a name which is none was perhaps meant as: with two digits swapped (24C46 for 24C64), else
/// the one that is nearly written so.
#[must_use]
pub fn meant(name: &str) -> Vec<&'static str> {
    let names = || CHIPS.iter().map(|chip| chip.name);
    let digits = |name: &str| -> Vec<char> {
        let mut digits: Vec<char> = name.chars().filter(char::is_ascii_digit).collect();
        digits.sort_unstable();
        digits
    };
    let typed = digits(name);
    let series = name.trim_start_matches(|c: char| c.is_ascii_alphabetic()).get(..2).unwrap_or_default();
    let swapped: Vec<_> = names().filter(|n| n.starts_with(series) && digits(n) == typed).collect();
    if !typed.is_empty() && !swapped.is_empty() {
        swapped
    } else {
        nearest(name, names()).into_iter().collect()
    }
}

/// A marking taken apart: `AT24LC64N` is the digits 24, the letters LC, the digits 64.
struct Reading {
    head: String,
    letters: String,
    tail: String,
    /// Word bits that were named: `x8`, `x16`.
    word_bits: Option<u8>,
}

impl Reading {
    fn of(marking: &str) -> Option<Self> {
        let mut text: String =
            marking.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_uppercase()).collect();
        let mut word_bits = None;
        for (ending, bits) in [("X16", 16), ("X8", 8)] {
            // The digits before it tell 93C46X16, words of 16 bits, from 25X16, a NOR flash.
            let sizes = ["06", "46", "56", "66", "76", "86"];
            if let Some(before) = text.strip_suffix(ending).filter(|b| sizes.iter().any(|s| b.ends_with(s))) {
                word_bits = Some(bits);
                text.truncate(before.len());
                break;
            }
        }
        let text = text.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        // Trailing letters say package and temperature; M01 and M02 are capacities and end in digits.
        let text = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        let head_end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
        let (head, rest) = text.split_at(head_end);
        let tail_start = rest.rfind(|c: char| !c.is_ascii_digit()).map_or(0, |at| at + 1);
        let (letters, tail) = rest.split_at(tail_start);
        let plain = letters.chars().all(|c| c.is_ascii_alphabetic());
        let enough = head.len() + tail.len() >= SHORTEST;
        (plain && enough).then(|| Reading {
            head: head.to_owned(),
            letters: letters.to_owned(),
            tail: tail.to_owned(),
            word_bits,
        })
    }

    /// The candidate that `name` of `chip` is, if the marking can be a part of it, and how many trailing characters
    /// are left out.
    fn as_part_of(&self, chip: &'static Chip, name: &'static str) -> Option<(Candidate, usize)> {
        if self.word_bits.is_some_and(|bits| bits != chip.word_bits || chip.family != Family::Microwire) {
            return None;
        }
        let (series, size) = split_name(chip, name)?;
        let sizes = [Some(size), other_size(chip, size)].into_iter().flatten();
        let best = sizes.filter_map(|size| self.against(chip, series, size)).min_by_key(|t| t.left_out);
        let Told { left_out, trailing, why } = best?;
        Some((Candidate { chip, name, left_out, why }, trailing))
    }

    /// How many characters of `series` and `size` the marking leaves out, and which; `None` when it is no part.
    fn against(&self, chip: &Chip, series: &str, size: &str) -> Option<Told> {
        let has_letter = !self.letters.is_empty();
        let mega = self.letters.ends_with('M') && size.starts_with('M');
        if has_letter {
            // The letters stand between series and size, so each side must fit on its own.
            let letters = self.letters.trim_end_matches('M');
            let counts_mega = self.letters.ends_with('M') && chip.family != Family::SpiNor;
            if size.starts_with('M') != counts_mega || !suits(letters, chip.family, mega) {
                return None;
            }
            let size = if mega { size.trim_start_matches('M') } else { size };
            let first = series.strip_suffix(self.head.as_str())?;
            let last = size.strip_prefix(self.tail.as_str())?;
            return Some(told(first, last, false));
        }
        let name = format!("{series}{size}");
        // Two digits of the size alone, or of the series alone, say next to nothing.
        let says_enough =
            |at: usize| self.head.len() > 2 || (at < series.len() && at + self.head.len() > series.len());
        let at = name.match_indices(self.head.as_str()).map(|(at, _)| at).find(|&at| says_enough(at))?;
        let (first, rest) = name.split_at(at);
        let last = rest.get(self.head.len()..)?;
        Some(told(first, last, chip.family != Family::SpiEeprom))
    }
}

/// The digits of a generic name before and after its letter: `24`, `64`; `25`, `640`; `93`, `46`; `24`, `M01`.
fn split_name(chip: &Chip, name: &'static str) -> Option<(&'static str, &'static str)> {
    let (series, size) = name.split_at_checked(2)?;
    let size = match chip.family {
        Family::TwoWire => size.strip_prefix('C')?,
        Family::Microwire => size.strip_prefix('C')?.split('x').next()?,
        Family::SpiNor => size.strip_prefix('x')?,
        Family::SpiEeprom => size,
    };
    Some((series, size))
}

/// Another way to write a size: in kilobits where the name counts megabits.
fn other_size(chip: &Chip, size: &str) -> Option<&'static str> {
    match (chip.family, size) {
        (Family::TwoWire | Family::SpiEeprom, "M01") => Some("1024"),
        (Family::TwoWire | Family::SpiEeprom, "M02") => Some("2048"),
        _ => None,
    }
}

/// Whether these letters between series and size are used for this family (common practice, no source): EEPROMs
/// have C, LC, AA, FC and the like, NOR flash has Q, L, X, P, F and the like; an M alone belongs to the size.
fn suits(letters: &str, family: Family, mega: bool) -> bool {
    let eeprom = letters.ends_with('C') || letters == "AA" || (letters.is_empty() && mega);
    match family {
        Family::SpiNor => !eeprom,
        Family::SpiEeprom => eeprom,
        Family::TwoWire | Family::Microwire => true,
    }
}

/// The characters that a marking leaves out.
struct Told {
    left_out: usize,
    trailing: usize,
    why: String,
}

fn told(first: &str, last: &str, letter: bool) -> Told {
    let part = |side: &str, digits: &str| match digits.len() {
        0 => None,
        _ => Some(format!("the {side} {digits}")),
    };
    let parts: Vec<String> = [
        part("leading", first),
        letter.then(|| "the letter between series and size".to_owned()),
        part("trailing", last),
    ]
    .into_iter()
    .flatten()
    .collect();
    let left_out = first.len() + last.len() + usize::from(letter && !(first.is_empty() && last.is_empty()));
    let why = match parts.as_slice() {
        [] => "the whole name".to_owned(),
        [one] => format!("{one} is left out"),
        [head @ .., last] => format!("{} and {last} are left out", head.join(", ")),
    };
    Told { left_out, trailing: last.len(), why }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn names(marking: &str) -> Vec<(&'static str, usize)> {
        explain(marking).iter().map(|c| (c.name, c.left_out)).collect()
    }

    #[test]
    fn a_shortened_marking_has_candidates_with_reasons() {
        let candidates = explain("564");
        let told: Vec<(&str, &str)> = candidates.iter().map(|c| (c.name, c.why.as_str())).collect();
        assert_eq!(
            told,
            [
                ("25640", "the leading 2 and the trailing 0 are left out"),
                ("95640", "the leading 9 and the trailing 0 are left out"),
                ("25x64", "the leading 2 and the letter between series and size are left out"),
            ]
        );
    }

    #[test]
    fn markings_lead_to_the_chips_that_they_can_stand_for() {
        assert_eq!(names("95640"), [("95640", 0)]);
        assert_eq!(names("5640"), [("25640", 1), ("95640", 1)]);
        assert_eq!(names("4C64"), [("24C64", 1)]);
        assert_eq!(names("3C46"), [("93C46x16", 1), ("93C46x8", 1)]);
        assert_eq!(names("2464"), [("24C64", 0)]);
        assert_eq!(names("5M01"), [("25M01", 1), ("95M01", 1)]);
        assert_eq!(names("256").first(), Some(&("25256", 2)));
        assert_eq!(names("5Q64"), [("25x64", 1)]);
    }

    #[test]
    fn nothing_is_made_of_markings_that_say_too_little() {
        for marking in ["", "6", "AB", "64", "24", "0", "!!", "Ä64"] {
            assert_eq!(names(marking), [], "{marking}");
        }
    }

    #[test]
    fn a_name_that_is_none_is_taken_for_one_that_is_nearly_written_so() {
        assert!(explain("24C46").is_empty());
        assert_eq!(meant("24C46"), ["24C64"], "two digits swapped");
        assert_eq!(meant("AT24C46"), ["24C64"]);
        assert_eq!(meant("24D64"), ["24C64"]);
        assert_eq!(meant("resistor"), Vec::<&str>::new());
    }

    proptest! {
        #[test]
        fn any_marking_is_taken_apart_without_a_panic_and_ranked(marking in "\\PC{0,12}|[0-9A-Z]{0,8}") {
            let left: Vec<usize> = explain(&marking).iter().map(|c| c.left_out).collect();
            prop_assert!(left.is_sorted());
        }

        #[test]
        fn every_name_with_digits_left_out_at_its_ends_still_leads_to_its_chip(
            chip in prop::sample::select(CHIPS), first in 0usize..2, last in 0usize..2,
        ) {
            let whole = chip.name.split("x8").next().unwrap().split("x16").next().unwrap();
            let whole = if chip.family == Family::SpiNor { chip.name } else { whole };
            let short = &whole[first..whole.len() - last];
            prop_assert!(explain(short).iter().any(|c| *c.chip == chip), "{} from {}", chip.name, short);
        }
    }
}
