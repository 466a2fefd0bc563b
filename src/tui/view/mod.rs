//! What is drawn: functions of the state alone, each over its own part of the screen.

mod bars;
mod bytes;
mod canvas;
mod checks;
mod dialog;
mod fields;
mod findings;
mod found;
mod frame;
mod proposed;
pub mod readings;
pub mod screen;
mod skyline;
mod twin;

use ratatui::Frame;
use ratatui::layout::Position;

pub use bars::hint_at;
pub use bytes::{byte_at, side_at};
use canvas::Canvas;
pub use dialog::{Spot, spot};
pub use fields::is_sign_at;
use screen::Screen;

use crate::report::text;

use super::app::App;
use super::panes::Pane;
use super::rows::Rows;
use super::theme::{self, Tone};

/// Draws the whole screen and puts the hardware cursor on the active item; returns where that is.
pub fn draw(app: &App, frame: &mut Frame<'_>) -> Option<Position> {
    let area = frame.area();
    let screen = Screen::of_size(app, (area.width, area.height));
    let mut cursor = None;
    let mut canvas = Canvas::new(frame.buffer_mut(), area, app.look);
    if screen.is_too_small {
        bars::too_small(&mut canvas, app);
    } else {
        bars::title(&mut canvas.part(screen.title), app);
        bars::tour(&mut canvas.part(screen.tour), app);
        skyline::draw(&mut canvas.part(screen.skyline), app);
        for &(pane, place) in &screen.panes {
            if let (Some(twin), Pane::Bytes) = (&app.twin, pane) {
                cursor = twin::draw_sides(&mut canvas, app, twin, &screen).or(cursor);
                continue;
            }
            let mut canvas = canvas.part(place);
            heading(&mut canvas, app, pane, screen.dock.is_none() && pane == app.panes.focus());
            let mut inside = canvas.below(1);
            let at = match pane {
                Pane::Fields if app.twin.is_some() => {
                    app.twin.as_ref().and_then(|t| twin::draw_fields(&mut inside, app, t))
                }
                Pane::Checks if app.twin.is_some() => {
                    app.twin.as_ref().and_then(|t| twin::draw_checks(&mut inside, app, t))
                }
                Pane::Bytes => bytes::draw(&mut inside, app, &screen),
                Pane::Fields => fields::draw(&mut inside, app),
                Pane::Checks => checks::draw(&mut inside, app),
                Pane::Readings => readings::draw(&mut inside, app),
                Pane::Findings => findings::draw(&mut inside, app),
                Pane::Found => found::draw(&mut inside, app),
                Pane::Proposed => proposed::draw(&mut inside, app),
            };
            if pane == app.panes.focus() {
                cursor = at;
            }
        }
        bars::status(&mut canvas.part(screen.status), app);
        bars::hints(&mut canvas.part(screen.hints), app);
    }
    if let Some(dialog) = app.dialog.as_ref().filter(|_| !screen.is_too_small) {
        cursor = dialog::draw(&mut canvas.part(area), app, dialog);
    }
    if app.look.ascii {
        theme::to_ascii(frame.buffer_mut());
    }
    let cursor = cursor.map(Position::from).filter(|&at| area.contains(at));
    cursor.into_iter().for_each(|at| frame.set_cursor_position(at));
    cursor
}

/// Rows of the list in a pane of `height` rows; the rest of it explains.
#[must_use]
pub fn list_height(app: &App, pane: Pane, height: usize) -> usize {
    match pane {
        Pane::Findings => findings::rows(height, app.it().judged.findings().len()),
        Pane::Found => found::rows(height, app.it().found.places().len()),
        Pane::Proposed => findings::rows(height, app.it().proposals.rows.len),
        _ => height,
    }
}

/// The line over a pane: its title, and a thin rule.
fn heading(canvas: &mut Canvas<'_>, app: &App, pane: Pane, has_keys: bool) {
    let (mark, tone) = if has_keys { ("▌", Tone::Accent) } else { (" ", Tone::Quiet) };
    let x = canvas.text(0, 0, mark, tone);
    let mut x = canvas.text(x, 0, pane.title(), tone);
    if pane == Pane::Bytes && app.it().layout().is_some() {
        x = bytes::roles(canvas, x);
    }
    let aside = match pane {
        Pane::Bytes => String::new(),
        Pane::Fields if app.twin.is_some() => app.twin.as_ref().map(twin::fields_aside).unwrap_or_default(),
        Pane::Fields => fields::aside(app),
        Pane::Checks if app.twin.is_some() => app.twin.as_ref().map(twin::checks_aside).unwrap_or_default(),
        Pane::Checks => checks::aside(app),
        Pane::Readings => readings::aside(app),
        Pane::Findings => findings::aside(app),
        Pane::Found => found::aside(app),
        Pane::Proposed => proposed::aside(app),
    };
    // Where one is in a list longer than its pane.
    let place = list_place(app, pane, canvas.height().saturating_sub(1)).unwrap_or_default();
    let right = if place.is_empty() { 0 } else { text::width(&place) + 2 };
    let room = canvas.width().saturating_sub(x + 2 + right + 2);
    let x = if aside.is_empty() {
        x
    } else {
        canvas.cell(x + 2, 0, room.min(text::width(&aside)), &aside, Tone::Quiet)
    };
    canvas.rule(x + 1, 0);
    if right > 0 {
        canvas.text(canvas.width().saturating_sub(right), 0, &format!(" {place} "), Tone::Quiet);
    }
    if pane == Pane::Readings {
        readings::columns(canvas);
    }
}

/// `3 of 40`, for a list that its pane does not hold as a whole.
fn list_place(app: &App, pane: Pane, height: usize) -> Option<String> {
    let rows = list_of(app, pane)?;
    (rows.len > list_height(app, pane, height)).then(|| format!("{} of {}", rows.at + 1, rows.len))
}

/// The list of a pane whose rows are counted; `None` for one without.
fn list_of(app: &App, pane: Pane) -> Option<&Rows> {
    let it = app.it();
    let (rows, rows_of_twin) = match pane {
        Pane::Fields => (&it.described.fields.rows, app.twin.as_ref().map(|t| &t.fields)),
        Pane::Checks => (&it.described.checks, app.twin.as_ref().map(|t| &t.checks)),
        Pane::Findings => (&it.judged.rows, None),
        Pane::Found => (&it.found.rows, None),
        Pane::Proposed => (&it.proposals.rows, None),
        Pane::Bytes | Pane::Readings => return None,
    };
    Some(rows_of_twin.unwrap_or(rows))
}
