//! Changes judged without a layout, by what their bytes look like. Weaker: it can say that an image is not safe, but
//! never that a changed one is.

use super::super::changes::Comparison;
use super::{Allowed, Judged, suspects};
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::{address, count};

/// The shortest text that is taken for a number or a name.
const TEXT_BYTES: usize = 6;

/// No change is refused, and none is known to be harmless.
pub(super) fn changes(comparison: &Comparison, allowed: &Allowed) -> Vec<Judged> {
    let judge = |changed: &super::Changed| {
        let named = allowed.has_span(changed.span);
        let why = if named { "named" } else { "unknown without a layout" };
        Judged { changed: changed.clone(), allowed: named, why: why.to_owned() }
    };
    comparison.changes.iter().map(judge).collect()
}

/// What can be seen without a layout; changes that were named are nobody's fault.
pub(super) fn findings(
    before: &Image,
    after: &Image,
    comparison: &Comparison,
    changes: &[Judged],
) -> Vec<Finding> {
    let differences = &comparison.differences;
    if differences.is_empty() {
        return Vec::new();
    }
    let mut findings = vec![Finding::new(
        Weight::Doubt,
        Code::NoLayout,
        match differences.changed_bytes() {
            1 => "no layout says what the 1 byte that changed is".to_owned(),
            bytes => format!("no layout says what the {} that changed are", count(bytes, "byte")),
        },
        "only their looks can be judged, which is weaker: identity and calibration cannot be told from settings",
        "name a layout with --layout, or make one with `readproof survey BEFORE --draft OUT.ron`",
    )];
    let open: Vec<Span> = changes.iter().filter(|c| !c.allowed).map(|c| c.changed.span).collect();
    findings.extend(much(before, after, &open));
    findings.extend(texts(before, after, &open));
    findings.extend(suspects::findings(before, after, open.iter().copied()));
    findings
}

/// Most of what is not blank differs: another unit's image, or another device's.
fn much(before: &Image, after: &Image, open: &[Span]) -> Option<Finding> {
    const SHARE: usize = 4;
    /// Larger images are no unit's memory, and to count through them takes its time.
    const MOST_BYTES: usize = 16 << 20;
    if before.len() > MOST_BYTES {
        return None;
    }
    let blank = |byte: &u8| matches!(byte, 0x00 | 0xFF);
    let pairs = before.bytes().iter().zip(after.bytes());
    let used = pairs.filter(|(a, b)| !blank(a) || !blank(b)).count();
    let changed: usize = open.iter().map(|s| s.len()).sum();
    (changed >= 16 && changed * SHARE >= used).then(|| {
        Finding::new(
            Weight::Fault,
            Code::OtherUnit,
            format!("{changed} of {} that are not blank differ", count(used, "byte")),
            "no repair changes so much; the changed image is another unit's, or another device's",
            "do not write it; look at both with `readproof compare BEFORE AFTER`",
        )
    })
}

/// Printed text that changed into other text: names, part numbers, serials.
fn texts(before: &Image, after: &Image, changed: &[Span]) -> Option<Finding> {
    let mut told: Vec<(Span, String)> = Vec::new();
    for &span in changed {
        if told.last().is_some_and(|(last, _)| last.overlaps(span)) {
            continue;
        }
        let (Some(was), Some(is)) = (text_around(before, span), text_around(after, span)) else { continue };
        let quote = |image: &Image, place: Span| {
            let bytes = place.of_bytes(image.bytes()).unwrap_or_default();
            String::from_utf8_lossy(bytes).trim().to_owned()
        };
        let place = Span::new(was.start.min(is.start), was.end.max(is.end));
        told.push((place, format!("\"{}\" to \"{}\"", quote(before, was), quote(after, is))));
    }
    let (first, quoted) = told.first()?;
    let more = if told.len() > 1 { format!(", and {} more", told.len() - 1) } else { String::new() };
    Some(
        Finding::new(
            Weight::Fault,
            Code::TextChanged,
            format!("text at {} changed from {quoted}{more}", address(before.address(first.start))),
            "part numbers, serials and names are stored as text; repairs seldom change them",
            "compare both texts with the label on the board, and do not write the file before that",
        )
        .at(*first),
    )
}

/// The run of printed characters of `image` around `span`, when it is long enough and has digits or capitals.
fn text_around(image: &Image, span: Span) -> Option<Span> {
    const FARTHEST: usize = 64;
    let bytes = image.bytes();
    let printed = |b: &&u8| (0x20..0x7F).contains(*b);
    if !span.of_bytes(bytes)?.iter().all(|b| printed(&b)) {
        return None;
    }
    // Two spaces are padding; what follows them is another field.
    let words = |bytes: &mut dyn Iterator<Item = &u8>| {
        let (mut spaces, mut len) = (0, 0);
        for byte in bytes.take(FARTHEST).take_while(printed) {
            spaces = if *byte == b' ' { spaces + 1 } else { 0 };
            if spaces == 2 {
                return len - 1;
            }
            len += 1;
        }
        len
    };
    let back = words(&mut bytes.get(..span.start)?.iter().rev());
    let ahead = words(&mut bytes.get(span.end..)?.iter());
    let text = Span::new(span.start - back, span.end + ahead);
    let content = text.of_bytes(bytes)?;
    let telling = content.iter().filter(|b| b.is_ascii_alphanumeric()).count();
    (telling >= TEXT_BYTES).then_some(text)
}
