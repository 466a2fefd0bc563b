//! What `nearest` prints: which known reads are nearest to a read, and why.

use std::io::{self, Write};

use serde::Serialize;

use super::batch::Told;
use super::head::{write_labelled, write_next};
use super::json::Report;
use super::paint::{Paint, Tone};
use super::sides::NamedLayoutJson;
use super::table::{Cell, Table};
use super::{finding, text};
use crate::finding::Finding;
use crate::image::Image;
use crate::layout::Layout;
use crate::nearest::{Alike, Likeness};

/// Everything that `nearest` says.
pub struct Found<'a> {
    /// The read's file, or `-`.
    pub path: text::Name,
    /// The read.
    pub image: &'a Image,
    /// Bytes of the part that was compared, when the contents of the read repeat.
    pub compared: Option<usize>,
    /// Its part numbers, as path and text.
    pub part_numbers: Vec<(&'a str, &'a str)>,
    /// Its layout, and the name that goes by.
    pub layout: Option<(&'a Layout, &'a str)>,
    /// How many known reads were looked at.
    pub told: &'a Told,
    /// The nearest, the nearest first.
    pub known: &'a [Known],
    /// The command to run next.
    pub next: Option<String>,
    /// Remarks on the choice of the layout.
    pub findings: &'a [Finding],
}

/// A known read that is listed.
pub struct Known {
    /// Its file.
    pub path: text::Name,
    /// Its bytes.
    pub bytes: usize,
    /// How near it is.
    pub likeness: Likeness,
    /// The paths of the fields that differ; `None` without a layout.
    pub fields: Option<Vec<String>>,
}

/// Fields that are named before the rest is counted.
const FIELDS_SHOWN: usize = 3;

impl Found<'_> {
    /// The answer in one sentence, without its full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        let all = text::count(self.told.images, "known read");
        let Some(best) = self.known.first() else {
            return match self.told.failed {
                0 => "nothing to compare with: the only known read is the read itself".to_owned(),
                _ => "nothing to compare with: no known read could be read".to_owned(),
            };
        };
        let numbers: Vec<&str> = self.part_numbers.iter().map(|(_, number)| *number).collect();
        let likeness = &best.likeness;
        let mut why = Vec::new();
        match (likeness.same_part_number, numbers.is_empty()) {
            (Some(true), false) => why.push(format!("it has the part number {}", text::list(&numbers))),
            (Some(false), false) => why.push("it has another part number".to_owned()),
            _ => {}
        }
        match likeness.same_layout {
            Some(true) => why.push("it is of the same layout".to_owned()),
            Some(false) => why.push("it is of another layout".to_owned()),
            None => {}
        }
        why.push(match likeness.is_equal() {
            true => "it holds the same bytes".to_owned(),
            false => format!("{} % of the bytes are alike", percent(likeness.alike)),
        });
        let opening = if likeness.is_near() { "the nearest of" } else { "nothing near: the nearest of" };
        format!("{opening} {all} is {}: {}", &*best.path, text::list(&why))
    }

    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        for line in text::wrap(&text::sentence(&text::clean(&self.sentence())), paint.width) {
            writeln!(out, "{line}")?;
        }
        let mut read = format!("{}, {}", text::named(&self.path), text::count(self.image.len(), "byte"));
        if let Some(bytes) = self.compared {
            read.push_str(&format!("; its contents repeat, so its first {bytes} are compared"));
        }
        write_labelled(out, paint, Tone::Quiet, "read", &read)?;
        if let Some((layout, name)) = self.layout {
            write_labelled(out, paint, Tone::Quiet, "layout", &format!("{} ({name})", layout.title))?;
        }
        for (path, number) in &self.part_numbers {
            write_labelled(out, paint, Tone::Quiet, "part", &format!("{number} ({path})"))?;
        }
        if !self.told.left_out.is_empty() || self.told.failed > 0 {
            write_labelled(out, paint, Tone::Quiet, "known", &self.told.sentence())?;
        }
        writeln!(out)?;
        let mut table = Table::new(&["", "alike", "part number", "layout", "known read"]).right(0).right(1);
        for (n, known) in self.known.iter().enumerate() {
            let likeness = &known.likeness;
            table.row([
                Cell::from((n + 1).to_string()),
                format!("{} %", percent(likeness.alike)).into(),
                sameness(likeness.same_part_number),
                sameness(likeness.same_layout),
                format!("{}; {}", &*known.path, self.differs(known, paint)).into(),
            ]);
        }
        table.write(out, paint)?;
        if !self.findings.is_empty() {
            writeln!(out)?;
            finding::write(out, paint, self.findings, self.image.base())?;
        }
        write_next(out, paint, self.next.as_deref())
    }

    /// In what a known read differs, in words.
    fn differs(&self, known: &Known, paint: Paint) -> String {
        let likeness = &known.likeness;
        if likeness.is_equal() {
            return "the same bytes".to_owned();
        }
        let mut said = match &known.fields {
            Some(fields) if !fields.is_empty() => {
                let shown: Vec<&str> = fields
                    .iter()
                    .take(if paint.whole { fields.len() } else { FIELDS_SHOWN })
                    .map(String::as_str)
                    .collect();
                match fields.len() - shown.len() {
                    0 => format!("differs in {}", text::list(&shown)),
                    more => {
                        format!("differs in {} and {}", shown.join(", "), text::count(more, "more field"))
                    }
                }
            }
            _ if likeness.alike.all() => "the same where both hold bytes".to_owned(),
            _ => format!("differs in {}", text::count(likeness.alike.counted - likeness.alike.same, "byte")),
        };
        if !likeness.same_size {
            said.push_str(&format!("; has {}", text::count(known.bytes, "byte")));
        }
        said
    }

    /// The object that `--json` prints.
    #[must_use]
    pub fn json(&self) -> Report<NearestJson> {
        let body = NearestJson {
            read: ReadJson { name: self.path.clone(), bytes: self.image.len(), compared: self.compared },
            layout: self.layout.map(Into::into),
            part_numbers: self
                .part_numbers
                .iter()
                .map(|(field, text)| PartNumberJson { field: (*field).to_owned(), text: (*text).to_owned() })
                .collect(),
            looked_at: self.told.images,
            unreadable: self.told.failed,
            nearest: self.known.iter().map(KnownJson::from).collect(),
        };
        Report::new("nearest", None, self.findings, self.image.base(), body)
    }
}

fn sameness(same: Option<bool>) -> Cell {
    match same {
        Some(true) => Cell::new(Tone::Good, "same"),
        Some(false) => Cell::new(Tone::Doubt, "another"),
        None => Cell::new(Tone::Quiet, "unknown"),
    }
}

/// `97.3`: cut, so that 100.0 says that nothing differs.
fn percent(alike: Alike) -> String {
    let thousandths = alike.thousandths();
    format!("{}.{}", thousandths / 10, thousandths % 10)
}

/// What `nearest` prints as JSON besides findings.
#[derive(Debug, Serialize)]
pub struct NearestJson {
    read: ReadJson,
    layout: Option<NamedLayoutJson>,
    part_numbers: Vec<PartNumberJson>,
    looked_at: usize,
    unreadable: usize,
    nearest: Vec<KnownJson>,
}

#[derive(Debug, Serialize)]
struct ReadJson {
    #[serde(flatten)]
    name: text::Name,
    bytes: usize,
    compared: Option<usize>,
}

#[derive(Debug, Serialize)]
struct PartNumberJson {
    field: String,
    text: String,
}

#[derive(Debug, Serialize)]
struct KnownJson {
    #[serde(flatten)]
    name: text::Name,
    bytes: usize,
    same_part_number: Option<bool>,
    same_layout: Option<bool>,
    bytes_alike: usize,
    bytes_counted: usize,
    equal: bool,
    near: bool,
    fields: Option<Vec<String>>,
}

impl From<&Known> for KnownJson {
    fn from(known: &Known) -> Self {
        let Likeness { same_part_number, same_layout, alike, .. } = known.likeness;
        KnownJson {
            name: known.path.clone(),
            bytes: known.bytes,
            same_part_number,
            same_layout,
            bytes_alike: alike.same,
            bytes_counted: alike.counted,
            equal: known.likeness.is_equal(),
            near: known.likeness.is_near(),
            fields: known.fields.clone(),
        }
    }
}
