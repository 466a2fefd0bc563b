//! What `convert` prints: what was written, and what of the image the new file cannot hold.

use std::io::{self, Write};

use serde::Serialize;

use super::head::write_labelled;
use super::json::Report;
use super::paint::{Paint, Tone};
use super::{finding, text};
use crate::finding::{Finding, Verdict};
use crate::image::{Format, Image, StartAddress};

/// A file that was read or written.
#[derive(Debug, Serialize)]
pub struct FileFacts {
    /// Its path.
    #[serde(flatten)]
    pub path: text::Name,
    /// The word of its format.
    pub format: &'static str,
    /// Bytes in the file.
    pub bytes: usize,
    /// The digest of the file.
    pub sha256: String,
}

/// Prints what is known of the files.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_facts(out: &mut dyn Write, paint: Paint, files: &[(&str, &FileFacts)]) -> io::Result<()> {
    for (label, file) in files {
        let said = format!(
            "{}, {}, {}, SHA-256 {}",
            text::named(&file.path),
            text::count(file.bytes, "byte"),
            file.format,
            file.sha256
        );
        write_labelled(out, paint, Tone::Quiet, label, &said)?;
    }
    Ok(())
}

/// One conversion that was done.
pub struct Converted<'a> {
    /// The path of the file that was written.
    pub path: text::Name,
    /// The format of the file that was written.
    pub format: Format,
    /// The image in both files.
    pub image: &'a Image,
    /// Remarks about the file that was read, and what the one that was written cannot hold.
    pub findings: &'a [Finding],
}

impl Converted<'_> {
    /// What the findings add up to.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        Verdict::of(self.findings)
    }

    /// Prints one sentence about what was written, then the findings.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let image = self.image;
        let gaps = match image.gaps().len() {
            0 => String::new(),
            n => format!(", {} left unmapped", text::count(n, "gap")),
        };
        // A raw file that was filled has no gaps left.
        let gaps = if self.format == Format::Raw { String::new() } else { gaps };
        let sentence = format!(
            "{} is written: {} from address {} as {}{gaps}.",
            &*self.path,
            text::count(image.len(), "byte"),
            text::address(image.base()),
            self.format.name(),
        );
        for line in text::wrap(&sentence, paint.width) {
            writeln!(out, "{}", paint.tone(Tone::Good, &line))?;
        }
        if !self.findings.is_empty() {
            writeln!(out)?;
            finding::write(out, paint, self.findings, image.base())?;
        }
        Ok(())
    }

    /// Prints the same as JSON, with what is known of the file that was read and of the one that was written.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_json(&self, out: &mut dyn Write, from: FileFacts, to: FileFacts) -> io::Result<()> {
        let image = self.image;
        let (start_address, start_segment) = match image.start {
            Some(StartAddress::Linear(address)) => (Some(address), None),
            Some(StartAddress::Segment(cs, ip)) => (None, Some([cs, ip])),
            None => (None, None),
        };
        let body = ConvertJson {
            from,
            to,
            base: image.base(),
            bytes: image.len(),
            gaps: image.gaps().iter().map(|g| [image.address(g.start), image.address(g.end)]).collect(),
            start_address,
            start_segment,
        };
        Report::new("convert", Some(self.verdict()), self.findings, image.base(), body).write(out)
    }
}

#[derive(Debug, Serialize)]
struct ConvertJson {
    from: FileFacts,
    to: FileFacts,
    base: u64,
    bytes: usize,
    gaps: Vec<[u64; 2]>,
    start_address: Option<u32>,
    start_segment: Option<[u16; 2]>,
}
