//! An image cut, or lengthened, to another number of bytes.

use super::{Command, USUAL, ask, unlocked};
use crate::edit::Change;
use crate::image::GAP_FILL;
use crate::report::text;
use crate::tui::dialog::Ask;
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// The row of the table.
pub(super) const RESIZE: Command = Command {
    name: "resize",
    obstacle: |app| {
        let is_vast = app.it().image().len() > MOST_BYTES;
        unlocked(app).or_else(|| is_vast.then_some("An image over 64 MiB keeps its size"))
    },
    doc: "Cut the image, or lengthen it with FF, to another number of bytes",
    takes: "SIZE",
    act: |app, typed| {
        let now = app.it().image().len().to_string();
        ask(app, &SIZE, typed, &now)
    },
    ..USUAL
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
static SIZE: Ask = Ask {
    title: "Bytes",
    remarks: |app, prompt| {
        let now = app.it().image().len();
        vec![match new_size(prompt.answer()) {
            Ok(size) if size < now => {
                (Tone::Doubt, format!("Enter cuts off the last {}", text::count(now - size, "byte")))
            }
            Ok(size) if size == now => (Tone::Plain, "The size it has".into()),
            Ok(size) => (Tone::Good, format!("Enter appends {} of FF", text::count(size - now, "byte"))),
            Err(why) => (Tone::Bad, why),
        }]
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let size = new_size(prompt.answer()).ok()?;
        match Change::resize(app.it().image(), size, GAP_FILL) {
            Ok(change) => {
                typing::make(app, change, "It has this size already");
                let at = app.it().cursor.at;
                app.it_mut().go(at);
            }
            Err(refused) => app.say(Tone::Bad, refused.what),
        }
        Some(Effect::None)
    },
};
