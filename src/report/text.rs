//! Text for people: cleaned, hexadecimal, counted, wrapped.

use std::borrow::Cow;
use std::ffi::OsStr;
use std::fmt::Write as _;
use std::ops::Deref;
use std::path::{Path, is_separator};

use serde::Serialize;
use unicode_width::UnicodeWidthStr;

use super::paint::Paint;
use crate::span::Span;
pub use crate::wording::{address, count, hex, hex_short, list};

/// `text` without anything that could act on a terminal or hide from the reader: control characters, escape
/// sequences, marks that turn the writing direction, invisible characters. Each is shown by its number instead.
///
/// Whatever comes from an image, a layout or a file name goes through here before it is printed.
#[must_use]
pub fn clean(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_hidden) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '\n' => shown.push_str("\\n"),
            '\r' => shown.push_str("\\r"),
            '\t' => shown.push_str("\\t"),
            c if is_hidden(c) && u32::from(c) < 0x100 => {
                let _ = write!(shown, "\\x{:02X}", u32::from(c));
            }
            c if is_hidden(c) => {
                let _ = write!(shown, "\\u{{{:04X}}}", u32::from(c));
            }
            c => shown.push(c),
        }
    }
    Cow::Owned(shown)
}

/// True for what must not reach a terminal as it is.
/// The ranges are those of the Unicode general categories Cc, Cf, Zl and Zp, and the variation selectors.
pub(super) fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(u32::from(c),
            0x00AD | 0x034F | 0x0600..=0x0605 | 0x061C | 0x06DD | 0x070F | 0x0890..=0x0891 | 0x08E2
            | 0x115F..=0x1160 | 0x17B4..=0x17B5 | 0x180B..=0x180F | 0x200B..=0x200F | 0x2028..=0x202E
            | 0x2060..=0x206F | 0x3164 | 0xFE00..=0xFE0F | 0xFEFF | 0xFFA0 | 0xFFF0..=0xFFFB
            | 0x110BD | 0x110CD | 0x13430..=0x1343F | 0x1BCA0..=0x1BCA3 | 0x1D173..=0x1D17A
            | 0xE0000..=0xE0FFF)
}

/// A path for people, cleaned.
#[must_use]
pub fn path(path: &Path) -> String {
    clean(&path.to_string_lossy()).into_owned()
}

/// The name of a file: cleaned for people, as it is typed in a shell, and byte for byte for programs where the cleaned
/// name is not the name. In JSON it stands flat as `path` and, where it is needed, `path_bytes`.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Name {
    path: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
    #[serde(skip)]
    typed: String,
}

impl Name {
    /// The name of the file at `path`.
    #[must_use]
    pub fn of(it: &Path) -> Self {
        let (bytes, path) = (it.as_os_str().as_encoded_bytes(), path(it));
        Name { path_bytes: (bytes != path.as_bytes()).then(|| hex_plain(bytes)), path, typed: shell(it) }
    }

    /// The name as it is typed in a shell, for commands that are proposed.
    #[must_use]
    pub fn typed(&self) -> &str {
        &self.typed
    }

    /// The bytes of the name in hexadecimal, where they are not those of the cleaned name.
    #[must_use]
    pub fn bytes(&self) -> Option<&str> {
        self.path_bytes.as_deref()
    }
}

/// The bytes of several names in JSON, null for those that need none; `None` when no name needs any.
#[must_use]
pub fn bytes_of(names: &[Name]) -> Option<Vec<Option<String>>> {
    let any = names.iter().any(|name| name.path_bytes.is_some());
    any.then(|| names.iter().map(|name| name.path_bytes.clone()).collect())
}

/// A name that is null in JSON where there is no file.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct NoName {
    path: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
}

impl From<Option<&Name>> for NoName {
    fn from(name: Option<&Name>) -> Self {
        NoName {
            path: name.map(|name| name.path.clone()),
            path_bytes: name.and_then(|name| name.path_bytes.clone()),
        }
    }
}

impl Deref for Name {
    type Target = str;

    fn deref(&self) -> &str {
        &self.path
    }
}

/// A digest on a screen: the characters that tell two images apart, or all of them.
#[must_use]
pub fn digest(sha256: &str, paint: Paint) -> String {
    const SHOWN: usize = 16;
    if paint.whole {
        sha256.to_owned()
    } else {
        format!("{}…", sha256.chars().take(SHOWN).collect::<String>())
    }
}

/// What a path that was cleaned is called in a sentence or a table: `-` is where standard input was read.
#[must_use]
pub fn named(path: &str) -> &str {
    if path == "-" { "standard input" } else { path }
}

/// A path as it is typed in a shell, so that a command that is proposed can be run. A leading `-` is no option then.
#[must_use]
pub fn shell(path: &Path) -> String {
    let bytes = path.as_os_str().as_encoded_bytes();
    if bytes.starts_with(b"-") && bytes != b"-" {
        return word(Path::new(".").join(path).as_os_str());
    }
    word(path.as_os_str())
}

/// A word of a command line as it is typed in a shell: quoted where it must be; what would act on the terminal, bytes
/// that are no text, and the backtick, in which reports set commands, as three octal digits, which nothing that follows
/// can lengthen (dollar-single-quotes of POSIX.1-2024, Shell Command Language 2.2.4).
#[must_use]
pub fn word(word: &OsStr) -> String {
    word_of(word.as_encoded_bytes())
}

fn word_of(bytes: &[u8]) -> String {
    let plain =
        |b: &u8| b.is_ascii_alphanumeric() || b"._-+=:@,%".contains(b) || is_separator(char::from(*b));
    let told = String::from_utf8_lossy(bytes);
    if !bytes.is_empty() && bytes.iter().all(plain) {
        return told.into_owned();
    }
    if matches!(told, Cow::Borrowed(_)) && !told.contains(|c| is_hidden(c) || c == '`') {
        return format!("'{}'", told.replace('\'', r"'\''"));
    }
    let mut escaped = "$'".to_owned();
    for &byte in bytes {
        match byte {
            b'\'' | b'\\' => escaped.extend(['\\', char::from(byte)]),
            b'`' => escaped.push_str("\\140"),
            b' '..=b'~' => escaped.push(char::from(byte)),
            _ => {
                let _ = write!(escaped, "\\{byte:03o}");
            }
        }
    }
    escaped.push('\'');
    escaped
}

/// `0x0040..0x0050`, the end not included, as addresses of an image whose offset 0 is at `base`.
#[must_use]
pub fn range(span: Span, base: u64) -> String {
    let at = |offset: usize| address(base.saturating_add(offset as u64));
    format!("{}..{}", at(span.start), at(span.end))
}

/// Where something lies: `0x0040, 16 bytes`.
#[must_use]
pub fn place(span: Span, base: u64) -> String {
    format!("{}, {}", address(base.saturating_add(span.start as u64)), count(span.len(), "byte"))
}

/// `4B4431`, for programs.
#[must_use]
pub fn hex_plain(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, b| {
        let _ = write!(text, "{b:02X}");
        text
    })
}

/// A stored number of `bytes` bytes, all its digits written: `00F3`.
#[must_use]
pub fn number(value: u128, bytes: usize) -> String {
    format!("{value:0digits$X}", digits = bytes.saturating_mul(2).min(32))
}

/// `text` as a sentence: first letter upper case when it is a plain word, full stop at the end.
#[must_use]
pub fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut chars = text.chars();
    let Some(first) = chars.next() else { return String::new() };
    let mut sentence = String::with_capacity(text.len() + 1);
    // A name with digits or underscores (`part_number`, `x8`), or before a colon, keeps its spelling.
    let word = text.split(char::is_whitespace).next().unwrap_or_default();
    if word.trim_end_matches(['.', ',', ';']).chars().all(|c| c.is_alphabetic() || "'-".contains(c)) {
        sentence.extend(first.to_uppercase());
    } else {
        sentence.push(first);
    }
    sentence.push_str(chars.as_str());
    if !sentence.ends_with(['.', '?', '!', '…']) {
        sentence.push('.');
    }
    sentence
}

/// Columns that `text` takes on a screen.
#[must_use]
pub fn width(text: &str) -> usize {
    text.width()
}

/// `text` broken at spaces into lines of at most `columns` columns; a longer word is broken where it must be.
/// A command between backticks stays on one line when it fits one, so that it can be copied.
#[must_use]
pub fn wrap(text: &str, columns: usize) -> Vec<String> {
    fill(words(text, columns).into_iter().map(|word| (word, false)), columns)
}

/// Words as lines; a word that is too long is broken unless it is marked as whole.
fn fill(words: impl IntoIterator<Item = (String, bool)>, columns: usize) -> Vec<String> {
    let columns = columns.max(8);
    let mut lines = Vec::new();
    let mut line = String::new();
    for (word, whole) in words {
        if !line.is_empty() && width(&line) + 1 + width(&word) > columns {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        for c in word.chars() {
            line.push(c);
            if !whole && width(&line) > columns {
                let c = line.pop().unwrap_or(c);
                lines.push(std::mem::take(&mut line));
                line.push(c);
            }
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// As [`wrap`], but a command of this program between backticks is never broken, whatever its length, and its spaces
/// stay as they are: what is printed can be copied and run.
#[must_use]
pub fn wrap_to_copy(text: &str, columns: usize) -> Vec<String> {
    const OPEN: &str = "`readproof ";
    let loose = |text: &str| words(text, columns).into_iter().map(|word| (word, false)).collect::<Vec<_>>();
    let (mut all, mut rest) = (Vec::new(), text);
    while let Some((before, after)) = rest.split_once(OPEN) {
        let Some((command, after)) = after.split_once('`') else { break };
        // What stands directly before and behind, such as a full stop, stays with the command.
        let (before, glued) = before.rsplit_once(' ').unwrap_or(("", before));
        let (tail, after) = after.split_once(' ').unwrap_or((after, ""));
        all.extend(loose(before));
        all.push((format!("{glued}{OPEN}{command}`{tail}"), true));
        rest = after;
    }
    all.extend(loose(rest));
    fill(all, columns)
}

/// The words of `text`; what stands between backticks is one word when it fits into `columns`.
fn words(text: &str, columns: usize) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut open = false;
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        match words.last_mut() {
            Some(last) if open && width(last) + 1 + width(word) <= columns => {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
        open ^= word.matches('`').count() % 2 == 1;
    }
    words
}

/// `text` cut to at most `columns` columns, an ellipsis in the place of what is missing.
#[must_use]
pub fn cut(text: &str, columns: usize) -> Cow<'_, str> {
    cut_with(text, columns, "…")
}

/// The same with another sign, of ASCII or one column each, in the place of what is missing.
#[must_use]
pub fn cut_with<'a>(text: &'a str, columns: usize, sign: &str) -> Cow<'a, str> {
    if width(text) <= columns {
        return Cow::Borrowed(text);
    }
    let room = columns.saturating_sub(width(sign));
    Cow::Owned(format!("{}{}", beginning(text, room), beginning(sign, columns)))
}

/// A name cut to at most `columns` columns, `sign` in the place of its middle: names that begin alike, as those of
/// reads and fields do, are told apart by their ends.
#[must_use]
pub fn cut_middle<'a>(name: &'a str, columns: usize, sign: &str) -> Cow<'a, str> {
    let room = columns.saturating_sub(width(sign));
    if width(name) <= columns || room < 6 {
        return cut_with(name, columns, sign);
    }
    let mut tail = name.len();
    // From the end on, by whole characters with what combines with them.
    for (at, c) in name.char_indices().rev() {
        let end = name.get(at..).unwrap_or_default();
        if width(end) > room / 2 {
            break;
        }
        if width(c.encode_utf8(&mut [0; 4])) > 0 {
            tail = at;
        }
    }
    let end = name.get(tail..).unwrap_or_default();
    Cow::Owned(format!("{}{sign}{end}", beginning(name, room - width(end))))
}

/// As much of the beginning of `text` as fits into `columns` columns.
fn beginning(text: &str, columns: usize) -> &str {
    // Measured as a whole: what combines makes a text wider or narrower than its characters.
    let mut shown = "";
    for (at, c) in text.char_indices() {
        let longer = text.get(..at + c.len_utf8()).unwrap_or_default();
        if width(longer) > columns {
            break;
        }
        shown = longer;
    }
    shown
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn nothing_that_acts_on_a_terminal_is_left() {
        assert_eq!(clean("plain text – °C"), "plain text – °C");
        assert_eq!(clean("a\x1b[31mred"), "a\\x1B[31mred");
        assert_eq!(clean("a\nb\tc\r"), "a\\nb\\tc\\r");
        assert_eq!(clean("\u{9b}2J"), "\\x9B2J");
        assert_eq!(clean("FK\u{202e}8RC"), "FK\\u{202E}8RC");
        assert_eq!(clean("no\u{200b}space\u{feff}"), "no\\u{200B}space\\u{FEFF}");
    }

    #[test]
    fn a_path_in_a_proposed_command_is_read_by_a_shell_as_that_path() {
        let shell = |name: &str| super::shell(Path::new(name));
        assert_eq!(shell("reads/unit7_1.bin"), "reads/unit7_1.bin");
        assert_eq!(shell("unit 7's read.bin"), r"'unit 7'\''s read.bin'");
        assert_eq!(shell("-read.bin"), "./-read.bin", "or it would be taken for an option");
        assert_eq!(shell("-"), "-");
        assert_eq!(shell("Kühlraum.bin"), "'Kühlraum.bin'");
        assert_eq!(shell("a\nb\u{1b}.bin"), r"$'a\012b\033.bin'");
        assert_eq!(shell("a`b"), r"$'a\140b'", "or it would end the command in a sentence");
    }

    #[test]
    fn a_path_that_is_no_text_can_be_typed_as_well() {
        assert_eq!(word_of(b"it's \xff.bin"), r"$'it\'s \377.bin'");
    }

    #[test]
    fn long_text_is_wrapped_at_spaces() {
        assert_eq!(wrap("a bb ccc dddd eeeee", 9), ["a bb ccc", "dddd", "eeeee"]);
        assert_eq!(wrap("0123456789abcdef", 10), ["0123456789", "abcdef"]);
        assert_eq!(wrap("", 10), [""]);
        assert_eq!(wrap("or run `a b c` now", 9), ["or run", "`a b c`", "now"]);
        assert_eq!(wrap("`a b c d e f g h` i", 9), ["`a b c d", "e f g h`", "i"]);
        assert_eq!(
            wrap_to_copy("see (`readproof show 'a  b'`) and `a b c d e` or `readproof x", 12),
            ["see", "(`readproof show 'a  b'`)", "and", "`a b c d e`", "or", "`readproof x"]
        );
    }

    #[test]
    fn a_name_is_cut_in_its_middle_and_no_character_is_torn() {
        assert_eq!(cut_middle("calibration.evaporator_offset", 20, "…"), "calibratio…or_offset");
        assert_eq!(cut_middle("unit7-read1-second.bin", 16, ".."), "unit7-r..ond.bin");
        assert_eq!(cut_middle("unit7.bin", 16, ".."), "unit7.bin");
        assert_eq!(cut_middle("calibration", 5, "…"), "cali…", "an end of two letters tells nothing");
        assert_eq!(cut_middle("冷蔵庫設定温度記録", 11, "…"), "冷蔵庫…記録");
        assert_eq!(cut_middle("re\u{301}frige\u{301}rateur", 9, "…"), "re\u{301}fr…teur");
    }

    #[test]
    fn sentences_keep_the_spelling_of_names() {
        assert_eq!(sentence("the check is broken"), "The check is broken.");
        assert_eq!(sentence("part_number holds \"A\""), "part_number holds \"A\".");
        assert_eq!(sentence("settings.setpoint is odd"), "settings.setpoint is odd.");
        assert_eq!(sentence("settings: stored 8050"), "settings: stored 8050.");
        assert_eq!(sentence("done."), "Done.");
    }

    #[test]
    fn numbers_and_places_read_alike_everywhere() {
        assert_eq!(address(0x40), "0x0040");
        assert_eq!(range(Span::new(0x40, 0x50), 0x1000), "0x1040..0x1050");
        assert_eq!(place(Span::of(0x1FE, 2), 0), "0x01FE, 2 bytes");
        assert_eq!(number(0xF3, 2), "00F3");
        assert_eq!(hex(&[0x4b, 0x04]), "4B 04");
        assert_eq!(hex_plain(&[0x4b, 0x04]), "4B04");
        assert_eq!(hex_short(&[0; 9], 2), "00 00 … (9 bytes)");
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
    }

    proptest! {
        #[test]
        fn cleaned_text_is_clean_and_cleaning_it_again_changes_nothing(text in "\\PC*|[\\x00-\\u{fffff}]*") {
            let once = clean(&text).into_owned();
            prop_assert!(!once.chars().any(is_hidden));
            prop_assert_eq!(clean(&once).into_owned(), once.clone());
        }

        #[test]
        fn wrapped_lines_fit_and_lose_no_letter(text in "[a-zé° ]{0,200}", columns in 8usize..60) {
            let lines = wrap(&text, columns);
            prop_assert!(lines.iter().all(|l| width(l) <= columns));
            let letters = |s: &str| s.chars().filter(|c| *c != ' ').collect::<String>();
            prop_assert_eq!(letters(&lines.join(" ")), letters(&text));
        }

        #[test]
        fn cut_text_fits(text in "\\PC{0,40}", columns in 0usize..40) {
            prop_assert!(width(&cut(&text, columns)) <= columns);
            prop_assert!(width(&cut_with(&text, columns, "..")) <= columns);
            prop_assert!(width(&cut_middle(&text, columns, "…")) <= columns);
        }
    }
}
