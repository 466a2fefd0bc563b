//! The Found pane: where what was searched for stands, near misses shown as such.

use super::canvas::Canvas;
use crate::report::text;
use crate::tui::app::App;
use crate::tui::found::Place;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;

/// What was searched for.
pub(super) fn aside(app: &App) -> String {
    text::clean(&app.last.searched).into_owned()
}

/// Rows below the list, for where a near miss differs.
const DETAIL: usize = 4;

/// Rows of the list in a pane of so many rows inside.
pub(super) fn rows(height: usize, hits: usize) -> usize {
    if height >= 6 { hits.clamp(1, height - DETAIL) } else { height }
}

/// Rows that all of it takes.
pub(super) fn wanted(app: &App) -> usize {
    let hits = app.it().found.places();
    // Of five rows or fewer the list takes all, so what is explained needs more.
    if hits.iter().all(|h| h.exact) { hits.len() } else { (hits.len() + DETAIL).max(6) }
}

/// Draws the visible rows and, below, where the chosen one differs; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    let height = rows(canvas.height(), it.found.places().len());
    let place = |hit: &Place| it.address(hit.span.start);
    let places = it.found.places().iter().map(|h| place(h).len()).max().unwrap_or(0);
    let shown = || it.found.places().iter().skip(it.found.rows.top).take(height);
    let texts = shown().map(|h| text::width(&text::clean(&h.text))).max().unwrap_or(0);
    let ways = shown().map(|h| text::width(&h.stored_as)).max().unwrap_or(0);
    for (y, hit) in shown().enumerate() {
        let (word, tone) = if hit.exact { ("exact", Tone::Good) } else { ("not it", Tone::Bad) };
        let x = canvas.cell(1, y, 6, word, tone) + 1;
        let x = canvas.cell(x, y, places, &place(hit), Tone::Quiet) + 2;
        let x = canvas.cell(x, y, texts.min(canvas.width() / 2), &text::clean(&hit.text), Tone::Strong) + 2;
        let x =
            canvas.cell(x, y, ways.min(canvas.width().saturating_sub(x + 1)), &hit.stored_as, Tone::Quiet);
        if let Some(field) = it.decoded().leaf_at(hit.span.start) {
            let room = canvas.width().saturating_sub(x + 3);
            canvas.name(x + 2, y, room, &text::clean(&field.path), field.role);
        }
    }
    if let Some(hit) = it.found.chosen().filter(|h| !h.exact) {
        let wanted = text::clean(&app.last.searched).into_owned();
        let stored = text::clean(&hit.text).into_owned();
        // Character under character, so that the eye finds what differs.
        let mut lines = vec![("wanted", wanted, Tone::Plain), ("stored", stored, Tone::Bad)];
        lines.extend(
            text::wrap(&hit.differs, canvas.width().saturating_sub(11))
                .into_iter()
                .map(|l| ("", l, Tone::Plain)),
        );
        for (y, (name, line, tone)) in lines.iter().enumerate() {
            let x = canvas.cell(3, height + y, 7, name, Tone::Quiet);
            canvas.cell(x, height + y, canvas.width().saturating_sub(x + 1), line, *tone);
        }
    }
    let chosen = it.found.rows.at.checked_sub(it.found.rows.top)?;
    if chosen < height {
        canvas.choose(chosen, app.panes.focus() == Pane::Found);
    }
    canvas.on_screen(0, chosen)
}
