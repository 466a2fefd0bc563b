//! A small layout and images for the tests of this module.

use crate::image::Image;
use crate::layout::{self, Layout};

/// 256 bytes with one field of every role. Invented for the tests.
const TEXT: &str = r#"(
    layout: "bench board", format: 1, source: "invented for the tests", order: Big,
    cautions: ["Isolate the mains supply."],
    fits: (bytes: [256], marks: [(at: 0x00, text: "BB")]),
    fields: [
        (name: "mark", at: 0x00, kind: Text(bytes: 2), role: Reserved, fixed: true),
        (name: "part_number", at: 0x10, kind: Text(bytes: 12, pad: " "), role: Identity),
        (name: "serial", at: 0x20, kind: Bcd(digits: 8), role: Identity),
        (name: "calibration", at: 0x30, role: Calibration, kind: Group(of: [
            (name: "offset", at: 0, kind: Int(bits: 16)),
            (name: "gain", at: 2, kind: Int(bits: 16)),
        ])),
        (name: "setpoint", at: 0x40, kind: Int(bits: 16), scale: 0.1, unit: "°C", role: Setting, max: 100),
        (name: "fan", at: 0x42, kind: Int(bits: 8), role: Setting),
        (name: "lockouts", at: 0x50, role: Record, rest: 0xFF, caution: "find the cause first",
            kind: Table(rows: 4, stride: 8, of: [
                (name: "cause", at: 0, kind: Int(bits: 8)),
                (name: "hours", at: 4, kind: Int(bits: 32)),
            ])),
        (name: "hours", at: 0x78, kind: Int(bits: 32), role: Record),
        (name: "maker", at: 0xA0, kind: Bytes(bytes: 16), role: Reserved),
        (name: "spare", at: 0xC0, kind: Bytes(bytes: 16), role: Filler),
    ],
    checks: [
        (name: "identity", over: [(0x10, 0x3C)], stored: (at: 0x3C, bytes: 2), by: "CRC-16/XMODEM"),
        (name: "settings", over: [(0x40, 0x4E)], stored: (at: 0x4E, bytes: 2), by: "CRC-16/XMODEM"),
    ],
)"#;

pub(super) fn layout() -> Layout {
    layout::read(TEXT).expect("a layout without problems")
}

/// A sound image of unit `unit`: two lockouts recorded, checks sealed.
pub(super) fn unit(unit: u8) -> Image {
    let mut bytes = vec![0xFF; 256];
    bytes[0x00..0x02].copy_from_slice(b"BB");
    bytes[0x10..0x1C].copy_from_slice(b"BB-2047B    ");
    bytes[0x20..0x24].copy_from_slice(&[0x22, 0x07, 0x14, unit]);
    bytes[0x30..0x34].copy_from_slice(&[0x01, unit, 0x27, 0x10 + unit]);
    bytes[0x40..0x43].copy_from_slice(&[0x00, 0x28, 0x02]);
    for row in 0..2 {
        bytes[0x50 + row * 8] = 1 + row as u8;
        bytes[0x54 + row * 8..0x58 + row * 8].copy_from_slice(&[0, 0, 0x2B, 0xC4 + unit]);
    }
    bytes[0x78..0x7C].copy_from_slice(&[0, 0, 0x3A, 0x20]);
    bytes[0xA0..0xB0].copy_from_slice(b"MAKERS OWN BYTES");
    resealed(Image::raw(bytes))
}

/// The image with every check sealed.
pub(super) fn resealed(mut image: Image) -> Image {
    let change = layout::reseal(&layout(), &image, &[]).expect("checks that can be sealed");
    crate::edit::apply(&mut image, &change).expect("a change that fits");
    image
}

/// The image with some bytes written over.
pub(super) fn with(image: &Image, at: usize, bytes: &[u8]) -> Image {
    let mut image = image.clone();
    image.bytes_mut()[at..at + bytes.len()].copy_from_slice(bytes);
    image
}
