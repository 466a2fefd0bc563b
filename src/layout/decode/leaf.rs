//! Fields that are one value.

use std::sync::Arc;

use super::super::expr::Undefined;
use super::super::model::{ComputedForm, Form, Item, ItemId, ItemPlace, Origin, Piece, Rest};
use super::{Frame, FrameId, Run, SlotState, Trace, clipped};
use crate::check::ones;
use crate::finding::{Code, Finding, Weight, argument};
use crate::layout::{Field, FieldState, Role};
use crate::span::{ByteOrder, Span};
use crate::value::{Kind, Seen, Size, Value};
use crate::wording::{count, does};

/// Where a leaf lies.
struct Lies {
    /// Piece by piece; one for a field that is not gathered.
    spans: Vec<Span>,
    /// What came out; `None` when a part of the bytes is not in the image.
    seen: Option<Seen>,
    /// The gathered number and how many bits it has.
    number: Option<(u128, u32)>,
    bits: Option<(u32, u32)>,
    /// The end, for the field that follows.
    end: Option<usize>,
    start: usize,
    inside: bool,
}

impl Run<'_> {
    /// Decodes a leaf; `name` is that of its row when it is a row of its own.
    pub(super) fn leaf(&mut self, frame: FrameId, id: ItemId, kind: &Kind, name: Option<Arc<str>>) {
        let model = self.model;
        let item = &model.items[id];
        let lies = match &item.place {
            ItemPlace::Pieces(_) => self.gathered(frame, item, kind),
            _ => self.straight(frame, item, kind),
        };
        let mut field = self.blank(frame, id, name.unwrap_or_else(|| item.name.clone()));
        let slot = self.frames[frame].first_slot + item.slot;
        let Some(mut lies) = lies else {
            // Where it lies hangs on something that is not there.
            field.state = FieldState::Absent;
            field.editable = false;
            let index = self.push(field, Trace::plain(Some(id)));
            self.note_absent(index);
            self.slots[slot].state = SlotState::Absent;
            self.slots[slot].field = Some(index);
            if matches!(item.place, ItemPlace::Next) {
                self.frames[frame].next = None;
            }
            return;
        };
        let places = 1 + item.copies.len() + self.frames[frame].mirrors.len();
        let bytes: usize = lies.spans.iter().map(|s| s.len()).sum();
        if !self.spend(bytes.saturating_mul(places).saturating_add(1)) {
            return;
        }
        let own = lies.spans.len();
        field.bits = lies.bits;
        let mut inverted = Vec::new();
        let mut differing = None;
        if lies.seen.is_some() {
            (inverted, differing) = self.copies(frame, item, &mut lies.spans);
        }
        field.spans = lies.spans;
        match lies.seen {
            None => {
                field.state = FieldState::Absent;
                field.editable = false;
                for span in &mut field.spans {
                    *span = clipped(*span, self.bytes.len());
                }
            }
            Some(seen) => {
                field.text = kind.show(&seen.value);
                field.at_rest = self.rests(item, &seen.value, lies.number, &field.spans[..own]);
                let reset = field.at_rest == Some(true);
                let odd = differing.or_else(|| {
                    let odd = seen.oddity.map(|why| (Code::FieldOdd, why));
                    odd.or_else(|| unfit(item, &seen.value, &field.text)).filter(|_| !reset)
                });
                if let Some((code, why)) = odd {
                    self.tell_odd(id, code, &field, &why);
                    field.state = FieldState::Odd(why);
                } else if field.at_rest == Some(false) && item.role == Role::Reserved {
                    self.tell_reserved(&field);
                }
                field.value = Some(seen.value);
            }
        }
        let absent = field.state == FieldState::Absent;
        let number = match &field.value {
            Some(Value::Text(_)) | None => None,
            Some(value) => value.whole(),
        };
        let index = self.push(field, Trace { item: Some(id), own, inverted });
        if absent {
            self.note_absent(index);
        }
        let slot = &mut self.slots[slot];
        slot.state = if absent { SlotState::Absent } else { SlotState::Present };
        (slot.start, slot.end, slot.field, slot.number) = (lies.start, lies.end, Some(index), number);
        if lies.inside {
            let frame: &mut Frame = &mut self.frames[frame];
            frame.next = lies.end;
            frame.reach = frame.reach.max(lies.end.unwrap_or(0));
        }
    }

    /// A field whose bytes lie side by side.
    fn straight(&self, frame: FrameId, item: &Item, kind: &Kind) -> Option<Lies> {
        let (origin, start) = match &item.place {
            ItemPlace::At(origin, at) => (*origin, self.offset(*origin, at, frame)?),
            _ => (Origin::Parent, self.frames[frame].next?),
        };
        let limit = self.limit(origin, frame);
        let len = match (&item.size, kind.size()) {
            (Some(size), _) => Some(self.count(size, frame)?),
            (None, Size::Bits(bits)) => Some(bits.div_ceil(8) as usize),
            (None, Size::Bytes(bytes)) => Some(bytes),
            (None, Size::Found) => {
                let rest = Span::new(start, limit.min(self.bytes.len()));
                rest.of_bytes(self.bytes).filter(|_| start <= rest.end).and_then(|bytes| kind.extent(bytes))
            }
            (None, Size::Given) => Some(limit.saturating_sub(start)),
        };
        let Some(len) = len else {
            // It begins, and its end is not in the image.
            let end = limit.max(start);
            let spans = vec![Span::new(start, end)];
            let inside = origin != Origin::Image;
            return Some(Lies { spans, seen: None, number: None, bits: None, end: None, start, inside });
        };
        let span = Span::of(start, len);
        let bytes = if span.end <= limit { self.image.get(span) } else { None };
        let seen = bytes.map(|bytes| kind.decode(bytes, item.order));
        let bits = match kind.size() {
            Size::Bits(bits) if bits % 8 != 0 => Some((0, bits)),
            _ => None,
        };
        let inside = origin != Origin::Image;
        Some(Lies { spans: vec![span], seen, number: None, bits, end: Some(span.end), start, inside })
    }

    /// A field whose bits are gathered.
    fn gathered(&self, frame: FrameId, item: &Item, kind: &Kind) -> Option<Lies> {
        let ItemPlace::Pieces(pieces) = &item.place else { return None };
        let mut spans = Vec::with_capacity(pieces.len());
        let mut whole = true;
        let mut inside = true;
        for piece in pieces {
            let span = Span::of(self.offset(piece.origin, &piece.at, frame)?, piece.bytes);
            inside &= piece.origin != Origin::Image;
            whole &= span.end <= self.limit(piece.origin, frame);
            spans.push(span);
        }
        let number = gather(pieces, &spans, item.order, |span| self.image.get(span)).filter(|_| whole);
        let bits = match pieces.as_slice() {
            [one] if one.bits as usize != one.bytes * 8 => Some((one.low, one.bits)),
            _ => None,
        };
        let start = spans.iter().map(|s| s.start).min()?;
        let end = spans.iter().map(|s| s.end).max();
        let total = pieces.iter().map(|p| p.bits).sum();
        let seen = number.map(|number| kind.decode_number(number));
        Some(Lies { spans, seen, number: number.map(|n| (n, total)), bits, end, start, inside })
    }

    /// Adds the places of the copies to `spans`; which are inverted, and what is told when one differs. A copy that
    /// does not lie in the image whole is passed over.
    fn copies(
        &self,
        frame: FrameId,
        item: &Item,
        spans: &mut Vec<Span>,
    ) -> (Vec<bool>, Option<(Code, String)>) {
        let mirrors = &self.frames[frame].mirrors;
        if item.copies.is_empty() && mirrors.is_empty() {
            return (Vec::new(), None);
        }
        let own: Vec<Span> = spans.clone();
        let first = own.first().map_or(0, |s| s.start);
        let mut inverted = Vec::new();
        let mut differing = None;
        // A copy of the field itself lies at a place of its own; one of a whole group at the same distance.
        let shifts = item.copies.iter().map(|copy| {
            let to = self.offset(copy.origin, &copy.at, frame);
            (to.map(|to| to as i128 - first as i128), copy.inverted)
        });
        let mirrored = mirrors.iter().map(|m| (Some(m.to as i128 - m.from as i128), m.inverted));
        for (shift, flipped) in shifts.chain(mirrored) {
            let moved = |span: &Span| {
                let start = usize::try_from((span.start as i128).checked_add(shift?)?).ok()?;
                let place = Span::of(start, span.len());
                self.image.is_mapped(place).then_some(place)
            };
            let Some(places) = own.iter().map(moved).collect::<Option<Vec<Span>>>() else { continue };
            if !self.agree(item, &own, &places, flipped) && differing.is_none() {
                let what = if flipped { "inverted copy" } else { "copy" };
                let at = places.first().map_or(0, |place| place.start);
                differing = Some((Code::CopiesDiffer, format!("the {what} at 0x{at:04X} says otherwise")));
            }
            inverted.push(flipped);
            spans.extend(places);
        }
        (inverted, differing)
    }

    /// Whether a copy says what the field says; of bytes that are shared, only the field's bits count.
    fn agree(&self, item: &Item, own: &[Span], copy: &[Span], inverted: bool) -> bool {
        if let ItemPlace::Pieces(pieces) = &item.place {
            let number = |spans| gather(pieces, spans, item.order, |span| self.image.get(span));
            let flip = if inverted { ones(pieces.iter().map(|p| p.bits).sum()) } else { 0 };
            return number(own) == number(copy).map(|number| number ^ flip);
        }
        let Form::Leaf(kind) = &item.form else { return false };
        own.iter().zip(copy).all(|(own, copy)| match (self.image.get(*own), self.image.get(*copy)) {
            (Some(own), Some(copy)) => kind.laid(&turned(copy, inverted), own, item.order) == own,
            _ => false,
        })
    }

    /// Whether a field with a rest value holds it.
    fn rests(&self, item: &Item, value: &Value, number: Option<(u128, u32)>, spans: &[Span]) -> Option<bool> {
        match (item.rest.as_ref()?, number) {
            (Rest::Fill(fill), Some((number, bits))) => Some(number == filled(*fill, bits)),
            (Rest::Fill(fill), None) => {
                let Form::Leaf(kind) = &item.form else { return None };
                Some(spans.iter().all(|span| {
                    let held = span.of_bytes(self.bytes);
                    held.is_some_and(|held| kind.laid(&vec![*fill; held.len()], held, item.order) == held)
                }))
            }
            (Rest::Value(rest), _) => Some(rest == value),
            (Rest::Typed(_), _) => None,
        }
    }

    fn tell_odd(&mut self, id: ItemId, code: Code, field: &Field, why: &str) {
        let told = self.odd.entry((id, code)).or_default();
        told.0 += 1;
        if told.0 > ODD_ROWS_TOLD {
            told.1 = Some(told.1.map_or(field.cover(), |place| place.joined(field.cover())));
            return;
        }
        let finding = odd(code, format!("{}: {why}", field.path), &field.path);
        self.findings.push(finding.at(field.cover()));
    }

    /// One finding for the rows of a table that are odd in the same way as those told before.
    pub(super) fn tell_more_odd(&mut self) {
        let mut more: Vec<_> = std::mem::take(&mut self.odd)
            .into_iter()
            .filter_map(|((id, code), (n, place))| Some((place?, id, code, n - ODD_ROWS_TOLD)))
            .collect();
        more.sort_unstable_by_key(|(place, id, code, _)| (*place, *id, *code));
        for (place, id, code, n) in more {
            let item = &self.model.items[id];
            // The value of a bare row has no name of its own.
            let owner = self.model.scopes[item.scope].owner.map(|owner| &self.model.items[owner].name);
            let name = if item.name.is_empty() { owner.unwrap_or(&item.name) } else { &item.name };
            let (rows, are) = (count(n, "more row"), does(n, "is", "are"));
            let seen = format!("{name}: {rows} {are} odd in this way");
            self.findings.push(odd(code, seen, name).at(place));
        }
    }

    fn tell_reserved(&mut self, field: &Field) {
        let finding = Finding::new(
            Weight::Note,
            Code::ReservedUsed,
            format!("{} is reserved and holds something", field.path),
            "a newer version of the format uses it, or the bytes were read wrongly",
            "leave it as it is",
        );
        self.findings.push(finding.at(field.cover()));
    }

    /// A value that is worked out from others.
    pub(super) fn computed(&mut self, frame: FrameId, id: ItemId, form: &ComputedForm) {
        let item = &self.model.items[id];
        let mut field = self.blank(frame, id, item.name.clone());
        field.editable = false;
        let slot = self.frames[frame].first_slot + item.slot;
        let mut number = None;
        match self.number(&form.expr, frame) {
            Ok(n) => {
                number = Some(n);
                let label = form.labels.iter().find(|(key, _)| *key == n).map(|(_, label)| label);
                let (value, text) = match (label, &form.scaling) {
                    (Some(label), _) => {
                        let number = u64::try_from(n);
                        let value = number.map(|number| Value::Choice(number, Some(label.to_string())));
                        (value.unwrap_or(Value::Int(n)), label.to_string())
                    }
                    (None, Some(scaling)) => {
                        let seen = scaling.seen(n);
                        field.state = seen.oddity.map_or(FieldState::Fine, FieldState::Odd);
                        let text = scaling.show(&seen.value);
                        (seen.value, text)
                    }
                    (None, None) => (Value::Int(n), n.to_string()),
                };
                (field.value, field.text) = (Some(value), text);
                if let (FieldState::Fine, Some(value)) = (&field.state, &field.value)
                    && let Some((code, why)) = unfit(item, value, &field.text)
                {
                    self.tell_odd(id, code, &field, &why);
                    field.state = FieldState::Odd(why);
                }
            }
            Err(Undefined::Absent(_) | Undefined::Outside) => field.state = FieldState::Absent,
            Err(other) => field.state = FieldState::Odd(other.to_string()),
        }
        let state = if number.is_some() { SlotState::Present } else { SlotState::Absent };
        let index = self.push(field, Trace::plain(Some(id)));
        let next = self.frames[frame].next;
        let slot = &mut self.slots[slot];
        (slot.state, slot.field, slot.number) = (state, Some(index), number);
        (slot.start, slot.end) = (next.unwrap_or(0), next);
    }
}

/// How many rows of a table are told that are odd in the same way; the others are counted.
const ODD_ROWS_TOLD: usize = 3;

/// The finding about an odd field, which is shown by its name or path.
fn odd(code: Code, seen: String, field: &str) -> Finding {
    let field = argument(field);
    let (weight, means, advice) = match code {
        Code::CopiesDiffer => (
            Weight::Fault,
            "one of the copies was read wrongly, or a change was not made in all of them",
            "read the chip again; if it stays, find out which copy the board uses before anything is changed"
                .to_owned(),
        ),
        Code::PatternUnmet => (
            Weight::Doubt,
            "the text was read wrongly, or this is a variant that the layout does not know",
            format!("compare it with the label, to the character: `readproof vet IMAGE --expect {field}=LABEL`"),
        ),
        Code::OutOfRange => (
            Weight::Doubt,
            "the number was read wrongly, or this is a variant that the layout does not know",
            "read the chip again and compare with `readproof compare IMAGE READ2`; look the value up in the maker's papers"
                .to_owned(),
        ),
        _ => (
            Weight::Note,
            "the bytes were never written, were read wrongly, or mean something that the layout does not know",
            format!("look at the field and its bytes with `readproof show IMAGE --field {field}`"),
        ),
    };
    Finding::new(weight, code, seen, means, advice)
}

/// Why a value does not suit the layout's own wishes.
pub(in super::super) fn unfit(item: &Item, value: &Value, text: &str) -> Option<(Code, String)> {
    if let Some(pattern) = &item.pattern
        && !pattern.regex.is_match(text)
    {
        return Some((Code::PatternUnmet, format!("\"{text}\" does not suit the pattern {}", pattern.text)));
    }
    let limits = item.limits?;
    let number = value.decimal()?;
    let unit = item.unit.as_ref().map_or(String::new(), |u| format!(" {u}"));
    if let Some(least) = limits.least.filter(|least| number < *least) {
        return Some((Code::OutOfRange, format!("{text}{unit} lies below {least}{unit}")));
    }
    if let Some(most) = limits.most.filter(|most| number > *most) {
        return Some((Code::OutOfRange, format!("{text}{unit} lies above {most}{unit}")));
    }
    None
}

/// The bytes, every bit the other way when they are `inverted`.
pub(in super::super) fn turned(bytes: &[u8], inverted: bool) -> Vec<u8> {
    bytes.iter().map(|byte| if inverted { !byte } else { *byte }).collect()
}

/// The number in the bits of `pieces`, the most significant first, which lie at `spans`; `bytes` gives what is there.
pub(in super::super) fn gather<B: AsRef<[u8]>>(
    pieces: &[Piece],
    spans: &[Span],
    order: ByteOrder,
    bytes: impl Fn(Span) -> Option<B>,
) -> Option<u128> {
    pieces.iter().zip(spans).try_fold(0u128, |number, (piece, span)| {
        let bits = order.number(bytes(*span)?.as_ref()) >> piece.low & ones(piece.bits);
        Some(number.checked_shl(piece.bits).unwrap_or(0) | bits)
    })
}

/// The number of `bits` bits that are filled with `fill`.
pub(in super::super) fn filled(fill: u8, bits: u32) -> u128 {
    u128::from_be_bytes([fill; 16]) & ones(bits)
}

impl Run<'_> {
    /// Decodes the single item of a row that is a value.
    pub(super) fn bare_row(&mut self, frame: FrameId, row: usize) {
        let Some(&id) = self.model.scopes[self.frames[frame].scope].slots.first() else { return };
        if let Form::Leaf(kind) = &self.model.items[id].form {
            self.leaf(frame, id, kind, Some(format!("[{row}]").into()));
        }
    }
}
