//! Describing: fields of the layout named, changed, moved, split and taken out while their bytes are looked at.
//! Nothing here changes a byte, so nothing here asks for an unlocked image.

use super::{Command, Where, always, has_layout};
use crate::author::{self, NewField, NewTable, Refused};
use crate::layout::{Field, Role, Shape};
use crate::report::text;
use crate::span::Span;
use crate::tui::app::{App, Pane};
use crate::tui::dialog::{Ask, Choice, Dialog, Form, FormKind, Prompt, Remark};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "describe",
        keys: &["i"],
        place: Where::PANES,
        obstacle: alone,
        hint: "describe",
        doc: "Name the selected bytes as a field, or change what the layout says of the field here",
        takes: "",
        act: |app, _| describe(app),
    },
    Command {
        name: "make-table",
        keys: &["g"],
        place: Where::BYTES,
        obstacle: alone,
        hint: "",
        doc: "Make a table of which the selected bytes, and the fields in them, are the first row",
        takes: "",
        act: |app, _| make_table(app),
    },
    Command {
        name: "split-field",
        keys: &["x"],
        place: Where::BYTES,
        obstacle: with_layout,
        hint: "",
        doc: "Split the field under the cursor into two; the second begins at the cursor",
        takes: "",
        act: |app, _| split(app),
    },
    Command {
        name: "remove-field",
        keys: &["r"],
        place: Where::FIELDS,
        obstacle: with_layout,
        hint: "",
        doc: "Take the chosen field out of the layout; its bytes stay as they are",
        takes: "",
        act: |app, _| remove(app),
    },
    Command {
        obstacle: with_layout,
        ..shaping("field-longer", &["Shift-Right"], "Stretch the chosen field by one byte", |app, _| {
            stretch(app, 1)
        })
    },
    Command {
        obstacle: with_layout,
        ..shaping("field-shorter", &["Shift-Left"], "Shorten the chosen field by one byte", |app, _| {
            stretch(app, -1)
        })
    },
    Command {
        obstacle: with_layout,
        ..shaping(
            "field-later",
            &["Shift-Down"],
            "Move the chosen field one byte towards the end",
            |app, _| shift(app, 1),
        )
    },
    Command {
        obstacle: with_layout,
        ..shaping(
            "field-earlier",
            &["Shift-Up"],
            "Move the chosen field one byte towards the start",
            |app, _| shift(app, -1),
        )
    },
    Command {
        name: "next-undescribed",
        keys: &["u"],
        place: Where::PANES,
        obstacle: all_described,
        hint: "undescribed",
        doc: "Select the next run of bytes that the layout says nothing about",
        takes: "",
        act: |app, _| undescribed(app, true),
    },
    Command {
        name: "previous-undescribed",
        keys: &["U"],
        place: Where::PANES,
        obstacle: all_described,
        hint: "",
        doc: "Select the run of bytes before that the layout says nothing about",
        takes: "",
        act: |app, _| undescribed(app, false),
    },
    Command {
        name: "only-role",
        keys: &[],
        place: Where::PANES,
        obstacle: has_layout,
        hint: "",
        doc: "Show only the fields of one role, or all again",
        takes: "ROLE",
        act: |app, typed| {
            app.dialog = Some(Prompt::open(app, &ONLY_ROLE, "", typed));
            Effect::None
        },
    },
    super::surveying::SURVEY,
    super::surveying::DRAFT,
    super::layouts::SAVE_LAYOUT,
];

const fn shaping(
    name: &'static str,
    keys: &'static [&'static str],
    doc: &'static str,
    act: fn(&mut App, &str) -> Effect,
) -> Command {
    Command { name, keys, place: Where::FIELDS, obstacle: always, hint: "", doc, takes: "", act }
}

/// Possible while one image is shown: in the Twin view the Fields pane is about two.
pub(super) fn alone(app: &App) -> Option<&'static str> {
    if app.twin.is_some() {
        return Some("Leave the Twin view first ({twin}); it shows the fields of two images");
    }
    app.it().image.is_empty().then_some("The image holds no byte")
}

fn with_layout(app: &App) -> Option<&'static str> {
    alone(app).or_else(|| has_layout(app))
}

fn all_described(app: &App) -> Option<&'static str> {
    has_layout(app).or_else(|| app.it().undescribed.is_empty().then_some("The layout describes every byte"))
}

/// Changes the text of the layout as one step, and says what was done; returns whether it was.
pub(super) fn write(app: &mut App, label: String, new: Result<String, Refused>) -> bool {
    let done = new.and_then(|new| app.it_mut().write_layout(label.clone(), &new).map_err(Refused::Problems));
    match done {
        Ok(()) => {
            app.say(Tone::Good, text::sentence(&label));
            true
        }
        Err(refused) => {
            app.say(Tone::Bad, format!("{}; the layout is as it was", refused.why()));
            false
        }
    }
}

/// Puts the Fields pane on the field at `path`, if it is shown.
fn choose(app: &mut App, path: &str) {
    let it = app.it_mut();
    let is_it = |&i: &usize| it.decoded.fields.get(i).is_some_and(|f| f.path == path);
    if let Some(row) = it.field_rows.iter().position(is_it) {
        it.fields.at = row;
    }
}

fn field<'a>(app: &'a App, path: &str) -> Option<&'a Field> {
    app.it().decoded.fields.iter().find(|f| f.path == path)
}

/// The field that is described when nothing new is: the chosen one in Fields, the one under the cursor or the one
/// that is selected in Bytes.
fn field_here(app: &App) -> Option<&Field> {
    let it = app.it();
    match app.focus {
        Pane::Fields => it.chosen_field(),
        _ => it
            .decoded
            .leaf_at(it.cursor.at)
            .filter(|f| it.cursor.anchor.is_none() || f.spans.first() == Some(&it.selection())),
    }
}

const NAME: usize = 0;
const KIND: usize = 1;
const ROLE: usize = 2;
const NOTE: usize = 3;

/// What the line of the kind holds when the layout writes the kind in several lines: it stays as it is.
const AS_WRITTEN: &str = "as written";

fn describe(app: &mut App) -> Effect {
    let selected = app.it().selection();
    if app.focus == Pane::Bytes
        && let Some(effect) = super::surveying::add_check(app, selected)
    {
        return effect;
    }
    if let Some(here) = field_here(app) {
        let path = base(&here.path).to_owned();
        let texts = stated(app, &path);
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        app.dialog = Some(Form::open(app, &DESCRIBE, path, &texts));
        return Effect::None;
    }
    let span = app.it().selection();
    let drafted = super::surveying::drafted(app, span);
    let likely = kinds(app, span).into_iter().next();
    let name = drafted.as_ref().map_or_else(|| format!("field_{:04x}", span.start), |d| d.name.clone());
    let kind = likely.map(|c| c.text).unwrap_or_default();
    let role = match &drafted {
        Some(drafted) => drafted.role,
        None if kind.starts_with("Text") || kind.starts_with("Bcd") || kind.starts_with("Date") => {
            Role::Identity
        }
        None => Role::Setting,
    };
    let note = super::surveying::evidence(app, span).unwrap_or_default();
    app.dialog = Some(Form::open(app, &DESCRIBE, "", &[&name, &kind, role.word(), &note]));
    Effect::None
}

/// The path of the table for one of its rows: every row has the same text.
fn base(path: &str) -> &str {
    match path.rfind('[') {
        Some(at) if path.ends_with(']') => &path[..at],
        _ => path,
    }
}

/// What the layout says of a field: its name, kind, role and note.
fn stated(app: &App, path: &str) -> [String; 4] {
    let layout = app.it().layout_text();
    let kind = author::stated(&layout, path, "kind").unwrap_or_default();
    let here = field(app, path);
    [
        here.map(|f| f.name.to_string()).unwrap_or_default(),
        if kind.contains('\n') { AS_WRITTEN.to_owned() } else { kind },
        here.map_or("", |f| f.role.word()).to_owned(),
        author::stated(&layout, path, "note").unwrap_or_default(),
    ]
}

/// Kinds for the bytes of `span`, the likely ones first, with what each would say.
fn kinds(app: &App, span: Span) -> Vec<Choice> {
    let bytes = span.of_bytes(app.it().image.bytes()).unwrap_or_default();
    let drafted = super::surveying::drafted(app, span).map(|d| Choice {
        text: super::surveying::in_one_line(&d.kind),
        detail: author::reading(&d.kind, bytes, order(app)).map(|r| r.shows).unwrap_or_default(),
        aside: "survey".into(),
        possible: true,
    });
    let likely = author::likely(bytes, order(app)).into_iter().map(|l| Choice {
        text: l.kind,
        detail: text::clean(&l.shows).into_owned(),
        aside: if l.sensible { String::new() } else { "odd".into() },
        possible: l.sensible,
    });
    let mut kinds: Vec<Choice> = drafted.into_iter().collect();
    for kind in likely {
        if kinds.iter().all(|k| k.text != kind.text) {
            kinds.push(kind);
        }
    }
    kinds
}

fn order(app: &App) -> crate::span::ByteOrder {
    author::order(&app.it().layout_text())
}

/// The bytes that a form is about.
fn bytes_of(app: &App, form: &Form) -> Span {
    match field(app, &form.about) {
        Some(field) => field.spans.first().copied().unwrap_or_default(),
        None => app.it().selection(),
    }
}

fn roles(typed: &str) -> Vec<Role> {
    let typed = typed.trim().to_lowercase();
    Role::ALL.into_iter().filter(|r| r.word().to_lowercase().starts_with(&typed)).collect()
}

/// The role that was typed, by as much of it as only it has.
fn role(typed: &str) -> Option<Role> {
    match roles(typed)[..] {
        [role] => Some(role),
        _ => None,
    }
}

/// What each role means, for choosing one.
const fn meaning(role: Role) -> &'static str {
    match role {
        Role::Identity => "says which unit this is",
        Role::Calibration => "measured for this very unit",
        Role::Setting => "may be chosen",
        Role::Record => "what the unit wrote down",
        Role::Check => "a stored check value",
        Role::Reserved => "the maker's own; never changed",
        Role::Filler => "holds nothing",
    }
}

fn role_choices(typed: &str) -> Vec<Choice> {
    let choice = |role: Role| Choice {
        text: role.word().into(),
        detail: meaning(role).into(),
        aside: String::new(),
        possible: true,
    };
    roles(typed).into_iter().map(choice).collect()
}

/// A field's name, kind, role and note.
static DESCRIBE: FormKind = FormKind {
    title: "Describe",
    labels: &["name", "kind", "role", "note"],
    remarks: |app, form| {
        let span = bytes_of(app, form);
        let base = app.it().image.base();
        let mut remarks = vec![(Tone::Quiet, text::place(span, base))];
        if form.about.is_empty() {
            remarks.extend(overlap(app, span));
        }
        if form.answer(NAME).is_empty() {
            remarks.push((Tone::Bad, "Type a name: small letters, digits and underscores".into()));
        }
        if form.answer(KIND) != AS_WRITTEN {
            remarks.push(read_by(app, form.answer(KIND), span));
        }
        if role(form.answer(ROLE)).is_none() {
            let words: Vec<&str> = Role::ALL.iter().map(|r| r.word()).collect();
            remarks.push((Tone::Bad, format!("The role is one of {}", words.join(", "))));
        }
        remarks
    },
    options: |app, form, at| {
        let Some(line) = form.lines.get(at) else { return Vec::new() };
        let typed = if line.line.is_offer() { "" } else { line.line.text().trim() };
        match at {
            KIND => {
                let wanted = typed.to_lowercase();
                let kinds = kinds(app, bytes_of(app, form));
                kinds.into_iter().filter(|k| k.text.to_lowercase().contains(&wanted)).collect()
            }
            ROLE => role_choices(typed),
            _ => Vec::new(),
        }
    },
    submit: |app, form| {
        let done = if form.about.is_empty() { name_new(app, &form) } else { change(app, &form) };
        if !done {
            app.dialog = Some(Dialog::Form(form));
        }
        Effect::None
    },
};

/// What the bytes of `span` say by a kind as typed.
fn read_by(app: &App, kind: &str, span: Span) -> Remark {
    let bytes = span.of_bytes(app.it().image.bytes()).unwrap_or_default();
    match author::reading(kind, bytes, order(app)) {
        Err(problem) => (Tone::Bad, problem),
        Ok(reading) => {
            let shows = text::clean(&reading.shows).into_owned();
            match (reading.oddity, reading.bytes) {
                (_, Some(n)) if n != span.len() => {
                    let (takes, has) = (text::count(n, "byte"), text::count(span.len(), "byte"));
                    (Tone::Doubt, format!("This kind takes {takes}; {has} are selected: {shows}"))
                }
                (Some(why), _) => (Tone::Doubt, format!("reads {shows}: {}", text::clean(&why))),
                (None, _) if shows.is_empty() => (Tone::Quiet, "a kind that holds other fields".into()),
                (None, _) => (Tone::Good, format!("reads {shows}")),
            }
        }
    }
}

/// Which field lies over bytes that are to become another one.
fn overlap(app: &App, span: Span) -> Option<Remark> {
    let leaves = app.it().leaves(span);
    let index = leaves.into_iter().flatten().next()?;
    let path = &app.it().decoded.fields.get(index)?.path;
    let path = text::clean(path);
    Some((Tone::Doubt, format!("{path} lies over these bytes too; split it (x) or shorten it first")))
}

/// The group or row of a table that `span` lies in, and where that begins.
fn holder(app: &App, span: Span) -> Option<(String, usize)> {
    let it = app.it();
    let layout = it.layout_text();
    let holds = |f: &&Field| {
        matches!(f.shape, Shape::Group | Shape::Row)
            && f.spans.first().is_some_and(|s| s.covers(span))
            && author::can_hold(&layout, base(&f.path))
    };
    let holder = it.decoded.fields.iter().rev().find(holds)?;
    Some((base(&holder.path).to_owned(), holder.spans.first()?.start))
}

fn name_new(app: &mut App, form: &Form) -> bool {
    let span = app.it().selection();
    let Some(role) = role(form.answer(ROLE)) else { return false };
    let (inside, start) = holder(app, span).map_or((None, 0), |(path, start)| (Some(path), start));
    let name = form.answer(NAME).to_owned();
    // In one line for typing; what a survey drafted is written as it drafted it.
    let kind = super::surveying::drafted(app, span)
        .map(|d| d.kind)
        .filter(|kind| super::surveying::in_one_line(kind) == form.answer(KIND))
        .unwrap_or_else(|| form.answer(KIND).to_owned());
    let note = Some(form.answer(NOTE).to_owned()).filter(|n| !n.is_empty());
    let field = NewField { name: name.clone(), inside, at: span.start - start, kind, role, note };
    let new = author::add(&app.it().layout_text(), &field);
    if !write(app, format!("named {name} at {}", text::address(app.it().image.address(span.start))), new) {
        return false;
    }
    app.beside = Pane::Fields;
    app.it_mut().go(span.start);
    true
}

/// Changes what the layout says of a field where another answer was given, as one step.
fn change(app: &mut App, form: &Form) -> bool {
    let (path, before) = (form.about.clone(), stated(app, &form.about));
    let Some(role) = role(form.answer(ROLE)) else { return false };
    let quoted = |text: &str| format!("{text:?}");
    let answers = [
        ("kind", KIND, form.answer(KIND).to_owned()),
        ("role", ROLE, role.word().to_owned()),
        ("note", NOTE, quoted(form.answer(NOTE))),
        // Last: the path is another one afterwards.
        ("name", NAME, quoted(form.answer(NAME))),
    ];
    let mut changed = Vec::new();
    let mut new = Ok(app.it().layout_text());
    for (entry, index, written) in answers {
        let answer = if index == ROLE { role.word() } else { form.answer(index) };
        if before.get(index).is_some_and(|b| b.trim() == answer) {
            continue;
        }
        changed.push(entry);
        let value = (index != NOTE || !answer.is_empty()).then_some(written);
        new = new.and_then(|text| author::change(&text, &path, entry, value.as_deref()));
    }
    if changed.is_empty() {
        app.say(Tone::Plain, "The layout says this already");
        return true;
    }
    if !write(app, format!("changed the {} of {path}", changed.join(" and ")), new) {
        return false;
    }
    let renamed = match path.rsplit_once('.') {
        Some((parent, _)) => format!("{parent}.{}", form.answer(NAME)),
        None => form.answer(NAME).to_owned(),
    };
    choose(app, &renamed);
    true
}

fn split(app: &mut App) -> Effect {
    let it = app.it();
    let at = it.cursor.at;
    let found = it.decoded.leaf_at(at).and_then(|f| Some((f.path.clone(), f.spans.first().copied()?)));
    let Some((path, span)) = found else {
        app.say(Tone::Doubt, "No field is under the cursor");
        return Effect::None;
    };
    if at <= span.start || at >= span.end {
        app.say(Tone::Doubt, "Put the cursor on the byte of the field with which the second one begins");
        return Effect::None;
    }
    let new = author::split(&it.layout_text(), &path, at - span.start, span.len());
    let at_words = text::address(it.image.address(at));
    write(app, format!("split {path} at {at_words}"), new);
    Effect::None
}

/// The chosen field as the text of the layout knows it.
fn chosen(app: &mut App) -> Option<(String, Span)> {
    let it = app.it();
    let found = it.chosen_field().and_then(|f| Some((base(&f.path).to_owned(), f.spans.first().copied()?)));
    if found.is_none() {
        app.say(Tone::Doubt, "No field with bytes of its own is chosen");
    }
    found
}

fn remove(app: &mut App) -> Effect {
    let Some((path, _)) = chosen(app) else { return Effect::None };
    let new = author::remove(&app.it().layout_text(), &path);
    write(app, format!("took {path} out of the layout"), new);
    Effect::None
}

fn stretch(app: &mut App, by: isize) -> Effect {
    let Some((path, span)) = chosen(app) else { return Effect::None };
    let bytes = span.len().saturating_add_signed(by);
    let new = author::stretch(&app.it().layout_text(), &path, bytes);
    if write(app, format!("made {path} {} long", text::count(bytes, "byte")), new) {
        choose(app, &path);
    }
    Effect::None
}

fn shift(app: &mut App, by: isize) -> Effect {
    let Some((path, span)) = chosen(app) else { return Effect::None };
    let parent = field(app, &path).and_then(|f| app.it().decoded.fields.get(f.parent?));
    let start = parent.and_then(|p| p.spans.first()).map_or(0, |s| s.start);
    let new = author::move_by(&app.it().layout_text(), &path, by, span.start.saturating_sub(start));
    let to = app.it().image.address(span.start.saturating_add_signed(by));
    if write(app, format!("moved {path} to {}", text::address(to)), new) {
        choose(app, &path);
        if let Some(at) = field(app, &path).and_then(|f| f.spans.first()).map(|s| s.start) {
            app.it_mut().go(at);
            choose(app, &path);
        }
    }
    Effect::None
}

fn undescribed(app: &mut App, forward: bool) -> Effect {
    let it = app.it_mut();
    if let Some(run) = it.next_undescribed(forward) {
        it.select(run);
        let (bytes, base) = (it.undescribed.iter().map(|r| r.len()).sum(), it.image.base());
        let (place, runs) = (text::place(run, base), text::count(it.undescribed.len(), "run"));
        app.give_keys(Pane::Bytes);
        app.say(
            Tone::Plain,
            format!("Undescribed: {place}. In all {} in {runs}", text::count(bytes, "byte")),
        );
    }
    Effect::None
}

/// The role whose fields are shown.
static ONLY_ROLE: Ask = Ask {
    title: "Show only fields of the role",
    remarks: |_, _| vec![(Tone::Quiet, "an empty line shows all fields again".into())],
    options: |_, typed| role_choices(typed),
    submit: |app, prompt| {
        let typed = prompt.answer().trim().to_owned();
        match role(&typed) {
            Some(role) => {
                app.it_mut().show_only(Some(role));
                app.give_keys(Pane::Fields);
                let many = text::count(app.it().field_rows.len(), "field");
                app.say(Tone::Plain, format!("{many} of the role {}", role.word()));
            }
            None if typed.is_empty() => {
                app.it_mut().show_only(None);
                app.say(Tone::Plain, "All fields are shown");
            }
            None => app.dialog = Some(Dialog::Prompt(prompt)),
        }
        Effect::None
    },
};

const ROWS_LINE: usize = 1;
const STRIDE_LINE: usize = 2;
const TABLE_ROLE: usize = 3;

fn make_table(app: &mut App) -> Effect {
    let row = app.it().selection();
    // As many rows as fit before something else is described.
    let others = app.it().decoded.fields.iter().flat_map(|f| &f.spans).map(|s| s.start);
    let end = others.filter(|s| *s >= row.end).min().unwrap_or(app.it().image.len());
    let rows = (end - row.start) / row.len().max(1);
    let texts = [format!("table_{:04x}", row.start), rows.to_string(), row.len().to_string()];
    let [name, rows, stride] = &texts;
    app.dialog = Some(Form::open(app, &TABLE, "", &[name, rows, stride, Role::Record.word()]));
    Effect::None
}

/// The table that a form asks for.
fn asked_table(app: &App, form: &Form) -> Result<NewTable, String> {
    let number = |index: usize, what: &str| {
        let typed = form.answer(index);
        typed
            .parse::<usize>()
            .ok()
            .filter(|n| *n > 0)
            .ok_or_else(|| format!("{typed:?} is no number of {what}"))
    };
    let first = app.it().selection();
    let (rows, stride) = (number(ROWS_LINE, "rows")?, number(STRIDE_LINE, "bytes")?);
    let room = app.it().image.len() - first.start;
    match rows.checked_mul(stride) {
        Some(bytes) if bytes <= room => {}
        _ => return Err(format!("{rows} rows of {stride} bytes do not fit; {room} bytes follow")),
    }
    let role = role(form.answer(TABLE_ROLE)).ok_or("Choose a role")?;
    Ok(NewTable { name: form.answer(NAME).to_owned(), first, stride, rows, role })
}

/// A table made of its first row.
static TABLE: FormKind = FormKind {
    title: "Table of which the selected bytes are the first row",
    labels: &["name", "rows", "bytes from row to row", "role"],
    remarks: |app, form| {
        vec![match asked_table(app, form) {
            Err(why) => (Tone::Bad, why),
            Ok(table) => {
                let span = Span::of(table.first.start, table.rows * table.stride);
                let inside = in_row(app, table.first).len();
                let of = if inside == 0 { "plain bytes".into() } else { text::count(inside, "field") };
                (Tone::Good, format!("{}; each row of {of}", text::place(span, app.it().image.base())))
            }
        }]
    },
    options: |_, form, at| match form.lines.get(at) {
        Some(line) if at == TABLE_ROLE => {
            role_choices(if line.line.is_offer() { "" } else { line.line.text() })
        }
        _ => Vec::new(),
    },
    submit: |app, form| {
        let done = match asked_table(app, &form) {
            Err(why) => {
                app.say(Tone::Bad, why);
                false
            }
            Ok(table) => {
                let inside = in_row(app, table.first);
                let inside: Vec<&str> = inside.iter().map(String::as_str).collect();
                let new = author::table(&app.it().layout_text(), &table, &inside);
                let label = format!("made the table {} of {}", table.name, text::count(table.rows, "row"));
                write(app, label, new)
            }
        };
        if !done {
            app.dialog = Some(Dialog::Form(form));
        }
        Effect::None
    },
};

/// The fields at the top of the layout that lie in `row`.
fn in_row(app: &App, row: Span) -> Vec<String> {
    let fields = app.it().decoded.fields.iter().filter(|f| f.depth == 0 && !f.cover().is_empty());
    fields.filter(|f| row.covers(f.cover())).map(|f| f.path.clone()).collect()
}
