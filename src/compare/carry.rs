//! Changes of an image carried over to what somebody else made of it meanwhile.

use super::{Differences, differing};
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

/// Carries what turned `base` into `mine` over to `theirs`.
///
/// A byte that only one side changed is what that side made of it; where both changed it, theirs stands and the place
/// is told. Images that differ in length, address or gaps cannot be told byte for byte: theirs stands alone.
#[must_use]
pub fn carry(base: &Image, mine: &Image, theirs: &Image, label: impl Into<String>) -> Carried {
    let fits = [mine, theirs]
        .iter()
        .all(|i| i.len() == base.len() && i.base() == base.base() && i.gaps() == base.gaps());
    if !fits {
        return theirs_alone(base, mine, theirs, label.into());
    }
    let ours = differing(base.bytes(), mine.bytes());
    let mut result = theirs.clone();
    let mut clashes: Vec<Span> = Vec::new();
    for span in &ours {
        for at in span.range() {
            let of = |image: &Image| image.bytes().get(at).copied();
            let (was, want, is) = (of(base), of(mine), of(theirs));
            if is == was {
                if let Some(want) = want {
                    result.write(at, &[want]);
                }
            } else if is != want {
                match clashes.last_mut().filter(|last| last.end == at) {
                    Some(last) => last.end = at + 1,
                    None => clashes.push(Span::of(at, 1)),
                }
            }
        }
    }
    Carried {
        change: Differences::between(mine, &result).change(mine, &result, label),
        is_theirs: result.bytes() == theirs.bytes(),
        their_bytes: differing(base.bytes(), theirs.bytes()).iter().map(|s| s.len()).sum(),
        clashes,
        fits,
    }
}

fn theirs_alone(base: &Image, mine: &Image, theirs: &Image, label: String) -> Carried {
    let common = mine.len().min(theirs.len());
    let mut change = Differences::between(mine, theirs).change(mine, theirs, label);
    if mine.len() != theirs.len() {
        let end = |image: &Image| image.bytes().get(common..).unwrap_or_default().to_vec();
        change.edits.push(Edit { at: common, before: end(mine), after: end(theirs) });
    }
    let both = base.len().min(theirs.len());
    let same_places = differing(base.bytes(), theirs.bytes());
    let differing = same_places.iter().map(|s| s.len()).sum::<usize>();
    let their_bytes = differing + base.len().max(theirs.len()) - both;
    Carried { change, is_theirs: true, their_bytes, clashes: Vec::new(), fits: false }
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
        let carried = carry(&raw(base), &raw(mine), &raw(theirs), "carried");
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
