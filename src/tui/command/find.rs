//! Finding a part number however it is stored, or bytes.

use super::{Command, Where, always};
use crate::find;
use crate::report::text;
use crate::span::Span;
use crate::tui::app::{App, Pane};
use crate::tui::dialog::{Ask, Dialog, Prompt};
use crate::tui::effect::Effect;
use crate::tui::sheet::Place;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// The row of the table.
pub(super) const FIND: Command = Command {
    name: "find",
    keys: &["Ctrl-F"],
    place: Where::PANES,
    obstacle: always,
    hint: "find",
    doc: "Find a part number or serial however it is stored, or bytes written as 0x46 4B",
    takes: "TEXT",
    act: |app, typed| {
        let needle = app.needle.clone();
        app.dialog = Some(Prompt::open(app, &FIND_LINE, "", if typed.is_empty() { &needle } else { typed }));
        Effect::None
    },
};

/// The most places listed for bytes.
const MOST_PLACES: usize = 500;

/// What the line asks for.
enum Wanted {
    Text(String),
    Bytes(Vec<u8>),
}

fn wanted(typed: &str) -> Result<Wanted, String> {
    let typed = typed.trim();
    if typed.starts_with("0x") || typed.starts_with("0X") {
        return typing::digits(typed).map(Wanted::Bytes);
    }
    find::refusal(typed).map_or(Ok(Wanted::Text(typed.into())), Err)
}

static FIND_LINE: Ask = Ask {
    title: "Find",
    remarks: |_, prompt| {
        if prompt.answer().trim().is_empty() {
            return vec![(Tone::Quiet, "a part number or serial, as on the label; bytes as 0x46 4B".into())];
        }
        vec![match wanted(prompt.answer()) {
            Ok(Wanted::Text(_)) => {
                (Tone::Quiet, "Enter searches it in every way it can be stored, near misses included".into())
            }
            Ok(Wanted::Bytes(bytes)) => {
                (Tone::Quiet, format!("Enter searches {}", text::hex_short(&bytes, 16)))
            }
            Err(why) => (Tone::Bad, why),
        }]
    },
    options: super::change::no_options,
    submit: |app, prompt| {
        let answer = prompt.answer().to_owned();
        match wanted(&answer) {
            Ok(wanted) => search(app, &answer, wanted),
            Err(_) if answer.trim().is_empty() => {}
            Err(_) => app.dialog = Some(Dialog::Prompt(prompt)),
        }
        Effect::None
    },
};

fn search(app: &mut App, typed: &str, wanted: Wanted) {
    app.needle = typed.to_owned();
    let image = &app.it().image;
    let places = match wanted {
        Wanted::Text(wanted) => find::find(image, &wanted).hits.iter().map(place).collect(),
        Wanted::Bytes(wanted) => bytes(image.bytes(), &wanted),
    };
    let (exact, near) = places.iter().partition::<Vec<&Place>, _>(|p| p.exact);
    let (exact, near) = (exact.len(), near.len());
    let first = places.first().map(|p| p.span);
    let it = app.it_mut();
    it.hits = places;
    it.hit_rows = crate::tui::rows::Rows::default();
    it.hit_rows.fit(it.hits.len());
    let Some(first) = first else {
        if app.focus == Pane::Found {
            app.give_keys(Pane::Bytes);
        }
        app.say(Tone::Bad, format!("{typed} is not in this image, in no way it could be stored"));
        return;
    };
    app.it_mut().select(first);
    app.give_keys(Pane::Found);
    match (exact, near) {
        (0, 1) => app.say(Tone::Bad, "Not here. 1 near miss: another part until the label says otherwise"),
        (0, near) => {
            app.say(
                Tone::Bad,
                format!("Not here. {near} near misses: other parts until the label says otherwise"),
            );
        }
        (exact, _) => app.say(Tone::Good, format!("{typed}: found {}", text::count(exact, "time"))),
    }
}

fn place(hit: &find::Hit) -> Place {
    let differs: Vec<String> = hit.differs.iter().map(find::Difference::words).collect();
    Place {
        span: hit.place,
        exact: hit.exact,
        stored_as: hit.stored_as(),
        text: hit.text.clone(),
        differs: differs.join(", "),
    }
}

fn bytes(image: &[u8], wanted: &[u8]) -> Vec<Place> {
    memchr::memmem::find_iter(image, wanted)
        .take(MOST_PLACES)
        .map(|at| Place {
            span: Span::of(at, wanted.len()),
            exact: true,
            stored_as: "bytes".into(),
            text: text::hex_short(wanted, 8),
            differs: String::new(),
        })
        .collect()
}
