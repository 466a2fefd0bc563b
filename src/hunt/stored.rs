//! The stored values that are looked up.

use std::collections::BTreeMap;

use super::algebra::Algebra;
use super::kernel::{Family, Kernel, orders};
use super::scene::Scene;
use crate::span::{ByteOrder, Span};

/// Stored values, each with its place and byte order; in order of their places.
#[derive(Default)]
pub(super) struct Stored {
    pub at: Vec<usize>,
    pub order: Vec<ByteOrder>,
    /// For each channel, the value of each as it is reckoned with.
    pub values: Vec<Vec<u64>>,
}

impl Stored {
    /// Whatever may be a stored value, by how many images are evidence there: those with different values. Where few
    /// are, only natural ranges are worth a look.
    pub(super) fn by_evidence(
        scene: &Scene<'_>,
        kernel: &Kernel,
        algebra: &impl Algebra,
    ) -> BTreeMap<usize, Stored> {
        let bytes = kernel.bits.div_ceil(8) as usize;
        let mut groups: BTreeMap<usize, Stored> = BTreeMap::new();
        let mut values: Vec<u64> = Vec::new();
        for at in scene.places(bytes) {
            if !scene.is_single() && !varies_enough(scene, kernel, Span::of(at, bytes)) {
                continue;
            }
            for &order in orders(kernel.bits) {
                let value = |image: &&[u8]| algebra.register(order.number_u64(&image[at..at + bytes]));
                values.clear();
                values.extend(scene.images.iter().map_while(value));
                if values.len() < scene.images.len() {
                    continue;
                }
                let mut different = values.clone();
                different.sort_unstable();
                different.dedup();
                let group = groups.entry(different.len()).or_default();
                group.at.push(at);
                group.order.push(order);
                group.values.resize(scene.channels(), Vec::new());
                match values.split_first() {
                    Some((first, others)) if !scene.is_single() => group
                        .values
                        .iter_mut()
                        .zip(others)
                        .for_each(|(group, &value)| group.push(algebra.less(value, *first))),
                    _ => group.values.iter_mut().zip(&values).for_each(|(group, &value)| group.push(value)),
                }
            }
        }
        groups
    }

    pub(super) fn len(&self) -> usize {
        self.at.len()
    }
}

/// Whether the images differ in every byte of `stored`, but for one when there are two: a CRC that changes, changes
/// in all its bytes, and leaves one as it was in one of 256 images.
fn varies_enough(scene: &Scene<'_>, kernel: &Kernel, stored: Span) -> bool {
    let full = (kernel.bits / 8) as usize;
    let full = match kernel.family {
        Family::Crc { .. } => full,
        // The sum of sums takes long ranges to fill its high bytes.
        Family::Pair { .. } => full / 2,
        Family::Sum { .. } | Family::Xor { .. } | Family::Rotating => return true,
    };
    scene.varying_in(stored) >= full.saturating_sub(usize::from(scene.images.len() == 2)).max(1)
}
