//! Entries as text.
//!
//! ```ron
//! (
//!     docket: 1,
//!     entries: [
//!         Opened(at: "2026-11-25T13:40:12Z", job: "Cold store 3, locked out"),
//!         Label(at: "2026-11-25T13:40:30Z", part_number: "FK-CR8-2047B", chip: "24C64"),
//!         Note(at: "2026-11-25T13:41:00Z", text: "clip on the second try"),
//!     ],
//! )
//! ```

use serde::{Deserialize, Serialize};

use super::super::text::{Address, Bytes, pretty, ron};
use crate::docket::{ChangeRecord, Entry, FindingRecord, ImageRecord, Label, Run, What};

/// What a docket begins with.
const HEAD: &str = "// readproof docket: the record of one job, kept beside its images.\n\
    // Remarks may be added; entries are only ever added at the end.\n\
    (\n    docket: 1,\n    entries: [\n";

/// What a docket ends with.
const TAIL: &str = "    ],\n)\n";

/// The words that entries begin with.
pub(super) const WORDS: [&str; 5] = ["Opened", "Label", "Note", "Image", "Ran"];

#[derive(Serialize, Deserialize)]
enum EntryForm {
    Opened {
        at: String,
        #[serde(default)]
        job: String,
    },
    Label {
        at: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        part_number: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serial: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        chip: Option<String>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unit: Option<String>,
    },
    Note {
        at: String,
        text: String,
    },
    Image {
        at: String,
        image: ImageForm,
    },
    Ran {
        at: String,
        command: String,
        line: String,
        status: u8,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        verdict: Option<String>,
        #[serde(default, skip_serializing_if = "String::is_empty")]
        said: String,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        images: Vec<ImageForm>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        findings: Vec<FindingForm>,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        changes: Vec<ChangeForm>,
        #[serde(default, skip_serializing_if = "is_zero")]
        more_changes: usize,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        cautions: Vec<String>,
    },
}

#[derive(Serialize, Deserialize)]
struct ImageForm {
    role: String,
    path: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    path_bytes: Option<Bytes>,
    bytes: u64,
    sha256: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    modified: Option<String>,
}

#[derive(Serialize, Deserialize)]
struct FindingForm {
    weight: String,
    code: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    at: Option<Address>,
    seen: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    means: String,
    #[serde(default, skip_serializing_if = "String::is_empty", rename = "do")]
    advice: String,
}

#[derive(Serialize, Deserialize)]
struct ChangeForm {
    at: Address,
    before: String,
    after: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    fields: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    allowed: Option<bool>,
}

fn is_zero(n: &usize) -> bool {
    *n == 0
}

/// An entry as it stands in the list, its lines but the first indented.
pub(super) fn entry(entry: &Entry) -> Result<String, String> {
    let text = ron().to_string_pretty(&EntryForm::from(entry), pretty()).map_err(|e| e.to_string())?;
    Ok(text.lines().collect::<Vec<_>>().join("\n        "))
}

/// A docket of these entries.
pub(super) fn file<'e>(entries: impl Iterator<Item = &'e str>) -> String {
    let mut text = String::from(HEAD);
    for entry in entries {
        text.push_str("        ");
        text.push_str(entry);
        text.push_str(",\n");
    }
    text.push_str(TAIL);
    text
}

/// An entry from its text; else on which line of it (from 0) something is wrong, and what.
pub(super) fn read_entry(text: &str) -> Result<Entry, (usize, String)> {
    let form: EntryForm = ron()
        .from_str(text)
        .map_err(|e| (e.span.start.line.saturating_sub(1), format!("this entry is left out: {}", e.code)))?;
    Ok(form.into())
}

impl From<&Entry> for EntryForm {
    fn from(entry: &Entry) -> Self {
        let at = entry.at.clone();
        match &entry.what {
            What::Opened(job) => EntryForm::Opened { at, job: job.clone() },
            What::Labelled(label) => EntryForm::Label {
                at,
                part_number: label.part_number.clone(),
                serial: label.serial.clone(),
                chip: label.chip.clone(),
                unit: label.unit.clone(),
            },
            What::Noted(text) => EntryForm::Note { at, text: text.clone() },
            What::Added(image) => EntryForm::Image { at, image: image.into() },
            What::Ran(run) => EntryForm::Ran {
                at,
                command: run.command.clone(),
                line: run.line.clone(),
                status: run.status,
                verdict: run.verdict.clone(),
                said: run.said.clone(),
                images: run.images.iter().map(Into::into).collect(),
                findings: run.findings.iter().map(Into::into).collect(),
                changes: run.changes.iter().map(Into::into).collect(),
                more_changes: run.more_changes,
                cautions: run.cautions.clone(),
            },
        }
    }
}

impl From<EntryForm> for Entry {
    fn from(form: EntryForm) -> Self {
        let (at, what) = match form {
            EntryForm::Opened { at, job } => (at, What::Opened(job)),
            EntryForm::Label { at, part_number, serial, chip, unit } => {
                (at, What::Labelled(Label { part_number, serial, chip, unit }))
            }
            EntryForm::Note { at, text } => (at, What::Noted(text)),
            EntryForm::Image { at, image } => (at, What::Added(image.into())),
            EntryForm::Ran {
                at,
                command,
                line,
                status,
                verdict,
                said,
                images,
                findings,
                changes,
                more_changes,
                cautions,
            } => {
                let run = Run {
                    command,
                    line,
                    status,
                    verdict,
                    said,
                    images: images.into_iter().map(Into::into).collect(),
                    findings: findings.into_iter().map(Into::into).collect(),
                    changes: changes.into_iter().map(Into::into).collect(),
                    more_changes,
                    cautions,
                };
                (at, What::Ran(run))
            }
        };
        Entry { at, what }
    }
}

impl From<&ImageRecord> for ImageForm {
    fn from(image: &ImageRecord) -> Self {
        ImageForm {
            role: image.role.clone(),
            path: image.path.clone(),
            path_bytes: image.path_bytes.clone().map(Bytes),
            bytes: image.bytes,
            sha256: image.sha256.clone(),
            modified: image.modified.clone(),
        }
    }
}

impl From<ImageForm> for ImageRecord {
    fn from(form: ImageForm) -> Self {
        let ImageForm { role, path, path_bytes, bytes, sha256, modified } = form;
        ImageRecord { role, path, path_bytes: path_bytes.map(|b| b.0), bytes, sha256, modified }
    }
}

impl From<&FindingRecord> for FindingForm {
    fn from(finding: &FindingRecord) -> Self {
        FindingForm {
            weight: finding.weight.clone(),
            code: finding.code.clone(),
            at: finding.at.map(Address),
            seen: finding.seen.clone(),
            means: finding.means.clone(),
            advice: finding.advice.clone(),
        }
    }
}

impl From<FindingForm> for FindingRecord {
    fn from(form: FindingForm) -> Self {
        let FindingForm { weight, code, at, seen, means, advice } = form;
        FindingRecord { weight, code, at: at.map(|at| at.0), seen, means, advice }
    }
}

impl From<&ChangeRecord> for ChangeForm {
    fn from(change: &ChangeRecord) -> Self {
        ChangeForm {
            at: Address(change.at),
            before: change.before.clone(),
            after: change.after.clone(),
            fields: change.fields.clone(),
            allowed: change.allowed,
        }
    }
}

impl From<ChangeForm> for ChangeRecord {
    fn from(form: ChangeForm) -> Self {
        let ChangeForm { at: Address(at), before, after, fields, allowed } = form;
        ChangeRecord { at, before, after, fields, allowed }
    }
}
