//! Packed dates and times of the FAT file system.

use jiff::civil::{Date, DateTime, Time};

use crate::notation::get;

use super::Value;
use super::counter::typed_moment;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Seen, shown_foreign};
use super::number::{Face, Facing, Number};
use super::table::{Row, big, little, option};

/// A date in 7+4+5 bits from 1980, a time in 5+6+5 bits of two seconds, or both with the date highest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Packed {
    Date,
    Time,
    Both,
}

impl Packed {
    fn moment(self, raw: u64) -> Option<DateTime> {
        let part = |shift: u32, bits: u32| i16::try_from(raw >> shift & ((1 << bits) - 1)).ok();
        let small = |n: i16| i8::try_from(n).ok();
        let (date, time) = match self {
            Packed::Date => (Some(0), None),
            Packed::Time => (None, Some(0)),
            Packed::Both => (Some(16), Some(0)),
        };
        let date = match date {
            Some(at) => {
                Date::new(1980 + part(at + 9, 7)?, small(part(at + 5, 4)?)?, small(part(at, 5)?)?).ok()?
            }
            None => Date::new(1980, 1, 1).ok()?,
        };
        let time = match time {
            Some(at) => {
                Time::new(small(part(at + 11, 5)?)?, small(part(at + 5, 6)?)?, small(part(at, 5)? * 2)?, 0)
                    .ok()?
            }
            None => Time::midnight(),
        };
        Some(date.to_datetime(time))
    }

    fn packed(self, moment: DateTime) -> Option<u64> {
        let number = |n: i16| u64::try_from(n).ok();
        let year = number(moment.year() - 1980).filter(|&y| y < 128)?;
        let date = year << 9 | number(moment.month().into())? << 5 | number(moment.day().into())?;
        let time = number(moment.hour().into())? << 11
            | number(moment.minute().into())? << 5
            | number((moment.second() / 2).into())?;
        Some(match self {
            Packed::Date => date,
            Packed::Time => time,
            Packed::Both => date << 16 | time,
        })
    }

    fn text(self, moment: DateTime) -> String {
        let form = match self {
            Packed::Date => "%Y-%m-%d",
            Packed::Time => "%H:%M:%S",
            Packed::Both => "%Y-%m-%d %H:%M:%S",
        };
        moment.strftime(form).to_string()
    }

    fn example(self) -> &'static str {
        match self {
            Packed::Date => "a date from 1980-01-01 to 2107-12-31",
            Packed::Time => "a time in steps of two seconds: 12:30:04",
            Packed::Both => "a date and a time in steps of two seconds: 2024-03-15 12:30:04",
        }
    }

    fn typed(self, typed: &str) -> Option<DateTime> {
        match self {
            Packed::Time => typed_moment(&format!("1980-01-01 {}", typed.trim())),
            _ => typed_moment(typed),
        }
    }
}

impl Facing for Packed {
    fn seen(&self, form: &Form, raw: u64) -> Seen {
        match self.moment(raw) {
            Some(moment) if *self == Packed::Time => Seen::fine(Value::Text(self.text(moment))),
            Some(moment) => Seen::fine(Value::Date(moment)),
            None => Seen::odd(Value::Int(form.number(raw)), "no date or time"),
        }
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        let moment = match value {
            Value::Date(moment) => Some(*moment),
            Value::Text(text) => self.typed(text),
            Value::Int(raw) => {
                return form.raw(*raw).ok_or_else(|| ValueError::foreign(value, self.example()));
            }
            _ => None,
        };
        moment
            .and_then(|moment| self.packed(moment))
            .ok_or_else(|| ValueError::foreign(value, self.example()))
    }

    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        let refused = |wrong: &str| ValueError::typed(typed, wrong, self.example());
        let moment = self.typed(typed).ok_or_else(|| refused("is not fit"))?;
        let raw = self.packed(moment).ok_or_else(|| refused("is out of range"))?;
        if self.moment(raw) != Some(moment) {
            return Err(refused("cannot be stored exactly"));
        }
        Ok(self.seen(form, raw).value)
    }

    fn expects(&self, _form: &Form) -> String {
        self.example().to_string()
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        match value {
            Value::Date(moment) => self.text(*moment),
            other => shown_foreign(other),
        }
    }
}

/// `DosTime`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "DosTime",
    doc: "A date, a time or both packed into bits as in the FAT file system: years from 1980, steps of two seconds",
    options: &[
        option(
            "part",
            "Date (16 bits), Time (16 bits) or Both (32 bits, the date highest); Both when left out",
        ),
        form::ORDER,
        form::WORDS,
    ],
    examples: &[
        little(
            "DosTime",
            "C2 63 6F 58",
            "2024-03-15 12:30:04",
            "fields of Microsoft's FAT specification, packed by hand",
        ),
        big("DosTime(part: Date)", "00 21", "1980-01-01", "Microsoft's FAT specification: the first date"),
        big("DosTime(part: Time)", "BF 7D", "23:59:58", "Microsoft's FAT specification: the last time"),
    ],
    read: |entries, problems| {
        const PARTS: &[(&str, Packed)] =
            &[("Date", Packed::Date), ("Time", Packed::Time), ("Both", Packed::Both)];
        let part = entries.or("part", Packed::Both, |node| get::word(node, PARTS, "a part", problems));
        let bits = part.map(|part| if part == Packed::Both { 32 } else { 16 });
        let form = Form::of(bits, entries, problems);
        Some(Number::family(form?, Face::Dos(part?)))
    },
}];
