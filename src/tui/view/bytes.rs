//! The Bytes pane: address, bytes, text.

use ratatui::layout::Position;
use ratatui::style::{Modifier, Style};

use super::canvas::Canvas;
use super::screen::{Grid, Screen};
use crate::check::Seal;
use crate::layout::{FieldState, Role};
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::panes::Pane;
use crate::tui::sheet::{Column, Sheet};
use crate::tui::theme::Tone;

/// Draws the visible rows; returns where the cursor is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App, screen: &Screen) -> Option<(u16, u16)> {
    let it = app.it();
    let shown = Span::of(it.cursor.top, canvas.height() * screen.grid.per_row);
    let shown = Span::new(shown.start.min(it.image().len()), shown.end.min(it.image().len()));
    let leaves = it.described.leaves(shown);
    let mut cursor = None;
    for y in 0..canvas.height() {
        let start = shown.start + y * screen.grid.per_row;
        if start >= shown.end {
            break;
        }
        let span = Span::new(start, (start + screen.grid.per_row).min(shown.end));
        let leaves = leaves.get(start - shown.start..).unwrap_or_default();
        let row = Row {
            sheet: it,
            grid: screen.grid,
            span,
            skip: 0,
            leaves,
            has_keys: app.panes.focus() == Pane::Bytes,
        };
        cursor = row.draw(canvas, y, |_| false).or(cursor);
    }
    cursor
}

/// Names the roles in the heading, each with the look that its bytes have; those for which there is room. Returns the
/// column behind them.
pub(super) fn roles(canvas: &mut Canvas<'_>, mut x: usize) -> usize {
    for role in Role::ALL {
        if x + 2 + role.word().len() + 2 > canvas.width() {
            break;
        }
        x = canvas.text(x + 2, 0, role.word(), role);
    }
    x
}

/// One row of bytes.
pub(super) struct Row<'a> {
    /// Whose bytes.
    pub sheet: &'a Sheet,
    /// How they are set out.
    pub grid: Grid,
    /// Which of them.
    pub span: Span,
    /// Columns left empty before the first.
    pub skip: usize,
    /// For each byte of the row, the decoded leaf over it.
    pub leaves: &'a [Option<usize>],
    /// The keys go here.
    pub has_keys: bool,
}

impl Row<'_> {
    /// Draws it; `differs` tells of an offset whether the other image has another byte there. Returns where the
    /// cursor is.
    pub(super) fn draw(
        &self,
        canvas: &mut Canvas<'_>,
        y: usize,
        differs: impl Fn(usize) -> bool,
    ) -> Option<(u16, u16)> {
        let (it, grid) = (self.sheet, self.grid);
        let address = format!("{:0digits$X}", it.image().address(self.span.start), digits = grid.digits);
        canvas.text(grid.address_at(), y, &address, Tone::Quiet);
        let mut cursor = None;
        for (i, at) in self.span.range().enumerate() {
            let column = self.skip + i;
            let leaf = self.leaves.get(i).copied().flatten();
            // One mark for a field that makes no sense, and one for each row that it goes on in.
            let is_first = i == 0 || leaf != self.leaves.get(i - 1).copied().flatten();
            let cell = Cell::of(it, at, leaf, is_first, differs(at));
            let (x, tx) = (grid.digits_at(column), grid.text_at(column));
            let style = canvas.style(cell.tone);
            let chosen = it.cursor.anchor.is_some() && it.selection().contains(at);
            let (mut on_digits, mut on_text) = (style, style);
            if chosen {
                let selected = canvas.style(Tone::Selected);
                // One block, whatever it is made of.
                (on_digits, on_text) = (selected, selected);
                // The gap before a selected byte is selected too, but for the first of a row or of the selection.
                if i > 0 && it.selection().contains(at - 1) {
                    let gap = x - grid.digits_at(column - 1) - 3;
                    canvas.styled(x - gap, y, &" ".repeat(gap + 1), selected);
                }
            }
            if at == it.cursor.at {
                let (here, there) = (canvas.style(Tone::Cursor), canvas.style(Tone::Echo));
                let (on, echo) = (|s: Style| s.patch(here), |s: Style| s.patch(there));
                let in_digits = it.cursor.column == Column::Digits;
                (on_digits, on_text) = match (self.has_keys, in_digits) {
                    (true, true) => (on(on_digits), echo(on_text)),
                    (true, false) => (echo(on_digits), on(on_text)),
                    (false, _) => (echo(on_digits), echo(on_text)),
                };
                let second = usize::from(it.cursor.second_digit);
                cursor = canvas.on_screen(if in_digits { x + 1 + second } else { tx }, y);
            }
            if cell.mark != ' ' {
                let style = if chosen { on_digits } else { style.remove_modifier(Modifier::UNDERLINED) };
                canvas.styled(x, y, cell.mark.encode_utf8(&mut [0; 4]), style);
            }
            canvas.styled(x + 1, y, &cell.digits, on_digits);
            canvas.styled(tx, y, cell.text.encode_utf8(&mut [0; 4]), on_text);
        }
        cursor
    }
}

/// What is written for one byte.
struct Cell {
    mark: char,
    digits: String,
    text: char,
    tone: Tone,
}

impl Cell {
    fn of(it: &Sheet, at: usize, leaf: Option<usize>, is_first: bool, differs: bool) -> Cell {
        let byte = it.image().bytes().get(at).copied().unwrap_or_default();
        if !it.image().is_mapped(Span::of(at, 1)) {
            return Cell { mark: ' ', digits: "--".into(), text: ' ', tone: Tone::Quiet };
        }
        let text = if (0x20..0x7F).contains(&byte) { char::from(byte) } else { '.' };
        let field = leaf.and_then(|i| it.decoded().fields.get(i));
        let odd = field.is_some_and(|f| matches!(f.state, FieldState::Odd(_)));
        let check = it.decoded().checks.iter().find_map(|c| {
            let stored_at = c.placed.as_ref()?.stored_at;
            stored_at.contains(at).then_some((c.seal, stored_at.start == at))
        });
        let (mark, tone) = if differs {
            ('!', Tone::Differs)
        } else if it.contents.is_edited(at) {
            ('*', Tone::Edited)
        } else if odd {
            (if is_first { '?' } else { ' ' }, Tone::Bad)
        } else if let Some((Seal::Broken, is_first)) = check {
            (if is_first { 'x' } else { ' ' }, Tone::Bad)
        } else if check.is_some() {
            (' ', Role::Check.into())
        } else {
            (' ', field.map_or(Tone::Plain, |f| f.role.into()))
        };
        Cell { mark, digits: format!("{byte:02X}"), text, tone }
    }
}

/// The byte shown at a cell of the screen, and the column it was hit in.
#[must_use]
pub fn byte_at(app: &App, screen: &Screen, column: u16, row: u16) -> Option<(usize, Column)> {
    let at = Position::new(column, row);
    let as_column = |in_text| if in_text { Column::Text } else { Column::Digits };
    if let Some(twin) = &app.twin {
        let side = twin.side_of(app.current());
        let area = screen.sides()?.get(side).copied().filter(|a| a.contains(at) && row > a.y)?;
        let pair = twin.rows().get(twin.top + usize::from(row - area.y - 1))?;
        let span = pair.spans.get(side).copied().flatten()?;
        let (i, in_text) = screen.grid.hit(usize::from(column - area.x))?;
        let at = span.start + i.checked_sub(pair.skip)?;
        return span.contains(at).then_some((at, as_column(in_text)));
    }
    let area = screen.inside(Pane::Bytes).filter(|a| a.contains(at))?;
    let (i, in_text) = screen.grid.hit(usize::from(column - area.x))?;
    let at = app.it().cursor.top + usize::from(row - area.y) * screen.grid.per_row + i;
    (at < app.it().image().len()).then_some((at, as_column(in_text)))
}

/// The image of a Twin view whose side is at a cell of the screen.
#[must_use]
pub fn side_at(app: &App, screen: &Screen, column: u16, row: u16) -> Option<usize> {
    let twin = app.twin.as_ref()?;
    let side = screen.sides()?.iter().position(|a| a.contains(Position::new(column, row)))?;
    [twin.left, twin.right].get(side).copied()
}
