//! Makers of chips by their JEDEC code (JEP106).
//!
//! The names are those of the `jep106` crate, which reads them out of JEDEC's publication, and a few that it
//! misses.

use std::collections::HashMap;
use std::sync::LazyLock;

use jep106::JEP106Code;

use crate::notation::{Entries, Problem, get};
use crate::span::ByteOrder;

use super::Value;
use super::error::ValueError;
use super::kind::{Leaf, Seen, Size, shown_foreign};
use super::number::UNSET;
use super::table::{Row, big, option};

/// A maker's code.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Maker {
    form: Stored,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Stored {
    /// The number of continuation codes in one byte, the code in the other.
    Counted(ByteOrder),
    /// As many bytes of 7F as there are continuation codes, then the code; this many bytes in all.
    Continued(usize),
}

/// Bank, code and name of makers that the crate misses, out of the table of decode-dimms 4.3 (Debian i2c-tools).
const MISSED: &[(u8, u8, &str)] = &[
    (0, 55, "Zarlink"),
    (0, 112, "QUALCOMM"),
    (1, 55, "AMIC Technology"),
    (1, 70, "American Computer & Digital Components Inc"),
    (1, 111, "Advantage Memory"),
    (2, 54, "Hi/fn"),
    (2, 111, "MultiLink Technology"),
    (3, 53, "API NetWorks"),
    (3, 110, "Litchfield Communication"),
    (4, 52, "Quake Technologies"),
    (4, 109, "Supreme Top Technology Ltd."),
    (5, 51, "Telecis Wireless, Inc."),
    (5, 108, "Tego"),
    (6, 50, "Montage Technology Group"),
    (6, 83, "Silicon Power Computer & Communications"),
    (6, 106, "Contour Semiconductor Inc."),
    (7, 105, "High Bridge Solutions Industria Eletronica"),
    (8, 78, "Cal-Comp Industria de Semicondutores"),
    (8, 109, "Guangzhou Si Nuo Electronic Technology."),
    (9, 31, "Shenzhen City Futian District Qing Xuan Tong Computer Trading Firm"),
    (10, 18, "Guangzhou Xinyi Heng Computer Trading Firm"),
    (10, 37, "Shenzhen Qianhai Weishengda Electronic Commerce Company Ltd"),
];

/// What may be typed.
const EXPECTED: &str = "a maker's name as JEDEC lists it, or bank 1 code 0xCE";

/// The code that says that another bank follows.
const CONTINUATION: u8 = 0x7F;
/// The last bank that a count of seven bits can name.
const MOST_BANK: u8 = 127;

/// The seven bits with the parity bit that makes the number of ones odd.
fn odd(seven: u8) -> u8 {
    let seven = seven & 0x7F;
    if seven.count_ones().is_multiple_of(2) { seven | 0x80 } else { seven }
}

/// A maker as a number: the number of continuation codes, then the code, each with odd parity.
fn number(bank: u8, code: u8) -> u64 {
    u64::from(odd(bank)) << 8 | u64::from(odd(code))
}

fn bank_and_code(number: u64) -> (u8, u8) {
    let [low, high, ..] = number.to_le_bytes();
    (high & 0x7F, low & 0x7F)
}

fn name(bank: u8, code: u8) -> Option<&'static str> {
    let code = code & 0x7F;
    let missed = || MISSED.iter().find(|(b, c, _)| (*b, *c) == (bank, code)).map(|(_, _, name)| *name);
    JEP106Code::get_raw(bank, code).map(str::trim).filter(|name| !name.is_empty()).or_else(missed)
}

/// Banks and codes by name in lower case.
static BY_NAME: LazyLock<HashMap<String, Vec<(u8, u8)>>> = LazyLock::new(|| {
    let mut by_name = HashMap::<_, Vec<_>>::new();
    for bank in 0..=MOST_BANK {
        for code in 1..CONTINUATION {
            if let Some(name) = name(bank, code) {
                by_name.entry(name.to_lowercase()).or_default().push((bank, code));
            }
        }
    }
    by_name
});

/// Every code of a maker with this name, whatever the case of its letters.
fn codes(wanted: &str) -> &'static [(u8, u8)] {
    BY_NAME.get(&wanted.to_lowercase()).map_or(&[], Vec::as_slice)
}

/// `bank 1 code 0xCE`: banks are counted from 1, the code has its parity bit.
fn place(bank: u8, code: u8) -> String {
    format!("bank {} code 0x{:02X}", bank + 1, odd(code))
}

fn typed_place(typed: &str) -> Option<(u8, u8)> {
    let (bank, code) = typed.strip_prefix("bank ")?.split_once(" code 0x")?;
    let bank: u8 = get::plain(bank.trim()).filter(|n| (1..=MOST_BANK + 1).contains(n))?;
    let code = code.trim();
    let code =
        code.bytes().all(|b| b.is_ascii_hexdigit()).then(|| u8::from_str_radix(code, 16).ok())?? & 0x7F;
    (code != 0 && code != CONTINUATION).then_some((bank - 1, code))
}

fn value(bank: u8, code: u8) -> Value {
    Value::Choice(number(bank, code), name(bank, code).map(str::to_string))
}

impl Maker {
    fn counted(bytes: [u8; 2]) -> Seen {
        let [bank, code] = bytes;
        if matches!(code & 0x7F, 0 | CONTINUATION) {
            return Seen::nonsense(&bytes, format!("0x{code:02X} is no maker's code"));
        }
        // The number keeps the bits as they are, so that they are not set right in silence.
        let kept = u64::from(bank) << 8 | u64::from(code);
        let value = Value::Choice(kept, name(bank & 0x7F, code).map(str::to_string));
        match [code, bank].into_iter().find(|&byte| odd(byte) != byte) {
            Some(wrong) => Seen::odd(value, format!("0x{wrong:02X} has wrong parity")),
            None => Seen::fine(value),
        }
    }
}

impl Leaf for Maker {
    fn size(&self) -> Size {
        match self.form {
            Stored::Counted(_) => Size::Bytes(2),
            Stored::Continued(bytes) => Size::Bytes(bytes),
        }
    }

    fn decode(&self, bytes: &[u8], _order: ByteOrder) -> Seen {
        if [0, 0xFF].iter().any(|blank| bytes.iter().all(|b| b == blank)) {
            return Seen::fine(Value::Text(UNSET.to_string()));
        }
        match (self.form, bytes) {
            (Stored::Counted(ByteOrder::Big), &[bank, code]) => Maker::counted([bank, code]),
            (Stored::Counted(ByteOrder::Little), &[code, bank]) => Maker::counted([bank, code]),
            _ => {
                let bank = bytes.iter().take_while(|&&b| b == CONTINUATION).count();
                match (bytes.get(bank), u8::try_from(bank).ok().filter(|&n| n <= MOST_BANK)) {
                    (Some(&code), Some(bank)) if code & 0x7F != 0 && code != 0xFF => {
                        let seen = Maker::counted([odd(bank), code]);
                        // What was seen wrong is about these bytes, not about the two of the other form.
                        if let Value::Bytes(_) = seen.value {
                            Seen::nonsense(bytes, "no maker's code")
                        } else {
                            seen
                        }
                    }
                    _ => Seen::nonsense(bytes, "no maker's code behind the continuation codes"),
                }
            }
        }
    }

    fn encode(&self, value: &Value, old: &[u8], _order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        let number = match value {
            Value::Text(text) if text == UNSET => return Ok(vec![0; old.len()]),
            Value::Bytes(bytes) if bytes.len() == old.len() => return Ok(bytes.clone()),
            Value::Choice(number, _) => *number,
            other => return Err(ValueError::foreign(other, "a maker")),
        };
        let [code, count, ..] = number.to_le_bytes();
        match self.form {
            Stored::Counted(ByteOrder::Big) => Ok(vec![count, code]),
            Stored::Counted(ByteOrder::Little) => Ok(vec![code, count]),
            Stored::Continued(_) => {
                let (bank, _) = bank_and_code(number);
                let bank = usize::from(bank);
                if bank >= old.len() {
                    let wrong = format!("needs {bank} continuation codes");
                    return Err(ValueError::typed(
                        &self.show(value),
                        wrong,
                        format!("at most {}", old.len() - 1),
                    ));
                }
                let fill = if old.last() == Some(&0xFF) { 0xFF } else { 0 };
                let mut bytes = vec![CONTINUATION; bank];
                bytes.push(code);
                bytes.resize(old.len(), fill);
                Ok(bytes)
            }
        }
    }

    /// A name of the list, or `bank 1 code 0xCE`; both when several makers have the name.
    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let typed = typed.trim();
        if typed.eq_ignore_ascii_case(UNSET) {
            return Ok(Value::Text(UNSET.to_string()));
        }
        let parts = typed.strip_suffix(')').and_then(|t| t.rsplit_once('('));
        let (named, place_typed) = parts.unwrap_or(("", typed));
        let is_name = |name: &str| name.to_lowercase() == named.trim().to_lowercase();
        let found = match typed_place(place_typed) {
            Some((bank, code)) if named.trim().is_empty() || name(bank, code).is_some_and(is_name) => {
                (bank, code)
            }
            Some((bank, code)) => {
                let right = self.show(&value(bank, code));
                return Err(ValueError::typed(typed, "names another maker than its code", right));
            }
            None => match codes(typed) {
                [found] => *found,
                [] => return Err(ValueError::typed(typed, "is the name of no maker", EXPECTED)),
                several => {
                    let places: Vec<String> =
                        several.iter().map(|&(b, c)| format!("{typed} ({})", place(b, c))).collect();
                    return Err(ValueError::typed(
                        typed,
                        "is the name of several makers",
                        places.join(" or "),
                    ));
                }
            },
        };
        if let Stored::Continued(bytes) = self.form
            && usize::from(found.0) >= bytes
        {
            let wrong = format!("needs {} continuation codes", found.0);
            return Err(ValueError::typed(typed, wrong, format!("at most {}", bytes - 1)));
        }
        Ok(value(found.0, found.1))
    }

    fn expects(&self) -> String {
        format!("{EXPECTED}, or {UNSET}")
    }

    fn show(&self, value: &Value) -> String {
        let Value::Choice(number, _) = value else { return shown_foreign(value) };
        let (bank, code) = bank_and_code(*number);
        match name(bank, code) {
            Some(name) if codes(name).len() == 1 => name.to_string(),
            Some(name) => format!("{name} ({})", place(bank, code)),
            None => place(bank, code),
        }
    }
}

fn read(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Maker> {
    let continued = entries.or("continued", None, |node| {
        get::int(node, 1..=16u32, "a number of bytes", problems).map(|n| Some(n as usize))
    });
    let order = entries.or("order", None, |node| {
        get::word(node, &ByteOrder::WORDS, "an order", problems).map(|order| Some((node, order)))
    });
    match (continued?, order?) {
        (Some(_), Some((node, _))) => {
            problems.push(Problem::new(node.span, "order has no meaning beside continued", "one of the two"));
            None
        }
        (Some(bytes), None) => Some(Maker { form: Stored::Continued(bytes) }),
        (None, order) => {
            Some(Maker { form: Stored::Counted(order.map_or(ByteOrder::Big, |(_, order)| order)) })
        }
    }
}

/// `Maker`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Maker",
    doc: "The maker of a chip by its JEDEC code (JEP106): the number of continuation codes, then the code, each with odd parity",
    options: &[
        option(
            "continued",
            "how many bytes the field has when the continuation codes themselves are stored (7F 7F … code), filled up with 00",
        ),
        option(
            "order",
            "Big when the number of continuation codes stands first, Little when the code does; Big when left out",
        ),
    ],
    examples: &[
        big("Maker", "80 CE", "Samsung", "JEDEC JEP106, bank 1"),
        big(
            "Maker(continued: 8)",
            "7F 98 00 00 00 00 00 00",
            "Kingston",
            "JEDEC JEP106, bank 2; the form of JEDEC SPD for DDR2, bytes 64 to 71",
        ),
        big("Maker", "00 00", "not set", "common practice, no source"),
    ],
    read: |entries, problems| read(entries, problems).map(Into::into),
}];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn makers_have_the_names_that_decode_dimms_gives_them() {
        // Bank and code with parity, name: the table of decode-dimms 4.3 (Debian i2c-tools), where the names of
        // both lists agree to the letter.
        for (bank, code, wanted) in [
            (0, 0x01, "AMD"),
            (0, 0x89, "Intel"),
            (0, 0x1F, "Atmel"),
            (0, 0x2C, "Micron Technology"),
            (0, 0xCE, "Samsung"),
            (0, 0xC2, "Macronix"),
            (0, 0xDA, "Winbond Electronic"),
            (1, 0x98, "Kingston"),
            (1, 0x4F, "Transcend Information"),
            (2, 0x9E, "Corsair"),
        ] {
            assert_eq!(odd(code & 0x7F), code, "{wanted}: the table's own parity");
            assert_eq!(name(bank, code), Some(wanted));
        }
    }

    #[test]
    fn no_name_is_added_that_the_crate_knows() {
        for &(bank, code, name) in MISSED {
            assert_eq!(JEP106Code::get_raw(bank, code), None, "{name} can go");
        }
    }

    #[test]
    fn wrong_parity_is_odd_and_kept() {
        let maker = Maker { form: Stored::Counted(ByteOrder::Big) };
        let seen = maker.decode(&[0x00, 0xCE], ByteOrder::Big);
        assert_eq!(seen.oddity.as_deref(), Some("0x00 has wrong parity"));
        assert_eq!(maker.show(&seen.value), "Samsung");
        assert_eq!(maker.encode(&seen.value, &[0, 0], ByteOrder::Big).unwrap(), [0x00, 0xCE]);
    }

    #[test]
    fn a_name_that_does_not_belong_to_its_code_is_refused() {
        let maker = Maker { form: Stored::Counted(ByteOrder::Big) };
        assert_eq!(maker.parse("samsung (bank 1 code 0xCE)"), Ok(value(0, 0xCE)));
        let error = maker.parse("Intel (bank 1 code 0xCE)").unwrap_err();
        assert_eq!(error.expected, "Samsung");
        assert!(maker.parse("Nobody (bank 16 code 0xFE)").is_err());
    }

    #[test]
    fn every_maker_of_the_list_can_be_typed_as_it_is_shown() {
        let maker = Maker { form: Stored::Counted(ByteOrder::Big) };
        let mut named = 0;
        for bank in 0..=15 {
            for code in 1..CONTINUATION {
                named += usize::from(name(bank, code).is_some());
                let value = value(bank, code);
                assert_eq!(maker.parse(&maker.show(&value)), Ok(value));
            }
        }
        assert!(named > 1500, "{named}");
    }

    #[test]
    fn a_maker_of_a_far_bank_does_not_fit_few_bytes() {
        let maker = Maker { form: Stored::Continued(2) };
        let error = maker.parse("bank 4 code 0x01").unwrap_err();
        assert_eq!(error.to_string(), "\"bank 4 code 0x01\" needs 3 continuation codes; expected at most 1");
    }
}
