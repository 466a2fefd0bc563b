//! A layout over an image.
//!
//! Whatever the layout says and the image holds, decoding takes bounded time and memory: at most [`MAX_FIELDS`]
//! fields come out, a table has at most [`MAX_ROWS`] rows, and all steps and bytes looked at together are at
//! most [`MAX_WORK`] and eight times the image. Where a limit is reached, a finding says so.

mod checks;
mod compose;
pub(super) mod leaf;
mod place;
mod tree;

use std::collections::HashMap;
use std::sync::Arc;

use super::expr::Expr;
use super::model::{ItemId, Model, ScopeId};
use super::{Decoded, Field, FieldState, Layout, Role};
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::{count, does};

/// The most rows that come out of one table.
pub const MAX_ROWS: usize = 65_536;

/// The most fields that come out of one image.
pub const MAX_FIELDS: usize = 200_000;

/// The most steps, before what the size of the image adds.
pub const MAX_WORK: usize = 4 << 20;

/// How many names of absent fields a finding tells.
const NAMES_TOLD: usize = 6;

/// What a field came from; as many as there are fields.
#[derive(Debug, Clone)]
pub(super) struct Trace {
    /// The item; `None` for a row that is no value.
    pub item: Option<ItemId>,
    /// How many of the field's spans are its own; the others are copies.
    pub own: usize,
    /// For each copy, which has as many spans as the field's own, whether every bit is the other way.
    pub inverted: Vec<bool>,
}

/// What a layout says about an image, with what each field came from.
pub(super) struct Tree {
    pub decoded: Decoded,
    pub traces: Vec<Trace>,
}

/// Index of a frame.
pub(super) type FrameId = usize;

/// One scope at one place of the image.
#[derive(Debug)]
struct Frame {
    scope: ScopeId,
    parent: Option<FrameId>,
    /// The group, row or table field it belongs to; `None` for the top.
    field: Option<usize>,
    start: usize,
    /// Fields inside end here at the latest.
    limit: usize,
    /// Where a field without a place begins; `None` when that cannot be told.
    next: Option<usize>,
    /// The end of what lies furthest behind.
    reach: usize,
    first_slot: usize,
    row: usize,
    depth: usize,
    mirrors: Vec<Mirror>,
}

/// The copy of a whole group or table that a frame lies in.
#[derive(Debug, Clone, Copy)]
struct Mirror {
    from: usize,
    to: usize,
    inverted: bool,
}

/// What one item came to in one frame.
#[derive(Debug, Clone, Default)]
struct Slot {
    state: SlotState,
    start: usize,
    end: Option<usize>,
    field: Option<usize>,
    number: Option<i128>,
    frame: Option<FrameId>,
    rows: Vec<FrameId>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum SlotState {
    /// It is not in this image.
    #[default]
    Missing,
    /// It should be, and its bytes are not.
    Absent,
    /// It is there.
    Present,
}

/// One decoding.
struct Run<'a> {
    model: &'a Model,
    image: &'a Image,
    bytes: &'a [u8],
    fields: Vec<Field>,
    traces: Vec<Trace>,
    frames: Vec<Frame>,
    slots: Vec<Slot>,
    findings: Vec<Finding>,
    /// Checks whose places are worked out when everything else is known.
    due: Vec<(FrameId, usize)>,
    work: usize,
    stopped: bool,
    /// Some scope was decoded in another order than that of the layout.
    permuted: bool,
    absent: usize,
    absent_names: Vec<String>,
    /// For each item and sort of oddity, how often it was met, and where it was not told.
    odd: HashMap<(ItemId, Code), (usize, Option<Span>)>,
}

/// What `layout` says about `image`. Bounded work for any layout and any image; see [`MAX_WORK`].
#[must_use]
pub fn decode(layout: &Layout, image: &Image) -> Decoded {
    decode_with(layout, image, true).decoded
}

/// As [`decode`], without the checks: those may cover everything, and cost as much.
pub(super) fn decode_fields(layout: &Layout, image: &Image) -> Tree {
    decode_with(layout, image, false)
}

fn decode_with(layout: &Layout, image: &Image, checks_too: bool) -> Tree {
    let mut run = Run::over(&layout.model, image);
    let checks = if checks_too { run.checks() } else { Vec::new() };
    run.tell_more_odd();
    run.tell_absent();
    let (fields, traces) = if run.permuted {
        tree::in_layout_order(run.model, run.fields, run.traces)
    } else {
        (run.fields, run.traces)
    };
    Tree { decoded: Decoded { fields, checks, findings: run.findings }, traces }
}

/// Whether a condition holds at the top of `layout` over `image`.
pub(super) fn holds(layout: &Layout, image: &Image, that: &Expr) -> bool {
    let run = Run::over(&layout.model, image);
    !run.frames.is_empty() && run.holds(that, 0)
}

impl<'a> Run<'a> {
    /// Decodes every field.
    fn over(model: &'a Model, image: &'a Image) -> Self {
        // Most layouts give about as many fields as they have items; growing in steps would cost more.
        let likely = model.items.len().min(1024);
        let mut run = Run {
            model,
            image,
            bytes: image.bytes(),
            fields: Vec::with_capacity(likely),
            traces: Vec::with_capacity(likely),
            frames: Vec::new(),
            slots: Vec::with_capacity(likely),
            findings: Vec::new(),
            due: Vec::new(),
            work: MAX_WORK.saturating_add(image.len().saturating_mul(8)),
            stopped: false,
            permuted: false,
            absent: 0,
            absent_names: Vec::new(),
            odd: HashMap::new(),
        };
        if !model.scopes.is_empty() {
            let top = run.frame(0, None, Span::of(0, image.len()), 0);
            run.scope(top, None);
        }
        run
    }

    /// Takes `n` steps; false when there are none left, which is told once.
    fn spend(&mut self, n: usize) -> bool {
        if self.stopped {
            return false;
        }
        if self.work < n || self.fields.len() >= MAX_FIELDS {
            self.stopped = true;
            let seen = if self.work < n {
                "decoding took more steps than it may".to_string()
            } else {
                format!("more than {MAX_FIELDS} fields came out")
            };
            self.tell_limit(seen, "fields");
            return false;
        }
        self.work -= n;
        true
    }

    /// Tells that a limit was reached, and what is left out after it.
    fn tell_limit(&mut self, seen: String, left_out: &str) {
        self.findings.push(Finding::new(
            Weight::Doubt,
            Code::LimitReached,
            seen,
            format!(
                "the layout asks for more than an image of this size can mean; the {left_out} after this are left out"
            ),
            "look at the row counts and sizes that the layout takes from the image, or name another layout with --layout",
        ));
    }

    /// Puts a row into the tree.
    fn push(&mut self, field: Field, trace: Trace) -> usize {
        self.fields.push(field);
        self.traces.push(trace);
        self.fields.len() - 1
    }

    /// The path of a field called `name` in `frame`.
    fn path(&self, frame: FrameId, name: &str) -> String {
        match self.frames[frame].field.map(|f| &self.fields[f].path) {
            None => name.to_string(),
            Some(parent) => {
                let mut path = String::with_capacity(parent.len() + 1 + name.len());
                path.push_str(parent);
                if !name.starts_with('[') {
                    path.push('.');
                }
                path.push_str(name);
                path
            }
        }
    }

    /// A field with nothing in it yet.
    fn blank(&self, frame: FrameId, id: ItemId, name: Arc<str>) -> Field {
        let item = &self.model.items[id];
        Field {
            path: self.path(frame, &name),
            name,
            shape: super::Shape::Leaf,
            depth: self.frames[frame].depth,
            parent: self.frames[frame].field,
            spans: Vec::new(),
            bits: None,
            kind: item.kind.clone(),
            role: item.role,
            value: None,
            text: String::new(),
            unit: item.unit.clone(),
            at_rest: None,
            state: FieldState::Fine,
            editable: !item.fixed && !matches!(item.role, Role::Check | Role::Reserved),
            note: item.note.clone(),
            caution: item.caution.clone(),
        }
    }

    /// Counts a field that is outside the image, for one finding about all of them.
    fn note_absent(&mut self, index: usize) {
        self.absent += 1;
        if self.absent_names.len() < NAMES_TOLD {
            self.absent_names.push(self.fields[index].path.clone());
        }
    }

    fn tell_absent(&mut self) {
        if self.absent == 0 {
            return;
        }
        let more = if self.absent > NAMES_TOLD { ", …" } else { "" };
        self.findings.push(Finding::new(
            Weight::Doubt,
            Code::FieldAbsent,
            format!(
                "{} {} outside the bytes that were read: {}{more}",
                count(self.absent, "field"),
                does(self.absent, "lies", "lie"),
                self.absent_names.join(", ")
            ),
            "the image is cut short or has gaps, or a number that says where something lies is wrong",
            "compare the size with the chip by `readproof vet IMAGE --chip MARKING`, and look at the fields that say where others lie",
        ));
    }
}

impl Trace {
    /// The trace of a field whose spans are all its own.
    fn plain(item: Option<ItemId>) -> Self {
        Trace { item, own: usize::MAX, inverted: Vec::new() }
    }
}

/// The part of `span` inside the image.
fn clipped(span: Span, len: usize) -> Span {
    Span::new(span.start.min(len), span.end.min(len))
}
