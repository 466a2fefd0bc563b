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

#[cfg(test)]
mod tests {
    use super::*;

    fn pressed(code: KeyCode, modifiers: KeyModifiers) -> Option<Key> {
        Key::of(event::KeyEvent::new(code, modifiers))
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
}
