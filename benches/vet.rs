//! The work of `vet` on three reads, and of `find` in a large image, as ratios to a plain loop over the same bytes.
//!
//! The target of `vet`: three 8 KiB reads with the sample layout in less than 5 ms beyond the start of the program.
//! The target of `find`: 1 MiB in every encoding well below 100 ms.

#![allow(clippy::print_stdout)] // a bench prints what it measured

use std::hint::black_box;
use std::time::{Duration, Instant};

use readproof::find;
use readproof::image::Image;
use readproof::layout::{self, Layout};
use readproof::vet::{self, Ask};

/// The time of one call: the fastest of many, so that other programs on the machine do not count.
fn fastest(rounds: usize, mut call: impl FnMut()) -> Duration {
    (0..rounds)
        .map(|_| {
            let start = Instant::now();
            call();
            start.elapsed()
        })
        .min()
        .unwrap_or_default()
}

fn sample(name: &str) -> Option<Image> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples").join(name);
    std::fs::read(path).ok().map(Image::raw)
}

/// What a loop would do that only compares the reads and counts the bits that differ.
fn plain_loop(reads: &[&Image]) -> u32 {
    let Some((first, rest)) = reads.split_first() else { return 0 };
    let bits = |other: &&Image| {
        first.bytes().iter().zip(other.bytes()).map(|(a, b)| (a ^ b).count_ones()).sum::<u32>()
    };
    rest.iter().map(bits).sum()
}

fn print(what: &str, time: Duration, baseline: Duration) {
    println!("{what:<52} {time:>12.2?} {:>9.1}", time.as_secs_f64() / baseline.as_secs_f64().max(1e-9));
}

fn main() {
    let names = ["unit7-read1.bin", "unit7-read2.bin", "unit7-read3-poor.bin"];
    let Some(images) = names.iter().map(|n| sample(n)).collect::<Option<Vec<_>>>() else {
        return println!("the samples are missing; cargo run --example make-samples makes them");
    };
    let reads: Vec<&Image> = images.iter().collect();
    let layouts: Vec<Layout> =
        layout::SHIPPED.iter().filter_map(|(_, text)| layout::read(text).ok()).collect();
    let by_sample = layouts.iter().position(|l| l.title.starts_with("Frostkeel")).unwrap_or(0);
    let only = &layouts[by_sample..=by_sample];

    let baseline = fastest(200, || {
        black_box(plain_loop(black_box(&reads)));
    });
    println!("three reads of 8192 bytes{:>47} {:>9}", "time", "ratio");
    print("a plain loop over the bytes", baseline, baseline);
    for (what, layouts, named) in [
        ("vet, the bytes alone", &[][..], false),
        ("vet, the sample layout named", only, true),
        ("vet, the layout found among those shipped", &layouts, false),
    ] {
        let ask = Ask { layouts, named, ..Ask::default() };
        print(what, fastest(60, || drop(black_box(vet::vet(black_box(&reads), &ask)))), baseline);
    }
    let poor: Vec<&Image> = images.iter().skip(1).collect();
    let ask = Ask { layouts: &layouts, ..Ask::default() };
    print(
        "vet, two reads that disagree, any shipped layout",
        fastest(30, || drop(black_box(vet::vet(black_box(&poor), &ask)))),
        baseline,
    );

    let mut state = 1_u32;
    let noise: Vec<u8> = (0..1 << 20)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 24) as u8
        })
        .collect();
    let zeros = Image::raw(vec![0; 1 << 20]);
    let text = Image::raw(
        b"FK-CR8-2047C FK-CR8-2O47B serial 2207140312 ".iter().copied().cycle().take(1 << 20).collect(),
    );
    let noise = Image::raw(noise);
    let baseline = fastest(50, || {
        black_box(black_box(&noise).bytes().iter().map(|b| u32::from(b.to_ascii_uppercase())).sum::<u32>());
    });
    println!("\nan image of 1 MiB{:>55} {:>9}", "time", "ratio");
    print("a plain loop over the bytes", baseline, baseline);
    for (what, image) in [("noise", &noise), ("zeros", &zeros), ("text like the wanted one", &text)] {
        for wanted in ["FK-CR8-2047B", "2207140312", "0000000000"] {
            let time = fastest(5, || drop(black_box(find::find(black_box(image), wanted))));
            print(&format!("find {wanted} in {what}"), time, baseline);
        }
    }
}
