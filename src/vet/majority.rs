//! The image that most reads agree on.

use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;

/// What most of several reads hold.
#[derive(Debug, Clone)]
pub struct Majority {
    /// The image; where no majority exists it holds the byte of the first read.
    pub image: Image,
    /// Where more than half of the reads hold the same byte nowhere: nothing is known there.
    pub without: Vec<Span>,
    /// For each read, how many of its bytes were outvoted.
    pub outvoted: Vec<usize>,
}

/// Why no majority can be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoMajority {
    /// Two reads cannot outvote each other.
    FewerThanThree,
    /// The reads do not cover the same addresses.
    DifferentExtent,
}

impl NoMajority {
    /// The reason in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            NoMajority::FewerThanThree => "a majority needs three reads or more",
            NoMajority::DifferentExtent => {
                "the reads are not equally long, do not begin at the same address or have different gaps, so they cannot vote"
            }
        }
    }
}

/// Lets the reads vote on every byte.
///
/// # Errors
/// When there are fewer than three or they do not cover the same addresses.
pub fn vote(reads: &[&Image]) -> Result<Majority, NoMajority> {
    let (Some(first), true) = (reads.first(), reads.len() >= 3) else {
        return Err(NoMajority::FewerThanThree);
    };
    let alike = |r: &&Image| r.base() == first.base() && r.len() == first.len() && r.gaps() == first.gaps();
    if !reads.iter().all(alike) {
        return Err(NoMajority::DifferentExtent);
    }
    let mut image = (*first).clone();
    let mut without: Vec<Span> = Vec::new();
    let mut outvoted = vec![0; reads.len()];
    let bytes: Vec<&[u8]> = reads.iter().map(|r| r.bytes()).collect();
    for (at, slot) in image.bytes_mut().iter_mut().enumerate() {
        if bytes.iter().all(|b| b[at] == *slot) {
            continue;
        }
        let votes = |byte: u8| bytes.iter().filter(|b| b[at] == byte).count();
        match bytes.iter().map(|b| b[at]).find(|&byte| votes(byte) * 2 > reads.len()) {
            Some(byte) => {
                *slot = byte;
                for (lost, read) in outvoted.iter_mut().zip(&bytes) {
                    *lost += usize::from(read[at] != byte);
                }
            }
            None => Span::of(at, 1).go_on(&mut without),
        }
    }
    Ok(Majority { image, without, outvoted })
}

/// The finding on where no majority exists; none when there is one everywhere.
#[must_use]
pub fn finding(majority: &Majority) -> Option<Finding> {
    let (first, last) = (majority.without.first()?, majority.without.last()?);
    let bytes: usize = majority.without.iter().map(|s| s.len()).sum();
    let shown: Vec<String> = majority.without.iter().take(4).map(ToString::to_string).collect();
    let more = if majority.without.len() > 4 { ", …" } else { "" };
    Some(
        Finding::new(
            Weight::Fault,
            Code::NoMajority,
            format!("no majority exists for {bytes} of the bytes, at offsets {}{more}", shown.join(", ")),
            "the reads disagree so much there that nothing is known; the majority image has the bytes of read 1",
            "clean and reseat the contact, read the chip again, and vote over all reads with `readproof vet READS READ --majority OUT`",
        )
        .at(Span::new(first.start, last.end)),
    )
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn raw(bytes: &[u8]) -> Image {
        Image::raw(bytes.to_vec())
    }

    #[test]
    fn two_of_three_decide_and_three_different_bytes_decide_nothing() {
        let (a, b, c) = (raw(&[1, 2, 3, 4]), raw(&[1, 9, 5, 4]), raw(&[1, 2, 7, 8]));
        let majority = vote(&[&a, &b, &c]).unwrap();
        assert_eq!(majority.image.bytes(), [1, 2, 3, 4]);
        assert_eq!(majority.without, [Span::of(2, 1)]);
        assert_eq!(majority.outvoted, [0, 1, 1]);
        let found = finding(&majority).unwrap();
        assert_eq!(
            (found.weight, found.code, found.place),
            (Weight::Fault, Code::NoMajority, Some(Span::of(2, 1)))
        );
    }

    #[test]
    fn two_reads_or_unlike_ones_cannot_vote() {
        let (a, b) = (raw(&[1, 2]), raw(&[1]));
        assert_eq!(vote(&[&a, &a]).unwrap_err(), NoMajority::FewerThanThree);
        assert_eq!(vote(&[&a, &a, &b]).unwrap_err(), NoMajority::DifferentExtent);
    }

    proptest! {
        #[test]
        fn the_vote_is_the_one_of_a_count_by_hand(
            reads in prop::collection::vec(prop::collection::vec(0_u8..3, 20), 3..8)
        ) {
            let images: Vec<Image> = reads.iter().map(|r| raw(r)).collect();
            let majority = vote(&images.iter().collect::<Vec<_>>()).unwrap();
            for at in 0..20 {
                let winner = (0..3_u8).find(|v| reads.iter().filter(|r| r[at] == *v).count() * 2 > reads.len());
                prop_assert_eq!(majority.image.bytes()[at], winner.unwrap_or(reads[0][at]));
                prop_assert_eq!(majority.without.iter().any(|s| s.contains(at)), winner.is_none());
            }
        }
    }
}
