//! What `vet` prints: the verdict on reads, or the proof of a write.

use std::io::{self, Write};

use serde::Serialize;

use super::characters::{self, DifferenceJson};
use super::decoded::CheckJson;
use super::head::{write_labelled, write_next, write_opening};
use super::json::Report as Object;
use super::paint::{Paint, Tone};
use super::sides::NamedLayoutJson;
use super::{finding, text};
use crate::chip::Chip;
use crate::image::Image;
use crate::layout::Layout;
use crate::vet::written::Proof;
use crate::vet::{Agreement, Majority, Met, Report};

/// One read, for people and programs.
pub struct Read<'a> {
    /// Its file, or `-`.
    pub path: text::Name,
    /// The image.
    pub image: &'a Image,
    /// The digest of its bytes.
    pub sha256: String,
}

/// A majority image that was written.
pub struct Written<'a> {
    /// Its file.
    pub path: text::Name,
    /// What it was made of.
    pub majority: &'a Majority,
}

/// Everything that `vet` says about reads.
pub struct Vetted<'a> {
    /// The reads, in their order.
    pub reads: &'a [Read<'a>],
    /// What they came to.
    pub report: &'a Report,
    /// The chip that was named.
    pub chip: Option<&'a Chip>,
    /// The layout that was used, and the name it goes by.
    pub layout: Option<(&'a Layout, &'a str)>,
    /// The majority image, when one was asked for.
    pub majority: Option<Written<'a>>,
    /// The command to run next.
    pub next: Option<String>,
}

impl Vetted<'_> {
    fn base(&self) -> u64 {
        self.reads.get(self.report.judged_read).map_or(0, |r| r.image.base())
    }

    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let report = self.report;
        let sentence = format!("{}.", report.sentence);
        write_opening(out, paint, report.verdict, report.verdict.word(), &sentence)?;
        for (i, read) in self.reads.iter().enumerate() {
            let label = if self.reads.len() == 1 { "read".to_owned() } else { format!("read {}", i + 1) };
            write_labelled(out, paint, Tone::Quiet, &label, &of_read(read, paint))?;
        }
        if let Some(chip) = self.chip {
            let said = format!("{}, {}, pages of {}", chip.name, text::count(chip.bytes, "byte"), chip.page);
            write_labelled(out, paint, Tone::Quiet, "chip", &said)?;
        }
        if let Some((layout, name)) = self.layout {
            let said = format!("{} ({name})", layout.title);
            write_labelled(out, paint, Tone::Quiet, "layout", &said)?;
        }
        if let Some(written) = &self.majority {
            let outvoted: Vec<String> = written.majority.outvoted.iter().map(ToString::to_string).collect();
            let said = format!(
                "{} written; bytes outvoted in each read: {}",
                match &*written.path {
                    "-" => "standard output",
                    path => path,
                },
                outvoted.join(", ")
            );
            write_labelled(out, paint, Tone::Quiet, "majority", &said)?;
        }
        for met in &report.expected {
            write_met(out, paint, met)?;
        }
        if !report.findings.is_empty() {
            writeln!(out)?;
            finding::write(out, paint, &report.findings, self.base())?;
        }
        write_next(out, paint, self.next.as_deref())
    }

    /// The object that `--json` prints.
    #[must_use]
    pub fn json(&self) -> Object<VetJson> {
        let report = self.report;
        let body = VetJson {
            sentence: report.sentence.clone(),
            reads: self.reads.iter().map(ReadJson::from).collect(),
            judged_read: report.judged_read,
            agreement: report.agreement.as_ref().map(AgreementJson::from),
            chip: self.chip.map(|c| ChipJson { name: c.name, bytes: c.bytes, page: c.page }),
            layout: self.layout.map(Into::into),
            checks: report
                .layout
                .iter()
                .flat_map(|j| &j.decoded.checks)
                .map(|c| CheckJson::new(c, self.base()))
                .collect(),
            expected: report.expected.iter().map(|m| MetJson::new(m, self.base())).collect(),
            majority: self.majority.as_ref().map(|w| MajorityJson::new(w)),
        };
        Object::new("vet", Some(report.verdict), &report.findings, self.base(), body)
    }
}

fn of_read(read: &Read<'_>, paint: Paint) -> String {
    let digest = text::digest(&read.sha256, paint);
    format!("{}, {}, SHA-256 {digest}", text::named(&read.path), text::count(read.image.len(), "byte"))
}

fn write_met(out: &mut dyn Write, paint: Paint, met: &Met) -> io::Result<()> {
    if met.equal {
        let said = format!("{} is {}, as expected", met.field, met.wanted);
        return write_labelled(out, paint, Tone::Good, "expected", &said);
    }
    let Some(_) = met.stored else {
        let said = format!("{}: {} was not found", met.field, met.wanted);
        return write_labelled(out, paint, Tone::Bad, "expected", &said);
    };
    write_labelled(out, paint, Tone::Bad, "expected", &format!("{} is not {}", met.field, met.wanted))?;
    characters::write(out, paint, &met.wanted, &met.differs)
}

/// Everything that `vet --must-equal` says.
pub struct Proven<'a> {
    /// What was read back.
    pub readback: Read<'a>,
    /// What was to be written.
    pub approved: Read<'a>,
    /// What the comparison came to.
    pub proof: &'a Proof,
    /// The command to run next.
    pub next: Option<String>,
}

/// Places that are listed before the rest is counted.
const PLACES_SHOWN: usize = 8;

impl Proven<'_> {
    /// Prints everything as text.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let (proof, base) = (self.proof, self.readback.image.base());
        for line in text::wrap(&format!("{}.", text::clean(&proof.sentence)), paint.width) {
            writeln!(out, "{}", paint.tone(proof.verdict, &line))?;
        }
        write_labelled(out, paint, Tone::Quiet, "read back", &of_read(&self.readback, paint))?;
        write_labelled(out, paint, Tone::Quiet, "approved", &of_read(&self.approved, paint))?;
        for (i, span) in proof.differing.iter().enumerate() {
            if i == PLACES_SHOWN && !paint.whole {
                let more = format!("and {}", text::count(proof.differing.len() - PLACES_SHOWN, "more place"));
                write_labelled(out, paint, Tone::Quiet, "", &more)?;
                break;
            }
            let address = self.readback.image.address(span.start);
            let here = span.of_bytes(self.readback.image.bytes()).unwrap_or_default();
            let there = self
                .approved
                .image
                .offset(address)
                .and_then(|from| self.approved.image.bytes().get(from..from + span.len()))
                .unwrap_or_default();
            let said = format!(
                "{}: approved {}, read back {}",
                text::place(*span, base),
                text::hex_short(there, 8),
                text::hex_short(here, 8)
            );
            write_labelled(out, paint, Tone::Bad, "differs", &said)?;
        }
        writeln!(out)?;
        finding::write(out, paint, &proof.findings, base)?;
        write_next(out, paint, self.next.as_deref())
    }

    /// The object that `--json` prints.
    #[must_use]
    pub fn json(&self) -> Object<ProofJson> {
        let (proof, base) = (self.proof, self.readback.image.base());
        let body = ProofJson {
            sentence: proof.sentence.clone(),
            reads: vec![ReadJson::from(&self.readback)],
            approved: ReadJson::from(&self.approved),
            bytes_compared: proof.bytes_compared,
            bytes_differing: proof.bytes_differing(),
            differing: proof
                .differing
                .iter()
                .map(|s| PlaceJson { at: s.addresses(base).start, bytes: s.len() })
                .collect(),
        };
        Object::new("vet", Some(proof.verdict), &proof.findings, base, body)
    }
}

/// What `vet` prints as JSON besides verdict and findings.
#[derive(Debug, Serialize)]
pub struct VetJson {
    sentence: String,
    reads: Vec<ReadJson>,
    judged_read: usize,
    agreement: Option<AgreementJson>,
    chip: Option<ChipJson>,
    layout: Option<NamedLayoutJson>,
    checks: Vec<CheckJson>,
    expected: Vec<MetJson>,
    majority: Option<MajorityJson>,
}

/// What `vet --must-equal` prints as JSON besides verdict and findings.
#[derive(Debug, Serialize)]
pub struct ProofJson {
    sentence: String,
    reads: Vec<ReadJson>,
    approved: ReadJson,
    bytes_compared: usize,
    bytes_differing: usize,
    differing: Vec<PlaceJson>,
}

#[derive(Debug, Serialize)]
struct ReadJson {
    #[serde(flatten)]
    name: text::Name,
    bytes: usize,
    sha256: String,
}

impl From<&Read<'_>> for ReadJson {
    fn from(read: &Read<'_>) -> Self {
        ReadJson { name: read.path.clone(), bytes: read.image.len(), sha256: read.sha256.clone() }
    }
}

#[derive(Debug, Serialize)]
struct AgreementJson {
    bytes_compared: usize,
    bytes_unstable: usize,
    bits_unstable: usize,
    same_extent: bool,
    groups: Vec<usize>,
    trusted: Option<usize>,
}

impl From<&Agreement> for AgreementJson {
    fn from(a: &Agreement) -> Self {
        AgreementJson {
            bytes_compared: a.bytes_compared,
            bytes_unstable: a.bytes_unstable,
            bits_unstable: a.bits_unstable,
            same_extent: a.same_extent,
            groups: a.groups.clone(),
            trusted: a.trusted,
        }
    }
}

#[derive(Debug, Serialize)]
struct ChipJson {
    name: &'static str,
    bytes: usize,
    page: usize,
}

#[derive(Debug, Serialize)]
struct PlaceJson {
    at: u64,
    bytes: usize,
}

#[derive(Debug, Serialize)]
struct MetJson {
    field: String,
    wanted: String,
    stored: Option<String>,
    at: Option<u64>,
    equal: bool,
    differs: Vec<DifferenceJson>,
}

impl MetJson {
    fn new(met: &Met, base: u64) -> Self {
        MetJson {
            field: met.field.clone(),
            wanted: met.wanted.clone(),
            stored: met.stored.clone(),
            at: met.place.map(|p| p.addresses(base).start),
            equal: met.equal,
            differs: met.differs.iter().map(DifferenceJson::from).collect(),
        }
    }
}

#[derive(Debug, Serialize)]
struct MajorityJson {
    #[serde(flatten)]
    name: text::Name,
    outvoted: Vec<usize>,
    without: Vec<PlaceJson>,
}

impl MajorityJson {
    fn new(written: &Written<'_>) -> Self {
        let majority = written.majority;
        let base = majority.image.base();
        MajorityJson {
            name: written.path.clone(),
            outvoted: majority.outvoted.clone(),
            without: majority
                .without
                .iter()
                .map(|s| PlaceJson { at: s.addresses(base).start, bytes: s.len() })
                .collect(),
        }
    }
}
