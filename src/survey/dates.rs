//! Dates and times of day that are stored part by part, in packed digits or binary.

use jiff::civil;

use super::{Kind, Region};
use crate::span::{ByteOrder, Span};

/// How a date is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct DateForm {
    /// The parts in their order as the kind `Date` of a layout writes them; `YYYY` takes two bytes.
    pub parts: &'static str,
    /// Whether each byte holds two packed digits; else it is a binary number.
    pub packed: bool,
    /// Which byte of a binary `YYYY` stands first.
    pub order: ByteOrder,
}

const fn packed(parts: &'static str) -> DateForm {
    DateForm { parts, packed: true, order: ByteOrder::Big }
}

const fn binary(parts: &'static str, order: ByteOrder) -> DateForm {
    DateForm { parts, packed: false, order }
}

/// The forms that are looked for, the longest first.
pub(super) const FORMS: [DateForm; 10] = [
    packed("YYYY MM DD hh mm ss"),
    packed("YY MM DD hh mm ss"),
    // The order of clock chips: seconds first, a weekday between.
    packed("ss mm hh -- DD MM YY"),
    packed("DD MM YY hh mm ss"),
    binary("YYYY MM DD hh mm ss", ByteOrder::Big),
    binary("YYYY MM DD hh mm ss", ByteOrder::Little),
    packed("YYYY MM DD"),
    packed("DD MM YYYY"),
    binary("YYYY MM DD", ByteOrder::Big),
    binary("YYYY MM DD", ByteOrder::Little),
];

/// The years that dates of memories on boards fall into.
const YEARS: std::ops::Range<i16> = 1995..2045;

/// Chance that is too much for a date to be told.
const MOST_CHANCE: f64 = 0.5;

impl DateForm {
    /// Bytes of the date.
    #[must_use]
    pub fn bytes(self) -> usize {
        self.parts.split(' ').map(|part| part.len() / 2).sum()
    }

    /// Words for how it is stored.
    #[must_use]
    pub const fn words(self) -> &'static str {
        if self.packed { "packed digits" } else { "binary numbers" }
    }

    /// The kind as a layout whose numbers stand in `order` writes it; the bytes as they are where it has no such kind.
    #[must_use]
    pub fn kind(self, order: ByteOrder) -> String {
        match (self.packed, self.order == order) {
            (true, _) => format!("Date(form: {:?})", self.parts),
            (false, true) => format!("Date(form: {:?}, coded: Binary)", self.parts),
            (false, false) => format!("Bytes(bytes: {})", self.bytes()),
        }
    }

    /// The date that `bytes` hold, as text; `None` if they hold none that is plainly of this age.
    pub(super) fn read(self, bytes: &[u8]) -> Option<String> {
        let digits = |b: u8| (b >> 4 <= 9 && b & 15 <= 9).then(|| i16::from(b >> 4) * 10 + i16::from(b & 15));
        let (mut century, mut year, mut at) = (20, None, 0);
        let (mut month, mut day, mut time) = (None, None, [None; 3]);
        for part in self.parts.split(' ') {
            let one = *bytes.get(at)?;
            at += part.len() / 2;
            if part == "YYYY" {
                let pair = [one, *bytes.get(at - 1)?];
                let number = match self.order {
                    _ if self.packed => digits(pair[0])? * 100 + digits(pair[1])?,
                    ByteOrder::Big => i16::from_be_bytes(pair),
                    ByteOrder::Little => i16::from_le_bytes(pair),
                };
                (century, year) = (0, Some(number));
                continue;
            }
            let number = if self.packed { digits(one)? } else { i16::from(one) };
            match part {
                "YY" => year = Some(number),
                "MM" => month = i8::try_from(number).ok(),
                "DD" => day = i8::try_from(number).ok(),
                "hh" => time[0] = Some(i8::try_from(number).ok().filter(|n| *n < 24)?),
                "mm" => time[1] = Some(i8::try_from(number).ok().filter(|n| *n < 60)?),
                "ss" => time[2] = Some(i8::try_from(number).ok().filter(|n| *n < 60)?),
                // The weekday of a clock chip.
                _ if number > 7 => return None,
                _ => {}
            }
        }
        let year = century * 100 + year?;
        let date = civil::Date::new(year, month?, day?).ok().filter(|_| YEARS.contains(&year))?;
        Some(match time {
            [Some(h), Some(m), Some(s)] => format!("{date} {h:02}:{m:02}:{s:02}"),
            _ => date.to_string(),
        })
    }

    /// Where in the date a part stands.
    fn place(self, part: &str) -> usize {
        self.parts.split(' ').take_while(|p| *p != part).map(|p| p.len() / 2).sum()
    }

    /// How many different moments the form can say, times how much rarer it is than the commonest one; common
    /// practice, no source.
    pub(super) fn moments(self) -> f64 {
        let days = f64::from(YEARS.end - YEARS.start) * 365.25;
        let time = if self.parts.contains("hh") { 86_400.0 } else { 1.0 };
        let weekday = if self.parts.contains("--") { 8.0 } else { 1.0 };
        let rareness = match self.parts {
            "YYYY MM DD" if self.packed => 1.0,
            "YYYY MM DD" => 3.0,
            "DD MM YYYY" => 10.0,
            // Rows of small numbers that rise pass for a date with its time far oftener than single bytes tell.
            _ => 100.0,
        };
        days * time * weekday * rareness
    }
}

/// The share of bytes of real memories that are this one, roughly: zeros and small numbers are far commoner than
/// one in 256, and among them most bytes read as months, hours and minutes.
pub(super) const fn share(byte: u8) -> f64 {
    match byte {
        0x00 => 0.15,
        0x01..=0x0F => 0.02,
        0x20 | 0xFF => 0.03,
        _ => 0.0023,
    }
}

/// Dates that stand anywhere.
pub(super) fn dates(bytes: &[u8]) -> Vec<Region> {
    let mut found: Vec<Region> = Vec::new();
    for form in FORMS {
        // Most places have no month and no day; they are passed over first.
        let [month, day] = ["MM", "DD"].map(|part| form.place(part));
        let tries = bytes.len() as f64 * form.moments();
        for (at, window) in bytes.windows(form.bytes()).enumerate() {
            if !(1..=0x12).contains(&window[month]) || !(1..=0x31).contains(&window[day]) {
                continue;
            }
            let chance = tries * window.iter().map(|&b| share(b)).product::<f64>();
            if chance > MOST_CHANCE {
                continue;
            }
            let Some(said) = form.read(window) else { continue };
            found.push(Region {
                at: Span::of(at, form.bytes()),
                evidence: format!("{} that form the date {said} ({})", form.words(), form.parts),
                kind: Kind::Date { said, form },
                chance,
            });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_read_in_every_form() {
        for (stored, said, parts) in [
            (&[0x20u8, 0x24, 0x05, 0x31][..], "2024-05-31", "YYYY MM DD"),
            (&[0x31, 0x05, 0x20, 0x24], "2024-05-31", "DD MM YYYY"),
            (&[0x24, 0x06, 0x02, 0x16, 0x41, 0x07], "2024-06-02 16:41:07", "YY MM DD hh mm ss"),
            (&[0x07, 0x41, 0x16, 0x01, 0x02, 0x06, 0x24], "2024-06-02 16:41:07", "ss mm hh -- DD MM YY"),
            (&[0x07, 0xE8, 6, 2, 16, 41, 7], "2024-06-02 16:41:07", "YYYY MM DD hh mm ss"),
            (&[0xE8, 0x07, 6, 2, 16, 41, 7], "2024-06-02 16:41:07", "YYYY MM DD hh mm ss"),
        ] {
            let mut read = FORMS.into_iter().filter(|f| f.parts == parts && f.bytes() == stored.len());
            assert!(read.any(|f| f.read(stored).as_deref() == Some(said)), "{stored:02X?}");
        }
    }

    #[test]
    fn days_that_no_calendar_has_are_no_dates() {
        let mut bytes = vec![0xAB; 64];
        bytes[20..24].copy_from_slice(&[0x20, 0x24, 0x05, 0x31]);
        assert!(
            dates(&bytes).iter().any(|r| matches!(&r.kind, Kind::Date { said, .. } if said == "2024-05-31"))
        );
        for stored in [[0x20u8, 0x24, 0x02, 0x30], [0x20, 0x24, 0x13, 0x01], [0x20, 0x2A, 0x05, 0x31]] {
            assert!(dates(&stored).is_empty());
        }
    }
}
