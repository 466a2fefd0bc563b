//! The shipped layouts give the values that their standards work out, on images put together by hand here.
//!
//! This holds without any corpus; each test names where its values come from.

use readproof::check::Seal;
use readproof::image::Image;
use readproof::layout::{self, Decoded, SHIPPED};

/// What the shipped layout that the marks pick says of `bytes`; `wanted` is its file name.
#[track_caller]
fn decode(bytes: &[u8], wanted: &str) -> Decoded {
    let layouts: Vec<_> =
        SHIPPED.iter().map(|(_, text)| layout::read(text).expect("a shipped layout")).collect();
    let image = Image::raw(bytes.to_vec());
    let fits = layout::fits(&layouts, &image);
    let first = fits.first().unwrap_or_else(|| panic!("no layout fits an image for {wanted}"));
    assert_eq!(SHIPPED[first.index].0, wanted);
    layout::decode(&layouts[first.index], &image)
}

/// Each field shows what is said of it, its unit included.
#[track_caller]
fn shows(decoded: &Decoded, values: &[(&str, &str)]) {
    for (path, wanted) in values {
        let field = decoded.fields.iter().find(|f| f.path == *path);
        let field = field.unwrap_or_else(|| {
            let paths: Vec<_> = decoded.fields.iter().map(|f| f.path.as_str()).collect();
            panic!("no field {path} among {paths:?}")
        });
        let shown = match &field.unit {
            Some(unit) => format!("{} {unit}", field.text),
            None => field.text.clone(),
        };
        assert_eq!(shown, *wanted, "{path}");
    }
}

#[track_caller]
fn all_sealed(decoded: &Decoded) {
    assert!(!decoded.checks.is_empty());
    for check in &decoded.checks {
        assert_eq!(
            check.seal,
            Seal::Sealed,
            "{}: {:?} against {:?}",
            check.name,
            check.stored,
            check.computed
        );
    }
}

fn put(bytes: &mut [u8], at: usize, what: &[u8]) {
    bytes[at..at + what.len()].copy_from_slice(what);
}

/// Text in a field of `len` bytes, filled up with blanks.
fn padded(text: &str, len: usize) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    bytes.resize(len, b' ');
    bytes
}

/// The byte that makes the sum of all `bytes` zero.
fn zero_sum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0u8, |sum, b| sum.wrapping_sub(*b))
}

fn sum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0u8, |sum, b| sum.wrapping_add(*b))
}

/// CRC-16/XMODEM bit by bit; the SPD standards print it as a program in C.
fn crc16(bytes: &[u8]) -> [u8; 2] {
    let crc = bytes.iter().fold(0u16, |crc, b| {
        (0..8).fold(crc ^ u16::from(*b) << 8, |c, _| if c & 0x8000 == 0 { c << 1 } else { c << 1 ^ 0x1021 })
    });
    crc.to_le_bytes()
}

/// VIC 16 and VIC 4 of CTA-861 as detailed timings: 1920x1080 at 60 Hz with 148.5 MHz, 1280x720 at 60 Hz with
/// 74.25 MHz (CTA-861-G, table 1: 2200 by 1125 and 1650 by 750 in all; its porches and syncs as in the constants
/// V4L2_DV_BT_CEA_1920X1080P60 and V4L2_DV_BT_CEA_1280X720P60 of Linux's v4l2-dv-timings.h: 88, 44, 148, 4, 5, 36 and
/// 110, 40, 220, 5, 5, 20; the bytes that say so are worked out by VESA E-EDID, section 3.10.2).
#[test]
fn detailed_timings_of_displays_are_those_of_the_cta_861_table() {
    let mut bytes = vec![0u8; 256];
    put(&mut bytes, 0, &[0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0]);
    // "FKL": three letters of five bits, A is 1 (VESA E-EDID, 3.4.1).
    put(&mut bytes, 8, &((6u16 << 10) | (11 << 5) | 12).to_be_bytes());
    put(&mut bytes, 16, &[26, 18, 1, 3, 0x80, 52, 29, 120]);
    put(
        &mut bytes,
        54,
        &[
            0x02, 0x3A, 0x80, 0x18, 0x71, 0x38, 0x2D, 0x40, 0x58, 0x2C, 0x45, 0x00, 0x08, 0x22, 0x21, 0x00,
            0x00, 0x1E,
        ],
    );
    put(
        &mut bytes,
        72,
        &[
            0x01, 0x1D, 0x00, 0x72, 0x51, 0xD0, 0x1E, 0x20, 0x6E, 0x28, 0x55, 0x00, 0x08, 0x22, 0x21, 0x00,
            0x00, 0x1E,
        ],
    );
    put(&mut bytes, 90, &[0, 0, 0, 0xFC, 0]);
    put(&mut bytes, 95, b"COLD ROOM\n   ");
    put(&mut bytes, 108, &[0, 0, 0, 0x10, 0]);
    bytes[126] = 1;
    bytes[127] = zero_sum(&bytes[..127]);
    // The extension: revision 3, one audio block of three bytes, no timings.
    put(&mut bytes, 128, &[2, 3, 8, 0x40, 0x23, 9, 7, 7]);
    bytes[255] = zero_sum(&bytes[128..255]);
    let decoded = decode(&bytes, "edid.ron");
    shows(
        &decoded,
        &[
            ("manufacturer", "FKL"),
            ("width", "52 cm"),
            ("gamma", "2.20"),
            ("descriptors[0].pixel_clock", "148.50 MHz"),
            ("descriptors[0].timing.h_active", "1920"),
            ("descriptors[0].timing.h_blank", "280"),
            ("descriptors[0].timing.v_active", "1080"),
            ("descriptors[0].timing.v_blank", "45"),
            ("descriptors[0].timing.h_front", "88"),
            ("descriptors[0].timing.h_sync", "44"),
            ("descriptors[0].timing.v_front", "4"),
            ("descriptors[0].timing.v_sync", "5"),
            ("descriptors[0].timing.refresh", "60000 mHz"),
            ("descriptors[1].pixel_clock", "74.25 MHz"),
            ("descriptors[1].timing.h_active", "1280"),
            ("descriptors[1].timing.h_blank", "370"),
            ("descriptors[1].timing.v_active", "720"),
            ("descriptors[1].timing.v_blank", "30"),
            ("descriptors[1].timing.refresh", "60000 mHz"),
            ("descriptors[2].product_name", "COLD ROOM"),
            ("blocks[0].cta.data_blocks[0].length", "3"),
        ],
    );
    all_sealed(&decoded);
}

/// The capacity of DDR2: 2^(rows + columns − 17) MiB a bank and rank of 64 bits; cycle time codes of byte 9
/// (JEDEC 21-C annex J; the low digit D stands for 75 hundredths, as in U-Boot's reading of the same byte, where A is
/// 25, B 33, C 66 and D 75: 3Dh is 3.75 ns).
#[test]
fn a_ddr2_module_has_the_capacity_and_cycle_time_of_annex_j() {
    let mut bytes = vec![0u8; 256];
    put(&mut bytes, 0, &[0x80, 8, 8, 14, 10, 0x61, 64, 0, 5, 0x3D]);
    bytes[17] = 8;
    bytes[62] = 0x12;
    put(&mut bytes, 73, &padded("FK-DIMM-2", 18));
    bytes[63] = sum(&bytes[..63]);
    let decoded = decode(&bytes, "spd-ddr2.ron");
    shows(
        &decoded,
        &[
            ("memory_type", "DDR2 SDRAM"),
            ("cycle_time.ns", "3 ns"),
            ("cycle_time.fraction", ".75"),
            ("ranks", "2"),
            ("capacity", "2048 MiB"),
            ("spd_revision", "1.2"),
            ("part_number", "FK-DIMM-2"),
        ],
    );
    all_sealed(&decoded);
}

/// The capacity formula of JEDEC 21-C annex K: density / 8 × bus width / device width × ranks; 2 Gibit in 8-bit
/// devices on 64 bits and two ranks are 4 GiB. Byte 0 bit 7 chooses what the CRC covers.
#[test]
fn a_ddr3_module_has_the_capacity_of_annex_k_and_either_crc_range() {
    for (first, end) in [(0x92u8, 117usize), (0x12, 126)] {
        let mut bytes = vec![0u8; 256];
        put(&mut bytes, 0, &[first, 0x11, 0x0B, 2, 0x03, 0x19, 0, 0x09, 0x03]);
        bytes[120] = 0x24;
        bytes[121] = 0x26;
        put(&mut bytes, 117, &[0x80, 0xCE]);
        let crc = crc16(&bytes[..end]);
        put(&mut bytes, 126, &crc);
        put(&mut bytes, 128, &padded("FK-DIMM-3", 18));
        let decoded = decode(&bytes, "spd-ddr3.ron");
        shows(
            &decoded,
            &[
                ("capacity", "4096 MiB"),
                ("rows", "15"),
                ("columns", "10"),
                ("ranks", "2"),
                ("module_type", "UDIMM"),
                ("part_number", "FK-DIMM-3"),
            ],
        );
        all_sealed(&decoded);
    }
}

/// Annex L: 8 Gibit dies in 8-bit devices on 64 bits and two ranks are 16 GiB; four dies stacked (3DS) count
/// four times. tCKmin of 6 units of 125 ps is 0.75 ns (DDR4-2666).
#[test]
fn a_ddr4_module_has_the_capacity_and_the_times_of_annex_l() {
    for (package, capacity) in [(0x00u8, "16384 MiB"), (0xB2, "65536 MiB")] {
        let mut bytes = vec![0u8; 512];
        put(&mut bytes, 0, &[0x23, 0x11, 0x0C, 2, 0x85, 0x21, package]);
        put(&mut bytes, 12, &[0x09, 0x03]);
        bytes[18] = 6;
        put(&mut bytes, 329, &padded("FK-DIMM-4", 20));
        let crc = crc16(&bytes[..126]);
        put(&mut bytes, 126, &crc);
        let crc = crc16(&bytes[128..254]);
        put(&mut bytes, 254, &crc);
        let decoded = decode(&bytes, "spd-ddr4.ron");
        shows(
            &decoded,
            &[
                ("capacity", capacity),
                ("tck_min", "0.750 ns"),
                ("rows", "16"),
                ("made.part_number", "FK-DIMM-4"),
            ],
        );
        all_sealed(&decoded);
    }
}

/// JESD400-5: 16 Gibit dies in 8-bit devices, two subchannels of 32 bits, two ranks: 32 GiB. tCKAVGmin is in ps.
#[test]
fn a_ddr5_module_has_the_capacity_of_jesd400_5() {
    let mut bytes = vec![0u8; 1024];
    put(&mut bytes, 0, &[0x30, 0x10, 0x12, 2, 0x04, 0x00, 0x20, 0x62]);
    put(&mut bytes, 20, &416u16.to_le_bytes());
    put(&mut bytes, 234, &[0x08, 0x22]);
    let crc = crc16(&bytes[..510]);
    put(&mut bytes, 510, &crc);
    put(&mut bytes, 521, &padded("FK-DIMM-5", 30));
    let decoded = decode(&bytes, "spd-ddr5.ron");
    shows(&decoded, &[("capacity", "32768 MiB"), ("tck_min", "416 ps"), ("made.part_number", "FK-DIMM-5")]);
    all_sealed(&decoded);
}

/// The packed text of the FRU specification's own example, "IPMI" as 29 DC A6 (section 13.3), and its rule that
/// every area sums to zero.
#[test]
fn a_board_s_information_reads_by_its_areas_and_types() {
    let mut board = vec![1, 0, 25, 0, 0, 0];
    board.extend(b"\xC9Frostkeel");
    board.extend([0x83, 0x29, 0xDC, 0xA6]);
    board.extend(b"\xC32207140312"[..4].iter());
    board.extend([0x44, 0x12, 0x34, 0xB5, 0xA6]);
    board.extend([0xC0, 0xC1]);
    while board.len() % 8 != 7 {
        board.push(0);
    }
    board[1] = ((board.len() + 1) / 8) as u8;
    board.push(zero_sum(&board));
    let mut bytes = vec![1, 0, 0, 1, 0, 0, 0];
    bytes.push(zero_sum(&bytes));
    bytes.extend(&board);
    let decoded = decode(&bytes, "ipmi-fru.ron");
    shows(
        &decoded,
        &[
            ("header.board", "8 bytes"),
            ("board.manufacturer", "Frostkeel"),
            ("board.product_name", "IPMI"),
            ("board.serial_number", "220"),
            ("board.part_number", "1234-5 6"),
        ],
    );
    all_sealed(&decoded);
}

/// SFF-8472: nominal rate in units of 100 MBd, wavelength in nm, sums over 0–62 and 64–94; page A2h in 1/256 °C,
/// 100 µV and 0.1 µW (the units of its diagnostic values; the same divisors as in FD.io VPP's sfp_sff8472.c: 256,
/// 10 000 for volts and for milliwatts). 6400h is 25600 / 256 and E700h is -6400 / 256.
#[test]
fn a_transceiver_s_pages_are_in_the_units_of_sff_8472() {
    let mut bytes = vec![0u8; 512];
    put(&mut bytes, 0, &[3, 4, 7]);
    bytes[11] = 6;
    bytes[12] = 103;
    put(&mut bytes, 20, &padded("FROSTKEEL", 16));
    put(&mut bytes, 40, &padded("FK-SFP-850", 16));
    put(&mut bytes, 56, &padded("A", 4));
    put(&mut bytes, 60, &850u16.to_be_bytes());
    bytes[63] = sum(&bytes[..63]);
    put(&mut bytes, 68, &padded("2207140312", 16));
    put(&mut bytes, 84, b"220714  ");
    put(&mut bytes, 92, &[0x68, 0xF0, 3]);
    bytes[95] = sum(&bytes[64..95]);
    put(&mut bytes, 256, &[0x64, 0x00, 0xE7, 0x00]);
    put(&mut bytes, 256 + 8, &33_000u16.to_be_bytes());
    put(&mut bytes, 256 + 24, &10_000u16.to_be_bytes());
    bytes[256 + 95] = sum(&bytes[256..256 + 95]);
    let decoded = decode(&bytes, "sff-8472.ron");
    shows(
        &decoded,
        &[
            ("nominal_bit_rate", "10300 MBd"),
            ("wavelength", "850 nm"),
            ("vendor_part_number", "FK-SFP-850"),
            ("encoding", "64B/66B"),
        ],
    );
    let number = |path: &str| {
        let field = decoded.fields.iter().find(|f| f.path == path).unwrap_or_else(|| panic!("{path}"));
        field.text.parse::<f64>().unwrap_or_else(|_| panic!("{path}: {}", field.text))
    };
    assert!((number("diagnostics.temperature.high_alarm") - 100.0).abs() < 1e-9);
    assert!((number("diagnostics.temperature.low_alarm") + 25.0).abs() < 1e-9);
    assert!((number("diagnostics.voltage.high_alarm") - 3.3).abs() < 1e-9);
    assert!((number("diagnostics.tx_power.high_alarm") - 1.0).abs() < 1e-9);
    all_sealed(&decoded);
}

/// SFF-8636: wavelength in units of 0.05 nm (17000 is 850 nm); sums over 128–190 and 192–222.
#[test]
fn a_four_lane_module_is_in_the_units_of_sff_8636() {
    let mut bytes = vec![0u8; 256];
    bytes[0] = 0x11;
    bytes[1] = 8;
    bytes[128] = 0x11;
    bytes[130] = 0x0C;
    put(&mut bytes, 148, &padded("FROSTKEEL", 16));
    put(&mut bytes, 168, &padded("FK-QSFP-850", 16));
    put(&mut bytes, 186, &17_000u16.to_be_bytes());
    bytes[191] = sum(&bytes[128..191]);
    put(&mut bytes, 196, &padded("2207140312", 16));
    put(&mut bytes, 212, b"220714  ");
    bytes[223] = sum(&bytes[192..223]);
    let decoded = decode(&bytes, "sff-8636.ron");
    shows(&decoded, &[("connector", "MPO 1x12"), ("vendor_serial", "2207140312")]);
    let wavelength = decoded.fields.iter().find(|f| f.path == "wavelength").expect("wavelength");
    assert_eq!(wavelength.text.parse::<f64>().ok(), Some(850.0));
    all_sealed(&decoded);
}

/// CMIS: revision in halves of byte 1, power in quarters of a watt, the sum of page 00h over 128–221.
#[test]
fn a_cmis_module_is_in_the_units_of_its_specification() {
    let mut bytes = vec![0u8; 256];
    put(&mut bytes, 0, &[0x18, 0x52]);
    bytes[128] = 0x18;
    put(&mut bytes, 129, &padded("FROSTKEEL", 16));
    put(&mut bytes, 148, &padded("FK-DD-400", 16));
    put(&mut bytes, 166, &padded("2207140312", 16));
    put(&mut bytes, 182, b"220714  ");
    bytes[201] = 48;
    bytes[222] = sum(&bytes[128..222]);
    let decoded = decode(&bytes, "cmis.ron");
    shows(&decoded, &[("revision_major", "5"), ("revision_minor", "2"), ("vendor_part_number", "FK-DD-400")]);
    let power = decoded.fields.iter().find(|f| f.path == "max_power").expect("max_power");
    assert_eq!((power.text.parse::<f64>().ok(), power.unit.as_deref()), (Some(12.0), Some("W")));
    all_sealed(&decoded);
}

/// CRC-16/ARC bit by bit, as the HAT specification names it; its check value for "123456789" is BB3D.
fn arc(bytes: &[u8]) -> [u8; 2] {
    let crc = bytes.iter().fold(0u16, |crc, b| {
        (0..8).fold(crc ^ u16::from(*b), |c, _| if c & 1 == 0 { c >> 1 } else { c >> 1 ^ 0xA001 })
    });
    crc.to_le_bytes()
}

#[test]
fn a_hat_s_atoms_are_read_one_by_one_and_each_has_its_crc() {
    assert_eq!(arc(b"123456789"), 0xBB3Du16.to_le_bytes());
    let mut vendor: Vec<u8> = (0..16).collect();
    vendor.extend([0x34, 0x12, 0x02, 0x00, 9, 6]);
    vendor.extend(b"FrostkeelFK-HAT");
    let mut bytes = b"R-Pi\x01\x00".to_vec();
    bytes.extend([1, 0]);
    bytes.extend((12 + 8 + vendor.len() as u32 + 2).to_le_bytes());
    let start = bytes.len();
    bytes.extend([1, 0, 0, 0]);
    bytes.extend((vendor.len() as u32 + 2).to_le_bytes());
    bytes.extend(&vendor);
    let crc = arc(&bytes[start..]);
    bytes.extend(crc);
    let decoded = decode(&bytes, "hat-eeprom.ron");
    shows(
        &decoded,
        &[
            ("atoms[0].vendor.product_id", "0x1234"),
            ("atoms[0].vendor.product_version", "0x0002"),
            ("atoms[0].vendor.vendor", "Frostkeel"),
            ("atoms[0].vendor.product", "FK-HAT"),
        ],
    );
    all_sealed(&decoded);
}

/// Tags of the TlvInfo table (21h product name … FEh CRC-32 over everything before its value).
#[test]
fn tlvinfo_records_are_named_by_their_tags() {
    let mut records = Vec::new();
    for (tag, value) in [
        (0x21u8, &b"FK-SW-24"[..]),
        (0x23, b"2207140312"),
        (0x24, &[2, 0, 0, 0x12, 0x34, 0x56]),
        (0x2A, &[0, 24]),
    ] {
        records.push(tag);
        records.push(value.len() as u8);
        records.extend(value);
    }
    let mut bytes = b"TlvInfo\0\x01".to_vec();
    bytes.extend((records.len() as u16 + 6).to_be_bytes());
    bytes.extend(&records);
    bytes.extend([0xFE, 4]);
    let crc = crc32fast::hash(&bytes);
    bytes.extend(crc.to_be_bytes());
    let decoded = decode(&bytes, "onie-tlvinfo.ron");
    shows(
        &decoded,
        &[
            ("records[0].product_name", "FK-SW-24"),
            ("records[1].serial_number", "2207140312"),
            ("records[2].base_mac", "02:00:00:12:34:56"),
            ("records[3].mac_addresses", "24"),
        ],
    );
    all_sealed(&decoded);
}

/// The rule of the controllers' data sheets: words 00h to 3Fh sum to BABAh.
#[test]
fn an_ethernet_controller_s_words_sum_to_baba() {
    let mut words = [0u16; 64];
    words[..3].copy_from_slice(&[0x0002, 0x1200, 0x5634]);
    words[0x0D] = 0x153A;
    words[0x0E] = 0x8086;
    words[0x3F] = words.iter().fold(0xBABAu16, |rest, w| rest.wrapping_sub(*w));
    let bytes: Vec<u8> = words.iter().flat_map(|w| w.to_le_bytes()).collect();
    let decoded = decode(&bytes, "ethernet-nvm.ron");
    shows(&decoded, &[("mac", "02:00:00:12:34:56"), ("device_id", "0x153A"), ("vendor_id", "0x8086")]);
    all_sealed(&decoded);
}

/// The shape of the example in PCI Local Bus Specification 3.0, appendix I (tags 82h, 90h, 91h, 78h; keywords PN,
/// EC, SN, MN, RV, YA, RW; the tags are also those of PCI_VPD_LRDT_ID_STRING and its neighbours in Linux's pci.h); the
/// values are ours. RV's first byte makes everything up to it sum to 0.
#[test]
fn pci_vpd_reads_by_keywords_and_its_sum_ends_at_rv() {
    let keyword = |name: &str, value: &[u8]| {
        let mut bytes = name.as_bytes().to_vec();
        bytes.push(value.len() as u8);
        bytes.extend(value);
        bytes
    };
    let mut fixed = Vec::new();
    fixed.extend(keyword("PN", b"FK-6181682A"));
    fixed.extend(keyword("EC", b"4950262536"));
    fixed.extend(keyword("SN", b"00000194"));
    fixed.extend(keyword("MN", b"1037"));
    fixed.extend(keyword("RV", &[0; 8]));
    let name = b"Frostkeel cold room interface";
    let mut bytes = vec![0x82];
    bytes.extend((name.len() as u16).to_le_bytes());
    bytes.extend(name);
    bytes.push(0x90);
    bytes.extend((fixed.len() as u16).to_le_bytes());
    bytes.extend(&fixed);
    let rv = bytes.len() - 8;
    bytes[rv] = zero_sum(&bytes[..rv]);
    let writable = [keyword("YA", b"store 3"), keyword("RW", &[0; 16])].concat();
    bytes.push(0x91);
    bytes.extend((writable.len() as u16).to_le_bytes());
    bytes.extend(&writable);
    bytes.push(0x78);
    bytes.resize(256, 0xFF);
    let decoded = decode(&bytes, "pci-vpd.ron");
    shows(
        &decoded,
        &[
            ("resources[0].name", "Frostkeel cold room interface"),
            ("resources[1].fixed[0].part_number", "FK-6181682A"),
            ("resources[1].fixed[2].serial_number", "00000194"),
            ("resources[2].writable[0].asset_tag", "store 3"),
        ],
    );
    all_sealed(&decoded);
}
