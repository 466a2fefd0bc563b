//! What a command keeps for the docket that `--docket` names.

use std::ffi::OsString;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::overhear::{first_sentence, overhear};
use super::{Console, Outcome};
use crate::compare::audit::Audit;
use crate::docket::{ChangeRecord, Entry, FindingRecord, MOST_CHANGES, Run, What};
use crate::error::Error;
use crate::finding::{Finding, Verdict};
use crate::image::Image;
use crate::layout::Layout;
use crate::report::paint::Paint;
use crate::report::text;
use crate::store::{self, DocketAdded, Opened};

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
    let heard = overhear(console, false, Some(ForDocket::new(docket, command, typed)), run);
    let (status, said) = match &heard.result {
        Ok(outcome) => (outcome.status(), heard.sentence()),
        Err(error) => (2, error.what.clone()),
    };
    console.sentence = heard.said;
    let Some(kept) = heard.for_docket else { return heard.result };
    let added = match store::add_to_docket(docket, &kept.entry(status, said)) {
        Ok(added) => added,
        // What the command could not do matters more.
        Err(error) => return heard.result.and(Err(error)),
    };
    if added.is_new {
        console.remark(&format!("a docket was begun: {}", text::path(docket)))?;
    }
    console.tell_damage(docket, &added)?;
    heard.result
}

/// What is known of the running command so far.
#[derive(Debug)]
pub(super) struct ForDocket {
    docket: PathBuf,
    run: Run,
    verdict: Option<Verdict>,
}

impl ForDocket {
    /// Of the command called `command`, for the docket at `docket`.
    fn new(docket: &Path, command: &str, arguments: &[OsString]) -> Self {
        let run = Run { command: command.to_owned(), line: line(arguments), ..Run::default() };
        ForDocket { docket: docket.to_owned(), run, verdict: None }
    }

    /// Of the same command, for one of several images that it works on at the same time.
    pub(super) fn for_one_image(&self) -> Self {
        let run = Run { command: self.run.command.clone(), line: self.run.line.clone(), ..Run::default() };
        ForDocket { docket: self.docket.clone(), run, verdict: None }
    }

    /// Takes what was kept about one of several images; the gravest verdict is that of all.
    pub(super) fn add(&mut self, one: ForDocket) {
        self.run.images.extend(one.run.images);
        self.run.findings.extend(one.run.findings);
        for caution in one.run.cautions {
            self.heed(&caution);
        }
        self.verdict = self.verdict.max(one.verdict);
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
        run.verdict = self.verdict.map(|verdict| verdict.word().to_owned());
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
        let Some(kept) = &mut self.for_docket else { return Ok(()) };
        kept.run.images.push(store::record_opened(&kept.docket, &role.into(), opened)?);
        Ok(())
    }

    /// Keeps in the docket, if there is one, what the layout of an image says is to be heeded.
    pub fn heeded(&mut self, layout: Option<&Layout>) {
        if let (Some(kept), Some(layout)) = (&mut self.for_docket, layout) {
            layout.cautions.iter().for_each(|caution| kept.heed(caution));
        }
    }

    /// Keeps in the docket, if there is one, that the command wrote the file at `path`.
    ///
    /// # Errors
    /// When the file cannot be read back.
    pub fn wrote(&mut self, role: impl Into<String>, path: &Path) -> Result<(), Error> {
        let Some(kept) = &mut self.for_docket else { return Ok(()) };
        kept.run.images.push(store::record_file(&kept.docket, &role.into(), path)?);
        Ok(())
    }

    /// Keeps in the docket, if there is one, what the command thinks and saw; `base` is the address of the first
    /// byte of the image that the findings speak of.
    pub fn judged(&mut self, verdict: Option<Verdict>, findings: &[Finding], base: u64) {
        let Some(kept) = &mut self.for_docket else { return };
        kept.verdict = verdict.or(kept.verdict);
        kept.run.findings.extend(findings.iter().map(|f| FindingRecord {
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
        if let Some(kept) = &mut self.for_docket {
            kept.run.said.clone_from(&sentence);
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
        if self.json && self.for_docket.is_some() {
            let mut printed = Vec::new();
            write(&mut printed, Paint::default())?;
            self.said(first_sentence(&printed));
        }
        Ok(())
    }

    /// Says where a docket that was damaged is kept as it was, before something was added to it.
    ///
    /// # Errors
    /// When it cannot be said.
    pub(super) fn tell_damage(&mut self, docket: &Path, added: &DocketAdded) -> Result<(), Error> {
        if let Some(aside) = &added.damaged {
            let (path, aside) = (text::path(docket), text::path(aside));
            writeln!(self.err, "readproof: {path} was damaged; it is kept as it was in {aside}")?;
        }
        Ok(())
    }

    /// Keeps in the docket, if there is one, the change list that was judged, and what is to be heeded about it.
    pub fn changed(&mut self, audit: &Audit, before: &Image, after: &Image) {
        let Some(kept) = &mut self.for_docket else { return };
        let changes = &audit.changes;
        if !changes.is_empty() {
            audit.cautions.iter().for_each(|caution| kept.heed(caution));
        }
        kept.run.more_changes = changes.len().saturating_sub(MOST_CHANGES);
        kept.run.changes = changes
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
