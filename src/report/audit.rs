//! What `audit` prints, and what `amend` prints of the audit of its result.

use std::io::{self, Write};

use serde::Serialize;

use super::head::{write_opening, write_proof};
use super::json::Report;
use super::paint::{Extent, Paint, Tone};
use super::show::Taken;
use super::sides::{self, ChangeJson, CheckPairJson, FieldChangeJson, LayoutJson, Side, SideJson, TotalJson};
use super::table::{Cell, Table};
use super::{finding, text};
use crate::compare::audit::{Audit, Judged, Ruling};
use crate::image::Image;
use crate::layout::top;
use crate::span::Span;

/// A changed image and what is thought of it.
pub struct Audited<'a> {
    /// The original.
    pub before: Side<'a>,
    /// The changed image.
    pub after: Side<'a>,
    /// The layout, if one was taken.
    pub layout: Option<Taken<'a>>,
    /// What is thought of it.
    pub audit: &'a Audit,
}

/// The ruling and why, as the first sentence.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_ruling(out: &mut dyn Write, paint: Paint, audit: &Audit) -> io::Result<()> {
    let tone = match audit.ruling {
        Ruling::Safe => Tone::Good,
        Ruling::CannotTell => Tone::Doubt,
        Ruling::NotSafe => Tone::Bad,
    };
    write_opening(out, paint, tone, audit.ruling.word(), &sentence(audit))
}

/// The ruling and why, as one sentence.
#[must_use]
pub fn sentence(audit: &Audit) -> String {
    format!("{}: {}.", audit.ruling.word(), audit.why.trim_end_matches('.'))
}

/// Prints the change list with what is thought of each, neighbours of one field that are alike together.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_judged(
    out: &mut dyn Write,
    paint: Paint,
    changes: &[Judged],
    before: &Image,
    extent: Extent,
) -> io::Result<()> {
    let mut table = Table::new(&["", "at", "bytes", "field", "why"]).right(2);
    for (group, whole) in groups(changes, extent) {
        let allowed = group.allowed;
        let (tone, word) = if allowed { (Tone::Good, "allowed") } else { (Tone::Bad, "refused") };
        let range = text::range(whole.span, before.base());
        table.row([
            Cell::new(tone, word),
            range.into(),
            whole.bytes.to_string().into(),
            whole.name.into(),
            group.why.as_str().into(),
        ]);
    }
    table.write(out, paint)
}

/// Several changes told in one row.
struct Together {
    span: Span,
    bytes: usize,
    name: String,
}

fn groups(changes: &[Judged], extent: Extent) -> Vec<(&Judged, Together)> {
    let mut groups: Vec<(&Judged, Together)> = Vec::new();
    for judged in changes {
        let paths: Vec<&str> = judged.changed.paths().collect();
        let tops: Vec<&str> = {
            let mut tops: Vec<&str> = paths.iter().map(|p| top(p)).collect();
            tops.dedup();
            tops
        };
        let span = judged.changed.span;
        if extent == Extent::Short
            && let Some((first, group)) = groups.last_mut()
            && (first.allowed, &first.why) == (judged.allowed, &judged.why)
            && tops.len() <= 1
            && top(&group.name) == tops.first().copied().unwrap_or_default()
        {
            group.span.end = span.end;
            group.bytes += span.len();
            if group.name != paths.join(", ") {
                group.name = tops.join(", ");
            }
            continue;
        }
        groups.push((judged, Together { span, bytes: span.len(), name: paths.join(", ") }));
    }
    groups
}

/// Prints cautions, each wrapped beside its label.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_cautions(out: &mut dyn Write, paint: Paint, cautions: &[String]) -> io::Result<()> {
    let mut table = Table::new(&["", ""]);
    for caution in cautions {
        table.row([Cell::new(Tone::Doubt, "caution"), caution.as_str().into()]);
    }
    table.write(out, paint)
}

impl Audited<'_> {
    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint, extent: Extent) -> io::Result<()> {
        let audit = self.audit;
        write_ruling(out, paint, audit)?;
        let sides = [("before", &self.before), ("after", &self.after)];
        sides::write_head(out, paint, &sides, self.layout.as_ref())?;
        self.write_body(out, paint, extent)?;
        if audit.ruling == Ruling::Safe && !audit.comparison.differences.is_empty() {
            write_proof(out, paint, "then", &self.after.path)?;
        }
        Ok(())
    }

    /// Prints what follows the ruling and the images.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_body(&self, out: &mut dyn Write, paint: Paint, extent: Extent) -> io::Result<()> {
        let audit = self.audit;
        if !audit.cautions.is_empty() && !audit.comparison.differences.is_empty() {
            writeln!(out)?;
            write_cautions(out, paint, &audit.cautions)?;
        }
        if !audit.findings.is_empty() {
            writeln!(out)?;
            finding::write(out, paint, &audit.findings, self.before.image.base())?;
        }
        if !audit.comparison.fields.is_empty() {
            writeln!(out)?;
            sides::write_fields(out, paint, &audit.comparison.fields, extent)?;
        }
        if !audit.changes.is_empty() {
            writeln!(out)?;
            write_judged(out, paint, &audit.changes, self.before.image, extent)?;
        }
        if !audit.records.groups.is_empty() {
            writeln!(out)?;
            self.write_records(out, paint)?;
        }
        if !audit.comparison.checks.is_empty() {
            writeln!(out)?;
            sides::write_checks(out, paint, &audit.comparison.checks)?;
        }
        Ok(())
    }

    fn write_records(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let mut table = Table::new(&["records", "went to rest", "rewritten", "still recorded"])
            .right(1)
            .right(2)
            .right(3);
        for group in &self.audit.records.groups {
            table.row([
                group.path.clone(),
                group.rested.to_string(),
                group.rewritten.to_string(),
                group.left.to_string(),
            ]);
        }
        table.write(out, paint)
    }

    /// Prints the JSON object of `command`, with the image that was written where there is one.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_json(
        &self,
        out: &mut dyn Write,
        command: &'static str,
        amended: Option<AmendedJson>,
    ) -> io::Result<()> {
        let (before, audit) = (self.before.image, self.audit);
        let judged = |j: &Judged| JudgedJson {
            change: ChangeJson::new(&j.changed, before, self.after.image),
            allowed: j.allowed,
            why: j.why.clone(),
        };
        let body = AuditedJson {
            ruling: audit.ruling.word(),
            why: audit.why.clone(),
            before: SideJson::new(&self.before),
            after: SideJson::new(&self.after),
            layout: self.layout.as_ref().map(LayoutJson::new),
            changes: audit.changes.iter().map(judged).collect(),
            fields: audit.comparison.fields.iter().map(FieldChangeJson::new).collect(),
            checks: audit.comparison.checks.iter().map(|c| CheckPairJson::new(c, before.base())).collect(),
            totals: sides::totals_json(&audit.comparison),
            records: audit
                .records
                .groups
                .iter()
                .map(|g| RecordsJson {
                    path: g.path.clone(),
                    rested: g.rested,
                    rewritten: g.rewritten,
                    left: g.left,
                })
                .collect(),
            cautions: audit.cautions.clone(),
            amended,
        };
        Report::new(command, Some(audit.verdict()), &audit.findings, before.base(), body).write(out)
    }
}

/// What `amend --json` adds.
#[derive(Debug, Serialize)]
pub struct AmendedJson {
    /// What was done, in order.
    pub steps: Vec<String>,
    /// What was left although all of a role was meant: `[path, why]`.
    pub left: Vec<(String, String)>,
    /// Whether the file was written.
    pub written: bool,
    /// The file that was written.
    pub output: Option<String>,
    /// Its name byte for byte, where that is needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub output_bytes: Option<String>,
    /// The file that the changes were kept in.
    pub change_list: Option<String>,
    /// Its name byte for byte, where that is needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub change_list_bytes: Option<String>,
}

/// What `audit --json` adds to the common keys.
#[derive(Debug, Serialize)]
struct AuditedJson {
    ruling: &'static str,
    why: String,
    before: SideJson,
    after: SideJson,
    layout: Option<LayoutJson>,
    changes: Vec<JudgedJson>,
    fields: Vec<FieldChangeJson>,
    checks: Vec<CheckPairJson>,
    totals: Vec<TotalJson>,
    records: Vec<RecordsJson>,
    cautions: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    amended: Option<AmendedJson>,
}

#[derive(Debug, Serialize)]
struct JudgedJson {
    #[serde(flatten)]
    change: ChangeJson,
    allowed: bool,
    why: String,
}

#[derive(Debug, Serialize)]
struct RecordsJson {
    path: String,
    rested: usize,
    rewritten: usize,
    left: usize,
}
