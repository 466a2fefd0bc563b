//! What `survey` prints: regions with their evidence, and how images differ.

use std::io::{self, Write};

use serde::Serialize;

use super::json::Report;
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::text;
use crate::survey::{ByteClass, Confidence, Kind, MOST_BYTES, Region, Stretch, Survey};
use crate::wording::does;

/// What was surveyed and what came of it.
pub struct Surveyed<'a> {
    /// The images' files, the first being the one whose regions are told.
    pub paths: Vec<text::Name>,
    /// What was found.
    pub survey: &'a Survey,
    /// Address of the first byte.
    pub base: u64,
    /// The draft that was written.
    pub draft: Option<text::Name>,
}

impl Surveyed<'_> {
    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let mut sentences = vec![text::sentence(&self.sentence())];
        if self.survey.cancelled {
            sentences.push("It was called off before its end.".to_owned());
        }
        sentences.extend(self.left_out());
        if let Some((order, why)) = &self.survey.order {
            sentences.push(text::sentence(&format!("the byte order is {}, since {why}", order.words())));
        }
        for line in sentences.iter().flat_map(|s| text::wrap(&text::clean(s), paint.width)) {
            writeln!(out, "{line}")?;
        }
        if !self.survey.regions.is_empty() {
            writeln!(out)?;
            self.write_regions(out, paint)?;
        }
        if !self.survey.stretches.is_empty() {
            writeln!(out)?;
            self.write_stretches(out, paint)?;
        }
        if !self.survey.findings.is_empty() {
            writeln!(out)?;
            super::finding::write(out, paint, &self.survey.findings, self.base)?;
        }
        if let Some(draft) = &self.draft {
            writeln!(out)?;
            writeln!(out, "A layout was drafted as {}. Look at the image through it:", text::clean(draft))?;
            let image = self.paths.first().map_or("IMAGE", |name| name.typed());
            writeln!(out, "  readproof show {image} --layout {}", draft.typed())?;
        }
        Ok(())
    }

    /// Prints everything as text, the image's name before it, as one of several.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_with_path(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let path = self.paths.first().map_or("", |name| name);
        super::head::write_labelled(out, paint, Tone::Quiet, "image", text::named(path))?;
        self.write(out, paint)
    }

    fn sentence(&self) -> String {
        let survey = self.survey;
        let share = (survey.described * 100).checked_div(survey.bytes).unwrap_or(0);
        let told = format!(
            "{} in {}; {share} % of the bytes have an explanation",
            text::count(survey.regions.len(), "region"),
            text::count(survey.bytes, "byte"),
        );
        let differing = survey.stretches.iter().filter(|s| s.class != ByteClass::Same);
        let bytes: usize = differing.map(|s| s.at.len()).sum();
        match self.paths.len() {
            0 | 1 => told,
            n => format!("{told}; {} not the same in all {n} images", text::count(bytes, "byte")),
        }
    }

    /// What nothing is told of.
    fn left_out(&self) -> Vec<String> {
        let Survey { in_gaps, beyond, .. } = *self.survey;
        let parts = [
            (in_gaps, "in gaps, which the file does not hold: nothing is told of them".to_owned()),
            (beyond, format!("behind the first {MOST_BYTES}, which are all that is looked at")),
        ];
        let told = |(bytes, how): (usize, String)| {
            format!("{} {} {how}.", text::count(bytes, "byte"), does(bytes, "lies", "lie"))
        };
        parts.into_iter().filter(|(bytes, _)| *bytes > 0).map(told).collect()
    }

    fn write_regions(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let mut table = Table::new(&["at", "bytes", "holds", "sure", "evidence"]).right(1);
        let mut outer = 0;
        for region in &self.survey.regions {
            let inside = region.at.end <= outer;
            outer = outer.max(region.at.end);
            let word = format!("{}{}", if inside { "  " } else { "" }, region.kind.word());
            table.row([
                Cell::from(text::address(region.at.addresses(self.base).start)),
                region.at.len().to_string().into(),
                word.into(),
                Cell::new(tone(region.confidence()), share(region.probability())),
                detail(&region.kind, &region.evidence, self.base).into(),
            ]);
        }
        table.write(out, paint)
    }

    fn write_stretches(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let mut table = Table::new(&["at", "bytes", "over the images", "evidence"]).right(1);
        // What is the same everywhere is what is left out.
        for stretch in self.survey.stretches.iter().filter(|s| paint.whole || s.class != ByteClass::Same) {
            table.row([
                Cell::from(text::address(stretch.at.addresses(self.base).start)),
                stretch.at.len().to_string().into(),
                stretch.class.word().into(),
                self.told(stretch).into(),
            ]);
        }
        table.write(out, paint)
    }

    /// The evidence for a stretch, and the region it lies in.
    fn told(&self, stretch: &Stretch) -> String {
        match stretch.region.and_then(|index| self.survey.regions.get(index)) {
            Some(region) if !matches!(region.kind, Kind::Fill(_)) => {
                let start = text::address(region.at.addresses(self.base).start);
                format!("{}; in the {} at {start}", stretch.evidence, region.kind.word())
            }
            _ => stretch.evidence.clone(),
        }
    }

    /// The JSON object.
    #[must_use]
    pub fn json(&self) -> Report<SurveyJson> {
        let region = |r: &Region| RegionJson {
            at: r.at.addresses(self.base).start,
            bytes: r.at.len(),
            kind: r.kind.word(),
            detail: detail(&r.kind, &r.evidence, self.base),
            confidence: r.confidence().word(),
            probability: (r.probability() * 100.0).round() / 100.0,
            expected_by_chance: r.chance,
        };
        let body = SurveyJson {
            images: self.paths.iter().map(|name| name.to_string()).collect(),
            path_bytes: text::bytes_of(&self.paths),
            bytes: self.survey.bytes,
            in_gaps: self.survey.in_gaps,
            beyond: self.survey.beyond,
            described: self.survey.described,
            cancelled: self.survey.cancelled,
            order: self.survey.order.as_ref().map(|(order, _)| order.words()),
            regions: self.survey.regions.iter().map(region).collect(),
            stretches: self
                .survey
                .stretches
                .iter()
                .map(|s| StretchJson {
                    at: s.at.addresses(self.base).start,
                    bytes: s.at.len(),
                    class: s.class.word(),
                    detail: self.told(s),
                })
                .collect(),
            draft: self.draft.as_deref().map(str::to_owned),
            draft_bytes: self.draft.as_ref().and_then(|name| name.bytes().map(str::to_owned)),
        };
        Report::new("survey", None, &self.survey.findings, self.base, body)
    }
}

const fn tone(confidence: Confidence) -> Tone {
    match confidence {
        Confidence::Sure => Tone::Good,
        Confidence::Likely => Tone::Plain,
        Confidence::Weak => Tone::Quiet,
    }
}

/// How many of a hundred such regions are right.
pub(super) fn share(probability: f64) -> String {
    match (probability * 100.0).floor() {
        percent if percent >= 99.0 => ">99 %".to_owned(),
        percent if percent < 1.0 => "<1 %".to_owned(),
        percent => format!("{percent} %"),
    }
}

/// What a region says, then its evidence.
fn detail(kind: &Kind, evidence: &str, base: u64) -> String {
    match (kind, said(kind, base)) {
        (Kind::Table(_), said) => format!("{evidence}; {said}"),
        (_, said) if said.is_empty() => evidence.to_owned(),
        (_, said) => format!("{said}: {evidence}"),
    }
}

/// What a region says; empty where there is nothing to be read.
pub(super) fn said(kind: &Kind, base: u64) -> String {
    match kind {
        Kind::Text { text, .. } => format!("{text:?}"),
        Kind::PackedDigits { digits, .. } => digits.clone(),
        Kind::Layout(title) => title.clone(),
        Kind::Copy { of, .. } => format!("of {}", text::address(base.saturating_add(*of as u64))),
        Kind::Pointer { to, .. } => format!("to {}", text::address(base.saturating_add(*to as u64))),
        Kind::Table(table) => {
            let columns: Vec<String> =
                table.columns.iter().map(|c| format!("+{} {} {}", c.at, c.kind.word(), c.bytes)).collect();
            format!("columns {}", columns.join(", "))
        }
        Kind::Fill(_) | Kind::Date { .. } | Kind::Linked { .. } | Kind::Length { .. } | Kind::Dense => {
            String::new()
        }
    }
}

/// `survey` in JSON.
#[derive(Debug, Serialize)]
pub struct SurveyJson {
    images: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<Vec<Option<String>>>,
    bytes: usize,
    in_gaps: usize,
    beyond: usize,
    described: usize,
    cancelled: bool,
    order: Option<&'static str>,
    regions: Vec<RegionJson>,
    stretches: Vec<StretchJson>,
    draft: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    draft_bytes: Option<String>,
}

#[derive(Debug, Serialize)]
struct RegionJson {
    at: u64,
    bytes: usize,
    kind: &'static str,
    detail: String,
    confidence: &'static str,
    probability: f64,
    expected_by_chance: f64,
}

#[derive(Debug, Serialize)]
struct StretchJson {
    at: u64,
    bytes: usize,
    class: &'static str,
    detail: String,
}
