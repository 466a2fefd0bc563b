//! `--quiet`: nothing when all is well, one sentence when a person must look at something.

use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::{Console, Outcome};
use crate::error::Error;
use crate::report::text;

/// Runs a command and swallows what it prints, but for what is no report. Where it came to something that a person
/// must look at, its first sentence is told instead.
pub(super) fn run(
    console: &mut Console<'_>,
    run: impl FnOnce(&mut Console<'_>) -> Result<Outcome, Error>,
) -> Result<Outcome, Error> {
    let mut hushed = Hushed { out: console.out, loud: Arc::clone(&console.loud), head: Vec::new() };
    let mut inner = Console {
        out: &mut hushed,
        err: console.err,
        input: console.input,
        journal: None,
        sentence: None,
        gone: Arc::clone(&console.gone),
        loud: Arc::clone(&console.loud),
        typed: None,
        ..*console
    };
    let result = run(&mut inner);
    let (said, streamed) = (inner.sentence.take(), inner.streamed);
    console.lines = inner.lines;
    if result.as_ref().is_ok_and(|outcome| *outcome != Outcome::Good) {
        let sentence = said.unwrap_or_else(|| first_sentence(&hushed.head));
        let lines = text::wrap(&text::clean(&sentence), console.paint.width);
        let out = if streamed { &mut *console.err } else { &mut *console.out };
        for line in lines.iter().filter(|line| !line.is_empty()) {
            writeln!(out, "{line}")?;
        }
    }
    result
}

/// Bytes that are kept of what is swallowed: its first sentence is among them.
const HEAD_BYTES: usize = 4096;

struct Hushed<'a> {
    out: &'a mut dyn Write,
    loud: Arc<AtomicBool>,
    head: Vec<u8>,
}

impl Write for Hushed<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.loud.load(Ordering::Relaxed) {
            return self.out.write(bytes);
        }
        keep_head(&mut self.head, bytes, HEAD_BYTES);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// Keeps of `bytes` what fits into the first `most`.
pub(super) fn keep_head(head: &mut Vec<u8>, bytes: &[u8], most: usize) {
    let room = most.saturating_sub(head.len());
    head.extend(bytes.iter().take(room));
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

    #[test]
    fn only_what_is_no_report_passes_and_a_good_outcome_says_nothing() {
        let cases = [(Outcome::Good, "data"), (Outcome::Attention, "datano match: it is another.\n")];
        for (outcome, wanted) in cases {
            let (mut out, mut err, mut input) = (Vec::new(), Vec::new(), io::empty());
            let mut console = Console::new(&mut out, &mut err, &mut input);
            let told = run(&mut console, |console| {
                writeln!(console.out, "no match: it is another.\nmore")?;
                console.hand_over(b"data")?;
                Ok(outcome)
            });
            assert_eq!(told, Ok(outcome));
            assert_eq!(String::from_utf8(out).unwrap(), wanted);
        }
    }
}
