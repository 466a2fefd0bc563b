//! Tables of the `crc` crate, made once for each set of parameters and kept.

use std::collections::HashMap;
use std::sync::{LazyLock, PoisonError, RwLock};

use crc::{Crc, Digest, Table};

use super::{CrcParameters, ones};

/// Different sets of parameters kept at one time. The crate wants its algorithms to live for ever, so each set
/// is leaked once, 4 to 70 KiB with its tables; the catalogue takes 113 of them and layouts few more. When all
/// places are taken, further sets are computed bit by bit, which is slow and leaks nothing.
const MOST: usize = 512;

/// One computation in progress.
#[derive(Clone)]
pub(super) enum CrcRunning {
    Bits8(Digest<'static, u8, Table<16>>),
    Bits16(Digest<'static, u16, Table<16>>),
    Bits32(Digest<'static, u32, Table<16>>),
    Bits64(Digest<'static, u64, Table<16>>),
    Bits128(Digest<'static, u128, Table<16>>),
    /// Parameters and the register.
    Bitwise(CrcParameters, u128),
}

/// A set of parameters with its tables.
#[derive(Clone, Copy)]
enum Tables {
    Bits8(&'static Crc<u8, Table<16>>),
    Bits16(&'static Crc<u16, Table<16>>),
    Bits32(&'static Crc<u32, Table<16>>),
    Bits64(&'static Crc<u64, Table<16>>),
    Bits128(&'static Crc<u128, Table<16>>),
}

macro_rules! tables {
    ($parameters:expr, $register:ty) => {{
        let CrcParameters { width, poly, init, refin, refout, xorout } = $parameters;
        // The numbers fit: they were cut to the width, and the register is at least as wide.
        let algorithm = Box::leak(Box::new(crc::Algorithm::<$register> {
            width,
            poly: poly as $register,
            init: init as $register,
            refin,
            refout,
            xorout: xorout as $register,
            check: 0,
            residue: 0,
        }));
        &*Box::leak(Box::new(Crc::<$register, Table<16>>::new(algorithm)))
    }};
}

impl Tables {
    fn make(parameters: CrcParameters) -> Self {
        match parameters.width {
            0..=8 => Tables::Bits8(tables!(parameters, u8)),
            9..=16 => Tables::Bits16(tables!(parameters, u16)),
            17..=32 => Tables::Bits32(tables!(parameters, u32)),
            33..=64 => Tables::Bits64(tables!(parameters, u64)),
            _ => Tables::Bits128(tables!(parameters, u128)),
        }
    }

    fn of(parameters: CrcParameters) -> Option<Self> {
        static KEPT: LazyLock<RwLock<HashMap<CrcParameters, Tables>>> = LazyLock::new(RwLock::default);
        if let Some(&tables) = KEPT.read().unwrap_or_else(PoisonError::into_inner).get(&parameters) {
            return Some(tables);
        }
        let mut kept = KEPT.write().unwrap_or_else(PoisonError::into_inner);
        match kept.get(&parameters) {
            Some(&tables) => Some(tables),
            None if kept.len() < MOST => {
                let tables = Tables::make(parameters);
                kept.insert(parameters, tables);
                Some(tables)
            }
            None => None,
        }
    }
}

impl CrcRunning {
    pub(super) fn new(parameters: CrcParameters) -> Self {
        match Tables::of(parameters) {
            Some(Tables::Bits8(crc)) => CrcRunning::Bits8(crc.digest()),
            Some(Tables::Bits16(crc)) => CrcRunning::Bits16(crc.digest()),
            Some(Tables::Bits32(crc)) => CrcRunning::Bits32(crc.digest()),
            Some(Tables::Bits64(crc)) => CrcRunning::Bits64(crc.digest()),
            Some(Tables::Bits128(crc)) => CrcRunning::Bits128(crc.digest()),
            None => CrcRunning::bitwise(parameters),
        }
    }

    pub(super) fn bitwise(parameters: CrcParameters) -> Self {
        CrcRunning::Bitwise(parameters, parameters.init)
    }

    pub(super) fn update(&mut self, bytes: &[u8]) {
        match self {
            CrcRunning::Bits8(digest) => digest.update(bytes),
            CrcRunning::Bits16(digest) => digest.update(bytes),
            CrcRunning::Bits32(digest) => digest.update(bytes),
            CrcRunning::Bits64(digest) => digest.update(bytes),
            CrcRunning::Bits128(digest) => digest.update(bytes),
            CrcRunning::Bitwise(parameters, register) => {
                *register = bytes.iter().fold(*register, |register, &byte| step(parameters, register, byte));
            }
        }
    }

    pub(super) fn finish(self) -> u128 {
        match self {
            CrcRunning::Bits8(digest) => digest.finalize().into(),
            CrcRunning::Bits16(digest) => digest.finalize().into(),
            CrcRunning::Bits32(digest) => digest.finalize().into(),
            CrcRunning::Bits64(digest) => digest.finalize().into(),
            CrcRunning::Bits128(digest) => digest.finalize(),
            CrcRunning::Bitwise(parameters, register) => {
                let register =
                    if parameters.refout { reversed(register, parameters.width) } else { register };
                register ^ parameters.xorout
            }
        }
    }
}

/// The register after one more byte, bit by bit as the Rocksoft model says it.
fn step(parameters: &CrcParameters, register: u128, byte: u8) -> u128 {
    let byte = if parameters.refin { byte.reverse_bits() } else { byte };
    let width = u32::from(parameters.width);
    (0..8).rev().fold(register, |register, bit| {
        let out = ((register >> (width - 1)) as u8 ^ (byte >> bit)) & 1;
        let shifted = (register << 1) & ones(width);
        if out == 1 { shifted ^ parameters.poly } else { shifted }
    })
}

/// The lowest `width` bits in the other order.
const fn reversed(value: u128, width: u8) -> u128 {
    match width {
        0 => 0,
        _ => value.reverse_bits() >> (128 - width as u32),
    }
}

/// The result over any message followed by its own check value as it would be sent.
/// For widths of whole bytes that leave as they enter.
pub(super) fn residue(parameters: CrcParameters) -> u128 {
    let value = CrcRunning::new(parameters).finish();
    let bytes = usize::from(parameters.width / 8);
    let little = value.to_le_bytes();
    let mut sent: Vec<u8> = little.into_iter().take(bytes).collect();
    if !parameters.refin {
        sent.reverse();
    }
    let mut running = CrcRunning::new(parameters);
    running.update(&sent);
    running.finish()
}
