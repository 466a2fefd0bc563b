//! Long work in the terminal: told how far it is when somebody watches, called off with Ctrl-C.

use std::io::{self, IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use crate::error::Error;
use crate::platform::Interrupts;

/// Between two looks at how far it is.
const PAUSE: Duration = Duration::from_millis(100);

/// How far it is, on standard error, when somebody watches there and it takes its time.
pub(super) struct Progress {
    watched: bool,
    began: Instant,
    /// When it was last told.
    told: Option<Instant>,
    /// Columns that stand on the screen.
    stands: usize,
}

impl Progress {
    /// Begins; with `wanted` it is told where standard error is a terminal.
    pub(super) fn begin(wanted: bool) -> Self {
        let watched = wanted && io::stderr().is_terminal();
        Progress { watched, began: Instant::now(), told: None, stands: 0 }
    }

    /// Whether it is time to tell it.
    pub(super) fn is_due(&self) -> bool {
        const PATIENCE: Duration = Duration::from_millis(500);
        let soon = self.began.elapsed() < PATIENCE || self.told.is_some_and(|at| at.elapsed() < PAUSE);
        self.watched && !soon
    }

    /// Tells it in the place of what was told last.
    pub(super) fn show(&mut self, err: &mut dyn Write, said: &str) {
        // Where it cannot be shown, the work is still done.
        let _ = write!(err, "\r{said} ").and_then(|()| err.flush());
        self.told = Some(Instant::now());
        self.stands = self.stands.max(said.chars().count() + 1);
    }

    /// Takes it off the screen.
    pub(super) fn clear(&mut self, err: &mut dyn Write) {
        let columns = std::mem::take(&mut self.stands);
        if columns > 0 {
            let _ = write!(err, "\r{:columns$}\r", "").and_then(|()| err.flush());
        }
    }
}

/// Does `work` while this thread tells on `err` how far it is, in the form `searching: 40 %`; `doing` is the word.
/// The work tells the part done, 0 to 1, and ends soon once the flag it is given is set.
///
/// # Errors
/// When the work broke down.
pub(super) fn wait<T: Send>(
    doing: &str,
    err: &mut dyn Write,
    work: impl FnOnce(&(dyn Fn(f64) + Sync), &AtomicBool) -> T + Send,
) -> Result<T, Error> {
    let cancel = Arc::new(AtomicBool::new(false));
    let interrupt = Interrupts::set(&cancel);
    let done = AtomicU32::new(0);
    let mut progress = Progress::begin(true);
    let result = std::thread::scope(|scope| {
        let (sender, result) = mpsc::channel();
        let (cancel, done) = (&cancel, &done);
        scope.spawn(move || {
            let progress = |part: f64| done.store((part * 100.0) as u32, Ordering::Relaxed);
            // The other end waits; should it be gone, nobody wants the result.
            let _ = sender.send(work(&progress, cancel));
        });
        loop {
            match result.recv_timeout(PAUSE) {
                Ok(result) => return Some(result),
                Err(mpsc::RecvTimeoutError::Timeout) if progress.is_due() => {
                    let percent = done.load(Ordering::Relaxed);
                    progress.show(err, &format!("{doing}: {percent} %, Ctrl-C calls it off"));
                }
                Err(mpsc::RecvTimeoutError::Timeout) => {}
                Err(mpsc::RecvTimeoutError::Disconnected) => return None,
            }
        }
    });
    drop(interrupt);
    progress.clear(err);
    result.ok_or_else(|| Error::new("the search broke down").advice("report it with the images, if you may"))
}
