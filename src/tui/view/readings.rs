//! The Readings pane: the bytes under the cursor as numbers, text and dates, in both byte orders.

use super::canvas::Canvas;
use crate::report::text;
use crate::tui::app::App;
use crate::tui::theme::Tone;

/// Where they are read from.
pub(super) fn aside(app: &App) -> String {
    let it = app.it();
    format!("from {}", text::address(it.image.address(it.cursor.at)))
}

/// How many rows there are.
#[must_use]
pub fn count(_app: &App) -> usize {
    0
}

/// Draws the visible rows.
pub(super) fn draw(canvas: &mut Canvas<'_>, _app: &App) -> Option<(u16, u16)> {
    canvas.text(1, 0, "", Tone::Plain);
    canvas.on_screen(0, 0)
}
