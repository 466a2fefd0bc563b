//! The commands of the user: one row each. Key dispatch, the hint line, the help page, the command prompt and
//! `docs/keys.md` all read this table and nothing else.

mod annotate;
mod change;
mod clipboard;
mod dialogs;
mod disk;
mod file;
mod file_name;
mod fill;
mod find;
mod help;
mod layouts;
mod leave;
mod look;
mod moving;
mod picture;
mod places;
mod prompt;
mod proposals;
mod readings;
mod resize;
mod review;
mod sealing;
mod surveying;
mod twin;
mod valid;

pub use dialogs::{give_reply, paste_into_line, press_in_dialog, turn_wheel, type_into_line};
pub use disk::ask_about_file;
pub use file::ask_replace;
pub use find::{Places, places};
pub use layouts::layout_saved;
pub use leave::{GivenUp, leave};
pub use moving::{rows_of, step_list};
pub use valid::Where;

use super::app::App;
use super::dialog::{Ask, Prompt};
use super::effect::Effect;

/// One command of the user.
pub struct Command {
    /// Its name, as typed in the command prompt.
    pub name: &'static str,
    /// The keys that give it unless the user sets others, the one to teach first.
    pub keys: &'static [&'static str],
    /// Where its keys are valid.
    pub place: Where,
    /// Why it is not possible now, with commands in curly brackets for their keys; `None` when it is.
    pub obstacle: fn(&App) -> Option<&'static str>,
    /// The word in the hint line; empty when it is not shown there.
    pub hint: &'static str,
    /// What it does, in one line.
    pub doc: &'static str,
    /// What may stand behind its name in the command prompt, in capitals; empty when nothing may.
    pub takes: &'static str,
    /// Does it. The text is what stands behind its name in the command prompt; empty when a key gave it.
    pub act: fn(&mut App, &str) -> Effect,
}

impl Command {
    /// Why it is not possible now, in words for the screen; `None` when it is.
    #[must_use]
    pub fn refusal(&self, app: &App) -> Option<String> {
        (self.obstacle)(app).map(|why| app.keys.fill(why))
    }

    /// Whether it belongs to the panes, and so to the command prompt.
    #[must_use]
    pub fn is_for_panes(&self) -> bool {
        self.place.meets(Where::PANES)
    }

    /// Does it, or says why it is not possible.
    pub fn run(&self, app: &mut App, argument: &str) -> Effect {
        match self.refusal(app) {
            None => (self.act)(app, argument),
            Some(why) => {
                app.say(super::theme::Tone::Doubt, why);
                Effect::None
            }
        }
    }
}

/// What a row of the table does not say: valid in every pane and always possible, without keys, hint or argument.
const USUAL: Command = Command {
    name: "",
    keys: &[],
    place: Where::PANES,
    obstacle: |_| None,
    hint: "",
    doc: "",
    takes: "",
    act: |_, _| Effect::None,
};

/// A row of which there is nothing more to say.
const fn row(
    place: Where,
    name: &'static str,
    keys: &'static [&'static str],
    doc: &'static str,
    act: fn(&mut App, &str) -> Effect,
) -> Command {
    Command { place, name, keys, doc, act, ..USUAL }
}

/// Opens a prompt with what was typed behind the command's name, else with what is suggested.
fn ask(app: &mut App, ask: &'static Ask, typed: &str, suggested: &str) -> Effect {
    let text = if typed.is_empty() { suggested } else { typed };
    app.dialog = Some(Prompt::open(app, ask, text));
    Effect::None
}

/// The table, in the order of the help page: heading and rows.
pub const TABLE: &[(&str, &[Command])] = &[
    ("Files", file::ROWS),
    ("Changing", change::ROWS),
    ("Copying and pasting", clipboard::ROWS),
    ("Describing", annotate::ROWS),
    ("Finding places", places::ROWS),
    ("Two images side by side", twin::ROWS),
    ("The screen", look::ROWS),
    ("Moving", moving::ROWS),
    ("Lines, questions and pages", dialogs::ROWS),
];

/// Every command.
pub fn all() -> impl Iterator<Item = &'static Command> {
    TABLE.iter().flat_map(|(_, rows)| rows.iter())
}

/// The command called `name`.
#[must_use]
pub fn by_name(name: &str) -> Option<&'static Command> {
    all().find(|c| c.name == name)
}

/// Why a locked image is not changed.
pub const LOCKED: &str = "LOCKED: press {unlock} to unlock this image before changing it";

/// Possible once the image is unlocked.
fn unlocked(app: &App) -> Option<&'static str> {
    app.it().locked.then_some(LOCKED)
}

/// Possible with a layout in force.
fn has_layout(app: &App) -> Option<&'static str> {
    app.it()
        .layout()
        .is_none()
        .then_some("No layout is in force for this image; the command layout reads one")
}

/// `docs/keys.md`: the table as a page of Markdown.
#[must_use]
pub fn manual() -> String {
    use std::fmt::Write as _;
    let mut page = String::from(
        "# Keys and commands of the editor\n\n\
         Made from the program's own table of commands; a test compares the two.\n\n\
         Ctrl-K opens the command line: type a part of a name, and Enter runs the command that is marked; Tab \
         completes its name. Where a name is followed by a word in capitals, what stands behind it there is its \
         argument: `go-to 0x0040`, `fill FF`. Every command of the panes is there, so no key is ever needed for \
         one; letters given as keys type a character in the text column of an unlocked image instead.\n\n\
         Other keys are set in the file that `readproof settings` names; [settings.md](settings.md) tells how.\n\n\
         What is copied is kept as bytes for Ctrl-V and sent to the terminal as text (OSC 52), which may or may not put \
         it on a clipboard and does not tell; more than 64 KiB of text are not sent. A paste from the terminal goes into \
         the bytes at the cursor, as one step of undo, and is never a command. In the column of digits it may be written \
         in any usual way: `46 4B`, `464B`, `46,4B`, `46:4B`, `0x46, 0x4B`, `\\x46\\x4B`, `46h 4Bh`, lines of a dump. \
         Addresses and the text column of a dump, comments, and words around values marked with 0x are left out, which \
         is told; what can be read in two ways, and records of Intel HEX or S-record files, are refused. A paste has at \
         most 1 MiB of text, a line of a dialog 4096 bytes.\n",
    );
    for (heading, rows) in TABLE {
        let _ =
            write!(page, "\n## {heading}\n\n| command | keys | where | does |\n| --- | --- | --- | --- |\n");
        for row in *rows {
            let keys: Vec<String> = row.keys.iter().map(|k| format!("`{k}`")).collect();
            let name = format!("{} {}", row.name, row.takes);
            let _ = writeln!(
                page,
                "| `{}` | {} | {} | {} |",
                name.trim_end(),
                keys.join(" "),
                row.place.words(),
                row.doc
            );
        }
    }
    page
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::tui::input::{Code, Key};
    use crate::tui::keys::never_arrives;

    #[test]
    fn every_command_has_a_name_of_its_own_in_plain_words() {
        let mut names: Vec<&str> = all().map(|c| c.name).collect();
        assert!(names.iter().all(|n| n.chars().all(|c| c.is_ascii_lowercase() || c == '-')), "{names:?}");
        names.sort_unstable();
        let many = names.len();
        names.dedup();
        assert_eq!(names.len(), many, "a name is used twice");
    }

    #[test]
    fn every_key_can_be_read_and_gives_one_command_in_one_place() {
        for (place, name) in Where::EACH {
            let mut given: BTreeMap<Key, &str> = BTreeMap::new();
            for command in all().filter(|c| c.place.meets(place)) {
                for written in command.keys {
                    let key = Key::parse(written).unwrap_or_else(|| panic!("{written:?} is no key"));
                    assert_eq!(key.to_string(), *written, "it is written in another way");
                    let before = given.insert(key, command.name);
                    assert_eq!(before, None, "{written} gives {} in {name} too", command.name);
                }
            }
        }
    }

    #[test]
    fn every_command_says_what_it_does_in_one_short_line() {
        for command in all() {
            let doc = command.doc;
            assert!((10..=100).contains(&doc.chars().count()), "{}: {doc:?}", command.name);
            assert!(doc.starts_with(char::is_uppercase) && !doc.ends_with('.'), "{}: {doc:?}", command.name);
            assert!(command.hint.chars().count() <= 14, "{}: {:?}", command.name, command.hint);
        }
    }

    #[test]
    fn no_command_uses_a_key_that_does_not_arrive() {
        for command in all() {
            for written in command.keys {
                let key = Key::parse(written).unwrap();
                assert_eq!(never_arrives(key), None, "{}: {written}", command.name);
                assert!(!key.alt, "{}: {written}", command.name);
            }
        }
    }

    #[test]
    fn no_command_needs_a_function_key() {
        for command in all().filter(|c| !c.is_for_panes()) {
            let plain = command.keys.iter().any(|k| !matches!(Key::parse(k).unwrap().code, Code::F(_)));
            assert!(plain, "{} has function keys only, and the command line does not run it", command.name);
        }
    }

    #[test]
    fn no_digit_is_a_command_where_digits_are_typed() {
        for command in all().filter(|c| c.place.meets(Where::BYTES)) {
            for written in command.keys {
                let digit = Key::parse(written).unwrap().typed().is_some_and(|c| c.is_ascii_hexdigit());
                assert!(!digit, "{}: {written}", command.name);
            }
        }
    }

    #[test]
    fn letters_as_keys_change_no_byte() {
        let letters = all().filter(|c| c.keys.iter().any(|k| Key::parse(k).unwrap().typed().is_some()));
        let harmless = [
            "help",
            "close",
            "mouse",
            "alone",
            "twin",
            "select-place",
            "reseal",
            "scroll-page-down",
            "only-differences",
            "other-side",
            "line-up",
            // These change the layout only.
            "describe",
            "make-table",
            "split-field",
            "remove-field",
            "next-undescribed",
            "previous-undescribed",
            "survey",
            "accept-proposal",
            "accept-sure",
            "reject-proposal",
            "describe-layout",
        ];
        for command in letters {
            assert!(harmless.contains(&command.name), "{}", command.name);
        }
    }
}
