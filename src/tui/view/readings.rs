//! The Readings pane: the bytes from the cursor on as numbers, text and dates, in both byte orders.

use super::canvas::Canvas;
use crate::report::text;
use crate::span::{ByteOrder, Span};
use crate::tui::app::{App, Pane};
use crate::tui::theme::Tone;
use crate::value::{Reading, readings};

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
    let gap = it.image.gaps().iter().find(|g| g.end > from).map_or(usize::MAX, |g| g.start.max(from));
    let ahead = Span::new(from, (from + AHEAD).min(it.image.len()).min(gap));
    let mut rows: Vec<Row> = Vec::new();
    for reading in readings(ahead.of_bytes(it.image.bytes()).unwrap_or_default()) {
        match rows.last_mut() {
            Some(row) if reading.order == Some(ByteOrder::Little) => row.little = Some(reading),
            _ => rows.push(Row { big: reading, little: None }),
        }
    }
    rows
}

/// How many rows there are, whatever the bytes.
#[must_use]
pub fn count() -> usize {
    readings(&[]).iter().filter(|r| r.order != Some(ByteOrder::Little)).count()
}

/// Where they are read from.
pub(super) fn aside(app: &App) -> String {
    let it = app.it();
    format!("from {}", text::address(it.image.address(it.cursor.at)))
}

/// Draws the visible rows; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    let (width, height) = (canvas.width(), canvas.height());
    let names = 20.min(width / 3);
    let half = (width.saturating_sub(names + 4)) / 2;
    let has_keys = app.focus == Pane::Readings;
    let mut cursor = None;
    for (y, (index, row)) in rows(app).iter().enumerate().skip(it.readings.top).take(height).enumerate() {
        canvas.cell(1, y, names, row.big.name, Tone::Quiet);
        let value = |r: &Reading| match &r.text {
            Some(value) => (text::clean(value).into_owned(), Tone::Plain),
            None => ("-".into(), Tone::Quiet),
        };
        let chosen = has_keys && index == it.readings.at;
        let x = names + 2;
        let (big, tone) = value(&row.big);
        let Some(little) = &row.little else {
            let tone = if chosen { Tone::Cursor } else { tone };
            canvas.cell(x, y, width.saturating_sub(x + 1), &big, tone);
            cursor = if chosen { canvas.on_screen(x, y) } else { cursor };
            continue;
        };
        let (little, other) = value(little);
        let in_little = it.little_first;
        canvas.cell(x, y, half.saturating_sub(1), &format!("{big}  big"), Tone::Quiet);
        canvas.cell(
            x,
            y,
            half.saturating_sub(1),
            &big,
            if chosen && !in_little { Tone::Cursor } else { tone },
        );
        let at = x + half;
        canvas.cell(at, y, width.saturating_sub(at + 1), &format!("{little}  little"), Tone::Quiet);
        canvas.cell(
            at,
            y,
            width.saturating_sub(at + 1),
            &little,
            if chosen && in_little { Tone::Cursor } else { other },
        );
        if chosen {
            cursor = canvas.on_screen(if in_little { at } else { x }, y);
        }
    }
    cursor
}
