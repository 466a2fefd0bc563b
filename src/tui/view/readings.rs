//! The Readings pane: the bytes from the cursor on as numbers, text and dates, in both byte orders.

use super::canvas::Canvas;
use crate::report::text;
use crate::span::{ByteOrder, Span};
use crate::tui::app::App;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;
use crate::value::{Reading, WAYS_TO_READ, readings};

/// More bytes than any reading takes.
const AHEAD: usize = 64;

/// One row: a way to read, in the orders it has.
pub struct Row {
    /// Read with the most significant byte first, or in the only way there is.
    pub big: Reading,
    /// Read with the least significant byte first.
    pub little: Option<Reading>,
}

/// The rows for the bytes from the cursor on, up to the end of the image or a gap.
#[must_use]
pub fn rows(app: &App) -> Vec<Row> {
    let it = app.it();
    let from = it.cursor.at;
    let gap = it.image().gaps().iter().find(|g| g.end > from).map_or(usize::MAX, |g| g.start.max(from));
    let ahead = Span::new(from, (from + AHEAD).min(it.image().len()).min(gap));
    let mut rows: Vec<Row> = Vec::new();
    for reading in readings(ahead.of_bytes(it.image().bytes()).unwrap_or_default()) {
        match rows.last_mut() {
            Some(row) if reading.order == Some(ByteOrder::Little) => row.little = Some(reading),
            _ => rows.push(Row { big: reading, little: None }),
        }
    }
    rows
}

/// How many rows there are, whatever the bytes.
#[must_use]
pub const fn count() -> usize {
    WAYS_TO_READ
}

/// Where they are read from.
pub(super) fn aside(app: &App) -> String {
    let it = app.it();
    it.address(it.cursor.at)
}

/// Columns of the names and of each of the two orders.
fn columns_of(width: usize) -> (usize, usize) {
    let names = 18.min(width / 3);
    (names, width.saturating_sub(names + 3) / 2)
}

/// Names the columns of the two orders in the heading, where it has room for them.
pub(super) fn columns(canvas: &mut Canvas<'_>) {
    let (names, half) = columns_of(canvas.width());
    if half > 14 {
        canvas.text(names + 1, 0, " big first ", Tone::Quiet);
        canvas.text(names + 1 + half, 0, " little first ", Tone::Quiet);
    }
}

/// Draws the visible rows; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    let (width, height) = (canvas.width(), canvas.height());
    let (names, half) = columns_of(width);
    let mut cursor = None;
    for (y, (index, row)) in rows(app).iter().enumerate().skip(it.readings.rows.top).take(height).enumerate()
    {
        canvas.cell(1, y, names, row.big.name, Tone::Quiet);
        let is_here = app.panes.focus() == Pane::Readings && index == it.readings.rows.at;
        // A value that there is only one of may go on where the other would be.
        let room =
            if row.little.is_some() { half.saturating_sub(1) } else { width.saturating_sub(names + 3) };
        let both = [(Some(&row.big), false, room), (row.little.as_ref(), true, half.saturating_sub(1))];
        for (reading, is_little, room) in both {
            let Some(reading) = reading else { continue };
            let (value, tone) = match &reading.text {
                Some(value) => (text::clean(value).into_owned(), Tone::Plain),
                None => ("-".into(), Tone::Quiet),
            };
            let chosen = is_here && (is_little == it.readings.little_first || row.little.is_none());
            let x = names + 2 + usize::from(is_little) * half;
            let tone = if chosen { Tone::Cursor } else { tone };
            if reading.kind.name() == "Float" {
                // Of digits that find no room the middle goes, never the exponent.
                canvas.name(x, y, room, &value, tone);
            } else {
                canvas.cell(x, y, room, &value, tone);
            }
            cursor = if chosen { canvas.on_screen(x, y) } else { cursor };
        }
    }
    cursor
}
