//! Scaled numbers: what is shown is the stored number times a scale plus an offset, in exact decimals.

use crate::notation::{Node, NodeValue, Problem, get};
use crate::wording::count;

use super::Value;
use super::decimal::Decimal;
use super::error::ValueError;
use super::form::Form;
use super::kind::{Seen, shown_foreign};
use super::number::Facing;

/// A scale and an offset. The value shown is exact; only its text is rounded when the scale has many places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scaling {
    scale: Decimal,
    offset: Decimal,
    /// Places of the text.
    places: u32,
}

impl Scaling {
    /// Scales with up to this many places are shown exactly; finer ones with just enough places to tell
    /// neighbours apart.
    const EXACT_PLACES: u32 = 4;

    pub(super) fn new(scale: Decimal, offset: Decimal) -> Option<Scaling> {
        let zero = Decimal::new(0, 0);
        if scale == zero {
            return None;
        }
        let mut places = scale.places().max(offset.places());
        if places > Self::EXACT_PLACES {
            let step = if scale < zero { zero.minus(scale)? } else { scale };
            places = (0..places).find(|&p| Decimal::new(1, p) <= step).unwrap_or(places);
        }
        Some(Scaling { scale, offset, places })
    }

    /// Takes the nodes of `scale` (a number, or a string such as "1/256") and `offset`.
    pub fn read(scale: Option<&Node>, offset: Option<&Node>, problems: &mut Vec<Problem>) -> Option<Scaling> {
        let one = Decimal::new(1, 0);
        let scale_value = scale.map_or(Some(one), |node| exact(node, "a scale", problems));
        let offset = offset.map_or(Some(Decimal::new(0, 0)), |node| exact(node, "an offset", problems));
        let scaling = Scaling::new(scale_value?, offset?);
        if let (None, Some(node)) = (&scaling, scale) {
            problems.push(Problem::new(node.span, "the scale is 0", "a scale other than 0"));
        }
        scaling
    }

    /// This scaling, then another one over what it shows.
    pub(super) fn then(&self, other: Scaling) -> Option<Scaling> {
        let offset = self.offset.times(other.scale)?.plus(other.offset)?;
        Scaling::new(self.scale.times(other.scale)?, offset)
    }

    /// Whether every number of `form` can be scaled exactly; the error says what was expected.
    pub(super) fn fits(&self, form: &Form) -> Result<(), String> {
        let holds = |number| self.value(number).is_some_and(|value| self.number(value).is_some());
        if holds(form.least()) && holds(form.most()) {
            Ok(())
        } else {
            Err(format!("a scale with fewer digits for a number of {}", count(form.bits as usize, "bit")))
        }
    }

    /// The exact value of a stored number.
    pub(super) fn value(&self, number: i128) -> Option<Decimal> {
        Decimal::new(number, 0).times(self.scale)?.plus(self.offset)
    }

    /// The stored number at or below a value, and whether it is exactly that value.
    pub(super) fn number(&self, value: Decimal) -> Option<(i128, bool)> {
        value.minus(self.offset)?.whole_times(self.scale)
    }

    fn text(&self, number: i128) -> String {
        self.value(number).map_or_else(|| number.to_string(), |value| value.fixed(self.places))
    }

    /// Whether a larger stored number shows as a smaller one.
    pub(super) fn falls(&self) -> bool {
        self.scale < Decimal::new(0, 0)
    }

    fn range(&self, least: i128, most: i128) -> String {
        let (a, b) = (self.text(least), self.text(most));
        if self.falls() { format!("{b} to {a}") } else { format!("{a} to {b}") }
    }

    /// What may be typed for a stored number between `least` and `most`.
    pub(super) fn expected(&self, least: i128, most: i128) -> String {
        format!("a number from {}", self.range(least, most))
    }

    /// The stored number between `least` and `most` that a typed text means: the one with exactly that value, or
    /// the one that is shown like that.
    pub(super) fn typed(&self, typed: &str, least: i128, most: i128) -> Result<i128, ValueError> {
        let out_of_range = || ValueError::typed(typed, "is out of range", self.range(least, most));
        let value = Decimal::parse(typed).ok_or_else(|| {
            let mut error = ValueError::typed(typed, "is no number", self.expected(least, most));
            if typed.contains(',') {
                error.expected.push_str(", with a point before the decimal places");
            }
            error
        })?;
        let (below, exact) = self.number(value).ok_or_else(out_of_range)?;
        let inside = |n: i128| least <= n && n <= most;
        if exact {
            return if inside(below) { Ok(below) } else { Err(out_of_range()) };
        }
        let shown = |n: i128| self.value(n).is_some_and(|v| v.rounded(self.places) == value);
        let near = [below, below + 1];
        if let Some(&found) = near.iter().find(|&&n| inside(n) && shown(n)) {
            return Ok(found);
        }
        let fit: Vec<String> = near.iter().filter(|&&n| inside(n)).map(|&n| self.text(n)).collect();
        match fit.as_slice() {
            [] => Err(out_of_range()),
            fit => Err(ValueError::typed(typed, "falls between two steps", fit.join(" or "))),
        }
    }

    /// A stored number as a value.
    #[must_use]
    pub fn seen(&self, number: i128) -> Seen {
        match self.value(number) {
            Some(value) => Seen::fine(self.wrap(value)),
            None => Seen::odd(Value::Int(number), "the number is too large for its scale"),
        }
    }

    fn wrap(&self, value: Decimal) -> Value {
        match value.whole() {
            Some(whole) if self.scale.places() == 0 && self.offset.places() == 0 => Value::Int(whole),
            _ => Value::Decimal(value),
        }
    }

    /// The stored number of a value.
    pub(super) fn stored(&self, value: &Value) -> Result<i128, ValueError> {
        let decimal = value.decimal().ok_or_else(|| ValueError::foreign(value, "a number"))?;
        match self.number(decimal) {
            Some((number, true)) => Ok(number),
            _ => Err(ValueError::typed(&decimal.to_string(), "falls between two steps", "a whole step")),
        }
    }

    /// A value as text.
    #[must_use]
    pub fn show(&self, value: &Value) -> String {
        value.decimal().map_or_else(|| shown_foreign(value), |value| value.fixed(self.places))
    }
}

impl Facing for Scaling {
    fn seen(&self, form: &Form, raw: u64) -> Seen {
        Scaling::seen(self, form.number(raw))
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        let number = self.stored(value)?;
        form.raw(number).ok_or_else(|| {
            ValueError::typed(&self.show(value), "is out of range", self.range(form.least(), form.most()))
        })
    }

    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        let number = self.typed(typed, form.least(), form.most())?;
        Ok(Scaling::seen(self, number).value)
    }

    fn expects(&self, form: &Form) -> String {
        self.expected(form.least(), form.most())
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        Scaling::show(self, value)
    }
}

/// A number with decimal places, or a fraction in a string: `0.1`, `"1/256"`.
pub fn exact(node: &Node, what: &str, problems: &mut Vec<Problem>) -> Option<Decimal> {
    let found = match &node.value {
        NodeValue::Number(text) => {
            Decimal::parse(text).or_else(|| get::whole(text).map(|n| Decimal::new(n, 0)))
        }
        NodeValue::Text(text) => fraction(text),
        _ => None,
    };
    if found.is_none() {
        problems.push(Problem::unfit(
            node,
            format!("{what}: a number such as 0.1, or a fraction with finite places such as \"1/256\""),
        ));
    }
    found
}

fn fraction(text: &str) -> Option<Decimal> {
    let (over, under) = text.split_once('/')?;
    let over = Decimal::parse(over)?;
    let mut under: u64 = get::plain(under.trim()).filter(|&n| n > 0)?;
    let mut scale = over;
    for (prime, inverse) in [(2, Decimal::new(5, 1)), (5, Decimal::new(2, 1)), (10, Decimal::new(1, 1))] {
        while under.is_multiple_of(prime) {
            under /= prime;
            scale = scale.times(inverse)?;
        }
    }
    (under == 1).then_some(scale)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notation;

    fn scaling(scale: &str, offset: &str) -> Scaling {
        let (scale, offset) = (notation::parse(scale).unwrap(), notation::parse(offset).unwrap());
        let mut problems = Vec::new();
        let scaling = Scaling::read(Some(&scale), Some(&offset), &mut problems);
        assert_eq!(problems, []);
        scaling.unwrap()
    }

    #[test]
    fn a_typed_value_is_stored_exactly_or_refused_with_its_neighbours() {
        let tenths = scaling("0.1", "0");
        assert_eq!(tenths.typed("4.0", 0, 255), Ok(40));
        assert_eq!(tenths.typed("4", 0, 255), Ok(40));
        let error = tenths.typed("4.05", 0, 255).unwrap_err();
        assert_eq!(error.to_string(), "\"4.05\" falls between two steps; expected 4.0 or 4.1");
        let error = tenths.typed("25.6", 0, 255).unwrap_err();
        assert_eq!(error.to_string(), "\"25.6\" is out of range; expected 0.0 to 25.5");
        assert!(tenths.typed("4,0", 0, 255).unwrap_err().expected.contains("a point"));
    }

    #[test]
    fn a_fine_binary_fraction_is_shown_with_places_that_tell_neighbours_apart() {
        let fine = scaling("\"1/256\"", "0");
        assert_eq!(fine.text(1), "0.004");
        assert_eq!(fine.text(6529), "25.504");
        assert_eq!(fine.typed("25.504", 0, 65535), Ok(6529));
        assert_eq!(fine.typed("25.50390625", 0, 65535), Ok(6529));
        assert_eq!(fine.typed("25.502", 0, 65535).unwrap_err().expected, "25.500 or 25.504");
        assert!((-300..300).all(|n| fine.typed(&fine.text(n), -300, 300) == Ok(n)));
    }

    #[test]
    fn offsets_and_negative_scales_hold() {
        let years = scaling("1", "1990");
        assert_eq!(Scaling::seen(&years, 18).value, Value::Int(2008));
        assert_eq!(years.typed("2008", 0, 255), Ok(18));
        let falling = scaling("-0.5", "10");
        assert_eq!(falling.text(3), "8.5");
        assert_eq!(falling.typed("8.5", 0, 255), Ok(3));
        assert_eq!(falling.typed("11", 0, 255).unwrap_err().expected, "-117.5 to 10.0");
    }

    #[test]
    fn a_fraction_without_finite_places_is_refused() {
        let mut problems = Vec::new();
        for bad in ["\"1/3\"", "\"x\"", "\"1/0\"", "0", "[1]"] {
            let node = notation::parse(bad).unwrap();
            assert_eq!(Scaling::read(Some(&node), None, &mut problems), None, "{bad}");
        }
        assert_eq!(problems.len(), 5);
    }
}
