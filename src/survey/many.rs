//! How the bytes of several images differ.

use crate::span::Span;

/// What the order of the images means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Course {
    /// Nothing: they are of several units.
    #[default]
    Units,
    /// They are of one unit, in the order of time.
    Time,
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
    /// It differs between the images.
    Differs,
    /// Some image ends before it.
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
            ByteClass::Differs => "differs",
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
}

/// The stretches of all images, from offset 0 to the end of the longest.
pub(super) fn stretches(images: &[&[u8]], course: Course) -> Vec<Stretch> {
    let longest = images.iter().map(|i| i.len()).max().unwrap_or(0);
    let shortest = images.iter().map(|i| i.len()).min().unwrap_or(0);
    let mut classes = vec![ByteClass::Missing; longest];
    for (at, class) in classes.iter_mut().enumerate().take(shortest) {
        let same = images.iter().all(|i| i[at] == images[0][at]);
        *class = if same { ByteClass::Same } else { ByteClass::Differs };
    }
    // A differing byte between two others is part of the same number even when it happens to agree.
    bridge(&mut classes, images);
    for span in runs(&classes, ByteClass::Differs) {
        classes[span.range()].fill(judge(images, span, course));
    }
    if course == Course::Time {
        counters(images, &mut classes);
    }
    join(&mut classes);
    let mut found = Vec::new();
    let mut start = 0;
    for run in classes.chunk_by(|a, b| a == b) {
        let at = Span::of(start, run.len());
        start = at.end;
        found.push(Stretch { at, class: run[0], evidence: evidence(images, at, run[0]) });
    }
    found
}

/// Marks single agreeing bytes between differing ones as differing, where they are no fill.
fn bridge(classes: &mut [ByteClass], images: &[&[u8]]) {
    for at in 1..classes.len().saturating_sub(1) {
        let around = classes[at - 1] == ByteClass::Differs && classes[at + 1] == ByteClass::Differs;
        if around && classes[at] == ByteClass::Same && !matches!(images[0][at], 0x00 | 0xFF) {
            classes[at] = ByteClass::Differs;
        }
    }
}

/// Joins runs that few agreeing bytes part: they are one record or one row after another. What stands in such a
/// row is no check, however different it is.
fn join(classes: &mut [ByteClass]) {
    const FEW: usize = 8;
    let class_at = |classes: &[ByteClass], at: Option<usize>| at.and_then(|at| classes.get(at).copied());
    for gap in runs(classes, ByteClass::Same) {
        let before = class_at(classes, gap.start.checked_sub(1));
        let after = class_at(classes, Some(gap.end));
        let loose = |class| matches!(class, Some(ByteClass::Differs | ByteClass::CheckLike));
        if gap.len() > FEW {
            continue;
        }
        if before == after && before == Some(ByteClass::Record) {
            classes[gap.range()].fill(ByteClass::Record);
        } else if loose(before) && loose(after) {
            classes[gap.range()].fill(ByteClass::Differs);
            for class in classes[..gap.start].iter_mut().rev() {
                if *class != ByteClass::CheckLike {
                    break;
                }
                *class = ByteClass::Differs;
            }
            for class in &mut classes[gap.end..] {
                if *class != ByteClass::CheckLike {
                    break;
                }
                *class = ByteClass::Differs;
            }
        }
    }
}

/// The runs of `class`.
fn runs(classes: &[ByteClass], class: ByteClass) -> Vec<Span> {
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

/// What a run of differing bytes is.
fn judge(images: &[&[u8]], span: Span, course: Course) -> ByteClass {
    let parts: Vec<&[u8]> = images.iter().map(|i| &i[span.range()]).collect();
    let constant = |part: &&[u8]| part.iter().all(|&b| b == part[0]) && matches!(part[0], 0x00 | 0xFF);
    let empty = parts.iter().filter(|p| constant(p)).count();
    if span.len() >= 4 && empty > 0 && empty < parts.len() {
        return ByteClass::Record;
    }
    let number = |part: &[u8], big: bool| {
        let fold = |n: u64, b: &u8| n << 8 | u64::from(*b);
        if big { part.iter().fold(0, fold) } else { part.iter().rev().fold(0, fold) }
    };
    if course == Course::Time && span.len() <= 8 && images.len() >= 3 {
        for big in [true, false] {
            if parts.windows(2).all(|w| number(w[0], big) <= number(w[1], big)) {
                return ByteClass::Counter;
            }
        }
    }
    let all_different = parts
        .iter()
        .enumerate()
        .all(|(i, a)| parts[..i].iter().all(|b| a.iter().zip(*b).all(|(x, y)| x != y)));
    if all_different && matches!(span.len(), 2 | 4) && images.len() >= 3 {
        return ByteClass::CheckLike;
    }
    ByteClass::Differs
}

/// Widens counters over the constant high bytes that stand before (or after) the changing ones is left to the
/// reader of the stretch: only the changing bytes are counters for sure. Here single agreeing bytes inside a
/// counter are joined to it.
fn counters(images: &[&[u8]], classes: &mut [ByteClass]) {
    for at in 1..classes.len().saturating_sub(1) {
        if classes[at] == ByteClass::Same
            && classes[at - 1] == ByteClass::Counter
            && classes[at + 1] == ByteClass::Counter
            && images.iter().all(|i| i.len() > at)
        {
            classes[at] = ByteClass::Counter;
        }
    }
}

/// The evidence for a stretch, in words.
fn evidence(images: &[&[u8]], at: Span, class: ByteClass) -> String {
    let many = images.len();
    match class {
        ByteClass::Same => format!("the same in all {many} images"),
        ByteClass::Missing => "some image ends before".to_owned(),
        ByteClass::Counter => format!("never falls over {many} images in the order of time"),
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
        ByteClass::Differs => {
            let distinct =
                images.iter().map(|i| &i[at.range()]).collect::<std::collections::BTreeSet<_>>().len();
            let changing = at.range().filter(|&o| images.iter().any(|i| i[o] != images[0][o])).count();
            format!("{distinct} different contents in {many} images, {changing} of {} bytes change", at.len())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn class_at(images: &[&[u8]], course: Course, at: usize) -> ByteClass {
        stretches(images, course).into_iter().find(|s| s.at.contains(at)).unwrap().class
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
    fn records_are_empty_in_some_images() {
        let filled = [1u8, 2, 3, 4, 5, 6, 7, 8];
        let images: [&[u8]; 3] = [&filled, &[0xFF; 8], &filled];
        assert_eq!(class_at(&images, Course::Units, 3), ByteClass::Record);
    }

    #[test]
    fn images_of_different_length_are_compared_as_far_as_they_go() {
        let images: [&[u8]; 2] = [&[1, 2, 3], &[1, 2]];
        assert_eq!(class_at(&images, Course::Units, 2), ByteClass::Missing);
        assert!(stretches(&[&[], &[]], Course::Units).is_empty());
    }
}
