//! The screen: help, the command line, what is shown, the mouse.

use super::{Command, TABLE, Where, always, by_name};
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Choice, Dialog, Page, Prompt, Remark};
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
        act: |app, _| {
            app.dialog = Some(Prompt::open(app, &COMMAND, "", ""));
            Effect::None
        },
    },
    Command {
        name: "alone",
        keys: &["w"],
        place: Where::PANES,
        obstacle: always,
        hint: "",
        doc: "Show only the pane that has the keys, or the others too",
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
        act: |_, _| Effect::Redraw,
    },
    Command {
        name: "suspend",
        keys: &[],
        place: Where::PANES,
        obstacle: always,
        hint: "",
        doc: "Back to the shell until fg brings the editor back",
        act: |_, _| Effect::Suspend,
    },
    Command {
        name: "help",
        keys: &["?", "F1"],
        place: Where::PANES,
        obstacle: always,
        hint: "help",
        doc: "Every key and command on a page",
        act: |app, _| {
            app.dialog = Some(Dialog::Page(Page { title: "Help".into(), lines: help(app), top: 0 }));
            Effect::None
        },
    },
];

/// The help page: what is valid where the keys are now comes first.
fn help(app: &App) -> Vec<Remark> {
    let here = Where::now(app);
    let name = Where::EACH.iter().find(|(place, _)| *place == here).map_or("", |(_, name)| name);
    let mut lines = vec![
        (Tone::Plain, format!("The keys are in {name}. An image opens LOCKED; nothing is ever written")),
        (Tone::Plain, "over the file it came from unless you type that file's name.".into()),
    ];
    let width = super::all().filter(|c| c.is_for_panes()).map(|c| keys(c).len()).max().unwrap_or(0);
    for (heading, rows) in TABLE {
        let valid: Vec<&Command> = rows.iter().filter(|c| c.place.meets(here)).collect();
        if valid.is_empty() {
            continue;
        }
        lines.push((Tone::Plain, String::new()));
        lines.push((Tone::Accent, (*heading).into()));
        for row in valid {
            let tone = if (row.obstacle)(app).is_none() { Tone::Plain } else { Tone::Quiet };
            lines.push((tone, format!("{:width$}  {}", keys(row), row.doc)));
        }
    }
    let elsewhere: Vec<&Command> =
        super::all().filter(|c| c.is_for_panes() && !c.place.meets(here)).collect();
    if !elsewhere.is_empty() {
        lines.push((Tone::Plain, String::new()));
        lines.push((Tone::Accent, "In other panes".into()));
        for row in elsewhere {
            lines.push((Tone::Plain, format!("{:width$}  {} ({})", keys(row), row.doc, row.place.words())));
        }
    }
    lines
}

fn keys(command: &Command) -> String {
    if command.keys.is_empty() { format!("Ctrl-K {}", command.name) } else { command.keys.join(" ") }
}

/// The command line: every command with its keys and whether it is possible now.
static COMMAND: Ask = Ask {
    title: "Command",
    remarks: |app, prompt| {
        let (name, _) = parts(prompt);
        match by_name(name) {
            Some(row) => vec![match (row.obstacle)(app) {
                None => (Tone::Quiet, row.doc.into()),
                Some(why) => (Tone::Doubt, why.into()),
            }],
            None => vec![(Tone::Quiet, "a name, and behind it what it needs: go-to 0040".into())],
        }
    },
    options: |app, typed| {
        let (name, argument) = typed.trim_start().split_once(' ').unwrap_or((typed.trim_start(), ""));
        let mut rows: Vec<(usize, &Command)> = super::all()
            .filter(|c| c.is_for_panes())
            .filter_map(|c| distance(name, c).map(|d| (d, c)))
            .filter(|(_, c)| argument.is_empty() || c.name == name)
            .collect();
        rows.sort_by_key(|(d, _)| *d);
        rows.iter()
            .map(|(_, c)| Choice {
                text: c.name.into(),
                detail: (c.obstacle)(app).unwrap_or(c.doc).into(),
                aside: c.keys.join(" "),
                possible: (c.obstacle)(app).is_none(),
            })
            .collect()
    },
    submit: |app, prompt| {
        let (name, argument) = parts(&prompt);
        let meant = by_name(name).filter(|c| c.is_for_panes()).or_else(|| {
            // What was typed is the beginning or a part of the first choice.
            by_name(&prompt.options.first().filter(|_| !name.is_empty())?.text)
        });
        match meant {
            Some(command) => {
                let argument = argument.to_owned();
                command.run(app, &argument)
            }
            None if name.is_empty() => Effect::None,
            None => {
                app.say(Tone::Bad, format!("There is no command {name:?}"));
                Effect::None
            }
        }
    },
};

fn parts(prompt: &Prompt) -> (&str, &str) {
    let answer = prompt.answer().trim();
    answer.split_once(' ').map_or((answer, ""), |(name, argument)| (name, argument.trim()))
}

/// How far `typed` is from naming the command: its beginning, a part of it, its letters in order; `None` when not
/// even those.
fn distance(typed: &str, command: &Command) -> Option<usize> {
    let typed = typed.to_lowercase();
    if command.name.starts_with(&typed) {
        return Some(0);
    }
    if command.name.contains(&typed) {
        return Some(1);
    }
    let mut letters = command.name.chars();
    if typed.chars().all(|c| letters.any(|l| l == c)) {
        return Some(2);
    }
    command.doc.to_lowercase().contains(&typed).then_some(3)
}
