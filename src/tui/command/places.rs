//! Finding places: by address, by field, by findings.

use super::{Command, USUAL, Where, annotate};
use crate::layout::{Field, Shape};
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Choice, Prompt};
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "go-to",
        keys: &["Ctrl-G"],
        hint: "go to",
        doc: "Go to an address or a field, or select a range",
        takes: "PLACE",
        act: |app, typed| {
            if typed.is_empty() {
                app.dialog = Some(Prompt::open(app, &GO_TO, ""));
            } else if let Err(why) = go_to(app, typed) {
                app.say(Tone::Bad, why);
            }
            Effect::None
        },
        ..USUAL
    },
    super::find::FIND,
    Command {
        name: "next",
        keys: &["Ctrl-N"],
        obstacle: no_findings,
        hint: "next finding",
        doc: "Go to the next finding; in the Twin view, to the next difference",
        act: |app, _| next(app, 1),
        ..USUAL
    },
    Command {
        name: "previous",
        keys: &["Ctrl-P"],
        obstacle: no_findings,
        doc: "Go to the finding before; in the Twin view, to the difference before",
        act: |app, _| next(app, -1),
        ..USUAL
    },
    Command {
        name: "go-there",
        keys: &["Enter"],
        place: Where::CHECKS.and(Where::FINDINGS).and(Where::FOUND).and(Where::PROPOSED),
        hint: "go there",
        doc: "Select the bytes of the chosen row",
        act: |app, _| {
            enter(app);
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "open-row",
        keys: &["Enter"],
        place: Where::FIELDS,
        hint: "open",
        doc: "Type another value for the chosen field; show or hide what a group or table holds",
        act: |app, _| {
            if app.twin.is_none() && is_folder(app) {
                return fold(app, None);
            }
            super::by_name("set-value").map_or(Effect::None, |set| set.run(app, ""))
        },
        ..USUAL
    },
    Command {
        name: "unfold",
        keys: &["Right"],
        place: Where::FIELDS,
        obstacle: annotate::alone,
        hint: "unfold",
        doc: "Show what the chosen group or table holds",
        act: |app, _| fold(app, Some(true)),
        ..USUAL
    },
    Command {
        name: "fold",
        keys: &["Left"],
        place: Where::FIELDS,
        obstacle: annotate::alone,
        doc: "Hide what the chosen group or table holds, or go up to it",
        act: |app, _| fold(app, Some(false)),
        ..USUAL
    },
    Command {
        name: "select-place",
        keys: &["s"],
        doc: "Select the bytes of the chosen row, or of the field under the cursor",
        act: |app, _| {
            match place_here(app) {
                Some(place) => {
                    app.it_mut().select(place);
                    app.panes.give_keys(Pane::Bytes);
                }
                None => app.say(Tone::Doubt, "There is no field or place here"),
            }
            Effect::None
        },
        ..USUAL
    },
];

fn no_findings(app: &App) -> Option<&'static str> {
    if app.twin.is_some() {
        return None;
    }
    app.it()
        .judged
        .findings()
        .iter()
        .all(|f| f.place.is_none())
        .then_some("No finding has a place in this image")
}

/// The bytes that the chosen row of a list, or the field under the cursor, lies over.
fn place_here(app: &App) -> Option<Span> {
    let it = app.it();
    let place = match app.panes.focus() {
        Pane::Bytes | Pane::Readings => it.decoded().leaf_at(it.cursor.at).map(Field::cover),
        Pane::Fields => app.chosen_field().map(Field::cover),
        Pane::Checks => app.chosen_check().and_then(|c| c.placed.as_ref()).map(|p| p.stored_at),
        Pane::Findings => it.judged.chosen().and_then(|f| f.place),
        Pane::Found => it.found.chosen().map(|h| h.span),
        Pane::Proposed => it.proposals.chosen().map(|(p, _)| p.at),
    };
    place.filter(|p| !p.is_empty() && p.start < it.image().len())
}

fn enter(app: &mut App) {
    match place_here(app) {
        Some(place) => {
            app.it_mut().select(place);
            app.panes.give_keys(Pane::Bytes);
        }
        None if app.panes.focus() == Pane::Findings => {
            app.say(Tone::Plain, "This finding is about the whole image")
        }
        None => app.say(Tone::Plain, "There is no place in the image to go to"),
    }
}

fn is_folder(app: &App) -> bool {
    app.it().described.chosen_field().is_some_and(|f| f.shape != Shape::Leaf)
}

/// Shows or hides what the chosen group or table holds; the other of both where neither is said.
fn fold(app: &mut App, open: Option<bool>) -> Effect {
    let it = app.it_mut();
    it.described.fold(open);
    Effect::None
}

fn next(app: &mut App, by: isize) -> Effect {
    if app.twin.is_some() { super::twin::difference(app, by) } else { finding(app, by) }
}

/// Goes round the findings that have a place.
fn finding(app: &mut App, by: isize) -> Effect {
    let it = app.it_mut();
    if let Some((finding, place)) = it.judged.step(by) {
        let (tone, seen) = (Tone::from(finding.weight), text::sentence(&finding.seen));
        it.select(place);
        app.say(tone, seen);
    }
    Effect::None
}

/// A place as typed: an address, a range, or the path or name of a field.
fn place_of(app: &App, typed: &str) -> Result<Span, String> {
    let it = app.it();
    let typed = typed.trim();
    if let Some(field) = it.decoded().field(typed).filter(|f| !f.cover().is_empty()) {
        return Ok(field.cover());
    }
    let hex = |t: &str| (!t.is_empty() && t.bytes().all(|b| b.is_ascii_hexdigit())).then(|| format!("0x{t}"));
    // On this screen every address is hexadecimal, so it is read as such without its 0x too; lengths are not.
    let address_of = |t: &str| hex(t.trim()).unwrap_or_else(|| t.trim().to_owned());
    let range = match (typed.split_once(".."), typed.split_once('+')) {
        (Some((start, end)), _) => Some(format!("{}..{}", address_of(start), address_of(end))),
        (None, Some((start, len))) => Some(format!("{}+{}", address_of(start), len.trim())),
        (None, None) => None,
    };
    if let Some(range) = range {
        let range: crate::cli::AddressRange = range.parse()?;
        return range.in_image(it.image()).map_err(|e| e.what);
    }
    let address = crate::cli::parse_address(&address_of(typed)).map_err(|_| {
        format!("{typed:?} is no address, range or field; write 0040, 40..50, 40+16 or a field's name")
    })?;
    let offset = it.image().offset(address).ok_or_else(|| {
        let last = it.image().address(it.image().len().saturating_sub(1));
        format!(
            "{} is outside the image, {} to {}",
            text::address(address),
            text::address(it.image().base()),
            text::address(last)
        )
    })?;
    Ok(Span::of(offset, 1))
}

fn go_to(app: &mut App, typed: &str) -> Result<(), String> {
    let place = place_of(app, typed)?;
    app.it_mut().select(place);
    app.it_mut().described.choose_field(typed.trim());
    Ok(())
}

/// The most fields offered; what is typed narrows them down.
const MOST_OFFERED: usize = 200;

/// An address, a range or a field.
static GO_TO: Ask = Ask {
    title: "Go to",
    remarks: |app, prompt| {
        if prompt.answer().trim().is_empty() {
            return vec![(Tone::Quiet, "an address: 0040; a range: 40..50 or 40+16; a field's name".into())];
        }
        vec![match place_of(app, prompt.answer()) {
            Ok(place) => (Tone::Good, text::place(place, app.it().image().base())),
            // A part of a name leads to the first field that has it.
            Err(why) => match prompt.given.options.first() {
                Some(first) => (Tone::Plain, format!("Enter goes to {}; Down marks another", first.text)),
                None => (Tone::Bad, why),
            },
        }]
    },
    options: |app, typed| {
        let it = app.it();
        let wanted = typed.trim().to_lowercase();
        let fields = it.decoded().fields.iter().filter(|f| !f.cover().is_empty());
        fields
            .filter(|f| f.path.to_lowercase().contains(&wanted))
            .take(MOST_OFFERED)
            .map(|f| Choice {
                aside: text::address(it.image().address(f.cover().start)),
                ..Choice::new(&f.path, text::clean(&f.text))
            })
            .collect()
    },
    submit: |app, prompt| {
        let (answer, first) = (prompt.answer(), prompt.given.options.first());
        let goes = answer.trim().is_empty()
            || go_to(app, answer).is_ok()
            || first.is_some_and(|first| go_to(app, &first.text).is_ok());
        goes.then_some(Effect::None)
    },
};
