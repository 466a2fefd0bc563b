//! How much a run of bytes looks like the contents of a small memory: text, small numbers, fill.
//!
//! Memories hold text that begins and ends, small numbers more often than large ones, runs of fill. A table of
//! how often one class of byte follows another, estimated from about fifty published images of small memories
//! (monitor and memory-module data, transceivers, inventory records, board identities), turns that into bits:
//! the cost of the image under the table. When undoing a transform saves many bits, the transform happened.
//! Random, packed or encrypted bytes cost the same either way: no stretch is charged more than plain eight bits
//! a byte, so that noise weighs nothing.

/// Bytes of a stretch that is charged together.
const STRETCH: usize = 16;

/// Words that are put right gain at least one bit in so many places; part numbers read well either way.
const LEAST_GAIN_PLACES: i64 = 7;

/// Bytes of a run from which on it costs nothing.
const LONG_RUN: usize = 8;

/// Classes of bytes that the tables tell apart.
const CLASSES: usize = 13;

/// Cost, in tenths of a bit, of a byte by its class (column) after a byte of a class (row).
type Costs = [[u16; CLASSES]; CLASSES];

/// The class of each byte: 00, FF, 01 to 0F, 10 to 1F, space, punctuation, digit, upper-case consonant,
/// lower-case consonant, 7F to BF, C0 to FE, upper-case vowel, lower-case vowel.
const CLASS: [u8; 256] = classes();

const fn classes() -> [u8; 256] {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        table[byte] = class(byte as u8);
        byte += 1;
    }
    table
}

const fn class(byte: u8) -> u8 {
    match byte {
        0x00 => 0,
        0xFF => 1,
        0x01..=0x0F => 2,
        0x10..=0x1F => 3,
        b' ' => 4,
        b'0'..=b'9' => 6,
        b'A' | b'E' | b'I' | b'O' | b'U' => 11,
        b'a' | b'e' | b'i' | b'o' | b'u' => 12,
        b'A'..=b'Z' => 7,
        b'a'..=b'z' => 8,
        0x21..=0x7E => 5,
        0x7F..=0xBF => 9,
        0xC0..=0xFE => 10,
    }
}

/// Any byte of an image.
const ANYWHERE: Costs = [
    [103, 46, 57, 71, 75, 89, 73, 81, 86, 90, 89, 81, 86],
    [9, 67, 81, 76, 67, 100, 63, 114, 90, 103, 106, 114, 90],
    [24, 60, 55, 79, 42, 94, 81, 87, 90, 97, 101, 87, 90],
    [19, 89, 63, 73, 76, 83, 78, 78, 88, 99, 102, 78, 88],
    [34, 96, 81, 94, 6, 127, 74, 90, 104, 118, 120, 90, 104],
    [27, 94, 71, 75, 63, 78, 61, 77, 81, 97, 109, 77, 81],
    [44, 68, 87, 102, 44, 91, 41, 76, 110, 117, 111, 76, 110],
    [44, 85, 82, 93, 50, 85, 60, 59, 87, 103, 104, 59, 87],
    [34, 93, 81, 94, 55, 86, 85, 90, 56, 104, 104, 90, 56],
    [29, 62, 69, 76, 70, 78, 78, 82, 93, 85, 90, 82, 93],
    [22, 63, 61, 91, 70, 96, 78, 74, 92, 90, 91, 74, 92],
    [44, 85, 82, 93, 50, 85, 60, 59, 87, 103, 104, 59, 87],
    [34, 93, 81, 94, 55, 86, 85, 90, 56, 104, 104, 90, 56],
];

/// Bytes in and beside runs of text.
const IN_TEXT: Costs = [
    [14, 82, 72, 90, 82, 99, 68, 71, 85, 113, 112, 61, 89],
    [20, 13, 98, 99, 59, 109, 57, 103, 103, 119, 118, 82, 82],
    [36, 77, 61, 86, 27, 91, 69, 69, 88, 110, 101, 77, 77],
    [57, 60, 66, 73, 60, 73, 77, 81, 88, 97, 91, 55, 83],
    [41, 86, 82, 126, 6, 136, 67, 80, 107, 147, 118, 81, 110],
    [54, 86, 78, 87, 70, 73, 52, 70, 73, 129, 131, 71, 70],
    [52, 68, 98, 128, 46, 91, 39, 77, 113, 148, 113, 71, 119],
    [62, 98, 87, 114, 48, 86, 57, 58, 103, 139, 111, 51, 64],
    [46, 90, 101, 130, 49, 81, 82, 105, 59, 118, 110, 76, 39],
    [59, 59, 98, 99, 59, 66, 92, 80, 87, 85, 88, 56, 82],
    [27, 75, 74, 115, 75, 96, 67, 61, 119, 135, 90, 50, 98],
    [83, 83, 85, 117, 44, 92, 58, 55, 86, 131, 111, 56, 94],
    [50, 80, 119, 105, 65, 95, 96, 86, 48, 141, 117, 92, 68],
];

/// What plain eight bits cost, in tenths.
const PLAIN: u32 = 80;

fn cost_of(costs: &Costs, before: u8, byte: u8) -> u32 {
    let (row, column) = (usize::from(CLASS[usize::from(before)]), usize::from(CLASS[usize::from(byte)]));
    u32::from(costs[row][column])
}

/// What `bytes` cost under the table, in bits: the less, the more they look like a memory. Runs of fill are free,
/// and so are long runs of anything else: they say no more than that the byte repeats.
pub(super) fn cost(bytes: &[u8]) -> u32 {
    total(bytes, &ANYWHERE, |i| {
        let byte = bytes[i];
        bytes[i - 1] != byte
            || !(matches!(byte, 0x00 | 0xFF)
                || bytes[i.saturating_sub(LONG_RUN)..i].iter().all(|b| *b == byte))
    })
}

/// How many bits cheaper the text of `restored` is than that of `seen`, both as long as each other; 0 when that is
/// too little for so much text. Only places in or beside text, in either of the two, count, so that a change that
/// moves bytes by one place is judged by the words it makes and by nothing else.
pub(super) fn text_gain(seen: &[u8], restored: &[u8]) -> i64 {
    let mut near = vec![false; seen.len().min(restored.len())];
    mark_text(seen, &mut near);
    mark_text(restored, &mut near);
    let counts = |i: usize| near.get(i).copied().unwrap_or(false) && near[i - 1];
    let gain = i64::from(total(seen, &IN_TEXT, counts)) - i64::from(total(restored, &IN_TEXT, counts));
    let places = near.iter().filter(|n| **n).count() as i64;
    if gain > 0 && gain * LEAST_GAIN_PLACES < places { 0 } else { gain }
}

fn total(bytes: &[u8], costs: &Costs, counts: impl Fn(usize) -> bool) -> u32 {
    let mut tenths = 0;
    for start in (0..bytes.len()).step_by(STRETCH) {
        let (mut stretch, mut counted) = (0, 0);
        for i in start.max(1)..bytes.len().min(start + STRETCH) {
            if counts(i) {
                stretch += cost_of(costs, bytes[i - 1], bytes[i]);
                counted += PLAIN;
            }
        }
        tenths += stretch.min(counted);
    }
    tenths / 10
}

/// Marks runs of five and more printable characters that are not all the same, and two bytes on either side.
fn mark_text(bytes: &[u8], near: &mut [bool]) {
    let printable = |b: &u8| matches!(b, b' '..=b'~');
    let mut at = 0;
    while at < bytes.len() {
        let run = bytes[at..].iter().take_while(|b| printable(b)).count();
        let text = &bytes[at..at + run];
        let kinds = text.iter().fold(0_u128, |set, b| set | 1 << (b & 0x7F)).count_ones();
        if run >= 5 && kinds >= 3 {
            let end = (at + run + 2).min(near.len());
            for place in near.get_mut(at.saturating_sub(2)..end).unwrap_or_default() {
                *place = true;
            }
        }
        at += run.max(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::noise::noise;
    use crate::vet::transform::Transform;

    const RECORD: &[u8] =
        b"\x01\x08Frostkeel Works\0\0\x0cFK-CR8-2047B    \x03\xe8\0\x14Cold store\0\0\0\0\0\0";

    #[test]
    fn text_and_small_numbers_cost_less_than_the_same_bytes_turned_about() {
        for transform in Transform::all().filter(|t| *t != Transform::SwappedBytes) {
            let turned = cost(&transform.apply(RECORD));
            assert!(turned > cost(RECORD) + 20, "{transform:?}: {turned} against {}", cost(RECORD));
        }
    }

    #[test]
    fn swapped_words_are_seen_in_the_text() {
        let swapped = Transform::SwappedBytes.apply(RECORD);
        assert!(text_gain(&swapped, RECORD) > 20);
        assert!(text_gain(RECORD, &swapped) < -20);
    }

    #[test]
    fn noise_weighs_nothing() {
        let noise = noise(8192, 1);
        for transform in Transform::all() {
            let difference = i64::from(cost(&noise)) - i64::from(cost(&transform.apply(&noise)));
            assert!(difference.abs() < 60, "{transform:?}: {difference}");
        }
    }
}
