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

    /// Bytes at the front of `bytes` that are whole words, when none is begun.
    fn whole(self, bytes: &[u8]) -> usize {
        if self.count == 0 { bytes.len() - bytes.len() % self.bytes as usize } else { 0 }
    }

    /// Joins the whole words of `bytes` to `total`, one after the other.
    fn fold<T>(self, bytes: &[u8], total: T, join: impl Fn(T, u64) -> T) -> T {
        match (self.bytes, self.order) {
            (1, _) => bytes.iter().fold(total, |t, byte| join(t, u64::from(*byte))),
            (2, ByteOrder::Big) => {
                let words = bytes.as_chunks().0.iter();
                words.fold(total, |t, word| join(t, u16::from_be_bytes(*word).into()))
            }
            (2, ByteOrder::Little) => {
                let words = bytes.as_chunks().0.iter();
                words.fold(total, |t, word| join(t, u16::from_le_bytes(*word).into()))
            }
            (_, ByteOrder::Big) => {
                let words = bytes.as_chunks().0.iter();
                words.fold(total, |t, word| join(t, u32::from_be_bytes(*word).into()))
            }
            (_, ByteOrder::Little) => {
                let words = bytes.as_chunks().0.iter();
                words.fold(total, |t, word| join(t, u32::from_le_bytes(*word).into()))
            }
        }
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

/// Bytes that are summed before a carry is looked at: a multiple of every word, few enough for 64 bits.
const PIECE: usize = 1 << 20;

/// Joins the whole words of `bytes`, of which there are not too many for 64 bits.
fn join_all(sum: SumParameters, total: u64, words: Words, bytes: &[u8]) -> u64 {
    let part = match (sum.operation, words.bytes, words.order) {
        // What does not fit is lost, and of the narrowest numbers processors add the most at once.
        (Operation::Add, 1, _) if sum.bits == 8 => bytes.iter().fold(0_u8, |s, b| s.wrapping_add(*b)).into(),
        (Operation::Add | Operation::AddCarry, 1, _) => {
            let (even, odd) = even_and_odd(bytes);
            even + odd
        }
        (Operation::Add | Operation::AddCarry, 2, order) => {
            let (first, second) = even_and_odd(bytes);
            match order {
                ByteOrder::Big => (first << 8) + second,
                ByteOrder::Little => first + (second << 8),
            }
        }
        (Operation::Add | Operation::AddCarry, ..) => words.fold(bytes, 0, u64::wrapping_add),
        (Operation::Xor, ..) => {
            // Eight bytes hold whole words of every size.
            let (eights, rest) = bytes.as_chunks::<8>();
            let eights = eights.iter().fold(0, |all, eight| all ^ u64::from_ne_bytes(*eight));
            let xor = |all, word| all ^ word;
            words.fold(rest, words.fold(&eights.to_ne_bytes(), 0, xor), xor)
        }
    };
    join(sum, total, part)
}

/// The sum of the bytes at even places and of those at odd ones. Eight bytes are taken at once, as four numbers of 16
/// bits in one of 64: 128 times that fits.
fn even_and_odd(bytes: &[u8]) -> (u64, u64) {
    const EVERY_OTHER: u64 = 0x00FF_00FF_00FF_00FF;
    let four = |lanes: u64| (0..4).map(|lane| lanes >> (16 * lane) & 0xFFFF).sum::<u64>();
    let (mut even, mut odd) = (0, 0);
    for block in bytes.chunks(8 * 128) {
        let eights = block.chunks_exact(8);
        for (at, byte) in eights.remainder().iter().enumerate() {
            *(if at % 2 == 0 { &mut even } else { &mut odd }) += u64::from(*byte);
        }
        let (mut evens, mut odds) = (0, 0);
        for eight in eights.filter_map(|eight| <[u8; 8]>::try_from(eight).ok()) {
            let eight = u64::from_le_bytes(eight);
            evens += eight & EVERY_OTHER;
            odds += eight >> 8 & EVERY_OTHER;
        }
        even += four(evens);
        odd += four(odds);
    }
    (even, odd)
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

/// Words of which running sums are taken before they are brought below their modulus: so few that the sums of sums fit,
/// words of 32 bits into 64 bits and bytes into 32 bits (RFC 1950 allows 5552 of these).
const WORDS: usize = 4096;

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
                let (whole, rest) = bytes.split_at(words.whole(bytes));
                *total = whole.chunks(PIECE).fold(*total, |t, piece| join_all(*sum, t, *words, piece));
                *total =
                    rest.iter().filter_map(|&byte| words.push(byte)).fold(*total, |t, w| join(*sum, t, w));
            }
            State::Fletcher { bits, words, low, high } => {
                let modulus = fletcher_modulus(*bits);
                let (whole, rest) = bytes.split_at(words.whole(bytes));
                for piece in whole.chunks(WORDS * words.bytes as usize) {
                    let sums = words.fold(piece, (*low, *high), |(low, high), word| {
                        let low = low + word;
                        (low, high + low)
                    });
                    (*low, *high) = (sums.0 % modulus, sums.1 % modulus);
                }
                for word in rest.iter().filter_map(|&byte| words.push(byte)) {
                    *low = (*low + word) % modulus;
                    *high = (*high + *low) % modulus;
                }
            }
            State::Adler { low, high } => {
                for piece in bytes.chunks(WORDS) {
                    for &byte in piece {
                        *low += u32::from(byte);
                        *high += *low;
                    }
                    (*low, *high) = (*low % ADLER_MODULUS, *high % ADLER_MODULUS);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::catalogue;

    #[test]
    fn bytes_at_even_and_at_odd_places_are_summed_as_one_by_one() {
        let bytes: Vec<u8> = (0..5000_u32).map(|i| (i * i % 251) as u8).chain([0xFF; 3000]).collect();
        for len in [0, 1, 7, 8, 9, 1023, 1024, 1025, 4097, bytes.len()] {
            let one_by_one =
                |first: usize| bytes[..len].iter().skip(first).step_by(2).map(|b| u64::from(*b)).sum();
            assert_eq!(even_and_odd(&bytes[..len]), (one_by_one(0), one_by_one(1)), "{len} bytes");
        }
    }

    #[test]
    fn whole_words_at_once_give_what_single_bytes_give() {
        let bytes: Vec<u8> = (0..3001_u32).map(|i| (i * 7 % 256) as u8).collect();
        // Bytes of ones and many of them: what is brought below a modulus late must not be lost before.
        let ones = vec![0xFF; 100_003];
        for (listed, bytes) in catalogue().iter().flat_map(|listed| [(listed, &bytes), (listed, &ones)]) {
            let (algorithm, name) = (&listed.algorithm, &listed.algorithm.name);
            if matches!(algorithm.method, Method::Crc(_)) {
                continue;
            }
            assert_eq!(algorithm.compute([&bytes[..]]), algorithm.compute(bytes.chunks(1)), "{name}");
            assert_eq!(algorithm.compute([&bytes[..]]), algorithm.compute(bytes.chunks(7)), "{name}");
        }
    }
}
