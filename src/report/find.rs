//! What `find` prints: where a text stands, and what is only like it.

use std::io::{self, Write};

use serde::Serialize;

use super::batch::{Told, entry};
use super::characters::{self, DifferenceJson};
use super::head::write_opening;
use super::json::Report as Object;
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::{finding, text};
use crate::find::{Found, Hit, how_many};
use crate::image::Image;
use crate::layout::Decoded;
use crate::span::Span;

/// Everything that `find` says about one image.
pub struct Searched<'a> {
    /// The image's file, or `-`.
    pub path: text::Name,
    /// The image.
    pub image: &'a Image,
    /// The text that was wanted.
    pub wanted: &'a str,
    /// What was found.
    pub found: &'a Found,
    /// What the layout says, when one is known: hits get the names of their fields.
    pub decoded: Option<&'a Decoded>,
}

impl Searched<'_> {
    /// The first sentence, without its full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        let exact = self.found.hits.iter().filter(|h| h.is_whole()).count();
        let longer = self.found.hits.iter().filter_map(|h| h.within.as_ref());
        let parts = longer.clone().count();
        let near = self.found.hits.len() - exact - parts;
        let (wanted, path) = (self.wanted, text::named(&self.path));
        // Other case, other separators, another number of zeros in front: found, and not to the character.
        let best = self.found.hits.first().filter(|h| h.between.is_none() && h.text != wanted);
        let written = best.map_or(String::new(), |h| format!(", written {:?},", h.text));
        let as_parts = match (exact, parts) {
            (_, 0) => String::new(),
            (0, n) => format!(
                "no match: {path} holds {wanted} only as a part of something longer, {:?}, in {}",
                longer.clone().next().map_or("", String::as_str),
                places(n, "place")
            ),
            (_, n) => format!("; in {} as a part of something longer", places(n, "other place")),
        };
        match (exact, near) {
            (0, _) if parts > 0 => as_parts,
            (0, 0) => format!("not found: neither {wanted} nor anything like it stands in {path}"),
            (0, n) => {
                let least = self.found.hits.first().map_or(0, |h| h.differs.len());
                format!(
                    "no match: {path} does not hold {wanted}, but something like it in {}; {}, so this is another part until the label says otherwise",
                    places(n, "place"),
                    how_many(least)
                )
            }
            (n, 0) => {
                format!("found: {wanted} stands in {path}{written} in {}{as_parts}", places(n, "place"))
            }
            (n, m) => format!(
                "found: {wanted} stands in {path}{written} in {}{as_parts}; in {} something like it",
                places(n, "place"),
                places(m, "other place")
            ),
        }
    }

    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let tone = if self.found.is_exact() { Tone::Good } else { Tone::Doubt };
        let sentence = format!("{}.", self.sentence());
        write_opening(out, paint, tone, sentence.split(':').next().unwrap_or_default(), &sentence)?;
        let (exact, near): (Vec<&Hit>, Vec<&Hit>) = self.found.hits.iter().partition(|h| h.exact);
        if !exact.is_empty() {
            writeln!(out)?;
            let mut table = Table::new(&["at", "field", "stored", "as"]).indent(2);
            for hit in exact {
                let field: Cell = self.field(hit).unwrap_or_default().into();
                table.row([
                    Cell::from(self.place(hit)),
                    field,
                    hit.text.as_str().into(),
                    hit.stored_as().into(),
                ]);
            }
            table.write(out, paint)?;
        }
        for hit in near {
            writeln!(out)?;
            let field = self.field(hit).map_or(String::new(), |f| format!(", {f}"));
            writeln!(out, "near miss at {}{field}: {}", self.place(hit), hit.stored_as())?;
            characters::write(out, paint, &hit.wanted, &hit.differs)?;
        }
        if self.found.more > 0 {
            writeln!(out, "\nand {} more; a longer text says more", text::count(self.found.more, "place"))?;
        }
        let told: Vec<_> = self
            .found
            .findings
            .iter()
            .filter(|f| f.code != crate::finding::Code::NearMiss)
            .cloned()
            .collect();
        if !told.is_empty() {
            writeln!(out)?;
            finding::write(out, paint, &told, self.image.base())?;
        }
        Ok(())
    }

    /// Prints the best place, as one of many images; nothing when there is none.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_entry(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let Some(hit) = self.found.hits.first() else { return Ok(()) };
        let (word, tone) = if hit.is_whole() { ("found", Tone::Good) } else { ("near miss", Tone::Doubt) };
        let field = self.field(hit).map_or(String::new(), |f| format!(", {f}"));
        let mut said =
            format!("{} at {}{field}: {}", text::named(&self.path), self.place(hit), hit.stored_as());
        if !hit.exact {
            said.push_str(&format!(" {:?}, {}", hit.text, how_many(hit.differs.len())));
        }
        match self.found.hits.len() + self.found.more - 1 {
            0 => {}
            n => said.push_str(&format!("; and {}", text::count(n, "more place"))),
        }
        out.write_all(entry(paint, tone, word, &said).as_bytes())
    }

    fn place(&self, hit: &Hit) -> String {
        let place = text::place(hit.place, self.image.base());
        if hit.bit == 0 { place } else { format!("{place} from bit {}", hit.bit) }
    }

    fn field(&self, hit: &Hit) -> Option<String> {
        let decoded = self.decoded?;
        let leaves = decoded.fields.iter().filter(|f| f.shape == crate::layout::Shape::Leaf);
        let over = |span: Span| move |f: &&crate::layout::Field| f.spans.iter().any(|s| s.overlaps(span));
        let names: Vec<&str> = leaves.filter(over(hit.place)).map(|f| f.path.as_str()).take(3).collect();
        (!names.is_empty()).then(|| names.join(" + "))
    }

    /// The object that `--json` prints.
    #[must_use]
    pub fn json(&self) -> Object<FindJson> {
        let body = FindJson {
            image: self.path.to_string(),
            path_bytes: self.path.bytes().map(str::to_owned),
            wanted: self.wanted.to_owned(),
            hits: self.found.hits.iter().map(|h| self.hit_json(h)).collect(),
            more: self.found.more,
            expected_by_chance: self.found.by_chance,
        };
        Object::new("find", None, &self.found.findings, self.image.base(), body)
    }

    fn hit_json(&self, hit: &Hit) -> HitJson {
        HitJson {
            at: self.image.address(hit.place.start),
            bytes: hit.place.len(),
            bit: hit.bit,
            stored_as: hit.stored_as(),
            exact: hit.is_whole(),
            part_of: hit.within.clone(),
            text: hit.text.clone(),
            field: self.field(hit),
            differs: hit.differs.iter().map(DifferenceJson::from).collect(),
        }
    }
}

/// What a search of many images came to, in one sentence.
#[must_use]
pub fn summary(wanted: &str, exact: usize, like: usize, told: &Told) -> String {
    let all = text::count(told.images, "image");
    let said = match (exact, like) {
        (0, 0) => format!("not found: neither {wanted} nor anything like it stands in {all}"),
        (0, n) => format!("no match: none of {all} holds {wanted}; something like it stands in {n}"),
        (n, 0) => format!("found: {wanted} stands in {n} of {all}"),
        (n, m) => format!(
            "found: {wanted} stands in {n} of {all}; in {} something like it",
            text::count(m, "other")
        ),
    };
    told.after(&text::clean(&said))
}

/// What `find` prints as JSON besides findings.
#[derive(Debug, Serialize)]
pub struct FindJson {
    image: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
    wanted: String,
    hits: Vec<HitJson>,
    more: usize,
    expected_by_chance: f64,
}

#[derive(Debug, Serialize)]
struct HitJson {
    at: u64,
    bytes: usize,
    bit: u8,
    stored_as: String,
    exact: bool,
    part_of: Option<String>,
    text: String,
    field: Option<String>,
    differs: Vec<DifferenceJson>,
}

/// `one place`, `2 places`.
fn places(n: usize, noun: &str) -> String {
    if n == 1 { format!("one {noun}") } else { text::count(n, noun) }
}
