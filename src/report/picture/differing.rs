//! Two or more images side by side: what differs, what moved, and which fields that concerns.

use std::collections::BTreeMap;
use std::ops::Range;

use super::labels::Label;
use super::look::Fill;
use super::scale::Scale;
use super::{Band, Lane, Picture, Strip, WIDE_LANE, fact, portrait, short_name};
use crate::check::Seal;
use crate::compare::align::{Alignment, Step};
use crate::compare::{FieldChange, Stability};
use crate::layout::{Decoded, Role, top};
use crate::report::compare::{Compared, Pair};
use crate::report::decoded::value;
use crate::report::text;
use crate::span::Span;

/// Bands that are drawn; the longest are taken where there are more.
const MOST_BANDS: usize = 60;
/// Shorter contents that stand elsewhere agree by chance.
const LEAST_MOVED: usize = 16;

/// The picture of what was compared; `base` is what the layout says of the first image.
#[must_use]
pub fn comparison(compared: &Compared<'_>, base: Option<&Decoded>) -> String {
    let sides: Vec<_> = [&compared.base].into_iter().chain(compared.pairs.iter().map(|p| &p.other)).collect();
    // Where an image shares no address with the first one, all are compared from their first bytes on.
    let by_address = compared.pairs.iter().all(|p| p.images.0.base() == p.images.1.base());
    let first = |base: u64| if by_address { base } else { 0 };
    let numbered = sides.len() > 2;
    let mut strips: Vec<Strip<'_>> = Vec::new();
    for (n, side) in sides.iter().enumerate() {
        let number = (n + 1).to_string();
        let name = if numbered { number } else { format!("{number}: {}", short_name(side)) };
        strips.push(Strip::new(name, side.image, first(side.image.base())));
    }
    let mut marked: Vec<Range<u64>> = Vec::new();
    for (pair, n) in compared.pairs.iter().zip(1..) {
        let differences = &pair.comparison.differences;
        let at = first(pair.images.0.base());
        let all = |spans: &[Span]| spans.iter().map(|&s| s.addresses(at)).collect::<Vec<_>>();
        let differs = all(&differences.changed);
        marked.extend(differs.iter().cloned());
        if let Some(strip) = strips.get_mut(n) {
            (strip.differs, strip.only) = (differs, all(&differences.only_after));
        }
        if let (Some(strip), false) = (strips.first_mut(), numbered) {
            strip.only = all(&differences.only_before);
        }
    }
    if let (Some(strip), false) = (strips.first_mut(), numbered) {
        strip.differs = marked;
    }
    let start = strips.iter().map(|s| s.places().start).min().unwrap_or(0);
    let end = strips.iter().map(|s| s.places().end).max().unwrap_or(0);
    let scale = Scale::over(start..end);
    let at = first(compared.base.image.base());
    let mut lanes = Vec::new();
    if let Some(decoded) = base {
        lanes.push(Lane { wide: WIDE_LANE, rows: portrait::role_rows(&scale, decoded, at) });
    }
    if let Some(rows) = stability_rows(compared, &scale, at) {
        lanes.push(Lane { wide: WIDE_LANE, rows });
    }
    let mut facts: Vec<String> = Vec::new();
    for (n, side) in sides.iter().enumerate() {
        let unit = compared.units.get(n).filter(|_| numbered);
        let unit = unit.map_or(String::new(), |u| format!(", unit {u}"));
        facts.push(format!("{}: {}{unit}", n + 1, fact(side)));
    }
    facts.extend(compared.layout.iter().map(|taken| format!("By the layout {}", taken.layout.title)));
    let bands = match compared.pairs.as_slice() {
        [pair] => bands(pair, first(pair.images.0.base())),
        _ => Vec::new(),
    };
    let (strip_wide, gap) = match strips.len() {
        0..=2 => (104.0, 86.0),
        n => ((520.0 / n as f64 - 20.0).clamp(22.0, 90.0), 20.0),
    };
    let names: Vec<String> = sides.iter().map(|s| short_name(s)).collect();
    let title = match names.as_slice() {
        [a, b] => format!("{a} and {b}"),
        [a, others @ ..] => format!("{a} and {}", text::count(others.len(), "other image")),
        [] => String::new(),
    };
    Picture {
        title,
        sentence: compared.sentence(),
        facts,
        scale,
        strips,
        strip_wide,
        gap,
        bands,
        lanes,
        labels: labels(compared, first),
        cautions: compared.layout.as_ref().map_or(Vec::new(), |taken| taken.layout.cautions.clone()),
    }
    .draw()
}

fn stability_rows(compared: &Compared<'_>, scale: &Scale, at: u64) -> Option<Vec<Option<Fill>>> {
    let summary = compared.summary.as_ref()?;
    let mut rows = vec![None; scale.rows];
    for stretch in summary.differing() {
        let fill = if stretch.stability == Stability::Unstable { Fill::Unstable } else { Fill::PerUnit };
        for row in rows.get_mut(scale.rows_of(&stretch.span.addresses(at))).unwrap_or_default() {
            // The graver of two in one row.
            *row = (*row).max(Some(fill));
        }
    }
    Some(rows)
}

/// Contents that moved, and where bytes were put in or left out.
fn bands(pair: &Pair<'_>, at: u64) -> Vec<Band> {
    let steps = pair.alignment.iter().flat_map(|a| &a.steps);
    let mut bands: Vec<Band> = steps
        .filter_map(|step| {
            let fill = match *step {
                Step::Same { before, after, len } if before != after && len >= LEAST_MOVED => Fill::Moved,
                Step::Moved { .. } => Fill::Moved,
                Step::Inserted { .. } | Step::Missing { .. } => Fill::Put,
                _ => return None,
            };
            Some(Band { left: step.before().addresses(at), right: step.after().addresses(at), fill })
        })
        .collect();
    let bytes = |b: &Band| (b.left.end - b.left.start).max(b.right.end - b.right.start);
    bands.sort_by_key(|b| std::cmp::Reverse(bytes(b)));
    bands.truncate(MOST_BANDS);
    bands
}

/// What changed, by the fields at the top of the layout; bytes that it says nothing about by their place.
fn labels(compared: &Compared<'_>, first: impl Fn(u64) -> u64) -> Vec<Label> {
    let mut labels = Vec::new();
    let several = compared.pairs.len() > 1;
    // With several images: in which of them, by what is touched.
    let mut touched: BTreeMap<(u64, u64, String, Option<Fill>), Vec<usize>> = BTreeMap::new();
    for (pair, n) in compared.pairs.iter().zip(2..) {
        let at = first(pair.images.0.base());
        let mut of_pair: Vec<Label> = field_labels(pair, at, several);
        of_pair.extend(check_labels(pair, at, several));
        of_pair.extend(if pair.alignment.as_ref().is_some_and(Alignment::is_shifted) {
            moved_labels(pair, at)
        } else {
            undescribed(pair, at)
        });
        if !several {
            return of_pair;
        }
        for label in of_pair {
            let fill = Role::ALL.into_iter().map(Fill::Role).find(|f| f.word() == label.word);
            let key = (label.places.start, label.places.end, label.text, fill);
            touched.entry(key).or_default().push(n);
        }
    }
    for ((start, end, said, fill), images) in touched {
        let images: Vec<String> = images.iter().map(usize::to_string).collect();
        labels.push(Label::new(start..end, format!("{said}, in {}", text::list(&images)), fill, false));
    }
    labels
}

fn field_labels(pair: &Pair<'_>, at: u64, several: bool) -> Vec<Label> {
    let mut groups: Vec<(&str, Vec<&FieldChange>)> = Vec::new();
    for change in &pair.comparison.fields {
        match groups.last_mut() {
            Some((name, changes)) if *name == top(&change.path) => changes.push(change),
            _ => groups.push((top(&change.path), vec![change])),
        }
    }
    let mut labels = Vec::new();
    for (name, changes) in groups {
        let covers = changes.iter().filter_map(|c| c.field()).map(|f| f.cover());
        let Some(cover) = covers.reduce(Span::joined) else {
            continue;
        };
        let said = match changes.as_slice() {
            [change] if change.path == name && !several => {
                let side =
                    |field: &Option<crate::layout::Field>| field.as_ref().map_or("absent".to_owned(), value);
                format!("{name}: {} to {}", side(&change.before), side(&change.after))
            }
            [_] if several => name.to_owned(),
            [change] => change.path.clone(),
            _ if several => name.to_owned(),
            changes if changes.iter().all(|c| c.came_to_rest()) => {
                format!("{name}: {} went to rest", text::count(changes.len(), "field"))
            }
            changes => format!("{name}: {} with another value", text::count(changes.len(), "field")),
        };
        let role = changes.first().and_then(|c| c.role());
        let is_loud = matches!(role, Some(Role::Identity | Role::Calibration | Role::Reserved)) && !several;
        labels.push(Label::new(cover.addresses(at), said, role.map(Fill::Role), is_loud));
    }
    labels
}

fn check_labels(pair: &Pair<'_>, at: u64, several: bool) -> Vec<Label> {
    let mut labels = Vec::new();
    for check in &pair.comparison.checks {
        let Some(after) = &check.after else { continue };
        let stored = check.before.as_ref().map(|b| (b.stored, b.seal));
        let Some(placed) = &after.placed else { continue };
        if stored == Some((after.stored, after.seal)) {
            continue;
        }
        let seal = |seal: Option<Seal>| seal.map_or("absent", Seal::word);
        let said = match (stored.map(|s| s.1), after.seal) {
            _ if several => format!("check {}", check.name),
            (Some(before), now) if before == now => {
                format!("check {}: another value, {}", check.name, now.word())
            }
            (before, now) => format!("check {}: {} before, now {}", check.name, seal(before), now.word()),
        };
        let is_loud = after.seal == Seal::Broken && !several;
        labels.push(Label::new(placed.stored_at.addresses(at), said, Some(Fill::Role(Role::Check)), is_loud));
    }
    labels
}

/// What moved, at the address where it was.
fn moved_labels(pair: &Pair<'_>, at: u64) -> Vec<Label> {
    let steps = pair.alignment.iter().flat_map(|a| &a.steps);
    let mut labels = Vec::new();
    for step in steps {
        let (before, after) = (step.before(), step.after());
        let said = match step {
            Step::Same { .. } | Step::Moved { .. }
                if before.len() >= LEAST_MOVED && before.start != after.start =>
            {
                let by = text::count(before.start.abs_diff(after.start), "byte");
                let way = if after.start > before.start { "later" } else { "earlier" };
                let copied = if matches!(step, Step::Moved { copied: true, .. }) { "also " } else { "" };
                format!("{} stand {copied}{by} {way}", text::count(before.len(), "byte"))
            }
            Step::Inserted { .. } => format!("{} inserted", text::count(after.len(), "byte")),
            Step::Missing { .. } => format!("{} missing", text::count(before.len(), "byte")),
            Step::Changed { .. } => format!("{} differ", text::count(before.len(), "byte")),
            _ => continue,
        };
        let place = if before.is_empty() { Span::of(before.start, 1) } else { before };
        labels.push((before.len().max(after.len()), Label::new(place.addresses(at), said, None, false)));
    }
    // The longest ones, where there are many.
    labels.sort_by_key(|(bytes, _)| std::cmp::Reverse(*bytes));
    labels.truncate(MOST_BANDS);
    labels.into_iter().map(|(_, label)| label).collect()
}

/// Changed bytes that no field lies over. Near ones are one label.
fn undescribed(pair: &Pair<'_>, at: u64) -> Vec<Label> {
    const NEAR: usize = 16;
    let mut spans: Vec<(Span, usize)> = Vec::new();
    for changed in pair.comparison.changes.iter().filter(|c| c.is_undescribed()) {
        match spans.last_mut() {
            Some((last, bytes)) if changed.span.start - last.end <= NEAR => {
                last.end = changed.span.end;
                *bytes += changed.span.len();
            }
            _ => spans.push((changed.span, changed.span.len())),
        }
    }
    spans
        .into_iter()
        .map(|(span, bytes)| {
            Label::new(span.addresses(at), format!("{} differ", text::count(bytes, "byte")), None, false)
        })
        .collect()
}
