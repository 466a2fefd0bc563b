//! Is a changed image safe to write?
//!
//! The image as it was read is held against the image that is to be written. What may change is what the repair is
//! about: Records and Settings, and the checks that follow from them. What makes the unit this unit (Identity), what
//! was measured for it (Calibration), what the maker keeps for itself (Reserved) and what nobody has described must
//! stay, unless each is named. The ruling is computed from findings: a fault means not safe, a doubt that it cannot
//! be told.

mod allowed;
mod by_layout;
mod inferred;
mod records;
mod suspects;

use super::changes::{Changed, Comparison, FieldChange, compare_at};
use super::differences::{Differences, common_base};
use crate::finding::{Code, Finding, Verdict, Weight};
use crate::image::Image;
use crate::layout::{self, Decoded, Layout, Role};
use crate::wording::{address, count};

pub use allowed::Allowed;
pub use records::Records;

/// Whether an image may be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ruling {
    /// Nothing speaks against it.
    Safe,
    /// What is known is not enough.
    CannotTell,
    /// It must not be written as it is.
    NotSafe,
}

impl Ruling {
    /// The words on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Ruling::Safe => "safe to write",
            Ruling::CannotTell => "cannot tell",
            Ruling::NotSafe => "not safe to write",
        }
    }
}

impl From<Verdict> for Ruling {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Sound => Ruling::Safe,
            Verdict::Doubtful => Ruling::CannotTell,
            Verdict::Unsound => Ruling::NotSafe,
        }
    }
}

/// One change with what is thought of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judged {
    /// The bytes and what lies over them.
    pub changed: Changed,
    /// Whether it may be.
    pub allowed: bool,
    /// Why, in a few words.
    pub why: String,
}

/// What is thought of a changed image.
#[derive(Debug, Clone, PartialEq)]
pub struct Audit {
    /// Whether it may be written.
    pub ruling: Ruling,
    /// Why, as one clause that follows the ruling's words and a colon.
    pub why: String,
    /// The change list, each change judged.
    pub changes: Vec<Judged>,
    /// What differs; its change list is the one of `changes`.
    pub comparison: Comparison,
    /// What became of Records.
    pub records: Records,
    /// What was seen, the heaviest first.
    pub findings: Vec<Finding>,
    /// What to heed before the image is written, where work can hurt someone: the layout's cautions, then those of
    /// the fields that changed.
    pub cautions: Vec<String>,
}

impl Audit {
    /// What the findings add up to.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        Verdict::of(&self.findings)
    }

    /// Takes in what else was seen, such as doubts about the choice of the layout, and rules again.
    pub fn take_in(&mut self, findings: impl IntoIterator<Item = Finding>) {
        self.findings.extend(findings);
        self.findings.sort_by_key(|f| std::cmp::Reverse(f.weight));
        self.ruling = Ruling::from(self.verdict());
        self.why = why(self.ruling, &self.findings, &self.comparison);
    }

    /// The changes that may not be.
    pub fn refused(&self) -> impl Iterator<Item = &Judged> {
        self.changes.iter().filter(|c| !c.allowed)
    }
}

/// Holds `after` against `before`, by `layout` as far as there is one.
#[must_use]
pub fn audit(layout: Option<&Layout>, before: &Image, after: &Image, allowed: &Allowed) -> Audit {
    let Some((was, is)) = common_base(before, after) else { return elsewhere(before, after) };
    let (was, is) = (was.as_ref(), is.as_ref());
    let differences = Differences::between(was, is);
    let size = size(&differences, was, [before.len(), after.len()]);
    audited(layout, [was, is], allowed, differences, size)
}

/// As [`audit`], for images with the same first address that are known to differ in these places.
#[must_use]
pub fn audit_at(
    layout: Option<&Layout>,
    before: &Image,
    after: &Image,
    allowed: &Allowed,
    differences: Differences,
) -> Audit {
    let size = size(&differences, before, [before.len(), after.len()]);
    audited(layout, [before, after], allowed, differences, size)
}

fn audited(
    layout: Option<&Layout>,
    [was, is]: [&Image; 2],
    allowed: &Allowed,
    differences: Differences,
    size: Option<Finding>,
) -> Audit {
    let mut findings: Vec<Finding> = size.into_iter().chain(blank(is)).collect();
    let (changes, comparison, records, cautions) = match layout {
        Some(layout) => {
            let decoded = (layout::decode(layout, was), layout::decode(layout, is));
            let comparison = compare_at(differences, was, is, Some((&decoded.0, &decoded.1)));
            let judgement = by_layout::Judgement { before: was, after: is, decoded: &decoded.1, allowed };
            let changes = judgement.changes(&comparison);
            let marked = |image: &Image| layout::may_begin(layout, image.bytes(), 0);
            // Where only the marks changed, it is still this memory, and they are told as what they are.
            let changed = |f: &FieldChange| !matches!(f.role(), Some(Role::Reserved | Role::Check));
            let unmarked = marked(was) && !marked(is) && comparison.fields.iter().any(changed);
            let records = Records::of(&decoded.1, &comparison);
            findings.extend(unmarked.then(|| no_more_marked(layout)));
            findings.extend(judgement.findings(&comparison, &changes).into_iter().chain(records.findings()));
            if unmarked {
                // What the layout makes of other contents is no news of this unit.
                let of_this_kind =
                    [Code::OtherUnit, Code::FieldOdd, Code::RecordsRested, Code::RecordsFilled];
                findings.retain(|f| !of_this_kind.contains(&f.code));
            }
            let cautions = cautions(layout, &decoded.1, &comparison);
            (changes, comparison, records, cautions)
        }
        None => {
            let comparison = compare_at(differences, was, is, None);
            let changes = inferred::changes(&comparison, allowed);
            findings.extend(inferred::findings(was, is, &comparison, &changes));
            let cautions =
                if comparison.differences.is_empty() { Vec::new() } else { vec![USUAL_CAUTION.to_owned()] };
            (changes, comparison, Records::default(), cautions)
        }
    };
    let (ruling, why) = (Ruling::Safe, String::new());
    let mut audit = Audit { ruling, why, changes, comparison, records, findings: Vec::new(), cautions };
    audit.take_in(findings);
    audit
}

/// Nothing is in the changed image; a read without contact that was written would erase the chip.
fn blank(after: &Image) -> Option<Finding> {
    /// Fewer bytes are no memory, and more are looked through by nobody who waits for a key to be answered.
    const BYTES: std::ops::RangeInclusive<usize> = 64..=64 << 20;
    let first = BYTES.contains(&after.len()).then(|| after.only_value())??;
    Some(Finding::new(
        Weight::Fault,
        Code::Blank,
        format!("nothing is in the changed image: every byte is {first:02X}"),
        "it was read without contact, or from an erased chip; written, it erases this one",
        "do not write it; read the chip again, and vet both reads with `readproof vet BEFORE READ2`",
    ))
}

/// The original has the marks of the layout and the changed image has not.
fn no_more_marked(layout: &Layout) -> Finding {
    Finding::new(
        Weight::Fault,
        Code::LayoutUnfit,
        format!(
            "the marks of the layout {:?} are in the original and not in the changed image",
            layout.title
        ),
        "it is of another kind of memory, or its contents were moved, turned about or lost on the way",
        "do not write it, nor take anything over from it; look what it is with `readproof vet AFTER`",
    )
}

/// What is always said of a change to Records or Settings, or to bytes that nobody has described, unless the layout
/// has cautions for its own board.
pub const USUAL_CAUTION: &str = "Where the board switches mains, or looks after gas, refrigerant, brakes or moving parts: isolate it before it is touched; a fault is cleared only after its cause is found and mended, and a limit is only changed as the maker and local codes allow. Follow the maker's instructions, and leave licensed work to licensed people.";

/// The layout's cautions, else the usual one, then those of what changed and of what that is inside; each once.
fn cautions(layout: &Layout, decoded: &Decoded, comparison: &Comparison) -> Vec<String> {
    let mut cautions = layout.cautions.clone();
    let acts = |role: Option<Role>| matches!(role, Some(Role::Record | Role::Setting));
    if cautions.is_empty() && comparison.fields.iter().any(|f| acts(f.role())) {
        cautions.push(USUAL_CAUTION.to_owned());
    }
    let guarded = decoded.fields.iter().filter_map(|f| Some((f.path.as_str(), f.caution.as_deref()?)));
    for (path, caution) in guarded {
        let touched = comparison.fields.iter().any(|f| layout::is_inside(&f.path, path));
        let said = |text: &str| format!("{path}: {text}");
        if touched && !cautions.contains(&said(caution)) {
            cautions.push(said(caution));
        }
    }
    cautions
}

/// One clause for the ruling.
fn why(ruling: Ruling, findings: &[Finding], comparison: &Comparison) -> String {
    let first = |weight: Weight| findings.iter().find(|f| f.weight == weight).map(|f| f.seen.clone());
    match ruling {
        Ruling::NotSafe => first(Weight::Fault).unwrap_or_default(),
        Ruling::CannotTell => first(Weight::Doubt).unwrap_or_default(),
        Ruling::Safe if comparison.differences.is_empty() => "the two images are the same".to_owned(),
        Ruling::Safe => {
            let bytes = count(comparison.differences.changed_bytes(), "byte");
            let checks = match comparison.checks.len() {
                0 => "the layout has no check".to_owned(),
                1 => "its check is sealed".to_owned(),
                n => format!("all {n} checks are sealed"),
            };
            format!("{bytes} changed, all where changes are allowed, and {checks}")
        }
    }
}

/// `before` and `after` are the bytes of the images as they are, `was` begins at the address that both begin at.
fn size(differences: &Differences, was: &Image, [before, after]: [usize; 2]) -> Option<Finding> {
    if differences.same_places() {
        return None;
    }
    let seen = if before != after {
        format!("the changed image has {} and the original {before}", count(after, "byte"))
    } else {
        let spans = differences.only_before.iter().chain(&differences.only_after);
        let bytes: usize = spans.clone().map(|s| s.len()).sum();
        let at = spans.map(|s| s.start).min().unwrap_or(0);
        format!("only one of the images has {} from {} on", count(bytes, "byte"), address(was.address(at)))
    };
    Some(Finding::new(
        Weight::Fault,
        Code::SizeChanged,
        seen,
        "the file was made for another memory, or a part of it was lost or added",
        "do not write it; ask for the file again, or make the change yourself: `readproof amend BEFORE --set FIELD=VALUE --reseal -o OUT`",
    ))
}

/// Images that share no address.
fn elsewhere(before: &Image, after: &Image) -> Audit {
    let seen = format!(
        "the changed image begins at {} and the original at {}; they share no address",
        address(after.base()),
        address(before.base())
    );
    let finding = Finding::new(
        Weight::Fault,
        Code::SizeChanged,
        seen.clone(),
        "one of the files was made with an offset, or is not of this memory",
        "give the one with the offset its right address first, with `readproof convert AFTER OUT --base ADDRESS`",
    );
    Audit {
        ruling: Ruling::NotSafe,
        why: seen,
        changes: Vec::new(),
        comparison: Comparison::default(),
        records: Records::default(),
        findings: vec![finding],
        cautions: Vec::new(),
    }
}

#[cfg(test)]
mod tests;
