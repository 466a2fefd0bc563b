//! Runs of one value.

use super::{Kind, Region};
use crate::span::Span;

/// The shortest run that is named: shorter ones are as likely a number or padding.
const SHORTEST: usize = 8;

/// Every run of one value of at least [`SHORTEST`] bytes, in order.
pub(super) fn fills(bytes: &[u8]) -> Vec<Region> {
    let mut start = 0;
    let mut found = Vec::new();
    for run in bytes.chunk_by(|a, b| a == b) {
        if run.len() >= SHORTEST {
            found.push(Region {
                at: Span::of(start, run.len()),
                kind: Kind::Fill(run[0]),
                evidence: format!("{} bytes of {:02X}", run.len(), run[0]),
                chance: bytes.len() as f64 * 256f64.powi(1 - i32::try_from(run.len()).unwrap_or(i32::MAX)),
            });
        }
        start += run.len();
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_are_named_with_their_value_and_short_ones_are_not() {
        let mut bytes = vec![1, 2, 3];
        bytes.extend([0xFF; 40]);
        bytes.extend([0; 7]);
        let found = fills(&bytes);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].at, &found[0].kind), (Span::of(3, 40), &Kind::Fill(0xFF)));
    }
}
