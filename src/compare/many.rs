//! More than two images side by side: which bytes are the same in all, which tell units apart, which are not to be
//! trusted. What they mean where no layout is known is asked by `survey::many`.

use super::differences::{common, mapped};
use super::runs::differing;
use crate::image::Image;
use crate::span::Span;

/// What the bytes of one place are across images.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stability {
    /// The same in every image.
    Same,
    /// The same in all reads of a unit, other in another unit.
    UnitSpecific,
    /// Other in another read of the same unit.
    Unstable,
}

impl Stability {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Stability::Same => "same in all",
            Stability::UnitSpecific => "unit-specific",
            Stability::Unstable => "unstable",
        }
    }
}

/// Bytes next to each other that are alike across images.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Where.
    pub span: Span,
    /// What they are.
    pub stability: Stability,
}

/// Every byte that all images have, by what it is across them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Summary {
    /// All bytes that every image has, in order.
    pub stretches: Vec<Stretch>,
    /// Bytes that every image has.
    pub common_bytes: usize,
}

impl Summary {
    /// How many bytes are `stability`.
    #[must_use]
    pub fn bytes(&self, stability: Stability) -> usize {
        self.stretches.iter().filter(|s| s.stability == stability).map(|s| s.span.len()).sum()
    }

    /// The stretches that differ between some of the images.
    pub fn differing(&self) -> impl Iterator<Item = &Stretch> {
        self.stretches.iter().filter(|s| s.stability != Stability::Same)
    }
}

/// Sums up `images` offset by offset. Each comes with the unit that it is a read of; reads of one unit must agree.
#[must_use]
pub fn summary(images: &[(&Image, usize)]) -> Summary {
    let known = images.iter().map(|(image, _)| mapped(image)).reduce(|a, b| common(&a, &b));
    let known = known.unwrap_or_default();
    let images: Vec<(&[u8], usize)> = images.iter().map(|(image, unit)| (image.bytes(), *unit)).collect();
    let cut = |stretch: Stretch| {
        let parts = common(&[stretch.span], &known);
        parts.into_iter().map(move |span| Stretch { span, ..stretch })
    };
    Summary {
        stretches: stretches(&images).into_iter().flat_map(cut).collect(),
        common_bytes: known.iter().map(|s| s.len()).sum(),
    }
}

/// What the bytes are across images, as far as the shortest goes.
fn stretches(images: &[(&[u8], usize)]) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    let Some(&(base, _)) = images.first() else { return stretches };
    let shortest = images.iter().map(|(bytes, _)| bytes.len()).min().unwrap_or(0);
    let mut spans: Vec<Span> = Vec::new();
    for (bytes, _) in images.iter().skip(1) {
        spans.extend(
            differing(base, bytes).into_iter().filter_map(|s| s.intersection(Span::new(0, shortest))),
        );
    }
    spans.sort_unstable();
    let mut done = 0;
    for span in spans {
        let from = span.start.max(done);
        push(&mut stretches, Span::new(done, span.start), Stability::Same);
        for at in from..span.end {
            push(&mut stretches, Span::of(at, 1), stability(images, at));
        }
        done = done.max(span.end);
    }
    push(&mut stretches, Span::new(done, shortest), Stability::Same);
    stretches
}

fn push(stretches: &mut Vec<Stretch>, span: Span, stability: Stability) {
    match stretches.last_mut() {
        _ if span.is_empty() => {}
        Some(last) if last.stability == stability && last.span.end == span.start => last.span.end = span.end,
        _ => stretches.push(Stretch { span, stability }),
    }
}

/// What the byte at `at` is, given that some images differ there.
fn stability(images: &[(&[u8], usize)], at: usize) -> Stability {
    let byte = |(bytes, _): &(&[u8], usize)| bytes.get(at).copied();
    for (n, image) in images.iter().enumerate() {
        // Agreement is transitive, so each read need only agree with the first one of its unit.
        let first = images.iter().take(n).find(|other| other.1 == image.1);
        if first.is_some_and(|first| byte(first) != byte(image)) {
            return Stability::Unstable;
        }
    }
    let first = images.first().and_then(byte);
    if images.iter().all(|image| byte(image) == first) { Stability::Same } else { Stability::UnitSpecific }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn stretch(start: usize, end: usize, stability: Stability) -> Stretch {
        Stretch { span: Span::new(start, end), stability }
    }

    #[test]
    fn bytes_are_told_apart_by_whether_reads_of_one_unit_agree() {
        let (a1, a2, b) = ([1, 2, 3, 4, 9], [1, 2, 7, 4, 9], [1, 5, 3, 6, 9]);
        let [a1, a2, b] = [a1, a2, b].map(|bytes| Image::raw(bytes.to_vec()));
        let summary = summary(&[(&a1, 0), (&a2, 0), (&b, 1)]);
        assert_eq!(
            summary.stretches,
            [
                stretch(0, 1, Stability::Same),
                stretch(1, 2, Stability::UnitSpecific),
                stretch(2, 3, Stability::Unstable),
                stretch(3, 4, Stability::UnitSpecific),
                stretch(4, 5, Stability::Same),
            ]
        );
        assert_eq!(summary.bytes(Stability::UnitSpecific), 2);
    }

    #[test]
    fn what_is_in_the_gap_of_an_image_is_not_the_same_in_all() {
        let whole = Image::raw(vec![1, 0xFF, 0xFF, 4]);
        let cut = Image::with_gaps(0, vec![1, 0xFF, 0xFF, 4], vec![Span::new(1, 3)]);
        let summary = summary(&[(&whole, 0), (&cut, 1)]);
        assert_eq!(summary.stretches, [stretch(0, 1, Stability::Same), stretch(3, 4, Stability::Same)]);
        assert_eq!((summary.common_bytes, summary.bytes(Stability::Same)), (2, 2));
    }

    proptest! {
        #[test]
        fn each_byte_is_judged_as_by_comparing_all_pairs(
            images in proptest::collection::vec((proptest::collection::vec(0u8..2, 0..12), 0usize..3), 1..6),
        ) {
            let raw: Vec<(Image, usize)> = images.iter().map(|(b, u)| (Image::raw(b.clone()), *u)).collect();
            let got = summary(&raw.iter().map(|(image, unit)| (image, *unit)).collect::<Vec<_>>());
            let common = images.iter().map(|(b, _)| b.len()).min().unwrap();
            prop_assert_eq!(got.common_bytes, common);
            let mut at = 0;
            for s in &got.stretches {
                prop_assert_eq!(s.span.start, at);
                for at in s.span.range() {
                    let pairs = || images.iter().flat_map(|x| images.iter().map(move |y| (x, y)));
                    let unstable = pairs().any(|(x, y)| x.1 == y.1 && x.0[at] != y.0[at]);
                    let differs = pairs().any(|(x, y)| x.0[at] != y.0[at]);
                    let wanted = match (unstable, differs) {
                        (true, _) => Stability::Unstable,
                        (false, true) => Stability::UnitSpecific,
                        (false, false) => Stability::Same,
                    };
                    prop_assert_eq!(s.stability, wanted);
                }
                at = s.span.end;
            }
            prop_assert_eq!(at, common);
        }
    }
}
