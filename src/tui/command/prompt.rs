//! The command line: every command of the panes with its keys, and whether it is possible now. What is marked runs.

use super::{Command, Where};
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Choice, Prompt};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

/// Opens it.
pub(super) fn open(app: &mut App) -> Effect {
    app.dialog = Some(Prompt::marking(app, &COMMAND));
    Effect::None
}

static COMMAND: Ask = Ask {
    title: "Command",
    remarks: |app, prompt| {
        let line = prompt.given.line.text().trim();
        let Some(command) = marked(prompt) else {
            let told = if line.is_empty() {
                "Type a part of a name, or mark one"
            } else {
                "No command is called so"
            };
            return vec![(Tone::Quiet, told.into())];
        };
        let (name, takes) = (command.name, command.takes);
        let argument = argument(line, command);
        vec![match (command.refusal(app), argument, takes) {
            (Some(why), ..) => (Tone::Doubt, format!("Not now. {why}")),
            (None, "", "") => (Tone::Plain, format!("Enter runs {name}")),
            (None, "", takes) => {
                (Tone::Plain, format!("Enter runs {name}; {takes} may stand behind the name"))
            }
            (None, argument, "") => {
                (Tone::Bad, format!("{name} takes nothing; take {argument:?} out of the line"))
            }
            (None, argument, takes) => (Tone::Plain, format!("Enter runs {name} with {takes} {argument:?}")),
        }]
    },
    options: |app, typed| {
        let here = Where::now(app);
        let mut rows: Vec<(Nearness, &Command)> = super::all()
            .filter(|c| c.is_for_panes())
            .filter_map(|c| Some((nearness(typed.trim_start(), c)?, c)))
            .collect();
        rows.sort_by_key(|(near, _)| *near);
        rows.iter()
            .map(|(_, c)| {
                let refusal = c.refusal(app);
                let keys: Vec<String> = app.keys.of(c, here).iter().map(ToString::to_string).collect();
                Choice {
                    // What is completed can be typed on where something may follow.
                    text: if c.takes.is_empty() { c.name.into() } else { format!("{} ", c.name) },
                    possible: refusal.is_none(),
                    detail: refusal.map_or_else(|| c.doc.into(), |why| format!("not now: {why}")),
                    aside: keys.join(" "),
                }
            })
            .collect()
    },
    submit: |app, prompt| {
        let command = marked(prompt)?;
        let argument = argument(prompt.given.line.text().trim(), command);
        (!command.takes.is_empty() || argument.is_empty()).then(|| command.run(app, argument))
    },
};

fn marked(prompt: &Prompt) -> Option<&'static Command> {
    super::by_name(prompt.given.marked()?.text.trim())
}

/// What stands behind the first word of the line, when that word is what leads to the command.
fn argument<'a>(line: &'a str, command: &Command) -> &'a str {
    match line.split_once(char::is_whitespace) {
        Some((name, rest)) if by_name_of(name, command).is_some() => rest.trim(),
        _ => "",
    }
}

/// How a line leads to a command; the nearest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Nearness {
    /// It is its name.
    Name,
    /// It is the beginning of its name.
    Beginning,
    /// It is the beginning of another word of its name.
    Word,
    /// It is a part of its name.
    Part,
    /// It stands in what the command does.
    Doc,
}

fn by_name_of(typed: &str, command: &Command) -> Option<Nearness> {
    let typed = typed.to_lowercase();
    let words = || command.name.match_indices('-').filter_map(|(at, _)| command.name.get(at + 1..));
    if command.name == typed {
        Some(Nearness::Name)
    } else if command.name.starts_with(&typed) {
        Some(Nearness::Beginning)
    } else if words().any(|rest| rest.starts_with(&typed)) {
        Some(Nearness::Word)
    } else {
        command.name.contains(&typed).then_some(Nearness::Part)
    }
}

fn nearness(line: &str, command: &Command) -> Option<Nearness> {
    let name = line.split_whitespace().next().unwrap_or_default();
    let has_argument = line.trim_end() != name;
    // Behind a name there may be anything; what only resembles a name, and has more behind it, is a few words.
    let takes = |n: Nearness| n == Nearness::Name || (n == Nearness::Beginning && !command.takes.is_empty());
    let by_name = by_name_of(name, command).filter(|n| !has_argument || takes(*n));
    let line = line.trim_end().to_lowercase();
    by_name
        .or_else(|| (line.len() > 1 && command.doc.to_lowercase().contains(&line)).then_some(Nearness::Doc))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ranked(line: &str) -> Vec<&'static str> {
        let rows = super::super::all().filter(|c| c.is_for_panes());
        let mut rows: Vec<_> = rows.filter_map(|c| Some((nearness(line, c)?, c.name))).collect();
        rows.sort_by_key(|(near, _)| *near);
        rows.into_iter().map(|(_, name)| name).collect()
    }

    #[test]
    fn an_exact_name_comes_first_then_beginnings_then_words_then_parts_then_what_commands_do() {
        assert_eq!(ranked("layout")[..3], ["layout", "reload-layout", "draft-layout"]);
        assert_eq!(ranked("re")[..3], ["review", "reload-layout", "redo"]);
        let rows = ranked("seal");
        assert_eq!(rows[..2], ["reseal", "reseal-all"]);
        assert_eq!(ranked("take back")[0], "undo", "a few words of what it does");
        assert!(ranked("zzz").is_empty());
    }

    #[test]
    fn what_stands_behind_a_name_is_its_argument() {
        let go_to = super::super::by_name("go-to").unwrap();
        assert_eq!(ranked("go-to 0040"), ["go-to"]);
        assert_eq!(ranked("go 0040"), ["go-to"], "go-there takes none");
        assert_eq!(argument("go  settings.setpoint", go_to), "settings.setpoint");
        assert_eq!(argument("an address", go_to), "", "words of what it does are none");
    }
}
