//! Decoding by a layout, as a ratio to one SHA-256 of the same bytes in the same run.
//!
//! `cargo bench --bench decode` takes the display layout that comes with the program and a display memory of its
//! own; `cargo bench --bench decode -- LAYOUT IMAGE` takes others.

#![allow(clippy::print_stdout)] // a bench prints what it measured

use std::hint::black_box;
use std::time::{Duration, Instant};

use readproof::image::Image;
use readproof::layout;
use sha2::Digest;

/// The time of one call: the fastest of many short rounds, so that other programs on the machine do not count.
fn fastest(mut call: impl FnMut()) -> Duration {
    (0..400)
        .map(|_| {
            let (start, mut calls) = (Instant::now(), 0u32);
            while start.elapsed() < Duration::from_millis(1) {
                call();
                calls += 1;
            }
            start.elapsed() / calls
        })
        .min()
        .unwrap_or_default()
}

/// A base block with one timing and three descriptors, and an extension block with data blocks and timings.
fn display() -> Vec<u8> {
    let mut bytes = vec![0u8; 256];
    bytes[..8].copy_from_slice(&[0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0]);
    bytes[8..20].copy_from_slice(&[0x1A, 0xCB, 1, 0, 5, 0, 0, 0, 12, 30, 1, 3]);
    let timing = [
        0xC7, 0x1B, 0x00, 0xA0, 0x50, 0x20, 0x17, 0x30, 0x30, 0x20, 0x36, 0x00, 0x96, 0x5E, 0x10, 0x00, 0x00,
        0x1A,
    ];
    bytes[54..72].copy_from_slice(&timing);
    for (n, tag) in [0xFC, 0xFF, 0xFE].into_iter().enumerate() {
        let at = 72 + 18 * n;
        bytes[at + 3] = tag;
        bytes[at + 5..at + 18].copy_from_slice(b"Frostkeel\n   ");
    }
    bytes[126] = 1;
    bytes[128..132].copy_from_slice(&[2, 3, 20, 0x31]);
    bytes[132..143].copy_from_slice(&[0x6A, 3, 12, 0, 0x10, 0, 0x78, 0xE6, 0x80, 5, 0]);
    bytes[143..148].copy_from_slice(&[0x44, 0x84, 0x10, 3, 1]);
    bytes[148..166].copy_from_slice(&timing);
    bytes[166..184].copy_from_slice(&timing);
    bytes
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter(|a| !a.starts_with("--"));
    let shipped =
        layout::SHIPPED.iter().find(|(name, _)| *name == "edid.ron").map(|(_, text)| text.to_string());
    let text = arguments.next().and_then(|path| std::fs::read_to_string(path).ok()).or(shipped);
    let Some(text) = text else { return println!("no layout to decode by") };
    let bytes = arguments.next().and_then(|path| std::fs::read(path).ok()).unwrap_or_else(display);
    let Ok(read) = layout::read(&text) else { return println!("the layout has problems") };
    let image = Image::raw(bytes.clone());
    let decoded = layout::decode(&read, &image);

    let digest = fastest(|| {
        black_box(sha2::Sha256::digest(black_box(&bytes)));
    });
    let decode = fastest(|| {
        black_box(layout::decode(black_box(&read), black_box(&image)));
    });
    let reading = fastest(|| {
        let _ = black_box(layout::read(black_box(&text)));
    });
    let ratio = |time: Duration| time.as_secs_f64() / digest.as_secs_f64();
    println!("{} bytes, {} fields, {} checks", bytes.len(), decoded.fields.len(), decoded.checks.len());
    println!("sha-256          {digest:>12.2?}     1.0");
    println!("decode           {decode:>12.2?}  {:>6.1}", ratio(decode));
    println!("read the layout  {reading:>12.2?}  {:>6.1}", ratio(reading));
}
