//! Dialogs: in front of the panes, clamped to the screen.

use ratatui::layout::Rect;

use super::canvas::Canvas;
use super::screen;
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{Dialog, Page, Prompt, Question, Remark};
use crate::tui::theme::Tone;

/// Draws a dialog; returns where its cursor is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App, dialog: &Dialog) -> Option<(u16, u16)> {
    match dialog {
        Dialog::Prompt(prompt) => draw_prompt(canvas, app, prompt),
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
    let options = prompt.options.len().min(room).min(12);
    let inside = frame(canvas, prompt.ask.title, width, 1 + remarks.len() + options);
    let mut canvas = canvas.part(inside);
    let (before, after) = match prompt.chosen {
        Some(_) => (prompt.answer(), ""),
        None => prompt.line.parts(),
    };
    // A line longer than its room shows the part around its cursor.
    let (before, after) = (text::clean(before).into_owned(), text::clean(after).into_owned());
    let skip = (text::width(&before) + 4).saturating_sub(canvas.width());
    let before: String = before.chars().skip(skip).collect();
    let x = canvas.text(0, 0, "> ", Tone::Accent);
    let offered = prompt.chosen.is_none() && prompt.line.is_offer();
    let x = canvas.text(x, 0, &before, if offered { Tone::Selected } else { Tone::Strong });
    canvas.text(x, 0, &after, Tone::Strong);
    for (y, (tone, line)) in remarks.iter().enumerate() {
        canvas.text(0, 1 + y, line, *tone);
    }
    let first = prompt.chosen.map_or(0, |c| (c + 1).saturating_sub(options));
    let shown = prompt.options.iter().enumerate().skip(first).take(options);
    let names = shown.clone().map(|(_, c)| text::width(&c.text)).max().unwrap_or(0).min(canvas.width() / 2);
    for (row, (index, choice)) in shown.enumerate() {
        let y = 1 + remarks.len() + row;
        let aside = text::width(&choice.aside);
        let tone = if choice.possible { Tone::Plain } else { Tone::Quiet };
        let x = canvas.cell(0, y, names, &text::clean(&choice.text), tone) + 2;
        let room = canvas.width().saturating_sub(x + aside + 2);
        canvas.cell(x, y, room, &choice.detail, Tone::Quiet);
        canvas.text(canvas.width().saturating_sub(aside), y, &choice.aside, Tone::Accent);
        if prompt.chosen == Some(index) {
            canvas.lay(y, Tone::Cursor);
        }
    }
    canvas.on_screen(x.min(canvas.width().saturating_sub(1)), 0)
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
    let height = screen::page_height(app.size).min(page.lines.len());
    let inside = frame(canvas, &page.title, width, height);
    let mut canvas = canvas.part(inside);
    for (y, (tone, line)) in page.lines.iter().skip(page.top).take(height).enumerate() {
        canvas.cell(0, y, canvas.width(), line, *tone);
    }
    canvas.on_screen(0, 0)
}
