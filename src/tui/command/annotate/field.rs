//! One field: what it is called, how its bytes are read, what it is to the repair.

use super::role::{self, role};
use super::{base, field, order, overlap, write};
use crate::author::{self, NewField, Scaling};
use crate::layout::{Field, Role, Shape};
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::dialog::{Choice, Form, FormKind, Remark};
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::proposals::Makes;
use crate::tui::theme::Tone;
use crate::value::Reading;

const NAME: usize = 0;
const KIND: usize = 1;
const SHOWN: usize = 2;
const ROLE: usize = 3;
const NOTE: usize = 4;

/// What the line of the kind holds when the layout writes the kind in several lines: it stays as it is.
const AS_WRITTEN: &str = "as written";

/// Asks about what is chosen: a proposal before it is accepted, the field here, or the selected bytes.
pub(super) fn describe(app: &mut App) -> Effect {
    if app.panes.focus() == Pane::Proposed {
        let proposed = app.it().proposals.chosen().map(|(p, _)| (p.at, p.makes.clone()));
        return match proposed {
            Some((_, Makes::Check(hit))) => super::ask_check(app, &hit),
            Some((at, _)) => {
                app.it_mut().select(at);
                ask_new(app)
            }
            None => Effect::None,
        };
    }
    if app.panes.focus() == Pane::Readings
        && let Some(reading) = crate::tui::command::readings::chosen(app)
    {
        let at = app.it().cursor.at;
        app.it_mut().select(Span::of(at, reading.bytes));
        let kind = kind_of(app, &reading);
        return ask_of_kind(app, Some(kind));
    }
    if app.panes.focus() == Pane::Bytes && crate::tui::command::proposals::ask_stored(app) {
        return Effect::None;
    }
    match field_here(app).map(|f| base(&f.path).to_owned()) {
        Some(path) => {
            let texts = stated(app, &path);
            let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
            app.dialog = Some(Form::open(app, &DESCRIBE, path, &texts));
            Effect::None
        }
        None => ask_new(app),
    }
}

/// The field that is described when nothing new is: the chosen one in Fields, the one under the cursor or the one
/// that is selected in Bytes.
fn field_here(app: &App) -> Option<&Field> {
    let it = app.it();
    match app.panes.focus() {
        Pane::Fields => it.described.chosen_field(),
        _ => it
            .decoded()
            .leaf_at(it.cursor.at)
            .filter(|f| it.cursor.anchor.is_none() || f.spans.first() == Some(&it.selection())),
    }
}

/// Asks what the selected bytes are; what a survey proposes for exactly these is offered.
pub(in crate::tui::command) fn ask_new(app: &mut App) -> Effect {
    ask_of_kind(app, None)
}

/// The kind of a reading as the layout in force would write it.
fn kind_of(app: &App, reading: &Reading) -> String {
    let Some(other) = reading.order.filter(|o| *o != order(app)) else { return reading.ron.to_owned() };
    let word = other.word();
    match reading.ron.strip_suffix(')') {
        Some(open) => format!("{open}, order: {word})"),
        None => format!("{}(order: {word})", reading.ron),
    }
}

/// Asks what the selected bytes are, of a kind that somebody chose already.
fn ask_of_kind(app: &mut App, chosen: Option<String>) -> Effect {
    let span = app.it().selection();
    let bytes = span.of_bytes(app.it().image().bytes()).unwrap_or_default();
    let proposed = app.it().proposals.field_over(span).map(|(d, evidence)| (d.clone(), evidence.to_owned()));
    let likely = kinds(app, span).into_iter().next().map(|c| c.text).unwrap_or_default();
    let kind = chosen.unwrap_or(likely);
    let (name, role, note) = match proposed {
        // What fills a blank stretch says it all.
        Some((drafted, _)) if drafted.role == Role::Filler => (drafted.name, drafted.role, String::new()),
        Some((drafted, evidence)) => (drafted.name, drafted.role, evidence),
        None => {
            let (word, role) = match kind.as_str() {
                _ if blank(bytes).is_some() => ("spare", Role::Filler),
                k if ["Text", "Bcd", "Date"].iter().any(|w| k.starts_with(w)) => ("field", Role::Identity),
                _ => ("field", Role::Setting),
            };
            (format!("{word}_{:04x}", span.start), role, String::new())
        }
    };
    app.dialog = Some(Form::open(app, &DESCRIBE, "", &[&name, &kind, "", role.word(), &note]));
    Effect::None
}

/// The byte that fills `bytes`, when there are several of them and they hold nothing else.
fn blank(bytes: &[u8]) -> Option<u8> {
    let first = bytes.first().copied().filter(|b| matches!(b, 0x00 | 0xFF))?;
    (bytes.len() > 1 && bytes.iter().all(|b| *b == first)).then_some(first)
}

/// What the layout says of a field: its name, kind, scale and unit, role and note.
fn stated(app: &App, path: &str) -> [String; 5] {
    let layout = app.it().layout_text();
    let kind = author::stated(&layout, path, "kind").unwrap_or_default();
    let here = field(app, path);
    let shown = Scaling {
        scale: author::stated(&layout, path, "scale"),
        unit: author::stated(&layout, path, "unit"),
    };
    [
        here.map(|f| f.name.to_string()).unwrap_or_default(),
        if kind.contains('\n') { AS_WRITTEN.to_owned() } else { kind },
        shown.line(),
        here.map_or("", |f| f.role.word()).to_owned(),
        author::stated(&layout, path, "note").unwrap_or_default(),
    ]
}

/// Kinds for the bytes of `span`, the likely ones first, with what each would say.
fn kinds(app: &App, span: Span) -> Vec<Choice> {
    let bytes = span.of_bytes(app.it().image().bytes()).unwrap_or_default();
    let plain = Scaling::default();
    let proposed = app.it().proposals.field_over(span).map(|(drafted, _)| {
        let shows = author::reading(&drafted.kind, &plain, bytes, order(app)).map(|r| r.shows);
        Choice {
            aside: "proposed".into(),
            ..Choice::new(in_one_line(&drafted.kind), shows.unwrap_or_default())
        }
    });
    let likely = author::likely(bytes, order(app)).into_iter().map(|l| Choice {
        aside: if l.sensible { String::new() } else { "odd".into() },
        possible: l.sensible,
        ..Choice::new(l.kind, text::clean(&l.shows))
    });
    let mut kinds: Vec<Choice> = proposed.into_iter().collect();
    // More bytes than a number has are often several fields, of which this is the first.
    let beginnings = [1, 2, 4].into_iter().filter(|_| bytes.len() > 8).flat_map(|n| {
        let likely = author::likely(bytes.get(..n).unwrap_or_default(), order(app)).into_iter();
        likely.filter(|l| l.kind.starts_with("Int")).take(2).map(move |l| Choice {
            aside: format!("first {}", text::count(n, "byte")),
            ..Choice::new(l.kind, l.shows)
        })
    });
    for kind in likely.chain(beginnings) {
        if kinds.iter().all(|k| k.text != kind.text) {
            kinds.push(kind);
        }
    }
    kinds
}

/// A kind that is written in several lines, in one.
fn in_one_line(kind: &str) -> String {
    kind.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Ways to show a number that are seen often.
const OFTEN_SHOWN: [&str; 10] = ["0.1 °C", "0.1 K", "0.01 bar", "0.1", "0.01", "°C", "%", "h", "min", "s"];

/// What the number of the form would be shown as in each of them.
fn ways_to_show(app: &App, form: &Form) -> Vec<Choice> {
    let span = bytes_of(app, form);
    let bytes = span.of_bytes(app.it().image().bytes()).unwrap_or_default();
    let shown = |way: &&str| {
        let scaling = Scaling::typed(way).ok()?;
        let reading = author::reading(form.answer(KIND), &scaling, bytes, order(app)).ok()?;
        Some(Choice::new(*way, text::clean(&reading.shows)))
    };
    OFTEN_SHOWN.iter().filter_map(shown).collect()
}

/// The bytes that a form is about.
fn bytes_of(app: &App, form: &Form) -> Span {
    match field(app, &form.about) {
        Some(field) => field.spans.first().copied().unwrap_or_default(),
        None => app.it().selection(),
    }
}

/// A field's name, kind, role and note.
static DESCRIBE: FormKind = FormKind {
    title: |app, form| {
        let place = text::place(bytes_of(app, form), app.it().image().base());
        match form.about.as_str() {
            "" => format!("Describe {place}"),
            path => format!("Describe {}, {place}", text::clean(path)),
        }
    },
    labels: &["name", "kind", "shown in", "role", "note"],
    beside: |app, form, line| match line {
        NAME => name_beside(app, form),
        KIND if form.answer(KIND) != AS_WRITTEN => Some(read_by(app, form)),
        SHOWN => match Scaling::typed(form.answer(SHOWN)) {
            Err(why) => Some((Tone::Bad, why)),
            Ok(shown) if shown == Scaling::default() => {
                Some((Tone::Quiet, "a scale and a unit, as 0.1 °C; or nothing".into()))
            }
            Ok(_) => None,
        },
        ROLE => Some(role::beside(form.answer(ROLE))),
        _ => None,
    },
    remarks: |app, form| {
        let other = overlap(app, bytes_of(app, form)).filter(|_| form.about.is_empty());
        let said = |path| {
            format!("{path} lies over these bytes too; split it ({{split-field}}) or shorten it first")
        };
        other.map(|path| (Tone::Doubt, app.keys.fill(&said(path)))).into_iter().collect()
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
            SHOWN => ways_to_show(app, form).into_iter().filter(|w| w.text.contains(typed)).collect(),
            ROLE => role::role_choices(typed),
            _ => Vec::new(),
        }
    },
    // Seen from every line: the likely kinds are what one compares while one thinks about a name.
    preview: |app, form| {
        let kinds = kinds(app, bytes_of(app, form));
        let width = kinds.iter().map(|k| text::width(&k.text)).max().unwrap_or(0).min(40);
        kinds
            .iter()
            .map(|k| (Tone::Quiet, format!("{:width$}  {}", text::cut(&k.text, width), k.detail)))
            .collect()
    },
    submit: |app, form| if form.about.is_empty() { name_new(app, form) } else { change(app, form) },
};

/// What is wrong with the name.
fn name_beside(app: &App, form: &Form) -> Option<Remark> {
    let name = form.answer(NAME);
    if name.is_empty() {
        return Some((Tone::Bad, "type a name: letters, digits and _".into()));
    }
    if let Some(problem) = author::name_problem(name) {
        return Some((Tone::Bad, problem));
    }
    let path = match (form.about.rsplit_once('.'), holder(app, bytes_of(app, form))) {
        (Some((parent, _)), _) => format!("{parent}.{name}"),
        (None, Some((parent, _))) if form.about.is_empty() => format!("{parent}.{name}"),
        _ => name.to_owned(),
    };
    let taken = path != form.about && app.it().decoded().fields.iter().any(|f| base(&f.path) == path);
    taken.then(|| (Tone::Bad, "another field has this name".into()))
}

/// What the bytes say by the kind as typed.
fn read_by(app: &App, form: &Form) -> Remark {
    let span = bytes_of(app, form);
    let bytes = span.of_bytes(app.it().image().bytes()).unwrap_or_default();
    let shown = Scaling::typed(form.answer(SHOWN)).unwrap_or_default();
    match author::reading(form.answer(KIND), &shown, bytes, order(app)) {
        Err(problem) => (Tone::Bad, problem),
        Ok(reading) => {
            let shows = text::clean(&reading.shows).into_owned();
            match (reading.oddity, reading.bytes) {
                (_, Some(n)) if n != span.len() => {
                    let (takes, has) = (text::count(n, "byte"), text::count(span.len(), "byte"));
                    (Tone::Doubt, format!("takes {takes} of {has}: {shows}"))
                }
                (Some(why), _) => (Tone::Doubt, format!("{shows}: {}", text::clean(&why))),
                (None, _) if shows.is_empty() => (Tone::Quiet, "holds other fields".into()),
                (None, _) => (Tone::Good, shows),
            }
        }
    }
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
    let holder = it.decoded().fields.iter().rev().find(holds)?;
    Some((base(&holder.path).to_owned(), holder.spans.first()?.start))
}

fn name_new(app: &mut App, form: &Form) -> bool {
    let span = app.it().selection();
    let (Some(role), Ok(scaling)) = (role(form.answer(ROLE)), Scaling::typed(form.answer(SHOWN))) else {
        return false;
    };
    let (inside, start) = holder(app, span).map_or((None, 0), |(path, start)| (Some(path), start));
    let name = form.answer(NAME).to_owned();
    // In one line for typing; what a survey proposes is written as it proposes it.
    let proposed = app.it().proposals.field_over(span).map(|(d, _)| d.kind.clone());
    let kind = proposed
        .filter(|kind| in_one_line(kind) == form.answer(KIND))
        .unwrap_or_else(|| form.answer(KIND).to_owned());
    let rest = match role {
        Role::Record => Some(0xFF),
        Role::Filler => blank(span.of_bytes(app.it().image().bytes()).unwrap_or_default()),
        _ => None,
    };
    let note = Some(form.answer(NOTE).to_owned()).filter(|n| !n.is_empty());
    let field =
        NewField { name: name.clone(), inside, at: span.start - start, kind, scaling, role, rest, note };
    let new = author::add(&app.it().layout_text(), &field);
    let label = format!("named {name} at {}", text::address(app.it().image().address(span.start)));
    if !write(app, &label, new) {
        return false;
    }
    // Who goes through the proposals goes on there.
    if app.panes.focus() != Pane::Proposed {
        app.panes.show(Pane::Fields);
        app.it_mut().go(span.start);
    }
    true
}

/// Changes what the layout says of a field where another answer was given, as one step.
fn change(app: &mut App, form: &Form) -> bool {
    let (path, before) = (form.about.clone(), stated(app, &form.about));
    let (Some(role), Ok(shown)) = (role(form.answer(ROLE)), Scaling::typed(form.answer(SHOWN))) else {
        return false;
    };
    let same = |line: usize| before.get(line).is_some_and(|b| b.trim() == form.answer(line));
    let quoted =
        |line: usize| Some(format!("{:?}", form.answer(line))).filter(|_| !form.answer(line).is_empty());
    // The name last: the path is another one afterwards.
    let answers = [
        (KIND, "kind", Some(form.answer(KIND).to_owned())),
        (SHOWN, "scale", shown.scale),
        (SHOWN, "unit", shown.unit.map(|u| format!("{u:?}"))),
        (ROLE, "role", Some(role.word().to_owned())),
        (NOTE, "note", quoted(NOTE)),
        (NAME, "name", quoted(NAME)),
    ];
    let mut changed: Vec<&str> = Vec::new();
    let mut new = Ok(app.it().layout_text());
    for (line, entry, value) in answers {
        let is_same =
            if line == ROLE { before.get(ROLE).is_some_and(|b| b == role.word()) } else { same(line) };
        let has = author::stated(&app.it().layout_text(), &path, entry).is_some();
        if is_same || value.is_none() && !has {
            continue;
        }
        changed.push(entry);
        new = new.and_then(|text| author::change(&text, &path, entry, value.as_deref()));
    }
    if changed.is_empty() {
        app.say(Tone::Plain, "The layout says this already");
        return true;
    }
    if !write(app, &format!("changed the {} of {path}", text::list(&changed)), new) {
        return false;
    }
    let renamed = match path.rsplit_once('.') {
        Some((parent, _)) => format!("{parent}.{}", form.answer(NAME)),
        None => form.answer(NAME).to_owned(),
    };
    app.it_mut().described.choose_field(&renamed);
    true
}
