//! The Checks pane: each check, computed against stored.

use super::canvas::Canvas;
use crate::check::Seal;
use crate::layout::Check;
use crate::report::text;
use crate::tui::app::App;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;

/// What stands in the place of a seal that is not known yet.
const COMPUTING: &str = "computing\u{2026}";

/// How many are broken.
pub(super) fn aside(app: &App) -> String {
    let checks = &app.it().decoded().checks;
    if app.it().is_stale() {
        return COMPUTING.into();
    }
    let broken = checks.iter().filter(|c| c.seal == Seal::Broken).count();
    match (checks.len(), broken) {
        (0, _) => String::new(),
        (_, 0) => "all sealed".into(),
        (_, n) => format!("{n} broken"),
    }
}

/// Draws the visible rows; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    if it.decoded().checks.is_empty() {
        let line = match (it.layout().is_some(), it.is_stale()) {
            (false, _) => "No layout is in force, so no checks are known.",
            (true, true) => "The checks are being computed.",
            (true, false) => "The layout has no checks.",
        };
        canvas.paragraph(0, line, Tone::Quiet);
        return canvas.on_screen(0, 0);
    }
    let checks = &it.decoded().checks;
    let widest = |of: &dyn Fn(&Check) -> usize| checks.iter().map(of).max().unwrap_or(0);
    let names = widest(&|c| text::width(&text::clean(&c.name))).clamp(6, (canvas.width() / 4).max(6));
    let seals = widest(&|c| c.seal.word().len());
    let values = widest(&|c| value(c, c.stored).len());
    let computed = widest(&|c| told(c).len());
    let height = canvas.height();
    for (y, check) in checks.iter().skip(it.described.checks.top).take(height).enumerate() {
        if it.is_stale() {
            let x = canvas.cell(2, y, names, &text::clean(&check.name), Tone::Plain) + 2;
            canvas.cell(x, y, canvas.width().saturating_sub(x + 1), COMPUTING, Tone::Quiet);
            continue;
        }
        let mark = if check.seal == Seal::Sealed { " " } else { "x" };
        canvas.text(0, y, mark, check.seal);
        let x = canvas.name(2, y, names, &text::clean(&check.name), Tone::Plain) + 2;
        let x = canvas.cell(x, y, seals, check.seal.word(), check.seal) + 2;
        let Some(placed) = &check.placed else { continue };
        let x = canvas.cell(x, y, values, &value(check, check.stored), check.seal) + 2;
        let x = if computed > 0 { canvas.cell(x, y, computed, &told(check), check.seal) + 2 } else { x };
        // A few letters of it would tell nothing.
        let room = canvas.width().saturating_sub(x + 1);
        if room >= 8 {
            canvas.cell(x, y, room, &placed.algorithm.name, Tone::Quiet);
        }
    }
    let chosen = it.described.checks.at.checked_sub(it.described.checks.top)?;
    if chosen < height {
        canvas.choose(chosen, app.panes.focus() == Pane::Checks);
    }
    canvas.on_screen(0, chosen)
}

fn value(check: &Check, number: Option<u128>) -> String {
    let bytes = check.placed.as_ref().map_or(0, |p| p.stored_at.len());
    number.map_or("--".into(), |v| text::number(v, bytes))
}

/// What a broken check would have to hold.
fn told(check: &Check) -> String {
    match check.seal {
        Seal::Broken => format!("computed {}", value(check, check.computed)),
        _ => String::new(),
    }
}
