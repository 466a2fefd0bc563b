//! What a text looks like: a part number, a serial, a date, a VIN.

use crate::check::digits::{DigitRule, DigitState};

/// What kind of text it looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Label {
    /// A vehicle identification number whose check digit is right.
    Vin,
    /// A calendar date.
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
            Label::Date => "date-text",
            Label::PartNumber => "part-number",
            Label::Serial => "serial",
            Label::Text => "text",
        }
    }
}

/// Which share of random texts of the same length and characters would get the label; rough, on the high side.
pub(super) const fn rarity(label: Label) -> f64 {
    match label {
        // One check digit in eleven is right by chance.
        Label::Vin => 1.0 / 11.0,
        // 366 days of some hundred years among 10^8 digits.
        Label::Date => 1e-2,
        Label::PartNumber | Label::Serial | Label::Text => 1.0,
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
    if is_date(text) {
        return (Label::Date, Some("a calendar date".to_owned()));
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

/// True for a date of 1970 to 2099 as `2024-05-31`, `31.05.2024`, `05/31/2024`, `20240531` and the like.
fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split(['-', '.', '/']).collect();
    let number = |s: &str| s.parse::<i16>().ok();
    let day = |year: &str, month: &str, day: &str| {
        let (Some(y), Some(m), Some(d)) = (number(year), number(month), number(day)) else { return false };
        let (Ok(m), Ok(d)) = (i8::try_from(m), i8::try_from(d)) else { return false };
        year.len() == 4 && (1970..2100).contains(&y) && jiff::civil::Date::new(y, m, d).is_ok()
    };
    let two = |a: &str, b: &str| a.len() <= 2 && b.len() <= 2;
    match parts[..] {
        [y, m, d] if y.len() == 4 => two(m, d) && day(y, m, d),
        [a, b, y] if y.len() == 4 => two(a, b) && (day(y, b, a) || day(y, a, b)),
        [all] if all.len() == 8 && all.bytes().all(|b| b.is_ascii_digit()) => {
            day(&all[..4], &all[4..6], &all[6..])
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
            ("20241331", Label::Serial),
            ("FK-CR8-2047B", Label::PartNumber),
            ("2047081512", Label::Serial),
            ("Cold room", Label::Text),
        ] {
            assert_eq!(label(text).0, wanted, "{text}");
        }
    }
}
