//! The screen: help, the command line, what is shown, the mouse.

use super::{Command, USUAL, help, prompt};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{Page, Paragraph};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "commands",
        keys: &["Ctrl-K"],
        hint: "commands",
        doc: "Choose a command by its name",
        act: |app, _| prompt::open(app),
        ..USUAL
    },
    Command {
        name: "alone",
        keys: &["w"],
        doc: "Show only the pane that has the keys, or the others too",
        act: |app, _| {
            app.panes.alone = !app.panes.alone;
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "mouse",
        keys: &["m"],
        doc: "Let the mouse place the cursor, select and scroll; off, the terminal selects text itself",
        act: |app, _| {
            app.mouse = !app.mouse;
            app.say(
                Tone::Plain,
                if app.mouse {
                    "Mouse on: a second click opens; with Shift the terminal selects text"
                } else {
                    "Mouse off: the terminal selects text"
                },
            );
            Effect::Mouse(app.mouse)
        },
        ..USUAL
    },
    Command {
        name: "settings",
        doc: "Where colours and keys are set, and what stands against what is set there",
        act: |app, _| {
            app.dialog = Some(Page::open(app, "Settings", settings(app)));
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "redraw",
        keys: &["Ctrl-L"],
        doc: "Paint the whole screen again",
        act: |_, _| Effect::Redraw,
        ..USUAL
    },
    Command {
        name: "suspend",
        doc: "Back to the shell until fg brings the editor back",
        act: |_, _| Effect::Suspend,
        ..USUAL
    },
    Command {
        name: "help",
        keys: &["?", "F1"],
        hint: "help",
        doc: "Every key and command on a page, those of this pane first; type to search it",
        act: |app, _| help::open(app),
        ..USUAL
    },
];

/// What the page of settings says.
fn settings(app: &App) -> Vec<Paragraph> {
    let source = &app.settings;
    let Some(path) = &source.path else {
        let told = "The system names no folder for settings; --settings FILE names a file.";
        return vec![Paragraph::new(Tone::Plain, told)];
    };
    let mut page = vec![Paragraph::new(Tone::Strong, text::path(path))];
    if source.is_in_force {
        page.push(Paragraph::new(Tone::Good, "It is in force."));
    } else if source.problems.is_empty() {
        let start = "There is no such file, so everything is as it comes. `readproof settings --start` writes one to \
                     start from, with every setting in it.";
        page.push(Paragraph::new(Tone::Plain, start));
    } else {
        page.push(Paragraph::new(Tone::Bad, "Nothing of it is in force, because of this:"));
        page.extend(source.problems.iter().map(|line| Paragraph::new(Tone::Plain, line.clone())));
    }
    if !source.remarks.is_empty() {
        page.push(Paragraph::new(Tone::Doubt, "Worth a look:"));
        page.extend(source.remarks.iter().map(|line| Paragraph::new(Tone::Plain, line.clone())));
    }
    page.push(Paragraph::new(Tone::Quiet, "It is read when the editor starts."));
    page
}
