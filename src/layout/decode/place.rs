//! Where things lie: frames, slots, and what expressions ask about them.

use super::super::expr::{Expr, FieldUse, Outcome, Place, Surroundings, Target, Undefined, Want};
use super::super::model::{Origin, ScopeId};
use super::{Frame, FrameId, Run, Slot, SlotState};
use crate::layout::FieldState;
use crate::span::Span;
use crate::value::Value;

/// What a name leads to.
pub(super) enum Located {
    /// A field.
    Slot(usize),
    /// A row of a table.
    Row(FrameId),
}

/// Where an expression stands.
struct At<'r, 'a> {
    run: &'r Run<'a>,
    frame: FrameId,
}

impl<'a> Run<'a> {
    /// A new frame for `scope`, its slots empty, in the frame and for the field of `around`. `room` goes from where it
    /// begins to where fields inside end at the latest.
    pub(super) fn frame(
        &mut self,
        scope: ScopeId,
        around: Option<(FrameId, usize)>,
        room: Span,
        row: usize,
    ) -> FrameId {
        let first_slot = self.slots.len();
        self.slots.resize_with(first_slot + self.model.scopes[scope].slots.len(), Slot::default);
        let parent = around.map(|(parent, _)| parent);
        self.frames.push(Frame {
            scope,
            parent,
            field: around.map(|(_, field)| field),
            start: room.start,
            limit: room.end,
            next: Some(room.start),
            reach: room.start,
            first_slot,
            row,
            depth: parent.map_or(0, |parent| self.frames[parent].depth + 1),
            mirrors: parent.map(|parent| self.frames[parent].mirrors.clone()).unwrap_or_default(),
        });
        self.frames.len() - 1
    }

    /// The number that `expr` comes to at the place of `frame`.
    pub(super) fn number(&self, expr: &Expr, frame: FrameId) -> Result<i128, Undefined> {
        match expr.constant() {
            Some(number) => Ok(number),
            None => expr.number(&At { run: self, frame }),
        }
    }

    /// The number of bytes or rows that `expr` comes to.
    pub(super) fn count(&self, expr: &Expr, frame: FrameId) -> Option<usize> {
        self.number(expr, frame).ok().and_then(|n| usize::try_from(n).ok())
    }

    /// Whether a condition holds; one that cannot be told does not.
    pub(super) fn holds(&self, expr: &Expr, frame: FrameId) -> bool {
        self.number(expr, frame).is_ok_and(|n| n != 0)
    }

    /// What `expr` comes to, where text counts too.
    pub(super) fn outcome<T>(
        &self,
        expr: &Expr,
        frame: FrameId,
        take: impl FnOnce(Result<Outcome<'_>, Undefined>) -> T,
    ) -> T {
        take(expr.evaluate(&At { run: self, frame }))
    }

    /// The offset in the image of `at`, counted from `origin`.
    pub(super) fn offset(&self, origin: Origin, at: &Expr, frame: FrameId) -> Option<usize> {
        let base = match origin {
            Origin::Parent => self.frames[frame].start,
            Origin::Image => 0,
            Origin::End => self.frames[frame].limit,
        };
        let at = self.number(at, frame).ok()?;
        usize::try_from(i128::try_from(base).ok()?.checked_add(at)?).ok()
    }

    /// Where fields that count from `origin` end at the latest.
    pub(super) fn limit(&self, origin: Origin, frame: FrameId) -> usize {
        match origin {
            Origin::Image => self.bytes.len(),
            Origin::Parent | Origin::End => self.frames[frame].limit,
        }
    }

    /// What the first target of `field` that is there leads to.
    pub(super) fn locate(&self, field: &FieldUse, frame: FrameId) -> Option<Located> {
        field.targets.iter().find_map(|target| self.target(field, target, frame))
    }

    fn target(&self, field: &FieldUse, target: &Target, frame: FrameId) -> Option<Located> {
        let mut at = frame;
        for _ in 0..target.up {
            at = self.frames[at].parent?;
        }
        let last = target.slots.len() - 1;
        for (n, &(slot, step)) in target.slots.iter().enumerate() {
            let index = self.frames[at].first_slot + slot;
            let slot = self.slots.get(index)?;
            let Some(row) = &field.steps[step].row else {
                if n == last {
                    return (slot.state != SlotState::Missing).then_some(Located::Slot(index));
                }
                at = slot.frame?;
                continue;
            };
            let row = *slot.rows.get(self.count(row, frame)?)?;
            if n == last {
                let bare = self.model.scopes[self.frames[row].scope].slots.first();
                let bare = bare.is_some_and(|&id| self.model.items[id].name.is_empty());
                return Some(if bare {
                    Located::Slot(self.frames[row].first_slot)
                } else {
                    Located::Row(row)
                });
            }
            at = row;
        }
        None
    }

    /// The bytes of what a name leads to; those of a gathered field piece by piece.
    pub(super) fn spans_of(&self, field: &FieldUse, frame: FrameId) -> Option<Vec<Span>> {
        match self.locate(field, frame)? {
            Located::Row(row) => Some(vec![Span::new(self.frames[row].start, self.frames[row].reach)]),
            Located::Slot(slot) => {
                let slot = &self.slots[slot];
                let field = slot.field?;
                if slot.frame.is_none() && slot.rows.is_empty() {
                    let own = self.traces[field].own.min(self.fields[field].spans.len());
                    return Some(self.fields[field].spans[..own].to_vec());
                }
                Some(vec![Span::new(slot.start, slot.end?)])
            }
        }
    }
}

impl Surroundings for At<'_, '_> {
    fn field<'s>(&'s self, field: &'s FieldUse) -> Result<Outcome<'s>, Undefined> {
        let run = self.run;
        let absent = || Undefined::Absent(field.text.clone());
        let located = run.locate(field, self.frame);
        let here = run.frames[self.frame].start as i128;
        let (state, start, end) = match &located {
            None if matches!(field.want, Want::Present | Want::Fine | Want::Count) => {
                return Ok(Outcome::Number(0));
            }
            None => return Err(absent()),
            Some(Located::Row(row)) => {
                (SlotState::Present, run.frames[*row].start, Some(run.frames[*row].reach))
            }
            Some(Located::Slot(slot)) => {
                let slot = &run.slots[*slot];
                (slot.state, slot.start, slot.end)
            }
        };
        let slot = match located {
            Some(Located::Slot(slot)) => Some(&run.slots[slot]),
            _ => None,
        };
        let number = match field.want {
            Want::Start => start as i128 - here,
            Want::End => end.ok_or_else(absent)? as i128 - here,
            Want::Size => end.ok_or_else(absent)?.saturating_sub(start) as i128,
            Want::Count => slot.map_or(0, |s| s.rows.len()) as i128,
            Want::Present => i128::from(state == SlotState::Present),
            Want::Fine => {
                let fine = |index: usize| run.fields[index].state == FieldState::Fine;
                i128::from(state == SlotState::Present && slot.and_then(|s| s.field).is_none_or(fine))
            }
            Want::Value => {
                let slot = slot.ok_or_else(|| Undefined::NoNumber(field.text.clone()))?;
                if slot.state != SlotState::Present {
                    return Err(absent());
                }
                match (slot.number, slot.field.and_then(|f| run.fields[f].value.as_ref())) {
                    (Some(number), _) => number,
                    (None, Some(Value::Text(text))) => return Ok(Outcome::Text(text)),
                    _ => return Err(Undefined::NoNumber(field.text.clone())),
                }
            }
        };
        Ok(Outcome::Number(number))
    }

    fn place(&self, place: Place) -> Result<i128, Undefined> {
        let frame = &self.run.frames[self.frame];
        let next = || frame.next.ok_or_else(|| Undefined::Absent("what lies before".to_string()));
        Ok(match place {
            Place::Here => frame.start as i128,
            Place::Next => next()? as i128 - frame.start as i128,
            Place::Row => self.run.row_of(self.frame).ok_or(Undefined::Outside)? as i128,
            Place::Image => self.run.bytes.len() as i128,
            Place::Left => frame.limit as i128 - next()? as i128,
        })
    }

    fn byte(&self, offset: i128) -> Result<u8, Undefined> {
        let at = (self.run.frames[self.frame].start as i128).checked_add(offset).ok_or(Undefined::Outside)?;
        let at = usize::try_from(at).map_err(|_| Undefined::Outside)?;
        let bytes = self.run.image.get(Span::of(at, 1)).ok_or(Undefined::Outside)?;
        bytes.first().copied().ok_or(Undefined::Outside)
    }
}

impl Run<'_> {
    /// The number of the innermost row around a frame.
    fn row_of(&self, frame: FrameId) -> Option<usize> {
        let mut at = Some(frame);
        while let Some(id) = at {
            let frame = &self.frames[id];
            let owner = self.model.scopes[frame.scope].owner?;
            if matches!(self.model.items[owner].form, super::super::model::Form::Table(_)) {
                return Some(frame.row);
            }
            at = frame.parent;
        }
        None
    }
}
