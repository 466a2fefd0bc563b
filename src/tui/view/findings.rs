//! The Findings pane: what speaks for or against the read.

use super::canvas::Canvas;
use crate::finding::{Finding, Verdict};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::judging::MOST_JUDGED;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;
use crate::tui::way;

/// What they add up to.
pub(super) fn aside(app: &App) -> String {
    if app.it().is_too_large_to_judge() {
        return "not judged".into();
    }
    let findings = app.it().judged.findings();
    if findings.is_empty() && !app.it().is_judged() {
        return String::new();
    }
    format!("{}, {}", Verdict::of(findings).word(), text::count(findings.len(), "finding"))
}

/// Draws the visible rows and, below, what the chosen one means; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    if it.judged.findings().is_empty() && it.is_too_large_to_judge() {
        let told = format!("Over {} MiB, not judged here; readproof vet is.", MOST_JUDGED >> 20);
        canvas.text(1, 0, &told, Tone::Doubt);
        return canvas.on_screen(0, 0);
    }
    if it.judged.findings().is_empty() {
        // Silence before the first judgement speaks for nothing.
        match it.is_judged() {
            true => canvas.paragraph(0, "Nothing speaks against this image.", Tone::Good),
            false => canvas.paragraph(0, "The image is being judged.", Tone::Quiet),
        };
        return canvas.on_screen(0, 0);
    }
    let height = rows(canvas.height(), it.judged.findings().len());
    let place = |f: &Finding| f.place.map_or("whole".into(), |p| it.address(p.start));
    let places = it.judged.findings().iter().map(|f| place(f).len()).max().unwrap_or(0);
    let room = canvas.width().saturating_sub(1 + 5 + 1 + places + 2 + 1);
    let detail = detail(app, canvas.width().saturating_sub(3), room);
    for (y, finding) in it.judged.findings().iter().skip(it.judged.rows.top).take(height).enumerate() {
        let x = canvas.cell(1, y, 5, finding.weight.word(), finding.weight) + 1;
        let x = canvas.cell(x, y, places, &place(finding), Tone::Quiet) + 2;
        canvas.cell(x, y, room, &text::clean(&finding.seen), Tone::Plain);
    }
    for (y, (tone, line)) in detail.iter().enumerate() {
        canvas.text(3, height + y, line, *tone);
    }
    let chosen = it.judged.rows.at.checked_sub(it.judged.rows.top)?;
    if chosen < height {
        canvas.choose(chosen, app.panes.focus() == Pane::Findings);
    }
    canvas.on_screen(0, chosen)
}

/// Rows of the list; the rest of the pane explains the chosen one.
pub(super) fn rows(height: usize, findings: usize) -> usize {
    if height >= 6 { findings.clamp(1, height / 2) } else { height }
}

/// What the chosen finding means, what to do, and by which keys; what was seen too, when its row has no room for it.
fn detail(app: &App, width: usize, room: usize) -> Vec<(Tone, String)> {
    let it = app.it();
    let Some(finding) = it.judged.chosen() else { return Vec::new() };
    let is_cut = text::width(&text::clean(&finding.seen)) > room;
    let seen = if is_cut { finding.seen.as_str() } else { "" };
    let here = way::on(finding.code).map(|way| format!("here, {}", app.keys.fill(way))).unwrap_or_default();
    let told = [
        (Tone::Plain, seen),
        (Tone::Quiet, finding.means.as_str()),
        (Tone::Strong, finding.advice.as_str()),
        (Tone::Accent, here.as_str()),
    ];
    told.into_iter()
        .filter(|(_, t)| !t.is_empty())
        .flat_map(|(tone, t)| {
            text::wrap(&text::clean(&text::sentence(t)), width.max(10)).into_iter().map(move |l| (tone, l))
        })
        .collect()
}
