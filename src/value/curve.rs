//! Logarithms and powers: numbers that a formula makes of the stored one.

use crate::notation::{Entries, Problem, get};

use super::Value;
use super::decimal::Decimal;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Family, Seen, shown_foreign};
use super::number::{Face, Facing, Number, UNSET_OPTION, read_unset};
use super::table::{Row, big, option};

/// A formula from the stored number to the shown one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curve {
    formula: Formula,
    /// The logarithm's or the power's base.
    base: f64,
    /// What the stored number, or the power, is multiplied with.
    of: f64,
    /// What the logarithm is multiplied with, or the exponent divided by.
    times: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Formula {
    /// `times * log(of * stored)`.
    Log,
    /// `of * base ^ (stored / times)`.
    Power,
}

/// Decimal places that are tried until a text stands for one stored number only.
const MOST_PLACES: usize = 17;

impl Curve {
    fn shown(&self, number: i128) -> f64 {
        let stored = number as f64;
        match self.formula {
            Formula::Log => self.times * (self.of * stored).ln() / self.base.ln(),
            Formula::Power if self.times == 1.0 => match i32::try_from(number) {
                Ok(exponent) => self.of * self.base.powi(exponent),
                Err(_) => self.of * self.base.powf(stored),
            },
            Formula::Power => self.of * self.base.powf(stored / self.times),
        }
    }

    /// The stored number of `form` whose shown number is nearest.
    fn nearest(&self, form: &Form, shown: f64) -> i128 {
        if shown == f64::NEG_INFINITY {
            return form.least();
        }
        let guess = match self.formula {
            Formula::Log => (shown / self.times * self.base.ln()).exp() / self.of,
            Formula::Power => (shown / self.of).ln() / self.base.ln() * self.times,
        };
        let guess = if guess.is_nan() { form.least() } else { guess.round() as i128 };
        let guess = guess.clamp(form.least(), form.most());
        let near = (guess.saturating_sub(1)..=guess + 1).filter(|n| form.least() <= *n && *n <= form.most());
        let distance = |n: &i128| (self.shown(*n) - shown).abs();
        near.min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap_or(guess)
    }

    /// Whether neighbours stay apart in a double, and none is too large for one.
    fn tells_apart(&self, form: &Form) -> bool {
        const APART: f64 = 1e-12;
        let apart = |n: i128| {
            let (a, b) = (self.shown(n), self.shown(n + 1));
            b.is_finite() && (!a.is_finite() || b - a > APART * b.abs().max(a.abs()))
        };
        let ends = [form.least(), form.most() - 1];
        // The least of a logarithm may be minus infinity, and a power must not vanish.
        ends.into_iter().all(apart) && (self.formula == Formula::Log || self.shown(form.least()) > 0.0)
    }

    fn least_places(&self) -> usize {
        if self.formula == Formula::Log { 2 } else { 0 }
    }

    /// The shortest text that stands for this number alone.
    fn text(&self, form: &Form, number: i128) -> String {
        let shown = self.shown(number);
        if !shown.is_finite() {
            return shown.to_string();
        }
        let plain = shown == 0.0 || (1e-6..1e15).contains(&shown.abs());
        (self.least_places()..MOST_PLACES)
            .map(|places| if plain { format!("{shown:.places$}") } else { format!("{shown:.places$e}") })
            .find(|text| text.parse().is_ok_and(|value| self.nearest(form, value) == number))
            .unwrap_or_else(|| shown.to_string())
    }

    fn wrap(&self, shown: f64) -> Value {
        // Powers of whole numbers are whole; a layout computes with them.
        match Decimal::parse(&shown.to_string()).and_then(Decimal::whole) {
            Some(whole) if self.formula == Formula::Power && whole.unsigned_abs() < 1 << 53 => {
                Value::Int(whole)
            }
            _ => Value::Real(shown),
        }
    }

    fn number(&self, value: &Value) -> Option<f64> {
        match value {
            Value::Real(shown) => Some(*shown),
            Value::Int(whole) => Some(*whole as f64),
            _ => None,
        }
    }
}

impl Facing for Curve {
    fn seen(&self, form: &Form, raw: u64) -> Seen {
        Seen::fine(self.wrap(self.shown(form.number(raw))))
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        let shown = self.number(value).ok_or_else(|| ValueError::foreign(value, "a number"))?;
        form.raw(self.nearest(form, shown)).ok_or_else(|| ValueError::foreign(value, "a number in range"))
    }

    /// The stored number whose value, rounded to as many places as were typed, is what was typed.
    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        let plain = typed.replace('\u{2212}', "-");
        let special = self.shown(form.least());
        if !special.is_finite() && plain == special.to_string() {
            return Ok(Value::Real(special));
        }
        let numeric = plain.bytes().all(|b| b.is_ascii_digit() || b"+-.eE".contains(&b));
        let wanted: f64 = plain
            .parse()
            .ok()
            .filter(|_| numeric)
            .ok_or_else(|| ValueError::typed(typed, "is no number", self.expects(form)))?;
        let number = self.nearest(form, wanted);
        let shown = self.shown(number);
        let (digits, exponent) = plain.split_once(['e', 'E']).map_or((&*plain, false), |(d, _)| (d, true));
        let places = digits.split_once('.').map_or(0, |(_, places)| places.len()).min(MOST_PLACES);
        let rounded = if exponent { format!("{shown:.places$e}") } else { format!("{shown:.places$}") };
        if rounded.parse().ok() == Some(wanted) {
            return Ok(self.wrap(shown));
        }
        // Bases and factors are such that every formula rises.
        let below = if shown > wanted { number - 1 } else { number };
        let fit: Vec<String> = (below..=below + 1)
            .filter(|&n| form.least() <= n && n <= form.most())
            .map(|n| self.text(form, n))
            .collect();
        Err(ValueError::typed(typed, "falls between two steps or out of range", fit.join(" or ")))
    }

    fn expects(&self, form: &Form) -> String {
        let (least, most) = (self.text(form, form.least()), self.text(form, form.most()));
        format!("a number from {least} to {most}")
    }

    fn show(&self, form: &Form, value: &Value) -> String {
        match self.number(value) {
            Some(shown) if shown.is_finite() => self.text(form, self.nearest(form, shown)),
            _ => shown_foreign(value),
        }
    }
}

fn number(
    entries: &mut Entries<'_>,
    name: &'static str,
    default: f64,
    least: f64,
    problems: &mut Vec<Problem>,
) -> Option<f64> {
    entries.or(name, default, |node| {
        let value = get::real(node, "a number", problems)?;
        if value <= least || value > 1e12 {
            problems.push(Problem::unfit(node, format!("a number above {least}, at most 1e12")));
            return None;
        }
        Some(value)
    })
}

fn read(formula: Formula, entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Family> {
    let (form, times, base) = match formula {
        Formula::Log => (Form::read(entries, problems), number(entries, "times", 10.0, 0.0, problems), 10.0),
        Formula::Power => {
            (Form::read_signed(entries, problems), number(entries, "per", 1.0, 0.0, problems), 2.0)
        }
    };
    let of = number(entries, "of", 1.0, 0.0, problems);
    let base = number(entries, "base", base, 1.0, problems);
    let unset = read_unset(entries, problems);
    let curve = Curve { formula, base: base?, of: of?, times: times? };
    let form = form?;
    if !curve.tells_apart(&form) {
        problems.push(Problem::new(
            entries.span(),
            format!("{} bits are too many for this formula", form.bits),
            "fewer bits, or numbers that keep neighbours apart in a double",
        ));
        return None;
    }
    Some(Number { form, face: Face::Curve(curve), unset: unset? }.into())
}

/// `Log`, `Power`.
pub(super) const ROWS: &[Row] = &[
    Row {
        name: "Log",
        doc: "The logarithm of the stored number, such as a power shown in dBm: times · log(of · stored)",
        options: &[
            form::BITS,
            form::BYTES,
            form::ORDER,
            form::WORDS,
            UNSET_OPTION,
            option("of", "what the stored number is multiplied with before the logarithm; 1 when left out"),
            option("times", "what the logarithm is multiplied with; 10 when left out"),
            option("base", "the base of the logarithm; 10 when left out"),
        ],
        examples: &[
            big(
                "Log(bits: 16, of: 0.0001)",
                "27 10",
                "0.00",
                "optical power in units of 0.1 µW as in SFF-8472; 1 mW is 0 dBm by definition",
            ),
            big("Log(bits: 16, of: 0.0001)", "00 01", "-40.00", "as above: 0.1 µW is -40 dBm"),
        ],
        read: |entries, problems| read(Formula::Log, entries, problems),
    },
    Row {
        name: "Power",
        doc: "A power with the stored number as exponent: of · base ^ (stored / per)",
        options: &[
            form::BITS,
            form::BYTES,
            form::SIGNED,
            form::SIGN,
            form::ORDER,
            form::WORDS,
            UNSET_OPTION,
            option("of", "what the power is multiplied with; 1 when left out"),
            option("base", "the base; 2 when left out"),
            option("per", "what the stored number is divided by; 1 when left out"),
        ],
        examples: &[
            big(
                "Power(bits: 4, of: 256)",
                "04",
                "4096",
                "the die capacity in megabits of JEDEC SPD for DDR3 and DDR4 (JESD21-C, annexes K and L), byte 4",
            ),
            big("Power(bits: 8, signed: true)", "FF", "0.5", "worked by hand"),
        ],
        read: |entries, problems| read(Formula::Power, entries, problems),
    },
];
