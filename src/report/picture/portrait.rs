//! One image: what its bytes are, and its fields or what a survey found.

use std::ops::Range;

use super::labels::Label;
use super::look::Fill;
use super::scale::Scale;
use super::{Lane, Picture, Strip, WIDE_LANE, fact, short_name};
use crate::check::Seal;
use crate::layout::{Decoded, Field, FieldState, Role, Shape};
use crate::report::decoded::value;
use crate::report::show::Taken;
use crate::report::sides::Side;
use crate::report::{survey, text};
use crate::survey::{ByteClass, Kind, Survey};

/// What is known of the contents.
pub enum Contents<'a> {
    /// The fields and checks of a layout.
    Layout(&'a Taken<'a>, &'a Decoded),
    /// What a survey found.
    Survey(&'a Survey),
    /// Nothing but the bytes.
    Bytes,
}

/// The picture of one image.
#[must_use]
pub fn portrait(side: &Side<'_>, contents: &Contents<'_>) -> String {
    let first = side.image.base();
    let strip = Strip::new(String::new(), side.image, first);
    let scale = Scale::over(strip.places());
    let mut facts = vec![fact(side)];
    let mut cautions = Vec::new();
    let (sentence, lanes, labels) = match contents {
        Contents::Layout(taken, decoded) => {
            facts.push(format!("By the layout {}", taken.layout.title));
            cautions.clone_from(&taken.layout.cautions);
            let rows = role_rows(&scale, decoded, first);
            (of_layout(decoded), vec![Lane { wide: WIDE_LANE, rows }], layout_labels(decoded, first))
        }
        Contents::Survey(found) => {
            let lanes = survey_lanes(&scale, found, first);
            let share = (found.described * 100).checked_div(found.bytes).unwrap_or(0);
            let sentence = format!(
                "{}; {share} % of {} have an explanation",
                text::count(found.regions.len(), "region"),
                text::count(found.bytes, "byte")
            );
            (sentence, lanes, survey_labels(found, first))
        }
        Contents::Bytes => ("no layout: only the bytes are known".to_owned(), Vec::new(), Vec::new()),
    };
    Picture {
        title: short_name(side),
        sentence,
        facts,
        scale,
        strips: vec![strip],
        strip_wide: 170.0,
        gap: 0.0,
        bands: Vec::new(),
        lanes,
        labels,
        cautions,
    }
    .draw()
}

fn of_layout(decoded: &Decoded) -> String {
    let leaves = || decoded.fields.iter().filter(|f| f.shape == Shape::Leaf);
    let odd = leaves().filter(|f| f.state != FieldState::Fine).count();
    let fields = match (odd, leaves().count()) {
        (0, all) => format!("{} make sense", text::count(all, "field")),
        (odd, all) => format!("{odd} of {} make no sense", text::count(all, "field")),
    };
    let sealed = decoded.checks.iter().filter(|c| c.seal == Seal::Sealed).count();
    match decoded.checks.len() {
        0 => format!("{fields}; the layout has no check"),
        all => format!("{fields}; {sealed} of {} sealed", text::count(all, "check")),
    }
}

/// The role that most bytes of each row have.
pub(super) fn role_rows(scale: &Scale, decoded: &Decoded, first: u64) -> Vec<Option<Fill>> {
    let mut weights = vec![[0_u64; Role::ALL.len()]; scale.rows];
    let mut weigh = |at: Range<u64>, role: Role| {
        let index = Role::ALL.iter().position(|r| *r == role).unwrap_or(0);
        for row in scale.rows_of(&at) {
            let shown = scale.row(row);
            let bytes = at.end.min(shown.end).saturating_sub(at.start.max(shown.start));
            if let Some(weight) = weights.get_mut(row).and_then(|w| w.get_mut(index)) {
                *weight += bytes;
            }
        }
    };
    for field in decoded.fields.iter().filter(|f| f.shape == Shape::Leaf) {
        field.spans.iter().for_each(|&span| weigh(span.addresses(first), field.role));
    }
    for placed in decoded.checks.iter().filter_map(|c| c.placed.as_ref()) {
        weigh(placed.stored_at.addresses(first), Role::Check);
    }
    let heaviest = |weights: &[u64; Role::ALL.len()]| {
        // Filler shows only where nothing else is, however much of it there is.
        let filler = Role::ALL.len() - 1;
        let of_others = weights.iter().zip(Role::ALL).take(filler).max_by_key(|(w, _)| **w);
        of_others
            .filter(|(w, _)| **w > 0)
            .map(|(_, role)| Fill::Role(role))
            .or_else(|| (weights.last().is_some_and(|w| *w > 0)).then_some(Fill::Role(Role::Filler)))
    };
    weights.iter().map(heaviest).collect()
}

/// A label for each field at the top of the layout, and for each check.
fn layout_labels(decoded: &Decoded, first: u64) -> Vec<Label> {
    let mut labels = Vec::new();
    for (index, field) in decoded.fields.iter().enumerate().filter(|(_, f)| f.depth == 0) {
        if field.spans.iter().all(|s| s.is_empty())
            || field.role == Role::Filler && field.shape == Shape::Leaf
        {
            continue;
        }
        let inside = || {
            let below = decoded.fields.iter().skip(index + 1).take_while(|f| f.depth > 0);
            below.filter(|f| f.shape == Shape::Leaf)
        };
        let odd = |f: &Field| f.state != FieldState::Fine;
        let said = match field.shape {
            Shape::Leaf => format!("{} {}", field.name, value(field)),
            Shape::Group | Shape::Row => {
                format!("{}: {}", field.name, text::count(inside().count(), "field"))
            }
            Shape::Table => {
                let rows = decoded.fields.iter().filter(|f| f.parent == Some(index)).count();
                let recorded = inside().filter(|f| f.at_rest == Some(false)).count();
                let recorded = match recorded {
                    0 => String::new(),
                    n => format!(", {} recorded", text::count(n, "field")),
                };
                format!("{}: {}{recorded}", field.name, text::count(rows, "row"))
            }
        };
        let is_odd = odd(field) || inside().any(odd);
        let said = if is_odd { format!("{said}: makes no sense") } else { said };
        labels.push(Label::new(field.cover().addresses(first), said, Some(Fill::Role(field.role)), is_odd));
    }
    for check in &decoded.checks {
        if let Some(placed) = &check.placed {
            let said = format!("check {}: {}", check.name, check.seal.word());
            let is_broken = check.seal != Seal::Sealed;
            labels.push(Label::new(
                placed.stored_at.addresses(first),
                said,
                Some(Fill::Role(Role::Check)),
                is_broken,
            ));
        }
    }
    labels
}

fn survey_lanes(scale: &Scale, found: &Survey, first: u64) -> Vec<Lane> {
    let mut rows = vec![None; scale.rows];
    for region in found.regions.iter().filter(|r| !matches!(r.kind, Kind::Fill(_))) {
        rows.get_mut(scale.rows_of(&region.at.addresses(first))).unwrap_or_default().fill(Some(Fill::Region));
    }
    let mut lanes = vec![Lane { wide: WIDE_LANE, rows }];
    let differing = || found.stretches.iter().filter(|s| s.class != ByteClass::Same);
    if differing().next().is_some() {
        let mut rows = vec![None; scale.rows];
        for stretch in differing() {
            let marked = scale.rows_of(&stretch.at.addresses(first));
            rows.get_mut(marked).unwrap_or_default().fill(Some(Fill::Differs));
        }
        lanes.push(Lane { wide: super::LANE, rows });
    }
    lanes
}

/// A label for each region that is in no other one; what is blank is seen.
fn survey_labels(found: &Survey, first: u64) -> Vec<Label> {
    let mut outer = 0;
    let mut labels = Vec::new();
    for region in &found.regions {
        let is_inside = region.at.end <= outer;
        outer = outer.max(region.at.end);
        if is_inside || matches!(region.kind, Kind::Fill(_)) {
            continue;
        }
        let said = survey::said(&region.kind, first);
        let sure = survey::share(region.probability());
        let said = if said.is_empty() { String::new() } else { format!(" {said}") };
        let bytes = text::count(region.at.len(), "byte");
        let said = format!("{}{said}, {bytes}, {sure} sure", region.kind.word());
        labels.push(Label::new(region.at.addresses(first), said, None, false));
    }
    labels
}
