//! What a command adds to the docket named by `--docket`.

use std::ffi::OsString;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::hush::{first_sentence, keep_head};
use super::{Console, Outcome};
use crate::compare::audit::Audit;
use crate::docket::{ChangeRecord, Entry, FindingRecord, MOST_CHANGES, Run, What};
use crate::error::Error;
use crate::finding::{Finding, Verdict};
use crate::image::Image;
use crate::layout::Layout;
use crate::report::paint::Paint;
use crate::report::text;
use crate::store::{self, Opened};

/// Runs a command and adds it to the docket, whatever came of it.
pub(super) fn run(
    docket: &Path,
    command: &'static str,
    typed: &[OsString],
    console: &mut Console<'_>,
    run: impl FnOnce(&mut Console<'_>) -> Result<Outcome, Error>,
) -> Result<Outcome, Error> {
    if command == "docket" {
        return Err(Error::new("a docket is not kept of the docket command itself")
            .advice("leave --docket out; `readproof docket` takes the docket as its argument"));
    }
    let mut out = Overheard::new(console.out);
    let mut inner = Console {
        out: &mut out,
        err: console.err,
        input: console.input,
        journal: Some(Journal::new(docket, command, typed)),
        sentence: None,
        gone: Arc::clone(&console.gone),
        loud: Arc::clone(&console.loud),
        typed: None,
        ..*console
    };
    let result = run(&mut inner);
    (console.lines, console.streamed) = (inner.lines, inner.streamed);
    console.sentence = inner.sentence.take();
    let Some(journal) = inner.journal.take() else { return result };
    let (status, said) = match &result {
        Ok(outcome) => (outcome.status(), first_sentence(&out.head)),
        Err(error) => (2, error.what.clone()),
    };
    let added = match store::add_to_docket(docket, &journal.entry(status, said)) {
        Ok(added) => added,
        // What the command could not do matters more.
        Err(error) => return result.and(Err(error)),
    };
    let path = text::path(docket);
    if added.is_new {
        console.remark(&format!("a docket was begun: {path}"))?;
    }
    if let Some(aside) = added.damaged {
        let aside = text::path(&aside);
        writeln!(console.err, "readproof: {path} was damaged; it is kept as it was in {aside}")?;
    }
    result
}

/// What is known of the running command so far.
#[derive(Debug)]
pub(super) struct Journal {
    docket: PathBuf,
    run: Run,
}

impl Journal {
    /// A journal for the docket at `docket`, of the command called `command`.
    fn new(docket: &Path, command: &str, arguments: &[OsString]) -> Self {
        let run = Run { command: command.to_owned(), line: line(arguments), ..Run::default() };
        Journal { docket: docket.to_owned(), run }
    }

    /// A journal of the same command, for one of several images that it works on at the same time.
    pub(super) fn for_one_image(&self) -> Self {
        let run = Run { command: self.run.command.clone(), line: self.run.line.clone(), ..Run::default() };
        Journal { docket: self.docket.clone(), run }
    }

    /// Takes what was kept about one of several images; the gravest verdict is that of all.
    pub(super) fn add(&mut self, one: Journal) {
        self.run.images.extend(one.run.images);
        self.run.findings.extend(one.run.findings);
        for caution in one.run.cautions {
            self.heed(&caution);
        }
        let gravity = |word: &Option<String>| {
            let all = [Verdict::Sound, Verdict::Doubtful, Verdict::Unsound];
            all.iter().position(|v| word.as_deref() == Some(v.word()))
        };
        if gravity(&one.run.verdict) > gravity(&self.run.verdict) {
            self.run.verdict = one.run.verdict;
        }
    }

    fn heed(&mut self, caution: &str) {
        if !self.run.cautions.iter().any(|known| known == caution) {
            self.run.cautions.push(caution.to_owned());
        }
    }

    /// The entry, once the command has ended.
    fn entry(self, status: u8, said: String) -> Entry {
        let mut run = self.run;
        run.status = status;
        if run.said.is_empty() {
            run.said = said;
        }
        Entry { at: store::now(), what: What::Ran(run) }
    }
}

impl Console<'_> {
    /// Keeps in the docket, if there is one, that the command read `opened`, which is `role` to the job.
    ///
    /// # Errors
    /// When its digest cannot be made.
    pub fn saw(&mut self, role: impl Into<String>, opened: &Opened) -> Result<(), Error> {
        let Some(journal) = &mut self.journal else { return Ok(()) };
        journal.run.images.push(store::record_opened(&journal.docket, &role.into(), opened)?);
        Ok(())
    }

    /// Keeps in the docket, if there is one, what the layout of an image says is to be heeded.
    pub fn heeded(&mut self, layout: Option<&Layout>) {
        if let (Some(journal), Some(layout)) = (&mut self.journal, layout) {
            layout.cautions.iter().for_each(|caution| journal.heed(caution));
        }
    }

    /// Keeps in the docket, if there is one, that the command wrote the file at `path`.
    ///
    /// # Errors
    /// When the file cannot be read back.
    pub fn wrote(&mut self, role: impl Into<String>, path: &Path) -> Result<(), Error> {
        let Some(journal) = &mut self.journal else { return Ok(()) };
        journal.run.images.push(store::record_file(&journal.docket, &role.into(), path)?);
        Ok(())
    }

    /// Keeps in the docket, if there is one, what the command thinks and saw; `base` is the address of the first
    /// byte of the image that the findings speak of.
    pub fn judged(&mut self, verdict: Option<Verdict>, findings: &[Finding], base: u64) {
        let Some(journal) = &mut self.journal else { return };
        let word = verdict.map(Verdict::word).map(str::to_owned);
        journal.run.verdict = word.or(journal.run.verdict.take());
        journal.run.findings.extend(findings.iter().map(|f| FindingRecord {
            weight: f.weight.word().to_owned(),
            code: f.code.word().to_owned(),
            at: f.place.map(|p| base.saturating_add(p.start as u64)),
            seen: f.seen.clone(),
            means: f.means.clone(),
            advice: f.advice.clone(),
        }));
    }

    /// Keeps the command's first sentence, for the docket if there is one and for `--quiet`.
    pub fn said(&mut self, sentence: impl Into<String>) {
        let sentence = sentence.into();
        if let Some(journal) = &mut self.journal {
            journal.run.said.clone_from(&sentence);
        }
        self.sentence = Some(sentence);
    }

    /// Keeps in the docket, if there is one, the first sentence of what `write` prints; for JSON, where it is not
    /// heard on the way to the output.
    ///
    /// # Errors
    /// When `write` fails.
    pub fn hears(
        &mut self,
        write: impl FnOnce(&mut dyn Write, Paint) -> io::Result<()>,
    ) -> Result<(), Error> {
        if self.json && self.journal.is_some() {
            let mut nowhere = io::sink();
            let mut heard = Overheard::new(&mut nowhere);
            write(&mut heard, Paint::default())?;
            let sentence = first_sentence(&heard.head);
            self.said(sentence);
        }
        Ok(())
    }

    /// Keeps in the docket, if there is one, the change list that was judged, and what is to be heeded about it.
    pub fn changed(&mut self, audit: &Audit, before: &Image, after: &Image) {
        let Some(journal) = &mut self.journal else { return };
        let changes = &audit.changes;
        if !changes.is_empty() {
            audit.cautions.iter().for_each(|caution| journal.heed(caution));
        }
        journal.run.more_changes = changes.len().saturating_sub(MOST_CHANGES);
        journal.run.changes = changes
            .iter()
            .take(MOST_CHANGES)
            .map(|judged| {
                let span = judged.changed.span;
                let hex = |image: &Image| text::hex_plain(span.of_bytes(image.bytes()).unwrap_or_default());
                ChangeRecord {
                    at: before.address(span.start),
                    before: hex(before),
                    after: hex(after),
                    fields: judged.changed.paths().map(str::to_owned).collect(),
                    allowed: Some(judged.allowed),
                }
            })
            .collect();
    }
}

/// The arguments as they are typed in a shell.
fn line(arguments: &[OsString]) -> String {
    let words: Vec<String> = arguments.iter().skip(1).map(|word| text::word(word)).collect();
    format!("readproof {}", words.join(" "))
}

/// A stream that hands on everything and keeps the beginning.
struct Overheard<'a> {
    out: &'a mut dyn Write,
    head: Vec<u8>,
}

/// Bytes that are kept.
const HEAD_BYTES: usize = 2048;

impl<'a> Overheard<'a> {
    fn new(out: &'a mut dyn Write) -> Self {
        Overheard { out, head: Vec::new() }
    }
}

impl Write for Overheard<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes)?;
        keep_head(&mut self.head, bytes.get(..written).unwrap_or(bytes), HEAD_BYTES);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_can_be_typed_again() {
        let arguments: Vec<OsString> =
            ["x", "vet", "a b.bin", "--expect", "part=it's"].map(Into::into).to_vec();
        assert_eq!(line(&arguments), r"readproof vet 'a b.bin' --expect 'part=it'\''s'");
    }
}
