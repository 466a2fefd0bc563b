//! Writing bytes through a reading: the analyst's way to set a value where no layout says what it is.

use super::{Command, USUAL, Where, ask, unlocked};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::Ask;
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;
use crate::tui::typing;
use crate::tui::view::readings::rows;
use crate::value::Reading;

/// Writes bytes through the chosen reading.
pub(super) const SET_READING: Command = Command {
    name: "set-reading",
    keys: &["Enter", "Ctrl-E"],
    place: Where::READINGS,
    obstacle: unlocked,
    hint: "set value",
    doc: "Type another value for the chosen reading, and write it as its bytes",
    takes: "VALUE",
    act: |app, typed| {
        let shown = chosen(app).and_then(|r| r.text).unwrap_or_default();
        ask(app, &READING, typed, &shown)
    },
};

/// Turns to the column of readings at the left.
pub(super) const BIG_FIRST: Command = Command {
    name: "big-first",
    keys: &["Left"],
    place: Where::READINGS,
    doc: "Choose the reading with the most significant byte first",
    act: |app, _| turn(app, false),
    ..USUAL
};

/// Turns to the column of readings at the right.
pub(super) const LITTLE_FIRST: Command = Command {
    name: "little-first",
    keys: &["Right"],
    place: Where::READINGS,
    doc: "Choose the reading with the least significant byte first",
    act: |app, _| turn(app, true),
    ..USUAL
};

fn turn(app: &mut App, little_first: bool) -> Effect {
    app.it_mut().readings.little_first = little_first;
    Effect::None
}

/// The reading that the Readings pane is on.
pub(super) fn chosen(app: &App) -> Option<Reading> {
    let it = app.it();
    let row = rows(app).into_iter().nth(it.readings.rows.at)?;
    Some(if it.readings.little_first { row.little.unwrap_or(row.big) } else { row.big })
}

/// The bytes that `typed` becomes by the chosen reading.
fn encode(app: &App, typed: &str) -> Result<Vec<u8>, String> {
    let reading = chosen(app).ok_or("no reading is chosen")?;
    let it = app.it();
    let old = it.image().bytes().get(it.cursor.at..).and_then(|b| b.get(..reading.bytes));
    let old =
        old.ok_or_else(|| format!("{} do not fit before the end", text::count(reading.bytes, "byte")))?;
    let told = |e: crate::value::ValueError| format!("{}; {}", e.what, e.expected);
    let value = reading.kind.parse(typed).map_err(told)?;
    reading.kind.encode(&value, old, reading.order.unwrap_or_default()).map_err(told)
}

/// Another value for a reading.
static READING: Ask = Ask {
    title: "New value",
    remarks: |app, prompt| {
        let name = chosen(app).map_or(String::new(), |r| {
            let order = match r.order {
                Some(crate::span::ByteOrder::Big) => ", most significant byte first",
                Some(crate::span::ByteOrder::Little) => ", least significant byte first",
                None => "",
            };
            format!("{}{order}, {}", r.name, text::count(r.bytes, "byte"))
        });
        let outcome = match encode(app, prompt.answer()) {
            Ok(bytes) => (Tone::Good, format!("Enter writes {}", text::hex_short(&bytes, 16))),
            Err(why) => (Tone::Bad, why),
        };
        vec![(Tone::Strong, name), outcome]
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let bytes = encode(app, prompt.answer()).ok()?;
        let at = app.it().cursor.at;
        let place = text::address(app.it().image().address(at));
        let name = chosen(app).map_or("value", |r| r.name);
        typing::put(app, at, &bytes, format!("set {name} at {place} to {}", prompt.answer()));
        Some(Effect::None)
    },
};
