//! What `docket` prints: the record of a job as text and as JSON.

use std::io::{self, Write};

use serde::Serialize;

use super::head::write_opening;
use super::json::Report;
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::{finding, text};
use crate::docket::{Docket, Entry, FindingRecord, ImageRecord, Label, Run, What};
use crate::finding::{Finding, Verdict, Weight};

/// A docket with what has become of its images.
pub struct Shown<'a> {
    /// Its file.
    pub path: text::Name,
    /// What it holds.
    pub docket: &'a Docket,
    /// Every recorded image, and the state of its file in words.
    pub images: Vec<(&'a ImageRecord, State)>,
    /// What is wrong with the docket or with its images.
    pub findings: &'a [Finding],
}

/// The state of a recorded file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// As recorded.
    Same,
    /// Another content.
    Changed,
    /// Not to be read.
    Missing,
    /// It never was a file.
    Stream,
}

impl State {
    /// The words on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            State::Same => "as recorded",
            State::Changed => "changed",
            State::Missing => "missing",
            State::Stream => "from a stream",
        }
    }

    const fn tone(self) -> Tone {
        match self {
            State::Same => Tone::Good,
            State::Changed | State::Missing => Tone::Bad,
            State::Stream => Tone::Quiet,
        }
    }
}

impl Shown<'_> {
    /// What the findings add up to.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        Verdict::of(self.findings)
    }

    /// The first sentence: whether the record still stands.
    #[must_use]
    pub fn sentence(&self) -> String {
        let of = |state: State| self.images.iter().filter(|(_, s)| *s == state).count();
        let (changed, missing) = (of(State::Changed), of(State::Missing));
        let images = text::count(self.images.len(), "image");
        let damaged = self.findings.iter().any(|f| f.weight == Weight::Doubt);
        let images = match (changed, missing, self.images.len()) {
            (_, _, 0) => "no image is recorded".to_owned(),
            (0, 0, 1) => "the 1 image is as recorded".to_owned(),
            (0, 0, _) => format!("all {images} are as recorded"),
            (changed, 0, _) => format!("of {images} {changed} changed since"),
            (0, missing, _) => format!("of {images} {missing} missing"),
            (changed, missing, _) => format!("of {images} {changed} changed since, {missing} missing"),
        };
        let damaged = if damaged { "; a part of the docket makes no sense" } else { "" };
        format!("{}: {images}{damaged}", self.verdict().word())
    }

    fn write_sentence(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let verdict = self.verdict();
        write_opening(out, paint, verdict, verdict.word(), &format!("{}.", self.sentence()))
    }

    /// The recorded images, then what is wrong.
    fn write_images(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let mut table = Table::new(&["state", "role", "bytes", "sha-256", "file"]).right(2);
        for (image, state) in &self.images {
            table.row([
                Cell::new(state.tone(), state.word()),
                image.role.as_str().into(),
                image.bytes.to_string().into(),
                text::digest(&image.sha256, paint).into(),
                image.path.as_str().into(),
            ]);
        }
        if !table.is_empty() {
            writeln!(out)?;
            table.write(out, paint)?;
        }
        if !self.findings.is_empty() {
            writeln!(out)?;
            finding::write(out, paint, self.findings, 0)?;
        }
        Ok(())
    }

    /// Prints whether the images are still those that were recorded.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_check(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        self.write_sentence(out, paint)?;
        self.write_images(out, paint)
    }

    /// Prints the whole record.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_report(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        self.write_sentence(out, paint)?;
        let mut table = Table::new(&["", ""]);
        let label = self.docket.label();
        let lines = [("job", Some(self.docket.job()).filter(|j| !j.is_empty()))];
        for (name, value) in lines.into_iter().chain(label_lines(&label)) {
            if let Some(value) = value {
                table.row([Cell::new(Tone::Quiet, name), value.into()]);
            }
        }
        table.write(out, paint)?;
        self.write_images(out, paint)?;
        let cautions: Vec<String> = self.docket.cautions().iter().map(ToString::to_string).collect();
        if !cautions.is_empty() {
            writeln!(out)?;
            super::audit::write_cautions(out, paint, &cautions)?;
        }
        for entry in &self.docket.entries {
            writeln!(out)?;
            write_entry(out, paint, entry)?;
        }
        Ok(())
    }

    /// The JSON object of `check` or `report`.
    #[must_use]
    pub fn json(&self) -> Report<DocketJson> {
        let label = self.docket.label();
        let body = DocketJson {
            docket: self.path.to_string(),
            path_bytes: self.path.bytes().map(str::to_owned),
            job: self.docket.job().to_owned(),
            label: LabelJson::from(&label),
            cautions: self.docket.cautions().iter().map(ToString::to_string).collect(),
            images: self.images.iter().map(|(image, state)| ImageJson::new(image, *state)).collect(),
            entries: self.docket.entries.iter().map(EntryJson::from).collect(),
        };
        Report::new("docket", Some(self.verdict()), self.findings, 0, body)
    }
}

/// The lines of a label with their names.
pub(super) fn label_lines(label: &Label) -> [(&'static str, Option<&str>); 4] {
    [
        ("unit", label.unit.as_deref()),
        ("part number on the label", label.part_number.as_deref()),
        ("serial on the label", label.serial.as_deref()),
        ("marking on the chip", label.chip.as_deref()),
    ]
}

/// A time as people read it: `2026-11-25 13:40:12 UTC`.
pub(super) fn time(at: &str) -> String {
    match at.split_once('T') {
        Some((day, clock)) if clock.ends_with('Z') => format!("{day} {} UTC", clock.trim_end_matches('Z')),
        _ => at.to_owned(),
    }
}

/// An entry in a few words.
pub(super) fn title(entry: &Entry) -> String {
    match &entry.what {
        What::Opened(_) => "the docket was begun".to_owned(),
        What::Labelled(_) => "label".to_owned(),
        What::Noted(_) => "note".to_owned(),
        What::Added(image) => format!("image: {}", image.role),
        What::Ran(run) => match (run.verdict.as_deref(), run.status) {
            (Some(verdict), _) => format!("{}: {verdict}", run.command),
            (None, 2) => format!("{}: could not be done", run.command),
            (None, _) => run.command.clone(),
        },
    }
}

fn write_entry(out: &mut dyn Write, paint: Paint, entry: &Entry) -> io::Result<()> {
    let head = format!("{}  {}", time(&entry.at), title(entry));
    writeln!(out, "{}", paint.tone(Tone::Strong, &text::clean(&head)))?;
    let mut indented = |said: &str| -> io::Result<()> {
        for line in text::wrap(&text::clean(said), paint.width.saturating_sub(2)) {
            writeln!(out, "  {line}")?;
        }
        Ok(())
    };
    match &entry.what {
        What::Opened(job) if !job.is_empty() => indented(job),
        What::Opened(_) => Ok(()),
        What::Noted(note) => note.lines().try_for_each(indented),
        What::Labelled(label) => label_lines(label)
            .into_iter()
            .filter_map(|(name, value)| Some(format!("{name}: {}", value?)))
            .try_for_each(|line| indented(&line)),
        What::Added(image) => {
            let bytes = text::count(usize::try_from(image.bytes).unwrap_or(usize::MAX), "byte");
            indented(&format!("{}, {bytes}, sha-256 {}", image.path, image.sha256))
        }
        What::Ran(run) => {
            indented(&run.line)?;
            if !run.said.is_empty() {
                indented(&run.said)?;
            }
            write_run(out, paint, run)
        }
    }
}

fn write_run(out: &mut dyn Write, paint: Paint, run: &Run) -> io::Result<()> {
    let mut table = Table::new(&["", "", ""]).indent(2);
    for finding in &run.findings {
        let told = text::sentence(&finding.seen);
        table.row([Cell::new(weight(finding), &finding.weight), finding.code.as_str().into(), told.into()]);
    }
    table.write(out, paint)?;
    if run.changes.is_empty() {
        return Ok(());
    }
    let mut table = Table::new(&["at", "before", "after", "field"]).indent(2);
    let most = if paint.whole { run.changes.len() } else { TEXT_CHANGES };
    for change in run.changes.iter().take(most) {
        table.row([
            text::address(change.at),
            shortened(&change.before),
            shortened(&change.after),
            change.fields.join(", "),
        ]);
    }
    table.write(out, paint)?;
    let left = run.changes.len().saturating_sub(most) + run.more_changes;
    if left > 0 {
        writeln!(out, "  … {}", text::count(left, "more change"))?;
    }
    let mut table = Table::new(&["", ""]).indent(2);
    for caution in &run.cautions {
        table.row([Cell::new(Tone::Doubt, "caution"), caution.as_str().into()]);
    }
    table.write(out, paint)
}

/// The weight of a recorded finding; what no version knows is a note.
pub(super) fn weight(finding: &FindingRecord) -> Weight {
    let known = [Weight::Fault, Weight::Doubt].into_iter().find(|weight| weight.word() == finding.weight);
    known.unwrap_or(Weight::Note)
}

/// Changes of one command that the text tells; the page tells all that are kept.
const TEXT_CHANGES: usize = 12;

/// Hexadecimal digits in pairs, at most six of them.
pub(super) fn shortened(hex: &str) -> String {
    const MOST: usize = 6;
    let digits: Vec<char> = hex.chars().collect();
    let pairs: Vec<String> = digits.chunks(2).take(MOST).map(|p| p.iter().collect()).collect();
    let more = if digits.len() > MOST * 2 { " …" } else { "" };
    format!("{}{more}", pairs.join(" "))
}

/// What `docket check` and `docket report` print as JSON besides the common keys.
#[derive(Debug, Serialize)]
pub struct DocketJson {
    docket: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
    job: String,
    label: LabelJson,
    cautions: Vec<String>,
    images: Vec<ImageJson>,
    entries: Vec<EntryJson>,
}

#[derive(Debug, Serialize)]
struct LabelJson {
    unit: Option<String>,
    part_number: Option<String>,
    serial: Option<String>,
    chip: Option<String>,
}

impl From<&Label> for LabelJson {
    fn from(label: &Label) -> Self {
        let Label { part_number, serial, chip, unit } = label.clone();
        LabelJson { unit, part_number, serial, chip }
    }
}

#[derive(Debug, Serialize)]
struct ImageJson {
    role: String,
    path: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
    bytes: u64,
    sha256: String,
    modified: Option<String>,
    state: &'static str,
}

impl ImageJson {
    fn new(image: &ImageRecord, state: State) -> Self {
        ImageJson {
            role: image.role.clone(),
            path: image.path.clone(),
            path_bytes: image.path_bytes.as_deref().map(text::hex_plain),
            bytes: image.bytes,
            sha256: image.sha256.clone(),
            modified: image.modified.clone(),
            state: state.word(),
        }
    }
}

#[derive(Debug, Serialize)]
struct EntryJson {
    at: String,
    kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    text: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    label: Option<LabelJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    run: Option<RunJson>,
}

#[derive(Debug, Serialize)]
struct RunJson {
    command: String,
    line: String,
    status: u8,
    verdict: Option<String>,
    said: String,
    findings: Vec<FindingRecordJson>,
    changes: usize,
    cautions: Vec<String>,
}

#[derive(Debug, Serialize)]
struct FindingRecordJson {
    weight: String,
    code: String,
    at: Option<u64>,
    seen: String,
}

impl From<&Entry> for EntryJson {
    fn from(entry: &Entry) -> Self {
        let empty = |kind| EntryJson { at: entry.at.clone(), kind, text: None, label: None, run: None };
        match &entry.what {
            What::Opened(job) => EntryJson { text: Some(job.clone()), ..empty("opened") },
            What::Noted(note) => EntryJson { text: Some(note.clone()), ..empty("note") },
            What::Labelled(label) => EntryJson { label: Some(label.into()), ..empty("label") },
            What::Added(image) => EntryJson { text: Some(image.path.clone()), ..empty("image") },
            What::Ran(run) => EntryJson { run: Some(run.into()), ..empty("ran") },
        }
    }
}

impl From<&Run> for RunJson {
    fn from(run: &Run) -> Self {
        let finding = |f: &FindingRecord| FindingRecordJson {
            weight: f.weight.clone(),
            code: f.code.clone(),
            at: f.at,
            seen: f.seen.clone(),
        };
        RunJson {
            command: run.command.clone(),
            line: run.line.clone(),
            status: run.status,
            verdict: run.verdict.clone(),
            said: run.said.clone(),
            findings: run.findings.iter().map(finding).collect(),
            changes: run.changes.len() + run.more_changes,
            cautions: run.cautions.clone(),
        }
    }
}
