//! The Twin view: two images side by side, the fields that differ, the checks of both.

use super::bytes::Row;
use super::canvas::Canvas;
use super::screen::Screen;
use crate::check::Seal;
use crate::layout::{Check, Field};
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;
use crate::tui::twin::Twin;

/// Draws both sides; returns where the cursor of the side that is worked on is.
pub(super) fn draw_sides(
    canvas: &mut Canvas<'_>,
    app: &App,
    twin: &Twin,
    screen: &Screen,
) -> Option<(u16, u16)> {
    let sides = screen.sides()?;
    if let Some(x) = screen.rule_between() {
        for y in 0..sides[0].height {
            canvas.text(usize::from(x), usize::from(sides[0].y + y), "│", Tone::Quiet);
        }
    }
    let mut cursor = None;
    for (side, (area, index)) in sides.into_iter().zip([twin.left, twin.right]).enumerate() {
        let Some(sheet) = app.images().get(index) else { continue };
        let has_keys = app.panes.focus() == Pane::Bytes && app.current() == index;
        let mut canvas = canvas.part(area);
        side_heading(&mut canvas, app, twin, index, has_keys);
        let mut canvas = canvas.below(1);
        for y in 0..canvas.height() {
            let Some(row) = twin.rows().get(twin.top + y) else { break };
            let Some(span) = row.spans.get(side).copied().flatten() else {
                let dots = "·".repeat(screen.grid.digits);
                canvas.text(screen.grid.address_at(), y, &dots, Tone::Quiet);
                continue;
            };
            let leaves = sheet.described.leaves(span);
            let drawn = Row { sheet, grid: screen.grid, span, skip: row.skip, leaves: &leaves, has_keys };
            let other = row.spans.get(1 - side).copied().flatten();
            let at = drawn.draw(&mut canvas, y, |at| differs(app, twin, [side, at], span, other));
            cursor = at.filter(|_| has_keys).or(cursor);
        }
        match twin.rows().count() {
            0 if twin.is_new() => canvas.text(1, 0, "Not compared yet.", Tone::Quiet),
            0 => canvas.text(1, 0, "Nothing differs.", Tone::Good),
            _ => 0,
        };
    }
    cursor
}

/// Whether the byte at an offset of a side differs from the one beside it.
fn differs(app: &App, twin: &Twin, [side, at]: [usize; 2], span: Span, other: Option<Span>) -> bool {
    let Some(other) = other else { return true };
    let (here, there) = if side == 0 { (twin.left, twin.right) } else { (twin.right, twin.left) };
    let byte = |index: usize, at: usize| {
        let image = app.images().get(index)?.image();
        image.get(Span::of(at, 1)).and_then(|b| b.first().copied())
    };
    let beside = other.start + (at - span.start);
    byte(here, at) != other.contains(beside).then(|| byte(there, beside)).flatten()
}

fn side_heading(canvas: &mut Canvas<'_>, app: &App, twin: &Twin, index: usize, has_keys: bool) {
    let Some(sheet) = app.images().get(index) else { return };
    let is_worked_on = app.current() == index;
    let (mark, tone) = match (has_keys, is_worked_on) {
        (true, _) => ("▌", Tone::Accent),
        (false, true) => (" ", Tone::Strong),
        (false, false) => (" ", Tone::Quiet),
    };
    let x = canvas.text(0, 0, mark, tone);
    let states = match (sheet.locked, sheet.is_modified()) {
        (true, false) => "LOCKED",
        (true, true) => "LOCKED, modified",
        (false, false) => "unlocked",
        (false, true) => "unlocked, modified",
    };
    let room = canvas.width().saturating_sub(x + states.len() + 4);
    let name = sheet.file.name();
    let x = canvas.name(x, 0, room.min(text::width(&name)), &name, tone) + 1;
    let x = canvas.text(x, 0, states, Tone::Quiet) + 1;
    canvas.rule(x, 0);
    if twin.is_aligned && index == twin.right {
        let word = " lined up ";
        canvas.text(canvas.width().saturating_sub(word.len() + 1), 0, word, Tone::Quiet);
    }
}

/// How much differs.
pub(super) fn fields_aside(twin: &Twin) -> String {
    if twin.is_new() {
        return twin.going_on.as_ref().map_or_else(String::new, |p| format!("compared: {} %", p.percent()));
    }
    let comparison = &twin.compared.comparison;
    if twin.compared.is_cut {
        let (stops, last) = (twin.compared.stops.len(), comparison.differences.changed.last());
        let end = text::address(last.map_or(0, |s| s.end) as u64);
        return format!("more than {stops} places differ; not compared from {end} on");
    }
    let totals: Vec<String> = comparison
        .totals
        .iter()
        .filter(|t| t.bytes > 0)
        .map(|t| format!("{} {}", t.role.map_or("undescribed", crate::layout::Role::word), t.bytes))
        .collect();
    match comparison.differences.changed_bytes() {
        0 => "the same".into(),
        n if totals.is_empty() => format!("{} differ", text::count(n, "byte")),
        n => format!("{} differ: {}", text::count(n, "byte"), totals.join(", ")),
    }
}

/// The fields whose value differs: before and after.
pub(super) fn draw_fields(canvas: &mut Canvas<'_>, app: &App, twin: &Twin) -> Option<(u16, u16)> {
    let changes = &twin.compared.comparison.fields;
    if changes.is_empty() {
        let has_layout = app.images().get(twin.left).is_some_and(|s| s.layout().is_some());
        let line = if has_layout { "No field has another value." } else { "No layout is in force." };
        canvas.text(1, 0, line, Tone::Quiet);
        return canvas.on_screen(0, 0);
    }
    let (width, height) = (canvas.width(), canvas.height());
    let names = changes.iter().map(|c| text::width(&c.path)).max().unwrap_or(0).min(width * 2 / 5);
    let half = width.saturating_sub(names + 6) / 2;
    for (y, change) in changes.iter().skip(twin.fields.top).take(height).enumerate() {
        let tone: Tone = change.role().map_or(Tone::Plain, Into::into);
        canvas.text(0, y, "!", Tone::Differs);
        canvas.name(2, y, names, &text::clean(&change.path), tone);
        canvas.cell(names + 4, y, half.saturating_sub(2), &value(change.before.as_ref()), Tone::Plain);
        canvas.text(names + 2 + half, y, "→", Tone::Quiet);
        canvas.cell(names + 4 + half, y, half, &value(change.after.as_ref()), Tone::Plain);
    }
    let chosen = twin.fields.at.checked_sub(twin.fields.top)?;
    if chosen < height {
        canvas.choose(chosen, app.panes.focus() == Pane::Fields);
    }
    canvas.on_screen(0, chosen)
}

fn value(field: Option<&Field>) -> String {
    let Some(field) = field else { return "absent".into() };
    let unit = field.unit.as_deref().map(|u| format!(" {}", text::clean(u))).unwrap_or_default();
    let value = format!("{}{unit}", text::clean(&field.text));
    if field.at_rest == Some(true) { format!("{value}  at rest").trim_start().into() } else { value }
}

/// How many are broken on each side.
pub(super) fn checks_aside(twin: &Twin) -> String {
    let pairs = &twin.compared.comparison.checks;
    let broken = |check: &Option<Check>| check.as_ref().is_some_and(|c| c.seal == Seal::Broken);
    let left = pairs.iter().filter(|p| broken(&p.before)).count();
    let right = pairs.iter().filter(|p| broken(&p.after)).count();
    match (pairs.len(), left, right) {
        (0, ..) => String::new(),
        (_, 0, 0) => "all sealed in both".into(),
        _ => format!("{left} broken left, {right} right"),
    }
}

/// The checks of both sides.
pub(super) fn draw_checks(canvas: &mut Canvas<'_>, app: &App, twin: &Twin) -> Option<(u16, u16)> {
    let (width, height) = (canvas.width(), canvas.height());
    let pairs = &twin.compared.comparison.checks;
    let names = pairs.iter().map(|c| text::width(&c.name)).max().unwrap_or(0).clamp(1, width / 3 + 1);
    let half = width.saturating_sub(names + 4) / 2;
    for (y, pair) in pairs.iter().skip(twin.checks.top).take(height).enumerate() {
        canvas.name(2, y, names, &text::clean(&pair.name), Tone::Plain);
        for (side, check) in [&pair.before, &pair.after].into_iter().enumerate() {
            let x = names + 4 + side * half;
            let (said, tone) = check.as_ref().map_or(("absent".into(), Tone::Quiet), said);
            canvas.cell(x, y, half.saturating_sub(1), &said, tone);
        }
    }
    let chosen = twin.checks.at.checked_sub(twin.checks.top)?;
    if chosen < height {
        canvas.choose(chosen, app.panes.focus() == Pane::Checks);
    }
    canvas.on_screen(0, chosen)
}

fn said(check: &Check) -> (String, Tone) {
    let bytes = check.placed.as_ref().map_or(0, |p| p.stored_at.len());
    let number = |v: Option<u128>| v.map_or("--".into(), |v| text::number(v, bytes));
    let said = match check.seal {
        Seal::Broken => format!("broken, {} for {}", number(check.stored), number(check.computed)),
        seal => format!("{}, {}", seal.word(), number(check.stored)),
    };
    (said, check.seal.into())
}
