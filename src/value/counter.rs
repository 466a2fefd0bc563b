//! A number that counts time from a fixed moment.

use jiff::SignedDuration;
use jiff::civil::DateTime;

use crate::notation::{Entries, Problem, get};

use super::Value;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Seen, shown_foreign};
use super::number::{Face, Facing, Number, UNSET_OPTION, read_unset};
use super::table::{Row, big, little, option};

/// How time is counted.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Counter {
    /// Seconds of one step.
    step: i64,
    /// What 0 stands for.
    from: DateTime,
}

impl Counter {
    fn moment(&self, number: i128) -> Option<DateTime> {
        let seconds = i64::try_from(number).ok()?.checked_mul(self.step)?;
        // Years before the first are written with a sign that no date field has.
        self.from.checked_add(SignedDuration::from_secs(seconds)).ok().filter(|moment| moment.year() > 0)
    }

    fn number(&self, moment: DateTime) -> (i128, bool) {
        let seconds = moment.duration_since(self.from).as_secs();
        (i128::from(seconds.div_euclid(self.step)), seconds.rem_euclid(self.step) == 0)
    }

    fn text(&self, moment: DateTime) -> String {
        let form = match self.step {
            step if step % 86_400 == 0 && self.from.time() == jiff::civil::Time::midnight() => "%Y-%m-%d",
            step if step % 60 == 0 && self.from.second() == 0 => "%Y-%m-%d %H:%M",
            _ => "%Y-%m-%d %H:%M:%S",
        };
        moment.strftime(form).to_string()
    }

    fn range(&self, form: &Form) -> String {
        let shown = |n| self.moment(n).map_or("the end of the calendar".to_string(), |m| self.text(m));
        format!("{} to {}", shown(form.least()), shown(form.most()))
    }

    fn expected(&self) -> String {
        format!("a date and time as {}", self.text(self.from))
    }
}

/// Reads `2024-03-15`, `2024-03-15 12:30`, `2024-03-15T12:30:00`.
pub(super) fn typed_moment(typed: &str) -> Option<DateTime> {
    let typed = typed.trim();
    // A zone would be dropped in silence.
    let plain = typed.bytes().all(|b| b.is_ascii_digit() || b"-: Tt".contains(&b));
    plain.then(|| typed.parse().ok())?
}

impl Facing for Counter {
    fn seen(&self, form: &Form, raw: u64) -> Seen {
        let number = form.number(raw);
        match self.moment(number) {
            Some(moment) => Seen::fine(Value::Date(moment)),
            None => Seen::odd(Value::Int(number), "the time is out of the calendar's range"),
        }
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        let number = match value {
            Value::Date(moment) => match self.number(*moment) {
                (number, true) => number,
                _ => {
                    return Err(ValueError::typed(
                        &moment.to_string(),
                        "falls between two steps",
                        self.expected(),
                    ));
                }
            },
            Value::Int(number) => *number,
            other => return Err(ValueError::foreign(other, self.expected())),
        };
        form.raw(number)
            .ok_or_else(|| ValueError::typed(&self.show(form, value), "is out of range", self.range(form)))
    }

    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        let moment =
            typed_moment(typed).ok_or_else(|| ValueError::typed(typed, "is no date", self.expected()))?;
        let (number, exact) = self.number(moment);
        if !exact {
            let near: Vec<String> =
                [number, number + 1].iter().filter_map(|&n| self.moment(n)).map(|m| self.text(m)).collect();
            return Err(ValueError::typed(typed, "falls between two steps", near.join(" or ")));
        }
        self.raw(form, &Value::Date(moment))?;
        Ok(Value::Date(moment))
    }

    fn expects(&self, form: &Form) -> String {
        format!("a date and time from {}", self.range(form))
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        match value {
            Value::Date(moment) => self.text(*moment),
            other => shown_foreign(other),
        }
    }
}

fn read(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Counter> {
    const STEPS: &[(&str, i64)] =
        &[("Seconds", 1), ("Minutes", 60), ("Hours", 3_600), ("Days", 86_400), ("Weeks", 604_800)];
    let step = entries
        .required("count", problems)
        .and_then(|node| get::word(node, STEPS, "a unit of time", problems));
    let from = entries.required("from", problems).and_then(|node| {
        let text = get::text(node, "a date", problems)?;
        let from = typed_moment(text);
        if from.is_none() {
            problems.push(Problem::new(
                node.span,
                format!("{} is no date", node.shown()),
                "a date such as \"1996-01-01\" or \"1996-01-01 12:00\"",
            ));
        }
        from
    });
    Some(Counter { step: step?, from: from? })
}

/// `Since`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Since",
    doc: "A moment stored as the time that passed since another one",
    options: &[
        form::BITS,
        form::BYTES,
        form::SIGNED,
        form::SIGN,
        form::ORDER,
        form::WORDS,
        option("count", "Seconds, Minutes, Hours, Days or Weeks: what is counted"),
        option("from", "what 0 stands for, such as \"1970-01-01\" or \"1996-01-01 00:00\""),
        UNSET_OPTION,
    ],
    examples: &[
        big(
            "Since(bits: 32, count: Seconds, from: \"1970-01-01\")",
            "49 96 02 D2",
            "2009-02-13 23:31:30",
            "POSIX time 1234567890",
        ),
        little(
            "Since(bits: 24, count: Minutes, from: \"1996-01-01\", unset: 0)",
            "10 14 6B",
            "2009-05-05 06:08",
            "the form of the manufacturing time in the IPMI Platform Management FRU Information Storage Definition v1.0; worked by hand",
        ),
        little(
            "Since(bits: 16, count: Days, from: \"2000-01-01\")",
            "6D 01",
            "2000-12-31",
            "counted by hand: 2000 was a leap year",
        ),
    ],
    read: |entries, problems| {
        let form = Form::read_signed(entries, problems);
        let counter = read(entries, problems);
        let unset = read_unset(entries, problems);
        Some(Number { form: form?, face: Face::Counter(counter?), unset: unset? }.into())
    },
}];
