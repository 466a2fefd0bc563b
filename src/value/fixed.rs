//! Fixed-point numbers, versions and table-driven numbers: whole numbers that show as something near a number.

use crate::notation::{Entries, NodeValue, Problem, get};
use crate::wording::count;

use super::Value;
use super::decimal::Decimal;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Family, Seen, shown_foreign};
use super::number::{Face, Facing, Number, UNSET_OPTION, read_unset, unsigned, unsigned_raw};
use super::scale::{Scaling, exact};
use super::table::{Row, big, little, option};

/// Numbers by stored number.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lookup(Vec<(u64, Decimal)>);

impl Lookup {
    fn value(&self, raw: u64) -> Option<Value> {
        let (_, value) = self.0.iter().find(|(n, _)| *n == raw)?;
        Some(value.whole().map_or(Value::Decimal(*value), Value::Int))
    }

    /// The same places for every number, so that columns stand under each other.
    fn places(&self) -> u32 {
        self.0.iter().map(|(_, value)| value.places()).max().unwrap_or(0)
    }

    fn expected(&self) -> String {
        const SHOWN: usize = 8;
        let mut shown: Vec<String> =
            self.0.iter().take(SHOWN).map(|(_, value)| value.fixed(self.places())).collect();
        if self.0.len() > SHOWN {
            shown.push("…".to_string());
        }
        format!("one of {}", shown.join(", "))
    }
}

impl Facing for Lookup {
    fn seen(&self, _form: &Form, raw: u64) -> Seen {
        match self.value(raw) {
            Some(value) => Seen::fine(value),
            None => Seen::odd(Value::Choice(raw, None), format!("{raw} is not in the table")),
        }
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        if let Value::Choice(..) = value {
            return unsigned_raw(form, value, "a stored number");
        }
        let number = value.decimal().ok_or_else(|| ValueError::foreign(value, self.expected()))?;
        let found = self.0.iter().find(|(_, listed)| *listed == number);
        found
            .map(|(raw, _)| *raw)
            .ok_or_else(|| ValueError::typed(&number.to_string(), "is not in the table", self.expected()))
    }

    /// A number of the table, or a stored number in brackets: `(5)`.
    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        if let Some(inner) = typed.strip_prefix('(').and_then(|t| t.strip_suffix(')'))
            && let Some(number) = get::whole(inner)
        {
            let raw = unsigned(form, number, typed)?;
            return Ok(self.value(raw).unwrap_or(Value::Choice(raw, None)));
        }
        let refused = || ValueError::typed(typed, "is not in the table", self.expected());
        let number = Decimal::parse(typed).ok_or_else(refused)?;
        let found = self.0.iter().find(|(_, listed)| *listed == number).ok_or_else(refused)?;
        self.value(found.0).ok_or_else(refused)
    }

    fn expects(&self, _form: &Form) -> String {
        self.expected()
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        match value {
            Value::Choice(raw, _) => format!("({raw})"),
            other => other.decimal().map_or_else(|| shown_foreign(other), |d| d.fixed(self.places())),
        }
    }
}

fn read_lookup(
    entries: &mut Entries<'_>,
    form: Option<&Form>,
    problems: &mut Vec<Problem>,
) -> Option<Lookup> {
    let most = form.map_or(u64::MAX, Form::mask);
    let node = entries.required("of", problems)?;
    let pairs: Vec<(Option<u64>, _)> = match &node.value {
        NodeValue::List(numbers) => (0..).map(Some).zip(numbers).collect(),
        _ => get::map(node, "numbers by stored number", problems)?
            .iter()
            .map(|(key, value)| (get::int(key, 0..=most, "a stored number", problems), value))
            .collect(),
    };
    let mut listed: Vec<(u64, Decimal)> = Vec::new();
    let mut whole = true;
    for (raw, node) in pairs {
        let (Some(raw), Some(value)) = (raw, exact(node, "a number of the table", problems)) else {
            whole = false;
            continue;
        };
        if raw > most || listed.iter().any(|(n, _)| *n == raw) {
            let wrong = if raw > most { "does not fit the bits" } else { "stands in the table already" };
            problems.push(Problem::new(
                node.span,
                format!("{raw} {wrong}"),
                format!("each of 0 to {most} once"),
            ));
        } else {
            listed.push((raw, value));
        }
    }
    whole.then_some(Lookup(listed))
}

/// Numbers side by side, written with points between them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Version(Vec<u32>);

impl Version {
    fn example(&self) -> String {
        vec!["1"; self.0.len()].join(".")
    }
}

impl Facing for Version {
    fn seen(&self, form: &Form, raw: u64) -> Seen {
        let mut left = form.bits;
        let part = |bits: &u32| {
            left -= bits;
            (raw >> left & (u64::MAX >> (64 - bits))).to_string()
        };
        Seen::fine(Value::Text(self.0.iter().map(part).collect::<Vec<_>>().join(".")))
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        let Value::Text(typed) = value else { return Err(ValueError::foreign(value, self.example())) };
        let expected = || self.expects(form);
        let parts: Vec<&str> = typed.split('.').collect();
        if parts.len() != self.0.len() {
            return Err(ValueError::typed(typed, format!("has {}", count(parts.len(), "part")), expected()));
        }
        let mut raw = 0;
        let mut left = form.bits;
        for (part, bits) in parts.into_iter().zip(&self.0) {
            let most = u64::MAX >> (64 - bits);
            let digits = part.bytes().all(|b| b.is_ascii_digit());
            let number: u64 = part
                .parse()
                .ok()
                .filter(|_| digits)
                .ok_or_else(|| ValueError::typed(typed, "is no version", expected()))?;
            if number > most {
                return Err(ValueError::typed(
                    typed,
                    format!("holds {number}"),
                    format!("0 to {most} there"),
                ));
            }
            left -= bits;
            raw |= number << left;
        }
        Ok(raw)
    }

    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        let raw = self.raw(form, &Value::Text(typed.to_string()))?;
        Ok(self.seen(form, raw).value)
    }

    fn expects(&self, _form: &Form) -> String {
        format!("{} whole numbers with points between: {}", self.0.len(), self.example())
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        shown_foreign(value)
    }
}

fn read_version(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Family> {
    let parts = entries.required("parts", problems).and_then(|node| {
        let parts: Option<Vec<u32>> = get::list(node, "the bits of each part", problems)?
            .iter()
            .map(|part| get::int(part, 1..=32, "a number of bits", problems))
            .collect();
        let parts = parts?;
        let total: u32 = parts.iter().take(64).sum();
        if parts.is_empty() || parts.len() > 64 || total > 64 {
            let wrong = format!("{} parts of together {total} bits", parts.len());
            problems.push(Problem::new(node.span, wrong, "parts of 1 to 64 bits together"));
            return None;
        }
        Some((parts, total))
    });
    let form = Form::of(parts.as_ref().map(|(_, total)| *total), entries, problems);
    let (parts, _) = parts?;
    Some(Number::family(form?, Face::Version(Version(parts))))
}

/// `Fixed`, `Lookup`, `Version`.
pub(super) const ROWS: &[Row] = &[
    Row {
        name: "Fixed",
        doc: "A binary fixed-point number: a whole number whose lowest bits are its fraction",
        options: &[
            form::BITS,
            form::BYTES,
            option("fraction", "how many of the bits are the fraction, 1 to 32"),
            form::SIGNED,
            form::SIGN,
            form::ORDER,
            form::WORDS,
            UNSET_OPTION,
        ],
        examples: &[
            big(
                "Fixed(bits: 16, fraction: 8, signed: true)",
                "E7 00",
                "-25.000",
                "the temperature format of SFF-8472, 1/256 °C; E700h is -6400",
            ),
            big(
                "Fixed(bits: 16, fraction: 8, signed: true)",
                "FF FF",
                "-0.004",
                "as above, the value next below 0",
            ),
            big("Fixed(bits: 8, fraction: 4)", "1A", "1.6250", "worked by hand: 26/16"),
        ],
        read: |entries, problems| {
            let form = Form::read_signed(entries, problems);
            let fraction = entries
                .required("fraction", problems)
                .and_then(|node| get::int(node, 1..=32u32, "a number of bits", problems));
            let unset = read_unset(entries, problems);
            let mut number = Number { form: form?, face: Face::PLAIN, unset: unset? };
            let scaling = Scaling::new(Decimal::halves(fraction?)?, Decimal::new(0, 0))?;
            match number.scaled(scaling) {
                Ok(()) => Some(number.into()),
                Err(expected) => {
                    problems.push(Problem::new(entries.span(), "the fraction is too fine", expected));
                    None
                }
            }
        },
    },
    Row {
        name: "Lookup",
        doc: "A stored number that stands for another number in a table",
        options: &[
            form::BITS,
            form::BYTES,
            form::ORDER,
            form::WORDS,
            option("of", "numbers by stored number, {10: 0.25, 11: 0.33}, or a list of numbers from 0"),
            UNSET_OPTION,
        ],
        examples: &[
            big(
                "Lookup(bits: 4, of: {10: 0.25, 11: 0.33, 12: 0.66, 13: 0.75})",
                "0B",
                "0.33",
                "the fractions of a nanosecond in the cycle times of JEDEC SPD for DDR2 (JESD21-C, annex J)",
            ),
            big(
                "Lookup(bits: 2, of: [8, 16, 32, 64])",
                "03",
                "64",
                "the bus widths of JEDEC SPD for DDR3 (JESD21-C, annex K), byte 8",
            ),
        ],
        read: |entries, problems| {
            let form = Form::read(entries, problems);
            let lookup = read_lookup(entries, form.as_ref(), problems);
            let unset = read_unset(entries, problems);
            Some(Number { form: form?, face: Face::Lookup(lookup?), unset: unset? }.into())
        },
    },
    Row {
        name: "Version",
        doc: "Numbers side by side, written with points between them",
        options: &[
            option("parts", "the bits of each part, the highest first: [4, 4]"),
            form::ORDER,
            form::WORDS,
        ],
        examples: &[
            big(
                "Version(parts: [8, 8])",
                "01 04",
                "1.4",
                "EDID structure version 1, revision 4: VESA E-EDID release A.2, section 3.5",
            ),
            big(
                "Version(parts: [4, 4])",
                "12",
                "1.2",
                "the SPD revision of JEDEC JESD21-C: encoding level and additions level",
            ),
            little("Version(parts: [4, 4, 8])", "07 12", "1.2.7", "invented"),
        ],
        read: read_version,
    },
];
