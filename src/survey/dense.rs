//! Bytes without visible structure: compressed, encrypted or random.

use super::{Kind, Region};
use crate::span::Span;

/// Bytes that are judged together.
const WINDOW: usize = 256;

/// Distinct values that 256 random bytes show on average: 256 · (1 − (255/256)^256) = 162, with a deviation of 6.6.
/// Structured data of controllers shows well under 120.
const DISTINCT: usize = 142;

/// Stretches of whole windows that look random.
pub(super) fn dense(bytes: &[u8]) -> Vec<Region> {
    let looks = |window: &[u8]| {
        let mut seen = [false; 256];
        window.iter().for_each(|&b| seen[usize::from(b)] = true);
        window.len() == WINDOW && seen.iter().filter(|&&s| s).count() >= DISTINCT
    };
    let windows: Vec<bool> = bytes.chunks(WINDOW).map(looks).collect();
    let mut found = Vec::new();
    let mut first = 0;
    for run in windows.chunk_by(|a, b| a == b) {
        if run[0] {
            let at = Span::new(first * WINDOW, ((first + run.len()) * WINDOW).min(bytes.len()));
            found.push(Region {
                at,
                kind: Kind::Dense,
                evidence: format!(
                    "{} bytes that use at least {DISTINCT} of 256 values in every {WINDOW}",
                    at.len()
                ),
                // "Random" is what chance makes, so there is nothing to weigh against; the word is kept modest.
                chance: 0.01,
            });
        }
        first += run.len();
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use sha2::{Digest, Sha256};

    #[test]
    fn digests_are_dense_and_counters_are_not() {
        let random: Vec<u8> = (0u32..64).flat_map(|i| Sha256::digest(i.to_le_bytes())).collect();
        assert_eq!(dense(&random).len(), 1);
        assert_eq!(dense(&random)[0].at, Span::new(0, 2048));
        let counters: Vec<u8> = (0u32..512).flat_map(u32::to_be_bytes).collect();
        assert!(dense(&counters).is_empty());
    }
}
