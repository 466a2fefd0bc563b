//! The Found pane: where what was searched for stands, near misses shown as such.

use super::canvas::Canvas;
use super::findings;
use crate::report::text;
use crate::tui::app::{App, Pane};
use crate::tui::sheet::Place;
use crate::tui::theme::Tone;

/// What was searched for.
pub(super) fn aside(app: &App) -> String {
    text::clean(&app.needle).into_owned()
}

/// Draws the visible rows and, below, where the chosen one differs; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    let height = findings::rows(canvas.height(), it.hits.len());
    let place = |hit: &Place| text::address(it.image.address(hit.span.start));
    let places = it.hits.iter().map(|h| place(h).len()).max().unwrap_or(0);
    let texts = it.hits.iter().map(|h| text::width(&text::clean(&h.text))).max().unwrap_or(0);
    for (y, hit) in it.hits.iter().skip(it.hit_rows.top).take(height).enumerate() {
        let (word, tone) = if hit.exact { ("exact", Tone::Good) } else { ("not it", Tone::Bad) };
        let x = canvas.cell(1, y, 6, word, tone) + 1;
        let x = canvas.cell(x, y, places, &place(hit), Tone::Quiet) + 2;
        let x = canvas.cell(x, y, texts.min(canvas.width() / 2), &text::clean(&hit.text), Tone::Strong) + 2;
        canvas.cell(x, y, canvas.width().saturating_sub(x + 1), &hit.stored_as, Tone::Quiet);
    }
    if let Some(hit) = it.hits.get(it.hit_rows.at).filter(|h| !h.exact) {
        let wanted = text::clean(&app.needle).into_owned();
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
    let chosen = it.hit_rows.at.checked_sub(it.hit_rows.top)?;
    if chosen < height {
        canvas.lay(chosen, if app.focus == Pane::Found { Tone::Cursor } else { Tone::Plain });
    }
    canvas.on_screen(0, chosen)
}
