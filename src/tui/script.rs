//! What the user does as text: written by the log of a session, read to play it again.

use std::fmt;

use super::input::{Code, Input, Key, Mouse, MouseAct};

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
/// `Ctrl-F`, `PgDn`, `x`: a key. `Down*5`: five times. `"FK-CR8"`: its characters, one key each. `Paste"00 11"`: a paste,
/// in which `\"`, `\\` and `\u{a}` stand for a quote, a backslash and the character of that code. `Click(12,5)`,
/// `Drag(12,5)`, `WheelUp(12,5)`, `WheelDown(12,5)`: the mouse over a column and row from 0. `Size(100,30)`: a new size
/// of the terminal.
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
