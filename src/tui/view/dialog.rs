//! Dialogs: in front of the panes, clamped to the screen.

use ratatui::layout::Rect;

use super::canvas::Canvas;
use super::frame::{fitting, frame_in, place, shown, wrapped};
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
        Dialog::Question(question) => draw_question(canvas, app, question),
        Dialog::Page(page) => draw_page(canvas, app, page),
    }
}

/// How a dialog with lines to type is set out: the lines, what is said, then choices.
struct Set {
    outer: Rect,
    inside: Rect,
    /// Lines that are typed.
    lines: usize,
    remarks: Vec<Remark>,
    /// First row of the choices.
    top: usize,
    /// Rows of choices.
    rows: usize,
    /// The first shown choice.
    first: usize,
}

impl Set {
    /// With at most `rows` choices of `given`, scrolled to the marked one.
    fn new(
        (outer, inside): (Rect, Rect),
        lines: usize,
        remarks: Vec<Remark>,
        top: usize,
        rows: usize,
        given: &Answer,
    ) -> Self {
        let rows = rows.min(given.options.len());
        let first = given.chosen.map_or(0, |c| (c + 1).saturating_sub(rows));
        Set { outer, inside, lines, remarks, top, rows, first }
    }

    /// Which of the choices are shown, when not all are.
    fn shown(&self, given: &Answer) -> Option<String> {
        shown(self.first, self.rows, given.options.len())
    }

    /// What of it is at a cell of the screen.
    fn spot(&self, given: &Answer, column: u16, row: u16) -> Option<Spot> {
        let (_, y) = within(self.inside, column, row)?;
        if y < self.lines {
            return Some(Spot::Line(y));
        }
        let choice = y.checked_sub(self.top).filter(|y| *y < self.rows).map(|y| self.first + y);
        choice.filter(|i| *i < given.options.len()).map(Spot::Choice)
    }
}

/// Column and row inside a part of the screen.
fn within(inside: Rect, column: u16, row: u16) -> Option<(usize, usize)> {
    let at = inside.contains((column, row).into());
    at.then(|| (usize::from(column - inside.x), usize::from(row - inside.y)))
}

fn set_prompt(app: &App, prompt: &Prompt) -> Set {
    let Rect { width, height, .. } = screen::room(app);
    let width = usize::from(width.saturating_sub(6).min(74));
    let remarks = wrapped(&(prompt.ask.remarks)(app, prompt), width);
    let remarks = fitting(remarks, usize::from(height).saturating_sub(6));
    let room = usize::from(height).saturating_sub(7 + remarks.len());
    let rows = prompt.given.options.len().min(room).min(12);
    let top = 1 + remarks.len();
    Set::new(place(app, width, top + rows), 1, remarks, top, rows, &prompt.given)
}

fn draw_prompt(canvas: &mut Canvas<'_>, app: &App, prompt: &Prompt) -> Option<(u16, u16)> {
    let set = set_prompt(app, prompt);
    frame_in(canvas, prompt.ask.title, set.outer, set.shown(&prompt.given).as_deref());
    let mut canvas = canvas.part(set.inside);
    let x = draw_line(&mut canvas, 0, "> ", &prompt.given, true);
    for (y, (tone, line)) in set.remarks.iter().enumerate() {
        canvas.text(0, 1 + y, line, *tone);
    }
    draw_choices(&mut canvas, &set, &prompt.given);
    canvas.on_screen(x.min(canvas.width().saturating_sub(1)), 0)
}

/// What is said of a line of a form, and from which column on; `None` where it has no room beside the line.
fn beside(app: &App, form: &Form, line: usize, width: usize) -> Option<(Remark, Option<usize>)> {
    let (tone, said) = (form.kind.beside)(app, form, line)?;
    let said = text::clean(&said).into_owned();
    let labels = labels(form);
    let end = labels + 4 + form.lines.get(line).map_or(0, |l| text::width(l.text()));
    let from = (end + 3).max(labels + 4 + width / 4);
    let fits = from + text::width(&said) <= width || from + 24 <= width && tone != Tone::Bad;
    Some(((tone, said), fits.then_some(from)))
}

/// Columns of the names of the lines of a form.
fn labels(form: &Form) -> usize {
    form.kind.labels.iter().map(|l| text::width(l)).max().unwrap_or(0)
}

/// A form: its lines, then what is said, a rule, and the choices for the line with the keys.
fn set_form(app: &App, form: &Form) -> Option<Set> {
    let given = form.lines.get(form.at)?;
    let (outer, inside) = match Screen::of(app).dock {
        Some(dock) => (
            dock,
            Rect::new(dock.x + 2, dock.y + 1, dock.width.saturating_sub(4), dock.height.saturating_sub(2)),
        ),
        None => place(app, 74, usize::from(screen::room(app).height).saturating_sub(7).min(14)),
    };
    let (width, height, lines) = (usize::from(inside.width), usize::from(inside.height), form.lines.len());
    let mut said: Vec<Remark> = Vec::new();
    for (line, label) in form.kind.labels.iter().enumerate() {
        // What has no room beside its line is said in lines of its own.
        if let Some(((tone, told), None)) = beside(app, form, line, width) {
            said.push((tone, format!("{label}: {told}")));
        }
    }
    said.extend((form.kind.remarks)(app, form));
    let remarks = fitting(wrapped(&said, width), height.saturating_sub(lines));
    let top = lines + remarks.len() + 1;
    Some(Set::new((outer, inside), lines, remarks, top, height.saturating_sub(top), given))
}

/// Lines that are asked together, each with what is said of it; then what is said of all, then the choices for the
/// line with the keys, or what the answers would make.
fn draw_form(canvas: &mut Canvas<'_>, app: &App, form: &Form) -> Option<(u16, u16)> {
    let set = set_form(app, form)?;
    let given = form.lines.get(form.at)?;
    frame_in(canvas, &(form.kind.title)(app, form), set.outer, set.shown(given).as_deref());
    let mut canvas = canvas.part(set.inside);
    let (width, labels, mut cursor) = (canvas.width(), labels(form), 0);
    for (y, (answer, label)) in form.lines.iter().zip(form.kind.labels).enumerate() {
        let has_keys = y == form.at;
        let mark = if has_keys { ">" } else { " " };
        let x = draw_line(&mut canvas, y, &format!("{mark} {label:labels$}  "), answer, has_keys);
        if has_keys {
            cursor = x;
        }
        if let Some(((tone, said), Some(from))) = beside(app, form, y, width) {
            canvas.cell(from, y, width.saturating_sub(from), &said, tone);
        }
    }
    for (y, (tone, line)) in set.remarks.iter().enumerate() {
        canvas.text(0, set.lines + y, line, *tone);
    }
    canvas.rule(0, set.top - 1);
    if given.options.is_empty() {
        let rows = canvas.height().saturating_sub(set.top);
        for (row, (tone, line)) in (form.kind.preview)(app, form).iter().take(rows).enumerate() {
            canvas.cell(2, set.top + row, width.saturating_sub(2), &text::clean(line), *tone);
        }
    } else {
        draw_choices(&mut canvas.right(2), &set, given);
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

/// What could be meant.
fn draw_choices(canvas: &mut Canvas<'_>, set: &Set, given: &Answer) {
    let shown = given.options.iter().enumerate().skip(set.first).take(set.rows);
    let names = shown.clone().map(|(_, c)| text::width(&c.text)).max().unwrap_or(0).min(canvas.width() / 2);
    for (row, (index, choice)) in shown.enumerate() {
        let y = set.top + row;
        let aside = text::width(&choice.aside);
        let tone = if choice.possible { Tone::Plain } else { Tone::Quiet };
        let x = canvas.cell(0, y, names, &text::clean(&choice.text), tone) + 2;
        let room = canvas.width().saturating_sub(x + aside + 2);
        canvas.cell(x, y, room, &choice.detail, Tone::Quiet);
        canvas.text(canvas.width().saturating_sub(aside), y, &choice.aside, Tone::Accent);
        if given.chosen == Some(index) {
            canvas.choose(y, true);
        }
    }
}

fn draw_question(canvas: &mut Canvas<'_>, app: &App, question: &Question) -> Option<(u16, u16)> {
    let (width, remarks, y) = set_question(app, question);
    let (outer, inside) = place(app, width, y + 1);
    frame_in(canvas, &question.title, outer, None);
    let mut canvas = canvas.part(inside);
    for (y, (tone, line)) in remarks.iter().enumerate() {
        canvas.text(0, y, line, *tone);
    }
    let y = y.min(canvas.height().saturating_sub(1));
    let mut cursor = None;
    for (i, (x, word)) in replies(question).enumerate() {
        let marked = i == question.chosen;
        if marked {
            cursor = canvas.on_screen(x, y);
        }
        canvas.text(x, y, &word, if marked { Tone::Cursor } else { Tone::Plain });
    }
    cursor
}

/// Columns of a question, its remarks, and the row of its answers.
fn set_question(app: &App, question: &Question) -> (usize, Vec<Remark>, usize) {
    let Rect { width, height, .. } = screen::room(app);
    let width = usize::from(width.saturating_sub(6).min(66));
    let most_lines = usize::from(height).saturating_sub(5 + 2);
    let remarks = fitting(wrapped(&question.remarks, width), most_lines);
    let y = remarks.len() + usize::from(!remarks.is_empty());
    (width, remarks, y)
}

/// The answers of a question, each with its column.
fn replies(question: &Question) -> impl Iterator<Item = (usize, String)> {
    question.replies.iter().scan(0, |next, reply| {
        let (x, word) = (*next, format!(" {} ", reply.word));
        *next += text::width(&word) + 1;
        Some((x, word))
    })
}

/// What of a dialog is at a cell of the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spot {
    /// A line that is typed.
    Line(usize),
    /// One thing that could be meant.
    Choice(usize),
    /// An answer to a question.
    Reply(usize),
}

/// What of a dialog is at a cell of the screen.
#[must_use]
pub fn spot(app: &App, dialog: &Dialog, column: u16, row: u16) -> Option<Spot> {
    match dialog {
        Dialog::Prompt(prompt) => set_prompt(app, prompt).spot(&prompt.given, column, row),
        Dialog::Form(form) => set_form(app, form)?.spot(form.lines.get(form.at)?, column, row),
        Dialog::Question(question) => {
            let (width, _, y) = set_question(app, question);
            let inside = place(app, width, y + 1).1;
            let (x, row) = within(inside, column, row)?;
            let on_answers = row == y.min(usize::from(inside.height.saturating_sub(1)));
            let reply = replies(question).position(|(at, word)| (at..at + text::width(&word)).contains(&x));
            reply.filter(|_| on_answers).map(Spot::Reply)
        }
        Dialog::Page(_) => None,
    }
}

fn draw_page(canvas: &mut Canvas<'_>, app: &App, page: &Page) -> Option<(u16, u16)> {
    let room = screen::room(app);
    let width = screen::page_width(room);
    // A page that is searched keeps its size while it is.
    let rows = page.height(room).min(page.lines.len());
    let search = usize::from(page.search.is_some());
    let height = if search > 0 { page.height(room) } else { rows };
    let shown = shown(page.top, rows, page.lines.len());
    let (outer, inside) = place(app, width, search + height);
    frame_in(canvas, &page.title, outer, shown.as_deref());
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
