//! Changes of an image carried over to what somebody else made of it meanwhile.

use super::Differences;
use super::runs::{differing, differing_first};
use crate::edit::{Change, Edit};
use crate::image::Image;
use crate::span::Span;

/// What comes of carrying changes over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// Turns the image with our changes into theirs with our changes.
    pub change: Change,
    /// The result is theirs, byte for byte: there was nothing of ours to carry over.
    pub is_theirs: bool,
    /// Bytes that differ between the image both began from and theirs.
    pub their_bytes: usize,
    /// Where both changed the same bytes to something else; theirs stands there.
    pub clashes: Vec<Span>,
    /// False when the images are not of one size at one address: then theirs stands alone.
    pub fits: bool,
}

/// Why nothing was carried over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotCarried {
    /// It was stopped.
    Stopped,
    /// More bytes than were allowed would have to be remembered.
    TooMany,
}

/// Carries what turned `base` into `mine` over to `theirs`; `touched` are the places where those two may differ.
///
/// A byte that only one side changed is what that side made of it; where both changed it, theirs stands and the place
/// is told. Images that differ in length, address or gaps cannot be told byte for byte: theirs stands alone. `watch` is
/// told of the part that is done and says whether to go on.
///
/// # Errors
/// When it was stopped, or the change would hold more than `most` bytes.
pub fn carry(
    [base, mine, theirs]: [&Image; 3],
    touched: Vec<Span>,
    label: impl Into<String>,
    most: usize,
    watch: &mut dyn FnMut(f64) -> bool,
) -> Result<Carried, NotCarried> {
    let fits = [mine, theirs]
        .iter()
        .all(|i| i.len() == base.len() && i.base() == base.base() && i.gaps() == base.gaps());
    let all = base.len().min(theirs.len()).max(1);
    // Stretches that differ take memory as well; each is at least a byte.
    let mut done = 0;
    let (their, ended) = differing_first(base.bytes(), theirs.bytes(), most, &mut |bytes| {
        done += bytes;
        watch(done as f64 / all as f64)
    })
    .ok_or(NotCarried::Stopped)?;
    let their_bytes = their.iter().map(|s| s.len()).sum::<usize>();
    let other_end = base.len().max(theirs.len()) - base.len().min(theirs.len());
    if ended < base.len().min(theirs.len()) || their_bytes + other_end > most {
        return Err(NotCarried::TooMany);
    }
    let their_bytes = their_bytes + other_end;
    if !fits {
        return Ok(Carried {
            change: all_of(mine, theirs, label.into()),
            is_theirs: true,
            their_bytes,
            clashes: Vec::new(),
            fits,
        });
    }
    let byte = |image: &Image, at: usize| image.bytes().get(at).copied();
    let is_ours = |at: usize| byte(base, at) != byte(mine, at);
    // Theirs stands wherever they changed anything; what is left is ours already.
    let mut edits = Vec::new();
    let mut clashes: Vec<Span> = Vec::new();
    for span in &their {
        let (Some(from), Some(to)) = (span.of_bytes(mine.bytes()), span.of_bytes(theirs.bytes())) else {
            continue;
        };
        for run in differing(from, to) {
            let run = Span::of(span.start + run.start, run.len());
            if let (Some(before), Some(after)) = (run.of_bytes(mine.bytes()), run.of_bytes(theirs.bytes())) {
                edits.push(Edit { at: run.start, before: before.to_vec(), after: after.to_vec() });
            }
            run.range().filter(|&at| is_ours(at)).for_each(|at| Span::of(at, 1).go_on(&mut clashes));
        }
    }
    let ours = Differences::within(base, mine, touched).changed;
    // Nothing of ours is left where each byte of it became theirs, or is the same.
    let is_theirs = |at: usize| {
        let first = their.partition_point(|s| s.end <= at);
        byte(mine, at) == byte(theirs, at) || their.get(first).is_some_and(|s| s.contains(at))
    };
    let is_theirs = ours.iter().all(|span| span.range().all(is_theirs));
    Ok(Carried { change: Change { label: label.into(), edits }, is_theirs, their_bytes, clashes, fits })
}

/// The change that makes `mine` into `theirs`, whatever they are.
fn all_of(mine: &Image, theirs: &Image, label: String) -> Change {
    let common = mine.len().min(theirs.len());
    let mut change = Differences::between(mine, theirs).change(mine, theirs, label);
    if mine.len() != theirs.len() {
        let end = |image: &Image| image.bytes().get(common..).unwrap_or_default().to_vec();
        change.edits.push(Edit { at: common, before: end(mine), after: end(theirs) });
    }
    change
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::edit;

    fn raw(bytes: &[u8]) -> Image {
        Image::raw(bytes.to_vec())
    }

    fn carried(base: &[u8], mine: &[u8], theirs: &[u8]) -> (Vec<u8>, Carried) {
        let touched = vec![Span::new(0, base.len().min(mine.len()))];
        let images = [&raw(base), &raw(mine), &raw(theirs)];
        let carried = carry(images, touched, "carried", usize::MAX, &mut |_| true).unwrap();
        let mut image = raw(mine);
        edit::apply(&mut image, &carried.change).unwrap();
        (image.bytes().to_vec(), carried)
    }

    #[test]
    fn each_side_keeps_what_it_alone_changed_and_a_clash_is_told() {
        let (bytes, told) = carried(&[0, 0, 0, 0, 0], &[1, 0, 3, 3, 0], &[0, 2, 4, 3, 0]);
        assert_eq!(bytes, [1, 2, 4, 3, 0]);
        assert_eq!((told.clashes, told.their_bytes, told.is_theirs), (vec![Span::new(2, 3)], 3, false));
    }

    #[test]
    fn of_another_length_theirs_stands_alone() {
        let (bytes, told) = carried(&[0, 0, 0], &[1, 0, 0], &[0, 0, 2, 5]);
        assert_eq!((bytes, told.fits, told.their_bytes), (vec![0, 0, 2, 5], false, 2));
        assert_eq!(carried(&[0, 0, 0], &[1, 0, 0], &[0, 7]).0, [0, 7]);
    }

    #[test]
    fn what_is_stopped_or_would_take_too_much_room_is_not_carried() {
        let [base, theirs] = [raw(&[0; 8]), raw(&[1; 8])];
        let carried = |most, goes_on| {
            carry([&base, &base, &theirs], Vec::new(), "", most, &mut |_| goes_on).map(|c| c.their_bytes)
        };
        assert_eq!(carried(8, true), Ok(8));
        assert_eq!(carried(7, true), Err(NotCarried::TooMany));
        assert_eq!(carried(8, false), Err(NotCarried::Stopped));
    }

    proptest! {
        /// Against a decision made for each byte alone.
        #[test]
        fn agrees_with_a_decision_byte_by_byte(all in prop::collection::vec((0u8..3, 0u8..3, 0u8..3), 0..40)) {
            let base: Vec<u8> = all.iter().map(|b| b.0).collect();
            let mine: Vec<u8> = all.iter().map(|b| b.1).collect();
            let theirs: Vec<u8> = all.iter().map(|b| b.2).collect();
            let (bytes, told) = carried(&base, &mine, &theirs);
            for (at, &(was, want, is)) in all.iter().enumerate() {
                prop_assert_eq!(bytes[at], if is == was { want } else { is });
                let clashes = was != want && was != is && want != is;
                prop_assert_eq!(told.clashes.iter().any(|c| c.contains(at)), clashes);
            }
            prop_assert_eq!(told.is_theirs, bytes == theirs);
        }
    }
}
