//! How far the work is, and whether it is called off.

use std::sync::atomic::{AtomicBool, Ordering};

/// Who watches a part of the work.
#[derive(Clone, Copy)]
pub(super) struct Watch<'a> {
    progress: &'a (dyn Fn(f64) + Sync),
    cancel: &'a AtomicBool,
    from: f64,
    to: f64,
}

impl<'a> Watch<'a> {
    /// Watches the whole.
    pub(super) fn new(progress: &'a (dyn Fn(f64) + Sync), cancel: &'a AtomicBool) -> Self {
        Watch { progress, cancel, from: 0.0, to: 1.0 }
    }

    /// Nobody watches.
    pub(super) fn nobody() -> Watch<'static> {
        static NEVER: AtomicBool = AtomicBool::new(false);
        Watch::new(&|_| (), &NEVER)
    }

    /// The same watcher for what takes this work from `from` to `to`, both parts of one.
    pub(super) fn part(self, from: f64, to: f64) -> Self {
        let at = |share: f64| self.from + (self.to - self.from) * share;
        Watch { from: at(from), to: at(to), ..self }
    }

    /// Tells that this share of the watched part is done.
    pub(super) fn done(self, share: f64) {
        (self.progress)(self.from + (self.to - self.from) * share);
    }

    /// Whether the work is called off.
    pub(super) fn is_cancelled(self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    /// Tells that `share` is done; whether to go on.
    pub(super) fn goes_on(self, share: f64) -> bool {
        self.done(share);
        !self.is_cancelled()
    }
}
