//! What `compare` prints.

use std::io::{self, Write};

use serde::Serialize;

use super::head::{write_left, write_opening};
use super::json::{self, Report};
use super::paint::{Extent, Paint, Tone};
use super::show::Taken;
use super::sides::{self, ChangeJson, CheckPairJson, FieldChangeJson, LayoutJson, Side, SideJson, TotalJson};
use super::table::{Cell, Table};
use super::text;
use crate::compare::align::{Alignment, Step};
use crate::compare::{Changed, Comparison, Stability, Summary};
use crate::finding::Finding;
use crate::image::Image;
use crate::wording::does;

/// A base image and one other.
pub struct Pair<'a> {
    /// The other image.
    pub other: Side<'a>,
    /// Both images as they were compared, with one first address.
    pub images: (&'a Image, &'a Image),
    /// What differs.
    pub comparison: Comparison,
    /// Where contents stand that moved; `None` when that was not asked for or cannot be told.
    pub alignment: Option<Alignment>,
}

impl Pair<'_> {
    /// True when nothing differs.
    #[must_use]
    pub fn is_same(&self) -> bool {
        self.comparison.differences.is_empty()
    }

    fn sentence(&self) -> String {
        let differences = &self.comparison.differences;
        let common = text::count(differences.common_bytes, "byte");
        if self.is_same() {
            return format!("the same: {common}, not one differs");
        }
        let mut parts = Vec::new();
        let changed = differences.changed_bytes();
        if changed > 0 {
            let places = text::count(differences.changed.len(), "place");
            let differ = does(changed, "differs", "differ");
            parts.push(format!("{changed} of {common} {differ}, in {places}"));
        } else {
            parts.push(format!("the {common} that both have are the same"));
        }
        for (spans, which) in [(&differences.only_before, "first"), (&differences.only_after, "second")] {
            let bytes: usize = spans.iter().map(|s| s.len()).sum();
            if bytes > 0 {
                parts.push(format!("{} only in the {which}", text::count(bytes, "byte")));
            }
        }
        if !self.comparison.fields.is_empty() {
            parts.push(format!("{} with another value", text::count(self.comparison.fields.len(), "field")));
        }
        if self.alignment.as_ref().is_some_and(Alignment::is_shifted) {
            parts.push("contents are shifted".to_owned());
        }
        format!("different: {}", parts.join("; "))
    }
}

/// The base image and all that it was compared with.
pub struct Compared<'a> {
    /// The base image.
    pub base: Side<'a>,
    /// The others, in order.
    pub pairs: Vec<Pair<'a>>,
    /// Every byte across all images, when there are more than two.
    pub summary: Option<Summary>,
    /// The unit that each image is taken for a read of, base first; shown with the summary.
    pub units: Vec<String>,
    /// The layout, if one was taken.
    pub layout: Option<Taken<'a>>,
    /// Remarks.
    pub findings: &'a [Finding],
}

impl Compared<'_> {
    /// True when all images are the same.
    #[must_use]
    pub fn is_same(&self) -> bool {
        self.pairs.iter().all(Pair::is_same)
    }

    /// The first sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        match (self.pairs.as_slice(), &self.summary) {
            ([pair], _) => pair.sentence(),
            (_, Some(summary)) if self.is_same() => {
                format!(
                    "the same: {} images of {}",
                    self.pairs.len() + 1,
                    text::count(summary.common_bytes, "byte")
                )
            }
            (_, Some(summary)) => format!(
                "different: of {} in all {} images {} are the same, {} unit-specific, {} unstable",
                text::count(summary.common_bytes, "byte"),
                self.pairs.len() + 1,
                summary.bytes(Stability::Same),
                summary.bytes(Stability::UnitSpecific),
                summary.bytes(Stability::Unstable)
            ),
            (_, None) => String::new(),
        }
    }

    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint, extent: Extent) -> io::Result<()> {
        let sentence = format!("{}.", self.sentence());
        let tone = if self.is_same() { Tone::Good } else { Tone::Doubt };
        let word = sentence.split(':').next().unwrap_or_default();
        write_opening(out, paint, tone, word, &sentence)?;
        if let [pair] = self.pairs.as_slice() {
            let sides = [("before", &self.base), ("after", &pair.other)];
            sides::write_head(out, paint, &sides, self.layout.as_ref())?;
            self.write_findings(out, paint)?;
            return write_pair(out, paint, pair, extent);
        }
        sides::write_head(out, paint, &[("base", &self.base)], self.layout.as_ref())?;
        self.write_findings(out, paint)?;
        for pair in &self.pairs {
            writeln!(out)?;
            writeln!(
                out,
                "{}",
                paint.tone(Tone::Strong, &format!("base and {}", text::clean(&pair.other.path)))
            )?;
            for line in text::wrap(&format!("{}.", pair.sentence()), paint.width) {
                writeln!(out, "{line}")?;
            }
            sides::write_head(out, paint, &[("other", &pair.other)], None)?;
            write_pair(out, paint, pair, extent)?;
        }
        if let Some(summary) = &self.summary {
            writeln!(out)?;
            self.write_summary(out, paint, summary, extent)?;
        }
        Ok(())
    }

    fn write_findings(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        if self.findings.is_empty() {
            return Ok(());
        }
        writeln!(out)?;
        super::finding::write(out, paint, self.findings, self.base.image.base())
    }

    fn write_summary(
        &self,
        out: &mut dyn Write,
        paint: Paint,
        summary: &Summary,
        extent: Extent,
    ) -> io::Result<()> {
        writeln!(out, "{}", paint.tone(Tone::Strong, "across all images"))?;
        let paths = [&self.base.path].into_iter().chain(self.pairs.iter().map(|p| &p.other.path));
        let mut units = Table::new(&["image", "unit"]);
        for (unit, path) in self.units.iter().zip(paths) {
            units.row([&**path, unit]);
        }
        units.write(out, paint)?;
        writeln!(out)?;
        let mut table = Table::new(&["at", "bytes", "across images"]).right(1);
        let stretches: Vec<_> = summary.differing().collect();
        for stretch in stretches.iter().take(extent.rows()) {
            let tone = if stretch.stability == Stability::Unstable { Tone::Bad } else { Tone::Plain };
            table.row([
                text::address(self.base.image.address(stretch.span.start)).into(),
                stretch.span.len().to_string().into(),
                Cell::new(tone, stretch.stability.word()),
            ]);
        }
        table.write(out, paint)?;
        write_left(out, paint, extent, stretches.len(), "more place")
    }

    /// Prints the JSON object.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_json(&self, out: &mut dyn Write) -> io::Result<()> {
        let (single, pairs) = match self.pairs.as_slice() {
            [pair] => (Some(PairJson::new(pair)), None),
            many => (None, Some(many.iter().map(PairJson::new).collect())),
        };
        let body = ComparedJson {
            same: self.is_same(),
            base: SideJson::new(&self.base),
            layout: self.layout.as_ref().map(LayoutJson::new),
            single,
            pairs,
            summary: self.summary.as_ref().map(|s| SummaryJson::new(s, &self.units, self.base.image)),
        };
        Report::new("compare", None, self.findings, self.base.image.base(), body).write(out)
    }
}

fn write_pair(out: &mut dyn Write, paint: Paint, pair: &Pair<'_>, extent: Extent) -> io::Result<()> {
    let comparison = &pair.comparison;
    if !comparison.fields.is_empty() {
        writeln!(out)?;
        sides::write_fields(out, paint, &comparison.fields, extent)?;
    }
    if !comparison.checks.is_empty() && !pair.is_same() {
        writeln!(out)?;
        sides::write_checks(out, paint, &comparison.checks)?;
    }
    if !comparison.totals.is_empty() {
        writeln!(out)?;
        sides::write_totals(out, paint, comparison)?;
    }
    let (before, after) = pair.images;
    let resized = before.len() != after.len();
    let telling = |a: &&Alignment| resized || a.is_shifted() || extent == Extent::All;
    if let Some(alignment) = pair.alignment.as_ref().filter(telling) {
        writeln!(out)?;
        write_alignment(out, paint, alignment, pair.images, extent)?;
    }
    if !comparison.changes.is_empty() {
        writeln!(out)?;
        let changes: Vec<&Changed> = comparison.changes.iter().collect();
        sides::write_changes(out, paint, &changes, pair.images, extent)?;
    }
    Ok(())
}

fn write_alignment(
    out: &mut dyn Write,
    paint: Paint,
    alignment: &Alignment,
    (before, after): (&Image, &Image),
    extent: Extent,
) -> io::Result<()> {
    let mut table = Table::new(&["contents", "bytes", "before", "after", "shift"]).right(1).right(4);
    for step in alignment.steps.iter().take(extent.rows()) {
        let (from, to) = (step.before(), step.after());
        let at = |image: &Image, offset: usize| text::address(image.address(offset));
        let shift = to.start as i64 - from.start as i64;
        let shift = match step {
            Step::Missing { .. } | Step::Inserted { .. } => String::new(),
            _ if shift == 0 => "0".to_owned(),
            _ => format!("{shift:+}"),
        };
        let tone = if matches!(step, Step::Same { .. }) { Tone::Quiet } else { Tone::Strong };
        table.row([
            Cell::new(tone, step.word()),
            from.len().max(to.len()).to_string().into(),
            if matches!(step, Step::Inserted { .. }) { "-".into() } else { at(before, from.start).into() },
            if matches!(step, Step::Missing { .. }) { "-".into() } else { at(after, to.start).into() },
            shift.into(),
        ]);
    }
    table.write(out, paint)?;
    write_left(out, paint, extent, alignment.steps.len(), "more row")
}

/// What `compare --json` adds to the common keys.
#[derive(Debug, Serialize)]
struct ComparedJson {
    same: bool,
    base: SideJson,
    layout: Option<LayoutJson>,
    #[serde(flatten)]
    single: Option<PairJson>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pairs: Option<Vec<PairJson>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    summary: Option<SummaryJson>,
}

#[derive(Debug, Serialize)]
struct PairJson {
    other: SideJson,
    changes: Vec<ChangeJson>,
    only_before: Vec<(u64, u64)>,
    only_after: Vec<(u64, u64)>,
    fields: Vec<FieldChangeJson>,
    checks: Vec<CheckPairJson>,
    totals: Vec<TotalJson>,
    shifts: Option<Vec<ShiftJson>>,
}

#[derive(Debug, Serialize)]
struct ShiftJson {
    kind: &'static str,
    before_at: u64,
    after_at: u64,
    bytes: usize,
}

impl PairJson {
    fn new(pair: &Pair<'_>) -> Self {
        let (before, after) = pair.images;
        let comparison = &pair.comparison;
        let shift = |step: &Step| ShiftJson {
            kind: step.word(),
            before_at: before.address(step.before().start),
            after_at: after.address(step.after().start),
            bytes: step.before().len().max(step.after().len()),
        };
        PairJson {
            other: SideJson::new(&pair.other),
            changes: comparison.changes.iter().map(|c| ChangeJson::new(c, before, after)).collect(),
            only_before: json::ranges(&comparison.differences.only_before, before.base()),
            only_after: json::ranges(&comparison.differences.only_after, before.base()),
            fields: comparison.fields.iter().map(FieldChangeJson::new).collect(),
            checks: comparison.checks.iter().map(|c| CheckPairJson::new(c, before.base())).collect(),
            totals: sides::totals_json(comparison),
            shifts: pair.alignment.as_ref().map(|a| a.steps.iter().map(shift).collect()),
        }
    }
}

#[derive(Debug, Serialize)]
struct SummaryJson {
    units: Vec<String>,
    bytes_common: usize,
    bytes_same: usize,
    bytes_unit_specific: usize,
    bytes_unstable: usize,
    differing: Vec<StretchJson>,
}

#[derive(Debug, Serialize)]
struct StretchJson {
    at: u64,
    bytes: usize,
    kind: &'static str,
}

impl SummaryJson {
    fn new(summary: &Summary, units: &[String], base: &Image) -> Self {
        let stretch = |s: &crate::compare::Stretch| StretchJson {
            at: base.address(s.span.start),
            bytes: s.span.len(),
            kind: s.stability.word(),
        };
        SummaryJson {
            units: units.to_vec(),
            bytes_common: summary.common_bytes,
            bytes_same: summary.bytes(Stability::Same),
            bytes_unit_specific: summary.bytes(Stability::UnitSpecific),
            bytes_unstable: summary.bytes(Stability::Unstable),
            differing: summary.differing().map(stretch).collect(),
        }
    }
}
