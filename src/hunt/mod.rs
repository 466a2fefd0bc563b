//! Which check protects which range, and where it is stored.
//!
//! Not by trying every range. For each algorithm, every prefix of the image gets a number such that "the range from
//! `a` to `b` has the check value `v`" becomes "the number at `a` equals one worked out from `b` and `v`": for a
//! CRC the register after the prefix, shifted on to the end of the image as if zeros followed; for a sum the sum
//! itself. A look-up then takes the place of the loop over `a`.
//!
//! With several images the differences to the first one are looked up instead: initial value and final exclusive or
//! drop out of them, so that one look-up does for all algorithms that differ in nothing else.
//!
//! How many hits chance alone would give is part of every hit. Ranges are sorted by how natural they are
//! ([`Reach`]); the more ranges of a kind there are, the more evidence a hit of that kind needs.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `scene` | the images, natural places in them, how natural a range is |
//! | `kernel` | the algorithms of the catalogue by what their look-ups have in common |
//! | `algebra` | arithmetic on the numbers of prefixes, for every family of checks; `gf2` for the CRCs |
//! | `moves` | how bytes move from image to image |
//! | `tables` | the numbers of all positions; `stored` the values that are looked for |
//! | `search` | what is looked up, as far as chance leaves it worth a look |
//! | `rotating` | the one sum that ranges have to be tried for |
//! | `lookup` | the look-ups, in an `index` of the numbers |
//! | `resolve` | from what was looked up to named checks, each verified |
//! | `evidence` | what a find is worth against chance |
//! | `polynomial` | a polynomial that nobody listed, solved for |
//! | `fold` | one hit for all the ways to see the same check; ranking |
//! | [`entry`] | a hit as an entry of a layout |

mod algebra;
pub mod entry;
mod evidence;
mod fold;
mod gf2;
mod index;
mod kernel;
mod lookup;
mod moves;
mod polynomial;
mod resolve;
mod rotating;
mod scene;
mod search;
mod stored;
mod tables;
#[cfg(test)]
mod tests;

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use crate::check::{Algorithm, Placed, StoredBytes};
use crate::finding::Finding;
use crate::image::{Common, GAP_FILL, Image};
use crate::span::{ByteOrder, Span};

pub use scene::Reach;

/// What is asked.
pub struct Question<'a> {
    /// Images of one kind of memory. They are compared over the addresses that all of them hold; where there are
    /// none, from their first bytes on.
    pub images: Vec<&'a Image>,
    /// Offsets in the first image where a range may well begin or end: ends of pages, of fields, of regions.
    pub bounds: Vec<usize>,
    /// Hits of which chance alone would give more than this many are withheld.
    pub limit: f64,
}

/// How often chance may give a hit that is still told, where the user does not say.
pub const LIMIT: f64 = 1.0;

/// One way to see a check.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// How it is computed.
    pub by: Algorithm,
    /// What it covers.
    pub over: Span,
    /// Where it is stored.
    pub stored_at: Span,
    /// Which byte of it stands first.
    pub order: ByteOrder,
    /// What happens to the stored bytes where they lie in the range.
    pub stored_bytes: StoredBytes,
}

impl Way {
    /// The check as a layout places it.
    #[must_use]
    pub fn placed(&self) -> Placed {
        Placed {
            algorithm: self.by.clone(),
            over: vec![self.over],
            stored_at: self.stored_at,
            order: self.order,
            stored_bytes: self.stored_bytes,
        }
    }
}

/// A check that holds in all images.
#[derive(Debug, Clone, PartialEq)]
pub struct Hit {
    /// The most natural way to see it.
    pub way: Way,
    /// Images that differ in what it covers or in its value: each is evidence of its own.
    pub images: usize,
    /// How many such hits chance alone would give.
    pub expected: f64,
    /// How natural its range and place are.
    pub reach: Reach,
    /// False when its initial value, final exclusive or or constant is not a listed one but was solved for, so that
    /// it spent the evidence of one image.
    pub listed: bool,
    /// Other ways to see the same check, the most natural first; not all when there are many.
    pub also: Vec<Way>,
}

/// A search that was left out because chance alone would give too many hits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Untried {
    /// Bits of the checks left out.
    pub bits: u32,
    /// The kind of range they were not tried over.
    pub reach: Reach,
    /// How many hits chance alone would give.
    pub expected: f64,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Answer {
    /// The checks found, the least likely by chance first.
    pub hits: Vec<Hit>,
    /// How many hits were withheld because chance alone would give more than the limit.
    pub withheld: usize,
    /// Some of those, the least likely by chance first.
    pub nearly: Vec<Hit>,
    /// What was not tried.
    pub untried: Vec<Untried>,
    /// Bytes compared in each image: those that all of them hold.
    pub bytes: usize,
    /// Different images among those given.
    pub images: usize,
    /// Offsets at which the images differ.
    pub varying: usize,
    /// True when it was called off; what was found until then is told.
    pub cancelled: bool,
    /// That the images share no address.
    pub findings: Vec<Finding>,
}

/// Searches the whole catalogue. `progress` is told the part done, 0 to 1, from any thread; setting `cancel` ends
/// the search soon. Places are those of the first image.
#[must_use]
pub fn hunt(question: &Question<'_>, progress: &(dyn Fn(f64) + Sync), cancel: &AtomicBool) -> Answer {
    let Some((common, remark)) = Common::of_one_kind(&question.images) else { return Answer::default() };
    let base = question.images.first().map_or(0, |image| image.address(common.shift));
    let images = laid_together(&common, base);
    let bounds = question.bounds.iter().filter_map(|bound| bound.checked_sub(common.shift)).collect();
    let question = Question { images: images.iter().collect(), bounds, limit: question.limit };
    let mut answer = in_same_places(&question, progress, cancel);
    let hits = answer.hits.iter_mut().chain(&mut answer.nearly);
    hits.flat_map(|hit| std::iter::once(&mut hit.way).chain(&mut hit.also)).for_each(|way| {
        way.over = way.over.moved(common.shift);
        way.stored_at = way.stored_at.moved(common.shift);
    });
    answer.findings.extend(remark);
    answer
}

/// What all images hold, each cut to it; it begins at the address `base`. What is in the gap of one is in a gap of all,
/// so that it tells none of them from another.
fn laid_together(common: &Common<'_>, base: u64) -> Vec<Image> {
    let laid = |part: &[u8]| {
        let mut bytes = part.to_vec();
        common.gaps.iter().for_each(|gap| bytes[gap.range()].fill(GAP_FILL));
        Image::with_gaps(base, bytes, common.gaps.clone())
    };
    common.parts().map(laid).collect()
}

/// Searches images that hold bytes in the same places.
fn in_same_places(question: &Question<'_>, progress: &(dyn Fn(f64) + Sync), cancel: &AtomicBool) -> Answer {
    let scene = scene::Scene::new(question);
    let units = search::units(&scene);
    let found = Mutex::new(resolve::Resolved::default());
    let (next, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let work = || {
        while let Some(&unit) = units.get(next.fetch_add(1, Ordering::Relaxed)) {
            if search::is_off(cancel) {
                return;
            }
            let resolved = search::run(&scene, unit, cancel);
            found.lock().unwrap_or_else(PoisonError::into_inner).add(resolved);
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            progress(done as f64 / units.len() as f64);
        }
    };
    let workers = std::thread::available_parallelism().map_or(1, std::num::NonZero::get).min(units.len());
    std::thread::scope(|scope| {
        for _ in 1..workers {
            scope.spawn(work);
        }
        work();
    });
    let found = found.into_inner().unwrap_or_else(PoisonError::into_inner);
    let (hits, withheld, nearly) = fold::fold(found, &scene);
    Answer {
        hits,
        withheld,
        nearly,
        untried: scene.untried(),
        bytes: scene.held.iter().map(|held| held.len()).sum(),
        images: scene.images.len(),
        varying: scene.varying_in(Span::new(0, scene.len)),
        cancelled: cancel.load(Ordering::Relaxed),
        findings: Vec::new(),
    }
}
