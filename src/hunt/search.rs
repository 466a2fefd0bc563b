//! What is looked up for one kernel: the kinds of ranges that chance leaves worth a look.

use std::sync::atomic::{AtomicBool, Ordering};

use super::algebra::{Algebra, Crc, Pair, Sum, Words, Xor};
use super::kernel::{Family, Kernel, kernels, mask};
use super::lookup::{Lookup, Raw, Wanted};
use super::resolve::{self, Resolved};
use super::scene::{Reach, Scene};
use super::stored::Stored;
use super::tables::Tables;
use super::{polynomial, rotating};
use crate::span::ByteOrder;

/// One piece of work.
#[derive(Debug, Clone, Copy)]
pub(super) enum Unit {
    /// The algorithms of one kernel.
    Kernel(&'static Kernel),
    /// Polynomials that nobody listed, for values of so many bytes.
    Polynomial(usize),
}

/// The pieces of work that are worth it, those that take long first.
pub(super) fn units(scene: &Scene<'_>) -> Vec<Unit> {
    let worth = |kernel: &&Kernel| scene.tells(Reach::Whole, kernel.bits, kernel.bits, scene.images.len());
    let mut kernels: Vec<&Kernel> = kernels().iter().filter(worth).collect();
    kernels.sort_by_key(|kernel| std::cmp::Reverse(kernel.bits));
    polynomial::SIZES.map(Unit::Polynomial).into_iter().chain(kernels.into_iter().map(Unit::Kernel)).collect()
}

/// Does one piece of work.
pub(super) fn run(scene: &Scene<'_>, unit: Unit, cancel: &AtomicBool) -> Resolved {
    match unit {
        Unit::Kernel(kernel) => run_kernel(scene, kernel, cancel),
        Unit::Polynomial(size) => {
            Resolved { hits: polynomial::solve(scene, size, cancel), ..Resolved::default() }
        }
    }
}

fn run_kernel(scene: &Scene<'_>, kernel: &'static Kernel, cancel: &AtomicBool) -> Resolved {
    let words = |bits: u8, order| Words { bytes: usize::from(bits / 8), order };
    match kernel.family {
        Family::Crc { field, refin, refout } => {
            run_by(scene, kernel, &Crc::new(field, refin, refout, scene.len), cancel)
        }
        Family::Xor { word, order, .. } => run_by(scene, kernel, &Xor { words: words(word, order) }, cancel),
        Family::Sum { bits, word, order, carry: true, missing } => run_by(
            scene,
            kernel,
            &Sum::<true> { words: words(word, order), mask: mask(bits.into()), missing },
            cancel,
        ),
        Family::Sum { bits, word, order, carry: false, missing } => run_by(
            scene,
            kernel,
            &Sum::<false> { words: words(word, order), mask: mask(bits.into()), missing },
            cancel,
        ),
        Family::Pair { half, word, modulus, init } => {
            let words = words(word, ByteOrder::Little);
            run_by(scene, kernel, &Pair { words, half, modulus, init }, cancel)
        }
        Family::Rotating => rotating::search(scene, kernel, cancel),
    }
}

fn run_by<A: Algebra>(
    scene: &Scene<'_>,
    kernel: &'static Kernel,
    algebra: &A,
    cancel: &AtomicBool,
) -> Resolved {
    let mut resolved = Resolved::default();
    let groups = Stored::by_evidence(scene, kernel, algebra);
    for first in 0..kernel.family.step().min(scene.len + 1) {
        let tables = Tables::new(scene, kernel, algebra, first);
        for (&images, stored) in &groups {
            let raw = look_up(&tables, stored, images, cancel);
            resolve::resolve(&tables, &raw, &mut resolved);
        }
    }
    resolved
}

/// Looks up what chance leaves worth a look for values that `images` images are evidence for.
fn look_up<A: Algebra>(
    tables: &Tables<'_, A>,
    stored: &Stored,
    images: usize,
    cancel: &AtomicBool,
) -> Vec<Raw> {
    let (scene, kernel) = (tables.scene, tables.kernel);
    let evidence = kernel.family.evidence().min(kernel.bits);
    let tells = |reach: Reach| scene.tells(reach, kernel.bits, evidence, images);
    let mut lookup = Lookup::new(tables, stored, cancel);
    let strong = tables.positions(&scene.strong);
    let free = tells(Reach::Free);
    if free {
        lookup.anywhere(None);
    } else {
        let adjoining = tells(Reach::Adjoining);
        if adjoining || tells(Reach::Edge) {
            lookup.behind();
        }
        if adjoining {
            lookup.before();
        }
        lookup.stretches(if tells(Reach::Block) { &scene.aligned } else { &scene.strong });
        if tells(Reach::Start) {
            lookup.anywhere(Some(&strong));
        }
    }
    let around = tells(Reach::Around);
    let (beside, outside) = (!free && tells(Reach::Edge), !free && tells(Reach::Bounded));
    lookup.between(&strong, Wanted { beside, outside, inside: !around && tells(Reach::Inside) });
    if around {
        let blocks = tables.positions(&scene.blocks);
        lookup.between(&blocks, Wanted { beside: false, outside: false, inside: true });
    }
    lookup.raw
}

/// True when the search is to end.
pub(super) fn is_off(cancel: &AtomicBool) -> bool {
    cancel.load(Ordering::Relaxed)
}
