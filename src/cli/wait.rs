//! Long work in the terminal: told how far it is when somebody watches, called off with Ctrl-C.

use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use crate::error::Error;
use crate::platform::Interrupts;

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
    const PATIENCE: Duration = Duration::from_millis(500);
    const PAUSE: Duration = Duration::from_millis(100);
    let cancel = Arc::new(AtomicBool::new(false));
    let interrupt = Interrupts::set(&cancel);
    let done = AtomicU32::new(0);
    let began = Instant::now();
    let watched = std::io::stderr().is_terminal();
    let mut shown = false;
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
                Err(mpsc::RecvTimeoutError::Timeout) if watched && began.elapsed() > PATIENCE => {
                    shown = true;
                    let percent = done.load(Ordering::Relaxed);
                    let _ = write!(err, "\r{doing}: {percent} %, Ctrl-C calls it off ")
                        .and_then(|()| err.flush());
                }
                Err(mpsc::RecvTimeoutError::Timeout) => {}
                Err(mpsc::RecvTimeoutError::Disconnected) => return None,
            }
        }
    });
    drop(interrupt);
    if shown {
        let _ = write!(err, "\r{:50}\r", "").and_then(|()| err.flush());
    }
    result.ok_or_else(|| Error::new("the search broke down").advice("report it with the images, if you may"))
}
