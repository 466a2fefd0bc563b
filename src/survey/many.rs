//! What each byte of an unknown memory does over several images: a counter, a record, what is one unit's own. Comparing
//! known ones is `compare::many`.

use std::collections::HashMap;

use super::pairs;
use crate::span::{ByteOrder, Span};
use crate::wording::{count, does};

/// What the order of the images means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Course {
    /// Nothing: they are of several units.
    #[default]
    Units,
    /// They are of one unit, in the order of time.
    Time,
    /// They are pairs, each of one unit before and after the same event: before, after, before, after.
    Pairs,
}

/// What a byte does over several images.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ByteClass {
    /// It is the same in all.
    Same,
    /// Part of a number that only grows in the order of time.
    Counter,
    /// Erased or constant in some images, filled in others: where records are written.
    Record,
    /// It differs in every image, and nothing simpler explains it: what a check over differing bytes does.
    CheckLike,
    /// It differs between the images, and nothing simpler explains it: with images of several units, what is one
    /// unit's own; with pairs, what is the same before and after but not in all pairs.
    Unit,
    /// It changes in the order of time, and nothing simpler explains it.
    Changes,
    /// The event changes it: it is another after than before in every pair.
    Event,
    /// It is another after than before in some pairs only.
    SomePairs,
    /// Some image does not hold it.
    Missing,
}

impl ByteClass {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            ByteClass::Same => "same",
            ByteClass::Counter => "counter-like",
            ByteClass::Record => "record-like",
            ByteClass::CheckLike => "check-like",
            ByteClass::Unit => "unit-specific",
            ByteClass::Changes => "changes",
            ByteClass::Event => "event",
            ByteClass::SomePairs => "some-pairs",
            ByteClass::Missing => "missing",
        }
    }
}

/// Neighbouring bytes that do the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// Where.
    pub at: Span,
    /// What they do.
    pub class: ByteClass,
    /// The evidence, in words.
    pub evidence: String,
    /// The region of the survey in which it lies whole, as its place in the list; the smallest one.
    pub region: Option<usize>,
}

impl Stretch {
    /// What some image does not hold.
    pub(super) fn missing(at: Span) -> Self {
        Stretch { at, class: ByteClass::Missing, evidence: "not in every image".to_owned(), region: None }
    }
}

/// The stretches of all images, from offset 0 to the end of the longest; in `gaps` some image holds nothing.
pub(super) fn stretches(images: &[&[u8]], gaps: &[Span], course: Course) -> Vec<Stretch> {
    let held = held_by_all(images, gaps);
    let classes = match course {
        Course::Units | Course::Time => classes(images, &held, course),
        Course::Pairs => pairs::classes(images, &held),
    };
    let mut found = Vec::new();
    let mut start = 0;
    for run in classes.chunk_by(|a, b| a == b) {
        let at = Span::of(start, run.len());
        start = at.end;
        found.push(match run[0] {
            ByteClass::Missing => Stretch::missing(at),
            class => Stretch { at, class, evidence: evidence(images, at, class, course), region: None },
        });
    }
    found
}

/// For each offset up to the end of the longest image, whether all of them hold a byte there.
fn held_by_all(images: &[&[u8]], gaps: &[Span]) -> Vec<bool> {
    let longest = images.iter().map(|i| i.len()).max().unwrap_or(0);
    let shortest = images.iter().map(|i| i.len()).min().unwrap_or(0);
    let mut held = vec![true; shortest];
    gaps.iter()
        .filter_map(|gap| gap.intersection(Span::new(0, shortest)))
        .for_each(|gap| held[gap.range()].fill(false));
    held.resize(longest, false);
    held
}

/// What each byte does over images of several units, or of one in the order of time.
fn classes(images: &[&[u8]], held: &[bool], course: Course) -> Vec<ByteClass> {
    let differs = if course == Course::Time { ByteClass::Changes } else { ByteClass::Unit };
    let class = |(at, held): (usize, &bool)| match held {
        false => ByteClass::Missing,
        true if images.iter().all(|i| i[at] == images[0][at]) => ByteClass::Same,
        true => differs,
    };
    let mut classes: Vec<ByteClass> = held.iter().enumerate().map(class).collect();
    // A differing byte between two others is part of the same number even when it happens to agree.
    bridge(&mut classes, differs, images);
    for span in runs(&classes, differs) {
        classes[span.range()].fill(judge(images, span, differs));
    }
    if course == Course::Time {
        counters(&mut classes);
    }
    join(&mut classes, differs);
    classes
}

/// Marks single agreeing bytes between differing ones as differing, where they are no fill.
fn bridge(classes: &mut [ByteClass], differs: ByteClass, images: &[&[u8]]) {
    for at in 1..classes.len().saturating_sub(1) {
        let around = classes[at - 1] == differs && classes[at + 1] == differs;
        if around && classes[at] == ByteClass::Same && !matches!(images[0][at], 0x00 | 0xFF) {
            classes[at] = differs;
        }
    }
}

/// Joins runs that few agreeing bytes part: they are one record or one row after another. What stands in such a
/// row is no check, however different it is.
fn join(classes: &mut [ByteClass], differs: ByteClass) {
    const FEW: usize = 8;
    let class_at = |classes: &[ByteClass], at: Option<usize>| at.and_then(|at| classes.get(at).copied());
    for gap in runs(classes, ByteClass::Same) {
        let before = class_at(classes, gap.start.checked_sub(1));
        let after = class_at(classes, Some(gap.end));
        let loose = |class| class == Some(differs) || class == Some(ByteClass::CheckLike);
        if gap.len() > FEW {
            continue;
        }
        if before == after && before == Some(ByteClass::Record) {
            classes[gap.range()].fill(ByteClass::Record);
        } else if loose(before) && loose(after) {
            classes[gap.range()].fill(differs);
            for class in classes[..gap.start].iter_mut().rev() {
                if *class != ByteClass::CheckLike {
                    break;
                }
                *class = differs;
            }
            for class in &mut classes[gap.end..] {
                if *class != ByteClass::CheckLike {
                    break;
                }
                *class = differs;
            }
        }
    }
}

/// The runs of `class`.
pub(super) fn runs(classes: &[ByteClass], class: ByteClass) -> Vec<Span> {
    let mut start = 0;
    let mut found = Vec::new();
    for run in classes.chunk_by(|a, b| a == b) {
        if run[0] == class {
            found.push(Span::of(start, run.len()));
        }
        start += run.len();
    }
    found
}

/// True for bytes that say nothing: erased, or cleared.
pub(super) fn is_empty(part: &[u8]) -> bool {
    part.iter().all(|&b| b == part[0]) && matches!(part.first(), Some(0x00 | 0xFF))
}

/// The order in which the numbers of a run of at most eight bytes never fall from image to image.
fn grows(images: &[&[u8]], span: Span) -> Option<ByteOrder> {
    let of = |image: &&[u8], order: ByteOrder| order.number_u64(&image[span.range()]);
    (span.len() <= 8 && images.len() >= 3)
        .then_some([ByteOrder::Big, ByteOrder::Little])?
        .into_iter()
        .find(|&order| images.windows(2).all(|pair| of(&pair[0], order) <= of(&pair[1], order)))
}

/// In how many orders the contents of a run could come, equal ones not told apart; one of them is the rising one.
fn orders(images: &[&[u8]], span: Span) -> f64 {
    let mut counts: HashMap<&[u8], usize> = HashMap::new();
    let each = images.iter().enumerate().take(20).map(|(n, image)| {
        let equal = counts.entry(&image[span.range()]).or_default();
        *equal += 1;
        (n + 1) as f64 / *equal as f64
    });
    each.product()
}

/// What a run of differing bytes is; `differs` if it is nothing simpler.
fn judge(images: &[&[u8]], span: Span, differs: ByteClass) -> ByteClass {
    let parts: Vec<&[u8]> = images.iter().map(|i| &i[span.range()]).collect();
    let empty = parts.iter().filter(|p| is_empty(p)).count();
    if span.len() >= 4 && empty > 0 && empty < parts.len() {
        return ByteClass::Record;
    }
    if differs == ByteClass::Changes && grows(images, span).is_some() {
        return ByteClass::Counter;
    }
    if matches!(span.len(), 2 | 4) && images.len() >= 3 && all_different(&parts) {
        return ByteClass::CheckLike;
    }
    differs
}

/// True when no two parts have the same byte in the same place.
pub(super) fn all_different(parts: &[&[u8]]) -> bool {
    let apart = |a: &[u8], b: &[u8]| a.iter().zip(b).all(|(x, y)| x != y);
    parts.iter().enumerate().all(|(i, a)| parts[..i].iter().all(|b| apart(a, b)))
}

/// Joins single agreeing bytes inside a counter to it. The constant high bytes before (or behind) the changing ones
/// are left to the reader of the stretch: only the changing bytes are a counter's for sure.
fn counters(classes: &mut [ByteClass]) {
    for at in 1..classes.len().saturating_sub(1) {
        if classes[at] == ByteClass::Same
            && classes[at - 1] == ByteClass::Counter
            && classes[at + 1] == ByteClass::Counter
        {
            classes[at] = ByteClass::Counter;
        }
    }
}

/// The evidence for a stretch, in words.
fn evidence(images: &[&[u8]], at: Span, class: ByteClass, course: Course) -> String {
    let many = images.len();
    match class {
        ByteClass::Same | ByteClass::Missing => format!("the same in all {many} images"),
        ByteClass::Counter => {
            let order = match grows(images, at) {
                Some(order) if at.len() > 1 => format!(", {}", order.words()),
                _ => String::new(),
            };
            let tries = if at.len() > 1 { 2.0 } else { 1.0 }; // the byte orders
            format!(
                "never falls over {many} images in the order of time{order}; of unrelated numbers one in {:.0} does so",
                (orders(images, at) / tries).max(1.0)
            )
        }
        ByteClass::Record => {
            let empty = images
                .iter()
                .filter(|i| {
                    at.range().all(|o| matches!(i[o], 0x00 | 0xFF) || images.iter().all(|j| j[o] == i[o]))
                })
                .count();
            format!("empty in {empty} of {many} images, filled in the others")
        }
        ByteClass::CheckLike => format!("{} bytes, every one different in each of {many} images", at.len()),
        ByteClass::Event | ByteClass::SomePairs => pairs::evidence(images, at, class),
        ByteClass::Unit | ByteClass::Changes => {
            let distinct =
                images.iter().map(|i| &i[at.range()]).collect::<std::collections::BTreeSet<_>>().len();
            let changing = at.range().filter(|&o| images.iter().any(|i| i[o] != images[0][o])).count();
            let within = if course == Course::Pairs { "the same before and after; " } else { "" };
            let told = format!(
                "{within}{distinct} different contents in {many} images, {changing} of {} {}",
                count(at.len(), "byte"),
                does(changing, "changes", "change")
            );
            match grows(images, at) {
                Some(_) if course == Course::Units => format!("{told}; it grows in the order of the images"),
                _ => told,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn class_at(images: &[&[u8]], course: Course, at: usize) -> ByteClass {
        stretches(images, &[], course).into_iter().find(|s| s.at.contains(at)).unwrap().class
    }

    #[test]
    fn counters_grow_in_the_order_of_time_only() {
        let reads: Vec<Vec<u8>> = [0x0105u16, 0x0177, 0x0201]
            .iter()
            .map(|n| [&[7u8; 4], &n.to_be_bytes()[..], &[7; 4]].concat())
            .collect();
        let images: Vec<&[u8]> = reads.iter().map(Vec::as_slice).collect();
        assert_eq!(class_at(&images, Course::Time, 5), ByteClass::Counter);
        assert_ne!(class_at(&images, Course::Units, 5), ByteClass::Counter);
        assert_eq!(class_at(&images, Course::Time, 0), ByteClass::Same);
    }

    #[test]
    fn a_count_that_stands_still_is_less_evidence_than_one_that_goes_on() {
        let told = |counts: &[u8]| {
            let reads: Vec<[u8; 3]> = counts.iter().map(|&n| [7, n, 7]).collect();
            let images: Vec<&[u8]> = reads.iter().map(|r| &r[..]).collect();
            let found = stretches(&images, &[], Course::Time);
            found.into_iter().find(|s| s.class == ByteClass::Counter).unwrap().evidence
        };
        // Orders of four numbers: 4!; of four of which three are equal: 4.
        assert!(told(&[1, 2, 3, 4]).ends_with("one in 24 does so"), "{}", told(&[1, 2, 3, 4]));
        assert!(told(&[1, 1, 1, 2]).ends_with("one in 4 does so"), "{}", told(&[1, 1, 1, 2]));
    }

    #[test]
    fn records_are_empty_in_some_images() {
        let filled = [1u8, 2, 3, 4, 5, 6, 7, 8];
        let images: [&[u8]; 3] = [&filled, &[0xFF; 8], &filled];
        assert_eq!(class_at(&images, Course::Units, 3), ByteClass::Record);
    }

    #[test]
    fn images_of_different_length_are_compared_as_far_as_they_go() {
        let images: [&[u8]; 2] = [&[1, 2, 3], &[1, 2]];
        assert_eq!(class_at(&images, Course::Units, 2), ByteClass::Missing);
        assert!(stretches(&[&[], &[]], &[], Course::Units).is_empty());
    }
}
