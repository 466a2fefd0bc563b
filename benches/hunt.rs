//! How long the hunt takes, and how much less than trying every range.
//! Targets on 2 cores: three images of 8 KiB, free placement, under 2 s; one of 8 KiB under 100 ms; one of 64 KiB
//! under 2 s; at 2 KiB at least 1000 times faster than trying every range.

// A bench talks to whoever runs it.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

mod support;

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use readproof::check::by_name;
use readproof::hunt::{Answer, LIMIT, Question, hunt};
use readproof::image::Image;
use support::{ratio, shortest};

fn ask(images: &[Image]) -> Answer {
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
    hunt(&question, &|_| {}, &AtomicBool::new(false))
}

fn noise(seed: u64, len: usize) -> Vec<u8> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    (0..len)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 24) as u8
        })
        .collect()
}

/// What trying every range costs, for one algorithm over `images`: every start, every end, the register carried on
/// from end to end, every place compared. Returns how many hits there were, so that nothing is optimised away.
fn every_range(images: &[Vec<u8>]) -> usize {
    let table: Vec<u16> = (0..256_u16)
        .map(|byte| {
            (0..8).fold(byte << 8, |crc, _| if crc & 0x8000 == 0 { crc << 1 } else { crc << 1 ^ 0x1021 })
        })
        .collect();
    let len = images[0].len();
    let mut hits = 0;
    for start in 0..len {
        let mut registers = vec![0_u16; images.len()];
        for end in start..len {
            for (register, image) in registers.iter_mut().zip(images) {
                *register = *register << 8 ^ table[usize::from((*register >> 8) as u8 ^ image[end])];
            }
            hits += (0..len - 1)
                .filter(|&at| {
                    images.iter().zip(&registers).all(|(image, &register)| {
                        let stored = u16::from_be_bytes([image[at], image[at + 1]]);
                        stored == register || stored.swap_bytes() == register
                    })
                })
                .count();
        }
    }
    hits
}

/// Images with one check over a quarter of them, the rest noise.
fn sealed(len: usize, count: u64) -> Vec<Vec<u8>> {
    let algorithm = by_name("CRC-16/XMODEM").unwrap();
    (1..=count)
        .map(|seed| {
            let mut bytes = noise(seed, len);
            let crc = algorithm.compute([&bytes[5..len / 4]]) as u16;
            bytes[len / 2 + 3..len / 2 + 5].copy_from_slice(&crc.to_le_bytes());
            bytes
        })
        .collect()
}

fn main() {
    let samples = |names: &[&str]| -> Vec<Image> {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
        names.iter().map(|name| Image::raw(std::fs::read(folder.join(name)).unwrap())).collect()
    };
    let three = samples(&["unit7-read1.bin", "unit9.bin", "unit12.bin"]);
    let tell = |what: &str, time: Duration, target: f64, answer: &Answer| {
        let part = time.as_secs_f64() / target;
        let first: Vec<String> =
            answer.hits.iter().take(3).map(|hit| format!("{} {}", hit.way.by, hit.way.over)).collect();
        println!(
            "{what}: {time:.0?}, {part:.2} of the target; {} hits: {}",
            answer.hits.len(),
            first.join(", ")
        );
    };
    tell("three samples of 8 KiB, free", shortest(2, || ask(&three)), 2.0, &ask(&three));
    tell("one sample of 8 KiB", shortest(5, || ask(&three[..1])), 0.1, &ask(&three[..1]));
    let large = [Image::raw(noise(7, 65_536))];
    tell("one image of 64 KiB", shortest(1, || ask(&large)), 2.0, &ask(&large));

    println!("\nagainst trying every range, three images of noise with one check:");
    let catalogue = readproof::check::catalogue().len() as f64 * 2.0;
    let mut before: Option<(Duration, Duration)> = None;
    for len in [128, 256, 512] {
        let bytes = sealed(len, 3);
        let images: Vec<Image> = bytes.iter().cloned().map(Image::raw).collect();
        let ours = shortest(2, || ask(&images));
        // One algorithm tried; the whole catalogue would take as many times as long.
        let one = shortest(1, || every_range(&bytes));
        let all = one.mul_f64(catalogue / 2.0);
        let growth = before.map_or(String::new(), |(a, b)| {
            format!(
                "; per doubling ours {:.1}, every range {:.1} times longer",
                ratio(ours, a),
                ratio(one, b)
            )
        });
        println!(
            "{len:>5} bytes: ours {ours:.1?}, every range {all:.1?}, {:.0} times{growth}",
            ratio(all, ours)
        );
        before = Some((ours, one));
    }
    // At 2 KiB every range would take minutes: it grows with the cube of the length, from what was measured.
    let ours = shortest(1, || {
        let images: Vec<Image> = sealed(2048, 3).into_iter().map(Image::raw).collect();
        ask(&images)
    });
    if let Some((_, one)) = before {
        let all = one.mul_f64(catalogue / 2.0 * 64.0);
        println!(
            " 2048 bytes: ours {ours:.1?}, every range (cube of 512 bytes) {all:.0?}, {:.0} times",
            ratio(all, ours)
        );
    }
}
