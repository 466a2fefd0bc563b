//! Stored whole numbers and the faces they can show: plain, hexadecimal, scaled, one of a list, flags, a date…

use crate::notation::{Entries, Problem, get};
use crate::span::ByteOrder;

use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Family, Leaf, Seen, Size};
use super::scale::Scaling;
use super::table::{OptionDoc, Row, big, little, option};
use super::{Value, choice, counter, curve, dos, fixed, flags, letters};

/// A whole number and how it is shown.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Number {
    pub form: Form,
    pub face: Face,
    /// Stored numbers that stand for nothing at all; the first is written.
    pub unset: Vec<u64>,
}

/// What is shown for a number that stands for nothing.
pub(super) const UNSET: &str = "not set";

/// The option of numbers that stand for nothing.
pub(super) const UNSET_OPTION: OptionDoc =
    option("unset", "a stored number, or a list of them, that stands for nothing: shown as \"not set\"");

/// Takes `unset` from the entries.
pub(super) fn read_unset(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Vec<u64>> {
    entries.or("unset", Vec::new(), |node| {
        let numbers = get::one_or_more(node).iter();
        numbers
            .map(|n| get::int(n, 0..=u64::MAX, "a stored number that stands for nothing", problems))
            .collect()
    })
}

/// What a face does: number to value and back. `raw` is the field's bits, nothing above them.
pub(super) trait Facing {
    fn seen(&self, form: &Form, raw: u64) -> Seen;
    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError>;
    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError>;
    fn show(&self, form: &Form, value: &Value) -> String;
    /// What may be typed, in words.
    fn expects(&self, form: &Form) -> String;
}

/// How a whole number is shown.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Face {
    Plain(Plain),
    Scaled(Scaling),
    Choice(choice::Choices),
    Flags(flags::Names),
    Counter(counter::Counter),
    Curve(curve::Curve),
    Dos(dos::Packed),
    FiveBit(letters::FiveBit),
    Lookup(fixed::Lookup),
    Version(fixed::Version),
}

impl Face {
    /// A number as it is, in decimal.
    pub(super) const PLAIN: Face = Face::Plain(Plain { base: Base::Decimal });

    fn facing(&self) -> &dyn Facing {
        match self {
            Face::Plain(face) => face,
            Face::Scaled(face) => face,
            Face::Choice(face) => face,
            Face::Flags(face) => face,
            Face::Counter(face) => face,
            Face::Curve(face) => face,
            Face::Dos(face) => face,
            Face::FiveBit(face) => face,
            Face::Lookup(face) => face,
            Face::Version(face) => face,
        }
    }
}

impl Number {
    pub(super) fn family(form: Form, face: Face) -> Family {
        Number { form, face, unset: Vec::new() }.into()
    }

    pub(super) fn seen(&self, raw: u64) -> Seen {
        let raw = raw & self.form.mask();
        if self.unset.contains(&raw) {
            return Seen::fine(Value::Text(UNSET.to_string()));
        }
        let mut seen = self.face.facing().seen(&self.form, raw);
        // Where a value has two stored numbers, as zero has with a separate sign, typing it writes the first.
        if !self.unset.is_empty() && seen.oddity.is_none() {
            let written = self.face.facing().raw(&self.form, &seen.value).ok();
            seen.oddity = written.filter(|written| self.unset.contains(written)).map(|written| {
                format!("stored as {raw}, where {written}, the usual number for it, is {UNSET}")
            });
        }
        seen
    }

    pub(super) fn raw(&self, value: &Value) -> Result<u64, ValueError> {
        match (value, self.unset.first()) {
            (Value::Text(text), Some(unset)) if text == UNSET => Ok(*unset),
            _ => self.face.facing().raw(&self.form, value),
        }
    }

    /// `over` with the field's bits of `bytes`.
    pub(super) fn laid(&self, bytes: &[u8], over: &[u8], order: ByteOrder) -> Vec<u8> {
        self.form.spread(self.form.gather(bytes, order), over, order)
    }

    /// Gives a plain number a scale; the error says what was expected instead.
    pub(super) fn scaled(&mut self, scaling: Scaling) -> Result<(), String> {
        match self.face {
            Face::PLAIN => {
                scaling.fits(&self.form)?;
                self.face = Face::Scaled(scaling);
                Ok(())
            }
            // A fixed-point number has a scale of its own.
            Face::Scaled(first) => {
                let both = first.then(scaling).ok_or("a scale with fewer digits")?;
                both.fits(&self.form)?;
                self.face = Face::Scaled(both);
                Ok(())
            }
            _ => Err("no scale on a number that is shown in another way".to_string()),
        }
    }

    pub(super) fn range(&self) -> Option<(String, String)> {
        let shown = |number| {
            let raw = self.form.raw(number)?;
            Some(self.show(&self.seen(raw).value))
        };
        let (least, most) = (self.form.least(), self.form.most());
        match &self.face {
            Face::Scaled(scaling) if scaling.falls() => Some((shown(most)?, shown(least)?)),
            Face::Plain(_) | Face::Scaled(_) => Some((shown(least)?, shown(most)?)),
            _ => None,
        }
    }
}

impl Leaf for Number {
    fn size(&self) -> Size {
        Size::Bits(self.form.bits)
    }

    fn is_picked_in(&self, order: ByteOrder) -> bool {
        self.form.is_picked_in(order)
    }

    fn decode(&self, bytes: &[u8], order: ByteOrder) -> Seen {
        self.seen(self.form.gather(bytes, order))
    }

    fn encode(&self, value: &Value, old: &[u8], order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        Ok(self.form.spread(self.raw(value)?, old, order))
    }

    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let typed = typed.trim();
        if typed.eq_ignore_ascii_case(UNSET) && !self.unset.is_empty() {
            return Ok(Value::Text(UNSET.to_string()));
        }
        let value = self.face.facing().parse(&self.form, typed)?;
        match self.raw(&value) {
            Ok(raw) if self.unset.contains(&raw) => Err(ValueError::typed(
                typed,
                "would be read as not set",
                format!("another value, or {UNSET}"),
            )),
            _ => Ok(value),
        }
    }

    fn expects(&self) -> String {
        let expected = self.face.facing().expects(&self.form);
        if self.unset.is_empty() { expected } else { format!("{expected}, or {UNSET}") }
    }

    fn show(&self, value: &Value) -> String {
        match value {
            Value::Text(text) if text == UNSET => UNSET.to_string(),
            _ => self.face.facing().show(&self.form, value),
        }
    }
}

/// A whole number as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Plain {
    base: Base,
}

/// How digits are written; in hexadecimal and binary they are the bits as they are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Base {
    Decimal,
    Hex,
    Binary,
}

/// The bits of a value, for faces that know no sign.
pub(super) fn unsigned_raw(form: &Form, value: &Value, expected: &str) -> Result<u64, ValueError> {
    let number = value.whole().ok_or_else(|| ValueError::foreign(value, expected))?;
    unsigned(form, number, &number.to_string())
}

/// The bits of a number without a sign that was typed as `typed`.
pub(super) fn unsigned(form: &Form, number: i128, typed: &str) -> Result<u64, ValueError> {
    form.unsigned(number)
        .ok_or_else(|| ValueError::typed(typed, "is out of range", format!("0 to {}", form.mask())))
}

impl Facing for Plain {
    fn seen(&self, form: &Form, raw: u64) -> Seen {
        Seen::fine(Value::Int(form.number(raw)))
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        let number = value.whole().ok_or_else(|| ValueError::foreign(value, "a whole number"))?;
        form.raw(number)
            .ok_or_else(|| ValueError::typed(&number.to_string(), "is out of range", expected(form)))
    }

    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        let number = get::whole(typed)
            .ok_or_else(|| ValueError::typed(typed, "is no whole number", expected(form)))?;
        // In hexadecimal and binary the stored bits may be typed, whatever their sign.
        let as_bits = ["0x", "0X", "0b", "0B"].iter().any(|prefix| typed.starts_with(prefix));
        if as_bits && let Some(bits) = form.unsigned(number) {
            return Ok(Value::Int(form.number(bits)));
        }
        match form.raw(number) {
            Some(_) => Ok(Value::Int(number)),
            None => Err(ValueError::typed(typed, "is out of range", expected(form))),
        }
    }

    fn expects(&self, form: &Form) -> String {
        expected(form)
    }

    fn show(&self, form: &Form, value: &Value) -> String {
        let Some(number) = value.whole() else { return super::kind::shown_foreign(value) };
        match (self.base, form.raw(number)) {
            (Base::Hex, Some(raw)) => format!("0x{raw:0width$X}", width = form.bits.div_ceil(4) as usize),
            (Base::Binary, Some(raw)) => format!("0b{raw:0width$b}", width = form.bits as usize),
            _ => number.to_string(),
        }
    }
}

fn expected(form: &Form) -> String {
    format!("a whole number from {} to {}", form.least(), form.most())
}

/// `Int`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Int",
    doc: "A whole number; the field's scale, offset and unit say how it is shown",
    options: &[
        form::BITS,
        form::BYTES,
        form::SIGNED,
        form::SIGN,
        form::ORDER,
        form::WORDS,
        UNSET_OPTION,
        option("base", "Decimal, Hex or Binary: how it is shown; Decimal when left out"),
    ],
    examples: &[
        big("Int(bits: 16, signed: true)", "FF FE", "-2", "two's complement, common practice, no source"),
        little("Int(bytes: 3)", "40 E2 01", "123456", "common practice, no source"),
        big("Int(bits: 8, sign: Magnitude)", "85", "-5", "common practice, no source"),
        big("Int(bits: 8, sign: Ones)", "FA", "-5", "common practice, no source"),
        big("Int(bits: 32, words: Little)", "56 78 12 34", "305419896", "common practice, no source"),
        big("Int(bits: 12, base: Hex)", "01 AB", "0x1AB", "common practice, no source"),
        big("Int(bits: 8, unset: 0xFF)", "FF", "not set", "common practice, no source"),
    ],
    read: |entries, problems| {
        let form = Form::read_signed(entries, problems);
        const BASES: &[(&str, Base)] =
            &[("Decimal", Base::Decimal), ("Hex", Base::Hex), ("Binary", Base::Binary)];
        let base = entries.or("base", Base::Decimal, |node| get::word(node, BASES, "a base", problems));
        let unset = read_unset(entries, problems);
        Some(Number { form: form?, face: Face::Plain(Plain { base: base? }), unset: unset? }.into())
    },
}];
