//! Computing piece by piece.

use super::crc::CrcRunning;
use super::{Finish, Method, Operation, SumParameters, ones};
use crate::span::ByteOrder;

/// A computation that takes its bytes piece by piece.
#[derive(Clone)]
pub struct Running(State);

#[derive(Clone)]
enum State {
    Crc(CrcRunning),
    Sum(SumParameters, Words, u64),
    Fletcher { bits: u8, words: Words, low: u64, high: u64 },
    Adler { low: u32, high: u32 },
    Bsd(u16),
    SystemV(u32),
}

/// Bytes gathered into words.
#[derive(Clone, Copy)]
struct Words {
    order: ByteOrder,
    /// Bytes of a word.
    bytes: u32,
    /// The bytes of the word begun, each in its place.
    begun: u64,
    /// How many there are.
    count: u32,
}

impl Words {
    fn new(bits: u8, order: ByteOrder) -> Self {
        Words { order, bytes: u32::from(bits / 8).max(1), begun: 0, count: 0 }
    }

    /// The word that `byte` completes.
    fn push(&mut self, byte: u8) -> Option<u64> {
        let place = match self.order {
            ByteOrder::Little => self.count,
            ByteOrder::Big => self.bytes - 1 - self.count,
        };
        self.begun |= u64::from(byte) << (8 * place);
        self.count += 1;
        (self.count == self.bytes).then(|| {
            self.count = 0;
            std::mem::take(&mut self.begun)
        })
    }

    /// The word begun, its missing bytes zero.
    fn rest(self) -> Option<u64> {
        (self.count > 0).then_some(self.begun)
    }
}

fn join(sum: SumParameters, total: u64, word: u64) -> u64 {
    match sum.operation {
        Operation::Add => total.wrapping_add(word),
        // At most 64 bits, and words of at most 32: the carry is brought round before it could be lost.
        Operation::AddCarry => {
            let (total, carry) = total.overflowing_add(word);
            total + u64::from(carry)
        }
        Operation::Xor => total ^ word,
    }
}

fn finish(sum: SumParameters, total: u64) -> u64 {
    let bits = u32::from(sum.bits);
    let mask = ones(bits) as u64;
    let total = match sum.operation {
        Operation::AddCarry => carried(total, bits),
        Operation::Add | Operation::Xor => total & mask,
    };
    match (sum.finish, sum.operation) {
        (Finish::Plain, _) => total,
        (Finish::To(constant), Operation::Xor) => constant ^ total,
        (Finish::To(constant), Operation::Add) => constant.wrapping_sub(total) & mask,
        (Finish::To(constant), Operation::AddCarry) if total <= constant => constant - total,
        // A borrow out of the top is taken away at the bottom; `total` is at most `mask`.
        (Finish::To(constant), Operation::AddCarry) => mask - (total - constant),
    }
}

/// `total` with everything above `bits` added at the bottom.
fn carried(mut total: u64, bits: u32) -> u64 {
    let mask = ones(bits) as u64;
    while total > mask {
        total = (total & mask) + total.checked_shr(bits).unwrap_or(0);
    }
    total
}

/// Fletcher's modulus for a result of `bits` bits.
fn fletcher_modulus(bits: u8) -> u64 {
    ones(u32::from(bits / 2)) as u64
}

const ADLER_MODULUS: u32 = 65_521;

impl Running {
    pub(super) fn new(method: Method) -> Self {
        Running(match method {
            Method::Crc(parameters) => State::Crc(CrcRunning::new(parameters)),
            Method::Sum(sum) => State::Sum(sum, Words::new(sum.word, sum.order), sum.init),
            Method::Fletcher(bits) => {
                State::Fletcher { bits, words: Words::new(bits / 2, ByteOrder::Little), low: 0, high: 0 }
            }
            Method::Adler32 => State::Adler { low: 1, high: 0 },
            Method::BsdSum => State::Bsd(0),
            Method::SystemVSum => State::SystemV(0),
        })
    }

    /// Takes the next bytes.
    pub fn update(&mut self, bytes: &[u8]) {
        match &mut self.0 {
            State::Crc(crc) => crc.update(bytes),
            State::Sum(sum, words, total) => {
                *total =
                    bytes.iter().filter_map(|&byte| words.push(byte)).fold(*total, |t, w| join(*sum, t, w));
            }
            State::Fletcher { bits, words, low, high } => {
                let modulus = fletcher_modulus(*bits);
                for word in bytes.iter().filter_map(|&byte| words.push(byte)) {
                    *low = (*low + word) % modulus;
                    *high = (*high + *low) % modulus;
                }
            }
            State::Adler { low, high } => {
                for &byte in bytes {
                    *low = (*low + u32::from(byte)) % ADLER_MODULUS;
                    *high = (*high + *low) % ADLER_MODULUS;
                }
            }
            State::Bsd(total) => {
                *total =
                    bytes.iter().fold(*total, |t, &byte| t.rotate_right(1).wrapping_add(u16::from(byte)));
            }
            State::SystemV(total) => {
                *total = bytes.iter().fold(*total, |t, &byte| t.wrapping_add(u32::from(byte)));
            }
        }
    }

    /// The result.
    #[must_use]
    pub fn finish(self) -> u128 {
        match self.0 {
            State::Crc(crc) => crc.finish(),
            State::Sum(sum, words, total) => {
                let total = words.rest().map_or(total, |word| join(sum, total, word));
                u128::from(finish(sum, total))
            }
            State::Fletcher { bits, words, mut low, mut high } => {
                let modulus = fletcher_modulus(bits);
                if let Some(word) = words.rest() {
                    low = (low + word) % modulus;
                    high = (high + low) % modulus;
                }
                u128::from(high) << (bits / 2) | u128::from(low)
            }
            State::Adler { low, high } => u128::from(high) << 16 | u128::from(low),
            State::Bsd(total) => total.into(),
            State::SystemV(total) => carried(total.into(), 16).into(),
        }
    }
}
