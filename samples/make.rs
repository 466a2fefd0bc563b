//! Makes the sample images: `cargo run --example make-samples [FOLDER]`.
//!
//! Frostkeel and its cold-room controller board CR8 are invented. The board keeps its settings in a 24C64: 8192
//! bytes, numbers with the most significant byte first, unused places FF. `layouts/frostkeel-cr8.ron` says the same
//! in the language of layouts. Nothing here uses the library: the checks are computed by plain loops, the record
//! files are written by hand, so that the samples are a witness of their own.

use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// Bytes of a 24C64.
const SIZE: usize = 8192;
const SEED: u64 = 0x4652_4F53_544B_4545;

fn main() -> io::Result<()> {
    let folder = env::args_os()
        .nth(1)
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("samples"), PathBuf::from);
    fs::create_dir_all(&folder)?;
    for (name, bytes) in samples() {
        fs::write(folder.join(name), bytes)?;
    }
    Ok(())
}

/// Every sample: file name and contents.
pub fn samples() -> Vec<(&'static str, Vec<u8>)> {
    let (seven, nine, twelve) = (unit7(), unit9(), unit12());
    let clean = image(&seven);
    vec![
        ("unit7-read1.bin", clean.clone()),
        ("unit7-read2.bin", clean.clone()),
        ("unit7-read3-poor.bin", poor_read(&clean)),
        ("unit7-wrong-size.bin", clean.repeat(2)),
        ("unit7-serviced.bin", serviced(&clean)),
        ("unit7-part-off.bin", part_off(&clean)),
        ("unit7-broken-check.bin", broken_check(&clean)),
        ("unit7-returned.bin", returned(&clean, &image(&nine))),
        ("unit9.bin", image(&nine)),
        ("unit12.bin", image(&twelve)),
        ("unit7.hex", intel_hex(&clean)),
        ("unit7.s19", s_records(&clean)),
    ]
}

/// What makes a unit the one it is.
struct Unit {
    /// Seeds what differs from unit to unit without meaning: log entries, small deviations.
    number: u64,
    part: &'static str,
    serial: [u8; 5],
    /// 1 air-cooled, 2 water-cooled, 3 remote condenser.
    hardware: u8,
    built: [u8; 4],
    software: [u8; 2],
    /// Hundredths of a degree: supply air, return air, evaporator, condenser.
    sensor_offsets: [i16; 4],
    /// Ten-thousandths, around 1.
    sensor_gains: [u16; 4],
    /// Hundredths of a bar: low side, high side.
    pressure_zeros: [i16; 2],
    pressure_gains: [u16; 2],
    reference_millivolts: u16,
    calibrated: [u8; 4],
    station: u8,
    settings: Settings,
    /// Seconds since 1970 at the first log entry.
    log_start: u32,
    log_entries: usize,
    lockouts: Vec<Lockout>,
    counters: [u32; 5],
}

/// What may be chosen on site.
struct Settings {
    room: &'static str,
    display: &'static str,
    /// Tenths of a degree.
    setpoint: i16,
    differential: u16,
    alarm_high: i16,
    alarm_low: i16,
    alarm_delay: u16,
    /// 1 R290, 2 R744, 3 R134a, 4 R513A, 5 R455A (designations of ISO 817).
    refrigerant: u8,
    fan_mode: u8,
    options: u16,
    /// Hundredths of a bar, gauge.
    high_cutout: u16,
    low_cutout: u16,
    /// Hour, minute, duration in minutes, how (1 electric, 2 hot gas, 3 air).
    defrosts: &'static [[u8; 4]],
    address: u8,
}

/// One entry of the lockout table.
struct Lockout {
    cause: u8,
    sensor: u8,
    hours: u32,
    when: [u8; 6],
    high: u16,
    low: u16,
    temperature: i16,
    repeats: u8,
}

fn unit7() -> Unit {
    Unit {
        number: 7,
        part: "FK-CR8-2047B",
        serial: [0x22, 0x07, 0x14, 0x03, 0x12],
        hardware: 1,
        built: [0x20, 0x22, 0x07, 0x14],
        software: [6, 9],
        sensor_offsets: [-12, 8, 31, -47],
        sensor_gains: [10_013, 9_987, 10_042, 9_958],
        pressure_zeros: [3, -6],
        pressure_gains: [10_008, 9_971],
        reference_millivolts: 2_497,
        calibrated: [0x20, 0x22, 0x07, 0x15],
        station: 4,
        settings: Settings {
            room: "Cold store 3",
            display: "Store 3 \u{2013} 2 °C",
            setpoint: 20,
            differential: 15,
            alarm_high: 60,
            alarm_low: -10,
            alarm_delay: 30,
            refrigerant: 3,
            fan_mode: 2,
            options: 0b0000_0010_0101_0011,
            high_cutout: 1_650,
            low_cutout: 40,
            defrosts: &[[2, 0, 25, 1], [8, 0, 20, 1], [14, 0, 20, 1], [20, 0, 20, 1]],
            address: 17,
        },
        log_start: 1_668_412_800,
        log_entries: 97,
        lockouts: vec![
            Lockout {
                cause: 4,
                sensor: 3,
                hours: 11_204,
                when: [0x24, 0x06, 0x02, 0x16, 0x41, 0x07],
                high: 1_212,
                low: 96,
                temperature: 71,
                repeats: 1,
            },
            Lockout {
                cause: 1,
                sensor: 6,
                hours: 14_876,
                when: [0x25, 0x07, 0x19, 0x14, 0x52, 0x30],
                high: 1_668,
                low: 121,
                temperature: 94,
                repeats: 3,
            },
            Lockout {
                cause: 1,
                sensor: 6,
                hours: 14_879,
                when: [0x25, 0x07, 0x19, 0x18, 0x03, 0x55],
                high: 1_671,
                low: 118,
                temperature: 101,
                repeats: 3,
            },
        ],
        counters: [14_880, 61_422, 9_913, 30_207, 41],
    }
}

fn unit9() -> Unit {
    Unit {
        number: 9,
        serial: [0x22, 0x07, 0x14, 0x03, 0x47],
        sensor_offsets: [22, -5, -18, 9],
        sensor_gains: [9_994, 10_021, 9_969, 10_030],
        pressure_zeros: [-4, 11],
        pressure_gains: [9_983, 10_017],
        reference_millivolts: 2_503,
        station: 2,
        settings: Settings {
            room: "Cold store 5",
            display: "Store 5 \u{2013} 4 °C",
            setpoint: 40,
            alarm_high: 80,
            alarm_low: 10,
            address: 19,
            ..unit7().settings
        },
        log_start: 1_669_020_000,
        log_entries: 74,
        lockouts: vec![Lockout {
            cause: 3,
            sensor: 7,
            hours: 9_310,
            when: [0x24, 0x01, 0x28, 0x05, 0x17, 0x44],
            high: 988,
            low: 22,
            temperature: 38,
            repeats: 2,
        }],
        counters: [12_655, 50_961, 8_420, 18_344, 29],
        ..unit7()
    }
}

fn unit12() -> Unit {
    Unit {
        number: 12,
        part: "FK-CR8-3110A",
        serial: [0x23, 0x02, 0x27, 0x00, 0x58],
        hardware: 3,
        built: [0x20, 0x23, 0x02, 0x27],
        software: [4, 5],
        sensor_offsets: [5, 14, -26, 33],
        sensor_gains: [10_004, 10_009, 9_976, 10_051],
        pressure_zeros: [0, 7],
        pressure_gains: [10_000, 9_996],
        reference_millivolts: 2_500,
        calibrated: [0x20, 0x23, 0x02, 0x28],
        station: 4,
        settings: Settings {
            room: "Freezer ante-room",
            display: "Freezer \u{2013}22 °C",
            setpoint: -220,
            differential: 20,
            alarm_high: -150,
            alarm_low: -280,
            alarm_delay: 45,
            refrigerant: 5,
            fan_mode: 1,
            options: 0b0000_0001_0001_0111,
            high_cutout: 2_600,
            low_cutout: 15,
            defrosts: &[[1, 30, 35, 2], [7, 30, 30, 2], [13, 30, 30, 2], [19, 30, 30, 2], [22, 45, 15, 3]],
            address: 3,
        },
        log_start: 1_680_602_400,
        log_entries: 88,
        lockouts: vec![],
        counters: [9_102, 40_377, 7_246, 5_518, 12],
    }
}

/// The whole image of a unit.
fn image(unit: &Unit) -> Vec<u8> {
    let mut bytes = vec![0xFF; SIZE];
    put(&mut bytes, 0x0000, b"FKCR8");
    put(&mut bytes, 0x0005, &[3]);
    put16(&mut bytes, 0x0006, SIZE as u16);
    identity(&mut bytes, unit);
    calibration(&mut bytes, unit);
    settings(&mut bytes, &unit.settings);
    for (row, lockout) in unit.lockouts.iter().enumerate() {
        lockout_row(&mut bytes, 0x0200 + row * 32, lockout);
    }
    counters(&mut bytes, &unit.counters);
    event_log(&mut bytes, unit);
    tables(&mut bytes);
    seal(&mut bytes);
    bytes
}

fn identity(bytes: &mut [u8], unit: &Unit) {
    put_padded(bytes, 0x0040, unit.part, 16);
    put(bytes, 0x0050, &unit.serial);
    put(bytes, 0x0055, &[unit.hardware]);
    put(bytes, 0x0056, &unit.built);
    put(bytes, 0x005A, &unit.software);
    put_padded(bytes, 0x0060, "COLD ROOM CTRL", 16);
}

/// 32 bytes at 0x0080, and the same with every bit the other way at 0x00A0.
fn calibration(bytes: &mut [u8], unit: &Unit) {
    let mut at = 0x0080;
    let words = unit
        .sensor_offsets
        .map(|v| v as u16)
        .into_iter()
        .chain(unit.sensor_gains)
        .chain(unit.pressure_zeros.map(|v| v as u16))
        .chain(unit.pressure_gains)
        .chain([unit.reference_millivolts]);
    for word in words {
        put16(bytes, at, word);
        at += 2;
    }
    put(bytes, at, &unit.calibrated);
    put(bytes, at + 4, &[unit.station, 0x00]);
    for at in 0x0080..0x00A0 {
        bytes[at + 0x20] = !bytes[at];
    }
}

fn settings(bytes: &mut [u8], settings: &Settings) {
    put16(bytes, 0x0100, settings.setpoint as u16);
    put16(bytes, 0x0102, settings.differential);
    put16(bytes, 0x0104, settings.alarm_high as u16);
    put16(bytes, 0x0106, settings.alarm_low as u16);
    put16(bytes, 0x0108, settings.alarm_delay);
    put(bytes, 0x010A, &[settings.refrigerant, settings.fan_mode]);
    put16(bytes, 0x010C, settings.options);
    put16(bytes, 0x010E, settings.high_cutout);
    put16(bytes, 0x0110, settings.low_cutout);
    put16(bytes, 0x0112, 180); // seconds off at least
    put16(bytes, 0x0114, 120); // seconds on at least
    put(bytes, 0x0116, &[settings.address, 0x02]); // bus address and speed
    for (row, defrost) in settings.defrosts.iter().enumerate() {
        put(bytes, 0x0120 + row * 4, defrost);
    }
    put_padded(bytes, 0x0140, settings.room, 24);
    let mut display: Vec<u16> = settings.display.encode_utf16().collect();
    display.resize(16, 0x0020);
    for (i, unit) in display.into_iter().enumerate() {
        put16(bytes, 0x0160 + i * 2, unit);
    }
    // The set of values that the maker ships the board with, kept for a reset on site.
    for (i, word) in [20u16, 15, 70, (-20i16) as u16, 30].into_iter().enumerate() {
        put16(bytes, 0x01C0 + i * 2, word);
    }
}

fn lockout_row(bytes: &mut [u8], at: usize, lockout: &Lockout) {
    put(bytes, at, &[lockout.cause, lockout.sensor]);
    put32(bytes, at + 2, lockout.hours);
    put(bytes, at + 6, &lockout.when);
    put16(bytes, at + 12, lockout.high);
    put16(bytes, at + 14, lockout.low);
    put16(bytes, at + 16, lockout.temperature as u16);
    put(bytes, at + 18, &[lockout.repeats]);
}

/// Five counters at 0x0400 and a second time at 0x0420.
fn counters(bytes: &mut [u8], counters: &[u32; 5]) {
    for base in [0x0400, 0x0420] {
        for (i, counter) in counters.iter().enumerate() {
            put32(bytes, base + i * 4, *counter);
        }
    }
}

/// Rows of 16 bytes from 0x0800 on, and how many there are at 0x07FE.
fn event_log(bytes: &mut [u8], unit: &Unit) {
    let mut random = Random::new(SEED ^ unit.number);
    let mut when = unit.log_start;
    put16(bytes, 0x07FE, unit.log_entries as u16);
    for entry in 0..unit.log_entries {
        when += 1_800 + random.below(1_740_000) as u32;
        let code = [1, 1, 2, 2, 3, 4, 5, 6, 7][random.below(9)];
        let temperature = unit.settings.setpoint + random.below(40) as i16 - 12;
        let at = 0x0800 + entry * 16;
        put16(bytes, at, entry as u16 + 1);
        put(bytes, at + 2, &[code, random.below(8) as u8]);
        put32(bytes, at + 4, when);
        put16(bytes, at + 8, temperature as u16);
        put16(bytes, at + 10, 90 + random.below(1_100) as u16);
    }
}

/// What every board of this family has alike: the curve of its sensors at 0x1800 and the maker's own block.
fn tables(bytes: &mut [u8]) {
    // A thermistor of 10 kΩ at 25 °C with B = 3435 K behind 10 kΩ, read by a 12-bit converter, from -50 °C on in
    // steps of 1 K. The formula is the usual B-parameter equation: common practice, no source.
    for step in 0..128 {
        let kelvin = 223.15 + f64::from(step);
        let ratio = (3435.0 * (1.0 / kelvin - 1.0 / 298.15)).exp();
        put16(bytes, 0x1800 + step as usize * 2, (4095.0 * ratio / (1.0 + ratio)).round() as u16);
    }
    let mut random = Random::new(SEED);
    for byte in &mut bytes[0x1900..0x1B80] {
        *byte = random.next() as u8;
    }
}

/// Stores every check: identity, settings, then the whole image.
fn seal(bytes: &mut [u8]) {
    let identity = crc32(&bytes[0x0040..0x007C]);
    put32(bytes, 0x007C, identity);
    let settings = crc16_xmodem(&bytes[0x0100..0x01FE]);
    put16(bytes, 0x01FE, settings);
    seal_whole(bytes);
}

fn seal_whole(bytes: &mut [u8]) {
    let sum = bytes[..0x1FFE].chunks(2).fold(0u16, |s, w| s.wrapping_add(u16::from_be_bytes([w[0], w[1]])));
    put16(bytes, 0x1FFE, sum);
}

/// CRC-16/XMODEM, bit by bit.
fn crc16_xmodem(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |mut crc, &byte| {
        crc ^= u16::from(byte) << 8;
        for _ in 0..8 {
            crc = if crc & 0x8000 == 0 { crc << 1 } else { crc << 1 ^ 0x1021 };
        }
        crc
    })
}

/// CRC-32/ISO-HDLC, bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |mut crc, &byte| {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = if crc & 1 == 0 { crc >> 1 } else { crc >> 1 ^ 0xEDB8_8320 };
        }
        crc
    })
}

/// A read through a poor contact: single bits that fell, and a stretch in which the data line floated.
fn poor_read(clean: &[u8]) -> Vec<u8> {
    let mut bytes = clean.to_vec();
    let mut random = Random::new(SEED ^ 3);
    for _ in 0..60 {
        let at = random.below(SIZE);
        bytes[at] &= !(1 << random.below(8));
    }
    for byte in &mut bytes[0x0A37..0x0A6B] {
        *byte |= random.next() as u8;
    }
    bytes
}

/// After service: lockouts and log at rest, checks right.
fn serviced(clean: &[u8]) -> Vec<u8> {
    let mut bytes = clean.to_vec();
    bytes[0x0200..0x0400].fill(0xFF);
    put16(&mut bytes, 0x07FE, 0);
    bytes[0x0800..0x1200].fill(0xFF);
    seal(&mut bytes);
    bytes
}

/// The letter O where the part number has a zero, checks right: somebody typed it from the label.
fn part_off(clean: &[u8]) -> Vec<u8> {
    let mut bytes = clean.to_vec();
    put_padded(&mut bytes, 0x0040, "FK-CR8-2O47B", 16);
    seal(&mut bytes);
    bytes
}

/// Another setpoint, and the check of the settings left as it was.
fn broken_check(clean: &[u8]) -> Vec<u8> {
    let mut bytes = clean.to_vec();
    put16(&mut bytes, 0x0100, 35);
    seal_whole(&mut bytes);
    bytes
}

/// Came back from somebody: the lockouts are cleared, but serial and calibration are another unit's.
fn returned(clean: &[u8], other: &[u8]) -> Vec<u8> {
    let mut bytes = clean.to_vec();
    bytes[0x0200..0x0400].fill(0xFF);
    bytes[0x0050..0x0055].copy_from_slice(&other[0x0050..0x0055]);
    bytes[0x0080..0x00C0].copy_from_slice(&other[0x0080..0x00C0]);
    seal(&mut bytes);
    bytes
}

/// Intel HEX with data records of 32 bytes.
fn intel_hex(bytes: &[u8]) -> Vec<u8> {
    let record = |kind: u8, at: usize, data: &[u8]| {
        let mut record = vec![data.len() as u8, (at >> 8) as u8, at as u8, kind];
        record.extend(data);
        let sum = record.iter().fold(0u8, |s, b| s.wrapping_add(*b));
        record.push(sum.wrapping_neg());
        format!(":{}\n", hex(&record))
    };
    let mut text: String = bytes.chunks(32).enumerate().map(|(i, data)| record(0, i * 32, data)).collect();
    text += &record(1, 0, &[]);
    text.into_bytes()
}

/// S-records with addresses of 16 bits and data records of 32 bytes.
fn s_records(bytes: &[u8]) -> Vec<u8> {
    let record = |kind: u8, at: usize, data: &[u8]| {
        let mut record = vec![data.len() as u8 + 3, (at >> 8) as u8, at as u8];
        record.extend(data);
        let sum = record.iter().fold(0u8, |s, b| s.wrapping_add(*b));
        record.push(!sum);
        format!("S{kind}{}\n", hex(&record))
    };
    let mut text = record(0, 0, b"unit7");
    text.extend(bytes.chunks(32).enumerate().map(|(i, data)| record(1, i * 32, data)));
    text += &record(5, bytes.len() / 32, &[]);
    text += &record(9, 0, &[]);
    text.into_bytes()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02X}")).collect()
}

fn put(bytes: &mut [u8], at: usize, what: &[u8]) {
    bytes[at..at + what.len()].copy_from_slice(what);
}

fn put16(bytes: &mut [u8], at: usize, number: u16) {
    put(bytes, at, &number.to_be_bytes());
}

fn put32(bytes: &mut [u8], at: usize, number: u32) {
    put(bytes, at, &number.to_be_bytes());
}

/// Text filled up with spaces.
fn put_padded(bytes: &mut [u8], at: usize, text: &str, length: usize) {
    bytes[at..at + length].fill(b' ');
    put(bytes, at, text.as_bytes());
}

/// Numbers that look random and are the same every time (a 64-bit linear congruential generator with the constants
/// of Knuth's MMIX, from memory; its upper bits are used).
struct Random(u64);

impl Random {
    fn new(seed: u64) -> Self {
        let mut random = Random(seed);
        random.next();
        random
    }

    fn next(&mut self) -> u32 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as u32
    }

    fn below(&mut self, bound: usize) -> usize {
        self.next() as usize % bound
    }
}
