//! Fields laid out as far as their places need no image.

use super::expr::Expr;
use super::model::{Form, ItemPlace, Model, Origin, Piece, ScopeId};
use crate::span::Span;
use crate::value::Size;

/// A field whose place needs no image to be known.
pub(super) struct Laid {
    pub span: Span,
    pub item: usize,
    /// The scopes it lies in differ for two fields that exclude each other.
    pub conditional: bool,
}

/// Lays fields out as far as their places are plain numbers.
pub(super) struct Plan<'m> {
    model: &'m Model,
    pub laid: Vec<Laid>,
    /// Some place hangs on the image, so that holes cannot be told.
    pub open: bool,
    /// Steps that are left.
    pub steps: usize,
}

/// The offset that is `at` from `origin`, in a scope that begins at `base`; `None` when it takes an image to be known.
fn offset(origin: Origin, at: &Expr, base: usize) -> Option<usize> {
    let from = match origin {
        Origin::Parent => base,
        Origin::Image => 0,
        Origin::End => return None,
    };
    from.checked_add(constant(at)?)
}

/// What can be told about an item: where it ends.
type End = Option<usize>;

impl<'m> Plan<'m> {
    /// Lays out `scope` as if it began at offset 0, in at most `steps` steps.
    pub(super) fn of(model: &'m Model, scope: ScopeId, steps: usize) -> Self {
        let mut plan = Plan { model, laid: Vec::new(), open: false, steps };
        if scope < model.scopes.len() {
            plan.scope(scope, 0, false);
        }
        plan
    }

    /// Lays out a scope that begins at `base`; gives the end of what lies furthest behind.
    fn scope(&mut self, scope: ScopeId, base: usize, conditional: bool) -> End {
        let mut next = Some(base);
        let mut reach = Some(base);
        let slots = self.model.scopes[scope].order.clone();
        for slot in slots {
            if !self.step() {
                return None;
            }
            let id = self.model.scopes[scope].slots[slot];
            let item = &self.model.items[id];
            if matches!(item.form, Form::Computed(_)) {
                continue;
            }
            let conditional = conditional || item.when.is_some();
            let (end, inside) = match &item.place {
                ItemPlace::Pieces(pieces) => {
                    (self.pieces(id, pieces, base), pieces.iter().all(|p| p.origin != Origin::Image))
                }
                place => {
                    let (start, inside) = match place {
                        ItemPlace::At(origin, at) => (offset(*origin, at, base), *origin != Origin::Image),
                        _ => (next, true),
                    };
                    (start.and_then(|start| self.item(id, base, start, conditional)), inside)
                }
            };
            self.open |= end.is_none();
            if inside {
                // What follows something conditional lies in one of two places.
                next = end.filter(|_| item.when.is_none());
                reach = reach.zip(end).map(|(a, b)| a.max(b));
            }
        }
        reach
    }

    /// Lays out an item in pieces and its copies; other fields may have the other bits of their bytes.
    fn pieces(&mut self, id: usize, pieces: &[Piece], base: usize) -> End {
        let place = |p: &Piece| Some(Span::of(offset(p.origin, &p.at, base)?, p.bytes));
        let spans: Vec<Span> = pieces.iter().map(place).collect::<Option<_>>()?;
        let first = spans.first()?.start;
        for copy in &self.model.items[id].copies {
            let Some(to) = offset(copy.origin, &copy.at, base) else { continue };
            for span in &spans {
                if let Some(start) = to.checked_add(span.start).and_then(|at| at.checked_sub(first)) {
                    self.put(Span::of(start, span.len()), id, true);
                }
            }
        }
        spans.iter().for_each(|span| self.put(*span, id, true));
        spans.iter().map(|span| span.end).max()
    }

    /// Lays out an item of a scope that begins at `base`.
    fn item(&mut self, id: usize, base: usize, start: usize, conditional: bool) -> End {
        let model = self.model;
        let item = &model.items[id];
        let size = item.size.as_ref().map(constant);
        let end = match &item.form {
            Form::Computed(_) => Some(start),
            Form::Leaf(kind) => {
                let bytes = match (size, kind.size()) {
                    (Some(size), _) => size?,
                    (None, Size::Found | Size::Given) => return None,
                    (None, fixed) => fixed.bytes()?,
                };
                let span = Span::of(start, bytes);
                self.put(span, id, conditional);
                for copy in &item.copies {
                    if let Some(at) = offset(copy.origin, &copy.at, base) {
                        self.put(Span::of(at, bytes), id, true);
                    }
                }
                Some(span.end)
            }
            Form::Group(scope) => {
                let reach = self.scope(*scope, start, conditional);
                match size {
                    Some(size) => size.and_then(|size| start.checked_add(size)),
                    None => reach,
                }
            }
            Form::Table(table) => {
                let rows = table.rows.as_ref().and_then(constant);
                let stride = table.stride.as_ref().map(constant);
                let (Some(rows), None) = (rows, &table.until) else {
                    self.open = true;
                    return None;
                };
                if table.going.is_some() || stride == Some(None) {
                    self.open = true;
                    return None;
                }
                let mut at = start;
                for _ in 0..rows.min(super::MAX_ROWS) {
                    if !self.step() {
                        return None;
                    }
                    let end = self.scope(table.scope, at, conditional);
                    at = match stride.flatten() {
                        Some(stride) => at.checked_add(stride)?,
                        None => end?,
                    };
                }
                match size {
                    Some(size) => size.and_then(|size| start.checked_add(size)),
                    None => Some(at),
                }
            }
            Form::ByTag(tag) => {
                for slot in tag.slots() {
                    if !self.step() {
                        return None;
                    }
                    let shape = model.scopes[item.scope].slots[slot];
                    self.item(shape, base, start, true);
                }
                size.flatten().and_then(|size| start.checked_add(size))
            }
        };
        // What a field with copies has inside lies there, too.
        if !matches!(item.form, Form::Leaf(_)) {
            for copy in &item.copies {
                match offset(copy.origin, &copy.at, base).zip(end) {
                    Some((at, end)) => self.put(Span::of(at, end.saturating_sub(start)), id, true),
                    None => self.open = true,
                }
            }
        }
        end
    }

    /// Takes a step; false when there are none left.
    fn step(&mut self) -> bool {
        let left = self.steps.checked_sub(1);
        self.open |= left.is_none();
        self.steps = left.unwrap_or(0);
        left.is_some()
    }

    fn put(&mut self, span: Span, item: usize, conditional: bool) {
        self.laid.push(Laid { span, item, conditional });
    }
}

pub(super) fn constant(expr: &Expr) -> Option<usize> {
    expr.constant().and_then(|n| usize::try_from(n).ok())
}
