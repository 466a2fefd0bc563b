//! Tables of the `crc` crate, made once for each set of parameters and kept.

use std::collections::HashMap;
use std::sync::{LazyLock, OnceLock, PoisonError, RwLock};

use crc::{Crc, Digest, Table};

use super::long::{LONG, Long, reversed};
use super::{CrcParameters, ones};
use crate::span::ByteOrder;

/// Different sets of parameters kept at one time. The crate wants its algorithms to live for ever, so each set
/// is leaked once, 4 to 70 KiB with its tables; the catalogue takes 113 of them and layouts few more. When all
/// places are taken, further sets are computed bit by bit, which is slow and leaks nothing.
const MOST: usize = 512;

/// One computation in progress.
#[derive(Clone)]
pub(super) struct CrcRunning {
    state: State,
    /// `None` when it is computed bit by bit.
    kept: Option<&'static Kept>,
}

#[derive(Clone)]
enum State {
    Bits8(Digest<'static, u8, Table<16>>),
    Bits16(Digest<'static, u16, Table<16>>),
    Bits32(Digest<'static, u32, Table<16>>),
    Bits64(Digest<'static, u64, Table<16>>),
    Bits128(Digest<'static, u128, Table<16>>),
    /// Parameters and the register.
    Bitwise(CrcParameters, u128),
}

/// A set of parameters with its tables.
struct Kept {
    parameters: CrcParameters,
    tables: Tables,
    /// Worked out for the first long range.
    long: OnceLock<Long>,
}

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

    /// A computation of which the register is this one, at the bottom and not turned round.
    fn start(self, register: u128) -> State {
        match self {
            Tables::Bits8(crc) => State::Bits8(crc.digest_with_initial(register as u8)),
            Tables::Bits16(crc) => State::Bits16(crc.digest_with_initial(register as u16)),
            Tables::Bits32(crc) => State::Bits32(crc.digest_with_initial(register as u32)),
            Tables::Bits64(crc) => State::Bits64(crc.digest_with_initial(register as u64)),
            Tables::Bits128(crc) => State::Bits128(crc.digest_with_initial(register)),
        }
    }
}

impl Kept {
    fn of(parameters: CrcParameters) -> Option<&'static Self> {
        static KEPT: LazyLock<RwLock<HashMap<CrcParameters, &'static Kept>>> = LazyLock::new(RwLock::default);
        if let Some(&kept) = KEPT.read().unwrap_or_else(PoisonError::into_inner).get(&parameters) {
            return Some(kept);
        }
        let mut all = KEPT.write().unwrap_or_else(PoisonError::into_inner);
        match all.get(&parameters) {
            Some(&kept) => Some(kept),
            None if all.len() < MOST => {
                let tables = Tables::make(parameters);
                let kept = &*Box::leak(Box::new(Kept { parameters, tables, long: OnceLock::new() }));
                all.insert(parameters, kept);
                Some(kept)
            }
            None => None,
        }
    }

    /// The register that a computation came to.
    fn register(&self, state: State) -> u128 {
        let CrcParameters { width, refout, xorout, .. } = self.parameters;
        let register = state.finish() ^ xorout;
        if refout { reversed(register, width) } else { register }
    }

    /// A computation carried on over a long range.
    fn update_long(&self, state: State, bytes: &[u8]) -> State {
        let CrcParameters { width, poly, .. } = self.parameters;
        let long = self.long.get_or_init(|| Long::new(width, poly));
        let from_zero = |bytes: &[u8]| {
            let mut state = self.tables.start(0);
            state.update(bytes);
            self.register(state)
        };
        self.tables.start(long.register(self.register(state), bytes, from_zero))
    }
}

impl CrcRunning {
    pub(super) fn new(parameters: CrcParameters) -> Self {
        match Kept::of(parameters) {
            Some(kept) => CrcRunning { state: kept.tables.start(parameters.init), kept: Some(kept) },
            None => CrcRunning::bitwise(parameters),
        }
    }

    pub(super) fn bitwise(parameters: CrcParameters) -> Self {
        CrcRunning { state: State::Bitwise(parameters, parameters.init), kept: None }
    }

    pub(super) fn update(&mut self, bytes: &[u8]) {
        match self.kept {
            Some(kept) if bytes.len() >= LONG => self.state = kept.update_long(self.state.clone(), bytes),
            _ => self.state.update(bytes),
        }
    }

    pub(super) fn finish(self) -> u128 {
        self.state.finish()
    }
}

impl State {
    fn update(&mut self, bytes: &[u8]) {
        match self {
            State::Bits8(digest) => digest.update(bytes),
            State::Bits16(digest) => digest.update(bytes),
            State::Bits32(digest) => digest.update(bytes),
            State::Bits64(digest) => digest.update(bytes),
            State::Bits128(digest) => digest.update(bytes),
            State::Bitwise(parameters, register) => {
                *register = bytes.iter().fold(*register, |register, &byte| step(parameters, register, byte));
            }
        }
    }

    fn finish(self) -> u128 {
        match self {
            State::Bits8(digest) => digest.finalize().into(),
            State::Bits16(digest) => digest.finalize().into(),
            State::Bits32(digest) => digest.finalize().into(),
            State::Bits64(digest) => digest.finalize().into(),
            State::Bits128(digest) => digest.finalize(),
            State::Bitwise(parameters, register) => {
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

/// The result over any message followed by its own check value as it would be sent.
/// For widths of whole bytes that leave as they enter.
pub(super) fn residue(parameters: CrcParameters) -> u128 {
    let value = CrcRunning::new(parameters).finish();
    let order = if parameters.refin { ByteOrder::Little } else { ByteOrder::Big };
    let mut running = CrcRunning::new(parameters);
    running.update(&order.bytes(value, usize::from(parameters.width / 8)));
    running.finish()
}
