//! Stored against computed, and the edit that makes them agree.

use super::{Algorithm, Finish, Method, Operation, Placed, Seal, StoredBytes, SumParameters, ones};
use crate::edit::Edit;
use crate::image::Image;
use crate::span::{ByteOrder, Span};

/// What a check comes to on one image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Verified {
    /// The number in the image; `None` when its bytes are not in the image, or are more than 16.
    pub stored: Option<u128>,
    /// The number that would seal it; `None` when a range is not in the image or no number would.
    pub computed: Option<u128>,
    /// Whether they agree.
    pub seal: Seal,
}

/// Whether `placed` agrees on `image`. A range that reaches outside the image or over a gap is unreadable; bytes
/// that nobody read are never counted in.
///
/// A stored number of fewer bytes than the algorithm gives keeps the low ones.
#[must_use]
pub fn verify(placed: &Placed, image: &Image) -> Verified {
    let Some(stored_bytes) = image.get(placed.stored_at).filter(|bytes| bytes.len() <= 16) else {
        return Verified { stored: None, computed: None, seal: Seal::Unreadable };
    };
    let stored = placed.order.number(stored_bytes);
    let len = stored_bytes.len();
    let stand_in = match placed.stored_bytes {
        StoredBytes::Excluded => None,
        StoredBytes::Zeroed => Some(&[0; 16][..len]),
        StoredBytes::Erased => Some(&[0xFF; 16][..len]),
        StoredBytes::Included => Some(stored_bytes),
    };
    let result = result(&placed.algorithm, placed, image, stand_in);
    let (computed, seal) = match (result, placed.stored_bytes) {
        (None, _) => (None, Seal::Unreadable),
        (Some(result), StoredBytes::Included) if result == placed.algorithm.constant() => {
            (Some(stored), Seal::Sealed)
        }
        (Some(_), StoredBytes::Included) => {
            (solve(placed, image).map(|bytes| placed.order.number(&bytes)), Seal::Broken)
        }
        (Some(result), _) => {
            let computed = result & ones(8 * len as u32);
            (Some(computed), if computed == stored { Seal::Sealed } else { Seal::Broken })
        }
    };
    Verified { stored: Some(stored), computed, seal }
}

/// The edit that seals `placed`; `None` when it is sealed already, unreadable, or no stored number would seal it.
#[must_use]
pub fn reseal(placed: &Placed, image: &Image) -> Option<Edit> {
    let verified = verify(placed, image);
    if verified.seal != Seal::Broken {
        return None;
    }
    let before = image.get(placed.stored_at)?.to_vec();
    let after = placed.order.bytes(verified.computed?, before.len());
    Some(Edit { at: placed.stored_at.start, before, after })
}

/// The result over the ranges of `placed` with `stand_in` where the stored bytes lie, or without them.
fn result(algorithm: &Algorithm, placed: &Placed, image: &Image, stand_in: Option<&[u8]>) -> Option<u128> {
    let mut running = algorithm.start();
    for &span in &placed.over {
        let bytes = image.get(span)?;
        let Some(hole) = span.intersection(placed.stored_at) else {
            running.update(bytes);
            continue;
        };
        running.update(bytes.get(..hole.start - span.start)?);
        if let Some(stand_in) = stand_in {
            let from = hole.start - placed.stored_at.start;
            running.update(Span::of(from, hole.len()).of_bytes(stand_in)?);
        }
        running.update(bytes.get(hole.end - span.start..)?);
    }
    Some(running.finish())
}

/// The stored bytes that bring the result over everything to the algorithm's constant.
fn solve(placed: &Placed, image: &Image) -> Option<Vec<u8>> {
    let solution = match placed.algorithm.method {
        Method::Crc(_) | Method::Sum(SumParameters { operation: Operation::Xor, .. }) => {
            solve_bits(placed, image)?
        }
        Method::Sum(sum) => solve_bytes(sum, placed, image)?,
        Method::Fletcher(_) | Method::Adler32 | Method::BsdSum | Method::SystemVSum => return None,
    };
    let reached = result(&placed.algorithm, placed, image, Some(&solution))?;
    (placed.algorithm.can_include() && reached == placed.algorithm.constant()).then_some(solution)
}

/// Every bit of the stored bytes changes the result by a fixed pattern, whatever the other bits are: linear
/// equations over the two-element field, one unknown for each bit.
fn solve_bits(placed: &Placed, image: &Image) -> Option<Vec<u8>> {
    let len = placed.stored_at.len();
    let over = |stored: &[u8]| result(&placed.algorithm, placed, image, Some(stored));
    let base = over(&vec![0; len])?;
    // Rows in echelon form: pattern in the result, and which bits of the stored bytes make it.
    let mut rows: Vec<(u128, u128)> = Vec::new();
    for bit in 0..8 * len {
        let mut stored = vec![0; len];
        *stored.get_mut(bit / 8)? = 1 << (bit % 8);
        let row = reduce(&rows, (over(&stored)? ^ base, 1 << bit));
        if row.0 != 0 {
            rows.push(row);
        }
    }
    let (left, bits) = reduce(&rows, (base ^ placed.algorithm.constant(), 0));
    (left == 0).then(|| ByteOrder::Little.bytes(bits, len))
}

fn reduce(rows: &[(u128, u128)], row: (u128, u128)) -> (u128, u128) {
    rows.iter().fold(row, |row, pivot| {
        let top = 127 - pivot.0.leading_zeros();
        if row.0 >> top & 1 == 1 { (row.0 ^ pivot.0, row.1 ^ pivot.1) } else { row }
    })
}

/// Every stored byte joins the sum times a power of 256, which depends on its place in its word; what is missing
/// is dealt out from the highest place down.
fn solve_bytes(sum: SumParameters, placed: &Placed, image: &Image) -> Option<Vec<u8>> {
    let len = placed.stored_at.len();
    let missing = Algorithm::sum(SumParameters {
        finish: match sum.finish {
            // A sum with end-around carry makes all ones of this, its other zero.
            Finish::Plain => Finish::To(0),
            to => to,
        },
        ..sum
    });
    let over = |stored: &[u8]| result(&missing, placed, image, Some(stored));
    let mut left = over(&vec![0; len])?;
    let mut places = stored_places(sum, placed)?;
    places.sort_by_key(|&(shift, at)| (std::cmp::Reverse(shift), at));
    let mut stored = vec![0; len];
    for (shift, at) in places {
        let digit = (left >> shift).min(255);
        left -= digit << shift;
        *stored.get_mut(at)? = digit as u8;
    }
    (left == 0).then_some(stored)
}

/// For each stored byte inside the ranges, by how many bits it is shifted when it joins the sum, and its index.
fn stored_places(sum: SumParameters, placed: &Placed) -> Option<Vec<(u32, usize)>> {
    let word = usize::from(sum.word / 8).max(1);
    let mut places = Vec::new();
    let mut passed = 0_usize;
    for &span in &placed.over {
        if let Some(hole) = span.intersection(placed.stored_at) {
            for at in hole.range() {
                let in_word = (passed + at - span.start) % word;
                let place = match sum.order {
                    ByteOrder::Little => in_word,
                    ByteOrder::Big => word - 1 - in_word,
                };
                places.push((8 * place as u32, at - placed.stored_at.start));
            }
        }
        passed = passed.checked_add(span.len())?;
    }
    // A byte counted twice joins twice; no such check is known, and dealing out would not end right.
    let mut seen: Vec<usize> = places.iter().map(|&(_, at)| at).collect();
    seen.sort_unstable();
    seen.windows(2).all(|pair| pair.first() != pair.last()).then_some(places)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::check::{by_name, catalogue};

    fn placed(name: &str, over: Vec<Span>, stored_at: Span, order: ByteOrder, mode: StoredBytes) -> Placed {
        Placed { algorithm: by_name(name).unwrap(), over, stored_at, order, stored_bytes: mode }
    }

    fn sealed_after_reseal(placed: &Placed, image: &mut Image) -> bool {
        if let Some(edit) = reseal(placed, image) {
            image.bytes_mut()[edit.span().range()].copy_from_slice(&edit.after);
        }
        verify(placed, image).seal == Seal::Sealed
    }

    #[test]
    fn a_check_over_a_gap_or_past_the_end_is_unreadable_and_never_resealed() {
        let image = Image::with_gaps(0, vec![0; 32], vec![Span::new(8, 12)]);
        let over_gap =
            placed("SUM-8", vec![Span::new(0, 16)], Span::new(20, 21), ByteOrder::Big, StoredBytes::Excluded);
        assert_eq!(verify(&over_gap, &image).seal, Seal::Unreadable);
        assert_eq!(verify(&over_gap, &image).stored, Some(0));
        assert_eq!(reseal(&over_gap, &image), None);
        let past =
            placed("SUM-8", vec![Span::new(0, 8)], Span::new(31, 33), ByteOrder::Big, StoredBytes::Excluded);
        assert_eq!(verify(&past, &image), Verified { stored: None, computed: None, seal: Seal::Unreadable });
    }

    #[test]
    fn stored_bytes_are_left_out_zeroed_or_included() {
        let image = Image::raw(vec![1, 2, 0x40, 3]);
        let over = vec![Span::new(0, 4)];
        let of =
            |name, mode| verify(&placed(name, over.clone(), Span::new(2, 3), ByteOrder::Big, mode), &image);
        // CRC-8/SMBUS over 01 02 03 and over 01 02 00 03: worked bit by bit outside with the polynomial 0x07.
        assert_eq!(of("CRC-8/SMBUS", StoredBytes::Excluded).computed, Some(0x48));
        assert_eq!(of("CRC-8/SMBUS", StoredBytes::Zeroed).computed, Some(0xC9));
        assert_eq!(of("SUM-8", StoredBytes::Excluded).computed, Some(6));
        assert_eq!(of("SUM-8", StoredBytes::Zeroed).computed, Some(6));
        assert_eq!(of("SUM-8", StoredBytes::Erased).computed, Some(5));
        assert_eq!(of("SUM-8", StoredBytes::Included).computed, Some(0xFA));
        assert_eq!(of("SUM-8/ONES", StoredBytes::Included).computed, Some(0xF9));
    }

    #[test]
    fn words_that_sum_to_a_constant_are_resealed_wherever_the_stored_word_lies() {
        let mut image = Image::raw((0..128).map(|i| (i * 7) as u8).collect());
        let name = "SUM(bits: 16, word: 16, order: Little, to: 0xBABA)";
        for at in [0, 62, 126] {
            let check = placed(
                name,
                vec![Span::new(0, 128)],
                Span::of(at, 2),
                ByteOrder::Little,
                StoredBytes::Included,
            );
            assert!(sealed_after_reseal(&check, &mut image));
            let sum = image
                .bytes()
                .chunks(2)
                .fold(0_u16, |sum, word| sum.wrapping_add(u16::from_le_bytes([word[0], word[1]])));
            assert_eq!(sum, 0xBABA, "stored at {at}");
        }
    }

    #[test]
    fn a_sum_that_no_stored_byte_can_mend_stays_broken_and_is_left_alone() {
        let image = Image::raw(vec![0x12, 0x34, 0x00, 0x00]);
        // One byte cannot bring a 16-bit sum of words to zero.
        let check = placed(
            "SUM-16/16BE",
            vec![Span::new(0, 4)],
            Span::new(3, 4),
            ByteOrder::Big,
            StoredBytes::Included,
        );
        let verified = verify(&check, &image);
        assert_eq!((verified.computed, verified.seal), (None, Seal::Broken));
        assert_eq!(reseal(&check, &image), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        #[test]
        fn every_listed_check_is_sealed_after_reseal_and_broken_by_another_stored_value(
            bytes in proptest::collection::vec(any::<u8>(), 24..64),
            at in 0_usize..8,
            mode in prop::sample::select(vec![
                StoredBytes::Excluded, StoredBytes::Zeroed, StoredBytes::Erased, StoredBytes::Included,
            ]),
            order in prop_oneof![Just(ByteOrder::Big), Just(ByteOrder::Little)],
        ) {
            for listed in catalogue() {
                let algorithm = listed.algorithm.clone();
                let len = algorithm.bytes();
                let over = vec![Span::new(0, bytes.len() / 2), Span::new(bytes.len() / 2, bytes.len())];
                // Whole words of a sum.
                let stored_at = Span::of(at / len * len, len);
                let placed = Placed { algorithm, over, stored_at, order, stored_bytes: mode };
                if mode == StoredBytes::Included && !placed.algorithm.can_include() {
                    continue;
                }
                let mut image = Image::raw(bytes.clone());
                let sealed = sealed_after_reseal(&placed, &mut image);
                // A sum of bytes that is wider than a byte has more to reach than the stored bytes can add.
                let narrow = matches!(placed.algorithm.method, Method::Sum(sum) if sum.word < sum.bits);
                let reached = sealed || (mode == StoredBytes::Included && narrow);
                prop_assert!(reached, "{} {mode:?}", placed.algorithm);
                if sealed && mode != StoredBytes::Included {
                    image.bytes_mut()[stored_at.start] ^= 1;
                    prop_assert_eq!(verify(&placed, &image).seal, Seal::Broken);
                }
            }
        }
    }

    #[test]
    fn an_included_crc_is_the_crc_sent_behind_its_message() {
        for listed in catalogue().iter().filter(|listed| listed.algorithm.can_include()) {
            let Method::Crc(parameters) = listed.algorithm.method else { continue };
            let order = if parameters.refout { ByteOrder::Little } else { ByteOrder::Big };
            let len = listed.algorithm.bytes();
            let mut image = Image::raw([b"123456789".as_slice(), &vec![0; len]].concat());
            let algorithm = listed.algorithm.clone();
            let mut check = Placed {
                algorithm,
                over: vec![Span::new(0, 9 + len)],
                stored_at: Span::of(9, len),
                order,
                stored_bytes: StoredBytes::Included,
            };
            assert!(sealed_after_reseal(&check, &mut image), "{}", check.algorithm);
            assert_eq!(verify(&check, &image).stored, listed.published, "{}", check.algorithm);
            check.stored_bytes = StoredBytes::Excluded;
            assert_eq!(verify(&check, &image).seal, Seal::Sealed, "{}", check.algorithm);
        }
    }
}
