//! Timing that the benches share.

#![allow(dead_code)] // each bench uses a part of it

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
