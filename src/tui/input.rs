//! What the user does, free of any terminal library: keys, pastes, the mouse, a new size.

use std::fmt;

use ratatui::crossterm::event::{self, KeyCode, KeyEventKind, KeyModifiers, MouseButton, MouseEventKind};

/// One thing that the user did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A key went down.
    Key(Key),
    /// Text was pasted by the terminal.
    Paste(String),
    /// Something happened to the mouse.
    Mouse(Mouse),
    /// The terminal has another size now: columns, rows.
    Size(u16, u16),
}

/// The part of a key that is printed on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Code {
    /// A character.
    Char(char),
    /// Enter.
    Enter,
    /// Escape.
    Esc,
    /// Tab.
    Tab,
    /// Backspace.
    Backspace,
    /// Delete.
    Delete,
    /// Cursor up.
    Up,
    /// Cursor down.
    Down,
    /// Cursor left.
    Left,
    /// Cursor right.
    Right,
    /// Home.
    Home,
    /// End.
    End,
    /// Page up.
    PageUp,
    /// Page down.
    PageDown,
    /// A function key.
    F(u8),
}

/// Keys with a name, as written in scripts, hints and documentation.
const NAMED: &[(&str, Code)] = &[
    ("Enter", Code::Enter),
    ("Esc", Code::Esc),
    ("Tab", Code::Tab),
    ("Backspace", Code::Backspace),
    ("Delete", Code::Delete),
    ("Up", Code::Up),
    ("Down", Code::Down),
    ("Left", Code::Left),
    ("Right", Code::Right),
    ("Home", Code::Home),
    ("End", Code::End),
    ("PgUp", Code::PageUp),
    ("PgDn", Code::PageDown),
    ("Space", Code::Char(' ')),
    // Stands for the sign that opens a text in a script.
    ("Quote", Code::Char('"')),
];

/// The names of keys that have one.
pub fn names() -> impl Iterator<Item = &'static str> {
    NAMED.iter().map(|(name, _)| *name)
}

/// Function keys that keyboards have.
const MOST_F: u8 = 12;

/// A key with what was held down beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Key {
    /// The key itself; with Ctrl, a letter is lower case.
    pub code: Code,
    /// Ctrl was held.
    pub ctrl: bool,
    /// Shift was held; for characters it is in the character already.
    pub shift: bool,
    /// Alt was held.
    pub alt: bool,
}

impl Key {
    /// The key alone.
    #[must_use]
    pub const fn plain(code: Code) -> Self {
        Key { code, ctrl: false, shift: false, alt: false }
    }

    /// The character that this key types, if it types one.
    #[must_use]
    pub const fn typed(self) -> Option<char> {
        match self {
            Key { code: Code::Char(c), ctrl: false, alt: false, .. } => Some(c),
            _ => None,
        }
    }

    /// A key as written: `Ctrl-S`, `Shift-Down`, `Alt-x`, `PgUp`, `F2`, `?`.
    #[must_use]
    pub fn parse(written: &str) -> Option<Key> {
        let (mut rest, mut key) = (written, Key::plain(Code::Esc));
        loop {
            if let Some(after) = rest.strip_prefix("Ctrl-").filter(|r| !r.is_empty()) {
                (rest, key.ctrl) = (after, true);
            } else if let Some(after) = rest.strip_prefix("Alt-").filter(|r| !r.is_empty()) {
                (rest, key.alt) = (after, true);
            } else if let Some(after) = rest.strip_prefix("Shift-").filter(|r| !r.is_empty()) {
                (rest, key.shift) = (after, true);
            } else {
                break;
            }
        }
        if let Some((_, code)) = NAMED.iter().find(|(name, _)| *name == rest) {
            key.code = *code;
            return Some(key);
        }
        let number = rest.strip_prefix('F').and_then(|n| n.parse().ok());
        if let Some(n) = number.filter(|n| (1..=MOST_F).contains(n)) {
            key.code = Code::F(n);
            return Some(key);
        }
        let mut chars = rest.chars();
        let c = chars.next().filter(|_| chars.next().is_none())?;
        key.code = Code::Char(if key.ctrl { c.to_ascii_lowercase() } else { c });
        Some(key)
    }

    /// What a terminal reported, with its oddities smoothed out; `None` for what we have no use for.
    #[must_use]
    pub fn of(event: event::KeyEvent) -> Option<Key> {
        // Some systems report that a key was let go; acting on that would do everything twice.
        if event.kind == KeyEventKind::Release {
            return None;
        }
        let (mut ctrl, mut shift, mut alt) = (
            event.modifiers.contains(KeyModifiers::CONTROL),
            event.modifiers.contains(KeyModifiers::SHIFT),
            event.modifiers.contains(KeyModifiers::ALT),
        );
        let code = match event.code {
            // The byte 0x08 arrives as Ctrl-H, and many terminals send it for Backspace.
            KeyCode::Char('h' | 'H') if ctrl && !alt => {
                ctrl = false;
                Code::Backspace
            }
            KeyCode::Char(c) => {
                // AltGr is reported as Ctrl and Alt together: it types.
                if ctrl && alt {
                    (ctrl, alt) = (false, false);
                }
                shift = false;
                Code::Char(if ctrl { c.to_ascii_lowercase() } else { c })
            }
            KeyCode::BackTab => {
                shift = true;
                Code::Tab
            }
            KeyCode::Enter => Code::Enter,
            KeyCode::Esc => Code::Esc,
            KeyCode::Tab => Code::Tab,
            KeyCode::Backspace => Code::Backspace,
            KeyCode::Delete => Code::Delete,
            KeyCode::Up => Code::Up,
            KeyCode::Down => Code::Down,
            KeyCode::Left => Code::Left,
            KeyCode::Right => Code::Right,
            KeyCode::Home => Code::Home,
            KeyCode::End => Code::End,
            KeyCode::PageUp => Code::PageUp,
            KeyCode::PageDown => Code::PageDown,
            KeyCode::F(n) => Code::F(n),
            _ => return None,
        };
        Some(Key { code, ctrl, shift, alt })
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (held, word) in [(self.ctrl, "Ctrl-"), (self.alt, "Alt-"), (self.shift, "Shift-")] {
            if held {
                f.write_str(word)?;
            }
        }
        match NAMED.iter().find(|(_, code)| *code == self.code) {
            Some((name, _)) => f.write_str(name),
            None => match self.code {
                Code::Char(c) if self.ctrl => write!(f, "{}", c.to_ascii_uppercase()),
                Code::Char(c) => write!(f, "{c}"),
                Code::F(n) => write!(f, "F{n}"),
                _ => Ok(()),
            },
        }
    }
}

/// What the mouse did, and over which cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mouse {
    /// What it did.
    pub act: MouseAct,
    /// Column from the left, from 0.
    pub column: u16,
    /// Row from the top, from 0.
    pub row: u16,
}

/// What a mouse can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MouseAct {
    /// The first button went down.
    Press,
    /// It moved with the first button down.
    Drag,
    /// The wheel turned away from the user.
    WheelUp,
    /// The wheel turned towards the user.
    WheelDown,
}

impl Input {
    /// What a terminal reported; `None` for what we have no use for.
    #[must_use]
    pub fn of(event: event::Event) -> Option<Input> {
        match event {
            event::Event::Key(key) => Key::of(key).map(Input::Key),
            event::Event::Paste(text) => Some(Input::Paste(text)),
            event::Event::Resize(columns, rows) => Some(Input::Size(columns, rows)),
            event::Event::Mouse(mouse) => {
                let act = match mouse.kind {
                    MouseEventKind::Down(MouseButton::Left) => MouseAct::Press,
                    MouseEventKind::Drag(MouseButton::Left) => MouseAct::Drag,
                    MouseEventKind::ScrollUp => MouseAct::WheelUp,
                    MouseEventKind::ScrollDown => MouseAct::WheelDown,
                    _ => return None,
                };
                Some(Input::Mouse(Mouse { act, column: mouse.column, row: mouse.row }))
            }
            event::Event::FocusGained | event::Event::FocusLost => None,
        }
    }
}

impl fmt::Display for Input {
    /// As it is written in a [`script`].
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Input::Key(key) => key.fmt(f),
            Input::Paste(text) => write!(f, "Paste\"{}\"", escaped(text)),
            Input::Size(columns, rows) => write!(f, "Size({columns},{rows})"),
            Input::Mouse(Mouse { act, column, row }) => {
                let act = match act {
                    MouseAct::Press => "Click",
                    MouseAct::Drag => "Drag",
                    MouseAct::WheelUp => "WheelUp",
                    MouseAct::WheelDown => "WheelDown",
                };
                write!(f, "{act}({column},{row})")
            }
        }
    }
}

/// A text on one line, as it stands between quotes in a script.
fn escaped(text: &str) -> String {
    let mut line = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '"' | '\\' => line.extend(['\\', c]),
            // Line ends, tabs and whatever a terminal would act on.
            c if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}') => line.extend(c.escape_unicode()),
            c => line.push(c),
        }
    }
    line
}

/// The text that [`escaped`] wrote, and what stands behind the quote that closes it; a backslash before anything else is
/// itself.
fn unescaped(line: &str) -> Option<(String, &str)> {
    let mut text = String::new();
    let mut rest = line;
    loop {
        let at = rest.find(['"', '\\'])?;
        text.push_str(rest.get(..at)?);
        let sign = rest.get(at..)?;
        if let Some(after) = sign.strip_prefix('"') {
            return Some((text, after));
        }
        let code = sign.strip_prefix("\\u{").and_then(|s| s.split_once('}'));
        let code = code.and_then(|(code, after)| Some((u32::from_str_radix(code, 16).ok()?, after)));
        if let Some((c, after)) = code.and_then(|(code, after)| Some((char::from_u32(code)?, after))) {
            text.push(c);
            rest = after;
            continue;
        }
        let quoted = sign.get(1..).and_then(|s| s.chars().next()).filter(|c| matches!(c, '"' | '\\'));
        text.push(quoted.unwrap_or('\\'));
        rest = sign.get(if quoted.is_some() { 2 } else { 1 }..)?;
    }
}

/// Reads a script of inputs: words between spaces.
///
/// `Ctrl-F`, `PgDn`, `x`: a key. `Down*5`: five times. `"FK-CR8"`: its characters, one key each.
/// `Paste"00 11"`: a paste, in which `\"`, `\\` and `\u{a}` stand for a quote, a backslash and the character of that code. `Click(12,5)`, `Drag(12,5)`, `WheelUp(12,5)`, `WheelDown(12,5)`: the mouse over a column
/// and row from 0. `Size(100,30)`: a new size of the terminal.
///
/// # Errors
/// The word that could not be read.
pub fn script(text: &str) -> Result<Vec<Input>, String> {
    let mut inputs = Vec::new();
    let mut rest = text.trim_start();
    while !rest.is_empty() {
        let quote = rest.find('"').filter(|&at| !rest[..at].contains(char::is_whitespace));
        let (word, after) = match quote {
            Some(open) if ["", "Paste"].contains(&&rest[..open]) => {
                let inside = &rest[open + 1..];
                let unclosed = || format!("{rest:?} lacks its closing quote");
                if open == 0 {
                    let (text, after) = inside.split_once('"').ok_or_else(unclosed)?;
                    inputs.extend(text.chars().map(|c| Input::Key(Key::plain(Code::Char(c)))));
                    ("", after)
                } else {
                    let (text, after) = unescaped(inside).ok_or_else(unclosed)?;
                    inputs.push(Input::Paste(text));
                    ("", after)
                }
            }
            _ => rest.split_at(rest.find(char::is_whitespace).unwrap_or(rest.len())),
        };
        if !word.is_empty() {
            inputs.extend(one(word).ok_or_else(|| format!("{word:?} is no key; write Ctrl-F, PgDn or x"))?);
        }
        rest = after.trim_start();
    }
    Ok(inputs)
}

fn one(word: &str) -> Option<Vec<Input>> {
    if let Some(key) = Key::parse(word) {
        return Some(vec![Input::Key(key)]);
    }
    if let Some((key, times)) = word.rsplit_once('*') {
        let (key, times) = (Key::parse(key)?, times.parse::<usize>().ok().filter(|&t| t <= 100_000)?);
        return Some(vec![Input::Key(key); times]);
    }
    let (name, numbers) = word.strip_suffix(')')?.split_once('(')?;
    let (a, b) = numbers.split_once(',')?;
    let (a, b) = (a.trim().parse().ok()?, b.trim().parse().ok()?);
    let mouse = |act| Input::Mouse(Mouse { act, column: a, row: b });
    Some(vec![match name {
        "Click" => mouse(MouseAct::Press),
        "Drag" => mouse(MouseAct::Drag),
        "WheelUp" => mouse(MouseAct::WheelUp),
        "WheelDown" => mouse(MouseAct::WheelDown),
        "Size" => Input::Size(a, b),
        _ => return None,
    }])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pressed(code: KeyCode, modifiers: KeyModifiers) -> Option<Key> {
        Key::of(event::KeyEvent::new(code, modifiers))
    }

    #[test]
    fn an_input_is_written_as_a_script_reads_it() {
        let keys = (' '..='~').map(|c| Input::Key(Key::plain(Code::Char(c))));
        let mouse = |act| Input::Mouse(Mouse { act, column: 7, row: 0 });
        let acts = [MouseAct::Press, MouseAct::Drag, MouseAct::WheelUp, MouseAct::WheelDown];
        let held =
            ["Ctrl-S", "Alt-x", "Shift-Tab", "F12", "PgDn"].map(|k| Input::Key(Key::parse(k).unwrap()));
        let pastes = ["00 11", "", "a \"b\"\n\t\\x46\\", "\\u{41}\u{1b}[A\r\n\u{2028}\u{7f}"];
        let pastes = pastes.into_iter().map(|text| Input::Paste(text.into()));
        let others = std::iter::once(Input::Size(80, 24)).chain(pastes);
        let all: Vec<Input> = keys.chain(acts.map(mouse)).chain(held).chain(others).collect();
        let written: Vec<String> = all.iter().map(ToString::to_string).collect();
        assert!(written.iter().all(|line| !line.contains(char::is_control)), "{written:?}");
        assert_eq!(script(&written.join(" ")), Ok(all));
    }

    #[test]
    fn keys_are_read_as_they_are_written() {
        for written in
            ["Ctrl-S", "Shift-Down", "Ctrl-Home", "PgUp", "?", "x", "X", "Space", "Shift-Tab", "F1"]
        {
            assert_eq!(Key::parse(written).unwrap().to_string(), written);
        }
        assert_eq!(Key::parse("Ctrl-s"), Key::parse("Ctrl-S"));
        assert_eq!(Key::parse("Hyper-S"), None);
        assert_eq!(Key::parse("-"), Some(Key::plain(Code::Char('-'))));
    }

    #[test]
    fn characters_typed_with_altgr_are_text() {
        let key = pressed(KeyCode::Char('@'), KeyModifiers::CONTROL | KeyModifiers::ALT).unwrap();
        assert_eq!(key.typed(), Some('@'));
    }

    #[test]
    fn the_byte_8_is_backspace_and_shift_tab_is_one_key() {
        let key = pressed(KeyCode::Char('h'), KeyModifiers::CONTROL).unwrap();
        assert_eq!(key, Key::plain(Code::Backspace));
        assert_eq!(pressed(KeyCode::BackTab, KeyModifiers::SHIFT), Key::parse("Shift-Tab"));
        assert_eq!(pressed(KeyCode::BackTab, KeyModifiers::NONE), Key::parse("Shift-Tab"));
    }

    #[test]
    fn a_key_let_go_does_nothing_and_a_repeated_one_counts() {
        let mut event = event::KeyEvent::new(KeyCode::Char('x'), KeyModifiers::NONE);
        for (kind, counts) in
            [(KeyEventKind::Press, true), (KeyEventKind::Repeat, true), (KeyEventKind::Release, false)]
        {
            event.kind = kind;
            assert_eq!(Key::of(event).is_some(), counts, "{kind:?}");
        }
    }

    #[test]
    fn scripts_hold_keys_texts_pastes_mouse_and_sizes() {
        let inputs = script("Ctrl-G \"a b\" Enter Down*2 Paste\"0 1\" Click(3,4) Size(80,24)").unwrap();
        let key = |written: &str| Input::Key(Key::parse(written).unwrap());
        let mouse = Mouse { act: MouseAct::Press, column: 3, row: 4 };
        assert_eq!(
            inputs,
            [
                key("Ctrl-G"),
                key("a"),
                key("Space"),
                key("b"),
                key("Enter"),
                key("Down"),
                key("Down"),
                Input::Paste("0 1".into()),
                Input::Mouse(mouse),
                Input::Size(80, 24)
            ]
        );
        assert!(script("Nokey").unwrap_err().contains("Nokey"));
        assert!(script("\"open").unwrap_err().contains("closing quote"));
    }
}
