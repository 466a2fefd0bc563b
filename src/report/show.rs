//! What `show` prints: an image by its layout.

use std::io::{self, Write};

use serde::Serialize;

use super::decoded::{self, CheckJson, FieldJson};
use super::head::{write_labelled, write_opening};
use super::json::Report;
use super::paint::{Extent, Paint, Tone};
use super::sides::{self, Side, SideJson};
use super::{finding, text};
use crate::check::Seal;
use crate::finding::{Finding, Verdict};
use crate::layout::{Decoded, Field, FieldState, Layout, Shape};

/// An image by its layout, as far as one was found.
pub struct Shown<'a> {
    /// The image, with the digest of its bytes.
    pub image: Side<'a>,
    /// The layout, the name it goes by, its file when it has one, and why it was taken.
    pub layout: Option<Taken<'a>>,
    /// What the layout says.
    pub decoded: &'a Decoded,
    /// What is wrong, the choice of the layout included.
    pub findings: &'a [Finding],
}

/// The layout that was taken.
pub struct Taken<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// The name it goes by.
    pub name: &'a str,
    /// Its file; `None` for one that is shipped with the program.
    pub path: Option<text::Name>,
    /// Why it was taken.
    pub why: &'a str,
}

impl Shown<'_> {
    /// What the findings add up to.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        Verdict::of(self.findings)
    }

    /// The first sentence: the verdict and what it rests on.
    fn sentence(&self) -> String {
        let leaves = self.decoded.fields.iter().filter(|f| f.shape == Shape::Leaf);
        let (odd, all) =
            leaves.fold((0, 0), |(odd, all), f| (odd + usize::from(f.state != FieldState::Fine), all + 1));
        if self.layout.is_none() {
            return "no layout: only the bytes are known".to_owned();
        }
        let all_sealed = self.decoded.checks.iter().all(|c| c.seal == Seal::Sealed);
        let worst = self.findings.iter().max_by_key(|f| f.weight);
        if let (Some(worst), true, true) = (worst, odd == 0 && all_sealed, self.verdict() != Verdict::Sound) {
            return text::clean(&worst.seen).into_owned();
        }
        let fields = match odd {
            0 => format!("{} make sense", text::count(all, "field")),
            1 => format!("1 of {} makes no sense", text::count(all, "field")),
            n => format!("{n} of {} make no sense", text::count(all, "field")),
        };
        let checks = &self.decoded.checks;
        let sealed = checks.iter().filter(|c| c.seal == Seal::Sealed).count();
        match checks.len() {
            0 => format!("{fields}; the layout has no check"),
            1 if sealed == 1 => format!("{fields}, the check is sealed"),
            n if sealed == n => format!("{fields}, all {n} checks are sealed"),
            n => format!("{fields}, {} of {} not sealed", n - sealed, text::count(n, "check")),
        }
    }

    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint, extent: Extent) -> io::Result<()> {
        let (verdict, base) = (self.verdict(), self.image.image.base());
        let word = verdict.word();
        write_opening(out, paint, verdict, word, &format!("{word}: {}.", self.sentence()))?;
        self.write_head(out, paint)?;
        if !self.decoded.fields.is_empty() {
            writeln!(out)?;
            decoded::write_fields(out, paint, self.decoded, base, extent)?;
        }
        if !self.decoded.checks.is_empty() {
            writeln!(out)?;
            decoded::write_checks(out, paint, &self.decoded.checks, base)?;
        }
        if !self.findings.is_empty() {
            writeln!(out)?;
            finding::write(out, paint, self.findings, base)?;
        }
        Ok(())
    }

    fn write_head(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let bytes = text::count(self.image.image.len(), "byte");
        let mut lines = vec![
            (
                "image",
                format!(
                    "{}, {bytes}, {}",
                    text::clean(text::named(&self.image.path)),
                    self.image.format.name()
                ),
            ),
            ("sha-256", self.image.sha256.clone().unwrap_or_default()),
        ];
        if let Some(taken) = &self.layout {
            let place = taken.path.as_deref().unwrap_or(taken.name);
            lines.push(("layout", format!("{} ({place}), {}", taken.layout.title, taken.why)));
        }
        for (label, line) in &lines {
            write_labelled(out, paint, Tone::Quiet, label, line)?;
        }
        for caution in self.layout.iter().flat_map(|t| &t.layout.cautions) {
            write_labelled(out, paint, Tone::Doubt, "caution", caution)?;
        }
        Ok(())
    }

    /// Prints only the fields that `chosen` lists, with their notes; of one among several images also which it is.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_chosen(
        &self,
        out: &mut dyn Write,
        paint: Paint,
        chosen: &[&Field],
        of_several: bool,
    ) -> io::Result<()> {
        if of_several {
            write_labelled(out, paint, Tone::Quiet, "image", text::named(&self.image.path))?;
        }
        decoded::write_chosen(out, paint, chosen, self.image.image.base())?;
        for field in chosen {
            if let FieldState::Odd(why) = &field.state {
                write_labelled(out, paint, Tone::Doubt, "odd", &format!("{}: {why}", field.path))?;
            }
            if let Some(note) = field.note.as_deref() {
                write_labelled(out, paint, Tone::Quiet, "note", &format!("{}: {note}", field.path))?;
            }
            if let Some(caution) = field.caution.as_deref() {
                write_labelled(out, paint, Tone::Doubt, "caution", &format!("{}: {caution}", field.path))?;
            }
        }
        Ok(())
    }

    /// The JSON object, with all leaf fields or with those of `chosen`.
    #[must_use]
    pub fn json(&self, chosen: Option<&[&Field]>) -> Report<ShownJson> {
        let body = ShownJson {
            image: SideJson::new(&self.image),
            layout: self.layout.as_ref().map(|taken| LayoutJson {
                layout: sides::LayoutJson::new(taken),
                cautions: taken.layout.cautions.clone(),
            }),
            fields: match chosen {
                Some(fields) => fields.iter().map(|f| FieldJson::new(f, self.image.image)).collect(),
                None => decoded::fields_json(self.decoded, self.image.image),
            },
            checks: decoded::checks_json(self.decoded, self.image.image.base()),
        };
        Report::new("show", Some(self.verdict()), self.findings, self.image.image.base(), body)
    }
}

/// The layout in JSON.
#[derive(Debug, Serialize)]
pub struct LayoutJson {
    #[serde(flatten)]
    layout: sides::LayoutJson,
    cautions: Vec<String>,
}

/// What `show --json` adds to the common keys.
#[derive(Debug, Serialize)]
pub struct ShownJson {
    image: SideJson,
    layout: Option<LayoutJson>,
    fields: Vec<FieldJson>,
    checks: Vec<CheckJson>,
}
