//! Is this a good read? Read faults, and the agreement of several reads.
//!
//! [`vet`] judges one or several reads of one chip and adds up what it saw to a [`Report`]. Each fault has a file
//! of its own:
//!
//! | file | fault |
//! | --- | --- |
//! | `size`, `blank` | another size than the chip's; nothing in it |
//! | `address` | contents repeat, an address line is stuck or shorted |
//! | `data_bit` | a data bit is stuck |
//! | `transform`, `likeness`, `hypothesis` | the whole read was turned about |
//! | `displaced` | the contents stand at other offsets |
//! | `text` | the file was taken for text, or is text |
//! | `tail` | the end was lost |
//! | `agreement`, `pattern`, `contents`, [`majority`] | reads differ |
//! | `by_layout`, `expect` | what a layout and the label say |
//! | [`written`], `cause` | what was read back is not what was to be written, and why |
//! | `sentence` | the verdict in one plain sentence |

mod address;
mod agreement;
mod blank;
mod by_layout;
mod cause;
mod contents;
mod data_bit;
mod displaced;
mod expect;
mod hypothesis;
mod likeness;
pub mod majority;
mod pattern;
mod sentence;
mod size;
mod tail;
mod text;
mod transform;
pub mod written;

pub use address::repeated;
pub use agreement::Agreement;
pub use by_layout::Judged;
pub use expect::{Expectation, Met};
pub use majority::{Majority, NoMajority};
pub use transform::Transform;

use std::cell::LazyCell;

use agreement::Flips;

use crate::chip::Chip;
use crate::finding::{Code, Finding, Verdict, Weight};
use crate::image::Image;
use crate::layout::Layout;

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
    /// Adds findings from elsewhere, such as remarks on the files, and judges anew.
    pub fn add(&mut self, findings: impl IntoIterator<Item = Finding>) {
        self.findings.extend(findings);
        self.verdict = Verdict::of(&self.findings);
        if let Some(sentence) = sentence::against(self.verdict, &self.findings) {
            self.sentence = sentence;
        }
    }
}

/// Judges one or several reads of one chip.
#[must_use]
pub fn vet(reads: &[&Image], ask: &Ask<'_>) -> Report {
    let agreement = agreement::compare(reads);
    // Equal reads that outnumber every other are judged alone: what an outvoted read shows besides is its fault.
    let trusted = agreement.as_ref().and_then(|a| Some((a, a.trusted?)));
    let judged_read = trusted.and_then(|(a, group)| a.groups.iter().position(|&g| g == group)).unwrap_or(0);
    let judge = |read: usize| by_layout::judge(reads.get(read)?, ask.layouts, ask.named);
    // Every other read is compared with the one that is judged.
    let there = LazyCell::new(|| judge(judged_read));
    let by_contents =
        |flips: &Flips, weight| contents::finding(flips, &judge(flips.read)?, there.as_ref()?, weight);
    let of_agreement = agreement.as_ref().map(|a| agreement::findings(a, by_contents));
    let mut findings = of_agreement.unwrap_or_default();
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
                    finding.advice = finding.advice.replace(" IMAGE", &format!(" IMAGE{}", i + 1));
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
            "read the chip a second time, after taking the contact off and on again, and vet both with `readproof vet IMAGE READ2`",
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

/// Why no layout fits although one would: the contents stand elsewhere, or were turned about.
#[must_use]
pub fn why_none_fits(image: &Image, layouts: &[Layout]) -> Option<Finding> {
    displaced::check(image, layouts).or_else(|| {
        let (transform, evidence) = hypothesis::by_layouts(image, layouts)?;
        Some(hypothesis::finding(transform, &evidence, layouts))
    })
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
    findings.extend(ask.chip.and_then(|chip| size::check(image.len(), chip)));
    if let Some(blank) = blank::check(image) {
        findings.push(blank);
        return Examined { findings, ..Examined::default() };
    }
    let mut layout = by_layout::judge(image, ask.layouts, ask.named);
    let proven = layout.as_ref().is_some_and(Judged::proves);
    if layout.as_ref().is_none_or(|j| !j.marked)
        && let Some(displaced) = displaced::check(image, ask.layouts)
    {
        // So is another size, and that no layout fits.
        return Examined { findings: vec![displaced], layout, ..Examined::default() };
    }
    if !proven && let Some(text) = text::check(image) {
        return Examined { findings: vec![text], layout, ..Examined::default() };
    }
    let lines = address::examine(image.bytes());
    let stuck = data_bit::examine(image.bytes());
    if !proven && let Some(turned) = turned_about(image, ask.layouts, &lines, &stuck) {
        // Everything else would be a consequence of it.
        findings.push(turned);
        return Examined { findings, layout, ..Examined::default() };
    }
    if ask.chip.is_none() && layout.is_none() && !ask.layouts.is_empty() {
        findings.extend(size::of_no_chip(image.bytes()));
    }
    // Where the contents repeat, the layout is asked about the part that repeats.
    let part = lines.iter().find_map(|line| part_with_layout(image, line, layout.as_ref(), ask));
    let judged = part.as_ref().map_or(image, |(part, _)| part);
    if let Some((_, of_part)) = &part {
        layout = Some(of_part.clone());
    }
    let capacity = ask.chip.map(|c| c.bytes).or(part.as_ref().map(|(part, _)| part.len()));
    for line in &lines {
        let excused = proven && layout.as_ref().is_some_and(|j| is_by_design(image, line, j, ask));
        findings.push(by_design_if(excused, address::finding(line, image.len(), capacity)));
    }
    findings.extend(stuck.into_iter().map(|s| by_design_if(proven, data_bit::finding(s))));
    let by_layout = by_layout::findings(layout.as_ref(), ask.layouts, judged);
    if !by_layout.iter().any(|f| f.code == Code::TailLost) {
        let lost = tail::examine(image.bytes(), ask.chip.map(|c| c.page));
        findings.extend(lost.map(|finding| by_design_if(proven, finding)));
    }
    findings.extend(by_layout);
    let mut expected = Vec::new();
    for expectation in ask.expect {
        let (met, told) = expect::check(expectation, judged, layout.as_ref().map(|j| &j.decoded));
        expected.push(met);
        findings.extend(told);
    }
    Examined { findings, layout, expected }
}

/// That the whole read was turned about, when that explains it.
fn turned_about(
    image: &Image,
    layouts: &[Layout],
    lines: &[address::Lines],
    stuck: &[data_bit::StuckBit],
) -> Option<Finding> {
    let by_likeness = || {
        // A stuck bit or address line spoils the likeness, and no transform makes one.
        let whole = stuck.is_empty() && lines.iter().all(|l| l.period().is_some());
        let once = lines.iter().find_map(address::Lines::period).unwrap_or(image.len());
        hypothesis::by_likeness(image.bytes().get(..once).filter(|_| whole)?)
    };
    let (transform, evidence) = hypothesis::by_layouts(image, layouts).or_else(by_likeness)?;
    Some(hypothesis::finding(transform, &evidence, layouts))
}

/// Checks that agree are proof, and what looks strange by the bytes alone is then so by design.
fn by_design_if(proven: bool, mut finding: Finding) -> Finding {
    if proven && finding.weight > Weight::Note {
        finding.weight = Weight::Note;
        finding.means = "the marks and every check agree, so this is most likely by design".to_owned();
        finding.advice = "leave it as it is".to_owned();
    }
    finding
}

/// Whether a layout that proves an image accounts for what its address lines look like: a check covers what
/// repeats, and the layout would not prove the first of the copies just as well.
fn is_by_design(image: &Image, line: &address::Lines, proves: &Judged, ask: &Ask<'_>) -> bool {
    let Some(period) = line.period() else { return true };
    let part = by_layout::judge(&address::first_part(image, period), ask.layouts, ask.named);
    proves.checks_past(period) && !part.is_some_and(|j| j.sized && j.marked && j.is_sealed())
}

/// The part of an image that comes again and again, when a layout fits the part and does not fit the whole.
fn part_with_layout(
    image: &Image,
    line: &address::Lines,
    of_whole: Option<&Judged>,
    ask: &Ask<'_>,
) -> Option<(Image, Judged)> {
    let fits = |j: &Judged| j.sized && j.marked;
    if of_whole.is_some_and(fits) || !image.len().is_power_of_two() {
        return None;
    }
    let part = address::first_part(image, line.period()?);
    let judged = by_layout::judge(&part, ask.layouts, ask.named).filter(fits)?;
    Some((part, judged))
}

#[cfg(test)]
mod tests;
