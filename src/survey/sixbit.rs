//! Text of six bits a character.
//!
//! Every byte is some six-bit text, so nothing is told by what is printable. What tells is how texts go on: letters
//! after letters, digits after digits. Each symbol is weighed by how much likelier it is in a text than among
//! random symbols, and stretches of high sums are kept.

use super::Region;
use super::weigh::six_bit;
use crate::find::Encoding;
use crate::find::encoding::{View, other_alphabet};

/// What a symbol is to a text.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Class {
    Letter,
    Digit,
    Sign,
    Other,
}

const fn class(symbol: u8) -> Class {
    match symbol {
        b'A'..=b'Z' => Class::Letter,
        b'0'..=b'9' => Class::Digit,
        b' ' | b'-' | b'.' | b'/' => Class::Sign,
        _ => Class::Other,
    }
}

/// [`class`] of every symbol; asking this is most of the work.
const CLASS: [Class; 256] = {
    let mut table = [Class::Other; 256];
    let mut symbol = 0;
    while symbol < 256 {
        table[symbol] = class(symbol as u8);
        symbol += 1;
    }
    table
};

/// Bits of evidence for text that a symbol of the second class behind one of the first is: log2 of its share in texts
/// over 1/64. The shares are rough ones of part numbers and names: of what follows a letter three in four are letters,
/// and so on.
const fn of_classes(first: Class, second: Class) -> f64 {
    match (first, second) {
        (Class::Letter, Class::Letter) => 0.9,
        (Class::Digit, Class::Digit) => 2.2,
        (Class::Sign, Class::Sign) => -2.0,
        (_, Class::Sign) => 0.8,
        (Class::Sign, Class::Letter) => 0.3,
        (Class::Sign, Class::Digit) => 0.7,
        (_, Class::Letter) => -1.7,
        (_, Class::Digit) => -0.3,
        (_, Class::Other) => -4.0,
    }
}

/// [`of_classes`] of every two.
const BITS: [[f64; 4]; 4] = {
    const ALL: [Class; 4] = [Class::Letter, Class::Digit, Class::Sign, Class::Other];
    let mut table = [[0.0; 4]; 4];
    let mut pair = 0;
    while pair < 16 {
        table[ALL[pair / 4] as usize][ALL[pair % 4] as usize] = of_classes(ALL[pair / 4], ALL[pair % 4]);
        pair += 1;
    }
    table
};

/// Bits of evidence that symbol `b` behind `a` is; a letter twice is rare.
fn bits(a: u8, b: u8) -> f64 {
    let classes = (CLASS[usize::from(a)], CLASS[usize::from(b)]);
    if a == b && classes.0 == Class::Letter { -0.5 } else { BITS[classes.0 as usize][classes.1 as usize] }
}

/// Bits by which the sum may fall behind its highest before a text is over.
const MOST_FALL: f64 = 8.0;
/// The least bits that are worth weighing.
const LEAST_BITS: f64 = 20.0;

/// Texts of a six-bit view.
pub(super) fn texts(bytes: &[u8], view: View) -> Vec<Region> {
    let symbols = view.symbols(bytes);
    view.encodings()
        .into_iter()
        .flat_map(|encoding| {
            let read: Vec<u8> = match encoding {
                Encoding::SixBit { from_space: false, .. } => {
                    symbols.iter().map(|&s| other_alphabet(s).unwrap_or(s)).collect()
                }
                _ => symbols.clone(),
            };
            stretches(&read)
                .into_iter()
                .filter_map(|(start, end, bits)| six_bit(view, encoding, &read, (start, end), bits))
                .collect::<Vec<_>>()
        })
        .collect()
}

/// Stretches of symbols whose evidence sums up to enough, as start, end and bits.
fn stretches(symbols: &[u8]) -> Vec<(usize, usize, f64)> {
    let mut found = Vec::new();
    let (mut from, mut sum, mut best) = (0, 0.0f64, (0usize, 0.0f64));
    for (i, pair) in symbols.windows(2).enumerate() {
        sum += bits(pair[0], pair[1]);
        if sum > best.1 {
            best = (i + 2, sum);
        }
        if sum <= 0.0 || best.1 - sum > MOST_FALL {
            if best.1 >= LEAST_BITS {
                found.push((from, best.0, best.1));
            }
            (from, sum, best) = (i + 1, 0.0, (0, 0.0));
        }
    }
    if best.1 >= LEAST_BITS {
        found.push((from, best.0, best.1));
    }
    // What repeats every three bytes is rows of numbers.
    found.retain(|&(start, end, _)| {
        let text = &symbols[start..end];
        let repeats = text.windows(5).filter(|w| w[0] == w[4]).count();
        repeats * 3 < text.len()
    });
    found
}
