//! Typing into the bytes: digits, characters, pastes.

use super::app::App;
use super::command::LOCKED;
use super::input::Key;
use super::panes::Pane;
use super::pasted;
use super::sheet::Column;
use super::theme::Tone;
use crate::edit::{Change, Joining};
use crate::report::text;
use crate::span::Span;

/// Bytes that are copied or filled at once, so that the keys are answered and undo stays small.
const MOST_AT_ONCE: usize = 16 << 20;

/// The longest text that one paste may bring, in bytes.
const MOST_PASTED: usize = 1 << 20;

/// Whether `key` is typed into the bytes now instead of giving a command.
#[must_use]
pub fn takes(app: &App, key: Key) -> bool {
    if app.dialog.is_some() || app.panes.focus() != Pane::Bytes {
        return false;
    }
    let (cursor, locked) = (app.it().cursor, app.it().locked);
    match (key.typed(), cursor.column) {
        (Some(c), Column::Digits) => c.is_ascii_hexdigit(),
        // While nothing can be typed, letters may well be commands.
        (Some(_), Column::Text) => !locked,
        (None, _) => false,
    }
}

/// Types one character at the cursor.
pub fn type_char(app: &mut App, c: char) {
    let it = app.it_mut();
    let at = it.cursor.at;
    if it.locked {
        app.say(Tone::Doubt, app.keys.fill(LOCKED));
        return;
    }
    let Some(&old) = it.image().bytes().get(at) else { return };
    if !it.image().is_mapped(Span::of(at, 1)) {
        app.say(Tone::Doubt, "No byte is mapped here");
        return;
    }
    it.cursor.anchor = None;
    match (it.cursor.column, c.to_digit(16)) {
        (Column::Digits, Some(digit)) => {
            // Below 16, so it fits.
            let digit = digit as u8;
            let second = it.cursor.second_digit;
            let new = if second { (old & 0xF0) | digit } else { (digit << 4) | (old & 0x0F) };
            set_byte(app, at, new, if second { Joining::WithLast } else { Joining::Separate });
            let it = app.it_mut();
            if second {
                it.go(at + 1);
            } else {
                it.cursor.second_digit = true;
            }
        }
        (Column::Digits, None) => {}
        (Column::Text, _) => match u8::try_from(c).ok().filter(u8::is_ascii) {
            Some(new) => {
                set_byte(app, at, new, Joining::Separate);
                app.it_mut().go(at + 1);
            }
            None => app.say(
                Tone::Doubt,
                app.keys.fill(&format!("{c:?} is not ASCII; set the field by value, {{set-value}}")),
            ),
        },
    }
}

/// Overwrites one byte. Both digits of a byte are one step of undo.
fn set_byte(app: &mut App, at: usize, new: u8, joining: Joining) {
    let it = app.it_mut();
    let label = format!("typed {new:02X} at {}", text::address(it.image().address(at)));
    let made =
        Change::overwrite(it.image(), label, at, vec![new]).and_then(|change| it.apply(change, joining));
    if let Err(refused) = made {
        app.say(Tone::Bad, refused.what);
    }
}

/// Makes a change as one step of undo, and says so; `unchanged` when it changes no byte.
pub fn make(app: &mut App, change: Change, unchanged: &str) {
    let label = change.label.clone();
    let made = app.it_mut().apply(change, Joining::Separate);
    // A digit that is typed next is no continuation of it.
    app.it_mut().contents.history.close();
    match made {
        Ok(true) => app.say(Tone::Good, text::sentence(&label)),
        Ok(false) => app.say(Tone::Plain, unchanged),
        Err(refused) => app.say(Tone::Bad, refused.what),
    }
}

/// Overwrites from the cursor on, as one step of undo; says what was left out of what the bytes came from.
pub fn overwrite(app: &mut App, bytes: &[u8], done: &str, left_out: &[String]) {
    let at = app.it().selection().start;
    let room = app.it().image().len().saturating_sub(at);
    if bytes.len() > room {
        let (bytes, room) = (text::count(bytes.len(), "byte"), text::count(room, "byte"));
        app.say(Tone::Bad, format!("{bytes} do not fit: {room} from here to the end; nothing was changed"));
        return;
    }
    let label = format!(
        "{done} {} at {}",
        text::count(bytes.len(), "byte"),
        text::address(app.it().image().address(at))
    );
    if !put(app, at, bytes, label) {
        return;
    }
    if let (Some(notice), false) = (&mut app.notice, left_out.is_empty()) {
        let told: Vec<String> = left_out.iter().take(6).cloned().collect();
        let more = if left_out.len() > 6 { " and more" } else { "" };
        notice.text = format!("{}; left out: {}{more}", notice.text.trim_end_matches('.'), told.join(", "));
    }
    let end = at + bytes.len();
    app.it_mut().go(end);
}

/// Puts `bytes` at `at` as one step of undo, and says so; returns whether they are there now.
pub fn put(app: &mut App, at: usize, bytes: &[u8], label: String) -> bool {
    match Change::overwrite(app.it().image(), label, at, bytes.to_vec()) {
        Ok(change) => {
            make(app, change, "These bytes are there already");
            true
        }
        Err(refused) => {
            app.say(Tone::Bad, format!("{}; nothing was changed", refused.what));
            false
        }
    }
}

/// Whether so many bytes are too many for one step; says so.
pub fn is_too_much(app: &mut App, bytes: usize) -> bool {
    let is_too_much = bytes > MOST_AT_ONCE;
    if is_too_much {
        let (bytes, most) = (text::count(bytes, "byte"), MOST_AT_ONCE >> 20);
        let told = "select fewer; nothing was changed";
        app.say(Tone::Bad, format!("{bytes} are more than the {most} MiB taken at once; {told}"));
    }
    is_too_much
}

/// A paste from the terminal: data, never commands.
pub fn paste(app: &mut App, pasted: &str) {
    if app.panes.focus() != Pane::Bytes {
        app.say(Tone::Doubt, "A paste goes into Bytes; nothing was changed");
    } else if app.it().locked {
        app.say(Tone::Doubt, app.keys.fill(LOCKED));
    } else if pasted.len() > MOST_PASTED {
        let most = MOST_PASTED >> 20;
        app.say(Tone::Bad, format!("The paste is longer than {most} MiB of text; nothing was changed"));
    } else {
        let read = match app.it().cursor.column {
            Column::Digits => pasted::read(pasted).map(|p| (p.bytes, p.left_out)),
            Column::Text => characters(pasted).map(|bytes| (bytes, Vec::new())),
        };
        match read {
            Ok((bytes, left_out)) => overwrite(app, &bytes, "pasted", &left_out),
            Err(why) => app.say(Tone::Bad, format!("{}; nothing was changed", text::clean(&why))),
        }
    }
}

/// Bytes written as hexadecimal digits, in pairs or with anything usual between them.
///
/// # Errors
/// What is wrong, in words.
pub fn digits(typed: &str) -> Result<Vec<u8>, String> {
    let mut digits = Vec::new();
    for word in typed.split(|c: char| c.is_whitespace() || ",;:-_".contains(c)) {
        let word = word.strip_prefix("0x").or_else(|| word.strip_prefix("0X")).unwrap_or(word);
        for c in word.chars() {
            // Below 16, so it fits.
            digits.push(c.to_digit(16).ok_or_else(|| format!("{c:?} is no hexadecimal digit"))? as u8);
        }
        if digits.len() % 2 == 1 {
            return Err(format!("{:?} has an odd number of digits", text::cut(word, 20)));
        }
    }
    if digits.is_empty() {
        return Err("Type hexadecimal digits, two for each byte".into());
    }
    Ok(digits.chunks(2).map(|pair| pair.iter().fold(0, |byte, digit| byte << 4 | digit)).collect())
}

/// The bytes of a text of ASCII; the end of a line that terminals add is no part of it.
fn characters(pasted: &str) -> Result<Vec<u8>, String> {
    let text = pasted.trim_end_matches(['\r', '\n']);
    match text.chars().find(|c| !c.is_ascii() || c.is_ascii_control()) {
        Some(c) => Err(format!("The paste holds {c:?}, which is no character of ASCII that can be shown")),
        None => Ok(text.as_bytes().to_vec()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_read_however_they_are_usually_written() {
        for typed in ["0011ff", "00 11 FF", "0x00, 0x11, 0xFF", "00:11:ff", "00-11-ff\n"] {
            assert_eq!(digits(typed), Ok(vec![0x00, 0x11, 0xFF]), "{typed:?}");
        }
        assert!(digits("001").unwrap_err().contains("odd"));
        assert!(digits("0 0 1 1").unwrap_err().contains("odd"));
        assert!(digits("0G").unwrap_err().contains("'G'"));
        assert!(digits("").is_err());
    }
}
