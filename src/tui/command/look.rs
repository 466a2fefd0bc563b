//! The screen: help, the command line, what is shown, the mouse.

use super::{Command, Where, always, help, prompt};
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
                    "Mouse on: a second click opens; with Shift the terminal selects text"
                } else {
                    "Mouse off: the terminal selects text"
                },
            );
            Effect::Mouse(app.mouse)
        },
    },
    Command {
        name: "settings",
        keys: &[],
        place: Where::PANES,
        obstacle: always,
        hint: "",
        doc: "Where colours and keys are set, and what stands against what is set there",
        takes: "",
        act: |app, _| {
            app.dialog = Some(Page::open(app, "Settings", &settings(app)));
            Effect::None
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

/// What the page of settings says.
fn settings(app: &App) -> Vec<Paragraph> {
    let source = &app.settings;
    let say = |tone, told: String| (tone, String::new(), told);
    let Some(path) = &source.path else {
        return vec![say(
            Tone::Plain,
            "The system names no folder for settings; --settings FILE names a file.".into(),
        )];
    };
    let mut page = vec![say(Tone::Strong, text::path(path))];
    if source.is_in_force {
        page.push(say(Tone::Good, "It is in force.".into()));
    } else if source.problems.is_empty() {
        let start = "There is no such file, so everything is as it comes. `readproof settings --start` writes one to \
                     start from, with every setting in it.";
        page.push(say(Tone::Plain, start.into()));
    } else {
        page.push(say(Tone::Bad, "Nothing of it is in force, because of this:".into()));
        page.extend(source.problems.iter().map(|line| say(Tone::Plain, line.clone())));
    }
    if !source.remarks.is_empty() {
        page.push(say(Tone::Doubt, "Worth a look:".into()));
        page.extend(source.remarks.iter().map(|line| say(Tone::Plain, line.clone())));
    }
    page.push(say(Tone::Quiet, "It is read when the editor starts.".into()));
    page
}
