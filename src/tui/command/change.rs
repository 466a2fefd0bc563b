//! Changing bytes: unlock, undo, fields by value, fill, copy and paste, checks, records, size.

use super::{Command, Where, always, has_layout, readings, unlocked};
use crate::compare::audit::USUAL_CAUTION;
use crate::edit::Change;
use crate::image::GAP_FILL;
use crate::layout::{self, Field, Refusal, Role, Shape};
use crate::report::text;
use crate::tui::app::{App, Pane};
use crate::tui::dialog::{Ask, Choice, Dialog, Prompt, Question, Remark, Reply};
use crate::tui::effect::Effect;
use crate::tui::job::{self, Task};
use crate::tui::sheet::{Column, MOST_AT_ONCE};
use crate::tui::theme::Tone;
use crate::tui::typing;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "unlock",
        keys: &["Ctrl-U"],
        place: Where::PANES,
        obstacle: always,
        hint: "unlock",
        doc: "Allow this image to be changed, or lock it again",
        takes: "",
        act: |app, _| {
            let it = app.it_mut();
            it.locked = !it.locked;
            it.cursor.second_digit = false;
            let (locked, digits) = (it.locked, it.cursor.column == Column::Digits);
            match (locked, digits) {
                (true, _) => app.say(Tone::Plain, "LOCKED: typing changes nothing"),
                (false, true) => app
                    .say(Tone::Good, app.keys.fill("Unlocked: digits 0-9 A-F overwrite; {undo} takes back")),
                (false, false) => {
                    app.say(Tone::Good, app.keys.fill("Unlocked: characters overwrite; {undo} takes back"))
                }
            }
            Effect::None
        },
    },
    Command {
        name: "undo",
        keys: &["Ctrl-Z"],
        place: Where::PANES,
        obstacle: |app| (!app.it().steps.can_undo()).then_some("There is nothing to take back"),
        hint: "undo",
        doc: "Take back what was done last, to the bytes or to the layout; it says which",
        takes: "",
        act: |app, _| {
            match app.undo() {
                Ok(label) => app.say(Tone::Plain, format!("Taken back: {}", label.unwrap_or_default())),
                Err(refused) => app.say(Tone::Bad, refused.what),
            }
            Effect::None
        },
    },
    Command {
        name: "redo",
        keys: &["Ctrl-Y"],
        place: Where::PANES,
        obstacle: |app| (!app.it().steps.can_redo()).then_some("There is nothing to do again"),
        hint: "",
        doc: "Do again what was taken back",
        takes: "",
        act: |app, _| {
            match app.redo() {
                Ok(label) => app.say(Tone::Plain, format!("Done again: {}", label.unwrap_or_default())),
                Err(refused) => app.say(Tone::Bad, refused.what),
            }
            Effect::None
        },
    },
    Command {
        name: "set-value",
        keys: &["Ctrl-E"],
        place: Where::BYTES.and(Where::FIELDS).and(Where::CHECKS).and(Where::FINDINGS).and(Where::FOUND),
        obstacle: |app| match field_here(app) {
            _ if has_layout(app).is_some() => has_layout(app),
            None => Some("No field with a value is here"),
            Some(field) if !field.editable => Some("The layout says that this field is never changed"),
            Some(_) => unlocked(app),
        },
        hint: "set value",
        doc: "Type another value for the field under the cursor",
        takes: "VALUE",
        act: |app, typed| {
            let Some(field) = field_here(app) else { return Effect::None };
            let (path, shown) = (field.path.clone(), field.text.clone());
            app.dialog = Some(Prompt::open(app, &VALUE, path, if typed.is_empty() { &shown } else { typed }));
            Effect::None
        },
    },
    Command {
        name: "set-reading",
        keys: &["Enter", "Ctrl-E"],
        place: Where::READINGS,
        obstacle: unlocked,
        hint: "set value",
        doc: "Type another value for the chosen reading, and write it as its bytes",
        takes: "VALUE",
        act: |app, typed| {
            let shown = readings::chosen(app).and_then(|r| r.text).unwrap_or_default();
            app.dialog = Some(Prompt::open(
                app,
                &readings::READING,
                "",
                if typed.is_empty() { &shown } else { typed },
            ));
            Effect::None
        },
    },
    Command {
        name: "big-first",
        keys: &["Left"],
        place: Where::READINGS,
        obstacle: always,
        hint: "",
        doc: "Choose the reading with the most significant byte first",
        takes: "",
        act: |app, _| {
            app.it_mut().little_first = false;
            Effect::None
        },
    },
    Command {
        name: "little-first",
        keys: &["Right"],
        place: Where::READINGS,
        obstacle: always,
        hint: "",
        doc: "Choose the reading with the least significant byte first",
        takes: "",
        act: |app, _| {
            app.it_mut().little_first = true;
            Effect::None
        },
    },
    Command {
        name: "to-rest",
        keys: &["Delete"],
        place: Where::FIELDS,
        obstacle: |app| {
            unlocked_layout(app).or_else(|| app.it().chosen_field().is_none().then_some("No field is chosen"))
        },
        hint: "to rest",
        doc: "Return the chosen record, and every record in it, to its rest value",
        takes: "FIELD",
        act: |app, path| {
            let chosen = app.it().chosen_field().map(|f| f.path.clone()).unwrap_or_default();
            let path = if path.is_empty() { chosen } else { path.to_owned() };
            let cautions: Vec<Remark> = cautions_on(app, &path);
            if cautions.is_empty() {
                return to_rest(app, &path);
            }
            // Where a record keeps somebody from harm, it is not cleared by one key.
            app.asked_about = path.clone();
            app.dialog = Some(Dialog::Question(Question {
                title: format!("Return {path} to rest?"),
                remarks: cautions,
                replies: REST,
                chosen: 1,
            }));
            Effect::None
        },
    },
    Command {
        name: "reseal",
        keys: &["Space"],
        place: Where::CHECKS,
        obstacle: |app| {
            unlocked_layout(app)
                .or_else(|| app.it().decoded.checks.is_empty().then_some("The layout has no checks"))
        },
        hint: "reseal",
        doc: "Compute the chosen check and store it",
        takes: "CHECK",
        act: |app, name| {
            let it = app.it();
            let chosen = it.decoded.checks.get(it.checks.at).map(|c| c.name.clone()).unwrap_or_default();
            let name = if name.is_empty() { chosen } else { name.to_owned() };
            reseal(app, Some(name))
        },
    },
    Command {
        name: "reseal-all",
        keys: &["Ctrl-R"],
        place: Where::PANES,
        obstacle: |app| {
            unlocked_layout(app)
                .or_else(|| app.it().decoded.checks.is_empty().then_some("The layout has no checks"))
        },
        hint: "reseal all",
        doc: "Compute every check and store it",
        takes: "",
        act: |app, _| reseal(app, None),
    },
    Command {
        name: "fill",
        keys: &["Ctrl-D"],
        place: Where::BYTES,
        obstacle: unlocked,
        hint: "",
        doc: "Fill the selected bytes with a value or a pattern",
        takes: "BYTES",
        act: |app, typed| {
            app.dialog = Some(Prompt::open(app, &FILL, "", if typed.is_empty() { "FF" } else { typed }));
            Effect::None
        },
    },
    Command {
        name: "resize",
        keys: &[],
        place: Where::PANES,
        obstacle: |app| {
            let is_vast = app.it().image.len() > MOST_BYTES;
            unlocked(app).or_else(|| is_vast.then_some("An image over 64 MiB keeps its size"))
        },
        hint: "",
        doc: "Cut the image, or lengthen it with FF, to another number of bytes",
        takes: "SIZE",
        act: |app, typed| {
            let now = app.it().image.len().to_string();
            app.dialog = Some(Prompt::open(app, &RESIZE, "", if typed.is_empty() { &now } else { typed }));
            Effect::None
        },
    },
];

/// The answers to whether a record with a caution is returned to rest.
const REST: &[Reply] = &[
    Reply {
        key: 'r',
        word: "Return to rest",
        act: |app| {
            let path = std::mem::take(&mut app.asked_about);
            to_rest(app, &path)
        },
    },
    Reply { key: 'c', word: "Cancel", act: |_| Effect::None },
];

/// Computes a check, or all of them, and stores them: beside the keys where they may cover much.
fn reseal(app: &mut App, name: Option<String>) -> Effect {
    if let Some(why) = job::obstacle(app) {
        let why = app.keys.fill(why);
        app.say(Tone::Doubt, why);
        return Effect::None;
    }
    let (image, revision) = (app.current(), app.it().revision);
    job::begin(app, Task::Reseal { image, name, revision });
    Effect::Work
}

/// Takes what came of computing checks; `revision` is that of the image when it began.
pub fn resealed(app: &mut App, index: usize, revision: u64, all: bool, change: Result<Change, Refusal>) {
    if app.current() != index {
        app.turn_to(index);
    }
    if app.it().revision != revision {
        app.say(Tone::Doubt, "The image was changed meanwhile, so nothing was stored; reseal once more");
        return;
    }
    match change {
        Ok(change) => {
            typing::make(app, change, if all { "Every check is sealed" } else { "It is sealed already" })
        }
        Err(refusal) => app.say(Tone::Bad, format!("{}; {}", refusal.what, refusal.advice)),
    }
}

fn to_rest(app: &mut App, path: &str) -> Effect {
    by_layout(app, |layout, image| layout::to_rest(layout, image, path), "It is at rest already")
}

/// What to heed before the field at `path`, or one inside it, is changed.
fn cautions_on(app: &App, path: &str) -> Vec<Remark> {
    let it = app.it();
    let inside = |f: &&Field| {
        f.path.strip_prefix(path).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
    };
    let mut cautions: Vec<&str> = Vec::new();
    for caution in it.decoded.fields.iter().filter(inside).filter_map(|f| f.caution.as_deref()) {
        if !cautions.contains(&caution) {
            cautions.push(caution);
        }
    }
    // A layout of which nobody thought so far says nothing; what it describes may hurt all the same.
    let is_silent = it.layout.as_ref().is_some_and(|l| l.layout.cautions.is_empty());
    let has_record = || it.decoded.fields.iter().filter(inside).any(|f| f.role == Role::Record);
    if cautions.is_empty() && is_silent && has_record() {
        cautions.push(USUAL_CAUTION);
    }
    cautions.into_iter().map(|c| (Tone::Doubt, format!("Caution: {c}"))).collect()
}

fn unlocked_layout(app: &App) -> Option<&'static str> {
    has_layout(app).or_else(|| unlocked(app))
}

/// The leaf that commands on a field mean: the chosen one in Fields, else the one under the bytes cursor.
pub fn field_here(app: &App) -> Option<&Field> {
    let it = app.it();
    let field = match app.focus {
        Pane::Fields if app.twin.is_none() => it.chosen_field(),
        _ => it.decoded.leaf_at(it.cursor.at),
    };
    field.filter(|f| f.shape == Shape::Leaf && f.value.is_some())
}

/// Makes a change through the layout in force, and says what came of it.
fn by_layout(
    app: &mut App,
    change: impl FnOnce(&layout::Layout, &crate::image::Image) -> Result<Change, Refusal>,
    unchanged: &str,
) -> Effect {
    let it = app.it();
    let Some(in_force) = &it.layout else { return Effect::None };
    match change(&in_force.layout, &it.image) {
        Ok(change) => typing::make(app, change, unchanged),
        Err(refusal) => app.say(Tone::Bad, format!("{}; {}", refusal.what, refusal.advice)),
    }
    Effect::None
}

/// Whether so many bytes are too many for one step; says so.
pub(super) fn is_too_much(app: &mut App, bytes: usize) -> bool {
    let most = MOST_AT_ONCE >> 20;
    if bytes > MOST_AT_ONCE {
        let (bytes, told) = (text::count(bytes, "byte"), "select fewer; nothing was changed");
        app.say(Tone::Bad, format!("{bytes} are more than the {most} MiB taken at once; {told}"));
    }
    bytes > MOST_AT_ONCE
}

pub(super) const fn no_options(_: &App, _: &str) -> Vec<Choice> {
    Vec::new()
}

/// Another value for a field.
static VALUE: Ask = Ask {
    title: "New value",
    remarks: |app, prompt| {
        let it = app.it();
        let (Some(field), Some(in_force)) = (it.decoded.field(&prompt.about), &it.layout) else {
            return vec![(Tone::Bad, "The field is gone".into())];
        };
        let mut remarks = vec![
            (Tone::Strong, format!("{}: {}, {}", field.path, field.kind, field.role.word())),
            (Tone::Plain, format!("now {}", field.shown())),
        ];
        if let Some(expected) = layout::expects(&in_force.layout, &it.image, &prompt.about) {
            remarks.push((Tone::Plain, format!("takes {expected}")));
        }
        if let Some(note) = &field.note {
            remarks.push((Tone::Quiet, note.to_string()));
        }
        if let Some(caution) = &field.caution {
            remarks.push((Tone::Doubt, format!("Caution: {caution}")));
        }
        remarks.push(match layout::set(&in_force.layout, &it.image, &prompt.about, prompt.answer()) {
            Ok(change) if change.edits.is_empty() => (Tone::Plain, "The same as now".into()),
            Ok(change) => {
                let bytes: Vec<String> = change
                    .edits
                    .iter()
                    .map(|e| format!("{}: {}", at(app, e.at), text::hex_short(&e.after, 16)))
                    .collect();
                (Tone::Good, format!("Enter writes {}", bytes.join(", ")))
            }
            Err(refusal) => (Tone::Bad, format!("{}; {}", refusal.what, refusal.advice)),
        });
        remarks
    },
    options: no_options,
    submit: |app, prompt| {
        let it = app.it();
        let Some(in_force) = &it.layout else { return Effect::None };
        match layout::set(&in_force.layout, &it.image, &prompt.about, prompt.answer()) {
            Ok(change) => typing::make(app, change, "It holds this value already"),
            // The line stays, so that what was typed can be mended.
            Err(_) => app.dialog = Some(Dialog::Prompt(prompt)),
        }
        Effect::None
    },
};

fn at(app: &App, offset: usize) -> String {
    text::address(app.it().image.address(offset))
}

/// What fills the selected bytes.
static FILL: Ask = Ask {
    title: "Fill with",
    remarks: |app, prompt| {
        let span = app.it().selection();
        let place = text::place(span, app.it().image.base());
        let mut remarks: Vec<Remark> =
            vec![(Tone::Quiet, format!("at {place}: hexadecimal digits, repeated"))];
        remarks.push(match typing::digits(prompt.answer()) {
            Ok(pattern) => (Tone::Good, format!("Enter fills with {}", text::hex_short(&pattern, 16))),
            Err(why) => (Tone::Bad, why),
        });
        remarks
    },
    options: no_options,
    submit: |app, prompt| {
        match typing::digits(prompt.answer()) {
            Ok(pattern) => {
                let span = app.it().selection();
                if is_too_much(app, span.len()) {
                    return Effect::None;
                }
                let bytes: Vec<u8> = pattern.iter().copied().cycle().take(span.len()).collect();
                let label = format!(
                    "filled {} with {}",
                    text::count(span.len(), "byte"),
                    text::hex_short(&pattern, 4)
                );
                typing::put(app, span.start, &bytes, label);
            }
            Err(_) => app.dialog = Some(Dialog::Prompt(prompt)),
        }
        Effect::None
    },
};

/// The most bytes that an image is lengthened to, or cut from; beyond, it is no small memory any more, and undo would
/// have to hold what was cut off.
const MOST_BYTES: usize = 64 << 20;

fn new_size(typed: &str) -> Result<usize, String> {
    match crate::cli::parse_address(typed.trim()).map(usize::try_from)? {
        Ok(size) if (1..=MOST_BYTES).contains(&size) => Ok(size),
        _ => Err(format!("{typed:?} is no size from 1 to {MOST_BYTES} bytes")),
    }
}

/// Another number of bytes.
static RESIZE: Ask = Ask {
    title: "Bytes",
    remarks: |app, prompt| {
        let now = app.it().image.len();
        vec![match new_size(prompt.answer()) {
            Ok(size) if size < now => {
                (Tone::Doubt, format!("Enter cuts off the last {}", text::count(now - size, "byte")))
            }
            Ok(size) if size == now => (Tone::Plain, "The size it has".into()),
            Ok(size) => (Tone::Good, format!("Enter appends {} of FF", text::count(size - now, "byte"))),
            Err(why) => (Tone::Bad, why),
        }]
    },
    options: no_options,
    submit: |app, prompt| {
        match new_size(prompt.answer()) {
            Ok(size) => match Change::resize(&app.it().image, size, GAP_FILL) {
                Ok(change) => {
                    typing::make(app, change, "It has this size already");
                    let at = app.it().cursor.at;
                    app.it_mut().go(at);
                }
                Err(refused) => app.say(Tone::Bad, refused.what),
            },
            Err(_) => app.dialog = Some(Dialog::Prompt(prompt)),
        }
        Effect::None
    },
};
