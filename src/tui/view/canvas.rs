//! A part of the screen that cannot be drawn outside of.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use crate::report::text;
use crate::tui::theme::{Look, Tone};

/// A part of the screen, its own coordinates from 0.
pub(super) struct Canvas<'a> {
    buffer: &'a mut Buffer,
    area: Rect,
    look: Look,
}

impl<'a> Canvas<'a> {
    /// The part of `buffer` in `area`.
    pub(super) fn new(buffer: &'a mut Buffer, area: Rect, look: Look) -> Self {
        let area = area.intersection(buffer.area);
        Canvas { buffer, area, look }
    }

    /// A smaller part, given in coordinates of the screen.
    pub(super) fn part(&mut self, area: Rect) -> Canvas<'_> {
        let area = area.intersection(self.area);
        Canvas { buffer: self.buffer, area, look: self.look }
    }

    /// The part below the first `rows` rows.
    pub(super) fn below(&mut self, rows: u16) -> Canvas<'_> {
        let rows = rows.min(self.area.height);
        let area = Rect { y: self.area.y + rows, height: self.area.height - rows, ..self.area };
        Canvas { buffer: self.buffer, area, look: self.look }
    }

    /// What is right of the first `columns` columns.
    pub(super) fn right(&mut self, columns: u16) -> Canvas<'_> {
        let columns = columns.min(self.area.width);
        let area = Rect { x: self.area.x + columns, width: self.area.width - columns, ..self.area };
        Canvas { buffer: self.buffer, area, look: self.look }
    }

    /// The first `columns` columns.
    pub(super) fn left(&mut self, columns: usize) -> Canvas<'_> {
        // Never more than there are, which are counted in u16.
        let width = columns.min(self.width()) as u16;
        Canvas { buffer: self.buffer, area: Rect { width, ..self.area }, look: self.look }
    }

    /// Columns.
    pub(super) fn width(&self) -> usize {
        usize::from(self.area.width)
    }

    /// Rows.
    pub(super) fn height(&self) -> usize {
        usize::from(self.area.height)
    }

    /// Where a cell of this part is on the screen.
    pub(super) fn on_screen(&self, x: usize, y: usize) -> Option<(u16, u16)> {
        let (x, y) = (u16::try_from(x).ok()?, u16::try_from(y).ok()?);
        (x < self.area.width && y < self.area.height).then(|| (self.area.x + x, self.area.y + y))
    }

    /// The style of a tone.
    pub(super) fn style(&self, tone: impl Into<Tone>) -> Style {
        self.look.style(tone)
    }

    /// Writes a text; what does not fit is cut off. Returns the column behind it. Who measures a text from outside
    /// cleans it first; what was forgotten is cleaned here, the one way to the screen.
    pub(super) fn text(&mut self, x: usize, y: usize, text: &str, tone: impl Into<Tone>) -> usize {
        let style = self.style(tone);
        self.styled(x, y, text, style)
    }

    /// The same in a style.
    pub(super) fn styled(&mut self, x: usize, y: usize, text: &str, style: Style) -> usize {
        let Some((sx, sy)) = self.on_screen(x, y) else { return x };
        let room = self.width() - x;
        let (end, _) = self.buffer.set_stringn(sx, sy, text::clean(text), room, style);
        usize::from(end - self.area.x)
    }

    /// Writes a text in at most `room` columns, an ellipsis where something is missing. Returns the column behind
    /// the room.
    pub(super) fn cell(
        &mut self,
        x: usize,
        y: usize,
        room: usize,
        text: &str,
        tone: impl Into<Tone>,
    ) -> usize {
        let room = room.min(self.width().saturating_sub(x));
        self.text(x, y, &text::cut_with(text, room, self.missing()), tone);
        x + room
    }

    /// Writes a name in at most `room` columns; of a longer one both ends are shown. Returns the column behind the
    /// room.
    pub(super) fn name(
        &mut self,
        x: usize,
        y: usize,
        room: usize,
        name: &str,
        tone: impl Into<Tone>,
    ) -> usize {
        let room = room.min(self.width().saturating_sub(x));
        self.text(x, y, &text::cut_middle(name, room, self.missing()), tone);
        x + room
    }

    /// What stands for what is missing.
    fn missing(&self) -> &'static str {
        if self.look.ascii { ".." } else { "…" }
    }

    /// Writes a text of as many lines as it needs; returns the row below it.
    pub(super) fn paragraph(&mut self, y: usize, text: &str, tone: impl Into<Tone>) -> usize {
        let tone = tone.into();
        let lines = text::wrap(text, self.width().saturating_sub(2));
        for (i, line) in lines.iter().enumerate() {
            self.text(1, y + i, line, tone);
        }
        y + lines.len()
    }

    /// A thin rule from `x` to the right end.
    pub(super) fn rule(&mut self, x: usize, y: usize) {
        let rule = "─".repeat(self.width().saturating_sub(x));
        self.text(x, y, &rule, Tone::Quiet);
    }

    /// Marks a whole row as the chosen one, over what is written there: of a list with the keys it is one block, of
    /// another one nothing.
    pub(super) fn choose(&mut self, y: usize, has_keys: bool) {
        if has_keys {
            self.lay(0, y, self.width(), Tone::Cursor);
        }
    }

    /// Lays a style over `columns` columns of a row, over what is written there; what faded or slanted there does so
    /// no more.
    pub(super) fn lay(&mut self, x: usize, y: usize, columns: usize, tone: impl Into<Tone>) {
        let faint = Modifier::DIM.union(Modifier::ITALIC).union(Modifier::UNDERLINED);
        let style = Style::new().remove_modifier(faint).patch(self.style(tone));
        let columns = columns.min(self.width().saturating_sub(x));
        if let Some((x, y)) = self.on_screen(x, y) {
            // At most as wide as the canvas, which is counted in u16.
            self.buffer.set_style(Rect { x, y, width: columns as u16, height: 1 }, style);
        }
    }

    /// Empties the part.
    pub(super) fn clear(&mut self) {
        for y in 0..self.area.height {
            for x in 0..self.area.width {
                if let Some(cell) = self.buffer.cell_mut((self.area.x + x, self.area.y + y)) {
                    cell.reset();
                }
            }
        }
    }
}
