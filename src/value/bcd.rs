//! Digits stored as nibbles: binary-coded decimal.

use crate::notation::{Entries, Problem, get};
use crate::span::ByteOrder;
use crate::wording::count;

use super::Value;
use super::decimal::Decimal;
use super::error::ValueError;
use super::kind::{Leaf, Seen, Size, shown_foreign};
use super::scale::Scaling;
use super::table::{Row, big, option};

/// Digits stored as nibbles.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bcd {
    digits: usize,
    order: ByteOrder,
    /// The low nibble of a byte stands before the high one.
    low_first: bool,
    /// One digit in each byte, under this high nibble.
    zone: Option<u8>,
    /// What stands behind the last digit when there are fewer than fit.
    filler: Option<u8>,
    sign: Option<Place>,
    /// What the digits mean when they are a number and not an identifier.
    number: Option<Scaling>,
}

/// Where the nibble of the sign stands.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Place {
    First,
    Last,
}

/// More digits than any field has.
const MOST_DIGITS: u32 = 64;
/// Digits of a number that is scaled; identifiers may have more.
const MOST_NUMBER_DIGITS: usize = 18;

impl Bcd {
    fn bytes(&self) -> usize {
        let cells = self.digits + usize::from(self.sign.is_some());
        if self.zone.is_some() { cells } else { cells.div_ceil(2) }
    }

    /// The nibbles in reading order; for unpacked digits with the zone of each.
    fn nibbles(&self, bytes: &[u8]) -> Vec<(u8, u8)> {
        let mut bytes = bytes.to_vec();
        if self.order == ByteOrder::Little {
            bytes.reverse();
        }
        let split = |b: u8| match (self.zone, self.low_first) {
            (Some(_), _) => vec![(b & 15, b >> 4)],
            (None, true) => vec![(b & 15, 0), (b >> 4, 0)],
            (None, false) => vec![(b >> 4, 0), (b & 15, 0)],
        };
        bytes.into_iter().flat_map(split).collect()
    }

    fn join(&self, nibbles: &[u8]) -> Vec<u8> {
        let mut bytes: Vec<u8> = match self.zone {
            Some(zone) => nibbles.iter().map(|n| zone << 4 | n).collect(),
            None => {
                let join = |pair: &[u8]| match (pair, self.low_first) {
                    ([a, b], true) => b << 4 | a,
                    ([a, b], false) => a << 4 | b,
                    (other, _) => other.first().copied().unwrap_or(0),
                };
                nibbles.chunks(2).map(join).collect()
            }
        };
        if self.order == ByteOrder::Little {
            bytes.reverse();
        }
        bytes
    }

    /// A nibble that no digit needs: the first one, or the last where a filler is.
    fn spare(&self) -> usize {
        let cells = self.digits + usize::from(self.sign.is_some());
        if self.zone.is_some() { 0 } else { cells % 2 }
    }

    /// The digits and whether the sign is minus, or what is odd.
    fn read(&self, bytes: &[u8]) -> Result<(String, bool), String> {
        let mut nibbles = self.nibbles(bytes);
        if let Some(zone) = self.zone
            && let Some((_, found)) = nibbles.iter().find(|(_, found)| *found != zone)
        {
            return Err(format!("high nibble 0x{found:X} where 0x{zone:X} belongs"));
        }
        if self.spare() == 1 && self.filler.is_none() {
            let (spare, _) = nibbles.remove(0);
            if spare != 0 {
                return Err(format!("0x{spare:X} before the first digit, where 0 belongs"));
            }
        }
        let sign = match self.sign {
            Some(Place::First) => Some(nibbles.remove(0).0),
            Some(Place::Last) => nibbles.pop().map(|(n, _)| n),
            None => None,
        };
        let minus = match sign {
            None | Some(0xA | 0xC | 0xE | 0xF) => false,
            Some(0xB | 0xD) => true,
            Some(other) => return Err(format!("0x{other:X} is no sign")),
        };
        let mut digits: Vec<u8> = nibbles.into_iter().map(|(n, _)| n).collect();
        if let Some(filler) = self.filler {
            while digits.last() == Some(&filler) {
                digits.pop();
            }
            if digits.len() > self.digits {
                return Err(format!("a digit more than {}", self.digits));
            }
        }
        if let Some(place) = digits.iter().position(|&n| n > 9) {
            return Err(format!("0x{:X} is no digit, place {}", digits[place], place + 1));
        }
        Ok((digits.into_iter().map(|n| char::from(b'0' + n)).collect(), minus))
    }

    /// The bytes for digits, which are not too many.
    fn write(&self, digits: &str, minus: bool) -> Vec<u8> {
        let mut nibbles: Vec<u8> = digits.bytes().map(|b| b.wrapping_sub(b'0') & 15).collect();
        match self.filler {
            Some(filler) => nibbles.resize(self.digits + self.spare(), filler),
            None => {
                let missing = self.digits.saturating_sub(nibbles.len());
                nibbles.splice(0..0, std::iter::repeat_n(0, missing));
            }
        }
        let sign = if minus { 0xD } else { 0xC };
        match self.sign {
            Some(Place::First) => nibbles.insert(0, sign),
            Some(Place::Last) => nibbles.push(sign),
            None => {}
        }
        if self.spare() == 1 && self.filler.is_none() {
            nibbles.insert(0, 0);
        }
        self.join(&nibbles)
    }

    fn most(&self) -> i128 {
        10i128.pow(u32::try_from(self.digits.min(MOST_NUMBER_DIGITS)).unwrap_or(0)) - 1
    }

    fn least(&self) -> i128 {
        if self.sign.is_some() { -self.most() } else { 0 }
    }

    /// Makes it a number with a scale; the error says what was expected instead.
    pub(super) fn scaled(&mut self, scaling: Scaling) -> Result<(), String> {
        if self.filler.is_some() || self.digits > MOST_NUMBER_DIGITS {
            return Err(format!("at most {MOST_NUMBER_DIGITS} digits without a filler, to be scaled"));
        }
        match scaling.value(self.most()).zip(scaling.value(self.least())) {
            Some(_) => {
                self.number = Some(scaling);
                Ok(())
            }
            None => Err("a scale with fewer digits".to_string()),
        }
    }

    fn expected(&self) -> String {
        match self.filler {
            Some(_) => format!("up to {}", count(self.digits, "digit")),
            None => count(self.digits, "digit"),
        }
    }
}

impl Leaf for Bcd {
    fn size(&self) -> Size {
        Size::Bytes(self.bytes())
    }

    fn decode(&self, bytes: &[u8], _order: ByteOrder) -> Seen {
        match (self.read(bytes), &self.number) {
            (Err(oddity), _) => Seen::nonsense(bytes, oddity),
            (Ok((digits, _)), None) => Seen::fine(Value::Text(digits)),
            (Ok((digits, minus)), Some(scaling)) => {
                let size: i128 = digits.parse().unwrap_or(0);
                scaling.seen(if minus { -size } else { size })
            }
        }
    }

    fn encode(&self, value: &Value, old: &[u8], _order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        match (value, &self.number) {
            (Value::Bytes(bytes), _) if bytes.len() == old.len() => Ok(bytes.clone()),
            (_, Some(scaling)) => {
                let number = scaling.stored(value)?;
                if number < self.least() || self.most() < number {
                    let expected = format!("at most {}", count(self.digits, "digit"));
                    return Err(ValueError::typed(&self.show(value), "is out of range", expected));
                }
                Ok(self.write(&number.unsigned_abs().to_string(), number < 0))
            }
            (Value::Text(digits), None) => {
                self.parse(digits)?;
                Ok(self.write(digits, false))
            }
            (other, None) => Err(ValueError::foreign(other, self.expected())),
        }
    }

    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let typed = typed.trim();
        if let Some(scaling) = &self.number {
            let number = scaling.typed(typed, self.least(), self.most())?;
            return Ok(scaling.seen(number).value);
        }
        if let Some(other) = typed.chars().find(|c| !c.is_ascii_digit()) {
            return Err(ValueError::typed(
                typed,
                format!("holds '{}'", other.escape_debug()),
                self.expected(),
            ));
        }
        let fits =
            if self.filler.is_some() { typed.len() <= self.digits } else { typed.len() == self.digits };
        if !fits {
            return Err(ValueError::typed(
                typed,
                format!("has {}", count(typed.len(), "digit")),
                self.expected(),
            ));
        }
        Ok(Value::Text(typed.to_string()))
    }

    fn expects(&self) -> String {
        match &self.number {
            Some(scaling) => scaling.expected(self.least(), self.most()),
            None => self.expected(),
        }
    }

    fn show(&self, value: &Value) -> String {
        match (value, &self.number) {
            (Value::Int(_) | Value::Decimal(_), Some(scaling)) => scaling.show(value),
            _ => shown_foreign(value),
        }
    }

    fn measure(&self) -> std::borrow::Cow<'static, str> {
        self.digits.to_string().into()
    }
}

fn read(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Bcd> {
    const NIBBLES: &[(&str, bool)] = &[("HighFirst", false), ("LowFirst", true)];
    const PLACES: &[(&str, Place)] = &[("First", Place::First), ("Last", Place::Last)];
    let digits = entries
        .required("digits", problems)
        .and_then(|node| get::int(node, 1..=MOST_DIGITS, "a number of digits", problems));
    let order =
        entries.or("order", ByteOrder::Big, |node| get::word(node, &ByteOrder::WORDS, "an order", problems));
    let low_first =
        entries.or("nibbles", false, |node| get::word(node, NIBBLES, "an order of nibbles", problems));
    let unpacked = entries.or("unpacked", false, |node| get::boolean(node, problems));
    let mut nibble = |name, least: u8| {
        entries.or(name, None, |node| get::int(node, least..=15, "a nibble", problems).map(Some))
    };
    let (zone, filler) = (nibble("zone", 0), nibble("filler", 10));
    let sign =
        entries.or("sign", None, |node| get::word(node, PLACES, "a place of the sign", problems).map(Some));
    let number = entries.or("number", false, |node| get::boolean(node, problems));
    let (digits, zone, filler, sign) = (digits? as usize, zone?, filler?, sign?);
    let zone = zone.or(unpacked?.then_some(0));
    let mut bcd = Bcd { digits, order: order?, low_first: low_first?, zone, filler, sign, number: None };
    if number? || sign.is_some() {
        let one = Scaling::new(Decimal::new(1, 0), Decimal::new(0, 0))?;
        if let Err(expected) = bcd.scaled(one) {
            problems.push(Problem::new(entries.span(), "the digits are no number", expected));
            return None;
        }
    }
    Some(bcd)
}

/// `Bcd`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Bcd",
    doc: "Decimal digits in nibbles; an identifier with all of its digits, or a number when it has a sign or a scale",
    options: &[
        option("digits", "how many digits, 1 to 64"),
        option(
            "nibbles",
            "HighFirst or LowFirst: which nibble of a byte is read first; HighFirst when left out",
        ),
        option("order", "Big or Little: which byte is read first, or last; Big when left out"),
        option("unpacked", "true for one digit in each byte; false when left out"),
        option(
            "zone",
            "the high nibble of unpacked digits, 0 to 15; it makes them unpacked; 0 when left out",
        ),
        option("filler", "the nibble, 10 to 15, behind the last digit when there are fewer than fit"),
        option("sign", "First or Last: where a nibble for the sign stands, C plus and D minus"),
        option(
            "number",
            "true when the digits are a number, shown without leading zeros; false when left out",
        ),
    ],
    examples: &[
        big("Bcd(digits: 10)", "00 12 34 56 78", "0012345678", "common practice, no source"),
        big("Bcd(digits: 4, nibbles: LowFirst)", "21 43", "1234", "common practice, no source"),
        big("Bcd(digits: 5, number: true)", "00 12 05", "1205", "common practice, no source"),
        big(
            "Bcd(digits: 5, sign: Last)",
            "12 34 5D",
            "-12345",
            "packed decimal with a trailing sign, common practice, no source",
        ),
        big(
            "Bcd(digits: 15, nibbles: LowFirst, filler: 0xF)",
            "21 43 65 F7 FF FF FF FF",
            "1234567",
            "TBCD of telephone numbers, 3GPP TS 29.329, 6.3.2: low digit first, 1111 fills",
        ),
        big("Bcd(digits: 3, unpacked: true)", "01 02 03", "123", "common practice, no source"),
    ],
    read: |entries, problems| read(entries, problems).map(Into::into),
}];
