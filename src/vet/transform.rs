//! Ways in which a whole read comes out changed although every cell was read: the order of bytes and bits, the
//! sense of the bits, and the phase of the clock.

use crate::wording::count;

/// What happened to the stream of bits on its way from the chip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Transform {
    /// The two bytes of every 16-bit word changed places.
    SwappedBytes,
    /// The eight bits of every byte stand in the other order.
    ReversedBits,
    /// Every bit is the other one.
    InvertedBits,
    /// So many stray bits (1 to 7) came before the first one; the last ones of the chip are missing.
    Late(u8),
    /// So many bits (1 to 7) at the beginning are missing; stray ones follow the last one.
    Early(u8),
}

impl Transform {
    /// Every one of them.
    pub fn all() -> impl Iterator<Item = Transform> {
        [Transform::SwappedBytes, Transform::ReversedBits, Transform::InvertedBits]
            .into_iter()
            .chain((1..=7).map(Transform::Late))
            .chain((1..=7).map(Transform::Early))
    }

    /// The bytes as they come out when this happens; stray bits are ones, as on an idle line.
    #[must_use]
    pub fn apply(self, bytes: &[u8]) -> Vec<u8> {
        match self {
            Transform::SwappedBytes => {
                let mut out = bytes.to_vec();
                for word in out.chunks_exact_mut(2) {
                    word.swap(0, 1);
                }
                out
            }
            Transform::ReversedBits => bytes.iter().map(|b| b.reverse_bits()).collect(),
            Transform::InvertedBits => bytes.iter().map(|b| !b).collect(),
            Transform::Late(bits) => shift(0xFF, bytes, 8 - u32::from(bits.clamp(1, 7))).0,
            Transform::Early(bits) => {
                let bits = u32::from(bits.clamp(1, 7));
                let Some((&first, rest)) = bytes.split_first() else { return Vec::new() };
                let (mut out, last) = shift(first, rest, bits);
                out.push(joined(last, 0xFF, bits));
                out
            }
        }
    }

    /// The bytes as they were before this happened, but for the bits that got lost.
    #[must_use]
    pub fn undo(self, bytes: &[u8]) -> Vec<u8> {
        match self {
            Transform::Late(bits) => Transform::Early(bits).apply(bytes),
            Transform::Early(bits) => Transform::Late(bits).apply(bytes),
            own_inverse => own_inverse.apply(bytes),
        }
    }

    /// What the bytes look like, to go after "the image looks right once".
    #[must_use]
    pub fn remedy(self) -> String {
        let bits = |n: u8| count(n.into(), "bit");
        match self {
            Transform::SwappedBytes => "the two bytes of each 16-bit word change places".to_owned(),
            Transform::ReversedBits => "the bits of each byte are put in the other order".to_owned(),
            Transform::InvertedBits => "every bit is inverted".to_owned(),
            Transform::Late(n) => format!("the stream is moved {} towards the beginning", bits(n)),
            Transform::Early(n) => format!("the stream is moved {} towards the end", bits(n)),
        }
    }
}

/// Every byte of `bytes` with the one before it (`before` for the first): the 8 bits that begin `bits` bits into
/// the earlier of the two. Also the last byte read.
fn shift(before: u8, bytes: &[u8], bits: u32) -> (Vec<u8>, u8) {
    let mut last = before;
    let out = bytes
        .iter()
        .map(|&b| {
            let byte = joined(last, b, bits);
            last = b;
            byte
        })
        .collect();
    (out, last)
}

fn joined(first: u8, second: u8, bits: u32) -> u8 {
    let word = u16::from_be_bytes([first, second]);
    word.rotate_left(bits).to_be_bytes()[0]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn each_transform_does_what_its_name_says() {
        let bytes = [0x46, 0x4B, 0x43];
        assert_eq!(Transform::SwappedBytes.apply(&bytes), [0x4B, 0x46, 0x43]);
        assert_eq!(Transform::ReversedBits.apply(&bytes), [0x62, 0xD2, 0xC2]);
        assert_eq!(Transform::InvertedBits.apply(&bytes), [0xB9, 0xB4, 0xBC]);
        // 0100_0110 0100_1011 0100_0011, one stray 1 before it, the last bit gone.
        assert_eq!(Transform::Late(1).apply(&bytes), [0xA3, 0x25, 0xA1]);
        // The first bit gone, a stray 1 after it.
        assert_eq!(Transform::Early(1).apply(&bytes), [0x8C, 0x96, 0x87]);
    }

    proptest! {
        #[test]
        fn undoing_gives_back_all_but_the_lost_bits(bytes in prop::collection::vec(any::<u8>(), 2..60)) {
            for transform in Transform::all() {
                let back = transform.undo(&transform.apply(&bytes));
                prop_assert_eq!(back.len(), bytes.len());
                let whole = match transform {
                    Transform::Late(_) => ..bytes.len() - 1,
                    _ => ..bytes.len(),
                };
                let from = usize::from(matches!(transform, Transform::Early(_)));
                prop_assert_eq!(&back[whole][from..], &bytes[whole][from..], "{:?}", transform);
            }
        }
    }
}
