//! What an image's bytes say and what speaks for or against them: judged beside the keys, taken once it is done.

use std::sync::Arc;

use super::rows::Rows;
use super::sheet::{QUICK_BYTES, Sheet};
use crate::chip::Chip;
use crate::finding::Finding;
use crate::image::Image;
use crate::layout::{self, Decoded, Layout};
use crate::span::Span;
use crate::vet;

/// Images up to this size are judged as reads while they are worked on, and looked through for what is in them.
pub const MOST_JUDGED: usize = 64 << 20;

/// Everything that a judgement is made from.
pub struct Case {
    image: Image,
    layout: Option<Arc<Layout>>,
    chip: Option<&'static Chip>,
    remarks: Vec<Finding>,
    revision: u64,
}

impl Case {
    /// Judges; takes its time with large images. Of images over [`MOST_JUDGED`] only the layout is read.
    #[must_use]
    pub fn judge(self) -> Judgement {
        let decoded = self.layout.as_ref().map(|l| layout::decode(l, &self.image)).unwrap_or_default();
        if self.image.len() > MOST_JUDGED {
            return Judgement { decoded, findings: self.remarks, revision: self.revision };
        }
        let layouts = self.layout.as_deref().map(std::slice::from_ref).unwrap_or_default();
        let ask = vet::Ask { chip: self.chip, layouts, named: true, ..vet::Ask::default() };
        let mut findings = vet::vet(&[&self.image], &ask).findings;
        // What was remarked at opening and is seen again is told once.
        let seen = |remark: &Finding| findings.iter().any(|f| f.code == remark.code);
        let remarks: Vec<Finding> = self.remarks.into_iter().filter(|r| !seen(r)).collect();
        findings.extend(remarks);
        // What weighs most is met first; among equals the order stays.
        findings.sort_by_key(|f| std::cmp::Reverse(f.weight));
        Judgement { decoded, findings, revision: self.revision }
    }
}

/// What the bytes say and what speaks for or against them.
pub struct Judgement {
    decoded: Decoded,
    findings: Vec<Finding>,
    revision: u64,
}

/// What speaks for or against an image, as the Findings pane lists it.
#[derive(Debug, Default)]
pub struct Judged {
    /// The chip it was read from, when it was named.
    pub chip: Option<&'static Chip>,
    /// What was remarked when the file was read.
    pub remarks: Vec<Finding>,
    findings: Vec<Finding>,
    /// The list on the screen.
    pub rows: Rows,
    /// The revision that was judged last.
    of: Option<u64>,
}

impl Judged {
    /// Everything that was found; nothing before the first judgement.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The one that the list is on.
    #[must_use]
    pub fn chosen(&self) -> Option<&Finding> {
        self.findings.get(self.rows.at)
    }

    fn take(&mut self, findings: Vec<Finding>, revision: u64) {
        (self.findings, self.of) = (findings, Some(revision));
        self.rows.fit(self.findings.len());
    }

    /// Goes by `by`, round and round, to the next finding that has a place; returns both.
    pub fn step(&mut self, by: isize) -> Option<(&Finding, Span)> {
        let len = self.findings.len() as isize;
        let mut at = self.rows.at as isize;
        for _ in 0..len {
            at = (at + by).rem_euclid(len);
            if let Some(place) = self.findings.get(at as usize)?.place {
                self.rows.at = at as usize;
                return self.chosen().map(|finding| (finding, place));
            }
        }
        None
    }
}

impl Sheet {
    /// What the image must be judged by, to be judged elsewhere.
    #[must_use]
    pub fn case(&self) -> Case {
        Case {
            image: self.image().clone(),
            layout: self.layout().map(|l| Arc::clone(&l.layout)),
            chip: self.judged.chip,
            remarks: self.judged.remarks.clone(),
            revision: self.revision(),
        }
    }

    /// Whether the findings are about the bytes and the layout as they are now.
    #[must_use]
    pub fn is_judged(&self) -> bool {
        self.judged.of == Some(self.revision())
    }

    /// Takes a judgement, unless the bytes have changed since.
    pub fn take(&mut self, judgement: Judgement) {
        if judgement.revision != self.revision() {
            return;
        }
        let mut findings = judgement.findings;
        self.names().fill(&mut findings);
        self.judged.take(findings, judgement.revision);
        self.described.take(judgement.decoded, self.contents.image().len(), self.cursor.at);
        self.proposals.list(&self.described);
    }

    /// Judges the image and looks it over here and now.
    pub fn judge(&mut self) {
        if !self.is_judged() {
            self.take(self.case().judge());
        }
        if let Some(look) = self.contents.look() {
            look.over(|seen| {
                self.contents.looked(seen);
                true
            });
        }
    }

    /// Whether fields and checks may still be those of earlier bytes: in a large image they are read anew beside the keys.
    #[must_use]
    pub fn is_stale(&self) -> bool {
        !self.is_judged() && self.image().len() > QUICK_BYTES
    }

    /// Whether nothing speaks for or against this read because nobody asked: it is over [`MOST_JUDGED`].
    #[must_use]
    pub fn is_too_large_to_judge(&self) -> bool {
        self.image().len() > MOST_JUDGED
    }
}
