//! The keys in force: those of the table of commands, changed by what the user set.

use super::command::{self, Command, Where};
use super::input::{Code, Key};

/// Keys that the system takes away, or that arrive as another one: a byte below 0x20 is a Ctrl key, so Ctrl-I is Tab,
/// Ctrl-M is Enter, Ctrl-H is Backspace and Ctrl-[ is Esc (ECMA-48); Ctrl-J is a line feed in pastes; Ctrl-B leads a
/// multiplexer of terminals (common practice, no source).
const RESERVED: [(char, &str); 6] = [
    ('i', "arrives as Tab"),
    ('m', "arrives as Enter"),
    ('h', "arrives as Backspace"),
    ('[', "arrives as Esc"),
    ('j', "arrives as the end of a pasted line"),
    ('b', "is taken by multiplexers of terminals"),
];

/// Why a key never arrives as it is, in words behind its name; `None` for one that does.
#[must_use]
pub fn never_arrives(key: Key) -> Option<&'static str> {
    let Code::Char(c) = key.code else { return None };
    if key.shift {
        return Some("arrives as the character that it types; write that");
    }
    if key.ctrl && key.alt {
        return Some("arrives as the character that AltGr types");
    }
    RESERVED.iter().filter(|_| key.ctrl).find(|(reserved, _)| *reserved == c).map(|(_, why)| *why)
}

/// Which keys give which command.
#[derive(Clone)]
pub struct Keys {
    /// In the order of the table.
    rows: Vec<Bound>,
}

#[derive(Clone)]
struct Bound {
    command: &'static Command,
    keys: Vec<Key>,
    /// The user set them; they come before those of the table.
    is_own: bool,
}

impl Default for Keys {
    /// The keys of the table.
    fn default() -> Self {
        let bound = |command: &'static Command| {
            let keys = command.keys.iter().filter_map(|k| Key::parse(k)).collect();
            Bound { command, keys, is_own: false }
        };
        Keys { rows: command::all().map(bound).collect() }
    }
}

impl Keys {
    /// Gives a command other keys than the table does; none are allowed.
    pub fn set(&mut self, name: &str, keys: Vec<Key>) {
        if let Some(row) = self.rows.iter_mut().find(|b| b.command.name == name) {
            (row.keys, row.is_own) = (keys, true);
        }
    }

    /// The command that `key` gives at `place`, one place of [`Where::EACH`].
    #[must_use]
    pub fn command(&self, key: Key, place: Where) -> Option<&'static Command> {
        let given = |own: bool| {
            let row = |b: &&Bound| b.is_own == own && b.command.place.meets(place) && b.keys.contains(&key);
            self.rows.iter().find(row).map(|b| b.command)
        };
        given(true).or_else(|| given(false))
    }

    /// The keys of a command that give it at `place`, the one to teach first; of a command that is not valid there,
    /// those that give it somewhere.
    #[must_use]
    pub fn of(&self, command: &Command, place: Where) -> Vec<Key> {
        let Some(row) = self.rows.iter().find(|b| b.command.name == command.name) else { return Vec::new() };
        let gives = |key: &Key| {
            let there = Where::EACH.iter().map(|(each, _)| *each).filter(|each| command.place.meets(*each));
            there
                .filter(|each| *each == place || !command.place.meets(place))
                .any(|each| self.command(*key, each).is_some_and(|c| c.name == command.name))
        };
        row.keys.iter().copied().filter(gives).collect()
    }

    /// How a command is given, in a word: its first key, or the command line and its name.
    #[must_use]
    pub fn way(&self, command: &Command, place: Where) -> String {
        match self.of(command, place).first() {
            Some(key) => key.to_string(),
            None => {
                match command::by_name("commands").and_then(|c| self.of(c, Where::BYTES).first().copied()) {
                    Some(key) => format!("{key} {}", command.name),
                    None => command.name.to_owned(),
                }
            }
        }
    }

    /// A text of ours with the key in the place of each name of a command in curly brackets: `{undo} takes back`.
    #[must_use]
    pub fn fill(&self, text: &str) -> String {
        let mut filled = String::with_capacity(text.len());
        let mut rest = text;
        while let Some((before, after)) = rest.split_once('{') {
            filled.push_str(before);
            match after.split_once('}').and_then(|(name, after)| Some((command::by_name(name)?, after))) {
                Some((command, after)) => {
                    filled.push_str(&self.way(command, Where::BYTES));
                    rest = after;
                }
                None => {
                    filled.push('{');
                    rest = after;
                }
            }
        }
        filled.push_str(rest);
        filled
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(written: &str) -> Key {
        Key::parse(written).unwrap()
    }

    fn given(keys: &Keys, written: &str, place: Where) -> Option<&'static str> {
        keys.command(key(written), place).map(|c| c.name)
    }

    #[test]
    fn keys_of_the_user_come_before_those_of_the_table_and_only_where_their_command_is_valid() {
        let mut keys = Keys::default();
        assert_eq!(given(&keys, "Ctrl-F", Where::BYTES), Some("find"));
        keys.set("fill", vec![key("Ctrl-F"), key("F5")]);
        assert_eq!(given(&keys, "Ctrl-F", Where::BYTES), Some("fill"));
        assert_eq!(given(&keys, "Ctrl-F", Where::FIELDS), Some("find"));
        assert_eq!(given(&keys, "Ctrl-D", Where::BYTES), None, "what the table gave is gone");
        let find = command::by_name("find").unwrap();
        assert_eq!(keys.of(find, Where::BYTES), []);
        assert_eq!(keys.of(find, Where::FIELDS), [key("Ctrl-F")]);
        let fill = command::by_name("fill").unwrap();
        assert_eq!(keys.of(fill, Where::CHECKS), [key("Ctrl-F"), key("F5")], "somewhere it is valid");
    }

    #[test]
    fn texts_name_the_keys_in_force() {
        let mut keys = Keys::default();
        assert_eq!(keys.fill("{undo} takes back {here}"), "Ctrl-Z takes back {here}");
        keys.set("undo", vec![]);
        assert_eq!(keys.fill("{undo}"), "Ctrl-K undo");
        keys.set("commands", vec![key("F2")]);
        assert_eq!(keys.fill("{undo}{"), "F2 undo{");
    }
}
