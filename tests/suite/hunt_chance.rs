//! What the hunt says of chance is so: where no check holds, it gives no more hits than it says.

use std::fmt::Write as _;
use std::sync::atomic::AtomicBool;

use readproof::hunt::{Question, hunt};
use readproof::image::Image;

use crate::support::corpus;
use crate::unsealed::{generated, kinds, shuffled};

/// Sets of each kind in this test; the bench tries many more.
const SETS: u64 = 3;
const LEN: usize = 128;

/// What chance gave in one set: how often it was said to give the like.
fn found(images: &[Vec<u8>]) -> Vec<f64> {
    let images: Vec<Image> = images.iter().cloned().map(Image::raw).collect();
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: 1.0 };
    hunt(&question, &|_| {}, &AtomicBool::new(false)).hits.iter().map(|hit| hit.expected).collect()
}

/// Of `sets` sets: no more hits below each limit than chance was said to give, but for a few by chance.
fn assert_calibrated(sets: usize, hits: &[f64]) {
    let mut told = String::new();
    let mut fits = true;
    for limit in [1.0, 0.1, 0.01, 0.001, 1e-4] {
        let seen = hits.iter().filter(|&&expected| expected <= limit).count();
        let most = limit * sets as f64;
        writeln!(told, "below {limit}: {seen} hits in {sets} sets, {most:.1} by chance at most").unwrap();
        fits &= seen as f64 <= most + 3.0 * most.sqrt() + 0.5;
    }
    println!("{told}");
    assert!(fits, "{told}");
}

#[test]
fn generated_images_without_a_check_give_no_more_hits_than_is_said() {
    let sets: Vec<_> =
        (1..=SETS).flat_map(|seed| (1..=3).map(move |count| generated(seed, LEN, count))).collect();
    let hits: Vec<f64> = sets.iter().flat_map(|set| found(set)).collect();
    assert_calibrated(sets.len(), &hits);
}

#[test]
fn published_images_out_of_order_give_no_more_hits_than_is_said() {
    let Some(corpus) = corpus() else { return };
    let kinds = kinds(&corpus);
    let set = |seed: u64| {
        let (images, stored) = &kinds[seed as usize % kinds.len()];
        shuffled(&images[..1 + seed as usize % 3], LEN, stored, seed)
    };
    let sets: Vec<_> = (0..3 * SETS).map(set).collect();
    let hits: Vec<f64> = sets.iter().flat_map(|set| found(set)).collect();
    assert_calibrated(sets.len(), &hits);
}
