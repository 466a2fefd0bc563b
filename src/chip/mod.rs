//! Families of serial memories: capacities, pages, and what a marking on a small package can mean.
//!
//! The values are those that data sheets of these families typically state; [`CHIPS`] and [`FAMILIES`] name them.
//! Families are made by many makers, and the data sheet of the very part counts.

mod marking;
mod table;

use std::fmt;

pub use marking::{Candidate, explain, meant};
pub use table::{CHIPS, FAMILIES};

use crate::wording::count;

/// What chips of one family have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Family {
    /// 24Cxx: EEPROM on the two-wire bus (I2C).
    TwoWire,
    /// 25xxx and 95xxx: EEPROM on SPI.
    SpiEeprom,
    /// 93Cxx: EEPROM on the three-wire bus (Microwire).
    Microwire,
    /// 25-series NOR flash on SPI.
    SpiNor,
}

/// A family in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FamilyFacts {
    /// Which one.
    pub family: Family,
    /// The word in JSON.
    pub word: &'static str,
    /// The bus and the kind of memory, in two or three words.
    pub short: &'static str,
    /// The name in sentences.
    pub name: &'static str,
    /// Supply ranges of the classes in which the family is sold, in millivolts.
    pub supply: &'static [(u16, u16)],
    /// Writes, or erases of one sector, that the family typically bears.
    pub endurance: u32,
    /// What to heed at the bench.
    pub remark: &'static str,
}

/// How a chip is told where to read and write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Addressing {
    /// Address bytes after the device select byte, and address bits inside that byte.
    DeviceSelect {
        /// Address bytes.
        bytes: u8,
        /// Highest address bits, which stand in the device select byte.
        bits: u8,
    },
    /// Address bytes after the instruction, and address bits inside the instruction.
    Instruction {
        /// Address bytes.
        bytes: u8,
        /// Highest address bits, which stand in the instruction.
        bits: u8,
    },
    /// Address bits after the start bit and the operation code, some of which may be ignored.
    Bits(u8),
}

impl fmt::Display for Addressing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (bytes, bits, place) = match *self {
            Addressing::Bits(bits) => return write!(f, "{bits} bits"),
            Addressing::DeviceSelect { bytes, bits } => (bytes, bits, "device select"),
            Addressing::Instruction { bytes, bits } => (bytes, bits, "instruction"),
        };
        f.write_str(&count(bytes.into(), "byte"))?;
        match bits {
            0 => Ok(()),
            _ => write!(f, " + {} in {place}", count(bits.into(), "bit")),
        }
    }
}

/// One kind of chip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Chip {
    /// Its generic name: `24C64`, `93C46x16`, `25x16` (`x` stands for a maker's letter).
    pub name: &'static str,
    /// Another generic name of the same chip: `95640` for `25640`.
    pub also: Option<&'static str>,
    /// Its family.
    pub family: Family,
    /// Capacity in bytes.
    pub bytes: usize,
    /// Bytes that one write command can fill; 1 or 2 where it writes one word.
    pub page: usize,
    /// Bits that are read and written together: 8, or 16 for a Microwire chip whose ORG pin says so.
    pub word_bits: u8,
    /// How it is told where.
    pub addressing: Addressing,
}

impl Chip {
    /// What an erased byte reads as: FF in all of these families.
    pub const ERASED: u8 = 0xFF;

    /// What its family has in common.
    #[must_use]
    pub fn facts(&self) -> &'static FamilyFacts {
        // The table has every family; a test says so.
        FAMILIES.iter().find(|f| f.family == self.family).unwrap_or(&FAMILIES[0])
    }
}

/// The chip of that name. Letters of makers are ignored, as are capitals, spaces and hyphens: `24LC64`, `at24c64`
/// and `24C64` are one. A Microwire chip without `x8` or `x16` is taken as x16, the usual wiring (common practice,
/// no source).
#[must_use]
pub fn by_name(name: &str) -> Option<&'static Chip> {
    explain(name).into_iter().find(|c| c.left_out == 0).map(|c| c.chip)
}

/// The chips that hold exactly `bytes` bytes.
pub fn of_size(bytes: usize) -> impl Iterator<Item = &'static Chip> {
    CHIPS.iter().filter(move |c| c.bytes == bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_family_has_facts_and_chips_and_every_name_is_used_once() {
        let mut names: Vec<&str> = CHIPS.iter().flat_map(|c| [Some(c.name), c.also]).flatten().collect();
        let all = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), all);
        for chip in CHIPS {
            assert_eq!(chip.facts().family, chip.family, "{}", chip.name);
        }
        for facts in FAMILIES {
            assert_eq!(FAMILIES.iter().filter(|f| f.family == facts.family).count(), 1);
            assert!(CHIPS.iter().any(|c| c.family == facts.family));
        }
    }

    #[test]
    fn every_name_of_the_table_leads_back_to_its_chip() {
        for chip in CHIPS {
            assert_eq!(by_name(chip.name), Some(chip), "{}", chip.name);
            if let Some(also) = chip.also {
                assert_eq!(by_name(also), Some(chip), "{also}");
            }
        }
    }

    #[test]
    fn capacities_are_powers_of_two_that_the_addresses_reach() {
        for chip in CHIPS {
            let words = chip.bytes * 8 / usize::from(chip.word_bits);
            let bits = match chip.addressing {
                Addressing::DeviceSelect { bytes, bits } | Addressing::Instruction { bytes, bits } => {
                    bytes * 8 + bits
                }
                Addressing::Bits(bits) => bits,
            };
            assert!(chip.bytes.is_power_of_two() && chip.page.is_power_of_two(), "{}", chip.name);
            assert!(1usize << bits >= words, "{}: {bits} address bits for {words} words", chip.name);
            assert_eq!(chip.bytes % chip.page, 0, "{}", chip.name);
        }
    }

    #[test]
    fn the_number_in_a_name_is_its_capacity_in_kilobits() {
        // The rule of the trade for 24Cxx and 25xxx (common practice, no source): 24C64 holds 64 Kbit.
        for (name, kilobits) in [
            ("24C01", 1),
            ("24C16", 16),
            ("24C64", 64),
            ("24C512", 512),
            ("24CM01", 1024),
            ("25040", 4),
            ("95640", 64),
            ("25512", 512),
            ("95M02", 2048),
            ("93C46", 1),
            ("93C66", 4),
            ("93C86", 16),
            ("25x05", 512),
            ("25x16", 16 * 1024),
            ("25x256", 256 * 1024),
        ] {
            assert_eq!(by_name(name).unwrap().bytes, kilobits * 128, "{name}");
        }
    }

    #[test]
    fn names_are_known_with_the_letters_of_makers() {
        for (typed, name) in [
            ("24LC64", "24C64"),
            ("AT24C64", "24C64"),
            ("24aa64", "24C64"),
            ("24 C 64", "24C64"),
            ("24C64N", "24C64"),
            ("m95640-w", "25640"),
            ("25LC640", "25640"),
            ("25AA1024", "25M01"),
            ("24C1024", "24CM01"),
            ("93LC46", "93C46x16"),
            ("93C46", "93C46x16"),
            ("93c46 x8", "93C46x8"),
            ("25Q64", "25x64"),
            ("25Q128", "25x128"),
            ("25LC128", "25128"),
            ("25C256", "25256"),
        ] {
            assert_eq!(by_name(typed).map(|c| c.name), Some(name), "{typed}");
        }
        // 25L8005 is numbered in another way than the table: not known, and not guessed.
        for unknown in ["", "24", "24C65", "9346565", "LM358", "25L8005", "x", "ÄÖ", "24C"] {
            assert_eq!(by_name(unknown), None, "{unknown}");
        }
    }

    #[test]
    fn a_size_is_that_of_some_chips_or_of_none() {
        let names: Vec<&str> = of_size(8192).map(|c| c.name).collect();
        assert_eq!(names, ["24C64", "25640"]);
        assert_eq!(of_size(1000).count(), 0);
    }
}
