//! Timing that the benches share.

#![allow(dead_code)] // each bench uses a part of it

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// The shortest time that `work` took in `runs` runs, after one that warms up. The shortest is what the work costs;
/// the rest is what else the machine did.
pub fn shortest<T>(runs: usize, mut work: impl FnMut() -> T) -> Duration {
    std::hint::black_box(work());
    let timed = (0..runs.max(1)).map(|_| {
        let began = Instant::now();
        std::hint::black_box(work());
        began.elapsed()
    });
    timed.min().unwrap_or_default()
}

/// The shortest time of each of two works that take turns, so that both meet the same machine.
pub fn race<A, B>(
    runs: usize,
    mut ours: impl FnMut() -> A,
    mut theirs: impl FnMut() -> B,
) -> (Duration, Duration) {
    (0..runs.max(1)).fold((Duration::MAX, Duration::MAX), |best, _| {
        (best.0.min(shortest(1, &mut ours)), best.1.min(shortest(1, &mut theirs)))
    })
}

/// `first` in terms of `second`.
pub fn ratio(first: Duration, second: Duration) -> f64 {
    first.as_secs_f64() / second.as_secs_f64().max(f64::MIN_POSITIVE)
}

/// Bytes in which nothing repeats: Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8 (2003).
pub fn noise(len: usize, seed: u64) -> Vec<u8> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state
    };
    (0..len.div_ceil(8)).flat_map(|_| next().to_le_bytes()).take(len).collect()
}

struct Dice(u64);

impl Dice {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % end
    }
}

/// Makes images of 8 KiB in a tree of folders: samples as they are, with scattered bad bytes, with other settings, and
/// half noise.
pub fn images(folder: &Path, images: usize) -> std::io::Result<Vec<PathBuf>> {
    let package = Path::new(env!("CARGO_MANIFEST_DIR"));
    let names = ["unit7-read1.bin", "unit9.bin", "unit12.bin", "unit7-broken-check.bin"];
    let samples: Vec<Vec<u8>> =
        names.iter().map(|name| fs::read(package.join("samples").join(name))).collect::<Result<_, _>>()?;
    let mut dice = Dice(1);
    let mut paths = Vec::new();
    for number in 0..images {
        let mut bytes = samples[dice.below(samples.len())].clone();
        match number % 4 {
            0 => {}
            1 => (0..dice.below(60)).for_each(|_| bytes[dice.below(8192)] = dice.below(256) as u8),
            2 => bytes[0x100..0x1F0].fill_with(|| dice.below(256) as u8),
            _ => bytes[..4096].fill_with(|| dice.below(256) as u8),
        }
        let inner = folder.join(format!("{:02}", number % 100));
        fs::create_dir_all(&inner)?;
        paths.push(inner.join(format!("{number:05}.bin")));
        fs::write(&paths[number], bytes)?;
    }
    Ok(paths)
}
