//! Changing bytes: unlock, undo, fields by value, records to rest.

use super::{Command, USUAL, Where, fill, has_layout, readings, resize, sealing, unlocked};
use crate::compare::audit::USUAL_CAUTION;
use crate::edit::Refused;
use crate::layout::{self, Field, Role, Shape};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{About, Ask, Dialog, Prompt, Question, Remark, Reply};
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::sheet::Column;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "unlock",
        keys: &["Ctrl-U"],
        hint: "unlock",
        doc: "Allow this image to be changed, or lock it again",
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
        ..USUAL
    },
    Command {
        name: "undo",
        keys: &["Ctrl-Z"],
        obstacle: |app| {
            let steps = &app.it().steps;
            match steps.can_undo() {
                true => unlocked_unless(app, steps.last_done().is_some()),
                false => Some("There is nothing to take back"),
            }
        },
        hint: "undo",
        doc: "Take back what was done last, to the bytes or to the layout; it says which",
        act: |app, _| {
            let undone = app.undo();
            tell(app, "Taken back", undone)
        },
        ..USUAL
    },
    Command {
        name: "redo",
        keys: &["Ctrl-Y"],
        obstacle: |app| {
            let steps = &app.it().steps;
            match steps.can_redo() {
                true => unlocked_unless(app, steps.last_undone().is_some()),
                false => Some("There is nothing to do again"),
            }
        },
        doc: "Do again what was taken back",
        act: |app, _| {
            let redone = app.redo();
            tell(app, "Done again", redone)
        },
        ..USUAL
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
            let about = About { field: field.path.clone(), ..About::default() };
            let text = if typed.is_empty() { &*field.text } else { typed };
            app.dialog = Some(Prompt::about(app, &VALUE, about, text, Vec::new()));
            Effect::None
        },
    },
    readings::SET_READING,
    readings::BIG_FIRST,
    readings::LITTLE_FIRST,
    Command {
        name: "to-rest",
        keys: &["Delete"],
        place: Where::FIELDS,
        obstacle: |app| {
            unlocked_layout(app).or_else(|| app.chosen_field().is_none().then_some("No field is chosen"))
        },
        hint: "to rest",
        doc: "Return the chosen record, and every record in it, to its rest value",
        takes: "FIELD",
        act: |app, path| {
            let chosen = app.chosen_field().map(|f| f.path.clone()).unwrap_or_default();
            let path = if path.is_empty() { chosen } else { path.to_owned() };
            let cautions = cautions_on(app, &path);
            if cautions.is_empty() {
                return to_rest(app, &path);
            }
            // Where a record keeps somebody from harm, it is not cleared by one key.
            app.dialog = Some(Dialog::Question(Question {
                title: format!("Return {path} to rest?"),
                about: About { field: path, ..About::default() },
                remarks: cautions,
                replies: REST,
                chosen: 1,
            }));
            Effect::None
        },
    },
    sealing::RESEAL,
    sealing::RESEAL_ALL,
    fill::FILL,
    resize::RESIZE,
];

/// A step of the layout leaves the bytes alone, and so is possible in a locked image.
fn unlocked_unless(app: &App, is_of_layout: bool) -> Option<&'static str> {
    if is_of_layout { None } else { unlocked(app) }
}

/// Says what was taken back or done again.
fn tell(app: &mut App, what: &str, label: Result<Option<String>, Refused>) -> Effect {
    match label {
        Ok(label) => app.say(Tone::Plain, format!("{what}: {}", label.unwrap_or_default())),
        Err(refused) => app.say(Tone::Bad, refused.what),
    }
    Effect::None
}

/// The answers to whether a record with a caution is returned to rest.
const REST: &[Reply] = &[
    Reply { key: 'r', word: "Return to rest", act: |app, about| to_rest(app, &about.field) },
    Reply::CANCEL,
];

fn to_rest(app: &mut App, path: &str) -> Effect {
    let it = app.it();
    let Some(in_force) = it.layout() else { return Effect::None };
    match layout::to_rest(&in_force.layout, it.image(), path) {
        Ok(change) => typing::make(app, change, "It is at rest already"),
        Err(refusal) => app.say(Tone::Bad, format!("{}; {}", refusal.what, refusal.advice)),
    }
    Effect::None
}

/// What to heed before the field at `path` is returned to rest.
fn cautions_on(app: &App, path: &str) -> Vec<Remark> {
    let it = app.it();
    let cautions = cautions(app, path);
    // A layout of which nobody thought so far says nothing; what it describes may hurt all the same.
    let is_silent = it.layout().is_some_and(|l| l.layout.cautions.is_empty());
    let is_record = |f: &Field| f.role == Role::Record && layout::is_inside(&f.path, path);
    if cautions.is_empty() && is_silent && it.decoded().fields.iter().any(is_record) {
        return vec![caution(USUAL_CAUTION)];
    }
    cautions
}

/// What the layout says is to be heeded before the field at `path`, what it lies in or what lies in it is changed.
fn cautions(app: &App, path: &str) -> Vec<Remark> {
    let about = |f: &&Field| layout::is_inside(&f.path, path) || layout::is_inside(path, &f.path);
    let mut cautions: Vec<Remark> = Vec::new();
    for told in app.it().decoded().fields.iter().filter(about).filter_map(|f| f.caution.as_deref()) {
        let told = caution(told);
        if !cautions.contains(&told) {
            cautions.push(told);
        }
    }
    cautions
}

fn caution(told: &str) -> Remark {
    (Tone::Doubt, format!("Caution: {told}"))
}

pub(super) fn unlocked_layout(app: &App) -> Option<&'static str> {
    has_layout(app).or_else(|| unlocked(app))
}

/// The leaf that commands on a field mean: the chosen one in Fields, else the one under the bytes cursor.
pub fn field_here(app: &App) -> Option<&Field> {
    let it = app.it();
    let field = match app.panes.focus() {
        Pane::Fields => app.chosen_field(),
        _ => it.decoded().leaf_at(it.cursor.at),
    };
    field.filter(|f| f.shape == Shape::Leaf && f.value.is_some())
}

/// Another value for a field.
static VALUE: Ask = Ask {
    title: "New value",
    remarks: |app, prompt| {
        let it = app.it();
        let (Some(field), Some(in_force)) = (it.decoded().field(&prompt.about.field), it.layout()) else {
            return vec![(Tone::Bad, "The field is gone".into())];
        };
        let mut remarks = vec![
            (Tone::Strong, format!("{}: {}, {}", field.path, field.kind, field.role.word())),
            (Tone::Plain, format!("now {}", field.shown())),
        ];
        if let Some(expected) = layout::expects(&in_force.layout, it.image(), &prompt.about.field) {
            remarks.push((Tone::Plain, format!("takes {expected}")));
        }
        if let Some(note) = &field.note {
            remarks.push((Tone::Quiet, note.to_string()));
        }
        remarks.extend(cautions(app, &field.path));
        remarks.push(match layout::set(&in_force.layout, it.image(), &prompt.about.field, prompt.answer()) {
            Ok(change) if change.edits.is_empty() => (Tone::Plain, "The same as now".into()),
            Ok(change) => {
                let bytes: Vec<String> = change
                    .edits
                    .iter()
                    .map(|e| {
                        let at = text::address(it.image().address(e.at));
                        format!("{at}: {}", text::hex_short(&e.after, 16))
                    })
                    .collect();
                (Tone::Good, format!("Enter writes {}", bytes.join(", ")))
            }
            Err(refusal) => (Tone::Bad, format!("{}; {}", refusal.what, refusal.advice)),
        });
        remarks
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let it = app.it();
        let in_force = it.layout()?;
        let change = layout::set(&in_force.layout, it.image(), &prompt.about.field, prompt.answer()).ok()?;
        typing::make(app, change, "It holds this value already");
        Some(Effect::None)
    },
};
