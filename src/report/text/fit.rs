//! Text wrapped and cut to so many columns.

use std::borrow::Cow;

use unicode_width::UnicodeWidthStr;

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

/// The words of `text`; what stands between backticks is one word when it fits into `columns`. So is what several
/// spaces stand in: they are a part of a value, such as a part number, and must not look like one.
fn words(text: &str, columns: usize) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let (mut open, mut spaces) = (false, 0);
    for word in text.split(' ') {
        spaces += 1;
        if word.is_empty() {
            continue;
        }
        match words.last_mut() {
            Some(last) if (open || spaces > 1) && width(last) + spaces + width(word) <= columns => {
                last.push_str(&" ".repeat(spaces));
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
        spaces = 0;
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
    fn long_text_is_wrapped_at_spaces() {
        assert_eq!(wrap("a bb ccc dddd eeeee", 9), ["a bb ccc", "dddd", "eeeee"]);
        assert_eq!(wrap("0123456789abcdef", 10), ["0123456789", "abcdef"]);
        assert_eq!(wrap("", 10), [""]);
        assert_eq!(
            wrap("holds \"CR8  20\", not", 16),
            ["holds \"CR8  20\",", "not"],
            "both spaces of the value"
        );
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

    proptest! {
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
