//! The screen: help, the command line, what is shown, the mouse.

use super::{Command, Where, always, help, prompt};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "commands",
        keys: &["Ctrl-K"],
        place: Where::PANES,
        obstacle: always,
        hint: "commands",
        doc: "Choose a command by its name",
        takes: "",
        act: |app, _| prompt::open(app),
    },
    Command {
        name: "alone",
        keys: &["w"],
        place: Where::PANES,
        obstacle: always,
        hint: "",
        doc: "Show only the pane that has the keys, or the others too",
        takes: "",
        act: |app, _| {
            app.alone = !app.alone;
            Effect::None
        },
    },
    Command {
        name: "mouse",
        keys: &["m"],
        place: Where::PANES,
        obstacle: always,
        hint: "",
        doc: "Let the mouse place the cursor, select and scroll; off, the terminal selects text itself",
        takes: "",
        act: |app, _| {
            app.mouse = !app.mouse;
            app.say(
                Tone::Plain,
                if app.mouse {
                    "Mouse on: click places, drag selects, wheel scrolls; with Shift the terminal selects text"
                } else {
                    "Mouse off: the terminal selects text"
                },
            );
            Effect::Mouse(app.mouse)
        },
    },
    Command {
        name: "redraw",
        keys: &["Ctrl-L"],
        place: Where::PANES,
        obstacle: always,
        hint: "",
        doc: "Paint the whole screen again",
        takes: "",
        act: |_, _| Effect::Redraw,
    },
    Command {
        name: "suspend",
        keys: &[],
        place: Where::PANES,
        obstacle: always,
        hint: "",
        doc: "Back to the shell until fg brings the editor back",
        takes: "",
        act: |_, _| Effect::Suspend,
    },
    Command {
        name: "help",
        keys: &["?", "F1"],
        place: Where::PANES,
        obstacle: always,
        hint: "help",
        doc: "Every key and command on a page, those of this pane first; type to search it",
        takes: "",
        act: |app, _| help::open(app),
    },
];
