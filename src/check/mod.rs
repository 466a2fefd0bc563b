//! Checks: stored numbers that must agree with a computation over ranges of the image.
//!
//! The CRC catalogue and all CRC computing are the `crc` crate's; the sums of the trade are ours.
//!
//! | file | what it holds |
//! | --- | --- |
//! | [`mod@catalogue`] | the one list of named algorithms, their aliases, looking one up |
//! | `parameters` | algorithms as text: `CRC(width: 16, …)`, `SUM(bits: 16, …)` |
//! | `crc` | tables of the `crc` crate, made once for each set of parameters |
//! | `long` | CRCs of long ranges, shortened and shared between the cores |
//! | `running` | computing piece by piece |
//! | `seal` | stored against computed, and the edit that reseals |
//! | [`digits`] | check digits over text |

pub mod catalogue;
mod crc;
pub mod digits;
mod long;
mod parameters;
mod running;
mod seal;

use std::borrow::Cow;

use crate::finding::Verdict;
use crate::span::{ByteOrder, Span};

pub use catalogue::{by_name, catalogue};
pub use running::Running;
pub use seal::{Verified, reseal, verify};

/// A named way to compute a check.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Algorithm {
    /// Its name, which [`by_name`] turns back into it: the catalogue's for a CRC, ours for a sum, and the
    /// parameters as text for one that the catalogue does not list.
    pub name: Cow<'static, str>,
    /// How it is computed.
    pub method: Method,
}

/// How a check is computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Method {
    /// A cyclic redundancy check by the Rocksoft parameters.
    Crc(CrcParameters),
    /// Words added or combined by exclusive or.
    Sum(SumParameters),
    /// Fletcher's two running sums, most significant half the sum of sums. Bits of the result: 16 over bytes
    /// modulo 255, 32 over 16-bit words modulo 65535, 64 over 32-bit words modulo 2^32 - 1; words little-endian.
    /// Fletcher, "An Arithmetic Checksum for Serial Transmissions", IEEE Transactions on Communications 30 (1982).
    Fletcher(u8),
    /// Two running sums modulo 65521: RFC 1950, section 8.2.
    Adler32,
    /// 16-bit sum of bytes, rotated right by one bit before each: the historic `sum` of BSD.
    BsdSum,
    /// Sum of bytes folded into 16 bits: the historic `sum` of System V.
    SystemVSum,
}

/// The Rocksoft model of a CRC.
/// Williams, "A Painless Guide to CRC Error Detection Algorithms" (1993), section 15.
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

/// How words are put together into a sum.
///
/// Words are formed over all pieces laid end to end, so a word may begin in one range and end in the next.
/// A tail that does not fill a word is filled with zero bytes behind it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct SumParameters {
    /// How a word joins the sum.
    pub operation: Operation,
    /// Bits of the sum: 8, 16, 32 or 64.
    pub bits: u8,
    /// Bits of a word: 8, 16 or 32, at most `bits`.
    pub word: u8,
    /// Which byte of a word stands first; bytes have none and carry [`ByteOrder::Big`].
    pub order: ByteOrder,
    /// The sum before the first word.
    pub init: u64,
    /// What the sum becomes at the end.
    pub finish: Finish,
}

/// How a word joins a sum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Operation {
    /// Added, the carry out of the top lost.
    Add,
    /// Added, the carry out of the top added at the bottom (one's complement addition).
    AddCarry,
    /// Combined by exclusive or.
    Xor,
}

/// What a sum becomes at the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Finish {
    /// It stays as it is.
    Plain,
    /// What is missing to this number. 0 makes the two's complement, all ones the one's complement.
    To(u64),
}

words! {
    /// What a computation does with the stored bytes of its own check where they lie in its ranges.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
    pub enum StoredBytes {
        /// They are left out; what follows moves up.
        #[default]
        Excluded,
        /// They count as zero.
        Zeroed,
        /// They count as FF, which an erased memory holds.
        Erased,
        /// They are included, and the result over everything must be the algorithm's constant (zero-sum).
        Included,
    }
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

    /// What it says of the image.
    #[must_use]
    pub const fn verdict(self) -> Verdict {
        match self {
            Seal::Sealed => Verdict::Sound,
            Seal::Unreadable => Verdict::Doubtful,
            Seal::Broken => Verdict::Unsound,
        }
    }
}

/// `bits` ones at the bottom, at most 128.
pub(crate) const fn ones(bits: u32) -> u128 {
    match bits {
        0 => 0,
        1..=127 => (1 << bits) - 1,
        _ => u128::MAX,
    }
}

impl Algorithm {
    /// The CRC with `parameters`, under the catalogue's name where it has one. Bits above the width are cut off.
    #[must_use]
    pub fn crc(parameters: CrcParameters) -> Self {
        let width = parameters.width.clamp(1, 128);
        let mask = ones(u32::from(width));
        Self::named(Method::Crc(CrcParameters {
            width,
            poly: parameters.poly & mask,
            init: parameters.init & mask,
            xorout: parameters.xorout & mask,
            ..parameters
        }))
    }

    /// The sum with `parameters`, under our name where it has one. Bits above the sum are cut off.
    #[must_use]
    pub fn sum(parameters: SumParameters) -> Self {
        let mask = ones(u32::from(parameters.bits)) as u64;
        let finish = match (parameters.finish, parameters.operation) {
            // Combining with 0 changes nothing, and one's complement addition has two forms of zero.
            (Finish::To(0), Operation::Xor) => Finish::Plain,
            (Finish::To(0), Operation::AddCarry) => Finish::To(mask),
            (Finish::To(constant), _) => Finish::To(constant & mask),
            (Finish::Plain, _) => Finish::Plain,
        };
        let order = if parameters.word == 8 { ByteOrder::Big } else { parameters.order };
        Self::named(Method::Sum(SumParameters { init: parameters.init & mask, finish, order, ..parameters }))
    }

    fn named(method: Method) -> Self {
        let listed = catalogue().iter().find(|listed| listed.algorithm.method == method);
        match listed {
            Some(listed) => listed.algorithm.clone(),
            None => Algorithm { name: Cow::Owned(method.to_string()), method },
        }
    }

    /// Bits of the result.
    #[must_use]
    pub const fn bits(&self) -> u32 {
        match self.method {
            Method::Crc(crc) => crc.width as u32,
            Method::Sum(sum) => sum.bits as u32,
            Method::Fletcher(bits) => bits as u32,
            Method::Adler32 => 32,
            Method::BsdSum | Method::SystemVSum => 16,
        }
    }

    /// Bytes that hold the result.
    #[must_use]
    pub const fn bytes(&self) -> usize {
        self.bits().div_ceil(8) as usize
    }

    /// Begins a computation that takes its bytes piece by piece.
    #[must_use]
    pub fn start(&self) -> Running {
        Running::new(self.method)
    }

    /// The result over `pieces` laid end to end.
    #[must_use]
    pub fn compute<'a>(&self, pieces: impl IntoIterator<Item = &'a [u8]>) -> u128 {
        let mut running = self.start();
        for piece in pieces {
            running.update(piece);
        }
        running.finish()
    }

    /// What [`Algorithm::compute`] must give over everything, the stored bytes included, under
    /// [`StoredBytes::Included`]: the residue of a CRC; 0 for a sum, or for what is missing to its constant; all
    /// ones for a plain sum with end-around carry, whose zero that is.
    #[must_use]
    pub fn constant(&self) -> u128 {
        match self.method {
            Method::Crc(parameters) if self.can_include() => crc::residue(parameters),
            Method::Sum(SumParameters {
                operation: Operation::AddCarry,
                finish: Finish::Plain,
                bits,
                ..
            }) => ones(u32::from(bits)),
            _ => 0,
        }
    }

    /// Whether a stored value can be solved for under [`StoredBytes::Included`]: sums, and CRCs that fill whole
    /// bytes and leave as they entered (the others have no residue in bytes).
    #[must_use]
    pub const fn can_include(&self) -> bool {
        match self.method {
            Method::Crc(crc) => crc.width.is_multiple_of(8) && crc.refin == crc.refout,
            Method::Sum(_) => true,
            Method::Fletcher(_) | Method::Adler32 | Method::BsdSum | Method::SystemVSum => false,
        }
    }
}

#[cfg(test)]
mod tests;
