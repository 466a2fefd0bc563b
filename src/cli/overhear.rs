//! A command that is listened to: what it prints goes on its way, or nowhere, and its beginning is kept.

use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::for_docket::ForDocket;
use super::{Console, Outcome};
use crate::error::Error;

/// What was heard of a command.
pub(super) struct Heard {
    /// What came of it.
    pub(super) result: Result<Outcome, Error>,
    /// Its first sentence, where it said which that is.
    pub(super) said: Option<String>,
    /// The beginning of what it printed.
    head: Vec<u8>,
    /// What it would have kept in the docket.
    pub(super) for_docket: Option<ForDocket>,
}

impl Heard {
    /// Its first sentence.
    pub(super) fn sentence(&self) -> String {
        self.said.clone().unwrap_or_else(|| first_sentence(&self.head))
    }
}

/// Runs a command. With `hushed` only what is no report goes on; what it keeps for the docket goes into `for_docket`.
pub(super) fn overhear(
    console: &mut Console<'_>,
    hushed: bool,
    for_docket: Option<ForDocket>,
    run: impl FnOnce(&mut Console<'_>) -> Result<Outcome, Error>,
) -> Heard {
    let passes = hushed.then(|| Arc::clone(&console.loud));
    let mut ear = Ear { out: console.out, passes, head: Vec::new() };
    let mut inner = Console {
        out: &mut ear,
        err: console.err,
        input: console.input,
        for_docket,
        sentence: None,
        gone: Arc::clone(&console.gone),
        loud: Arc::clone(&console.loud),
        typed: None,
        ..*console
    };
    let result = run(&mut inner);
    let (said, for_docket) = (inner.sentence.take(), inner.for_docket.take());
    (console.lines, console.streamed) = (inner.lines, inner.streamed);
    Heard { result, said, head: ear.head, for_docket }
}

/// A stream that keeps the beginning of what is written.
struct Ear<'a> {
    out: &'a mut dyn Write,
    /// When what is written goes on; always without it.
    passes: Option<Arc<AtomicBool>>,
    head: Vec<u8>,
}

/// Bytes that are kept: the first sentence is among them.
const HEAD_BYTES: usize = 4096;

impl Write for Ear<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = match &self.passes {
            Some(loud) if loud.load(Ordering::Relaxed) => return self.out.write(bytes),
            Some(_) => bytes.len(),
            None => self.out.write(bytes)?,
        };
        let room = HEAD_BYTES.saturating_sub(self.head.len());
        self.head.extend(bytes.iter().take(written.min(room)));
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// The first sentence of what was printed: the lines up to one that ends it.
pub(super) fn first_sentence(printed: &[u8]) -> String {
    let text = String::from_utf8_lossy(printed);
    let mut sentence = String::new();
    for line in text.lines().take(6) {
        if line.is_empty() || line.starts_with('{') {
            break;
        }
        if !sentence.is_empty() {
            sentence.push(' ');
        }
        sentence.push_str(line.trim());
        if line.ends_with('.') {
            break;
        }
    }
    sentence
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_sentence_is_heard_although_it_is_wrapped() {
        let told = b"not safe to write: the check\nis wrong.\nbefore  a.bin\n";
        assert_eq!(first_sentence(told), "not safe to write: the check is wrong.");
        assert_eq!(first_sentence(b"{\n  \"schema\": 1\n}"), "");
    }
}
