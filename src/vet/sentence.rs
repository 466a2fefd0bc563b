//! The verdict in one plain sentence.

use super::{Ask, Report};
use crate::finding::{Finding, Verdict, Weight};
use crate::image::Image;
use crate::wording::count;

/// What the report comes to and why, without the full stop.
pub(super) fn of(report: &Report, reads: &[&Image], ask: &Ask<'_>) -> String {
    against(report.verdict, &report.findings).unwrap_or_else(|| sound(report, reads, ask))
}

/// What speaks against the reads; nothing when they are sound.
pub(super) fn against(verdict: Verdict, findings: &[Finding]) -> Option<String> {
    match verdict {
        Verdict::Sound => None,
        Verdict::Doubtful => Some(format!("doubtful: {}", gravest(findings))),
        Verdict::Unsound => Some(format!("unsound, do not use it as it is: {}", gravest(findings))),
    }
}

fn sound(report: &Report, reads: &[&Image], ask: &Ask<'_>) -> String {
    let bytes = reads.first().map_or(0, |r| r.len());
    let reads = match reads.len() {
        1 => format!("as far as one read of {} can show", count(bytes, "byte")),
        n => format!("{n} equal reads of {}", count(bytes, "byte")),
    };
    let mut parts = vec![format!("sound: {reads}")];
    if let Some(chip) = ask.chip {
        parts.push(format!("the size of a {}", chip.name));
    }
    match &report.layout {
        Some(judged) => {
            let title = ask.layouts.get(judged.index).map_or("", |l| l.title.as_str());
            parts.push(match judged.seals() {
                (_, 0) => format!("the layout \"{title}\" fits"),
                (sealed, all) => format!("the layout \"{title}\" fits and {sealed} of {all} checks agree"),
            });
        }
        None => parts.push("judged by its bytes alone, no layout fits".to_owned()),
    }
    for met in report.expected.iter().filter(|m| m.equal) {
        parts.push(format!("{} is {}", met.field, met.wanted));
    }
    parts.join(", ")
}

/// The first of the heaviest findings, and how many more there are that weigh anything.
fn gravest(findings: &[Finding]) -> String {
    let Some(heaviest) = findings.iter().map(|f| f.weight).max() else { return String::new() };
    let seen = findings.iter().find(|f| f.weight == heaviest).map_or("", |f| f.seen.as_str());
    let more = findings.iter().filter(|f| f.weight > Weight::Note).count().saturating_sub(1);
    match more {
        0 => seen.to_owned(),
        n => format!("{seen}; and {n} more {}", if n == 1 { "finding" } else { "findings" }),
    }
}
