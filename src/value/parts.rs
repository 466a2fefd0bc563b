//! Dates and times stored part by part: year, month, day, week, hour, minute, second.

use jiff::civil::{Date, DateTime, Time};

use crate::notation::{Entries, Problem, get};
use crate::span::ByteOrder;

use super::Value;
use super::counter::typed_moment;
use super::error::ValueError;
use super::kind::{Leaf, Seen, Size, shown_foreign};
use super::number::UNSET;
use super::table::{Row, big, option};

/// A date stored part by part.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Parts {
    parts: Vec<Part>,
    coded: Coded,
    /// What is added to a stored year of two digits or one byte.
    from: i32,
    /// The number in place of a week that makes the year that of the model.
    model: Option<i32>,
    /// Bytes that fill the field when it holds no date; the first is written.
    unset: Vec<u64>,
}

/// What stands behind a year that is that of the model.
const MODEL: &str = " model";

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// Four digits of the year.
    FullYear,
    /// The hundreds of the year.
    Century,
    Year,
    Month,
    Day,
    Week,
    Hour,
    Minute,
    Second,
    /// A byte that is no part of it, such as the day of the week; it is kept.
    Skip,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Coded {
    Bcd,
    Binary,
    Ascii,
}

/// The words of `form`.
const WORDS: &[(&str, Part)] = &[
    ("YYYY", Part::FullYear),
    ("CC", Part::Century),
    ("YY", Part::Year),
    ("MM", Part::Month),
    ("DD", Part::Day),
    ("WW", Part::Week),
    ("hh", Part::Hour),
    ("mm", Part::Minute),
    ("ss", Part::Second),
    ("--", Part::Skip),
];

/// What may be said of each part.
const RANGES: [(Part, i32, i32, &str); 7] = [
    (Part::FullYear, 1, 9999, "year"),
    (Part::Month, 1, 12, "month"),
    (Part::Day, 1, 31, "day"),
    (Part::Week, 0, 54, "week"),
    (Part::Hour, 0, 23, "hour"),
    (Part::Minute, 0, 59, "minute"),
    (Part::Second, 0, 59, "second"),
];

/// What the parts say; the year is whole, in whatever parts it is stored.
#[derive(Debug, Clone, Default)]
struct Said {
    numbers: Vec<(Part, i32)>,
    /// A byte that holds no digits where digits belong, read as the number itself.
    undecimal: Option<u8>,
}

impl Said {
    fn get(&self, part: Part) -> Option<i32> {
        self.numbers.iter().find(|(p, _)| *p == part).map(|(_, number)| *number)
    }

    fn put(&mut self, part: Part, number: i32) {
        self.numbers.push((part, number));
    }
}

impl Parts {
    fn width(&self, part: Part) -> usize {
        match (self.coded, part) {
            (Coded::Ascii, Part::FullYear) => 4,
            (Coded::Ascii, _) | (_, Part::FullYear) => 2,
            _ => 1,
        }
    }

    fn bytes(&self) -> usize {
        self.parts.iter().map(|&p| self.width(p)).sum()
    }

    fn has(&self, part: Part) -> bool {
        self.parts.contains(&part)
    }

    fn has_time(&self) -> bool {
        self.has(Part::Hour)
    }

    /// Whether the bytes say this part, the year being whole.
    fn tells(&self, part: Part) -> bool {
        self.has(part) || part == Part::FullYear && self.has(Part::Year)
    }

    /// The number in the bytes of one part.
    fn number(&self, bytes: &[u8], order: ByteOrder) -> Result<i32, String> {
        let digit = |n: u8| if n > 9 { Err(format!("0x{n:X} is no digit")) } else { Ok(i32::from(n)) };
        match self.coded {
            Coded::Binary => {
                // At most two bytes.
                Ok(order.number(bytes) as i32)
            }
            Coded::Bcd => bytes.iter().try_fold(0, |n, b| Ok(n * 100 + digit(b >> 4)? * 10 + digit(b & 15)?)),
            Coded::Ascii => bytes.iter().try_fold(0, |n, b| Ok(n * 10 + digit(b.wrapping_sub(b'0'))?)),
        }
    }

    fn stored(&self, number: i32, width: usize, order: ByteOrder) -> Vec<u8> {
        let byte = |n: i32| u8::try_from(n).unwrap_or(0);
        match (self.coded, width) {
            (Coded::Binary, 1) => vec![byte(number)],
            (Coded::Binary, _) if order == ByteOrder::Big => vec![byte(number >> 8), byte(number & 0xFF)],
            (Coded::Binary, _) => vec![byte(number & 0xFF), byte(number >> 8)],
            (Coded::Bcd, 1) => vec![byte(((number / 10) << 4) | (number % 10))],
            (Coded::Bcd, _) => {
                [number / 100, number % 100].map(|n| byte(((n / 10) << 4) | (n % 10))).to_vec()
            }
            (Coded::Ascii, width) => format!("{number:0width$}").into_bytes(),
        }
    }

    fn said(&self, bytes: &[u8], order: ByteOrder) -> Result<Said, String> {
        let mut said = Said::default();
        let (mut at, mut century, mut year) = (0, None, None);
        for &part in &self.parts {
            let width = self.width(part);
            let bytes = bytes.get(at..at + width).ok_or("the bytes end too early")?;
            at += width;
            if part == Part::Skip {
                continue;
            }
            let number = match (self.coded, bytes, self.number(bytes, order)) {
                // Some makers store the number itself where digits belong; the byte tells, when it holds none.
                (Coded::Bcd, &[byte], Err(_)) => {
                    said.undecimal = Some(byte);
                    i32::from(byte)
                }
                (_, _, number) => number?,
            };
            match part {
                Part::Century => century = Some(number),
                Part::Year => year = Some(number),
                part => said.put(part, number),
            }
        }
        if let Some(year) = year {
            said.put(Part::FullYear, year + century.map_or(self.from, |c| c * 100));
        }
        Ok(said)
    }

    fn value(&self, said: &Said) -> Result<Value, String> {
        let model = self.model.is_some() && said.get(Part::Week) == self.model;
        for (part, least, most, what) in RANGES {
            match said.get(part) {
                Some(n) if (n < least || most < n) && !(model && part == Part::Week) => {
                    return Err(format!("{what} {n}"));
                }
                _ => {}
            }
        }
        let [year, month, week] = [Part::FullYear, Part::Month, Part::Week].map(|part| said.get(part));
        if model {
            return Ok(Value::Text(format!("{:04}{MODEL}", year.unwrap_or(0))));
        }
        let [day, hour, minute, second] =
            [Part::Day, Part::Hour, Part::Minute, Part::Second].map(|part| said.get(part).map(|n| n as i8));
        let [hour, minute, second] = [hour, minute, second].map(Option::unwrap_or_default);
        let time = Time::new(hour, minute, second, 0).map_err(|e| e.to_string())?;
        if let (Some(year), Some(month), Some(day)) = (year, month, day) {
            let date = Date::new(year as i16, month as i8, day)
                .map_err(|_| format!("{year:04}-{month:02} has no day {day}"))?;
            return Ok(Value::Date(date.to_datetime(time)));
        }
        let mut text = String::new();
        match (year, month, week) {
            // Week 0 says that only the year is known.
            (Some(year), None, Some(week)) if week > 0 => text = format!("{year:04}-W{week:02}"),
            (Some(year), Some(month), _) => text = format!("{year:04}-{month:02}"),
            (Some(year), None, _) => text = format!("{year:04}"),
            _ => {}
        }
        if self.has_time() {
            if !text.is_empty() {
                text.push(' ');
            }
            text.push_str(&self.time_text(time));
        }
        Ok(Value::Text(text))
    }

    fn time_text(&self, time: Time) -> String {
        let form = match (self.has(Part::Minute), self.has(Part::Second)) {
            (true, true) => "%H:%M:%S",
            (true, false) => "%H:%M",
            _ => "%H",
        };
        time.strftime(form).to_string()
    }

    fn text(&self, moment: DateTime) -> String {
        let date = moment.date().strftime("%Y-%m-%d").to_string();
        if self.has_time() { format!("{date} {}", self.time_text(moment.time())) } else { date }
    }

    fn example(&self) -> String {
        let numbers =
            [(Part::FullYear, 2024), (Part::Month, 3), (Part::Day, 15), (Part::Week, 12), (Part::Hour, 12)];
        let numbers = numbers.into_iter().filter(|(part, _)| self.tells(*part)).collect();
        let said = Said { numbers, undecimal: None };
        self.value(&said).map(|value| self.show(&value)).unwrap_or_default()
    }

    /// The parts of typed text.
    fn typed(&self, typed: &str) -> Option<Said> {
        if self.has(Part::Day) {
            let moment = typed_moment(typed)?;
            // A time that the field has no room for would be lost.
            let lost = !self.has_time() && moment.time() != Time::midnight()
                || !self.has(Part::Second) && moment.second() != 0
                || !self.has(Part::Minute) && moment.minute() != 0;
            let numbers = [
                (Part::FullYear, moment.year().into()),
                (Part::Month, moment.month().into()),
                (Part::Day, moment.day().into()),
                (Part::Hour, moment.hour().into()),
                (Part::Minute, moment.minute().into()),
                (Part::Second, moment.second().into()),
            ];
            let numbers = numbers.into_iter().filter(|(part, _)| self.tells(*part)).collect();
            return (!lost).then_some(Said { numbers, undecimal: None });
        }
        let mut said = Said::default();
        let number = |text: &str| get::plain::<u16>(text).map(i32::from);
        if let (Some(year), Some(model)) = (typed.strip_suffix(MODEL), self.model) {
            said.put(Part::FullYear, number(year)?);
            said.put(Part::Week, model);
            return Some(said);
        }
        let words: Vec<&str> = typed.split_whitespace().collect();
        let (date, time) = match (words.as_slice(), self.has_time()) {
            ([date, time], true) => (Some(*date), Some(*time)),
            ([time], true) => (None, Some(*time)),
            ([date], false) => (Some(*date), None),
            _ => return None,
        };
        if let Some(date) = date {
            let (year, rest) = date.split_once('-').map_or((date, None), |(year, rest)| (year, Some(rest)));
            said.put(Part::FullYear, number(year)?);
            if let Some(rest) = rest {
                match rest.strip_prefix(['W', 'w']) {
                    Some(week) => said.put(Part::Week, number(week)?),
                    None => said.put(Part::Month, number(rest)?),
                }
            }
        }
        if let Some(time) = time {
            let parts = [Part::Hour, Part::Minute, Part::Second].into_iter().filter(|part| self.has(*part));
            let mut numbers = time.split(':');
            for part in parts {
                said.put(part, number(numbers.next()?)?);
            }
            if numbers.next().is_some() {
                return None;
            }
        }
        // The same parts must be there, week 0 standing for none.
        let is_there = |part| said.get(part).is_some();
        let same = is_there(Part::Month) == self.tells(Part::Month)
            && (!is_there(Part::Week) || self.tells(Part::Week))
            && is_there(Part::FullYear) == self.tells(Part::FullYear);
        same.then_some(said)
    }

    fn write(&self, said: &Said, old: &[u8], order: ByteOrder) -> Result<Vec<u8>, String> {
        let mut bytes = Vec::with_capacity(old.len());
        let year = said.get(Part::FullYear).unwrap_or(0);
        for &part in &self.parts {
            let width = self.width(part);
            let number = match part {
                Part::Skip => {
                    bytes.extend_from_slice(
                        old.get(bytes.len()..bytes.len() + width).unwrap_or(&[0, 0][..width]),
                    );
                    continue;
                }
                Part::FullYear => year,
                Part::Century => year / 100,
                Part::Year if self.has(Part::Century) => year % 100,
                Part::Year => year - self.from,
                part => said.get(part).unwrap_or(0),
            };
            let most = match (self.coded, part) {
                (_, Part::FullYear) => 9999,
                (Coded::Binary, _) => 255,
                _ => 99,
            };
            if number < 0 || most < number {
                return Err(format!("a year from {} to {}", self.from.max(1), self.from + most));
            }
            bytes.extend(self.stored(number, width, order));
        }
        Ok(bytes)
    }

    fn said_by(&self, value: &Value) -> Option<Said> {
        match value {
            Value::Date(moment) => self.typed(&moment.strftime("%Y-%m-%d %H:%M:%S").to_string()),
            Value::Text(text) => self.typed(text),
            _ => None,
        }
    }
}

impl Leaf for Parts {
    fn size(&self) -> Size {
        Size::Bytes(self.bytes())
    }

    fn decode(&self, bytes: &[u8], order: ByteOrder) -> Seen {
        if self.unset.iter().any(|&unset| bytes.iter().all(|&b| u64::from(b) == unset)) {
            return Seen::fine(Value::Text(UNSET.to_string()));
        }
        match self.said(bytes, order).and_then(|said| Ok((self.value(&said)?, said.undecimal))) {
            Ok((value, None)) => Seen::fine(value),
            Ok((value, Some(byte))) => {
                Seen::odd(value, format!("0x{byte:02X} is no pair of digits; read as {byte}"))
            }
            Err(oddity) => Seen::nonsense(bytes, format!("no date: {oddity}")),
        }
    }

    fn encode(&self, value: &Value, old: &[u8], order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        if let Value::Bytes(bytes) = value
            && bytes.len() == old.len()
        {
            return Ok(bytes.clone());
        }
        if let (Value::Text(text), Some(&unset)) = (value, self.unset.first())
            && text == UNSET
        {
            return Ok(vec![u8::try_from(unset).unwrap_or(0xFF); old.len()]);
        }
        let said = self.said_by(value).ok_or_else(|| ValueError::foreign(value, self.example()))?;
        self.write(&said, old, order)
            .map_err(|expected| ValueError::typed(&self.show(value), "cannot be stored", expected))
    }

    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let typed = typed.trim();
        if typed.eq_ignore_ascii_case(UNSET) && !self.unset.is_empty() {
            return Ok(Value::Text(UNSET.to_string()));
        }
        let expected = || self.expects();
        let said =
            self.typed(typed).ok_or_else(|| ValueError::typed(typed, "is no date that fits", expected()))?;
        let value = self
            .value(&said)
            .map_err(|oddity| ValueError::typed(typed, format!("is no date: {oddity}"), expected()))?;
        let bytes = self
            .write(&said, &vec![0; self.bytes()], ByteOrder::Big)
            .map_err(|expected| ValueError::typed(typed, "cannot be stored", expected))?;
        match self.decode(&bytes, ByteOrder::Big).value {
            Value::Text(text) if text == UNSET => {
                Err(ValueError::typed(typed, "would be read as not set", format!("another date, or {UNSET}")))
            }
            _ => Ok(value),
        }
    }

    fn expects(&self) -> String {
        let unset = if self.unset.is_empty() { String::new() } else { format!(", or {UNSET}") };
        format!("a date as {}{unset}", self.example())
    }

    fn show(&self, value: &Value) -> String {
        match value {
            Value::Date(moment) => self.text(*moment),
            other => shown_foreign(other),
        }
    }

    fn measure(&self) -> std::borrow::Cow<'static, str> {
        "".into()
    }
}

fn read(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Parts> {
    const CODED: &[(&str, Coded)] =
        &[("Bcd", Coded::Bcd), ("Binary", Coded::Binary), ("Ascii", Coded::Ascii)];
    let coded = entries.or("coded", Coded::Bcd, |node| get::word(node, CODED, "a coding", problems));
    let from = entries.or("from", 2000, |node| get::int(node, 0..=9900, "a year", problems));
    let model = entries
        .or("model", None, |node| get::int(node, 55..=255, "a number above all weeks", problems).map(Some));
    let unset = entries.or("unset", Vec::new(), |node| {
        get::one_or_more(node)
            .iter()
            .map(|n| get::int(n, 0..=255u64, "a byte that fills the field", problems))
            .collect()
    });
    let node = entries.required("form", problems)?;
    let form = get::text(node, "the parts in their order, such as \"YY MM DD hh mm ss\"", problems)?;
    let mut parts = Vec::new();
    for word in form.split_whitespace() {
        let part = WORDS.iter().find(|(w, _)| *w == word).map(|(_, part)| *part);
        let wrong = match part {
            None => Some(format!("{word:?} is no part of a date")),
            Some(part) if part != Part::Skip && parts.contains(&part) => Some(format!("{word} stands twice")),
            Some(_) => None,
        };
        match (wrong, part) {
            (None, Some(part)) => parts.push(part),
            (wrong, _) => {
                let words = WORDS.iter().map(|(w, _)| *w).collect::<Vec<_>>().join(", ");
                problems.push(Problem::new(
                    node.span,
                    wrong.unwrap_or_default(),
                    format!("each once of {words}"),
                ));
                return None;
            }
        }
    }
    let has = |part| parts.contains(&part);
    let year = has(Part::Year) || has(Part::FullYear);
    let whole = (year || has(Part::Hour))
        && !(has(Part::Year) && has(Part::FullYear))
        && (!has(Part::Month) || year)
        && (!has(Part::Week) || year && !has(Part::Month))
        && (!has(Part::Day) || has(Part::Month))
        && (!has(Part::Century) || has(Part::Year))
        && (!has(Part::Minute) || has(Part::Hour))
        && (!has(Part::Second) || has(Part::Minute))
        && parts.len() <= 16;
    if !whole {
        problems.push(Problem::new(
            node.span,
            format!("{} is no date or time", node.shown()),
            "a year, then perhaps month and day or a week; an hour, then perhaps minute and second",
        ));
        return None;
    }
    let (coded, model) = (coded?, model?);
    if model.is_some() && (coded != Coded::Binary || !has(Part::Week) || has(Part::Hour)) {
        problems.push(Problem::new(
            entries.span(),
            "model has no meaning for this date",
            "model beside a Binary date of week and year",
        ));
        return None;
    }
    Some(Parts { parts, coded, from: from?, model, unset: unset? })
}

/// `Date`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Date",
    doc: "A date or a time stored part by part, each in a byte of its own",
    options: &[
        option(
            "form",
            "the parts in their order, out of YYYY (two bytes), CC (hundreds), YY, MM, DD, WW (week), hh, mm, ss and -- (a byte that is no part of it)",
        ),
        option("coded", "Bcd, Binary or Ascii (two digits for each byte); Bcd when left out"),
        option("from", "what is added to YY; 2000 when left out"),
        option(
            "model",
            "for Binary weeks, a number above 54 in place of the week that makes the year that of the model",
        ),
        option(
            "unset",
            "a byte, or a list of them, that fills the field when it holds no date: shown as \"not set\"",
        ),
    ],
    examples: &[
        big(
            "Date(form: \"YY MM DD hh mm ss\")",
            "24 03 15 12 30 05",
            "2024-03-15 12:30:05",
            "common practice, no source",
        ),
        big("Date(form: \"DD MM CC YY\")", "15 03 19 99", "1999-03-15", "common practice, no source"),
        big(
            "Date(form: \"WW YY\", coded: Binary, from: 1990)",
            "1A 12",
            "2008-W26",
            "the week and year of manufacture of VESA E-EDID release A.2, section 3.4.4",
        ),
        big(
            "Date(form: \"YY WW\")",
            "15 32",
            "2015-W32",
            "the module manufacturing date of JEDEC SPD (JESD21-C, annex L), bytes 323 and 324",
        ),
        big(
            "Date(form: \"WW YY\", coded: Binary, from: 1990, model: 255)",
            "FF 1E",
            "2020 model",
            "VESA E-EDID release A.2, section 3.4.4: week FF marks a model year",
        ),
        big("Date(form: \"YY MM\", coded: Ascii)", "31 39 30 37", "2019-07", "common practice, no source"),
    ],
    read: |entries, problems| read(entries, problems).map(Into::into),
}];

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(ron: &str, bytes: &[u8]) -> (String, Option<String>) {
        let kind = super::super::Kind::read(&crate::notation::parse(ron).unwrap(), &mut Vec::new()).unwrap();
        let seen = kind.decode(bytes, ByteOrder::Big);
        (kind.show(&seen.value), seen.oddity)
    }

    #[test]
    fn a_byte_without_digits_is_read_as_the_number_and_called_odd() {
        // As decode-dimms (Debian i2c-tools) reads the week of manufacture 1C.
        let odd = "0x1C is no pair of digits; read as 28".to_string();
        assert_eq!(seen("Date(form: \"YY WW\")", &[0x08, 0x1C]), ("2008-W28".to_string(), Some(odd)));
        let odd = "no date: week 255".to_string();
        assert_eq!(seen("Date(form: \"YY WW\")", &[0xFF, 0xFF]), ("FF FF".to_string(), Some(odd)));
    }

    #[test]
    fn a_year_without_a_week_and_days_that_do_not_exist() {
        assert_eq!(seen("Date(form: \"YY WW\")", &[0x08, 0x00]), ("2008".to_string(), None));
        let (_, odd) = seen("Date(form: \"YY MM DD\")", &[0x23, 0x02, 0x29]);
        assert_eq!(odd.as_deref(), Some("no date: 2023-02 has no day 29"));
    }
}
