//! The screen: help, the command line, what is shown, the mouse.

use super::{Command, TABLE, Where, always, by_name};
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Choice, Page, Paragraph, Prompt};
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
            app.dialog = Some(Page::open(app, "Help", &help(app)));
            Effect::None
        },
    },
];

/// What the marks on the screen mean.
const MARKS: &[(&str, &str)] = &[
    ("*", "differs from what was opened"),
    ("?", "belongs to a field whose value makes no sense"),
    ("!", "differs from the image beside it"),
    ("x", "a check that is broken"),
    ("--", "no byte is mapped at this address"),
    ("▁▂▅█", "in the strip at the top: blank, nearly blank, text, other bytes; ^ is the cursor"),
];

/// The help page: what is valid where the keys are now comes first.
fn help(app: &App) -> Vec<Paragraph> {
    let here = Where::now(app);
    let name = Where::EACH.iter().find(|(place, _)| *place == here).map_or("", |(_, name)| name);
    let plain = |told: &str| (Tone::Plain, String::new(), told.to_owned());
    let heading = |told: &str| (Tone::Accent, String::new(), told.to_owned());
    let mut page = vec![
        plain(&format!("The keys are in {name}; Tab gives them to the next pane.")),
        plain(
            "An image opens LOCKED. Nothing is ever written over the file it came from unless you type that \
             file's name.",
        ),
    ];
    let width = super::all().filter(|c| c.is_for_panes()).map(|c| keys(c).len()).max().unwrap_or(0);
    let entry = |row: &Command, told: String| {
        let tone = if (row.obstacle)(app).is_none() { Tone::Plain } else { Tone::Quiet };
        (tone, format!("{:width$}  ", keys(row)), told)
    };
    for (title, rows) in TABLE {
        let valid: Vec<&Command> = rows.iter().filter(|c| c.place.meets(here)).collect();
        if !valid.is_empty() {
            page.extend([plain(""), heading(title)]);
            page.extend(valid.iter().map(|row| entry(row, row.doc.into())));
        }
    }
    page.extend([plain(""), heading("Marks")]);
    page.extend(
        MARKS.iter().map(|(mark, told)| (Tone::Plain, format!("{mark:width$}  "), (*told).to_owned())),
    );
    page.extend([plain(""), heading("In other panes")]);
    let elsewhere = super::all().filter(|c| c.is_for_panes() && !c.place.meets(here));
    page.extend(elsewhere.map(|row| entry(row, format!("{} ({})", row.doc, row.place.words()))));
    page
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
            by_name(&prompt.given.options.first().filter(|_| !name.is_empty())?.text)
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
