//! What one event changes: images of units before and after it.

use super::ByteClass;
use super::many::{all_different, is_empty, runs};
use crate::span::{ByteOrder, Span};

/// Blank bytes of this number may lie in what one event changes.
const SHORT_GAP: usize = 16;

/// The pairs, each as before and after; an image without its other half is left out.
fn pairs<'a>(images: &'a [&'a [u8]]) -> impl Iterator<Item = (&'a [u8], &'a [u8])> {
    images.chunks_exact(2).map(|pair| (pair[0], pair[1]))
}

/// What each byte does.
pub(super) fn classes(images: &[&[u8]], held: &[bool]) -> Vec<ByteClass> {
    let many = images.len() / 2;
    let mut classes: Vec<ByteClass> = held
        .iter()
        .enumerate()
        .map(|(at, held)| {
            if !held {
                return ByteClass::Missing;
            }
            match pairs(images).filter(|(before, after)| before[at] != after[at]).count() {
                0 if images.iter().all(|i| i[at] == images[0][at]) => ByteClass::Same,
                0 => ByteClass::Unit,
                n if n == many => ByteClass::Event,
                _ => ByteClass::SomePairs,
            }
        })
        .collect();
    // A number that the event changes need not change in all its bytes in every pair.
    let plain = classes.clone();
    for (at, class) in classes.iter_mut().enumerate() {
        let around = [at.checked_sub(1), Some(at + 1)].into_iter().flatten();
        if *class == ByteClass::SomePairs
            && around.filter_map(|o| plain.get(o)).any(|c| *c == ByteClass::Event)
        {
            *class = ByteClass::Event;
        }
    }
    // Blank bytes between two records that are written or cleared are theirs.
    for gap in runs(&classes, ByteClass::Same) {
        let around = [gap.start.checked_sub(1), Some(gap.end)].map(|at| at.and_then(|at| classes.get(at)));
        if around == [Some(&ByteClass::Event); 2]
            && gap.len() <= SHORT_GAP
            && is_empty(&images[0][gap.range()])
        {
            classes[gap.range()].fill(ByteClass::Event);
        }
    }
    for span in runs(&classes, ByteClass::Event) {
        let parts: Vec<&[u8]> = pairs(images).flat_map(|(b, a)| [b, a]).map(|i| &i[span.range()]).collect();
        if matches!(span.len(), 2 | 4) && many >= 2 && all_different(&parts) && counted(&parts).is_none() {
            classes[span.range()].fill(ByteClass::CheckLike);
        }
    }
    classes
}

/// By how much the number in these bytes grows from before to after, if it is the same in every pair.
fn counted(parts: &[&[u8]]) -> Option<(u64, ByteOrder)> {
    let width = parts.first()?.len();
    if width > 8 {
        return None;
    }
    let room = if width == 8 { u64::MAX } else { (1 << (width * 8)) - 1 };
    [ByteOrder::Big, ByteOrder::Little].into_iter().find_map(|order| {
        let step = |pair: &[&[u8]]| order.number_u64(pair[1]).wrapping_sub(order.number_u64(pair[0])) & room;
        let mut steps = parts.chunks_exact(2).map(step);
        let first = steps.next()?;
        // A small step is a count; a large one, back from the end, is a count downwards, told as it is.
        (first > 0 && first <= room >> 2 && steps.all(|s| s == first)).then_some((first, order))
    })
}

/// What the event does to a stretch, in words.
pub(super) fn evidence(images: &[&[u8]], at: Span, class: ByteClass) -> String {
    let parts: Vec<&[u8]> = pairs(images).flat_map(|(b, a)| [b, a]).map(|i| &i[at.range()]).collect();
    let many = parts.len() / 2;
    let changed = parts.chunks_exact(2).filter(|pair| pair[0] != pair[1]).count();
    let every = if many == 1 { "in the one pair".to_owned() } else { format!("in all {many} pairs") };
    if class == ByteClass::SomePairs {
        return format!("another after than before in {changed} of {many} pairs");
    }
    let (before, after): (Vec<&[u8]>, Vec<&[u8]>) = parts.chunks_exact(2).map(|p| (p[0], p[1])).unzip();
    let alike = |side: &[&[u8]]| side.iter().all(|part| *part == side[0]);
    let shown = |part: &[u8]| {
        let hex: Vec<String> = part.iter().take(8).map(|b| format!("{b:02X}")).collect();
        format!("{}{}", hex.join(" "), if part.len() > 8 { " ..." } else { "" })
    };
    let many_bytes = at.len() > 1;
    if many_bytes && before.iter().all(|p| is_empty(p)) && !after.iter().any(|p| is_empty(p)) {
        return format!("the event fills it: {} before, something after, {every}", shown(&before[0][..1]));
    }
    if many_bytes && after.iter().all(|p| is_empty(p)) && alike(&after) && !before.iter().any(|p| is_empty(p))
    {
        return format!("the event clears it to {} {every}", shown(&after[0][..1]));
    }
    if alike(&after) {
        let from =
            if alike(&before) { format!("{} becomes ", shown(before[0])) } else { "it becomes ".to_owned() };
        return format!("{from}{} {every}", shown(after[0]));
    }
    if let Some((step, order)) = counted(&parts) {
        let order = if at.len() == 1 { String::new() } else { format!(", {}", order.words()) };
        return format!("the event adds {step}{order}, {every}");
    }
    format!("another after than before {every}")
}

#[cfg(test)]
mod tests {
    use super::super::many::stretches;
    use super::super::{ByteClass, Course, Stretch};

    fn told(images: &[&[u8]]) -> Vec<(usize, ByteClass, String)> {
        let told = |s: Stretch| (s.at.start, s.class, s.evidence);
        stretches(images, &[], Course::Pairs).into_iter().map(told).collect()
    }

    #[test]
    fn what_an_event_does_is_told_for_each_stretch() {
        // Two units: mark, number of the unit, count of starts, a flag, a record; then a byte that wanders.
        let one =
            (*b"FK\x11\x00\x41\x00\xFF\xFF\xFF\xFF\xAA\x07", *b"FK\x11\x00\x42\x01\x05\x24\x06\x01\xAA\x07");
        let two =
            (*b"FK\x22\x01\x90\x00\xFF\xFF\xFF\xFF\xAA\x09", *b"FK\x22\x01\x91\x01\x03\x24\x07\x30\xAA\x0A");
        let found = told(&[&one.0, &one.1, &two.0, &two.1]);
        let at = |at: usize| {
            let (_, class, evidence) = found.iter().rev().find(|f| f.0 <= at).unwrap();
            (*class, evidence.as_str())
        };
        assert_eq!(at(0).0, ByteClass::Same);
        assert_eq!(at(2).0, ByteClass::Unit);
        assert_eq!(at(11), (ByteClass::SomePairs, "another after than before in 1 of 2 pairs"));
        assert_eq!(at(4).0, ByteClass::Event);
        assert_eq!(at(7).0, ByteClass::Event);
    }

    #[test]
    fn counts_fills_and_clears_are_named() {
        let evidence = |images: &[&[u8]]| told(images).remove(0).2;
        assert_eq!(
            evidence(&[&[1, 255], &[2, 0], &[7, 16], &[7, 17]]),
            "the event adds 1, high byte first, in all 2 pairs"
        );
        assert_eq!(
            evidence(&[&[255; 4], &[1, 2, 3, 4]]),
            "the event fills it: FF before, something after, in the one pair"
        );
        assert_eq!(
            evidence(&[&[9, 8], &[0, 0], &[5, 4], &[0, 0]]),
            "the event clears it to 00 in all 2 pairs"
        );
        assert_eq!(evidence(&[&[0], &[3], &[0], &[3]]), "00 becomes 03 in all 2 pairs");
    }

    #[test]
    fn odd_numbers_and_lengths_of_images_are_taken_as_far_as_they_go() {
        assert!(told(&[&[], &[]]).is_empty());
        assert_eq!(told(&[&[1, 2], &[1]])[1].1, ByteClass::Missing);
        told(&[&[1, 2], &[1], &[7, 7, 7]]);
    }
}
