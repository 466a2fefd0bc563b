//! What a find is worth as evidence.

use std::collections::HashMap;

use super::Way;
use super::kernel::{Family, Kernel, mask};
use super::moves::Move;
use super::scene::{Reach, Scene};
use crate::span::{ByteOrder, Span};

/// A range of a single image says nothing when it changes less often than this from byte to byte.
const FEWEST_CHANGES: usize = 4;

/// Whether a check at that place could tell anything apart from chance: its range must change, and by more than a
/// copy of what it covers would show.
pub(super) fn says_something(scene: &Scene<'_>, family: Family, way: &Way) -> bool {
    if !scene.is_held(way.over) || !scene.is_held(way.stored_at) {
        return false;
    }
    let Some(image) = scene.images.first() else { return false };
    if scene.is_single() {
        let over = &image[way.over.range()];
        let steps = over.windows(2).filter(|pair| pair[0] != pair[1]).take(FEWEST_CHANGES).count();
        return steps >= FEWEST_CHANGES && !cancels(family, over);
    }
    // Over no more varying bytes than it has itself, a sum is a copy or its complement, and so is a CRC at distances
    // at which the powers of x come round. Where range and place are natural a CRC may protect that little.
    match family {
        Family::Crc { .. } if scene.reach(way.over, way.stored_at) <= Reach::Edge => {
            scene.varying_in(way.over) > 0
        }
        Family::Crc { .. } | Family::Pair { .. } | Family::Rotating => {
            changes(scene, family, way, 1) > way.stored_at.len()
        }
        Family::Sum { word, .. } | Family::Xor { word, .. } => {
            changes(scene, family, way, usize::from(word / 8)) > way.stored_at.len()
        }
    }
}

/// Whether a sum over the range is about hardly anything: most words have a twin there, inverted or for an exclusive
/// or equal, or but a few are neither blank nor such a twin, so that the sum is like a copy.
fn cancels(family: Family, over: &[u8]) -> bool {
    let (word, order, equal) = match family {
        Family::Xor { word, order, .. } => (word, order, true),
        Family::Sum { word, order, .. } => (word, order, false),
        Family::Crc { .. } | Family::Pair { .. } | Family::Rotating => return false,
    };
    let ones = mask(word.into());
    let mut words: HashMap<u64, [usize; 2]> = HashMap::new();
    let mut total = 0;
    for word in over.chunks(usize::from(word / 8)) {
        let value = order.number_u64(word);
        if value != 0 && value != ones {
            // A word and its inverse have one name.
            let inverse = ones & !value;
            words.entry(value.min(inverse)).or_default()[usize::from(value > inverse)] += 1;
            total += 1;
        }
    }
    let twins = |[a, b]: &[usize; 2]| if equal { (a + b) / 2 * 2 } else { 2 * a.min(b) };
    let twins: usize = words.values().map(twins).sum();
    2 * twins > total || total - twins < FEWEST_CHANGES
}

/// In how many different ways bytes of the range change from image to image, told apart by their place in a word of
/// `word` bytes. Bytes that change alike count once, so that filling a stretch with another value is one change;
/// for sums two bytes that change with or against each other are no change at all, because copies and inverted
/// copies cancel whatever they hold.
fn changes(scene: &Scene<'_>, family: Family, way: &Way, word: usize) -> usize {
    let (moves, cancels) = match family {
        Family::Crc { .. } | Family::Pair { .. } | Family::Rotating => (scene.toggled_in(way.over), false),
        Family::Xor { .. } => (scene.toggled_in(way.over), true),
        Family::Sum { .. } => (scene.added_in(way.over), true),
    };
    let key = |m: &Move| ((m.at - way.over.start) % word, m.name);
    let mut alike: Vec<((usize, u32), Move)> = moves.iter().map(|m| (key(m), *m)).collect();
    alike.sort_unstable_by_key(|(key, _)| *key);
    let left = alike.chunk_by(|(a, _), (b, _)| a == b).map(|alike| {
        let against = alike.iter().filter(|(_, m)| m.is_against).count();
        let along = alike.len() - against;
        match alike.first() {
            Some((_, m)) if cancels && m.is_own_inverse => along % 2,
            _ if cancels => usize::from(along != against),
            _ => usize::from(along > 0) + usize::from(against > 0),
        }
    });
    left.sum()
}

/// Bits of evidence that each image gives, for those that differ in the range or in the value.
///
/// At most those of the check. Of a sum no more than its words can move, for a sum of few small differences is
/// small; and no more than stored values like this one are rare, because small numbers and blank bytes are met
/// everywhere. What the later images show is judged by how they differ from those before.
pub(super) fn bits(scene: &Scene<'_>, kernel: &Kernel, way: &Way) -> Vec<f64> {
    let all = f64::from(kernel.bits);
    let images = scene.independent(way.over, way.stored_at);
    let spread = match kernel.family {
        Family::Crc { .. } | Family::Pair { .. } => None,
        Family::Sum { .. } | Family::Rotating => Some(Spread::Added),
        Family::Xor { .. } => Some(Spread::Joined),
    };
    let moved = moved(scene, kernel.family, way).unwrap_or(all);
    let common = Common { scene, kernel, order: way.order };
    let value = |image: &[u8]| way.order.number_u64(&image[way.stored_at.range()]);
    let mut bits = Vec::with_capacity(images.len());
    for (i, image) in images.iter().enumerate() {
        let blank = image[way.over.range()].windows(2).all(|pair| pair[0] == pair[1]);
        let own = match spread {
            // A remainder is like any other, but that of blank bytes may well be what blank bytes are.
            None if blank => all.min(common.bits_of_value(image, value(image), Spread::Exact)),
            None => all,
            Some(spread) => {
                let apart =
                    images[..i].iter().map(|before| common.bits_of_change(before, image, way, spread));
                apart
                    .fold(all.min(common.bits_of_value(image, value(image), Spread::Added)), f64::min)
                    .min(moved)
            }
        };
        bits.push(own);
    }
    bits
}

/// Which numbers are about as likely as each other.
#[derive(Clone, Copy, PartialEq)]
enum Spread {
    /// Only the same.
    Exact,
    /// Those of the same size, up or down.
    Added,
    /// Those with as many bits set.
    Joined,
}

impl Spread {
    /// The class of `number` among numbers of `bits` bits.
    fn class(self, number: u64, bits: u32) -> u32 {
        let most = mask(bits);
        match self {
            Spread::Exact => 0,
            Spread::Added => 64 - number.min(most - number).leading_zeros(),
            Spread::Joined => number.count_ones(),
        }
    }

    /// How many numbers are in a class, as a power of two.
    fn size(self, class: u32, bits: u32) -> f64 {
        match self {
            Spread::Exact => 0.0,
            // Those from half of 2^class up, and as many down.
            Spread::Added => f64::from(class.min(bits)).max(1.0),
            Spread::Joined => {
                (0..class).map(|i| (f64::from(bits - i) / f64::from(i + 1)).log2()).sum::<f64>()
            }
        }
    }
}

/// How common numbers are where values may be stored.
struct Common<'s> {
    scene: &'s Scene<'s>,
    kernel: &'s Kernel,
    order: ByteOrder,
}

impl Common<'_> {
    /// How rare it is that `image` holds a number like `value`, or bytes like its bytes.
    fn bits_of_value(&self, image: &[u8], value: u64, spread: Spread) -> f64 {
        let held = || self.scene.held.iter().filter_map(|held| held.of_bytes(image));
        let numbers = held().flat_map(|part| part.windows(self.bytes())).map(|b| self.order.number_u64(b));
        let mut of_byte = [0.0; 256];
        held().flatten().for_each(|&byte| of_byte[usize::from(byte)] += 1.0);
        let all: f64 = of_byte.iter().sum();
        let rarity = |byte: &u8| (all / f64::max(of_byte[usize::from(*byte)], 1.0)).log2().min(8.0);
        let by_bytes = value.to_le_bytes().iter().take(self.bytes()).map(rarity).sum();
        self.rarity(numbers, value, spread).min(by_bytes)
    }

    /// How rare it is that two images differ as they do where the value is stored, among places that vary.
    fn bits_of_change(&self, before: &[u8], after: &[u8], way: &Way, spread: Spread) -> f64 {
        let most = mask(8 * self.bytes() as u32);
        let change = |at: Span| {
            let (before, after) =
                (self.order.number_u64(&before[at.range()]), self.order.number_u64(&after[at.range()]));
            match spread {
                Spread::Joined => before ^ after,
                Spread::Exact | Spread::Added => after.wrapping_sub(before) & most,
            }
        };
        let places =
            (0..(self.scene.len + 1).saturating_sub(self.bytes())).map(|at| Span::of(at, self.bytes()));
        let varying = places.filter(|&at| self.scene.varying_in(at) > 0 && self.scene.is_held(at));
        self.rarity(varying.map(change), change(way.stored_at), spread)
    }

    fn rarity(&self, numbers: impl Iterator<Item = u64>, value: u64, spread: Spread) -> f64 {
        let bits = 8 * self.bytes() as u32;
        let class = spread.class(value, bits);
        let (mut all, mut same, mut alike) = (0.0, 0.0, 0.0);
        for number in numbers {
            all += 1.0;
            same += f64::from(u8::from(number == value));
            alike += f64::from(u8::from(spread.class(number, bits) == class));
        }
        // The value itself is one of them, and a few more of it are no sign.
        let same: f64 = same - 1.0 - 2.0 * f64::sqrt(same);
        let by_class = match spread {
            Spread::Exact => f64::INFINITY,
            _ => (all / alike).log2() + spread.size(class, bits),
        };
        if same > 0.0 { by_class.min((all / same).log2()) } else { by_class }
    }

    fn bytes(&self) -> usize {
        self.kernel.bits.div_ceil(8) as usize
    }
}

/// Bits that the words of the range can move a sum by, from the first image to any other.
fn moved(scene: &Scene<'_>, family: Family, way: &Way) -> Option<f64> {
    let (first, others) = scene.images.split_first()?;
    let (word, order, joined) = match family {
        Family::Crc { .. } | Family::Pair { .. } | Family::Rotating => return None,
        Family::Sum { word, order, .. } => (usize::from(word / 8), order, false),
        Family::Xor { word, order, .. } => (usize::from(word / 8), order, true),
    };
    if others.is_empty() {
        return None;
    }
    let words = |image: &[u8]| -> Vec<u64> {
        image[way.over.range()].chunks(word).map(|word| order.number_u64(word)).collect()
    };
    let before = words(first);
    let mut toggled = 0_u64;
    let mut largest = vec![0_u64; before.len()];
    for image in others {
        for ((&before, after), largest) in before.iter().zip(words(image)).zip(&mut largest) {
            toggled |= before ^ after;
            *largest = (*largest).max(before.abs_diff(after));
        }
    }
    let moved = largest.iter().sum::<u64>() as f64;
    Some(if joined { f64::from(toggled.count_ones()) } else { (2.0 * moved + 1.0).log2() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{StoredBytes, by_name};
    use crate::hunt::Question;
    use crate::image::Image;
    use proptest::prelude::*;

    /// As [`changes`] says it: byte after byte, each undone by an open one that moves the other way.
    fn counted(images: &[Vec<u8>], over: Span, toggles: bool, cancels: bool, word: usize) -> usize {
        let first = &images[0];
        let mut open: HashMap<(usize, Vec<u8>), usize> = HashMap::new();
        for at in over.range() {
            let change = |image: &Vec<u8>| match toggles {
                true => image[at] ^ first[at],
                false => image[at].wrapping_sub(first[at]),
            };
            let there: Vec<u8> = images[1..].iter().map(change).collect();
            if there.iter().all(|&c| c == 0) {
                continue;
            }
            let back = there.iter().map(|&c| if toggles { c } else { c.wrapping_neg() }).collect();
            let lane = (at - over.start) % word;
            match open.get_mut(&(lane, back)).filter(|n| cancels && **n > 0) {
                Some(n) => *n -= 1,
                None => *open.entry((lane, there)).or_default() += 1,
            }
        }
        open.values().filter(|&&n| n > 0).count()
    }

    proptest! {
        #[test]
        fn changes_are_those_that_a_count_byte_after_byte_leaves(
            // Few values, so that many moves are alike; 80 is its own inverse.
            images in (2..4_usize).prop_flat_map(|n| {
                let byte = prop::sample::select(vec![0_u8, 0, 0, 1, 0xFF, 0x80]);
                prop::collection::vec(prop::collection::vec(byte, 24), n)
            }),
            start in 0..12_usize,
            word in 1..3_usize,
        ) {
            let read: Vec<Image> = images.iter().cloned().map(Image::raw).collect();
            let question = Question { images: read.iter().collect(), bounds: Vec::new(), limit: 1.0 };
            let scene = Scene::new(&question);
            // Equal images count once.
            let mut different: Vec<Vec<u8>> = Vec::new();
            for image in &images {
                if !different.contains(image) {
                    different.push(image.clone());
                }
            }
            let over = Span::new(start, 24);
            let by = by_name("SUM-8").unwrap().clone();
            let way = Way {
                by, over, stored_at: Span::of(0, 1), order: ByteOrder::Big, stored_bytes: StoredBytes::Excluded,
            };
            let bits = 8 * word as u8;
            let order = ByteOrder::Big;
            for (family, toggles, cancels) in [
                (Family::Rotating, true, false),
                (Family::Xor { bits, word: bits, order }, true, true),
                (Family::Sum { bits, word: bits, order, carry: false, missing: false }, false, true),
            ] {
                let wanted = counted(&different, over, toggles, cancels, word);
                prop_assert_eq!(changes(&scene, family, &way, word), wanted);
            }
        }
    }
}
