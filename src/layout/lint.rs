//! What can be said about a layout without an image: what is wrong, and what is worth a look.

use super::expr::Expr;
use super::model::{Form, ItemPlace, Mark, Model, Origin};
use super::plan::{Laid, Plan, constant};
use super::{Layout, Role, marks};
use crate::notation::{Problem, TextSpan};
use crate::span::Span;
use crate::wording::{count, does};

/// How many steps are taken to lay out fields for the search for overlaps, holes and rows that are too short.
const MAX_STEPS: usize = 200_000;

/// How much a remark weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RemarkWeight {
    /// The layout cannot be used.
    Problem,
    /// The layout works; this is worth a look.
    Remark,
}

/// Something about the text of a layout.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// How much it weighs.
    pub weight: RemarkWeight,
    /// What it is and where.
    pub problem: Problem,
}

/// Everything there is to say about a layout's text, in the order of its places; the layout when it can be used.
#[must_use]
pub fn lint(text: &str) -> (Option<Layout>, Vec<Remark>) {
    match super::read(text) {
        Err(problems) => {
            let remarks =
                problems.into_iter().map(|problem| Remark { weight: RemarkWeight::Problem, problem });
            (None, remarks.collect())
        }
        Ok(layout) => {
            let mut remarks = Vec::new();
            remarks_on(&layout.model, &mut remarks);
            remarks.sort_by_key(|p| p.span);
            let remarks =
                remarks.into_iter().map(|problem| Remark { weight: RemarkWeight::Remark, problem }).collect();
            (Some(layout), remarks)
        }
    }
}

/// The largest size an image of this layout can have, when all its alternatives have one.
fn largest(model: &Model) -> Option<usize> {
    let sizes: Vec<usize> = model.fits.iter().flat_map(|a| a.sizes.iter().map(|s| s.most)).collect();
    let bounded = model.fits.iter().all(|a| !a.sizes.is_empty());
    sizes.into_iter().max().filter(|&most| bounded && most < usize::MAX)
}

/// What makes a layout unusable, as far as it can be told without an image.
pub(super) fn static_problems(model: &Model, problems: &mut Vec<Problem>) {
    check_names(model, problems);
    rows_too_long(model, problems);
    if let Some(largest) = largest(model) {
        let mut told = std::collections::HashSet::new();
        for laid in Plan::of(model, 0, MAX_STEPS).laid {
            if laid.span.end > largest && told.insert(laid.item) {
                let item = &model.items[laid.item];
                problems.push(Problem::new(
                    item.span,
                    format!(
                        "the field {} at {} lies outside an image of {}",
                        item.name,
                        laid.span,
                        count(largest, "byte")
                    ),
                    "a place inside the sizes that fits allows",
                ));
            }
        }
    }
}

/// Check names: each once in its list, and those that marks name exist.
fn check_names(model: &Model, problems: &mut Vec<Problem>) {
    for scope in &model.scopes {
        let mut seen = std::collections::HashSet::new();
        for check in &scope.checks {
            if !seen.insert(&check.name) {
                problems.push(
                    Problem::new(
                        check.span,
                        format!("the name {} is that of two checks of one list", check.name),
                        "names that differ",
                    )
                    .fix("give one of them another name"),
                );
            }
        }
    }
    let Some(top) = model.scopes.first() else { return };
    for mark in model.fits.iter().flat_map(|a| &a.marks) {
        if let Mark::Sealed { check, span, .. } = mark
            // The check of a group or row is only known with an image.
            && !check.contains(['.', '['])
            && !top.checks.iter().any(|c| c.name == *check)
        {
            let names = top.checks.iter().map(|c| &*c.name);
            problems.push(
                Problem::new(
                    *span,
                    format!("a mark asks for the check {check}, which the layout does not have"),
                    "the name of a check of this layout",
                )
                .suggest(check, names),
            );
        }
    }
}

/// Fields of a row that reach past it.
fn rows_too_long(model: &Model, problems: &mut Vec<Problem>) {
    let mut steps = MAX_STEPS;
    let mut told = std::collections::HashSet::new();
    for item in &model.items {
        let (scope, bytes, what) = match &item.form {
            Form::Table(table) => {
                let Some(stride) = table.stride.as_ref().and_then(constant) else { continue };
                (table.scope, stride, "row")
            }
            Form::Group(scope) => {
                let Some(size) = item.size.as_ref().and_then(constant) else { continue };
                (*scope, size, "group")
            }
            _ => continue,
        };
        if what == "row" && bytes == 0 {
            problems.push(Problem::new(
                item.span,
                format!("the rows of {} are 0 bytes long", item.name),
                "a stride of at least 1",
            ));
        }
        let plan = Plan::of(model, scope, steps);
        steps = plan.steps;
        for laid in plan.laid.iter().filter(|l| l.span.end > bytes) {
            let inner = &model.items[laid.item];
            // What counts from the start of the image, and copies, may lie anywhere.
            let elsewhere = !inner.copies.is_empty()
                || match &inner.place {
                    ItemPlace::Next => false,
                    ItemPlace::At(origin, _) => *origin == Origin::Image,
                    ItemPlace::Pieces(pieces) => pieces.iter().any(|p| p.origin == Origin::Image),
                };
            if elsewhere || !told.insert(laid.item) {
                continue;
            }
            problems.push(Problem::new(
                inner.span,
                format!(
                    "the field {} at {} reaches past its {what} of {}",
                    inner.name,
                    laid.span,
                    count(bytes, "byte")
                ),
                format!("a place inside the {what}"),
            ));
        }
    }
}

/// What is worth a look in a layout that works.
fn remarks_on(model: &Model, remarks: &mut Vec<Problem>) {
    let plan = Plan::of(model, 0, MAX_STEPS);
    overlaps(model, &plan, remarks);
    holes(model, &plan, remarks);
    weak_marks(model, remarks);
    for item in &model.items {
        if item.role == Role::Record
            && item.rest.is_none()
            && matches!(item.form, Form::Leaf(_))
            && !item.name.is_empty()
        {
            remarks.push(Problem::new(
                item.span,
                format!("the field {} is a Record without a rest value", item.name),
                "rest: what it holds when nothing is recorded, often 0xFF",
            ));
        }
        if item.when.as_ref().and_then(Expr::constant) == Some(0) {
            remarks.push(Problem::new(
                item.span,
                format!("the field {} is never there: its condition is 0", item.name),
                "a condition that can hold",
            ));
        }
        if super::expr::Place::WORDS.iter().any(|(word, _)| *word == &*item.name) {
            remarks.push(Problem::new(
                item.span,
                format!(
                    "the field {} is also a word of expressions; where it stands, the field is meant",
                    item.name
                ),
                "another name",
            ));
        }
    }
}

fn overlaps(model: &Model, plan: &Plan<'_>, remarks: &mut Vec<Problem>) {
    let mut sure: Vec<&Laid> = plan.laid.iter().filter(|l| !l.conditional && !l.span.is_empty()).collect();
    sure.sort_by_key(|l| (l.span.start, l.span.end));
    let mut told = std::collections::HashSet::new();
    let mut last: Option<&Laid> = None;
    for laid in sure {
        if let Some(before) = last
            && before.span.overlaps(laid.span)
            && told.insert((before.item, laid.item))
        {
            let (a, b) = (&model.items[before.item], &model.items[laid.item]);
            remarks.push(Problem::new(
                b.span,
                format!("the field {} at {} lies over {} at {}", b.name, laid.span, a.name, before.span),
                "fields side by side; bits of one byte are told apart by low",
            ));
        }
        if last.is_none_or(|before| before.span.end <= laid.span.end) {
            last = Some(laid);
        }
    }
}

fn holes(model: &Model, plan: &Plan<'_>, remarks: &mut Vec<Problem>) {
    let sizes: Vec<_> = model.fits.iter().flat_map(|a| &a.sizes).collect();
    let size = match sizes.as_slice() {
        [one] if one.least == one.most && !plan.open => one.most,
        _ => return,
    };
    let mut spans: Vec<Span> = plan.laid.iter().map(|l| l.span).collect();
    for check in model.scopes.first().map(|s| s.checks.as_slice()).unwrap_or_default() {
        if let super::model::Stretch::Bytes(Origin::Parent | Origin::Image, at, bytes) = &check.stored
            && let (Some(at), Some(bytes)) = (constant(at), constant(bytes))
        {
            spans.push(Span::of(at, bytes));
        }
    }
    spans.sort_unstable();
    let mut from = 0;
    let mut holes = Vec::new();
    for span in spans.into_iter().chain([Span::of(size, 0)]) {
        if from < span.start.min(size) {
            holes.push(Span::new(from, span.start.min(size)));
        }
        from = from.max(span.end);
    }
    if holes.is_empty() {
        return;
    }
    const TOLD: usize = 8;
    let sum: usize = holes.iter().map(|h| h.len()).sum();
    let list: Vec<_> = holes.iter().take(TOLD).map(Span::to_string).collect();
    let more = if holes.len() > TOLD { ", …" } else { "" };
    remarks.push(Problem::new(
        TextSpan::default(),
        format!(
            "{sum} of {} {} to no field: {}{more}",
            count(size, "byte"),
            does(sum, "belongs", "belong"),
            list.join(", ")
        ),
        "a field of the role Filler or Reserved where a byte is known to mean nothing",
    ));
}

fn weak_marks(model: &Model, remarks: &mut Vec<Problem>) {
    if model.fits.is_empty() {
        remarks.push(Problem::new(
            TextSpan::default(),
            "the layout has no marks, so that it is never found for an image unasked",
            "fits: (bytes: […], marks: […])",
        ));
    }
    for alternative in &model.fits {
        if alternative.bits() < marks::LEAST_EVIDENCE_UNSIZED {
            remarks.push(Problem::new(
                alternative.span,
                format!(
                    "the marks of this alternative give {} of evidence",
                    count(alternative.bits() as usize, "bit")
                ),
                format!(
                    "at least {} bits, lest other memories are taken for this one",
                    marks::LEAST_EVIDENCE_UNSIZED
                ),
            ));
        }
    }
}
