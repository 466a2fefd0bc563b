//! Text files, and what those that the program writes itself have in common: RON the way people write it, addresses and
//! bytes as hexadecimal text.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::Path;

use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::{Deserialize, Serialize};

use super::told;
use crate::error::Error;
use crate::notation::get::hex_bytes;
use crate::wording;

/// The text of a `noun` that has at most `most` bytes.
pub(super) fn read_text(path: &Path, noun: &str, most: u64) -> Result<String, Error> {
    let failed = |e| told(path, &format!("reading the {noun}"), &e);
    if fs::metadata(path).map_err(failed)?.is_dir() {
        return Err(failed(io::ErrorKind::IsADirectory.into()));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(failed)?;
    file.take(most + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > most {
        return Err(Error::new(format!("a {noun} has at most {most} bytes, this file has more"))
            .in_file(path)
            .advice(format!("name a {noun}")));
    }
    String::from_utf8(bytes).map_err(|e| {
        let valid = e.utf8_error().valid_up_to();
        let before = e.as_bytes().get(..valid).unwrap_or_default();
        let line = memchr::memchr_iter(b'\n', before).count() + 1;
        let bad = e.as_bytes().get(valid).copied().unwrap_or_default();
        Error::new(format!("the byte 0x{bad:02X} is no UTF-8 text"))
            .in_line(path, line)
            .advice(format!("save the {noun} as UTF-8 text"))
    })
}

/// RON without `Some(…)`.
pub(super) fn ron() -> ron::Options {
    ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME)
}

/// RON over several lines, short lists on one.
pub(super) fn pretty() -> PrettyConfig {
    PrettyConfig::new().depth_limit(2).struct_names(false).extensions(Extensions::IMPLICIT_SOME)
}

/// An address: `"0x0101"`.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(super) struct Address(pub u64);

impl From<Address> for String {
    fn from(Address(address): Address) -> String {
        wording::address(address)
    }
}

impl TryFrom<String> for Address {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        // A sign would be taken too.
        let digits = text.strip_prefix("0x").filter(|d| d.bytes().all(|b| b.is_ascii_hexdigit()));
        let address = digits.and_then(|digits| u64::from_str_radix(digits, 16).ok());
        address.map(Address).ok_or_else(|| format!("{text:?} is no address"))
    }
}

/// Bytes: `"1A2B"`.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(super) struct Bytes(pub Vec<u8>);

impl From<Bytes> for String {
    fn from(Bytes(bytes): Bytes) -> String {
        wording::hex_plain(&bytes)
    }
}

impl TryFrom<String> for Bytes {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        hex_bytes(&text).map(Bytes).ok_or_else(|| format!("the bytes {text:?} are not hexadecimal"))
    }
}
