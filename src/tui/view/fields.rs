//! The Fields pane: the decoded layout as a tree.

use super::canvas::Canvas;
use crate::layout::{Field, FieldState, Role, Shape};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;

/// Columns of the role.
const ROLE: usize = 11;

/// How much of the image they describe, and how many are odd.
pub(super) fn aside(app: &App) -> String {
    let it = app.it();
    if it.layout().is_none() {
        return String::new();
    }
    let odd = it.decoded().fields.iter().filter(|f| matches!(f.state, FieldState::Odd(_))).count();
    let described = crate::author::percent(it.described.undescribed(), it.image().len());
    let mut told = match it.described.fields.only {
        Some(role) => format!("only {}", role.word()),
        None => format!("{described} % described"),
    };
    if odd > 0 {
        told.push_str(&format!(", {odd} odd"));
    }
    told
}

/// Draws the visible rows; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    if it.described.fields.listed.is_empty() {
        let lines = match it.layout() {
            None => &[
                "No layout is in force.",
                "{layout} reads one; --layout FILE does so at the start.",
                "Select bytes, and {describe} begins one; {survey} looks for what is in the image.",
            ][..],
            Some(_) => &["The layout has no fields for this image."],
        };
        lines.iter().fold(0, |y, line| canvas.paragraph(y, &app.keys.fill(line), Tone::Quiet));
        return canvas.on_screen(0, 0);
    }
    let (width, height) = (canvas.width(), canvas.height());
    let role_width = if width >= 60 { ROLE + 2 } else { 0 };
    let name_width = (width.saturating_sub(role_width) * 2 / 5).clamp(8, 36);
    let rows = it.described.fields.listed.iter().skip(it.described.fields.rows.top).take(height).enumerate();
    for (y, &index) in rows {
        let Some(field) = it.decoded().fields.get(index) else { continue };
        let sign = match field.shape {
            Shape::Leaf => " ",
            _ if it.described.fields.is_open(field) => "▾",
            _ => "▸",
        };
        let odd = matches!(field.state, FieldState::Odd(_));
        let absent = field.state == FieldState::Absent;
        let edited = field.spans.iter().any(|s| s.range().any(|at| it.contents.is_edited(at)));
        let mark = if odd {
            ("?", Tone::Bad)
        } else if edited {
            ("*", Tone::Edited)
        } else {
            (" ", Tone::Plain)
        };
        canvas.text(0, y, mark.0, mark.1);
        canvas.text(sign_at(field), y, sign, Tone::Quiet);
        let name = text::clean(&field.name).into_owned();
        let name_tone: Tone = if odd { Tone::Bad } else { field.role.into() };
        let (from, room) = name_at(field, name_width);
        canvas.name(from, y, room, &name, name_tone);
        let x = name_width + 5;
        let room = width.saturating_sub(x + role_width + 1);
        let (value, tone) = value(field, absent);
        canvas.cell(x, y, room, &value, tone);
        if role_width > 0 {
            canvas.cell(width - role_width + 1, y, ROLE, field.role.word(), Tone::Quiet);
        }
    }
    let chosen = it.described.fields.rows.at.checked_sub(it.described.fields.rows.top)?;
    // Where no field lies over the bytes cursor, none is the one that it is in.
    let is_over = it.described.chosen_field().is_some_and(|f| f.cover().contains(it.cursor.at));
    if chosen < height && (is_over || app.panes.focus() == Pane::Fields) {
        canvas.choose(chosen, app.panes.focus() == Pane::Fields);
        if let Some(field) = it.described.chosen_field().filter(|_| app.panes.focus() != Pane::Fields) {
            let (from, room) = name_at(field, name_width);
            canvas.lay(from, chosen, text::width(&text::clean(&field.name)).min(room), Tone::Echo);
        }
    }
    canvas.on_screen(0, chosen)
}

/// Column of the sign that shows or hides what a field holds.
fn sign_at(field: &Field) -> usize {
    1 + 2 * field.depth.min(8)
}

/// Whether the sign that shows or hides what the field of a shown row holds is at a cell inside the pane.
#[must_use]
pub fn is_sign_at(app: &App, x: usize, row: usize) -> bool {
    let it = app.it();
    let index = it.described.fields.listed.get(it.described.fields.rows.top + row);
    let field = index.and_then(|&index| it.decoded().fields.get(index));
    field.is_some_and(|f| f.shape != Shape::Leaf && sign_at(f) == x)
}

/// Column of the name of a field and how many columns it may take, where names without an indent may take
/// `name_width`.
fn name_at(field: &Field, name_width: usize) -> (usize, usize) {
    (sign_at(field) + 2, name_width.saturating_sub(2 * field.depth.min(8)))
}

fn value(field: &Field, absent: bool) -> (String, Tone) {
    if absent {
        return ("outside the image".into(), Tone::Quiet);
    }
    let unit = field.unit.as_deref().map(|u| format!(" {}", text::clean(u))).unwrap_or_default();
    let mut value = format!("{}{unit}", text::clean(&field.text));
    if let FieldState::Odd(why) = &field.state {
        value = format!("{value}  {}", text::clean(why));
        return (value, Tone::Bad);
    }
    let with = |word: &str| format!("{value}  {word}").trim_start().to_owned();
    match (field.at_rest, field.shape) {
        // What holds nothing need not be spelled out.
        (Some(true), _) if field.role == Role::Filler => ("at rest".into(), Tone::Quiet),
        (Some(true), _) => (with("at rest"), Tone::Quiet),
        (Some(false), Shape::Group | Shape::Table | Shape::Row) if field.role == Role::Record => {
            (with("recorded"), Tone::Doubt)
        }
        _ => (value, Tone::Plain),
    }
}
