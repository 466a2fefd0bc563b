//! What the mouse does: places the cursor, selects, scrolls, chooses. Every part of the screen is looked up where it
//! is drawn.

use super::app::{App, Pane};
use super::effect::Effect;
use super::input::{Mouse, MouseAct};
use super::view::screen::Screen;
use super::{command, view};

/// Takes what the mouse did.
pub fn take(app: &mut App, mouse: Mouse) -> Effect {
    // A coordinate outside the screen is nobody's.
    if mouse.column >= app.size.0 || mouse.row >= app.size.1 || Screen::of(app).is_too_small {
        return Effect::None;
    }
    if app.dialog.is_some() {
        return in_dialog(app, mouse);
    }
    in_panes(app, mouse);
    Effect::None
}

/// A click marks, and takes what was marked already; the wheel goes through what there is.
fn in_dialog(app: &mut App, mouse: Mouse) -> Effect {
    match mouse.act {
        MouseAct::Drag => Effect::None,
        MouseAct::WheelUp => command::turn_wheel(app, -3),
        MouseAct::WheelDown => command::turn_wheel(app, 3),
        MouseAct::Press => {
            let spot = app.dialog.as_ref().and_then(|d| view::spot(app, d, mouse.column, mouse.row));
            spot.map_or(Effect::None, |spot| command::press_in_dialog(app, spot))
        }
    }
}

fn in_panes(app: &mut App, mouse: Mouse) {
    let screen = Screen::of(app);
    let over = |area: ratatui::layout::Rect| area.contains((mouse.column, mouse.row).into());
    let pane = screen.panes.iter().find(|(_, area)| over(*area)).map(|(pane, _)| *pane);
    match mouse.act {
        MouseAct::Press | MouseAct::Drag if over(screen.skyline) => {
            let columns = usize::from(screen.skyline.width.saturating_sub(2)).max(1);
            let column = usize::from(mouse.column.saturating_sub(1)).min(columns - 1);
            let at = app.it().skyline.stretch(column, columns).start;
            app.it_mut().go(at);
        }
        MouseAct::Press | MouseAct::Drag => press(app, &screen, pane, mouse),
        MouseAct::WheelUp | MouseAct::WheelDown => {
            let by = if mouse.act == MouseAct::WheelUp { -3 } else { 3 };
            match pane {
                Some(Pane::Bytes) => {
                    let at = app.it().cursor.at;
                    let to = at.saturating_add_signed(by * screen.grid.per_row as isize);
                    if to < app.it().image.len() {
                        app.it_mut().move_to(to);
                    }
                }
                Some(pane) => {
                    if let Some(rows) = command::rows_of(app, pane) {
                        rows.step(by);
                    }
                }
                None => {}
            }
        }
    }
}

fn press(app: &mut App, screen: &Screen, pane: Option<Pane>, mouse: Mouse) {
    let Some(pane) = pane else { return };
    app.notice = None;
    if mouse.act == MouseAct::Press {
        app.focus = pane;
    }
    if pane == Pane::Bytes {
        let side = view::side_at(app, screen, mouse.column, mouse.row);
        if let (Some(index), MouseAct::Press) = (side, mouse.act) {
            app.turn_to(index);
        }
        if let Some((at, column)) = view::byte_at(app, screen, mouse.column, mouse.row) {
            let it = app.it_mut();
            if mouse.act == MouseAct::Drag {
                let from = it.cursor.at;
                it.cursor.anchor.get_or_insert(from);
                it.move_to(at);
            } else {
                it.go(at);
                it.cursor.column = column;
            }
        }
        return;
    }
    let Some(inside) = screen.inside(pane).filter(|a| a.contains((mouse.column, mouse.row).into())) else {
        return;
    };
    let row = usize::from(mouse.row - inside.y);
    let Some(rows) = command::rows_of(app, pane) else { return };
    if rows.top + row < rows.len && mouse.act == MouseAct::Press {
        let by = (rows.top + row) as isize - rows.at as isize;
        command::step_list(app, pane, by);
    }
}
