//! Describing: fields of the layout named, changed, moved, split and taken out while their bytes are looked at.
//! Nothing here changes a byte, so nothing here asks for an unlocked image.

mod check;
mod field;
mod head;
mod role;
mod shape;
mod table;

pub(super) use check::{add as add_check, ask as ask_check};
pub(super) use field::ask_new;

use super::{Command, USUAL, Where, has_layout, row};
use crate::author::{self, Refused};
use crate::layout::Field;
use crate::report::text;
use crate::span::{ByteOrder, Span};
use crate::tui::app::App;
use crate::tui::dialog::Choice;
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "describe",
        keys: &["i"],
        obstacle: alone,
        hint: "describe",
        doc: "Name the selected bytes as a field, or change what the layout says of the field here",
        act: |app, _| field::describe(app),
        ..USUAL
    },
    Command {
        name: "make-table",
        keys: &["g"],
        obstacle: alone,
        doc: "Make a table of which the selected bytes, and the fields in them, are the first row",
        act: |app, _| table::ask(app),
        ..USUAL
    },
    Command {
        name: "split-field",
        keys: &["x"],
        place: Where::BYTES,
        obstacle: with_layout,
        doc: "Split the field under the cursor into two; the second begins at the cursor",
        act: |app, _| shape::split(app),
        ..USUAL
    },
    Command {
        name: "remove-field",
        keys: &["r"],
        place: Where::FIELDS,
        obstacle: with_layout,
        doc: "Take the chosen field out of the layout; its bytes stay as they are",
        act: |app, _| shape::remove(app),
        ..USUAL
    },
    Command {
        obstacle: with_layout,
        ..row(
            Where::FIELDS,
            "field-longer",
            &["Shift-Right"],
            "Stretch the chosen field by one byte",
            |app, _| shape::stretch(app, 1),
        )
    },
    Command {
        obstacle: with_layout,
        ..row(
            Where::FIELDS,
            "field-shorter",
            &["Shift-Left"],
            "Shorten the chosen field by one byte",
            |app, _| shape::stretch(app, -1),
        )
    },
    Command {
        obstacle: with_layout,
        ..row(
            Where::FIELDS,
            "field-later",
            &["Shift-Down"],
            "Move the chosen field one byte towards the end",
            |app, _| shape::shift(app, 1),
        )
    },
    Command {
        obstacle: with_layout,
        ..row(
            Where::FIELDS,
            "field-earlier",
            &["Shift-Up"],
            "Move the chosen field one byte towards the start",
            |app, _| shape::shift(app, -1),
        )
    },
    Command {
        name: "next-undescribed",
        keys: &["u"],
        obstacle: all_described,
        hint: "undescribed",
        doc: "Select the next run of bytes that the layout says nothing about",
        act: |app, _| undescribed(app, true),
        ..USUAL
    },
    Command {
        name: "previous-undescribed",
        keys: &["U"],
        obstacle: all_described,
        doc: "Select the run of bytes before that the layout says nothing about",
        act: |app, _| undescribed(app, false),
        ..USUAL
    },
    Command {
        name: "only-role",
        obstacle: has_layout,
        doc: "Show only the fields of one role, or all again",
        takes: "ROLE",
        act: role::ask_only,
        ..USUAL
    },
    super::surveying::SURVEY,
    super::surveying::DRAFT,
    super::proposals::ACCEPT,
    super::proposals::ACCEPT_SURE,
    super::proposals::REJECT,
    Command {
        name: "describe-layout",
        keys: &["I"],
        obstacle: alone,
        doc: "Change what the layout says of the whole: its title, where it comes from, its byte order",
        act: |app, _| head::ask(app),
        ..USUAL
    },
    Command {
        name: "mark-layout",
        place: Where::BYTES,
        obstacle: alone,
        doc: "Let the selected bytes be a mark by which images of this layout are known",
        act: |app, _| head::mark(app),
        ..USUAL
    },
    super::layouts::SAVE_LAYOUT,
];

/// Possible while one image is shown: in the Twin view the Fields pane is about two.
pub(super) fn alone(app: &App) -> Option<&'static str> {
    if app.twin.is_some() {
        return Some("Leave the Twin view first ({twin}); it shows the fields of two images");
    }
    app.it().image().is_empty().then_some("The image holds no byte")
}

fn with_layout(app: &App) -> Option<&'static str> {
    alone(app).or_else(|| has_layout(app))
}

fn all_described(app: &App) -> Option<&'static str> {
    app.it().described.undescribed().is_empty().then_some("The layout describes every byte")
}

/// Changes the text of the layout as one step, in every open image that shares it, and says what was done; returns
/// whether it was.
pub(super) fn write(app: &mut App, label: &str, new: Result<String, Refused>) -> bool {
    let done = new.and_then(|new| app.write_layout(label, &new).map_err(Refused::Problems));
    match done {
        Ok(images) => {
            let many = if images > 1 { format!(", in {images} images") } else { String::new() };
            app.say(Tone::Good, text::sentence(&format!("{label}{many}")));
            true
        }
        Err(refused) => {
            app.say(Tone::Bad, format!("{}; the layout is as it was", refused.why()));
            false
        }
    }
}

fn field<'a>(app: &'a App, path: &str) -> Option<&'a Field> {
    app.it().decoded().fields.iter().find(|f| f.path == path)
}

/// The path of the table for one of its rows: every row has the same text.
fn base(path: &str) -> &str {
    match path.rfind('[') {
        Some(at) if path.ends_with(']') => &path[..at],
        _ => path,
    }
}

/// The byte orders, for choosing one.
fn orders() -> Vec<Choice> {
    ByteOrder::ALL.map(|order| Choice::new(order.word(), "")).into()
}

/// What is said where neither was typed.
const NO_ORDER: &str = "Big or Little";

/// The byte order of the layout in force, or of the one that would begin.
fn order(app: &App) -> ByteOrder {
    author::order(&app.it().layout_text())
}

/// The field at `path`, where a field of the layout lies over bytes that are to become another one.
fn overlap(app: &App, span: Span) -> Option<String> {
    let leaves = app.it().described.leaves(span);
    let index = leaves.into_iter().flatten().next()?;
    app.it().decoded().fields.get(index).map(|f| text::clean(&f.path).into_owned())
}

fn undescribed(app: &mut App, forward: bool) -> Effect {
    let it = app.it_mut();
    if let Some(piece) = it.next_undescribed(forward) {
        it.select(piece);
        let (bytes, all) = (it.described.undescribed().iter().map(|r| r.len()).sum(), it.image().len());
        let (place, described) =
            (text::place(piece, it.image().base()), author::percent(it.described.undescribed(), all));
        app.panes.give_keys(Pane::Bytes);
        let told = format!(
            "Undescribed: {place}. {described} % is described, {} are not",
            text::count(bytes, "byte")
        );
        app.say(Tone::Plain, told);
    }
    Effect::None
}
