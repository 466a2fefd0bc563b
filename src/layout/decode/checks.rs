//! Checks: their places are worked out when every field is known.

use super::super::expr::Expr;
use super::super::model::Stretch;
use super::{FrameId, Run};
use crate::check::{self, Placed, Seal};
use crate::finding::{Code, Finding, Weight};
use crate::layout::Check;
use crate::span::Span;

/// The most checks that come out of one image.
const MAX_CHECKS: usize = 20_000;

impl Run<'_> {
    /// Every check of the image, the layout's own before those of groups and rows.
    pub(super) fn checks(&mut self) -> Vec<Check> {
        let mut due = std::mem::take(&mut self.due);
        due.sort_by_key(|(frame, check)| (*frame, *check));
        if due.len() > MAX_CHECKS {
            self.tell_limit(format!("more than {MAX_CHECKS} checks came out"), "checks");
        }
        let mut checks = Vec::with_capacity(due.len().min(MAX_CHECKS));
        for (frame, index) in due.into_iter().take(MAX_CHECKS) {
            let spec = &self.model.scopes[self.frames[frame].scope].checks[index];
            if let Some(when) = &spec.when
                && !self.holds(when, frame)
            {
                continue;
            }
            let name = self.path(frame, &spec.name);
            let over: Option<Vec<Vec<Span>>> =
                spec.over.iter().map(|stretch| self.stretch(stretch, frame)).collect();
            let stored_at = self.stretch(&spec.stored, frame).filter(|spans| spans.len() == 1);
            let placed = over.zip(stored_at).map(|(over, stored)| Placed {
                algorithm: spec.algorithm.clone(),
                over: over.into_iter().flatten().filter(|span| !span.is_empty()).collect(),
                stored_at: stored[0],
                order: spec.order,
                stored_bytes: spec.stored_bytes,
            });
            let bytes = placed.as_ref().map_or(0, |p| p.over.iter().map(|s| s.len()).sum());
            if !self.spend(16 + bytes) {
                // Fields that came out stay; this check and those after it are left out.
                break;
            }
            checks.push(self.verify(name, placed));
        }
        checks
    }

    fn verify(&mut self, name: String, placed: Option<Placed>) -> Check {
        let Some(placed) = placed else {
            self.findings.push(Finding::new(
                Weight::Doubt,
                Code::CheckUnreadable,
                format!("where the check {name} lies cannot be told"),
                "a field that says where it lies is absent or nonsense",
                "look at the fields that the check hangs on with `readproof show IMAGE`",
            ));
            return Check { name, placed: None, stored: None, computed: None, seal: Seal::Unreadable };
        };
        let verified = check::verify(&placed, self.image);
        let digits = placed.stored_at.len() * 2;
        let hex = |n: Option<u128>| n.map_or("nothing".to_string(), |n| format!("{n:0digits$X}"));
        match verified.seal {
            Seal::Sealed => {}
            Seal::Broken => {
                let seen = match (verified.stored, verified.computed) {
                    (Some(_), None) => {
                        format!(
                            "{name}: stored {} does not agree by {}",
                            hex(verified.stored),
                            placed.algorithm.name
                        )
                    }
                    _ => format!(
                        "{name}: stored {}, computed {} by {}",
                        hex(verified.stored),
                        hex(verified.computed),
                        placed.algorithm.name
                    ),
                };
                let finding = Finding::new(
                    Weight::Fault,
                    Code::CheckBroken,
                    seen,
                    "the bytes it protects or the stored value were read wrongly or changed without resealing",
                    "read the chip again; if it stays and you know what was changed, reseal it with `readproof amend IMAGE --reseal -o OUT`",
                );
                self.findings.push(finding.at(placed.stored_at));
            }
            Seal::Unreadable => {
                let finding = Finding::new(
                    Weight::Doubt,
                    Code::CheckUnreadable,
                    format!("{name}: a part of what it protects is not in the image"),
                    "the image is cut short or has gaps",
                    "compare its size with the chip by `readproof vet IMAGE --chip MARKING`, and read all of the chip again",
                );
                self.findings.push(finding.at(placed.stored_at));
            }
        }
        Check {
            name,
            stored: verified.stored,
            computed: verified.computed,
            seal: verified.seal,
            placed: Some(placed),
        }
    }

    fn stretch(&self, stretch: &Stretch, frame: FrameId) -> Option<Vec<Span>> {
        let here = self.frames[frame].start;
        let from_here = |expr: &Expr| {
            let offset = i128::try_from(here).ok()?.checked_add(self.number(expr, frame).ok()?)?;
            usize::try_from(offset).ok()
        };
        match stretch {
            Stretch::Between(start, end) => {
                let (start, end) = (from_here(start)?, from_here(end)?);
                (start <= end).then(|| vec![Span::new(start, end)])
            }
            Stretch::Bytes(origin, at, bytes) => {
                let start = self.offset(*origin, at, frame)?;
                Some(vec![Span::of(start, self.count(bytes, frame)?)])
            }
            Stretch::Field(Expr::Field(field)) => self.spans_of(field, frame),
            Stretch::Field(_) => None,
        }
    }
}
