//! Checks: stored numbers that must agree with a computation over ranges of the image.
//!
//! The CRC catalogue and all CRC computing are the `crc` crate's; the sums of the trade are ours.

use std::borrow::Cow;

use crate::span::{ByteOrder, Span};

/// A named way to compute a check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Algorithm {
    /// Its name: the catalogue's for a CRC, ours for a sum, `custom` for one given by parameters.
    pub name: Cow<'static, str>,
    /// How it is computed.
    pub method: Method,
}

/// How a check is computed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Method {
    /// A cyclic redundancy check by the Rocksoft parameters.
    Crc(CrcParameters),
}

/// The Rocksoft model of a CRC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct CrcParameters {
    /// Bits of the register, 3 to 128.
    pub width: u8,
    /// The polynomial without its leading term.
    pub poly: u128,
    /// The register before the first byte.
    pub init: u128,
    /// Bytes enter least significant bit first.
    pub refin: bool,
    /// The register is reversed at the end.
    pub refout: bool,
    /// What the register is combined with at the end.
    pub xorout: u128,
}

/// What a computation does with the stored bytes of its own check where they lie in its ranges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum StoredBytes {
    /// They are left out.
    #[default]
    Excluded,
    /// They count as zero.
    Zeroed,
    /// They are included, and the result over everything must be the algorithm's constant (zero-sum).
    Included,
}

/// A check of one image with its places worked out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placed {
    /// How it is computed.
    pub algorithm: Algorithm,
    /// What it covers, in the order of computing.
    pub over: Vec<Span>,
    /// Where it is stored.
    pub stored_at: Span,
    /// Which byte of it stands first.
    pub order: ByteOrder,
    /// What happens to the stored bytes inside `over`.
    pub stored_bytes: StoredBytes,
}

/// Whether a check agrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seal {
    /// Stored and computed agree.
    Sealed,
    /// They differ.
    Broken,
    /// A part of the ranges or of the stored bytes is not in the image.
    Unreadable,
}

impl Seal {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Seal::Sealed => "sealed",
            Seal::Broken => "broken",
            Seal::Unreadable => "unreadable",
        }
    }
}
