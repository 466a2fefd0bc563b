//! What a text looks like: a part number, a serial, a date, a VIN.

use crate::check::digits::{DigitRule, DigitState};
use crate::notation::get;

/// What kind of text it looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Label {
    /// A vehicle identification number whose check digit is right.
    Vin,
    /// Of the form of a vehicle identification number, with no right check digit.
    VinForm,
    /// A calendar date, alone or with a time of day.
    Date,
    /// Letters and digits as makers number their parts.
    PartNumber,
    /// Mostly digits, as makers number their units.
    Serial,
    /// Some other text.
    Text,
}

impl Label {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Label::Vin => "vin",
            Label::VinForm => "vin-like",
            Label::Date => "date-text",
            Label::PartNumber => "part-number",
            Label::Serial => "serial",
            Label::Text => "text",
        }
    }
}

/// Which share of random texts of the same length and characters would get the label; rough, on the high side.
pub(super) const fn rarity(label: Label, length: usize) -> f64 {
    match label {
        // One check digit in eleven is right by chance.
        Label::Vin => 1.0 / 11.0,
        // Some hundred years of 366 days among 10^8 digits; with signs between them, each has its place.
        Label::Date if length <= 8 => 1e-3,
        Label::Date => 1e-8,
        Label::VinForm | Label::PartNumber | Label::Serial | Label::Text => 1.0,
    }
}

/// What `text` looks like, and why.
pub(super) fn label(text: &str) -> (Label, Option<String>) {
    let count = |f: fn(&char) -> bool| text.chars().filter(f).count();
    let (letters, digit_count) = (count(char::is_ascii_alphabetic), count(char::is_ascii_digit));
    let length = text.chars().count();
    if length == 17 && letters > 0 && digit_count >= 4 && DigitRule::Vin.verify(text) == DigitState::Right {
        return (Label::Vin, Some("17 characters with the right check digit in place 9".to_owned()));
    }
    if let Some(form) = date_form(text) {
        return (Label::Date, Some(form.to_owned()));
    }
    if has_vin_form(text) {
        let why =
            "the form of ISO 3779; place 9 holds no right check digit, which only North America asks for";
        return (Label::VinForm, Some(why.to_owned()));
    }
    let signs = count(|c| matches!(c, '-' | '.' | '/' | '_'));
    let spaces = count(|c| *c == ' ');
    let plain = letters + digit_count + signs == length;
    let lower = count(char::is_ascii_lowercase);
    if plain && (6..=20).contains(&length) && digit_count * 4 >= length * 3 && signs == 0 {
        return (Label::Serial, Some(format!("{digit_count} digits in {length} characters")));
    }
    if (plain || spaces == 1 && letters + digit_count + signs + 1 == length)
        && (5..=24).contains(&length)
        && digit_count >= 2
        && (letters >= 1 || signs >= 1)
        && lower * 2 <= letters
    {
        return (Label::PartNumber, Some(format!("{letters} letters and {digit_count} digits together")));
    }
    (Label::Text, None)
}

/// True for 17 characters as ISO 3779 allows them (digits and capitals without I, O and Q) that end in four digits,
/// as it asks of the last section, and whose maker's section has a letter and whose year is none of the unused ones
/// (U, Z and 0 in place 10 of 49 CFR 565.15, table VII).
fn has_vin_form(text: &str) -> bool {
    let letters = text.as_bytes();
    letters.len() == 17
        && letters.iter().all(|c| matches!(c, b'0'..=b'9' | b'A'..=b'Z') && !matches!(c, b'I' | b'O' | b'Q'))
        && letters[..3].iter().any(u8::is_ascii_uppercase)
        && letters[3..9].iter().any(u8::is_ascii_uppercase)
        && letters[3..13].iter().any(u8::is_ascii_digit)
        && letters[13..].iter().all(u8::is_ascii_digit)
        && !matches!(letters[9], b'U' | b'Z' | b'0')
}

/// Names of months as programs write them; those of the compiler's `__DATE__` (ISO/IEC 9899, 6.10.8.1) are these.
const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// In which form a text is a date of 1970 to 2099: `2024-05-31`, `31.05.2024`, `05/31/2024`, `20240531`, `240531`,
/// `May 31 2024`, `2024-W22`, each also with a time of day behind it.
fn date_form(text: &str) -> Option<&'static str> {
    // The day first, then what may be a time of day.
    let words: Vec<&str> = text.split([' ', 'T', ',']).filter(|w| !w.is_empty()).collect();
    if is_day(text) {
        return Some("a calendar date");
    }
    match words[..] {
        [day, time] if is_time(time) && is_day(day) => Some("a calendar date and a time of day"),
        [month, day, year] | [day, month, year]
            if MONTHS.iter().any(|m| m.eq_ignore_ascii_case(month)) && is_in(day, 1, 31) && is_year(year) =>
        {
            Some("a calendar date with the name of its month")
        }
        [month, day, year, time]
            if MONTHS.contains(&month) && is_in(day, 1, 31) && is_year(year) && is_time(time) =>
        {
            Some("a calendar date with the name of its month, and a time of day")
        }
        _ => {
            let (year, week) = text.split_once("-W").or_else(|| text.split_once('W'))?;
            (is_year(year) && week.len() == 2 && is_in(week, 1, 53)).then_some("a year and a week")
        }
    }
}

/// True for up to two digits from `low` to `high`.
fn is_in(text: &str, low: i8, high: i8) -> bool {
    text.len() <= 2 && get::plain(text).is_some_and(|n| (low..=high).contains(&n))
}

/// True for four digits from 1970 to 2099.
fn is_year(text: &str) -> bool {
    text.len() == 4 && text.bytes().all(|b| b.is_ascii_digit()) && ("1970".."2100").contains(&text)
}

/// True for `12:34` and `12:34:56`.
fn is_time(text: &str) -> bool {
    let parts: Vec<&str> = text.split(':').collect();
    matches!(parts.len(), 2 | 3)
        && parts.iter().all(|p| p.len() == 2)
        && is_in(parts[0], 0, 23)
        && parts[1..].iter().all(|p| is_in(p, 0, 59))
}

/// True for a day in digits.
fn is_day(text: &str) -> bool {
    let day = |year: &str, month: &str, day: &str| {
        let (Some(y), Some(m), Some(d)) = (get::plain(year), get::plain(month), get::plain(day)) else {
            return false;
        };
        is_year(year) && jiff::civil::Date::new(y, m, d).is_ok()
    };
    let two = |a: &str, b: &str| a.len() <= 2 && b.len() <= 2;
    let digits = text.bytes().all(|b| b.is_ascii_digit());
    let parts: Vec<&str> = text.split(['-', '.', '/']).collect();
    match parts[..] {
        [y, m, d] if y.len() == 4 => two(m, d) && day(y, m, d),
        [a, b, y] if y.len() == 4 => two(a, b) && (day(y, b, a) || day(y, a, b)),
        [all] if all.len() == 8 && digits => day(&all[..4], &all[4..6], &all[6..]),
        // Two digits of the year: only those of this century, or six digits would be dates too often.
        [all] if all.len() == 6 && digits && &all[..2] < "50" => {
            day(&format!("20{}", &all[..2]), &all[2..4], &all[4..])
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_get_the_label_a_person_would_give() {
        for (text, wanted) in [
            // The worked example of 49 CFR 565.15 (c)(5).
            ("1G4AH59H45G118341", Label::Vin),
            ("2024-05-31", Label::Date),
            ("31.05.2024", Label::Date),
            ("20240531", Label::Date),
            ("2024-+5-31", Label::Text),
            ("20241331", Label::Serial),
            ("150302", Label::Date),
            ("151302", Label::Serial),
            ("May 31 2024", Label::Date),
            ("06/05/2013 12:03:20", Label::Date),
            ("06/05/2013 25:03:20", Label::Text),
            ("2024-W22", Label::Date),
            ("1G4AH59H75G118341", Label::VinForm),
            ("1G4AH59H75G1183O1", Label::PartNumber),
            ("FK-CR8-2047B", Label::PartNumber),
            ("2047081512", Label::Serial),
            ("Cold room", Label::Text),
        ] {
            assert_eq!(label(text).0, wanted, "{text}");
        }
    }
}
