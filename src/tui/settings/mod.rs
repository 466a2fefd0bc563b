//! What a user sets for the editor, once: background, glyphs, mouse, colours, keys. One file, read with every
//! problem and its place like a layout; with a problem in it nothing of it is in force.

mod bindings;
mod colours;
mod starter;

use std::path::{Path, PathBuf};

pub use starter::text as starting_text;

use super::keys::Keys;
use super::theme::{Ground, Theme};
use crate::layout::{Remark, RemarkWeight};
use crate::notation::{self, Entries, Lines, Problem, TextSpan, get};
use crate::report::text;
use crate::store;

/// The version of the form of the file.
pub const VERSION: u32 = 1;

/// The longest file, in bytes; the longest sensible one has a line for each command and tone.
pub const MAX_TEXT: usize = 1 << 18;

/// What the user set.
#[derive(Clone, Default)]
pub struct Settings {
    /// Background of the terminal.
    pub ground: Ground,
    /// Draw with ASCII characters only.
    pub ascii: bool,
    /// Let the mouse place the cursor, select and scroll.
    pub mouse: bool,
    /// Colours.
    pub theme: Theme,
    /// Which keys give which command.
    pub keys: Keys,
}

/// What the editor knows of the file of settings.
#[derive(Clone, Default)]
pub struct Source {
    /// The file; `None` where the system names no folder for it.
    pub path: Option<PathBuf>,
    /// What stands against it, a line each; then nothing of it is in force.
    pub problems: Vec<String>,
    /// What is worth a look in it, a line each.
    pub remarks: Vec<String>,
    /// It was there and is in force.
    pub is_in_force: bool,
}

const GROUNDS: [(&str, Ground); 3] = [("Any", Ground::Any), ("Dark", Ground::Dark), ("Light", Ground::Light)];
const GLYPHS: [(&str, bool); 2] = [("All", false), ("Ascii", true)];

/// The settings of the user, or of the file that was named for them. Nothing that stands against them is in the way of
/// the editor: it then has everything as it comes, and says so.
#[must_use]
pub fn in_force(named: Option<&Path>) -> (Settings, Source) {
    let mut source =
        Source { path: named.map(Path::to_owned).or_else(store::settings_path), ..Source::default() };
    let Some(path) = &source.path else { return (Settings::default(), source) };
    // The whole path stands on the page of settings; a line has no room for it.
    let told = text::path(Path::new(path.file_name().unwrap_or(path.as_os_str())));
    let settings = match store::settings(path) {
        Ok(None) => {
            source.problems.extend(named.map(|_| format!("{told}: there is no such file")));
            None
        }
        Err(error) => {
            source.problems.push(format!("{told}: {}", error.what));
            None
        }
        Ok(Some(text)) => {
            let (settings, remarks) = read(&text);
            let lines = Lines::of(&text);
            for remark in &remarks {
                let kept = match remark.weight {
                    RemarkWeight::Problem => &mut source.problems,
                    RemarkWeight::Remark => &mut source.remarks,
                };
                kept.push(remark.problem.line(&told, &lines));
            }
            source.is_in_force = settings.is_some();
            settings
        }
    };
    (settings.unwrap_or_default(), source)
}

/// Reads the text of a file: the settings when it has no problem, and everything there is to say about it in the
/// order of its places.
#[must_use]
pub fn read(text: &str) -> (Option<Settings>, Vec<Remark>) {
    let mut said = Said::default();
    let settings = read_into(text, &mut said);
    let all = [(said.problems, RemarkWeight::Problem), (said.remarks, RemarkWeight::Remark)];
    let mut remarks: Vec<Remark> = all
        .into_iter()
        .flat_map(|(problems, weight)| problems.into_iter().map(move |problem| Remark { weight, problem }))
        .collect();
    remarks.sort_by_key(|r| r.problem.span);
    remarks.truncate(notation::MAX_PROBLEMS);
    let is_good = remarks.iter().all(|r| r.weight == RemarkWeight::Remark);
    (settings.filter(|_| is_good), remarks)
}

/// What is said about a text.
#[derive(Default)]
struct Said {
    problems: Vec<Problem>,
    remarks: Vec<Problem>,
}

fn read_into(text: &str, said: &mut Said) -> Option<Settings> {
    let problems = &mut said.problems;
    if text.len() > MAX_TEXT {
        let what = format!("the settings are {} bytes long", text.len());
        problems.push(Problem::new(TextSpan::new(0, 0), what, format!("at most {MAX_TEXT} bytes")));
        return None;
    }
    let node = match notation::parse(text) {
        Ok(node) => node,
        Err(found) => {
            problems.extend(found);
            return None;
        }
    };
    let mut entries = Entries::of(&node, "the settings", problems)?;
    if let Some(version) = entries.required("settings", problems) {
        get::int(version, VERSION..=VERSION, "the version of this form of settings", problems);
    }
    let ground = entries.optional("ground").and_then(|n| get::word(n, &GROUNDS, "a background", problems));
    let ascii = entries.optional("glyphs").and_then(|n| get::word(n, &GLYPHS, "a set of glyphs", problems));
    let mouse = entries.optional("mouse").and_then(|n| get::boolean(n, problems));
    let (theme, keys) = (entries.optional("theme"), entries.optional("keys"));
    entries.finish(problems);
    let ground = ground.unwrap_or_default();
    let mut settings = Settings {
        ground,
        ascii: ascii.unwrap_or_default(),
        mouse: mouse.unwrap_or_default(),
        ..Settings::default()
    };
    if let Some(theme) = theme {
        settings.theme = colours::read(theme, ground, said);
    }
    if let Some(keys) = keys {
        settings.keys = bindings::read(keys, said);
    }
    Some(settings)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::command::{self, Where};
    use crate::tui::input::Key;
    use crate::tui::theme::{Depth, Look, Tone};

    /// Everything that is said, a line each; remarks after `remark `.
    fn said(text: &str) -> Vec<String> {
        let lines = Lines::of(text);
        let line = |r: &Remark| {
            let weight = if r.weight == RemarkWeight::Remark { "remark " } else { "" };
            format!("{weight}{}", r.problem.line("s", &lines))
        };
        read(text).1.iter().map(line).collect()
    }

    #[track_caller]
    fn complains(text: &str, expected: &str) {
        let said = said(text);
        assert!(said.iter().any(|line| line.contains(expected)), "{text}\n{said:#?}");
        assert!(read(text).0.is_none(), "{text}: in force with a problem");
    }

    #[track_caller]
    fn remarks(text: &str, expected: &str) {
        let said = said(text);
        let told = said.iter().any(|line| line.starts_with("remark ") && line.contains(expected));
        assert!(told, "{text}\n{said:#?}");
        assert!(read(text).0.is_some(), "{text}\n{said:#?}");
    }

    #[test]
    fn what_is_set_is_in_force_and_the_rest_stays_as_it_is() {
        let text = r##"(settings: 1, ground: Light, glyphs: Ascii, mouse: true,
            theme: (accent: "#4B2E83", good: BrightBlue, bad: None), keys: {"find": ["F3", "Ctrl-F"], survey: []})"##;
        let (settings, remarks) = read(text);
        assert_eq!(remarks, []);
        let settings = settings.unwrap();
        assert_eq!((settings.ground, settings.ascii, settings.mouse), (Ground::Light, true, true));
        let look = Look { depth: Depth::Full, theme: settings.theme, ..Look::default() };
        assert_eq!(look.style(Tone::Accent).fg, Some(ratatui::style::Color::Rgb(0x4B, 0x2E, 0x83)));
        assert_eq!(look.style(Tone::Good).fg, Some(ratatui::style::Color::LightBlue));
        assert_eq!(look.style(Tone::Bad).fg, None);
        let gives = |key: &str| settings.keys.command(Key::parse(key).unwrap(), Where::BYTES).map(|c| c.name);
        assert_eq!(gives("F3"), Some("find"));
        assert_eq!(gives("v"), None, "a command may go without keys");
        assert_eq!(gives("Ctrl-S"), Some("save"));
    }

    #[test]
    fn every_slip_is_told_with_its_place_and_a_likely_fix() {
        complains("(settings: 2)", "s:1:12: 2 is not fit");
        complains("(ground: Dark)", "has no entry settings");
        complains("(settings: 1, gruond: Dark)", "did you mean ground?");
        complains("(settings: 1, ground: Drak)", "did you mean Dark?");
        complains("(settings: 1, glyphs: Some)", "one of All, Ascii");
        complains("(settings: 1, mouse: 1)", "1 is neither true nor false");
        complains("(settings: 1, theme: (acent: \"#112233\"))", "did you mean accent?");
        complains("(settings: 1,\n theme: (accent: \"#11223\"))", "s:2:18: \"#11223\" is no colour");
        complains("(settings: 1, theme: (accent: \"#11223G\"))", "\"#11223G\" is no colour");
        complains("(settings: 1, theme: (accent: Gren))", "did you mean Green?");
        complains("(settings: 1, theme: (accent: \"Green\"))", "words stand without quotes: Green");
        complains("(settings: 1, keys: {\"fnid\": [\"F3\"]})", "did you mean find?");
        complains("(settings: 1, keys: {\"find\": [\"Ctrl+F\"]})", "did you mean Ctrl-F?");
        complains("(settings: 1, keys: {\"find\": [\"ctrl-f\"]})", "did you mean Ctrl-F?");
        complains("(settings: 1, keys: {\"find\": [\"Hyper-F\"]})", "\"Hyper-F\" is no key");
        complains("(settings: 1, keys: {\"find\": [3]})", "a key in double quotes");
        complains("(settings: 1, keys: {\"find\": [\"F3\"], \"find\": [\"F4\"]})", "twice");
        complains("(settings: 1, keys: {\"find\": [\"Ctrl-I\"]})", "arrives as Tab");
        complains("(settings: 1, keys: {\"find\": [\"Shift-g\"]})", "Shift-g arrives as the character");
        complains("(settings: 1, keys: {\"find\": [\"Ctrl-Alt-g\"]})", "AltGr types");
        complains("(settings: 1", "s:1:");
        complains("", "s:1:1");
        complains(&format!("(settings: 1, theme: ()){}", " ".repeat(MAX_TEXT)), "bytes long");
    }

    #[test]
    fn keys_that_would_be_typed_or_leave_no_way_out_are_refused() {
        complains("(settings: 1, keys: {\"find\": [\"7\"]})", "is typed into the bytes");
        complains("(settings: 1, keys: {\"rub-out\": [\"x\"]})", "is typed into a line");
        complains("(settings: 1, keys: {\"next-answer\": [\"d\"]})", "may be the letter of an answer");
        complains("(settings: 1, keys: {\"commands\": []})", "commands would have no key in Bytes");
        complains("(settings: 1, keys: {\"accept-line\": []})", "accept-line would have no key in a line");
        complains(
            "(settings: 1, keys: {\"choice-up\": [\"Enter\"]})",
            "accept-line would have no key in a line",
        );
    }

    #[test]
    fn conflicts_name_both_commands_and_where() {
        complains(
            "(settings: 1, keys: {\"find\": [\"F3\"],\n \"fill\": [\"F3\"]})",
            "s:2:11: F3 is given to both find and fill in Bytes",
        );
        remarks(
            "(settings: 1, keys: {\"fill\": [\"Ctrl-F\"]})",
            "s:1:31: Ctrl-F gives fill in Bytes, and no longer find",
        );
        let both = "(settings: 1, keys: {\"fill\": [\"Ctrl-F\"], \"find\": [\"F3\"]})";
        assert_eq!(said(both), [""; 0], "find has a key of its own");
        let apart = "(settings: 1, keys: {\"big-first\": [\"F3\"], \"fill\": [\"F3\"]})";
        assert_eq!(said(apart), [""; 0], "one key may give one command in each pane");
    }

    #[test]
    fn a_colour_that_can_hardly_be_read_is_told_with_its_contrast() {
        remarks(
            "(settings: 1, ground: Light, theme: (accent: \"#FFD866\"))",
            "contrast of 1.1 to 1 on a light background",
        );
        assert_eq!(said("(settings: 1, ground: Dark, theme: (accent: \"#FFD866\"))"), [""; 0]);
    }

    #[test]
    fn the_file_to_start_from_has_no_problem_and_lists_everything_with_what_is_in_force() {
        let text = starting_text();
        assert_eq!(said(&text), [""; 0]);
        let all: String = text.lines().map(|line| format!("{}\n", in_force(line))).collect();
        assert_eq!(said(&all), [""; 0], "{all}");
        let settings = read(&all).0.unwrap();
        for command in command::all() {
            assert!(all.contains(&format!("\"{}\": [", command.name)), "{}", command.name);
            for (place, _) in Where::EACH.iter().filter(|(place, _)| command.place.meets(*place)) {
                assert_eq!(settings.keys.of(command, *place), Keys::default().of(command, *place));
            }
        }
        let look = |theme| Look { depth: Depth::Full, theme, ..Look::default() };
        for tone in Tone::ALL {
            assert_eq!(
                look(settings.theme).style(tone).fg,
                look(Theme::default()).style(tone).fg,
                "{tone:?}"
            );
        }
    }

    #[test]
    fn every_setting_is_in_the_file_to_start_from_and_on_the_page_about_settings() {
        // What is told of an entry that does not exist names those that do.
        let told = said("(settings: 1, zzzz: 1)").concat();
        let names = told.split("one of ").nth(1).unwrap().split(", ");
        let page = include_str!("../../../docs/settings.md");
        let start = starting_text();
        let begun: Vec<&str> = start.lines().map(|l| l.trim_start().trim_start_matches("// ")).collect();
        for name in names {
            let entry = format!("{name}: ");
            assert!(begun.iter().any(|l| l.starts_with(&entry)), "{name} is not in starter.rs");
            assert!(page.contains(&format!("\n| `{name}` | ")), "{name} is not in docs/settings.md");
        }
    }

    /// The entry that a line of that file holds in a comment, without the comment.
    fn in_force(line: &str) -> &str {
        let Some(entry) = line.trim_start().strip_prefix("// ") else { return line };
        let name = entry.split(": ").next().unwrap_or_default();
        let is_entry = entry.contains(": ") && name.starts_with(|c: char| c.is_ascii_lowercase() || c == '"');
        if is_entry && !name.contains(' ') { entry } else { "" }
    }
}
