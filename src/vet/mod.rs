//! Is this a good read? Read faults, and the agreement of several reads.
//!
//! [`vet`] judges one or several reads of one chip and adds up what it saw to a [`Report`]. Each fault has a file
//! of its own:
//!
//! | file | fault |
//! | --- | --- |
//! | [`size`], [`blank`] | another size than the chip's; nothing in it |
//! | [`address`] | contents repeat, an address line is stuck or shorted |
//! | [`data_bit`] | a data bit is stuck |
//! | [`transform`], [`likeness`], [`hypothesis`] | the whole read was turned about |
//! | [`tail`] | the end was lost |
//! | [`agreement`], [`majority`] | reads differ |
//! | [`by_layout`], [`expect`] | what a layout and the label say |
//! | [`written`] | what was read back is not what was to be written |

pub mod address;
pub mod agreement;
pub mod blank;
pub mod by_layout;
pub mod data_bit;
pub mod expect;
pub mod hypothesis;
pub mod likeness;
pub mod majority;
mod sentence;
pub mod size;
pub mod tail;
pub mod transform;
pub mod written;

pub use agreement::Agreement;
pub use by_layout::Judged;
pub use expect::{Expectation, Met};
pub use majority::{Majority, NoMajority};
pub use transform::Transform;

use crate::chip::Chip;
use crate::finding::{Code, Finding, Verdict, Weight};
use crate::image::Image;
use crate::layout::Layout;
use crate::span::Span;

/// What is asked about a read besides the read itself.
#[derive(Debug, Clone, Default)]
pub struct Ask<'a> {
    /// The chip, when it was named.
    pub chip: Option<&'a Chip>,
    /// The layouts at hand; the one whose marks fit is used.
    pub layouts: &'a [Layout],
    /// The user named the first of the layouts: it is used whether its marks fit or not.
    pub named: bool,
    /// What fields must hold.
    pub expect: &'a [Expectation],
}

/// What one or several reads came to.
#[derive(Debug, Clone)]
pub struct Report {
    /// Everything that was seen, about the reads as a whole and about the read that is judged.
    pub findings: Vec<Finding>,
    /// What the findings add up to.
    pub verdict: Verdict,
    /// The verdict in one sentence, with the reason: without its full stop.
    pub sentence: String,
    /// How several reads compare.
    pub agreement: Option<Agreement>,
    /// Index of the read that was judged for the rest: the first of the trusted reads, else the first of all.
    pub judged_read: usize,
    /// The layout the read was judged by, and what it said.
    pub layout: Option<Judged>,
    /// What came of the expectations, in their order.
    pub expected: Vec<Met>,
}

impl Report {
    /// Adds findings from elsewhere, such as remarks on the files; a heavier one changes the verdict.
    pub fn add(&mut self, findings: impl IntoIterator<Item = Finding>) {
        for finding in findings {
            if Verdict::of(std::slice::from_ref(&finding)) > self.verdict {
                self.verdict = Verdict::of(std::slice::from_ref(&finding));
                self.sentence = format!("{}: {}", self.verdict.word(), finding.seen);
            }
            self.findings.push(finding);
        }
    }
}

/// Judges one or several reads of one chip.
#[must_use]
pub fn vet(reads: &[&Image], ask: &Ask<'_>) -> Report {
    let agreement = agreement::compare(reads);
    let mut findings = agreement.as_ref().map(agreement::findings).unwrap_or_default();
    // Equal reads that outnumber every other are judged alone: what an outvoted read shows besides is its fault.
    let trusted = agreement.as_ref().and_then(|a| Some((a, a.trusted?)));
    let judged_read = trusted.and_then(|(a, group)| a.groups.iter().position(|&g| g == group)).unwrap_or(0);
    let mut examined = match reads.get(judged_read) {
        Some(read) => examine(read, ask),
        None => Examined::default(),
    };
    findings.append(&mut examined.findings);
    if trusted.is_none() {
        let first = findings.clone();
        for (i, read) in reads.iter().enumerate().filter(|&(i, _)| i != judged_read) {
            for mut finding in examine(read, ask).findings {
                let told = first.iter().any(|f| f.code == finding.code && f.place == finding.place);
                if !told && finding.weight > Weight::Note {
                    finding.seen = format!("in read {}, {}", i + 1, finding.seen);
                    findings.push(finding);
                }
            }
        }
    }
    if let ([_], Verdict::Sound) = (reads, Verdict::of(&findings)) {
        findings.push(Finding::new(
            Weight::Note,
            Code::OneRead,
            "there is only one read",
            "one read cannot show a bit that reads one way now and the other way later",
            "read the chip a second time, after taking the contact off and on again, and vet both reads together",
        ));
    }
    let verdict = Verdict::of(&findings);
    let mut report = Report {
        findings,
        verdict,
        sentence: String::new(),
        agreement,
        judged_read,
        layout: examined.layout,
        expected: examined.expected,
    };
    report.sentence = sentence::of(&report, reads, ask);
    report
}

/// What one read came to.
#[derive(Default)]
struct Examined {
    findings: Vec<Finding>,
    layout: Option<Judged>,
    expected: Vec<Met>,
}

fn examine(image: &Image, ask: &Ask<'_>) -> Examined {
    let mut findings = Vec::new();
    if image.is_empty() {
        findings.push(Finding::new(
            Weight::Fault,
            Code::Blank,
            "the read holds no byte",
            "the file is empty",
            "read the chip again",
        ));
        return Examined { findings, ..Examined::default() };
    }
    findings.extend(ask.chip.and_then(|chip| size::check(image.len(), chip)));
    if let Some(blank) = blank::check(image) {
        findings.push(blank);
        return Examined { findings, ..Examined::default() };
    }
    let bytes = image.bytes();
    let mut layout = by_layout::judge(image, ask.layouts, ask.named);
    let stuck = data_bit::examine(bytes);
    if !layout.as_ref().is_some_and(Judged::proves) {
        // A stuck bit spoils the likeness and none of the transforms makes one.
        let by_likeness = || if stuck.is_empty() { hypothesis::by_likeness(image) } else { None };
        let turned = hypothesis::by_layouts(image, ask.layouts).or_else(by_likeness);
        if let Some((transform, evidence)) = turned {
            // Everything else would be a consequence of it.
            findings.push(hypothesis::finding(transform, &evidence, ask.layouts));
            return Examined { findings, layout, ..Examined::default() };
        }
    }
    let lines = address::examine(bytes);
    // Where the contents repeat, the layout is asked about the part that repeats.
    let mut cut = None;
    if let Some(address::Lines::Repeat { period, .. }) = lines.first()
        && !layout.as_ref().is_some_and(|j| j.sized && j.marked)
        && bytes.len().is_power_of_two()
    {
        let part = first_part(image, *period);
        let of_part = by_layout::judge(&part, ask.layouts, ask.named).filter(|j| j.sized && j.marked);
        if of_part.is_some() {
            layout = of_part;
            cut = Some(part);
        }
    }
    let judged = cut.as_ref().unwrap_or(image);
    let capacity = ask
        .chip
        .map(|c| c.bytes)
        .or_else(|| layout.as_ref().filter(|j| j.sized && j.marked).map(|_| judged.len()));
    let mut by_bytes: Vec<Finding> =
        lines.iter().map(|l| address::finding(l, bytes.len(), capacity)).collect();
    by_bytes.extend(stuck.into_iter().map(data_bit::finding));
    let mut by_layout = by_layout::findings(layout.as_ref(), ask.layouts, judged);
    let page = ask.chip.map(|c| c.page);
    if !by_layout.iter().any(|f| f.code == Code::TailLost) {
        let lost = tail::examine(bytes, page);
        by_bytes.extend(
            lost.map(|(end, value)| tail::finding(end, value, Weight::Doubt, tail::UNLIKE_OTHER_FILL)),
        );
    }
    // Checks that agree are proof, and what looks strange by the bytes alone is then so by design.
    if cut.is_none() && layout.as_ref().is_some_and(Judged::proves) {
        for finding in &mut by_bytes {
            finding.weight = Weight::Note;
            finding.means = "the marks and every check agree, so this is most likely by design".to_owned();
        }
    }
    findings.append(&mut by_bytes);
    findings.append(&mut by_layout);
    let mut expected = Vec::new();
    for expectation in ask.expect {
        let (met, finding) = expect::check(expectation, judged, layout.as_ref().map(|j| &j.decoded));
        expected.push(met);
        findings.push(finding);
    }
    Examined { findings, layout, expected }
}

fn first_part(image: &Image, bytes: usize) -> Image {
    let end = bytes.min(image.len());
    let within = Span::new(0, end);
    let gaps = image.gaps().iter().filter_map(|g| g.intersection(within)).collect();
    Image::with_gaps(image.base(), image.bytes()[..end].to_vec(), gaps)
}

#[cfg(test)]
mod tests;
