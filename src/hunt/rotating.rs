//! The BSD sum. Its rotation lets no prefix be taken out of a range, so that ranges are tried one after the other:
//! from every natural beginning to every end.

use std::sync::atomic::AtomicBool;

use super::Way;
use super::kernel::Kernel;
use super::resolve::{Candidate, Resolved, verified};
use super::scene::{Reach, Scene};
use super::search::is_off;
use crate::check::{Algorithm, StoredBytes};
use crate::span::{ByteOrder, Span};

/// Bytes of a value.
const BYTES: usize = 2;
/// Every beginning is tried in images of at most so many bytes; in larger ones those at natural places.
const MOST_BYTES: usize = 1 << 14;

/// Tries ranges of the first image and keeps those that hold in the others.
pub(super) fn search(scene: &Scene<'_>, kernel: &'static Kernel, cancel: &AtomicBool) -> Resolved {
    let mut resolved = Resolved::default();
    let tells = |reach| scene.tells(reach, kernel.bits, kernel.bits, scene.images.len());
    let (Some(first), [by]) = (scene.images.first(), kernel.members.as_slice()) else { return resolved };
    let starts: Vec<usize> = if tells(Reach::Adjoining) && scene.len <= MOST_BYTES {
        (0..scene.len).collect()
    } else if tells(Reach::Block) {
        scene.aligned.clone()
    } else {
        scene.strong.clone()
    };
    let is_place = |at: usize| Span::of(at, BYTES).end <= scene.len;
    for start in starts {
        if is_off(cancel) {
            break;
        }
        let mut sum = 0_u16;
        for end in start + 1..=scene.len {
            sum = sum.rotate_right(1).wrapping_add(u16::from(first[end - 1]));
            // Behind its range or before it.
            for at in [Some(end), start.checked_sub(BYTES)].into_iter().flatten().filter(|&at| is_place(at)) {
                let stored_at = Span::of(at, BYTES);
                for order in [ByteOrder::Big, ByteOrder::Little] {
                    if order.number_u64(&first[stored_at.range()]) == u64::from(sum) {
                        let way = way(by, Span::new(start, end), stored_at, order);
                        if scene.is_single() || verified(scene, &way) {
                            resolved.judge(scene, kernel, vec![Candidate::new(scene, kernel, way, true)]);
                        }
                    }
                }
            }
        }
    }
    resolved
}

fn way(by: &Algorithm, over: Span, stored_at: Span, order: ByteOrder) -> Way {
    Way { by: by.clone(), over, stored_at, order, stored_bytes: StoredBytes::Excluded }
}
