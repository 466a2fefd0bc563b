//! Exact decimal numbers, so that a typed 4.0 at a scale of 0.1 is exactly 40.

use std::cmp::Ordering;
use std::fmt;

/// A decimal number: `digits` divided by ten to the power of `places`, without needless places.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Decimal {
    digits: i128,
    places: u32,
}

/// Ten to this power still fits the digits.
const MOST_PLACES: u32 = 37;

fn ten(power: u32) -> Option<i128> {
    10i128.checked_pow(power)
}

impl Decimal {
    /// `digits` divided by ten to the power of `places`.
    #[must_use]
    pub fn new(mut digits: i128, mut places: u32) -> Self {
        while places > 0 && digits % 10 == 0 {
            digits /= 10;
            places -= 1;
        }
        Decimal { digits, places }
    }

    /// One divided by two to the power of `power`; `None` above 32.
    #[must_use]
    pub fn halves(power: u32) -> Option<Self> {
        (power <= 32).then(|| Decimal::new(5i128.pow(power), power))
    }

    /// Reads `-12.50`, `.5`, `1.5e-3`; a real minus sign will do. `None` for anything else or too many digits.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (minus, text) = match text.strip_prefix(['-', '\u{2212}']) {
            Some(rest) => (true, rest),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let (number, exponent) = match text.split_once(['e', 'E']) {
            Some((number, exponent)) => (number, exponent.parse::<i32>().ok()?),
            None => (text, 0),
        };
        let (whole, fraction) = number.split_once('.').unwrap_or((number, ""));
        let all_digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        if whole.len() + fraction.len() == 0 || !all_digits(whole) || !all_digits(fraction) {
            return None;
        }
        let fraction = fraction.trim_end_matches('0');
        let mut digits: i128 = 0;
        for digit in whole.bytes().chain(fraction.bytes()) {
            digits = digits.checked_mul(10)?.checked_add(i128::from(digit - b'0'))?;
        }
        let places = i64::try_from(fraction.len()).ok()? - i64::from(exponent);
        if digits == 0 {
            return Some(Decimal::new(0, 0));
        }
        if places < 0 {
            digits = digits.checked_mul(ten(u32::try_from(-places).ok()?)?)?;
        }
        let places = u32::try_from(places.max(0)).ok().filter(|&p| p <= MOST_PLACES)?;
        Some(Decimal::new(if minus { -digits } else { digits }, places))
    }

    /// Decimal places that are needed to write it exactly.
    #[must_use]
    pub fn places(self) -> u32 {
        self.places
    }

    /// The whole number, when it is one.
    #[must_use]
    pub fn whole(self) -> Option<i128> {
        (self.places == 0).then_some(self.digits)
    }

    /// The nearest binary floating-point number.
    #[must_use]
    pub fn to_f64(self) -> f64 {
        self.to_string().parse().unwrap_or(f64::NAN)
    }

    /// Both numbers as digits at the same number of places.
    fn aligned(self, other: Decimal) -> Option<(i128, i128, u32)> {
        let places = self.places.max(other.places);
        let at = |d: Decimal| d.digits.checked_mul(ten(places - d.places)?);
        Some((at(self)?, at(other)?, places))
    }

    /// The sum; `None` when it has too many digits.
    #[must_use]
    pub fn plus(self, other: Decimal) -> Option<Decimal> {
        let (a, b, places) = self.aligned(other)?;
        Some(Decimal::new(a.checked_add(b)?, places))
    }

    /// The difference; `None` when it has too many digits.
    #[must_use]
    pub fn minus(self, other: Decimal) -> Option<Decimal> {
        self.plus(Decimal { digits: other.digits.checked_neg()?, places: other.places })
    }

    /// The product; `None` when it has too many digits.
    #[must_use]
    pub fn times(self, other: Decimal) -> Option<Decimal> {
        let places = self.places.checked_add(other.places).filter(|&p| p <= MOST_PLACES)?;
        Some(Decimal::new(self.digits.checked_mul(other.digits)?, places))
    }

    /// How many whole times `other` goes into it, rounded down, and whether nothing is left over.
    #[must_use]
    pub fn whole_times(self, other: Decimal) -> Option<(i128, bool)> {
        let (a, b, _) = self.aligned(other)?;
        let (a, b) = if b < 0 { (a.checked_neg()?, b.checked_neg()?) } else { (a, b) };
        Some((a.checked_div_euclid(b)?, a.checked_rem_euclid(b)? == 0))
    }

    /// Rounded to `places` decimal places, halves away from zero.
    #[must_use]
    pub fn rounded(self, places: u32) -> Decimal {
        if self.places <= places {
            return self;
        }
        match ten(self.places - places) {
            Some(unit) => {
                let half = unit / 2;
                let away = if self.digits < 0 { -half } else { half };
                Decimal::new(self.digits.saturating_add(away) / unit, places)
            }
            None => Decimal::new(0, 0),
        }
    }

    /// Written with exactly `places` decimal places, rounded if need be: `4.0`.
    #[must_use]
    pub fn fixed(self, places: u32) -> String {
        let rounded = self.rounded(places);
        let mut text = rounded.to_string();
        if places > rounded.places {
            if rounded.places == 0 {
                text.push('.');
            }
            text.extend(std::iter::repeat_n('0', (places - rounded.places) as usize));
        }
        text
    }
}

impl fmt::Display for Decimal {
    /// With the places it needs: `-12.5`, `40`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = self.digits.unsigned_abs().to_string();
        let places = self.places as usize;
        let padded = format!("{digits:0>width$}", width = places + 1);
        let (whole, fraction) = padded.split_at(padded.len() - places);
        let sign = if self.digits < 0 { "-" } else { "" };
        if places == 0 { write!(f, "{sign}{whole}") } else { write!(f, "{sign}{whole}.{fraction}") }
    }
}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Decimal {
    fn cmp(&self, other: &Self) -> Ordering {
        // Whole part and fraction apart: together, brought to the same places, they may not fit.
        let unit = |places: u32| ten(places).unwrap_or(i128::MAX);
        let places = self.places.max(other.places);
        let parts = |d: &Decimal| {
            let one = unit(d.places);
            (d.digits / one, (d.digits % one).saturating_mul(unit(places - d.places)))
        };
        parts(self).cmp(&parts(other))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn d(text: &str) -> Decimal {
        Decimal::parse(text).unwrap()
    }

    #[test]
    fn decimals_are_read_and_written_exactly() {
        for (typed, shown) in [
            ("4.0", "4"),
            ("-0.05", "-0.05"),
            (".5", "0.5"),
            ("7.", "7"),
            ("1.5e-3", "0.0015"),
            ("2e3", "2000"),
            ("\u{2212}3", "-3"),
            ("-0", "0"),
        ] {
            assert_eq!(d(typed).to_string(), shown, "{typed}");
        }
        for nonsense in ["", ".", "-", "1,5", "0x10", "4 0", "1.2.3", "e5", "1e99", "９"] {
            assert_eq!(Decimal::parse(nonsense), None, "{nonsense:?}");
        }
    }

    #[test]
    fn decimals_round_halves_away_from_zero_and_keep_asked_places() {
        assert_eq!(d("2.345").fixed(2), "2.35");
        assert_eq!(d("-2.345").fixed(2), "-2.35");
        assert_eq!(d("4").fixed(1), "4.0");
        assert_eq!(d("0.004").fixed(2), "0.00");
        assert_eq!(d("4.5").fixed(3), "4.500");
    }

    #[test]
    fn numbers_far_apart_still_compare() {
        assert!(d("1e30") > d("0.0000000000000000000000001"));
        assert!(d("-1e30") < d("0.0000000000000000000000001"));
        assert!(
            d("17.1") > d("17.0141183460469231731687303715884105727"),
            "though their whole parts are the same"
        );
        assert!(d("-0.5") < d("-0.25") && d("-0.5") < d("0.25"));
    }

    proptest! {
        #[test]
        fn sums_and_whole_times_agree_with_whole_number_arithmetic(
            a in -1_000_000i128..1_000_000, b in 1i128..10_000, places in 0u32..6,
        ) {
            let (x, y) = (Decimal::new(a, places), Decimal::new(b, places));
            prop_assert_eq!(x.plus(y), Some(Decimal::new(a + b, places)));
            prop_assert_eq!(x.minus(y), Some(Decimal::new(a - b, places)));
            prop_assert_eq!(x.whole_times(y), Some((a.div_euclid(b), a.rem_euclid(b) == 0)));
            prop_assert_eq!(Decimal::parse(&x.to_string()), Some(x));
            prop_assert_eq!(x.cmp(&y), a.cmp(&b));
        }
    }
}
