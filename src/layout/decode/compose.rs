//! Fields that hold others.

use super::super::expr::Outcome;
use super::super::model::{Form, Item, ItemId, ItemPlace, Origin, ScopeId, TableForm, TagForm, Tags};
use super::{FrameId, MAX_ROWS, Mirror, Run, SlotState, Trace, clipped};
use crate::finding::{Code, Finding, Weight};
use crate::layout::{Field, FieldState, Shape};
use crate::span::Span;

/// Where a field that holds others lies.
struct Room {
    start: usize,
    /// Its end, when the layout says its size.
    end: Option<usize>,
    /// Where fields inside end at the latest.
    limit: usize,
    origin: Origin,
}

impl Run<'_> {
    /// Decodes the fields of a frame. `late` is the item whose size a field inside tells, and the frame in which
    /// that size is worked out.
    pub(super) fn scope(&mut self, frame: FrameId, late: Option<(FrameId, ItemId)>) {
        let model = self.model;
        let scope = &model.scopes[self.frames[frame].scope];
        self.permuted |= scope.permuted;
        let mut late = late;
        for &slot in &scope.order {
            if !self.spend(1) {
                return;
            }
            if scope.permuted {
                self.frames[frame].next = self.behind(frame, slot);
            }
            self.item(frame, slot);
            if let Some((outer, id)) = late
                && let Some(size) = model.items[id].size.as_ref().and_then(|size| self.count(size, outer))
            {
                let (start, limit) = (self.frames[frame].start, self.frames[frame].limit);
                self.frames[frame].limit = limit.min(start.saturating_add(size));
                late = None;
            }
        }
        self.due.extend((0..scope.checks.len()).map(|check| (frame, check)));
    }

    /// Where a field without a place begins in a scope that is decoded out of order.
    fn behind(&self, frame: FrameId, slot: usize) -> Option<usize> {
        let frame = &self.frames[frame];
        let items = &self.model.scopes[frame.scope].slots;
        let before = (0..slot).rev().find(|&before| {
            self.slots[frame.first_slot + before].state != SlotState::Missing
                && !matches!(self.model.items[items[before]].form, Form::Computed(_))
        });
        match before {
            Some(before) => self.slots[frame.first_slot + before].end,
            None => Some(frame.start),
        }
    }

    /// Decodes the item in a slot.
    fn item(&mut self, frame: FrameId, slot: usize) {
        let model = self.model;
        let id = model.scopes[self.frames[frame].scope].slots[slot];
        let item = &model.items[id];
        if let Some(when) = &item.when
            && (!self.spend(8) || !self.holds(when, frame))
        {
            return;
        }
        if self.twin_is_there(frame, slot, item) {
            return;
        }
        match &item.form {
            Form::Leaf(kind) => self.leaf(frame, id, kind, None),
            Form::Computed(form) => self.computed(frame, id, form),
            Form::Group(scope) => self.group(frame, id, *scope),
            Form::Table(form) => self.table(frame, id, form),
            Form::ByTag(form) => self.by_tag(frame, id, form),
        }
    }

    /// Two fields of one name must exclude each other; when an image holds both, the second is left out.
    fn twin_is_there(&mut self, frame: FrameId, slot: usize, item: &Item) -> bool {
        if !item.twin {
            return false;
        }
        let first = self.frames[frame].first_slot;
        let scope = &self.model.scopes[item.scope];
        let twin = scope.slots.iter().enumerate().any(|(other, &id)| {
            other != slot
                && self.model.items[id].name == item.name
                && !matches!(self.model.items[id].form, Form::ByTag(_))
                && self.slots[first + other].state != SlotState::Missing
        });
        if twin {
            self.findings.push(Finding::new(
                Weight::Doubt,
                Code::FieldOdd,
                format!("{} is there twice", self.path(frame, &item.name)),
                "the conditions of two fields of this name hold at the same time; the second is left out",
                "correct the conditions in the layout",
            ));
        }
        twin
    }

    fn room(&self, frame: FrameId, item: &Item) -> Option<Room> {
        let (origin, start) = match &item.place {
            ItemPlace::At(origin, at) => (*origin, self.offset(*origin, at, frame)?),
            _ => (Origin::Parent, self.frames[frame].next?),
        };
        let outer = self.limit(origin, frame);
        let end = match &item.size {
            Some(size) if !item.late_size => Some(start.saturating_add(self.count(size, frame)?)),
            _ => None,
        };
        Some(Room { start, end, limit: end.map_or(outer, |end| end.min(outer)), origin })
    }

    /// Puts the row of a field that holds others into the tree, to be finished when they are known.
    fn open(&mut self, frame: FrameId, id: ItemId, shape: Shape, room: Option<&Room>) -> Option<usize> {
        if !self.spend(4) {
            return None;
        }
        let item = &self.model.items[id];
        let mut field = self.blank(frame, id, item.name.clone());
        field.shape = shape;
        field.editable = false;
        let outside = room.is_none_or(|r| r.start >= r.limit && r.end != Some(r.start));
        if outside {
            field.state = FieldState::Absent;
        }
        let index = self.push(field, Trace::plain(Some(id)));
        let slot = self.frames[frame].first_slot + item.slot;
        self.slots[slot].field = Some(index);
        self.slots[slot].state = if outside { SlotState::Absent } else { SlotState::Present };
        if let Some(room) = room {
            self.slots[slot].start = room.start;
        }
        if outside {
            self.note_absent(index);
            match room {
                Some(Room { end: Some(end), origin, .. }) if *origin != Origin::Image => {
                    self.slots[slot].end = Some(*end);
                    self.frames[frame].next = Some(*end);
                }
                _ if matches!(item.place, ItemPlace::Next) => self.frames[frame].next = None,
                _ => {}
            }
            return None;
        }
        Some(index)
    }

    /// Finishes the row of a field that holds others.
    fn close(&mut self, frame: FrameId, id: ItemId, index: usize, room: &Room, end: usize) {
        let slot = self.frames[frame].first_slot + self.model.items[id].slot;
        self.slots[slot].end = Some(end);
        let own = Span::new(room.start, end);
        let mut spans = vec![clipped(own, self.bytes.len())];
        for (to, _) in self.copy_places(frame, id) {
            spans.push(clipped(Span::of(to, own.len()), self.bytes.len()));
        }
        self.fields[index].spans = spans;
        self.traces[index].own = 1;
        self.settle(index, id);
        if room.origin != Origin::Image {
            let frame = &mut self.frames[frame];
            frame.next = Some(end);
            frame.reach = frame.reach.max(end);
        }
    }

    /// Whether everything inside a field is at rest.
    fn settle(&mut self, index: usize, id: ItemId) {
        if self.model.items[id].rest.is_none() {
            return;
        }
        let depth = self.fields[index].depth;
        let mut all = true;
        for inner in &self.fields[index + 1..] {
            if inner.depth <= depth {
                break;
            }
            if inner.shape == Shape::Leaf && inner.at_rest == Some(false) {
                all = false;
                break;
            }
        }
        self.fields[index].at_rest = Some(all);
    }

    /// Where the copies of an item begin.
    fn copy_places(&self, frame: FrameId, id: ItemId) -> Vec<(usize, bool)> {
        let copies = &self.model.items[id].copies;
        copies
            .iter()
            .filter_map(|copy| Some((self.offset(copy.origin, &copy.at, frame)?, copy.inverted)))
            .collect()
    }

    fn group(&mut self, frame: FrameId, id: ItemId, scope: ScopeId) {
        let item = &self.model.items[id];
        let room = self.room(frame, item);
        let Some(index) = self.open(frame, id, Shape::Group, room.as_ref()) else { return };
        let Some(room) = room else { return };
        if !self.spend(self.model.scopes[scope].slots.len()) {
            return;
        }
        let inner = self.frame(scope, Some((frame, index)), Span::new(room.start, room.limit), 0);
        self.mirror(inner, frame, id, room.start);
        let slot = self.frames[frame].first_slot + item.slot;
        self.slots[slot].frame = Some(inner);
        self.scope(inner, item.late_size.then_some((frame, id)));
        let end = if item.late_size {
            // The size that a field inside told; without it, what was reached.
            let told = item.size.as_ref().and_then(|size| self.count(size, frame));
            told.map(|size| room.start.saturating_add(size))
        } else {
            room.end
        };
        let end = end.unwrap_or(self.frames[inner].reach);
        self.close(frame, id, index, &room, end);
    }

    fn mirror(&mut self, inner: FrameId, frame: FrameId, id: ItemId, from: usize) {
        for (to, inverted) in self.copy_places(frame, id) {
            self.frames[inner].mirrors.push(Mirror { from, to, inverted });
        }
    }

    fn table(&mut self, frame: FrameId, id: ItemId, form: &TableForm) {
        let item = &self.model.items[id];
        let room = self.room(frame, item);
        let wanted = form.rows.as_ref().map(|rows| self.number(rows, frame));
        let Some(index) = self.open(frame, id, Shape::Table, room.as_ref()) else { return };
        let Some(room) = room else { return };
        let mut wrong = None;
        let wanted = match wanted {
            None => None,
            Some(Ok(rows)) if (0..=MAX_ROWS as i128).contains(&rows) => usize::try_from(rows).ok(),
            Some(outcome) => {
                wrong = Some(match outcome {
                    Ok(rows) => format!("{rows} rows are asked for, and a table has at most {MAX_ROWS}"),
                    Err(undefined) => format!("the number of rows cannot be told: {undefined}"),
                });
                Some(0)
            }
        };
        let stride = form.stride.as_ref().map(|stride| self.count(stride, frame));
        let stride = match stride {
            Some(None) => {
                self.close(frame, id, index, &room, room.end.unwrap_or(room.start));
                self.tell_rows(index, "the bytes of a row cannot be told".to_string());
                return;
            }
            Some(Some(stride)) => Some(stride),
            None => None,
        };
        let rows = Rows { frame, id, form, index, from: room.start, stride, limit: room.limit };
        let mut at = room.start;
        let mut row = 0;
        while wanted.is_none_or(|rows| row < rows) && row < MAX_ROWS {
            // Without a number of rows they go on while there is room.
            if at >= room.limit && (wanted.is_none() || at >= self.bytes.len()) {
                if wanted.is_some() {
                    wrong = Some(format!("rows from [{row}] on lie outside the image"));
                }
                break;
            }
            let Some(Row { reach, last }) = self.row(&rows, row, at) else { break };
            let next = stride.map_or(reach, |stride| at.saturating_add(stride));
            row += 1;
            if last || next <= at && wanted.is_none() || self.stopped {
                at = next.max(at);
                break;
            }
            at = next;
        }
        if wanted.is_none() && row == MAX_ROWS && at < room.limit {
            self.tell_limit(
                format!("more than {MAX_ROWS} rows of {} came out", self.fields[index].path),
                "rows",
            );
        }
        self.close(frame, id, index, &room, room.end.unwrap_or(at));
        if let Some(why) = wrong {
            self.tell_rows(index, why);
        }
    }

    /// Tells what is wrong with the number of rows of a table that is closed.
    fn tell_rows(&mut self, index: usize, why: String) {
        let place = self.fields[index].cover();
        let finding = Finding::new(
            Weight::Doubt,
            Code::FieldOdd,
            format!("{}: {why}", self.fields[index].path),
            "a number that says how long the table is was read wrongly, or the image is cut short",
            "look at the field that holds this number",
        );
        self.findings.push(finding.at(place));
        self.fields[index].state = FieldState::Odd(why);
    }

    /// Decodes one row; `None` when it does not go on.
    fn row(&mut self, rows: &Rows<'_>, row: usize, at: usize) -> Option<Row> {
        let &Rows { frame, id, form, index: table, from, stride, limit } = rows;
        if !self.spend(4 + self.model.scopes[form.scope].slots.len()) {
            return None;
        }
        let limit = stride.map_or(limit, |stride| limit.min(at.saturating_add(stride)));
        let inner = self.frame(form.scope, Some((frame, table)), Span::new(at, limit), row);
        if let Some(going) = &form.going
            && (!self.spend(8) || !self.holds(going, inner))
        {
            return None;
        }
        self.mirror(inner, frame, id, from);
        let slot = self.frames[frame].first_slot + self.model.items[id].slot;
        self.slots[slot].rows.push(inner);
        if form.bare {
            self.bare_row(inner, row);
            self.due.extend((0..self.model.scopes[form.scope].checks.len()).map(|check| (inner, check)));
        } else {
            let field = Field {
                shape: Shape::Row,
                kind: "Row".into(),
                unit: None,
                editable: false,
                note: None,
                caution: None,
                ..self.blank(inner, id, format!("[{row}]").into())
            };
            let index = self.push(field, Trace::plain(None));
            self.frames[inner].field = Some(index);
            self.frames[inner].depth += 1;
            self.scope(inner, None);
            let end = stride.map_or(self.frames[inner].reach, |stride| at.saturating_add(stride));
            self.fields[index].spans = vec![clipped(Span::new(at, end), self.bytes.len())];
            if let Some(stride) = stride {
                self.frames[inner].reach = at.saturating_add(stride);
            }
            self.settle(index, id);
        }
        let last = form.until.as_ref().is_some_and(|until| self.spend(8) && self.holds(until, inner));
        // A row of which nothing could be placed ends the table, too.
        let lost = stride.is_none() && self.frames[inner].next.is_none();
        Some(Row { reach: self.frames[inner].reach, last: last || lost })
    }

    fn by_tag(&mut self, frame: FrameId, id: ItemId, form: &TagForm) {
        if !self.spend(8 + form.shapes.len()) {
            return;
        }
        let item = &self.model.items[id];
        let chosen = self.outcome(&form.tag, frame, |outcome| {
            let tag = outcome.ok()?;
            let hit = form.shapes.iter().find(|(tags, _)| match (tags, tag) {
                (Tags::Text(wanted), Outcome::Text(text)) => wanted == text,
                (Tags::Numbers(first, last), tag) => {
                    tag.number().is_ok_and(|number| *first <= number && number <= *last)
                }
                (Tags::Text(_), Outcome::Number(_)) => false,
            });
            hit.map(|(_, slot)| *slot).or(form.other)
        });
        let Some(slot) = chosen else {
            // No shape suits; what follows lies behind the stated size, or cannot be told.
            let end = self.room(frame, item).and_then(|room| room.end);
            if matches!(item.place, ItemPlace::Next) {
                self.frames[frame].next = end;
                let reach = &mut self.frames[frame].reach;
                *reach = (*reach).max(end.unwrap_or(0).min(self.bytes.len()));
            }
            return;
        };
        self.item(frame, slot);
        let first = self.frames[frame].first_slot;
        self.slots[first + item.slot] = self.slots[first + slot].clone();
    }
}

/// Rows to be decoded.
struct Rows<'f> {
    /// The frame in which the table stands.
    frame: FrameId,
    id: ItemId,
    form: &'f TableForm,
    /// The field of the table.
    index: usize,
    /// Where the table begins.
    from: usize,
    stride: Option<usize>,
    /// Where the rows end at the latest.
    limit: usize,
}

/// One row that was decoded.
struct Row {
    /// Its end.
    reach: usize,
    /// No row follows it.
    last: bool,
}
