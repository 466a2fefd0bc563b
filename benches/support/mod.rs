//! Timing that the benches share.

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
