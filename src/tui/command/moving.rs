//! Moving about: the bytes cursor, the rows of lists, the pane that has the keys.

use super::{Command, Where, row};
use crate::tui::app::App;
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::sheet::Column;
use crate::tui::view;
use crate::tui::view::screen::Screen;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    row(Where::PANES, "up", &["Up"], "One row up", |app, _| go(app, Step::Rows(-1))),
    row(Where::PANES, "down", &["Down"], "One row down", |app, _| go(app, Step::Rows(1))),
    row(Where::BYTES, "left", &["Left"], "One byte or digit to the left", |app, _| sideways(app, -1)),
    row(Where::BYTES, "right", &["Right"], "One byte or digit to the right", |app, _| sideways(app, 1)),
    row(Where::PANES, "page-up", &["PgUp"], "One screenful up", |app, _| go(app, Step::Pages(-1))),
    row(Where::PANES, "page-down", &["PgDn"], "One screenful down", |app, _| go(app, Step::Pages(1))),
    row(
        Where::PANES,
        "line-start",
        &["Home"],
        "To the start of the row; in a list, to the first row",
        |app, _| go(app, Step::LineStart),
    ),
    row(Where::PANES, "line-end", &["End"], "To the end of the row; in a list, to the last row", |app, _| {
        go(app, Step::LineEnd)
    }),
    row(Where::PANES, "first", &["Ctrl-Home"], "To the first byte or row", |app, _| go(app, Step::First)),
    row(Where::PANES, "last", &["Ctrl-End"], "To the last byte or row", |app, _| go(app, Step::Last)),
    row(Where::BYTES, "select-up", &["Shift-Up"], "Select one row further up", |app, _| {
        select(app, Step::Rows(-1))
    }),
    row(Where::BYTES, "select-down", &["Shift-Down"], "Select one row further down", |app, _| {
        select(app, Step::Rows(1))
    }),
    row(Where::BYTES, "select-left", &["Shift-Left"], "Select one byte further to the left", |app, _| {
        select(app, Step::Bytes(-1))
    }),
    row(Where::BYTES, "select-right", &["Shift-Right"], "Select one byte further to the right", |app, _| {
        select(app, Step::Bytes(1))
    }),
    row(Where::BYTES, "select-page-up", &["Shift-PgUp"], "Select one screenful further up", |app, _| {
        select(app, Step::Pages(-1))
    }),
    row(Where::BYTES, "select-page-down", &["Shift-PgDn"], "Select one screenful further down", |app, _| {
        select(app, Step::Pages(1))
    }),
    row(Where::BYTES, "select-line-start", &["Shift-Home"], "Select to the start of the row", |app, _| {
        select(app, Step::LineStart)
    }),
    row(Where::BYTES, "select-line-end", &["Shift-End"], "Select to the end of the row", |app, _| {
        select(app, Step::LineEnd)
    }),
    row(Where::BYTES, "select-all", &["Ctrl-A"], "Select every byte", |app, _| {
        let all = crate::span::Span::new(0, app.it().image().len());
        app.it_mut().select(all);
        Effect::None
    }),
    Command {
        hint: "pane",
        ..row(Where::PANES, "next-pane", &["Tab"], "Give the keys to the next pane", |app, _| {
            pass_keys(app, 1);
            Effect::None
        })
    },
    row(Where::PANES, "previous-pane", &["Shift-Tab"], "Give the keys to the pane before", |app, _| {
        pass_keys(app, -1);
        Effect::None
    }),
    Command {
        hint: "text/digits",
        ..row(Where::BYTES, "column", &["Ctrl-T"], "Type characters instead of digits, and back", |app, _| {
            let cursor = &mut app.it_mut().cursor;
            cursor.second_digit = false;
            cursor.column = match cursor.column {
                Column::Digits => Column::Text,
                Column::Text => Column::Digits,
            };
            Effect::None
        })
    },
    row(
        Where::PANES,
        "leave",
        &["Esc"],
        "Stop what goes on beside the keys; drop the selection; back to Bytes",
        |app, _| {
            if crate::tui::job::stop(app) {
                return Effect::None;
            }
            let it = app.it_mut();
            it.cursor.second_digit = false;
            if it.cursor.anchor.take().is_none() {
                app.panes.give_keys(Pane::Bytes);
            }
            Effect::None
        },
    ),
];

/// Gives the keys to the pane `by` steps further in the order of Tab.
fn pass_keys(app: &mut App, by: isize) {
    let there = app.there();
    app.panes.pass_keys(by, &there);
}

/// A way to go.
#[derive(Clone, Copy)]
enum Step {
    Bytes(isize),
    Rows(isize),
    Pages(isize),
    LineStart,
    LineEnd,
    First,
    Last,
}

fn go(app: &mut App, step: Step) -> Effect {
    if app.panes.focus() == Pane::Bytes {
        step_bytes(app, step, false)
    } else {
        step_rows(app, step)
    }
    Effect::None
}

fn select(app: &mut App, step: Step) -> Effect {
    step_bytes(app, step, true);
    Effect::None
}

fn step_bytes(app: &mut App, step: Step, select: bool) {
    let screen = Screen::of(app);
    if app.twin.is_some() && step_twin(app, &screen, step, select) {
        return;
    }
    let (row, page) =
        (screen.grid.per_row as isize, (screen.bytes_height() * screen.grid.per_row).max(1) as isize);
    let it = app.it_mut();
    let last = it.image().len().saturating_sub(1);
    let at = it.cursor.at;
    // Up from the first row and down from the last one stay in their column.
    let jump = |by: isize| match at.checked_add_signed(by) {
        Some(to) if to <= last => to,
        _ => at,
    };
    let in_row = at % screen.grid.per_row;
    let to = match step {
        Step::Bytes(by) => at.saturating_add_signed(by).min(last),
        Step::Rows(by) => jump(row * by),
        Step::Pages(by) if at.checked_add_signed(page * by).is_some_and(|to| to <= last) => jump(page * by),
        Step::Pages(by) if by < 0 => in_row,
        Step::Pages(_) => last - (last - at) % screen.grid.per_row,
        Step::LineStart => at - in_row,
        Step::LineEnd => (at - in_row + screen.grid.per_row - 1).min(last),
        Step::First => 0,
        Step::Last => last,
    };
    if select {
        it.cursor.anchor.get_or_insert(at);
        it.move_to(to);
    } else {
        it.go(to);
    }
}

/// Up and down in the Twin view go by its rows, of which some may be left out or belong to one side only. Returns
/// false for steps that do not.
fn step_twin(app: &mut App, screen: &Screen, step: Step, select: bool) -> bool {
    let by = match step {
        Step::Rows(by) => by,
        Step::Pages(by) => by * screen.side_height().max(1) as isize,
        _ => return false,
    };
    let Some(twin) = &app.twin else { return false };
    let (side, at) = (twin.side_of(app.current()), app.it().cursor.at);
    let from = twin.rows().index_of(side, at);
    let here =
        |row: usize| twin.rows().get(row).and_then(|r| Some((r.spans.get(side).copied().flatten()?, r.skip)));
    let column = here(from).map_or(0, |(span, skip)| skip + at.saturating_sub(span.start));
    let mut to = from.saturating_add_signed(by).min(twin.rows().count().saturating_sub(1));
    while here(to).is_none() && to != from {
        // Rows of the other side only are passed over, as far as there are others.
        match to
            .checked_add_signed(by.signum())
            .filter(|t| *t < twin.rows().count() && !twin.rows().ends_before(side, *t))
        {
            Some(next) => to = next,
            None => to = from,
        }
    }
    let Some((span, skip)) = here(to) else { return true };
    let to = (span.start + column.saturating_sub(skip)).min(span.end.saturating_sub(1));
    let it = app.it_mut();
    if select {
        it.cursor.anchor.get_or_insert(at);
        it.move_to(to);
    } else {
        it.go(to);
    }
    true
}

fn step_rows(app: &mut App, step: Step) {
    let pane = app.panes.focus();
    let height = Screen::of(app).height_of(pane);
    let page = view::list_height(app, pane, height).max(1) as isize;
    let by = match step {
        Step::Bytes(by) | Step::Rows(by) => by,
        Step::Pages(by) => page * by,
        Step::LineStart | Step::First => isize::MIN,
        Step::LineEnd | Step::Last => isize::MAX,
    };
    step_list(app, pane, by);
}

/// Moves the choice in a list; in Fields, the bytes cursor goes along.
pub fn step_list(app: &mut App, pane: Pane, by: isize) {
    let Some(rows) = rows_of(app, pane) else { return };
    rows.step(by);
    if app.twin.is_some() && pane == Pane::Fields {
        super::twin::go_to_field(app);
        return;
    }
    let it = app.it_mut();
    match pane {
        Pane::Fields => {
            let (chosen, place) =
                (it.described.fields.rows.at, it.described.chosen_field().map(crate::layout::Field::cover));
            if let Some(place) = place.filter(|p| !p.is_empty()) {
                it.go(place.start);
                // Several fields can lie over one byte: the one that was chosen stays chosen.
                it.described.fields.rows.at = chosen;
            }
        }
        Pane::Found => {
            if let Some(hit) = it.found.chosen().map(|h| h.span) {
                it.select(hit);
            }
        }
        Pane::Proposed => super::proposals::show_chosen(app),
        _ => {}
    }
}

/// The list of a pane.
pub fn rows_of(app: &mut App, pane: Pane) -> Option<&mut crate::tui::rows::Rows> {
    match (pane, app.twin.is_some()) {
        (Pane::Fields, true) => return app.twin.as_mut().map(|t| &mut t.fields),
        (Pane::Checks, true) => return app.twin.as_mut().map(|t| &mut t.checks),
        _ => {}
    }
    let it = app.it_mut();
    match pane {
        Pane::Bytes => None,
        Pane::Fields => Some(&mut it.described.fields.rows),
        Pane::Checks => Some(&mut it.described.checks),
        Pane::Readings => Some(&mut it.readings.rows),
        Pane::Findings => Some(&mut it.judged.rows),
        Pane::Found => Some(&mut it.found.rows),
        Pane::Proposed => Some(&mut it.proposals.rows),
    }
}

/// One byte; from the second digit of a byte to the left, one digit.
fn sideways(app: &mut App, by: isize) -> Effect {
    let it = app.it_mut();
    if it.cursor.second_digit && by < 0 {
        it.cursor.second_digit = false;
    } else {
        step_bytes(app, Step::Bytes(by), false);
    }
    Effect::None
}
