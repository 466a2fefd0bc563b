//! Keys by command, and what they do to each other.

use std::collections::BTreeMap;

use super::Said;
use crate::notation::{Node, NodeValue, Problem, TextSpan, get};
use crate::report::text;
use crate::tui::command::{self, Command, Where};
use crate::tui::input::Key;
use crate::tui::keys::{Keys, never_arrives};

/// A key that the user gave to a command, and where that is written.
struct Given {
    command: &'static Command,
    key: Key,
    span: TextSpan,
}

pub(super) fn read(node: &Node, said: &mut Said) -> Keys {
    let mut keys = Keys::default();
    let Some(map) = get::map(node, "commands with their keys", &mut said.problems) else { return keys };
    let mut given: Vec<Given> = Vec::new();
    let mut set: BTreeMap<&str, TextSpan> = BTreeMap::new();
    for (name, written) in map {
        let Some(command) = command_of(name, &mut said.problems) else { continue };
        if set.insert(command.name, name.span).is_some() {
            let what = format!("{} stands here twice", command.name);
            said.problems.push(Problem::new(name.span, what, "each command once, with all its keys"));
            continue;
        }
        let mut own = Vec::new();
        for node in get::one_or_more(written) {
            let Some(key) = key_of(node, command, &mut said.problems) else { continue };
            if !own.contains(&key) {
                own.push(key);
                given.push(Given { command, key, span: node.span });
            }
        }
        keys.set(command.name, own);
    }
    conflicts(&given, &set, said);
    left_without(&keys, &given, &set, said);
    keys
}

fn command_of(node: &Node, problems: &mut Vec<Problem>) -> Option<&'static Command> {
    let typed = match &node.value {
        NodeValue::Text(name) | NodeValue::Word(name) => name.as_str(),
        _ => "",
    };
    let command = command::by_name(typed);
    if command.is_none() {
        let problem = Problem::new(
            node.span,
            format!("there is no command {}", node.shown()),
            "the name of a command of the editor, as its help and docs/keys.md list them",
        );
        problems.push(problem.suggest(typed, command::all().map(|c| c.name)));
    }
    command
}

fn key_of(node: &Node, command: &Command, problems: &mut Vec<Problem>) -> Option<Key> {
    let written = get::text(node, "a key", problems)?;
    let Some(key) = Key::parse(written) else {
        let problem = Problem::new(
            node.span,
            format!("{} is no key", node.shown()),
            "a key as \"Ctrl-F\", \"Shift-Down\", \"Alt-x\", \"F3\", \"PgUp\", \"Space\" or \"?\"",
        );
        problems.push(match likely(written) {
            Some(key) => problem.fix(format!("did you mean {key}?")),
            None => problem,
        });
        return None;
    };
    let refused = |why: String| Some(Problem::new(node.span, why, "another key"));
    let types = key.typed();
    let is_line = command.place.meets(Where::PROMPT.and(Where::FORM));
    let problem = if let Some(arrives) = never_arrives(key) {
        refused(format!("{key} {arrives}"))
    } else if types.is_some_and(|c| c.is_ascii_hexdigit()) && command.place.meets(Where::BYTES) {
        refused(format!("{key} is typed into the bytes, and cannot give {}", command.name))
    } else if types.is_some() && is_line {
        refused(format!("{key} is typed into a line, and cannot give {}", command.name))
    } else if types.is_some_and(char::is_alphabetic) && command.place.meets(Where::QUESTION) {
        refused(format!("{key} may be the letter of an answer, and cannot give {}", command.name))
    } else {
        None
    };
    let is_fit = problem.is_none();
    problems.extend(problem);
    is_fit.then_some(key)
}

/// The key that somebody meant who wrote it with other signs or in other cases: `ctrl+f`, `Control-F`, `pgdn`.
fn likely(written: &str) -> Option<Key> {
    const OTHERS: [(&str, &str); 6] = [
        ("control", "Ctrl"),
        ("ctrl", "Ctrl"),
        ("shift", "Shift"),
        ("alt", "Alt"),
        ("pageup", "PgUp"),
        ("pagedown", "PgDn"),
    ];
    let words: Vec<String> = written
        .split(['-', '+', ' '])
        .map(|word| {
            let other = OTHERS.iter().find(|(other, _)| word.eq_ignore_ascii_case(other));
            let named = || crate::tui::input::names().find(|name| name.eq_ignore_ascii_case(word));
            other.map(|(_, word)| *word).or_else(named).unwrap_or(word).to_owned()
        })
        .collect();
    Key::parse(&words.join("-"))
}

/// Places in words.
fn places(names: &[&'static str]) -> String {
    let mut panes = Where::EACH.iter().filter(|(place, _)| place.meets(Where::PANES));
    if panes.all(|(_, name)| names.contains(name)) { "every pane".into() } else { text::list(names) }
}

/// Tells each key that gives two commands of the user in one place, and each that takes a key away from a command
/// whose keys the user did not set.
fn conflicts(given: &[Given], set: &BTreeMap<&str, TextSpan>, said: &mut Said) {
    let table = Keys::default();
    for (at, one) in given.iter().enumerate() {
        let shared = |place: Where| -> Vec<&'static str> {
            let each =
                Where::EACH.iter().filter(|(each, _)| place.meets(*each) && one.command.place.meets(*each));
            each.map(|(_, name)| *name).collect()
        };
        for other in given.iter().take(at).filter(|o| o.key == one.key) {
            let where_both = shared(other.command.place);
            if !where_both.is_empty() {
                let (key, first, second) = (one.key, other.command.name, one.command.name);
                let what = format!("{key} is given to both {first} and {second} in {}", places(&where_both));
                said.problems.push(Problem::new(one.span, what, "a key for one command in each place"));
            }
        }
        let mut taken: BTreeMap<&str, Vec<&'static str>> = BTreeMap::new();
        for (place, name) in Where::EACH.iter().filter(|(place, _)| one.command.place.meets(*place)) {
            let before = table.command(one.key, *place).filter(|c| !set.contains_key(c.name));
            if let Some(before) = before {
                taken.entry(before.name).or_default().push(name);
            }
        }
        for (before, where_taken) in taken {
            let (key, now) = (one.key, one.command.name);
            let what = format!("{key} gives {now} in {}, and no longer {before}", places(&where_taken));
            let expected = format!("a key that is free there, or keys for {before} too");
            said.remarks.push(Problem::new(one.span, what, expected));
        }
    }
}

/// Tells each command that cannot be given any more where the command line cannot run it: those of dialogs, and the
/// command line itself.
fn left_without(keys: &Keys, given: &[Given], set: &BTreeMap<&str, TextSpan>, said: &mut Said) {
    for command in command::all().filter(|c| !c.is_for_panes() || c.name == "commands") {
        let lost = Where::EACH.iter().filter(|(place, _)| command.place.meets(*place));
        let Some((place, name)) = lost.into_iter().find(|(place, _)| keys.of(command, *place).is_empty())
        else {
            continue;
        };
        let thief = given.iter().find(|g| {
            g.command.place.meets(*place) && command.keys.iter().any(|k| Key::parse(k) == Some(g.key))
        });
        let span = set.get(command.name).copied().or(thief.map(|g| g.span)).unwrap_or_default();
        let what = format!("{} would have no key in {name}", command.name);
        said.problems.push(Problem::new(span, what, "at least one key that no other command takes"));
    }
}
