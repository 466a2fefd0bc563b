//! The frame that a dialog stands in: where it covers least, how much of a list it shows, its lines wrapped.

use ratatui::layout::Rect;

use super::canvas::Canvas;
use super::screen::{self, Screen};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::Remark;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;

/// Where a frame of `width` by `height` inside stands, and where its inside does: where it covers the row of bytes that
/// it is about least.
pub(super) fn place(app: &App, width: usize, height: usize) -> (Rect, Rect) {
    let room = screen::room(app);
    let (columns, rows) = (usize::from(room.width), usize::from(room.height));
    let width = width.min(columns.saturating_sub(6));
    // The title above it and what is under the cursor below it stay on the screen.
    let free = if app.size.1 < 20 { 3 } else { 4 };
    let height = height.min(rows.saturating_sub(free + 2));
    let x = columns.saturating_sub(width + 4) / 2;
    let usual = (rows.saturating_sub(height + 2) / 3).max(1).min(rows);
    let (lowest, top) = (rows.saturating_sub(free - 1 + height + 2), usize::from(room.y));
    let y = match cursor_row(app).map(|row| usize::from(row).saturating_sub(top)) {
        // Below the row if there is room for it, else above.
        Some(row) if (usual..usual + height + 2).contains(&row) => match row.checked_sub(height + 2) {
            _ if row < lowest => row + 1,
            Some(above) if above >= 1 => above,
            _ => usual,
        },
        _ => usual,
    };
    // All at most as large as the screen, which is counted in u16.
    let outer = Rect::new(x as u16, (top + y) as u16, (width + 4) as u16, (height + 2) as u16);
    (outer, Rect::new(outer.x + 2, outer.y + 1, width as u16, height as u16))
}

/// The row of the screen that the chosen item of the pane with the keys is in, or the byte under the cursor; `None`
/// where it is not shown.
fn cursor_row(app: &App) -> Option<u16> {
    let screen = Screen::of(app);
    let list = super::list_of(app, app.panes.focus()).filter(|_| screen.dock.is_none());
    let (area, row) = match (&app.twin, list) {
        (_, Some(rows)) => {
            let (_, area) = *screen.panes.iter().find(|(pane, _)| *pane == app.panes.focus())?;
            (area, rows.at.checked_sub(rows.top)?)
        }
        (Some(twin), None) => {
            let side = twin.side_of(app.current());
            let area = screen.sides()?.get(side).copied()?;
            (area, twin.rows().index_of(side, app.it().cursor.at).checked_sub(twin.top)?)
        }
        (None, None) => {
            let (_, area) = *screen.panes.iter().find(|(pane, _)| *pane == Pane::Bytes)?;
            (area, app.it().cursor.at.checked_sub(app.it().cursor.top)? / screen.grid.per_row)
        }
    };
    let row = u16::try_from(row).ok()?;
    (row + 1 < area.height).then(|| area.y + 1 + row)
}

/// Draws a frame that fills `outer`, with its title in its upper line and, in its lower one, which part of a list that
/// is longer is shown.
pub(super) fn frame_in(canvas: &mut Canvas<'_>, title: &str, outer: Rect, shown: Option<&str>) {
    let (width, height) =
        (usize::from(outer.width).saturating_sub(4), usize::from(outer.height).saturating_sub(2));
    let mut part = canvas.part(outer);
    part.clear();
    let line = "─".repeat(width + 2);
    part.text(0, 0, &format!("┌{line}┐"), Tone::Accent);
    part.text(2, 0, &format!(" {} ", text::cut(title, width.saturating_sub(2))), Tone::Accent);
    for y in 1..=height {
        part.text(0, y, "│", Tone::Accent);
        part.text(width + 3, y, "│", Tone::Accent);
    }
    part.text(0, height + 1, &format!("└{line}┘"), Tone::Accent);
    if let Some(shown) = shown {
        part.text(
            (width + 1).saturating_sub(text::width(shown)),
            height + 1,
            &format!(" {shown} "),
            Tone::Quiet,
        );
    }
}

/// Which of many are shown, for the lower line of a frame; `None` when all are.
pub(super) fn shown(first: usize, rows: usize, many: usize) -> Option<String> {
    match rows {
        0 => (many > 0).then(|| format!("none of {many} shown")),
        _ => (rows < many).then(|| format!("{}–{} of {many}", first + 1, (first + rows).min(many))),
    }
}

/// At most `rows` of the lines, with a word about those that are missing: among them may be a caution.
pub(super) fn fitting(mut lines: Vec<Remark>, rows: usize) -> Vec<Remark> {
    let missing = lines.len().saturating_sub(rows);
    if missing > 0 {
        lines.truncate(rows.saturating_sub(1));
        lines.push((Tone::Doubt, format!("… and {} that need more room", text::count(missing + 1, "line"))));
    }
    lines.truncate(rows);
    lines
}

pub(super) fn wrapped(remarks: &[Remark], width: usize) -> Vec<Remark> {
    let lines = remarks.iter().flat_map(|(tone, remark)| {
        text::wrap(&text::clean(remark), width.max(10)).into_iter().map(|line| (*tone, line))
    });
    lines.collect()
}
