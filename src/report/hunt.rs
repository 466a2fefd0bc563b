//! What `hunt` prints: the checks found, and what was not told and why.

use std::io::{self, Write};

use serde::Serialize;

use super::json::{self, Report};
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::text;
use crate::check::StoredBytes;
use crate::hunt::{Answer, Hit, Way};
use crate::span::ByteOrder;

/// What was found, and in what.
pub struct Hunted<'a> {
    /// The images' paths.
    pub paths: Vec<text::Name>,
    /// Address of their first byte.
    pub base: u64,
    /// What came of it.
    pub answer: &'a Answer,
    /// Hits that chance alone would give more often were withheld.
    pub limit: f64,
    /// Where the checks were put: the layout's path and the names they got.
    pub added: Option<(text::Name, Vec<String>)>,
}

/// Other ways to see a check that are told before the rest is counted.
const WAYS_SHOWN: usize = 4;

/// How often chance gives such a hit: `2e-9`, `0.004`, `never` for what no number shows any more.
fn chance(expected: f64) -> String {
    match expected {
        small if small < 1e-30 => "below 1e-30".to_owned(),
        small if small < 0.001 => format!("{small:.0e}"),
        other if other < 10.0 => format!("{other:.3}"),
        other if other < 1e6 => format!("{other:.0}"),
        large => format!("{large:.0e}"),
    }
}

fn order(way: &Way) -> &'static str {
    match way.order {
        ByteOrder::Big => "big",
        ByteOrder::Little => "little",
    }
}

fn write_wrapped(out: &mut dyn Write, paint: Paint, remarks: &[String]) -> io::Result<()> {
    for line in remarks.iter().flat_map(|remark| text::wrap(&text::clean(remark), paint.width)) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

impl Hunted<'_> {
    /// Prints what was found.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let answer = self.answer;
        let found = match answer.hits.len() {
            0 => paint.tone(Tone::Doubt, "No check was found"),
            n => paint.tone(Tone::Good, &format!("{} found", text::count(n, "check"))),
        };
        let images = match answer.images {
            1 if self.paths.len() > 1 => format!("{} equal images", self.paths.len()),
            1 => "one image".to_owned(),
            n => format!(
                "{n} different images, {} of {} varying",
                answer.varying,
                text::count(answer.bytes, "byte")
            ),
        };
        writeln!(out, "{found} in {images}.")?;
        if answer.cancelled {
            writeln!(
                out,
                "{}",
                paint.tone(Tone::Doubt, "The search was called off; not everything was tried.")
            )?;
        }
        for (number, hit) in answer.hits.iter().enumerate() {
            writeln!(out)?;
            self.write_hit(out, paint, number + 1, hit)?;
        }
        self.write_rest(out, paint)?;
        if !answer.findings.is_empty() {
            writeln!(out)?;
        }
        super::finding::write(out, paint, &answer.findings, self.base)
    }

    fn write_hit(&self, out: &mut dyn Write, paint: Paint, number: usize, hit: &Hit) -> io::Result<()> {
        let name = text::clean(&hit.way.by.name).into_owned();
        writeln!(out, "{number}  {}", paint.tone(Tone::Strong, &name))?;
        let ways = if paint.whole { hit.also.len() } else { WAYS_SHOWN };
        let mut table = Table::new(&["", ""]).indent(3);
        table.row(["over", &self.over(&hit.way)]);
        table.row(["stored at", &self.stored(&hit.way)]);
        let images = match (hit.images, self.answer.images) {
            (1, _) => "one image".to_owned(),
            (n, all) if n == all => text::count(n, "image"),
            (n, all) => format!("{all} images, {n} of them different here"),
        };
        let said = format!("{images}; chance alone would give {} such hits", chance(hit.expected));
        table.row(["evidence", &said]);
        if !hit.listed {
            table.row([
                Cell::from("not listed"),
                Cell::new(
                    Tone::Doubt,
                    "the constants were solved for; the images do not tell an initial value from a final one",
                ),
            ]);
        }
        for (i, way) in hit.also.iter().take(ways).enumerate() {
            let label = if i == 0 { "also seen as" } else { "" };
            table.row([
                label,
                &format!("{} over {}, stored at {}", way.by.name, self.over(way), self.stored(way)),
            ]);
        }
        if hit.also.len() > ways {
            table
                .row(["", &format!("and {} more, see --verbose", text::count(hit.also.len() - ways, "way"))]);
        }
        table.write(out, paint)
    }

    fn over(&self, way: &Way) -> String {
        let range = text::range(way.over, self.base);
        match way.stored_bytes {
            StoredBytes::Zeroed => format!("{range}, its own bytes counted as zero"),
            StoredBytes::Erased => format!("{range}, its own bytes counted as FF"),
            _ if way.over.covers(way.stored_at) => format!("{range} without its own bytes"),
            _ => range,
        }
    }

    fn stored(&self, way: &Way) -> String {
        let place = text::address(way.stored_at.addresses(self.base).start);
        if way.stored_at.len() == 1 {
            format!("{place}, 1 byte")
        } else {
            format!("{place}, {}-endian", order(way))
        }
    }

    fn write_rest(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let answer = self.answer;
        let mut remarks: Vec<String> = Vec::new();
        if let Some((path, names)) = &self.added {
            remarks.push(format!("Added to {}: {}.", &**path, text::list(names)));
        }
        let lists = paint.whole && !answer.nearly.is_empty();
        if answer.withheld > 0 {
            remarks.push(format!(
                "{} withheld: chance alone would give more than {} such. --chance raises the limit{}",
                text::count(answer.withheld, "hit"),
                chance(self.limit),
                match (lists, answer.nearly.is_empty()) {
                    (true, _) => "; the least likely by chance:",
                    (false, true) => ".",
                    (false, false) => ", --verbose lists the least likely.",
                }
            ));
        }
        if !remarks.is_empty() {
            writeln!(out)?;
        }
        write_wrapped(out, paint, &remarks)?;
        if lists {
            self.write_withheld(out, paint)?;
        }
        let bits: Vec<u32> = answer.untried.iter().map(|untried| untried.bits).collect();
        if let (Some(few), Some(least)) = (bits.iter().max(), answer.untried.first()) {
            let mut untried = vec![format!(
                "Not everything was tried: for checks of up to {few} bits chance gives too many hits over less \
                 natural ranges (of {} bits over {}: {}).",
                least.bits,
                least.reach.word(),
                chance(least.expected)
            )];
            if paint.whole {
                untried.extend(answer.untried.iter().map(|untried| {
                    format!("  {} bits: {}: {}", untried.bits, untried.reach.word(), chance(untried.expected))
                }));
            }
            untried
                .push("Another image of the same kind with other contents narrows it down most.".to_owned());
            if remarks.is_empty() || lists {
                writeln!(out)?;
            }
            write_wrapped(out, paint, &untried)?;
        }
        Ok(())
    }

    fn write_withheld(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let mut table = Table::new(&["over", "stored at", "by chance", "check"]).indent(2);
        for Hit { way, expected, .. } in &self.answer.nearly {
            let name = text::clean(&way.by.name).into_owned();
            table.row([self.over(way), self.stored(way), chance(*expected), name]);
        }
        table.write(out, paint)
    }

    /// Prints the JSON object.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_json(&self, out: &mut dyn Write) -> io::Result<()> {
        let answer = self.answer;
        let body = Body {
            images: self.paths.iter().map(|name| name.to_string()).collect(),
            path_bytes: text::bytes_of(&self.paths),
            bytes: answer.bytes,
            different: answer.images,
            varying: answer.varying,
            hits: answer.hits.iter().map(|hit| self.hit_json(hit)).collect(),
            withheld: answer.withheld,
            untried: answer
                .untried
                .iter()
                .map(|u| UntriedJson { bits: u.bits, reach: u.reach.word(), expected_by_chance: u.expected })
                .collect(),
            cancelled: answer.cancelled,
            added: self
                .added
                .as_ref()
                .map(|(path, names)| AddedJson { file: path.clone(), names: names.clone() }),
        };
        Report::new("hunt", None, &answer.findings, self.base, body).write(out)
    }

    fn way_json(&self, way: &Way) -> WayJson {
        WayJson {
            by: way.by.name.clone().into_owned(),
            over: json::ranges(&[way.over], self.base),
            stored_at: way.stored_at.addresses(self.base).start,
            stored_bytes: way.stored_at.len(),
            order: order(way),
            own_bytes: match way.stored_bytes {
                StoredBytes::Zeroed => "zeroed",
                StoredBytes::Erased => "erased",
                StoredBytes::Excluded | StoredBytes::Included => "excluded",
            },
        }
    }

    fn hit_json(&self, hit: &Hit) -> HitJson {
        HitJson {
            way: self.way_json(&hit.way),
            images: hit.images,
            expected_by_chance: hit.expected,
            reach: hit.reach.word(),
            listed: hit.listed,
            also: hit.also.iter().map(|way| self.way_json(way)).collect(),
        }
    }
}

#[derive(Serialize)]
struct Body {
    images: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<Vec<Option<String>>>,
    bytes: usize,
    different: usize,
    varying: usize,
    hits: Vec<HitJson>,
    withheld: usize,
    untried: Vec<UntriedJson>,
    cancelled: bool,
    added: Option<AddedJson>,
}

#[derive(Serialize)]
struct WayJson {
    by: String,
    over: Vec<(u64, u64)>,
    stored_at: u64,
    stored_bytes: usize,
    order: &'static str,
    own_bytes: &'static str,
}

#[derive(Serialize)]
struct HitJson {
    #[serde(flatten)]
    way: WayJson,
    images: usize,
    expected_by_chance: f64,
    reach: &'static str,
    listed: bool,
    also: Vec<WayJson>,
}

#[derive(Serialize)]
struct UntriedJson {
    bits: u32,
    reach: &'static str,
    expected_by_chance: f64,
}

#[derive(Serialize)]
struct AddedJson {
    #[serde(flatten)]
    file: text::Name,
    names: Vec<String>,
}
