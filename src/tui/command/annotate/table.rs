//! A table made of its first row.

use super::role::{self, role, role_choices};
use super::{order, write};
use crate::author::{self, NewColumn, NewTable};
use crate::layout::{self, Field, Role, Shape};
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::dialog::{Form, FormKind, Remark};
use crate::tui::effect::Effect;
use crate::tui::sheet::QUICK_BYTES;
use crate::tui::theme::Tone;

const NAME: usize = 0;
const ROWS: usize = 1;
const STRIDE: usize = 2;
const COLUMNS: usize = 3;
const ROLE: usize = 4;

/// What the line of columns holds when the layout has fields in the first row already.
const AS_DESCRIBED: &str = "as described";

/// Asks for the table of which the selected bytes are the first row.
pub(super) fn ask(app: &mut App) -> Effect {
    let row = app.it().selection();
    let bytes = app.it().image().bytes();
    // Up to where something else is described.
    let others = app.it().decoded().fields.iter().filter(|f| f.role != Role::Filler);
    let others = others.flat_map(|f| &f.spans).map(|s| s.start);
    let end = others.filter(|s| *s >= row.end).min().unwrap_or(bytes.len());
    let rows = author::count_rows(bytes, row, end);
    let columns = match in_row(app, row).is_empty() {
        true => author::guess_columns(
            bytes.get(row.start..row.start + rows * row.len()).unwrap_or_default(),
            row.len(),
        ),
        false => AS_DESCRIBED.to_owned(),
    };
    let texts = [format!("table_{:04x}", row.start), rows.to_string(), row.len().to_string(), columns];
    let [name, rows, stride, columns] = &texts;
    app.dialog = Some(Form::open(app, &TABLE, "", &[name, rows, stride, columns, Role::Record.word()]));
    Effect::None
}

/// The table that a form asks for; or the line that is wrong, and why.
fn asked(app: &App, form: &Form) -> Result<NewTable, (usize, String)> {
    let number = |line: usize, what: &str| {
        let typed = form.answer(line);
        let number = typed.parse::<usize>().ok().filter(|n| *n > 0);
        number.ok_or_else(|| (line, format!("{typed:?} is no number of {what}")))
    };
    if let Some(problem) = author::name_problem(form.answer(NAME)) {
        return Err((NAME, problem));
    }
    let first = app.it().selection();
    let (rows, stride) = (number(ROWS, "rows")?, number(STRIDE, "bytes")?);
    let room = app.it().image().len() - first.start;
    if rows.checked_mul(stride).is_none_or(|bytes| bytes > room) {
        return Err((ROWS, format!("{rows} rows of {stride} bytes do not fit into {room}")));
    }
    // A row that was selected too long or too short is as long as the rows are apart.
    let first = Span::of(first.start, stride);
    let columns = columns(app, form, first).map_err(|why| (COLUMNS, why))?;
    let role = role(form.answer(ROLE)).ok_or((ROLE, "choose a role".to_owned()))?;
    Ok(NewTable { name: form.answer(NAME).to_owned(), first, stride, rows, role, columns })
}

fn columns(app: &App, form: &Form, row: Span) -> Result<Vec<NewColumn>, String> {
    if !in_row(app, row).is_empty() {
        let is_kept = matches!(form.answer(COLUMNS), AS_DESCRIBED | "");
        let why = "the fields in the row are its columns; leave this as it is";
        return if is_kept { Ok(Vec::new()) } else { Err(why.to_owned()) };
    }
    let bytes = row.of_bytes(app.it().image().bytes()).unwrap_or_default();
    let typed = form.answer(COLUMNS);
    author::columns(if typed == AS_DESCRIBED { "" } else { typed }, bytes, order(app))
}

/// A table made of its first row.
static TABLE: FormKind = FormKind {
    title: |app, _| {
        let row = app.it().selection();
        format!("Table of which {} is the first row", text::place(row, app.it().image().base()))
    },
    labels: &["name", "rows", "bytes apart", "columns", "role"],
    beside: |app, form, line| match (asked(app, form), line) {
        (Err((wrong, why)), line) if wrong == line => Some((Tone::Bad, why)),
        (_, ROLE) => Some(role::beside(form.answer(ROLE))),
        (Ok(table), ROWS) => Some((Tone::Quiet, text::place(whole(&table), app.it().image().base()))),
        (Ok(table), COLUMNS) if in_row(app, table.first).is_empty() => {
            Some((Tone::Quiet, "bytes of each: hours:2 cause:1".into()))
        }
        (Ok(table), COLUMNS) => Some((Tone::Quiet, text::count(in_row(app, table.first).len(), "field"))),
        _ => None,
    },
    remarks: |app, form| {
        let Ok(table) = asked(app, form) else { return Vec::new() };
        let inside = in_row(app, table.first);
        let gone = fillers(app, &table);
        let mut others: Vec<String> = app
            .it()
            .described
            .leaves(whole(&table))
            .into_iter()
            .flatten()
            .filter_map(|index| app.it().decoded().fields.get(index))
            .map(|f| f.path.clone())
            .filter(|path| !inside.contains(path) && !gone.contains(path))
            .collect();
        others.dedup();
        let over = others
            .first()
            .map(|path| (Tone::Doubt, format!("{} lies over these bytes too", text::clean(path))));
        let rows = if gone.len() == 1 { "becomes a part" } else { "become parts" };
        let gone = (!gone.is_empty()).then(|| {
            (
                Tone::Quiet,
                format!("{} of the role Filler {rows} of its rows", text::count(gone.len(), "field")),
            )
        });
        over.into_iter().chain(gone).collect()
    },
    options: |_, form, at| match form.lines.get(at) {
        Some(line) if at == ROLE => role_choices(if line.line.is_offer() { "" } else { line.line.text() }),
        _ => Vec::new(),
    },
    preview: |app, form| asked(app, form).map(|table| rows(app, &table)).unwrap_or_default(),
    submit: |app, form| {
        let table = match asked(app, form) {
            Ok(table) => table,
            Err((_, why)) => {
                app.say(Tone::Bad, why);
                return false;
            }
        };
        let label = format!("made the table {} of {}", table.name, text::count(table.rows, "row"));
        let new = made(app, &table);
        write(app, &label, new)
    },
};

/// The text of the layout with the table; what is described as holding nothing inside it gives way.
fn made(app: &App, table: &NewTable) -> Result<String, author::Refused> {
    let inside = in_row(app, table.first);
    let inside: Vec<&str> = inside.iter().map(String::as_str).collect();
    let mut text = app.it().layout_text();
    for path in fillers(app, table) {
        text = author::remove(&text, &path)?;
    }
    author::table(&text, table, &inside)
}

/// The bytes of all rows.
fn whole(table: &NewTable) -> Span {
    Span::of(table.first.start, table.rows * table.stride)
}

/// What the rows of the table would say: a heading, then a line for each.
fn rows(app: &App, table: &NewTable) -> Vec<Remark> {
    let image = app.it().image();
    let layout = match made(app, table) {
        Err(refused) => return vec![(Tone::Bad, text::sentence(&refused.why()))],
        Ok(new) if image.len() <= QUICK_BYTES => layout::read(&new).ok(),
        Ok(_) => None,
    };
    let Some(layout) = layout else { return Vec::new() };
    let decoded = layout::decode(&layout, image);
    let row_of = |index: usize| format!("{}[{index}]", table.name);
    let cells = |index: usize| -> Vec<(String, String)> {
        let within = format!("{}.", row_of(index));
        let leaves = decoded.fields.iter().filter(|f| f.shape == Shape::Leaf);
        let cells = leaves.filter_map(|f| {
            let name = f.path.strip_prefix(&within)?;
            Some((text::clean(name).into_owned(), text::clean(&f.shown()).into_owned()))
        });
        cells.collect()
    };
    // As many as a screen could show.
    let shown: Vec<Vec<(String, String)>> = (0..table.rows.min(64)).map(cells).collect();
    let columns = shown.first().map_or(0, Vec::len);
    let width = |column: usize| {
        let cells = shown.iter().filter_map(|row| row.get(column));
        cells.map(|(name, value)| text::width(name).max(text::width(value))).max().unwrap_or(0).min(24)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let line = |lead: &str, cells: &mut dyn Iterator<Item = &str>| {
        let padded = cells.zip(&widths).map(|(cell, w)| {
            let cell = text::cut(cell, *w);
            format!("  {cell}{}", " ".repeat(w - text::width(&cell)))
        });
        format!("{lead:10}{}", padded.collect::<String>())
    };
    let heading = shown.first().map(|row| line("", &mut row.iter().map(|(name, _)| name.as_str())));
    let mut lines: Vec<Remark> = heading.into_iter().map(|h| (Tone::Quiet, h)).collect();
    for (index, row) in shown.iter().enumerate() {
        let at = text::address(image.address(table.first.start + index * table.stride));
        lines.push((Tone::Plain, line(&at, &mut row.iter().map(|(_, value)| value.as_str()))));
    }
    lines
}

/// The fields at the top of the layout that lie in `row`, but for those that hold nothing.
fn in_row(app: &App, row: Span) -> Vec<String> {
    at_top(app, row, |f| f.role != Role::Filler)
}

/// The fields at the top of the layout that lie in the table and hold nothing.
fn fillers(app: &App, table: &NewTable) -> Vec<String> {
    at_top(app, whole(table), |f| f.role == Role::Filler)
}

fn at_top(app: &App, within: Span, wanted: impl Fn(&Field) -> bool) -> Vec<String> {
    let fields = app.it().decoded().fields.iter().filter(|f| f.depth == 0 && !f.cover().is_empty());
    fields.filter(|f| within.covers(f.cover()) && wanted(f)).map(|f| f.path.clone()).collect()
}
