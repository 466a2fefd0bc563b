//! Comparing: two equal images of 64 MiB against `cmp`, the program and its core; two of 8 KiB with scattered changes
//! by the layout of the sample board; contents that moved in images of 1 MiB.
//!
//! `cargo bench --bench compare`. Where there is no `cmp`, the plain loop over bytes stands in for it.

#![allow(clippy::print_stdout)] // a bench prints what it measured

mod support;

use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use readproof::compare::align::align;
use readproof::compare::{Differences, compare, decode_both};
use readproof::image::Image;
use readproof::layout;
use support::noise;

/// The fastest of some rounds, so that other programs on the machine do not count.
fn fastest(rounds: usize, mut call: impl FnMut()) -> Duration {
    let round = |_| {
        let start = Instant::now();
        call();
        start.elapsed()
    };
    (0..rounds).map(round).min().unwrap_or_default()
}

/// One run of a program whose output is thrown away; `None` when it cannot be run.
fn run(program: &Path, words: &[&Path]) -> Option<()> {
    let status = Command::new(program).args(words).stdout(Stdio::null()).stderr(Stdio::null()).status();
    status.ok().filter(|s| s.success()).map(|_| ())
}

fn equal_images() {
    let bytes = noise(64 << 20, 1);
    let folder = std::env::temp_dir().join(format!("readproof-bench-{}", std::process::id()));
    if std::fs::create_dir_all(&folder).is_err() {
        return println!("no folder for two images of 64 MiB");
    }
    let (a, b) = (folder.join("a.bin"), folder.join("b.bin"));
    let written = std::fs::write(&a, &bytes).and_then(|()| std::fs::write(&b, &bytes));
    let (one, two) = (Image::raw(bytes.clone()), Image::raw(bytes));
    if written.is_ok() {
        let ours = Path::new(env!("CARGO_BIN_EXE_readproof"));
        let baseline = match run(Path::new("cmp"), &[&a, &b]) {
            Some(()) => fastest(9, || {
                run(Path::new("cmp"), &[&a, &b]);
            }),
            None => fastest(3, || {
                black_box(one.bytes().iter().zip(two.bytes()).filter(|(x, y)| x != y).count());
            }),
        };
        let program = fastest(9, || {
            run(ours, &[Path::new("compare"), &a, &b]);
        });
        let core = fastest(9, || {
            black_box(Differences::between(black_box(&one), black_box(&two)));
        });
        let ratio = |time: Duration| time.as_secs_f64() / baseline.as_secs_f64();
        println!("two equal images of 64 MiB; target: no more than 1.0");
        println!("cmp                 {baseline:>12.2?}    1.00");
        println!("readproof compare   {program:>12.2?}  {:>6.2}", ratio(program));
        println!("its core alone      {core:>12.2?}  {:>6.2}", ratio(core));
    }
    let _ = std::fs::remove_dir_all(&folder);
}

fn scattered_changes() {
    let Some((_, text)) = layout::SHIPPED.iter().find(|(name, _)| *name == "frostkeel-cr8.ron") else {
        return println!("no layout of the sample board");
    };
    let Ok(layout) = layout::read(text) else { return println!("the layout has problems") };
    let before = Image::raw(include_bytes!("../samples/unit7-read1.bin").to_vec());
    let mut after = before.clone();
    for (n, place) in noise(400, 2).chunks_exact(2).enumerate() {
        let at = usize::from(u16::from_le_bytes([place[0], place[1]])) % after.len();
        after.bytes_mut()[at] ^= (n as u8) | 1;
    }
    let decoded = decode_both(&layout, &before, &after);
    let bytes = fastest(200, || {
        black_box(Differences::between(black_box(&before), black_box(&after)));
    });
    let compared = fastest(200, || {
        black_box(compare(&before, &after, Some((&decoded.0, &decoded.1))));
    });
    let whole = fastest(100, || {
        let decoded = decode_both(&layout, &before, &after);
        black_box(compare(&before, &after, Some((&decoded.0, &decoded.1))));
    });
    let aligned = fastest(50, || {
        black_box(align(before.bytes(), after.bytes()));
    });
    println!("\ntwo images of 8 KiB, 200 bytes changed, {} fields; target: 2 ms", decoded.0.fields.len());
    println!("bytes               {bytes:>12.2?}");
    println!("by decoded fields   {compared:>12.2?}");
    println!("decoding included   {whole:>12.2?}");
    println!("aligned             {aligned:>12.2?}");
}

fn insertions() {
    let before = noise(1 << 20, 3);
    let mut after = before.clone();
    for n in 0..10 {
        let at = (n * 100_003 + 777) % after.len();
        after.splice(at..at, noise(5 + n * 13, n as u64 + 100));
    }
    let digest = fastest(20, || {
        use sha2::Digest as _;
        black_box(sha2::Sha256::digest(black_box(&before)));
    });
    let aligned = fastest(20, || {
        black_box(align(black_box(&before), black_box(&after)));
    });
    let (other, unlike) = (noise(1 << 20, 4), vec![0xA5; 1 << 20]);
    let apart = fastest(5, || {
        black_box(align(black_box(&before), black_box(&other)));
    });
    let uniform = fastest(5, || {
        black_box(align(black_box(&before), black_box(&unlike)));
    });
    let ratio = |time: Duration| time.as_secs_f64() / digest.as_secs_f64();
    println!("\ntwo images of 1 MiB; target: 200 ms with ten insertions");
    println!("sha-256 of one      {digest:>12.2?}     1.0");
    println!("ten insertions      {aligned:>12.2?}  {:>6.1}", ratio(aligned));
    println!("nothing in common   {apart:>12.2?}  {:>6.1}", ratio(apart));
    println!("one of them blank   {uniform:>12.2?}  {:>6.1}", ratio(uniform));
}

fn main() {
    equal_images();
    scattered_changes();
    insertions();
}
