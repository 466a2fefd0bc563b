//! The alignment against a naive reference, and against edits that are known.

use proptest::prelude::*;

use super::*;
use crate::noise::noise;

/// The least cost of turning `a` into `b`, by the recurrence as it is written down, three full tables.
fn naive_cost(a: &[u8], b: &[u8]) -> usize {
    const NEVER: usize = usize::MAX / 4;
    let (rows, columns) = (a.len() + 1, b.len() + 1);
    let mut pair = vec![vec![NEVER; columns]; rows];
    let (mut missing, mut inserted) = (pair.clone(), pair.clone());
    pair[0][0] = 0;
    for i in 0..rows {
        for j in 0..columns {
            let best = |p: &Vec<Vec<usize>>, i: usize, j: usize| p[i][j];
            if i > 0 && j > 0 {
                let least = best(&pair, i - 1, j - 1).min(best(&missing, i - 1, j - 1)).min(best(
                    &inserted,
                    i - 1,
                    j - 1,
                ));
                pair[i][j] = least + usize::from(a[i - 1] != b[j - 1]);
            }
            if i > 0 {
                let opened = best(&pair, i - 1, j).min(best(&inserted, i - 1, j)) + OPENING;
                missing[i][j] = opened.min(best(&missing, i - 1, j)) + 1;
            }
            if j > 0 {
                let opened = best(&pair, i, j - 1).min(best(&missing, i, j - 1)) + OPENING;
                inserted[i][j] = opened.min(best(&inserted, i, j - 1)) + 1;
            }
        }
    }
    pair[rows - 1][columns - 1].min(missing[rows - 1][columns - 1]).min(inserted[rows - 1][columns - 1])
}

/// Every promise that holds for any two images.
fn check_sound(before: &[u8], after: &[u8], alignment: &Alignment) {
    assert_eq!(alignment.rebuild(before, after), after);
    let mut made = 0;
    let mut used = vec![0_u32; before.len()];
    for step in &alignment.steps {
        assert_eq!(step.after().start, made, "{:?}", alignment.steps);
        made = step.after().end;
        if let Step::Same { .. } | Step::Moved { .. } = step {
            assert_eq!(step.before().of_bytes(before), step.after().of_bytes(after));
        }
        if !matches!(step, Step::Moved { .. }) {
            step.before().range().for_each(|at| used[at] += 1);
        }
    }
    assert_eq!(made, after.len());
    assert!(used.iter().all(|&n| n == 1), "each byte of the first image is told of once");
}

proptest! {
    #[test]
    fn small_images_are_aligned_at_the_least_cost(
        a in proptest::collection::vec(0u8..4, 0..40),
        b in proptest::collection::vec(0u8..4, 0..40),
    ) {
        let alignment = align(&a, &b);
        check_sound(&a, &b, &alignment);
        prop_assert_eq!(alignment.cost(), naive_cost(&a, &b));
    }

    #[test]
    fn what_was_cut_out_and_put_in_is_found_in_small_images(
        a in proptest::collection::vec(any::<u8>(), 40..80),
        put in proptest::collection::vec(any::<u8>(), 0..20),
        at in 0usize..40, cut in 0usize..20,
    ) {
        let mut b = a.clone();
        b.splice(at..at + cut.min(a.len() - at), put);
        let alignment = align(&a, &b);
        check_sound(&a, &b, &alignment);
        prop_assert_eq!(alignment.cost(), naive_cost(&a, &b));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn large_images_cost_no_more_than_the_edits_that_were_made(
        seed in any::<u64>(),
        edits in proptest::collection::vec((0usize..60_000, 0usize..50, 0usize..50), 0..10),
    ) {
        let a = noise(60_000, seed);
        let mut b = a.clone();
        let mut bound = 0;
        for (n, &(at, cut, put)) in edits.iter().enumerate() {
            let at = at.min(b.len());
            let cut = cut.min(b.len() - at);
            b.splice(at..at + cut, noise(put, seed ^ (n as u64 + 1) << 32));
            bound += 2 * OPENING + cut + put;
        }
        let alignment = align(&a, &b);
        check_sound(&a, &b, &alignment);
        // An anchor may begin in a byte that agrees by chance at the edge of an edit.
        let bound = bound + edits.len() * 8;
        prop_assert!(alignment.cost() <= bound, "{} > {bound}", alignment.cost());
    }

    #[test]
    fn any_two_images_are_aligned_soundly(
        a in proptest::collection::vec(0u8..2, 0..6000),
        b in proptest::collection::vec(0u8..2, 0..6000),
    ) {
        check_sound(&a, &b, &align(&a, &b));
    }
}

#[test]
fn a_changed_value_is_changed_in_place_and_no_shift() {
    let a = noise(256, 1);
    let mut b = a.clone();
    b[100..104].copy_from_slice(&[1, 2, 3, 4]);
    let alignment = align(&a, &b);
    assert!(!alignment.is_shifted());
    assert_eq!(
        alignment.steps,
        [
            Step::Same { before: 0, after: 0, len: 100 },
            Step::Changed { before: 100, after: 100, len: 4 },
            Step::Same { before: 104, after: 104, len: 152 },
        ]
    );
}

#[test]
fn a_header_in_front_shifts_everything_by_its_length() {
    let a = noise(512, 2);
    let b = [noise(16, 3), a.clone()].concat();
    let alignment = align(&a, &b);
    assert!(alignment.is_shifted());
    assert_eq!(
        alignment.steps,
        [
            Step::Inserted { after: Span::new(0, 16), before: 0 },
            Step::Same { before: 0, after: 16, len: 512 },
        ]
    );
    assert_eq!((alignment.to_before(10), alignment.to_before(20)), (None, Some(4)));
    assert_eq!(alignment.to_after(4), Some(20));
}

#[test]
fn a_block_that_changed_places_moved_and_left_its_place() {
    for len in [2_000, 40_000] {
        let a = noise(len, 4);
        let mut b = a.clone();
        let block: Vec<u8> = b.drain(400..464).collect();
        b.splice(1500..1500, block);
        let alignment = align(&a, &b);
        check_sound(&a, &b, &alignment);
        assert_eq!(
            alignment.steps,
            [
                Step::Same { before: 0, after: 0, len: 400 },
                Step::Missing { before: Span::new(400, 464), after: 400 },
                Step::Same { before: 464, after: 400, len: 1100 },
                Step::Moved { before: 400, after: 1500, len: 64, copied: false },
                Step::Same { before: 1564, after: 1564, len: len - 1564 },
            ]
        );
        assert_eq!(alignment.to_after(410), Some(1510));
    }
}

#[test]
fn a_read_with_a_larger_chip_selected_is_the_image_and_its_copies() {
    let a = noise(8192, 5);
    let b = [a.clone(), a.clone()].concat();
    let alignment = align(&a, &b);
    check_sound(&a, &b, &alignment);
    assert!(
        alignment.steps.iter().any(|s| matches!(s, Step::Moved { copied: true, len: 8192, .. })),
        "{:?}",
        alignment.steps
    );
    assert!(!alignment.is_shifted());
}

#[test]
fn images_without_anything_in_common_are_changed_in_place() {
    let (a, b) = (noise(20_000, 6), noise(20_000, 7));
    let alignment = align(&a, &b);
    check_sound(&a, &b, &alignment);
    assert!(!alignment.is_shifted());
    assert!(alignment.steps.iter().all(|s| s.before() == s.after()));
}
