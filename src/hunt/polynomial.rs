//! A polynomial that nobody listed, solved for.
//!
//! Range and value of a CRC together, as a polynomial over the two-element field, leave the same remainder in every
//! image. The difference of two images is therefore a multiple of the CRC's polynomial, whatever its initial value
//! and its final exclusive or; and the greatest common divisor of several differences is soon that polynomial and
//! nothing else. Tried over the natural stretches of the image, the value first or last in them.

use std::sync::atomic::AtomicBool;

use super::kernel::mask;
use super::scene::{Reach, Scene};
use super::search::is_off;
use super::{Hit, Way};
use crate::check::{Algorithm, CrcParameters, Method, StoredBytes, catalogue};
use crate::span::{ByteOrder, Span};

/// Bytes of the values that are tried.
pub(super) const SIZES: [usize; 4] = [4, 3, 2, 1];
/// Both orders of the bits, both of the stored bytes.
const WAYS: usize = 4;
/// Stretches longer than this are left alone: the work grows with the square.
const LONGEST: usize = 2048;

/// Chance must be rarer than this: what is alike in differences, such as copies and counters, gives them factors in
/// common that no chance of unrelated bits accounts for.
const SURE: f64 = 1e-6;

/// CRCs over natural stretches, with values of `size` bytes, by polynomials that the catalogue does not list.
pub(super) fn solve(scene: &Scene<'_>, size: usize, cancel: &AtomicBool) -> Vec<Hit> {
    let mut hits = Vec::new();
    let width = 8 * size as u32;
    // Of the images one is spent on the constants and one on the polynomial.
    let evidence = |images: usize| f64::from(width) * images.saturating_sub(2) as f64;
    let expected = |reach: Reach, images: usize| scene.expected(reach, width, evidence(images), WAYS);
    let sure = SURE.min(scene.limit);
    let tells = |&reach: &Reach| expected(reach, scene.images.len()) <= sure;
    let Some(least) = [Reach::Block, Reach::Section, Reach::Whole].into_iter().find(tells) else {
        return hits;
    };
    let places = if least == Reach::Block { &scene.aligned } else { &scene.strong };
    for (i, &from) in places.iter().enumerate() {
        for &to in places.iter().skip(i + 1).take_while(|&&to| to - from <= LONGEST) {
            if is_off(cancel) {
                return hits;
            }
            if to - from <= 2 * size || !scene.is_held(Span::new(from, to)) {
                continue;
            }
            let last = (Span::new(from, to - size), Span::new(to - size, to));
            let first = (Span::new(from + size, to), Span::new(from, from + size));
            for (over, stored_at) in [last, first] {
                let images = scene.independent(over, stored_at).len();
                let reach = scene.reach(over, stored_at);
                let expected = expected(reach, images);
                if reach > least || expected > sure || scene.varying_in(stored_at) < size {
                    continue;
                }
                let hit = |way| Hit { way, images, expected, reach, listed: false, also: Vec::new() };
                hits.extend(ways_of(scene, over, stored_at).into_iter().map(hit));
            }
        }
    }
    hits
}

/// The CRCs that hold over one range, for both orders of the bits and of the stored bytes.
fn ways_of(scene: &Scene<'_>, over: Span, stored_at: Span) -> Vec<Way> {
    let mut ways = Vec::new();
    for reflected in [false, true] {
        for order in [ByteOrder::Big, ByteOrder::Little] {
            if stored_at.len() == 1 && order == ByteOrder::Little {
                continue;
            }
            let Some(poly) = common_divisor(scene, over, stored_at, reflected, order) else { continue };
            if let Some(by) = constants(scene, over, stored_at, reflected, order, poly) {
                ways.push(Way { by, over, stored_at, order, stored_bytes: StoredBytes::Excluded });
            }
        }
    }
    ways
}

/// The polynomial of the width of the value that divides all differences, if there is exactly one, and it is not one
/// of the catalogue's, which the search by look-ups finds with more evidence.
fn common_divisor(
    scene: &Scene<'_>,
    over: Span,
    stored_at: Span,
    reflected: bool,
    order: ByteOrder,
) -> Option<u64> {
    let (first, others) = scene.images.split_first()?;
    let width = 8 * stored_at.len();
    let mut divisor = Vec::new();
    for image in others {
        let change = |at: usize| {
            let change = first[at] ^ image[at];
            if reflected { change.reverse_bits() } else { change }
        };
        let mut bytes: Vec<u8> = over.range().map(change).collect();
        // As the value would be sent: the end of it that belongs to the highest power first.
        let mut stored: Vec<u8> = stored_at.range().map(change).collect();
        if (order == ByteOrder::Little) != reflected {
            stored.reverse();
        }
        bytes.extend(stored);
        divisor = greatest_common_divisor(divisor, polynomial(&bytes));
        if degree(&divisor).is_some_and(|degree| degree < width) {
            return None;
        }
    }
    let poly = factor(&divisor, width as u32)?;
    let listed = |parameters: CrcParameters| {
        usize::from(parameters.width) == width
            && parameters.refin == reflected
            && parameters.poly == u128::from(poly)
    };
    let known = catalogue()
        .iter()
        .any(|listing| matches!(listing.algorithm.method, Method::Crc(parameters) if listed(parameters)));
    (!known).then_some(poly)
}

/// Degrees by which a common divisor may be too high before more images are needed.
const SPARE: u32 = 6;

/// The one factor of `divisor` with that degree and a constant term, without its leading term; `None` when there are
/// several, because then the images do not tell. Few differences share small factors by chance, x and x + 1 most.
fn factor(divisor: &[u64], width: u32) -> Option<u64> {
    let leading = degree(divisor)? as u32;
    if leading > width + 64 {
        return None;
    }
    let whole = divisor.iter().take(2).rev().fold(0_u128, |whole, &word| whole << 64 | u128::from(word));
    let whole = whole >> whole.trailing_zeros();
    let spare = (127 - whole.leading_zeros()).checked_sub(width).filter(|&spare| spare <= SPARE)?;
    let mut found = (1_u128 << spare..2 << spare).filter(|small| small & 1 == 1).filter_map(|small| {
        let quotient = divided(whole, small)?;
        Some(quotient as u64 & mask(width))
    });
    found.next().filter(|_| found.next().is_none())
}

/// `a` divided by `b`, when nothing is left.
fn divided(mut a: u128, b: u128) -> Option<u128> {
    let low = 127 - b.leading_zeros();
    let mut quotient = 0;
    while a != 0 {
        let shift = (127 - a.leading_zeros()).checked_sub(low)?;
        quotient |= 1 << shift;
        a ^= b << shift;
    }
    Some(quotient)
}

/// The CRC with `poly` and the usual initial value and final exclusive or that hold in all images; when none do, the
/// final exclusive or that holds from the initial value 0, which one length does not tell from another.
fn constants(
    scene: &Scene<'_>,
    over: Span,
    stored_at: Span,
    reflected: bool,
    order: ByteOrder,
    poly: u64,
) -> Option<Algorithm> {
    let width = 8 * stored_at.len() as u32;
    let ones = u128::from(mask(width));
    let stored = |image: &[u8]| u128::from(order.number_u64(&image[stored_at.range()]));
    let crc = |init: u128, xorout: u128| {
        Algorithm::crc(CrcParameters {
            width: width as u8,
            poly: poly.into(),
            init,
            refin: reflected,
            refout: reflected,
            xorout,
        })
    };
    let first = scene.images.first()?;
    let xorout = |init: u128| crc(init, 0).compute([&first[over.range()]]) ^ stored(first);
    let usual = [0, ones]
        .into_iter()
        .map(|init| crc(init, xorout(init)))
        .find(|by| matches!(by.method, Method::Crc(crc) if crc.xorout == 0 || crc.xorout == ones));
    let by = usual.unwrap_or_else(|| crc(0, xorout(0)));
    let holds = |image: &&[u8]| by.compute([&image[over.range()]]) == stored(image);
    scene.images.iter().all(holds).then_some(by)
}

/// The polynomial whose coefficients are the bits of `bytes`, the highest first; 64 coefficients a word, the lowest
/// first.
fn polynomial(bytes: &[u8]) -> Vec<u64> {
    let word = |chunk: &[u8]| chunk.iter().rev().fold(0, |word, &byte| word << 8 | u64::from(byte));
    let lowest_first: Vec<u8> = bytes.iter().rev().copied().collect();
    lowest_first.chunks(8).map(word).collect()
}

fn degree(polynomial: &[u64]) -> Option<usize> {
    let top = polynomial.iter().rposition(|&word| word != 0)?;
    Some(64 * top + 63 - polynomial[top].leading_zeros() as usize)
}

fn greatest_common_divisor(mut a: Vec<u64>, mut b: Vec<u64>) -> Vec<u64> {
    while let Some(low) = degree(&b) {
        while let Some(high) = degree(&a).filter(|&high| high >= low) {
            subtract_shifted(&mut a, &b, high - low);
        }
        std::mem::swap(&mut a, &mut b);
    }
    a
}

fn subtract_shifted(from: &mut [u64], what: &[u64], shift: usize) {
    let (words, bits) = (shift / 64, shift % 64);
    for (i, &word) in what.iter().enumerate() {
        if let Some(low) = from.get_mut(i + words) {
            *low ^= word << bits;
        }
        if bits > 0
            && let Some(high) = from.get_mut(i + words + 1)
        {
            *high ^= word >> (64 - bits);
        }
    }
}
