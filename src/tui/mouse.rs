//! What the mouse does: places the cursor, selects, scrolls, chooses. Every part of the screen is looked up where it
//! is drawn.

use ratatui::layout::Rect;

use super::app::App;
use super::command;
use super::effect::Effect;
use super::input::{Mouse, MouseAct};
use super::panes::Pane;
use super::rows::kept_in;
use super::view;
use super::view::screen::Screen;

/// Takes what the mouse did.
pub fn take(app: &mut App, mouse: Mouse) -> Effect {
    // A coordinate outside the screen is nobody's.
    if mouse.column >= app.size.0 || mouse.row >= app.size.1 || Screen::of(app).is_too_small {
        return Effect::None;
    }
    let hint = view::hint_at(app, &Screen::of(app), mouse.column, mouse.row);
    if let (Some(command), MouseAct::Press) = (hint, mouse.act) {
        app.notice = None;
        return command.run(app, "");
    }
    if app.dialog.is_some() { in_dialog(app, mouse) } else { in_panes(app, mouse) }
}

/// A click marks, and takes what was marked already; the wheel goes through what there is.
fn in_dialog(app: &mut App, mouse: Mouse) -> Effect {
    match mouse.act {
        MouseAct::Drag => Effect::None,
        MouseAct::WheelUp => command::turn_wheel(app, -WHEEL),
        MouseAct::WheelDown => command::turn_wheel(app, WHEEL),
        MouseAct::Press => {
            let spot = app.dialog.as_ref().and_then(|d| view::spot(app, d, mouse.column, mouse.row));
            spot.map_or(Effect::None, |spot| command::press_in_dialog(app, spot))
        }
    }
}

/// Rows that one notch of the wheel is.
const WHEEL: isize = 3;

fn in_panes(app: &mut App, mouse: Mouse) -> Effect {
    let screen = Screen::of(app);
    let over = |area: Rect| area.contains((mouse.column, mouse.row).into());
    let pane = screen.panes.iter().find(|(_, area)| over(*area)).map(|(pane, _)| *pane);
    match (mouse.act, pane) {
        (MouseAct::Press | MouseAct::Drag, _) if over(screen.skyline) => {
            let columns = usize::from(screen.skyline.width.saturating_sub(2)).max(1);
            let column = usize::from(mouse.column.saturating_sub(1)).min(columns - 1);
            let at = app.it().contents.skyline().stretch(column, columns).start;
            app.it_mut().go(at);
        }
        (MouseAct::Press | MouseAct::Drag, Some(Pane::Bytes)) => press_bytes(app, &screen, mouse),
        (MouseAct::Press, Some(pane)) => return press_row(app, &screen, pane, mouse),
        (MouseAct::WheelUp, Some(pane)) => turn(app, &screen, pane, -WHEEL),
        (MouseAct::WheelDown, Some(pane)) => turn(app, &screen, pane, WHEEL),
        _ => {}
    }
    Effect::None
}

/// The wheel scrolls what it is over. The cursor comes along only when it would not be shown any more.
fn turn(app: &mut App, screen: &Screen, pane: Pane, by: isize) {
    let height = view::list_height(app, pane, screen.height_of(pane));
    match pane {
        Pane::Bytes if app.twin.is_some() => turn_twin(app, screen, by),
        Pane::Bytes => {
            let (per_row, height) = (screen.grid.per_row, screen.bytes_height());
            let it = app.it_mut();
            let last = it.image().len().div_ceil(per_row).saturating_sub(height);
            let top = (it.cursor.top / per_row).saturating_add_signed(by).min(last);
            it.cursor.top = top * per_row;
            let row = it.cursor.at / per_row;
            let to = it.cursor.at % per_row + kept_in(top, row, height) * per_row;
            // A last row that is shorter may end before that column.
            if to != it.cursor.at {
                it.move_to(to);
            }
        }
        pane => {
            if let Some(rows) = command::rows_of(app, pane) {
                rows.scroll(by, height);
            }
        }
    }
}

/// Both sides scroll together.
fn turn_twin(app: &mut App, screen: &Screen, by: isize) {
    let (height, current) = (screen.side_height(), app.current());
    let at = app.it().cursor.at;
    let Some(twin) = &mut app.twin else { return };
    let side = twin.side_of(current);
    let last = twin.rows().count().saturating_sub(height.max(1));
    twin.top = twin.top.saturating_add_signed(by).min(last);
    let row = twin.rows().index_of(side, at);
    let to = kept_in(twin.top, row, height);
    let start =
        |row: usize| twin.rows().get(row).and_then(|r| r.spans.get(side).copied().flatten()).map(|s| s.start);
    if let (true, Some(from), Some(to)) = (to != row, start(row), start(to)) {
        app.it_mut().move_to(to + at.saturating_sub(from));
    }
}

fn press_bytes(app: &mut App, screen: &Screen, mouse: Mouse) {
    app.notice = None;
    if mouse.act == MouseAct::Press {
        app.panes.give_keys(Pane::Bytes);
        if let Some(index) = view::side_at(app, screen, mouse.column, mouse.row) {
            app.turn_to(index);
        }
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
}

/// A click gives the keys to the pane and chooses the row; on the row that was chosen there already it does what Enter
/// does, and on the sign of a group or table it shows or hides what that holds.
fn press_row(app: &mut App, screen: &Screen, pane: Pane, mouse: Mouse) -> Effect {
    app.notice = None;
    let had_keys = app.panes.focus() == pane;
    app.panes.give_keys(pane);
    let Some(inside) = screen.inside(pane).filter(|a| a.contains((mouse.column, mouse.row).into())) else {
        return Effect::None;
    };
    let (x, row) = (usize::from(mouse.column - inside.x), usize::from(mouse.row - inside.y));
    let is_sign = pane == Pane::Fields && app.twin.is_none() && view::is_sign_at(app, x, row);
    let shown = view::list_height(app, pane, usize::from(inside.height));
    let Some(rows) = command::rows_of(app, pane).filter(|r| row < shown && r.top + row < r.len) else {
        return Effect::None;
    };
    let by = (rows.top + row) as isize - rows.at as isize;
    if by != 0 || !had_keys {
        command::step_list(app, pane, by);
        if !is_sign {
            return Effect::None;
        }
    }
    let opens = match pane {
        Pane::Fields => "open-row",
        Pane::Readings => "set-reading",
        _ => "go-there",
    };
    command::by_name(opens).map_or(Effect::None, |command| command.run(app, ""))
}
