//! The one list of chips.

use super::{Addressing, Chip, Family, FamilyFacts};

/// What the families have in common: supply classes and endurance as the data sheets named beside them state; makers
/// differ, 100 000 writes and four million are met too. Remarks: common practice, no source.
pub const FAMILIES: &[FamilyFacts] = &[
    FamilyFacts {
        family: Family::TwoWire,
        word: "two-wire-eeprom",
        short: "I2C EEPROM",
        name: "24Cxx, EEPROM on the two-wire bus (I2C)",
        // Microchip DS21189L, 24AA64 and 24LC64; the 5 V class: Fairchild FM24C256, revision B.3.
        supply: &[(1700, 5500), (2500, 5500), (4500, 5500)],
        endurance: 1_000_000,
        remark: "several can share one bus: a board's own controller may answer while the chip is read in circuit",
    },
    FamilyFacts {
        family: Family::SpiEeprom,
        word: "spi-eeprom",
        short: "SPI EEPROM",
        name: "25xxx and 95xxx, EEPROM on SPI",
        // Microchip DS21204, 25AA040, 25LC040 and 25C040; DS21827, the later ones.
        supply: &[(1800, 5500), (2500, 5500), (4500, 5500)],
        endurance: 1_000_000,
        remark: "block protection bits in its status register can refuse a write without telling",
    },
    FamilyFacts {
        family: Family::Microwire,
        word: "microwire-eeprom",
        short: "Microwire EEPROM",
        name: "93Cxx, EEPROM on the three-wire bus (Microwire)",
        // Microchip DS21929A, 93AA, 93LC and 93C from 46 to 86.
        supply: &[(1800, 5500), (2500, 5500), (4500, 5500)],
        endurance: 1_000_000,
        remark: "the ORG pin chooses words of 8 or 16 bits; read with the wrong one, the contents come out shifted or \
                 with swapped bytes",
    },
    FamilyFacts {
        family: Family::SpiNor,
        word: "spi-nor",
        short: "SPI NOR flash",
        name: "25-series NOR flash on SPI",
        // Winbond W25Q64JV, revision I, and W25Q64FW, revision D.
        supply: &[(2700, 3600), (1650, 1950)],
        endurance: 100_000,
        remark: "5 V destroys it, and 3.3 V destroys the 1.8 V class; it is erased in sectors of 4 KiB or more before \
                 it is written",
    },
];

const fn two_wire(name: &'static str, bytes: usize, page: usize, address: (u8, u8)) -> Chip {
    let addressing = Addressing::DeviceSelect { bytes: address.0, bits: address.1 };
    Chip { name, also: None, family: Family::TwoWire, bytes, page, word_bits: 8, addressing }
}

const fn spi(name: &'static str, also: &'static str, bytes: usize, page: usize, address: (u8, u8)) -> Chip {
    let addressing = Addressing::Instruction { bytes: address.0, bits: address.1 };
    Chip { name, also: Some(also), family: Family::SpiEeprom, bytes, page, word_bits: 8, addressing }
}

const fn microwire(name: &'static str, bytes: usize, word_bits: u8, address_bits: u8) -> Chip {
    let page = word_bits as usize / 8;
    let addressing = Addressing::Bits(address_bits);
    Chip { name, also: None, family: Family::Microwire, bytes, page, word_bits, addressing }
}

const fn nor(name: &'static str, bytes: usize, address_bytes: u8) -> Chip {
    let addressing = Addressing::Instruction { bytes: address_bytes, bits: 0 };
    Chip { name, also: None, family: Family::SpiNor, bytes, page: 256, word_bits: 8, addressing }
}

/// Every chip, by family, the smallest first. Capacities and pages of 24Cxx are those of the eeprom24x crate, which
/// names a data sheet for each (a test compares them). Makers differ in pages: 24C02 has 8 or 16 bytes a page, 25040 8
/// or 16, 25080 16 or 32 (Microchip DS21808, versions A and B).
///
/// | what | source |
/// | --- | --- |
/// | pages and address of 25010 to 25040 | ST M95010 to M95040, July 2003; Microchip DS21827 |
/// | page of 25080 | Microchip DS21808, version B |
/// | pages of 25128, 25256, 25512 | Microchip 25AA128/25LC128, DS21822, DS22237 |
/// | pages of 25M01, 25M02 | ST M95M01; M95M02-DR, DocID 18203 |
/// | address bits of 93C46 to 93C66, ignored ones included | Microchip DS21712C, tables 1-1 to 1-6 |
/// | page of the flash chips | Winbond W25Q64JV, revision I |
/// | pages of 25160 to 25640; 93C06; address bits of 93C76 and 93C86 | from memory |
pub const CHIPS: &[Chip] = &[
    two_wire("24C01", 128, 8, (1, 0)),
    two_wire("24C02", 256, 8, (1, 0)),
    two_wire("24C04", 512, 16, (1, 1)),
    two_wire("24C08", 1024, 16, (1, 2)),
    two_wire("24C16", 2048, 16, (1, 3)),
    two_wire("24C32", 4096, 32, (2, 0)),
    two_wire("24C64", 8192, 32, (2, 0)),
    two_wire("24C128", 16_384, 64, (2, 0)),
    two_wire("24C256", 32_768, 64, (2, 0)),
    two_wire("24C512", 65_536, 128, (2, 0)),
    two_wire("24CM01", 131_072, 256, (2, 1)),
    two_wire("24CM02", 262_144, 256, (2, 2)),
    spi("25010", "95010", 128, 16, (1, 0)),
    spi("25020", "95020", 256, 16, (1, 0)),
    spi("25040", "95040", 512, 16, (1, 1)),
    spi("25080", "95080", 1024, 32, (2, 0)),
    spi("25160", "95160", 2048, 32, (2, 0)),
    spi("25320", "95320", 4096, 32, (2, 0)),
    spi("25640", "95640", 8192, 32, (2, 0)),
    spi("25128", "95128", 16_384, 64, (2, 0)),
    spi("25256", "95256", 32_768, 64, (2, 0)),
    spi("25512", "95512", 65_536, 128, (2, 0)),
    spi("25M01", "95M01", 131_072, 256, (3, 0)),
    spi("25M02", "95M02", 262_144, 256, (3, 0)),
    microwire("93C06x16", 32, 16, 6),
    microwire("93C46x8", 128, 8, 7),
    microwire("93C46x16", 128, 16, 6),
    microwire("93C56x8", 256, 8, 9),
    microwire("93C56x16", 256, 16, 8),
    microwire("93C66x8", 512, 8, 9),
    microwire("93C66x16", 512, 16, 8),
    microwire("93C76x8", 1024, 8, 11),
    microwire("93C76x16", 1024, 16, 10),
    microwire("93C86x8", 2048, 8, 11),
    microwire("93C86x16", 2048, 16, 10),
    nor("25x05", 64 << 10, 3),
    nor("25x10", 128 << 10, 3),
    nor("25x20", 256 << 10, 3),
    nor("25x40", 512 << 10, 3),
    nor("25x80", 1 << 20, 3),
    nor("25x16", 2 << 20, 3),
    nor("25x32", 4 << 20, 3),
    nor("25x64", 8 << 20, 3),
    nor("25x128", 16 << 20, 3),
    nor("25x256", 32 << 20, 4),
];
