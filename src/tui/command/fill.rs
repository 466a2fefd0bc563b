//! The selected bytes filled with a value or a pattern.

use super::{Command, USUAL, Where, ask, unlocked};
use crate::report::text;
use crate::tui::dialog::Ask;
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// The row of the table.
pub(super) const FILL: Command = Command {
    name: "fill",
    keys: &["Ctrl-D"],
    place: Where::BYTES,
    obstacle: unlocked,
    doc: "Fill the selected bytes with a value or a pattern",
    takes: "BYTES",
    act: |app, typed| ask(app, &PATTERN, typed, "FF"),
    ..USUAL
};

/// What fills the selected bytes.
static PATTERN: Ask = Ask {
    title: "Fill with",
    remarks: |app, prompt| {
        let place = text::place(app.it().selection(), app.it().image().base());
        let outcome = match typing::digits(prompt.answer()) {
            Ok(pattern) => (Tone::Good, format!("Enter fills with {}", text::hex_short(&pattern, 16))),
            Err(why) => (Tone::Bad, why),
        };
        vec![(Tone::Quiet, format!("at {place}: hexadecimal digits, repeated")), outcome]
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let pattern = typing::digits(prompt.answer()).ok()?;
        let span = app.it().selection();
        if !typing::is_too_much(app, span.len()) {
            let bytes: Vec<u8> = pattern.iter().copied().cycle().take(span.len()).collect();
            let (many, with) = (text::count(span.len(), "byte"), text::hex_short(&pattern, 4));
            typing::put(app, span.start, &bytes, format!("filled {many} with {with}"));
        }
        Some(Effect::None)
    },
};
