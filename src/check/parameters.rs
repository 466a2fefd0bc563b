//! Algorithms as text: `CRC(width: 16, poly: 0x1021, …)` and `SUM(bits: 16, word: 16, order: Little, …)`.

use std::fmt;

use super::{Algorithm, CrcParameters, Finish, Method, Operation, SumParameters, ones};
use crate::error::Refusal;
use crate::notation::{get, nearest};
use crate::span::ByteOrder;

const CRC_KEYS: &[&str] = &["width", "poly", "init", "refin", "refout", "xorout"];
const SUM_KEYS: &[&str] = &["bits", "word", "order", "init", "to"];
const CRC_EXAMPLE: &str =
    "CRC(width: 16, poly: 0x1021, init: 0xFFFF, refin: false, refout: false, xorout: 0)";
const SUM_EXAMPLE: &str = "SUM(bits: 16, word: 16, order: Little, init: 0, to: 0xBABA)";

fn wrong(what: String, advice: impl Into<String>) -> Refusal {
    Refusal { what, advice: advice.into() }
}

/// Reads what [`Method`] displays.
pub(super) fn read(text: &str) -> Result<Algorithm, Refusal> {
    let (head, body) = text
        .strip_suffix(')')
        .and_then(|text| text.split_once('('))
        .ok_or_else(|| wrong(format!("\"{text}\" is no check"), format!("write {CRC_EXAMPLE}")))?;
    let head = head.trim().to_ascii_uppercase();
    let (keys, example) = match head.as_str() {
        "CRC" => (CRC_KEYS, CRC_EXAMPLE),
        "SUM" | "CARRY" | "XOR" => (SUM_KEYS, SUM_EXAMPLE),
        _ => {
            return Err(wrong(
                format!("\"{head}\" takes no parameters"),
                format!("write {CRC_EXAMPLE}, or SUM, CARRY or XOR as in {SUM_EXAMPLE}"),
            ));
        }
    };
    let given = Given::read(body, keys, example)?;
    match head.as_str() {
        "CRC" => crc(&given),
        "XOR" => sum(&given, Operation::Xor),
        "CARRY" => sum(&given, Operation::AddCarry),
        _ => sum(&given, Operation::Add),
    }
}

/// Keys and values as written.
struct Given<'a> {
    pairs: Vec<(&'a str, &'a str)>,
    example: &'static str,
}

impl<'a> Given<'a> {
    fn read(body: &'a str, keys: &[&'static str], example: &'static str) -> Result<Self, Refusal> {
        let mut pairs: Vec<(&str, &str)> = Vec::new();
        for part in body.split(',').map(str::trim).filter(|part| !part.is_empty()) {
            let (key, value) = part
                .split_once(':')
                .map(|(key, value)| (key.trim(), value.trim()))
                .ok_or_else(|| wrong(format!("\"{part}\" has no colon"), format!("write {example}")))?;
            if !keys.contains(&key) {
                let near = nearest(key, keys.iter().copied())
                    .map_or(String::new(), |k| format!("; did you mean {k}?"));
                return Err(wrong(
                    format!("\"{key}\" is no parameter here"),
                    format!("known are {}{near}", keys.join(", ")),
                ));
            }
            if pairs.iter().any(|(before, _)| *before == key) {
                return Err(wrong(format!("\"{key}\" is given twice"), "take one of the two out"));
            }
            pairs.push((key, value));
        }
        Ok(Given { pairs, example })
    }

    fn get(&self, key: &str) -> Option<&'a str> {
        self.pairs.iter().find(|(name, _)| *name == key).map(|(_, value)| *value)
    }

    fn number(&self, key: &str) -> Result<Option<u128>, Refusal> {
        let Some(text) = self.get(key) else { return Ok(None) };
        get::digits(text)
            .map(Some)
            .ok_or_else(|| wrong(format!("{key} \"{text}\" is no number"), "write it decimal or as 0x1021"))
    }

    fn needed(&self, key: &str) -> Result<u128, Refusal> {
        self.number(key)?
            .ok_or_else(|| wrong(format!("{key} is missing"), format!("write it as in {}", self.example)))
    }

    fn within(&self, key: &str, bits: u32) -> Result<u128, Refusal> {
        let value = self.number(key)?.unwrap_or(0);
        if value > ones(bits) {
            return Err(wrong(
                format!("{key} {value:#X} does not fit in {bits} bits"),
                format!("give a number up to {:#X}", ones(bits)),
            ));
        }
        Ok(value)
    }

    fn flag(&self, key: &str) -> Result<bool, Refusal> {
        match self.get(key) {
            None | Some("false") => Ok(false),
            Some("true") => Ok(true),
            Some(other) => {
                Err(wrong(format!("{key} \"{other}\" is neither true nor false"), "write true or false"))
            }
        }
    }
}

fn crc(given: &Given<'_>) -> Result<Algorithm, Refusal> {
    let width = given.needed("width")?;
    let width = u8::try_from(width).ok().filter(|width| (3..=128).contains(width)).ok_or_else(|| {
        wrong(format!("width {width} is out of reach"), "a CRC has 3 to 128 bits; smaller ones are parities")
    })?;
    let bits = u32::from(width);
    given.needed("poly")?;
    let poly = given.within("poly", bits).map_err(|error| Refusal {
        advice: format!("{}; the leading term is left out", error.advice),
        ..error
    })?;
    Ok(Algorithm::crc(CrcParameters {
        width,
        poly,
        init: given.within("init", bits)?,
        refin: given.flag("refin")?,
        refout: given.flag("refout")?,
        xorout: given.within("xorout", bits)?,
    }))
}

fn sum(given: &Given<'_>, operation: Operation) -> Result<Algorithm, Refusal> {
    let bits = given.needed("bits")?;
    let bits = u8::try_from(bits)
        .ok()
        .filter(|bits| [8, 16, 32, 64].contains(bits))
        .ok_or_else(|| wrong(format!("bits {bits} is no size of a sum"), "give 8, 16, 32 or 64"))?;
    let word = given.number("word")?.unwrap_or(8);
    let word = u8::try_from(word)
        .ok()
        .filter(|word| [8, 16, 32].contains(word) && *word <= bits)
        .ok_or_else(|| {
            wrong(
                format!("word {word} is no size of a word here"),
                "give 8, 16 or 32, at most the bits of the sum",
            )
        })?;
    let order = match given.get("order") {
        Some(typed) => ByteOrder::of_word(typed)
            .ok_or_else(|| wrong(format!("order \"{typed}\" is unknown"), "write Big or Little"))?,
        None if word == 8 => ByteOrder::Big,
        None => {
            return Err(wrong(
                "order is missing".to_owned(),
                "say which byte of a word stands first: Big or Little",
            ));
        }
    };
    let finish = match given.number("to")? {
        None => Finish::Plain,
        Some(_) => Finish::To(given.within("to", u32::from(bits))? as u64),
    };
    let init = given.within("init", u32::from(bits))? as u64;
    Ok(Algorithm::sum(SumParameters { operation, bits, word, order, init, finish }))
}

impl fmt::Display for Method {
    /// The parameters as text; [`super::by_name`] reads them back.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Method::Crc(CrcParameters { width, poly, init, refin, refout, xorout }) => write!(
                f,
                "CRC(width: {width}, poly: {poly:#X}, init: {init:#X}, refin: {refin}, refout: {refout}, \
                 xorout: {xorout:#X})"
            ),
            Method::Sum(SumParameters { operation, bits, word, order, init, finish }) => {
                let head = match operation {
                    Operation::Add => "SUM",
                    Operation::AddCarry => "CARRY",
                    Operation::Xor => "XOR",
                };
                write!(f, "{head}(bits: {bits}")?;
                if word != 8 {
                    write!(f, ", word: {word}, order: {}", order.word())?;
                }
                if init != 0 {
                    write!(f, ", init: {init:#X}")?;
                }
                if let Finish::To(constant) = finish {
                    write!(f, ", to: {constant:#X}")?;
                }
                f.write_str(")")
            }
            Method::Fletcher(bits) => write!(f, "FLETCHER-{bits}"),
            Method::Adler32 => f.write_str("ADLER-32"),
            Method::BsdSum => f.write_str("BSD-SUM"),
            Method::SystemVSum => f.write_str("SYSV-SUM"),
        }
    }
}

impl fmt::Display for Algorithm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name)
    }
}
