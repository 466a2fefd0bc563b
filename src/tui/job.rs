//! Work that takes its time and goes on beside the keys: what it is, how far it is, how it is called off.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};

use crate::survey::Course;

/// Work that goes on beside the keys.
#[derive(Debug)]
pub struct Job {
    /// Tells it from others of this session.
    pub id: u64,
    /// The images it looks at, the one that what is found is told of first.
    pub images: Vec<usize>,
    /// What the order of the images means.
    pub course: Course,
    /// Counts changes of the bytes of the first image, see [`super::sheet::Sheet::writes`]: when it began.
    pub writes: u64,
    /// How far it is, and whether it is called off.
    pub pace: Pace,
}

/// How far work is, seen from both sides.
#[derive(Debug, Clone, Default)]
pub struct Pace {
    percent: Arc<AtomicU8>,
    stop: Arc<AtomicBool>,
}

impl Pace {
    /// Notes the part that is done, 0 to 1; returns whether that is another per cent than before.
    #[must_use]
    pub fn note(&self, done: f64) -> bool {
        let percent = (done.clamp(0.0, 1.0) * 100.0) as u8;
        self.percent.fetch_max(percent, Ordering::Relaxed) < percent
    }

    /// Per cent that are done.
    #[must_use]
    pub fn percent(&self) -> u8 {
        self.percent.load(Ordering::Relaxed)
    }

    /// Calls the work off.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Set once the work is called off.
    #[must_use]
    pub fn stopped(&self) -> &AtomicBool {
        &self.stop
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_per_cent_is_told_once_and_never_goes_back() {
        let pace = Pace::default();
        let told: Vec<bool> = [0.0, 0.011, 0.012, 0.5, 0.4, 7.0].into_iter().map(|d| pace.note(d)).collect();
        assert_eq!(told, [false, true, false, true, false, true]);
        assert_eq!(pace.percent(), 100);
        assert!(!pace.stopped().load(Ordering::Relaxed));
        pace.clone().stop();
        assert!(pace.stopped().load(Ordering::Relaxed));
    }
}
