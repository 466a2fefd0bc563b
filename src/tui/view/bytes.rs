//! The Bytes pane: address, bytes, text.

use ratatui::layout::Position;
use ratatui::style::Style;

use super::canvas::Canvas;
use super::screen::Screen;
use crate::layout::FieldState;
use crate::span::Span;
use crate::tui::app::{App, Pane};
use crate::tui::sheet::{Column, Sheet};
use crate::tui::theme::Tone;

/// Column of byte `i` of a row: its mark; the two digits follow.
const fn digits_at(i: usize, digits: usize) -> usize {
    1 + digits + 1 + i * 3 + i / 8
}

/// Column of the character of byte `i` of a row.
const fn text_at(i: usize, per_row: usize, digits: usize) -> usize {
    digits_at(per_row - 1, digits) + 3 + 2 + i
}

/// Draws the visible rows; returns where the cursor is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App, screen: &Screen) -> Option<(u16, u16)> {
    let it = app.it();
    let (per_row, digits) = (screen.per_row, screen.digits);
    let shown = Span::of(it.top, canvas.height() * per_row);
    let shown = Span::new(shown.start.min(it.image.len()), shown.end.min(it.image.len()));
    let leaves = it.leaves(shown);
    let has_keys = app.focus == Pane::Bytes;
    let mut cursor = None;
    for y in 0..canvas.height() {
        let start = shown.start + y * per_row;
        if start >= shown.end {
            break;
        }
        canvas.text(1, y, &format!("{:0digits$X}", it.image.address(start)), Tone::Quiet);
        for i in 0..per_row.min(shown.end - start) {
            let at = start + i;
            let leaf = leaves.get(at - shown.start).copied().flatten();
            let cell = Cell::of(it, at, leaf);
            let x = digits_at(i, digits);
            let (tx, style) = (text_at(i, per_row, digits), canvas.style(cell.tone));
            let chosen = it.cursor.anchor.is_some() && it.selection().contains(at);
            let (mut on_digits, mut on_text) = (style, style);
            if chosen {
                let selected = canvas.style(Tone::Selected);
                (on_digits, on_text) = (on_digits.patch(selected), on_text.patch(selected));
                // The gap before a selected byte is selected too, but for the first of a row or of the selection.
                if i > 0 && it.selection().contains(at - 1) {
                    let gap = if i % 8 == 0 { 1 } else { 0 };
                    canvas.styled(x - gap, y, &" ".repeat(gap + 1), selected);
                }
            }
            if at == it.cursor.at {
                let (here, there) = (canvas.style(Tone::Cursor), canvas.style(Tone::Echo));
                let (on, echo) = (|s: Style| s.patch(here), |s: Style| s.patch(there));
                let in_digits = it.cursor.column == Column::Digits;
                (on_digits, on_text) = match (has_keys, in_digits) {
                    (true, true) => (on(on_digits), echo(on_text)),
                    (true, false) => (echo(on_digits), on(on_text)),
                    (false, _) => (echo(on_digits), echo(on_text)),
                };
                let second = usize::from(it.cursor.second_digit);
                cursor = canvas.on_screen(if in_digits { x + 1 + second } else { tx }, y);
            }
            if cell.mark != ' ' {
                let mark_style = if chosen { on_digits } else { style };
                canvas.styled(x, y, cell.mark.encode_utf8(&mut [0; 4]), mark_style);
            }
            canvas.styled(x + 1, y, &cell.digits, on_digits);
            canvas.styled(tx, y, cell.text.encode_utf8(&mut [0; 4]), on_text);
        }
    }
    cursor
}

/// What is written for one byte.
struct Cell {
    mark: char,
    digits: String,
    text: char,
    tone: Tone,
}

impl Cell {
    fn of(it: &Sheet, at: usize, leaf: Option<usize>) -> Cell {
        let byte = it.image.bytes().get(at).copied().unwrap_or_default();
        if !it.image.is_mapped(Span::of(at, 1)) {
            return Cell { mark: ' ', digits: "--".into(), text: ' ', tone: Tone::Quiet };
        }
        let text = if (0x20..0x7F).contains(&byte) { char::from(byte) } else { '.' };
        let field = leaf.and_then(|i| it.decoded.fields.get(i));
        let odd = field.is_some_and(|f| matches!(f.state, FieldState::Odd(_)));
        let (mark, tone) = if it.is_edited(at) {
            ('*', Tone::Edited)
        } else if odd {
            ('?', Tone::Bad)
        } else {
            (' ', field.map_or(Tone::Plain, |f| f.role.into()))
        };
        Cell { mark, digits: format!("{byte:02X}"), text, tone }
    }
}

/// The byte shown at a cell of the screen, and the column it was hit in.
#[must_use]
pub fn byte_at(app: &App, screen: &Screen, column: u16, row: u16) -> Option<(usize, Column)> {
    let area = screen.inside(Pane::Bytes).filter(|a| a.contains(Position::new(column, row)))?;
    let (x, y) = (usize::from(column - area.x), usize::from(row - area.y));
    let (per_row, digits) = (screen.per_row, screen.digits);
    let hit = (0..per_row).find_map(|i| {
        let (d, t) = (digits_at(i, digits), text_at(i, per_row, digits));
        if (d..d + 3).contains(&x) {
            Some((i, Column::Digits))
        } else {
            (x == t).then_some((i, Column::Text))
        }
    });
    let (i, column) = hit?;
    let at = app.it().top + y * per_row + i;
    (at < app.it().image.len()).then_some((at, column))
}
