//! Standard output that ends quietly when its reader goes away.

use std::io::{self, ErrorKind, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Writes to `inner` until its reader has closed the pipe; from then on swallows everything.
pub(super) struct Quiet<W> {
    inner: W,
    closed: Arc<AtomicBool>,
}

impl<W: Write> Quiet<W> {
    pub(super) fn new(inner: W) -> Self {
        Quiet { inner, closed: Arc::default() }
    }

    /// True once the reader has gone away.
    pub(super) fn is_closed(&self) -> bool {
        self.closed.load(Ordering::Relaxed)
    }

    /// Becomes true once the reader has gone away, for work that nobody needs then.
    pub(super) fn closed(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.closed)
    }

    fn settle<T>(&mut self, result: io::Result<T>, when_closed: T) -> io::Result<T> {
        match result {
            Err(error) if error.kind() == ErrorKind::BrokenPipe => {
                self.closed.store(true, Ordering::Relaxed);
                Ok(when_closed)
            }
            other => other,
        }
    }
}

impl<W: Write> Write for Quiet<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.is_closed() {
            return Ok(bytes.len());
        }
        let result = self.inner.write(bytes);
        self.settle(result, bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.is_closed() {
            return Ok(());
        }
        let result = self.inner.flush();
        self.settle(result, ())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Failing(ErrorKind);

    impl Write for Failing {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(self.0.into())
        }

        fn flush(&mut self) -> io::Result<()> {
            Err(self.0.into())
        }
    }

    #[test]
    fn a_reader_that_went_away_is_no_error_but_a_full_disk_is() {
        let mut gone = Quiet::new(Failing(ErrorKind::BrokenPipe));
        assert!(gone.write_all(b"text").is_ok() && gone.flush().is_ok() && gone.is_closed());
        let mut full = Quiet::new(Failing(ErrorKind::StorageFull));
        assert!(full.write_all(b"text").is_err() && full.flush().is_err() && !full.is_closed());
    }
}
