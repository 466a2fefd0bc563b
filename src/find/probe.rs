//! One pass over the bytes for every way of storing a text at once.
//!
//! A piece of the wanted symbols, stored in one way from one bit on, allows certain values for each of the next bytes.
//! That is a probe. Probes share the bits of a word; for each of [`WIDTH`] bytes a table says which bits a value
//! leaves, and where the four words of four bytes have a bit in common, a piece may begin: nearly nowhere. Whether it
//! does is asked of the bytes as symbols.

use super::encoding::{View, digit};
use super::gather::is_separator;

/// Bytes that are looked at together.
const WIDTH: usize = 4;
/// Bits of a word.
const BITS: usize = 64;
/// Ways of reading that differ only in where they begin: [`View::SixBits`] has the most.
const MOST_PHASES: usize = 6;
/// Bytes that are passed over at once when they are all alike.
const BLOCK: usize = 4096;

/// Values that a byte or a symbol may have.
type Values = [bool; 256];

/// A piece of wanted symbols, stored in one way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Probe {
    /// The way, from its first phase.
    view: View,
    /// The bit of the first byte at which the first symbol begins; for swapped words, of the first byte of the word.
    bit: usize,
    /// The piece.
    pub(super) piece: Vec<u8>,
    /// Where it stands among the wanted symbols.
    pub(super) from: usize,
    /// Separators may stand between its symbols.
    with_separators: bool,
    /// What is looked for in each phase, by its number.
    looks: [Option<usize>; MOST_PHASES],
}

/// Every probe of a search.
#[derive(Debug)]
pub(super) struct Probes {
    probes: Vec<Probe>,
    /// Which bits each value of each byte leaves.
    tables: Box<[[u64; 256]; WIDTH]>,
    /// Bits that a byte behind the end leaves.
    beyond: [u64; WIDTH],
}

impl Probe {
    /// What is looked for, and the symbol at which the piece begins there, when it begins in byte `at`.
    pub(super) fn at(&self, at: usize) -> Option<(usize, usize)> {
        let (phase, symbol) = match self.view {
            View::Bytes(_) => (0, at),
            View::Swapped if at % 2 == 1 => return None,
            View::Swapped => (0, at + self.bit / 8),
            View::Alternate(_) => (at % 2, at / 2),
            View::Nibbles { .. } => (0, 2 * at + self.bit / 4),
            View::SixBits { .. } => ((8 * at + self.bit) % 6, (8 * at + self.bit) / 6),
        };
        Some((self.looks[phase]?, symbol))
    }

    /// The values that symbol `k` from the first of the piece on may have.
    fn symbols(&self, k: usize) -> Values {
        let own = if self.with_separators { &self.piece[k.min(1)..=k] } else { &self.piece[k..=k] };
        std::array::from_fn(|value| {
            let symbol = value as u8;
            own.contains(&symbol) || (self.with_separators && k > 0 && is_separator(symbol))
        })
    }

    /// The values that each of the first bytes may have.
    fn bytes(&self) -> [Values; WIDTH] {
        let mut allowed = [[true; 256]; WIDTH];
        let mut only = |byte: usize, may: &dyn Fn(u8) -> bool| {
            let values = allowed.get_mut(byte).into_iter().flatten();
            values.enumerate().for_each(|(value, allowed)| *allowed &= may(value as u8));
        };
        for k in 0..self.piece.len() {
            let symbols = self.symbols(k);
            let is = |symbol: u8| symbols[usize::from(symbol)];
            match self.view {
                View::Bytes(change) => only(k, &|b| is(change.of(b).to_ascii_uppercase())),
                View::Swapped => only((self.bit / 8 + k) ^ 1, &|b| is(b.to_ascii_uppercase())),
                View::Alternate(_) => only(2 * k, &|b| is(b.to_ascii_uppercase())),
                View::Nibbles { high_first } => {
                    let half = self.bit / 4 + k;
                    let is_high = half.is_multiple_of(2) == high_first;
                    only(half / 2, &|b| is(digit(if is_high { b >> 4 } else { b })));
                }
                View::SixBits { high_first, .. } => {
                    let first = self.bit + 6 * k;
                    for byte in first / 8..=(first + 5) / 8 {
                        let codes = (0..64).filter(|&code| is(code + b' '));
                        let parts: Vec<(u8, u8)> =
                            codes.map(|code| part_of_code(code, first, byte, high_first)).collect();
                        only(byte, &|b| parts.iter().any(|(mask, value)| b & mask == *value));
                    }
                }
            }
        }
        allowed
    }
}

/// Which bits of a byte a six-bit code takes that begins at bit `first` in the order of reading, and what they are then.
fn part_of_code(code: u8, first: usize, byte: usize, high_first: bool) -> (u8, u8) {
    let (mut mask, mut value) = (0, 0);
    for i in (0..6).filter(|i| (first + i) / 8 == byte) {
        let nth = (first + i) % 8;
        let (in_byte, in_code) = if high_first { (7 - nth, 5 - i) } else { (nth, i) };
        mask |= 1 << in_byte;
        value |= (code >> in_code & 1) << in_byte;
    }
    (mask, value)
}

impl Probes {
    pub(super) fn new() -> Self {
        Probes { probes: Vec::new(), tables: Box::new([[0; 256]; WIDTH]), beyond: [0; WIDTH] }
    }

    /// Looks for `piece`, which stands at `from` among the wanted symbols, as `view` reads it, for the sake of `look`.
    pub(super) fn add(&mut self, view: View, piece: &[u8], from: usize, with_separators: bool, look: usize) {
        let (view, phase, bits): (View, usize, &[usize]) = match view {
            View::Bytes(_) => (view, 0, &[0]),
            View::Swapped => (view, 0, &[0, 8]),
            View::Alternate(phase) => (View::Alternate(0), phase, &[0]),
            View::Nibbles { .. } => (view, 0, &[0, 4]),
            View::SixBits { high_first, phase } => {
                let bits = if phase % 2 == 0 { &[0, 2, 4, 6] } else { &[1, 3, 5, 7] };
                (View::SixBits { high_first, phase: 0 }, phase, bits)
            }
        };
        for &bit in bits {
            let mut probe =
                Probe { view, bit, piece: piece.to_vec(), from, with_separators, looks: [None; MOST_PHASES] };
            let same = |p: &&mut Probe| {
                p.looks[phase].is_none() && Probe { looks: [None; MOST_PHASES], ..(**p).clone() } == probe
            };
            match self.probes.iter_mut().find(same) {
                Some(there) => there.looks[phase] = Some(look),
                None => {
                    probe.looks[phase] = Some(look);
                    self.enter(&probe);
                    self.probes.push(probe);
                }
            }
        }
    }

    fn enter(&mut self, probe: &Probe) {
        let bit = 1 << (self.probes.len() % BITS);
        for ((table, beyond), values) in self.tables.iter_mut().zip(&mut self.beyond).zip(probe.bytes()) {
            for (entry, _) in table.iter_mut().zip(values).filter(|(_, allowed)| *allowed) {
                *entry |= bit;
            }
            if values == [true; 256] {
                *beyond |= bit;
            }
        }
    }

    /// Calls `each` for every byte of `from..to` and every probe whose piece may begin in it. Where `reach` bytes on both
    /// sides are alike as well and `is_dull` says that bytes of that value alone hold nothing, bytes are passed over.
    pub(super) fn scan(
        &self,
        bytes: &[u8],
        (from, to): (usize, usize),
        (reach, is_dull): (usize, &dyn Fn(u8) -> bool),
        each: &mut dyn FnMut(usize, &Probe),
    ) {
        let mut begin = from;
        while begin < to {
            let end = to.min(begin + BLOCK);
            let around = bytes.get(begin.saturating_sub(reach)..bytes.len().min(end + reach));
            let is_fill = around.filter(|around| is_alike(around)).and_then(|around| around.first());
            if !is_fill.is_some_and(|&value| is_dull(value)) {
                self.block(bytes, begin, end, each);
            }
            begin = end;
        }
    }

    fn block(&self, bytes: &[u8], begin: usize, end: usize, each: &mut dyn FnMut(usize, &Probe)) {
        let [first, second, third, fourth] = &*self.tables;
        let mut tell = |at: usize, mut bits: u64| {
            while bits != 0 {
                let bit = bits.trailing_zeros() as usize;
                self.probes.iter().skip(bit).step_by(BITS).for_each(|probe| each(at, probe));
                bits &= bits - 1;
            }
        };
        let whole = bytes.get(begin..bytes.len().min(end + WIDTH - 1)).unwrap_or_default();
        for (at, four) in whole.windows(WIDTH).enumerate() {
            let &[a, b, c, d] = four else { continue };
            let bits = first[usize::from(a)]
                & second[usize::from(b)]
                & third[usize::from(c)]
                & fourth[usize::from(d)];
            if bits != 0 {
                tell(begin + at, bits);
            }
        }
        // The last bytes have nothing behind them.
        for at in bytes.len().saturating_sub(WIDTH - 1).max(begin)..end.min(bytes.len()) {
            let entry = |k: usize| match bytes.get(at + k) {
                Some(&byte) => self.tables[k][usize::from(byte)],
                None => self.beyond[k],
            };
            tell(at, (0..WIDTH).map(entry).fold(u64::MAX, |all, one| all & one));
        }
    }
}

/// Whether all of `bytes` have one value.
fn is_alike(bytes: &[u8]) -> bool {
    let half = bytes.len() / 2;
    bytes.get(half) == bytes.first() && bytes.get(1..) == bytes.get(..bytes.len().saturating_sub(1))
}
