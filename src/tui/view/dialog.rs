//! Dialogs: in front of the panes, clamped to the screen.

use ratatui::layout::Rect;

use super::canvas::Canvas;
use super::screen::{self, Screen};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{Answer, Dialog, Form, Page, Prompt, Question, Remark};
use crate::tui::theme::Tone;

/// Draws a dialog; returns where its cursor is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App, dialog: &Dialog) -> Option<(u16, u16)> {
    match dialog {
        Dialog::Prompt(prompt) => draw_prompt(canvas, app, prompt),
        Dialog::Form(form) => draw_form(canvas, app, form),
        Dialog::Question(question) => draw_question(canvas, question),
        Dialog::Page(page) => draw_page(canvas, app, page),
    }
}

/// A frame of `width` by `height` inside, its title in its upper line; returns its inside.
fn frame(canvas: &mut Canvas<'_>, title: &str, width: usize, height: usize) -> Rect {
    let most = (canvas.width().saturating_sub(2), canvas.height().saturating_sub(3));
    let (width, height) = (width.min(most.0.saturating_sub(4)), height.min(most.1.saturating_sub(2)));
    let x = (canvas.width() - (width + 4).min(canvas.width())) / 2;
    let y = ((canvas.height() - (height + 2).min(canvas.height())) / 3).max(1).min(canvas.height());
    // All at most as large as the screen, which is counted in u16.
    let outer = Rect::new(x as u16, y as u16, (width + 4) as u16, (height + 2) as u16);
    frame_in(canvas, title, outer)
}

/// A frame that fills `outer`.
fn frame_in(canvas: &mut Canvas<'_>, title: &str, outer: Rect) -> Rect {
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
    Rect::new(outer.x + 2, outer.y + 1, width as u16, height as u16)
}

fn wrapped(remarks: &[Remark], width: usize) -> Vec<Remark> {
    let lines = remarks.iter().flat_map(|(tone, remark)| {
        text::wrap(&text::clean(remark), width.max(10)).into_iter().map(|line| (*tone, line))
    });
    lines.collect()
}

fn draw_prompt(canvas: &mut Canvas<'_>, app: &App, prompt: &Prompt) -> Option<(u16, u16)> {
    let width = 74.min(canvas.width().saturating_sub(6));
    let remarks = wrapped(&(prompt.ask.remarks)(app, prompt), width);
    let room = canvas.height().saturating_sub(7 + remarks.len());
    let options = prompt.given.options.len().min(room).min(12);
    let inside = frame(canvas, prompt.ask.title, width, 1 + remarks.len() + options);
    let mut canvas = canvas.part(inside);
    let x = draw_line(&mut canvas, 0, "> ", &prompt.given, true);
    for (y, (tone, line)) in remarks.iter().enumerate() {
        canvas.text(0, 1 + y, line, *tone);
    }
    draw_choices(&mut canvas, 1 + remarks.len(), options, &prompt.given);
    canvas.on_screen(x.min(canvas.width().saturating_sub(1)), 0)
}

/// Lines that are asked together, each with what is said of it; then what is said of all, then the choices for the
/// line with the keys, or what the answers would make.
fn draw_form(canvas: &mut Canvas<'_>, app: &App, form: &Form) -> Option<(u16, u16)> {
    let title = (form.kind.title)(app, form);
    let inside = match Screen::of(app).dock {
        Some(dock) => frame_in(canvas, &title, dock),
        None => {
            let width = 74.min(canvas.width().saturating_sub(6));
            frame(canvas, &title, width, canvas.height().saturating_sub(7).min(14))
        }
    };
    let mut canvas = canvas.part(inside);
    let given = form.lines.get(form.at)?;
    let labels = form.kind.labels.iter().map(|l| text::width(l)).max().unwrap_or(0);
    let (width, mut cursor, mut below) = (canvas.width(), 0, Vec::new());
    for (y, (answer, label)) in form.lines.iter().zip(form.kind.labels).enumerate() {
        let has_keys = y == form.at;
        let mark = if has_keys { ">" } else { " " };
        let x = draw_line(&mut canvas, y, &format!("{mark} {label:labels$}  "), answer, has_keys);
        if has_keys {
            cursor = x;
        }
        // What has no room beside its line is said in lines of its own.
        let Some((tone, said)) = (form.kind.beside)(app, form, y) else { continue };
        let said = text::clean(&said).into_owned();
        let end = labels + 4 + text::width(answer.text());
        let from = (end + 3).max(labels + 4 + width / 4);
        if from + text::width(&said) <= width || from + 24 <= width && tone != Tone::Bad {
            canvas.cell(from, y, width - from, &said, tone);
        } else {
            below.push((tone, format!("{label}: {said}")));
        }
    }
    below.extend((form.kind.remarks)(app, form));
    let mut y = form.lines.len();
    for (tone, line) in wrapped(&below, width) {
        canvas.text(0, y, &line, tone);
        y += 1;
    }
    canvas.rule(0, y);
    let rows = canvas.height().saturating_sub(y + 1);
    if given.options.is_empty() {
        for (row, (tone, line)) in (form.kind.preview)(app, form).iter().take(rows).enumerate() {
            canvas.cell(2, y + 1 + row, width.saturating_sub(2), &text::clean(line), *tone);
        }
    } else {
        let shown = given.options.len().min(rows);
        draw_choices(&mut canvas.right(2), y + 1, shown, given);
    }
    canvas.on_screen(cursor.min(width.saturating_sub(1)), form.at)
}

/// A line that is typed, behind `lead`; returns the column of its cursor.
fn draw_line(canvas: &mut Canvas<'_>, y: usize, lead: &str, given: &Answer, has_keys: bool) -> usize {
    let (before, after) = match given.chosen {
        Some(_) if !given.marks => (given.text(), ""),
        _ => given.line.parts(),
    };
    // A line longer than its room shows the part around its cursor, or its beginning while others are typed.
    let (before, after) = (text::clean(before).into_owned(), text::clean(after).into_owned());
    let over = (text::width(&before) + text::width(lead) + 2).saturating_sub(canvas.width());
    let before: String = before.chars().skip(if has_keys { over } else { 0 }).collect();
    let x = canvas.text(0, y, lead, if has_keys { Tone::Accent } else { Tone::Quiet });
    let offered = has_keys && given.chosen.is_none() && given.line.is_offer();
    let room = canvas.width().saturating_sub(x);
    let before = text::cut(&before, room);
    let x = canvas.text(x, y, &before, if offered { Tone::Selected } else { Tone::Strong });
    canvas.text(x, y, &after, Tone::Strong);
    x
}

/// What could be meant, in `rows` rows from `top` on.
fn draw_choices(canvas: &mut Canvas<'_>, top: usize, rows: usize, given: &Answer) {
    let first = given.chosen.map_or(0, |c| (c + 1).saturating_sub(rows));
    let shown = given.options.iter().enumerate().skip(first).take(rows);
    let names = shown.clone().map(|(_, c)| text::width(&c.text)).max().unwrap_or(0).min(canvas.width() / 2);
    for (row, (index, choice)) in shown.enumerate() {
        let y = top + row;
        let aside = text::width(&choice.aside);
        let tone = if choice.possible { Tone::Plain } else { Tone::Quiet };
        let x = canvas.cell(0, y, names, &text::clean(&choice.text), tone) + 2;
        let room = canvas.width().saturating_sub(x + aside + 2);
        canvas.cell(x, y, room, &choice.detail, Tone::Quiet);
        canvas.text(canvas.width().saturating_sub(aside), y, &choice.aside, Tone::Accent);
        if given.chosen == Some(index) {
            canvas.lay(y, Tone::Cursor);
        }
    }
}

fn draw_question(canvas: &mut Canvas<'_>, question: &Question) -> Option<(u16, u16)> {
    let width = 66.min(canvas.width().saturating_sub(6));
    let remarks = wrapped(&question.remarks, width);
    let blank = usize::from(!remarks.is_empty());
    let inside = frame(canvas, &question.title, width, remarks.len() + blank + 1);
    let mut canvas = canvas.part(inside);
    for (y, (tone, line)) in remarks.iter().enumerate() {
        canvas.text(0, y, line, *tone);
    }
    let y = (remarks.len() + blank).min(canvas.height().saturating_sub(1));
    let (mut x, mut cursor) = (0, None);
    for (i, reply) in question.replies.iter().enumerate() {
        let marked = i == question.chosen;
        if marked {
            cursor = canvas.on_screen(x, y);
        }
        x = canvas.text(x, y, &format!(" {} ", reply.word), if marked { Tone::Cursor } else { Tone::Plain })
            + 1;
    }
    cursor
}

fn draw_page(canvas: &mut Canvas<'_>, app: &App, page: &Page) -> Option<(u16, u16)> {
    let width = screen::page_width(app.size);
    // A page that is searched keeps its size while it is.
    let shown = page.height(app.size).min(page.lines.len());
    let search = usize::from(page.search.is_some());
    let height = if search > 0 { page.height(app.size) } else { shown };
    let inside = frame(canvas, &page.title, width, search + height);
    let mut canvas = canvas.part(inside);
    let mut cursor = 0;
    if let Some(given) = &page.search {
        cursor = draw_line(&mut canvas, 0, "> ", given, true);
        if given.line.text().is_empty() {
            canvas.text(cursor + 1, 0, "type to search", Tone::Quiet);
        } else if page.lines.is_empty() {
            canvas.text(0, 1, "Nothing here holds that", Tone::Quiet);
        }
    }
    for (y, (tone, line)) in page.lines.iter().skip(page.top).take(height).enumerate() {
        canvas.cell(0, search + y, canvas.width(), line, *tone);
    }
    canvas.on_screen(cursor.min(canvas.width().saturating_sub(1)), 0)
}
