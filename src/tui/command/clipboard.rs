//! Copying and pasting. What is copied is kept here as bytes and sent to the terminal as text.

use super::{Command, USUAL, Where, change, row, unlocked};
use crate::layout::{Field, Shape};
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::sheet::Column;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// The longest text that is sent; terminals drop longer ones without a word.
const MOST_SENT: usize = 64 << 10;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "copy",
        keys: &["Ctrl-C"],
        hint: "copy",
        doc: "Copy the selected bytes as their column shows them; in a list, what the chosen row says",
        act: |app, _| match chosen_row(app) {
            Some((span, said)) if keep(app, span) => send(app, said),
            Some(_) => Effect::None,
            None => copy_bytes(app, app.it().cursor.column == Column::Text),
        },
        ..USUAL
    },
    row(Where::PANES, "copy-digits", &[], "Copy the selected bytes as hexadecimal digits", |app, _| {
        copy_bytes(app, false)
    }),
    row(Where::PANES, "copy-text", &[], "Copy the selected bytes as text", |app, _| copy_bytes(app, true)),
    Command {
        name: "copy-value",
        obstacle: |app| change::field_here(app).is_none().then_some("No field with a value is here"),
        doc: "Copy the value of the field under the cursor as it is shown",
        act: |app, _| match change::field_here(app).map(|f| (f.cover(), f.text.to_string())) {
            Some((span, value)) if keep(app, span) => send(app, value),
            _ => Effect::None,
        },
        ..USUAL
    },
    Command {
        name: "copy-address",
        doc: "Copy the address of the cursor, or the range of the selected bytes",
        act: |app, _| {
            let it = app.it();
            let address = match it.cursor.anchor {
                Some(_) => text::range(it.selection(), it.image().base()),
                None => text::address(it.image().address(it.cursor.at)),
            };
            send(app, address)
        },
        ..USUAL
    },
    Command {
        name: "paste",
        keys: &["Ctrl-V"],
        place: Where::BYTES,
        obstacle: |app| {
            unlocked(app).or_else(|| app.last.copied.is_empty().then_some("Nothing was copied yet"))
        },
        doc: "Overwrite from the cursor on with the bytes copied last",
        act: |app, _| {
            let bytes = app.last.copied.clone();
            typing::overwrite(app, &bytes, "pasted", &[]);
            Effect::None
        },
        ..USUAL
    },
];

/// What the chosen row of the list with the keys says, and the bytes it is about.
fn chosen_row(app: &App) -> Option<(Span, String)> {
    let it = app.it();
    match app.panes.focus() {
        Pane::Bytes => None,
        Pane::Fields => match &app.twin {
            None => it
                .described
                .chosen_field()
                .filter(|f| f.shape == Shape::Leaf)
                .map(|f| (f.cover(), f.text.to_string())),
            Some(twin) => {
                let change = twin.compared.comparison.fields.get(twin.fields.at)?;
                let value =
                    |field: &Option<Field>| field.as_ref().map_or("absent".into(), |f| f.text.to_string());
                let said = format!("{}: {} → {}", change.path, value(&change.before), value(&change.after));
                Some((change.before.as_ref().or(change.after.as_ref())?.cover(), said))
            }
        },
        Pane::Checks => {
            let check = app.chosen_check()?;
            let placed = check.placed.as_ref()?;
            Some((placed.stored_at, text::number(check.stored?, placed.stored_at.len())))
        }
        Pane::Readings => {
            let reading = super::readings::chosen(app)?;
            Some((Span::of(it.cursor.at, reading.bytes), reading.text?))
        }
        Pane::Findings => {
            let finding = it.judged.chosen()?;
            let said = [&finding.seen, &finding.means, &finding.advice].map(|t| text::sentence(t));
            let said: Vec<String> = said.into_iter().filter(|t| !t.is_empty()).collect();
            Some((finding.place.unwrap_or(it.selection()), said.join(" ")))
        }
        Pane::Found => it.found.chosen().map(|hit| (hit.span, hit.text.clone())),
        Pane::Proposed => it.proposals.chosen().map(|(p, _)| (p.at, text::sentence(&p.evidence))),
    }
}

/// Keeps the bytes, unless they are too many; returns whether it did.
fn keep(app: &mut App, span: Span) -> bool {
    if typing::is_too_much(app, span.len()) {
        return false;
    }
    app.last.copied = span.of_bytes(app.it().image().bytes()).unwrap_or_default().to_vec();
    true
}

fn copy_bytes(app: &mut App, as_text: bool) -> Effect {
    let span = app.it().selection();
    if !keep(app, span) {
        return Effect::None;
    }
    let kept = text::count(span.len(), "byte");
    let (width, what) = if as_text { (1, "text") } else { (3, "digits") };
    // A text that is not sent is not made.
    if span.len() * width > MOST_SENT {
        let told =
            format!("{kept} kept for {{paste}}; more than {} KiB of {what} are not sent", MOST_SENT >> 10);
        app.tell(Tone::Doubt, &told);
        return Effect::None;
    }
    let shown = |b: &u8| if (0x20..0x7F).contains(b) { char::from(*b) } else { '.' };
    let copied =
        if as_text { app.last.copied.iter().map(shown).collect() } else { text::hex(&app.last.copied) };
    app.say(Tone::Plain, format!("{kept} kept, and sent to terminal as {what}"));
    Effect::Copy(copied)
}

/// Sends a text; whether the terminal puts it on a clipboard is not told.
fn send(app: &mut App, said: String) -> Effect {
    if said.len() > MOST_SENT {
        app.say(Tone::Doubt, format!("More than {} KiB of text are not sent", MOST_SENT >> 10));
        return Effect::None;
    }
    let said = text::clean(&said).into_owned();
    app.say(Tone::Plain, format!("Sent to terminal: {}", text::cut(&said, 60)));
    Effect::Copy(said)
}
