//! The entries that every field can have.

use std::sync::Arc;

use regex::RegexBuilder;

use super::super::expr::{self, Expr};
use super::super::model::{
    ComputedForm, CopyPlace, Form, Item, ItemId, ItemPlace, Limits, Origin, Pattern, Piece, Rest, ScopeId,
};
use super::{Inherited, MAX_GROUPS, MAX_ITEMS, Reader, name};
use crate::layout::Role;
use crate::notation::{Entries, Node, NodeValue, Problem, get};
use crate::span::ByteOrder;
use crate::value::exact;
use crate::wording::count;

/// The largest regular expression, compiled, in bytes.
const MAX_REGEX: usize = 1 << 20;

/// How many further places one field may have.
const MAX_PLACES: usize = 16;

/// The entries that say how a number is shown; a kind takes them over.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Presented<'n> {
    pub scale: Option<&'n Node>,
    pub offset: Option<&'n Node>,
    pub unit: Option<&'n Node>,
}

impl<'n> Presented<'n> {
    pub(super) fn of(entries: &mut Entries<'n>) -> Self {
        Presented {
            scale: entries.optional("scale"),
            offset: entries.optional("offset"),
            unit: entries.optional("unit"),
        }
    }

    /// These, or those of what encloses it where there are none.
    pub(super) fn or(self, outer: Presented<'n>) -> Self {
        Presented {
            scale: self.scale.or(outer.scale),
            offset: self.offset.or(outer.offset),
            unit: self.unit.or(outer.unit),
        }
    }
}

/// What an offset counts from, as `from` says it.
fn origin(from: Option<&Node>, problems: &mut Vec<Problem>) -> Origin {
    const ORIGINS: [(&str, Origin); 3] =
        [("Parent", Origin::Parent), ("Image", Origin::Image), ("End", Origin::End)];
    from.and_then(|n| get::word(n, &ORIGINS, "what at counts from", problems)).unwrap_or_default()
}

impl Reader {
    /// The entries `at` and `from`.
    pub(super) fn anchor(&mut self, entries: &mut Entries<'_>) -> Option<(Origin, Expr)> {
        let at = self.required_expr(entries, "at", "an offset");
        let origin = origin(entries.optional("from"), &mut self.problems);
        Some((origin, at?))
    }

    /// A list of fields that stand side by side.
    pub(super) fn fields(&mut self, node: &Node, scope: ScopeId, inherited: Inherited) {
        if inherited.depth > MAX_GROUPS {
            self.problems.push(Problem::new(
                node.span,
                format!("groups and tables are nested more than {MAX_GROUPS} deep"),
                "a flatter layout",
            ));
            return;
        }
        let Some(list) = get::list(node, "fields", &mut self.problems) else { return };
        for node in list {
            self.field(node, scope, inherited);
        }
    }

    fn field(&mut self, node: &Node, scope: ScopeId, inherited: Inherited) {
        let Some(mut entries) = Entries::of(node, "a field", &mut self.problems) else { return };
        let name_node = entries.required("name", &mut self.problems);
        let name = name_node.and_then(|n| name(n, &mut self.problems)).unwrap_or_default();
        if !name.is_empty() {
            entries.call(&format!("the field {name}"));
        }
        let Some(id) = self.item(scope, name, name_node.unwrap_or(node), inherited) else { return };
        let inherited = self.common(&mut entries, id, inherited);
        let presented = Presented::of(&mut entries);
        if let Some(kind) = entries.required("kind", &mut self.problems) {
            self.form(kind, id, presented, inherited);
        }
        entries.finish(&mut self.problems);
    }

    /// A new item at the end of a scope. Nothing when there are too many.
    pub(super) fn item(
        &mut self,
        scope: ScopeId,
        name: &str,
        node: &Node,
        inherited: Inherited,
    ) -> Option<ItemId> {
        let id = self.model.items.len();
        if id >= MAX_ITEMS {
            if id == MAX_ITEMS {
                self.problems.push(Problem::new(
                    node.span,
                    format!("the layout has more than {MAX_ITEMS} fields"),
                    "fewer fields; a table says what repeats",
                ));
            }
            return None;
        }
        let slots = &mut self.model.scopes[scope].slots;
        let slot = slots.len();
        slots.push(id);
        self.model.items.push(Item {
            name: name.into(),
            span: node.span,
            scope,
            slot,
            place: ItemPlace::Next,
            size: None,
            late_size: false,
            when: None,
            // Stands until the kind is read, and when it cannot be.
            form: Form::Computed(Box::new(ComputedForm {
                expr: Expr::Number(0),
                labels: Vec::new(),
                scaling: None,
            })),
            order: inherited.order,
            role: inherited.role,
            rest: inherited.fill.map(Rest::Fill),
            unit: None,
            limits: None,
            pattern: None,
            note: None,
            caution: None,
            fixed: inherited.fixed,
            copies: Vec::new(),
            kind: "".into(),
            twin: false,
        });
        Some(id)
    }

    /// Everything but the name and the kind; gives what the fields inside take over.
    pub(super) fn common(
        &mut self,
        entries: &mut Entries<'_>,
        id: ItemId,
        mut inherited: Inherited,
    ) -> Inherited {
        let place = self.place(entries);
        let size = self.optional_expr(entries, "size", "a number of bytes");
        let when = self.optional_expr(entries, "when", "a condition");
        let copies = entries.optional("copies").map(|n| self.copies(n)).unwrap_or_default();
        let problems = &mut self.problems;
        if let Some(order) =
            entries.optional("order").and_then(|n| get::word(n, &ByteOrder::WORDS, "a byte order", problems))
        {
            inherited.order = order;
        }
        if let Some(role) =
            entries.optional("role").and_then(|n| get::word(n, &Role::WORDS, "a role", problems))
        {
            inherited.role = role;
        }
        if let Some(fixed) = entries.optional("fixed").and_then(|n| get::boolean(n, problems)) {
            inherited.fixed = fixed;
        }
        let rest = entries.optional("rest").and_then(|n| rest(n, problems));
        if let Some(Rest::Fill(fill)) = rest {
            inherited.fill = Some(fill);
        }
        let limits = limits(entries, problems);
        let pattern = entries.optional("pattern").and_then(|n| pattern(n, problems));
        let note = entries.optional("note").and_then(|n| get::text(n, "a remark", problems));
        let caution = entries.optional("caution").and_then(|n| get::text(n, "a caution", problems));
        let item = &mut self.model.items[id];
        item.place = place;
        item.size = size;
        item.when = when;
        item.copies = copies;
        item.order = inherited.order;
        item.role = inherited.role;
        item.fixed = inherited.fixed;
        item.rest = rest.or(inherited.fill.map(Rest::Fill));
        item.limits = limits;
        item.pattern = pattern;
        item.note = note.map(Arc::from);
        item.caution = caution.map(Arc::from);
        inherited
    }

    /// `at`, `from`, `low`, `in_bytes` or `pieces`.
    fn place(&mut self, entries: &mut Entries<'_>) -> ItemPlace {
        let at = entries.optional("at");
        let from = entries.optional("from");
        let low = entries.optional("low");
        let in_bytes = entries.optional("in_bytes");
        let pieces = entries.optional("pieces");
        if let Some(node) = pieces {
            for (other, name) in [(at, "at"), (from, "from"), (low, "low"), (in_bytes, "in_bytes")] {
                if let Some(other) = other {
                    self.problems.push(Problem::new(
                        other.span,
                        format!("a field in pieces has no {name} of its own"),
                        "at, low and bits in each piece",
                    ));
                }
            }
            return self.pieces(node);
        }
        let origin = origin(from, &mut self.problems);
        let at = at.and_then(|n| self.expr(n, "an offset"));
        let place = match (at, from) {
            (Some(at), _) => ItemPlace::At(origin, at),
            (None, Some(from)) => {
                self.problems.push(Problem::new(
                    from.span,
                    "from stands without at",
                    "at: the offset that is counted from there",
                ));
                ItemPlace::Next
            }
            (None, None) => ItemPlace::Next,
        };
        let low = low.and_then(|n| get::int(n, 0u32..=127, "the lowest bit", &mut self.problems));
        let bytes = in_bytes
            .and_then(|n| get::int(n, 1u32..=16, "the bytes that form the number", &mut self.problems));
        if low.is_none() && bytes.is_none() {
            return place;
        }
        let (origin, at) = match place {
            ItemPlace::At(origin, at) => (origin, at),
            _ => (Origin::Parent, Expr::Place(expr::Place::Next)),
        };
        // The number of bits is the kind's; it is put in when the kind is known.
        ItemPlace::Pieces(vec![Piece {
            origin,
            at,
            bytes: bytes.unwrap_or(0) as usize,
            low: low.unwrap_or(0),
            bits: 0,
        }])
    }

    fn pieces(&mut self, node: &Node) -> ItemPlace {
        let Some(list) = get::list(node, "pieces", &mut self.problems) else { return ItemPlace::Next };
        if list.is_empty() || list.len() > MAX_PLACES {
            self.problems.push(Problem::new(
                node.span,
                format!("{} pieces", list.len()),
                format!("1 to {MAX_PLACES} pieces, the most significant first"),
            ));
        }
        let mut pieces = Vec::new();
        for node in list {
            let Some(mut entries) = Entries::of(node, "a piece", &mut self.problems) else { continue };
            let anchor = self.anchor(&mut entries);
            let problems = &mut self.problems;
            let bytes = entries
                .optional("in_bytes")
                .and_then(|n| get::int(n, 1u32..=16, "the bytes that form the number", problems));
            let low =
                entries.optional("low").and_then(|n| get::int(n, 0u32..=127, "the lowest bit", problems));
            let bits =
                entries.optional("bits").and_then(|n| get::int(n, 1u32..=128, "a number of bits", problems));
            entries.finish(problems);
            let low = low.unwrap_or(0);
            let bytes = bytes.unwrap_or_else(|| bits.map_or(1, |bits| (low + bits).div_ceil(8)));
            let bits = bits.unwrap_or((bytes * 8).saturating_sub(low));
            if bits == 0 || low + bits > bytes * 8 {
                problems.push(Problem::new(
                    node.span,
                    format!(
                        "bits {low} to {} do not lie in {}",
                        (low + bits).saturating_sub(1),
                        count(bytes as usize, "byte")
                    ),
                    "a lowest bit and a number of bits inside the bytes",
                ));
                continue;
            }
            if let Some((origin, at)) = anchor {
                pieces.push(Piece { origin, at, bytes: bytes as usize, low, bits });
            }
        }
        ItemPlace::Pieces(pieces)
    }

    fn copies(&mut self, node: &Node) -> Vec<CopyPlace> {
        let Some(list) = get::list(node, "copies", &mut self.problems) else { return Vec::new() };
        if !self.is_short(node, list.len(), MAX_PLACES, "copies") {
            return Vec::new();
        }
        let mut copies = Vec::new();
        for node in list {
            let Some(mut entries) = Entries::of(node, "a copy", &mut self.problems) else { continue };
            let anchor = self.anchor(&mut entries);
            let problems = &mut self.problems;
            let inverted = entries.or("inverted", false, |n| get::boolean(n, problems));
            entries.finish(problems);
            if let (Some((origin, at)), Some(inverted)) = (anchor, inverted) {
                copies.push(CopyPlace { origin, at, inverted });
            }
        }
        copies
    }
}

fn rest(node: &Node, problems: &mut Vec<Problem>) -> Option<Rest> {
    match &node.value {
        NodeValue::Text(text) => Some(Rest::Typed(text.clone())),
        NodeValue::Number(_) => {
            get::int(node, 0u8..=255, "the byte that fills the field at rest", problems).map(Rest::Fill)
        }
        _ => {
            problems.push(Problem::new(
                node.span,
                format!("{} is no rest value", node.shown()),
                "a byte that fills the field (0xFF), or a value in quotes as it would be typed (\"0\")",
            ));
            None
        }
    }
}

fn limits(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Limits> {
    let least_node = entries.optional("min");
    let most_node = entries.optional("max");
    let mut number =
        |node: Option<&Node>| node.and_then(|n| exact(n, "a limit of the shown value", problems));
    let (least, most) = (number(least_node), number(most_node));
    if let (Some(least), Some(most), Some(node)) = (least, most, most_node)
        && least > most
    {
        problems.push(Problem::new(
            node.span,
            format!("max {most} lies below min {least}"),
            "a max that is at least min",
        ));
    }
    (least.is_some() || most.is_some()).then_some(Limits { least, most })
}

/// A regular expression that the whole text must match.
fn pattern(node: &Node, problems: &mut Vec<Problem>) -> Option<Pattern> {
    let text = get::text(node, "a regular expression", problems)?;
    match RegexBuilder::new(&format!("^(?:{text})$")).size_limit(MAX_REGEX).build() {
        Ok(regex) => Some(Pattern { text: text.into(), regex }),
        Err(error) => {
            let why = error.to_string();
            let why = why.lines().last().unwrap_or_default().trim_start_matches("error: ").to_string();
            problems.push(Problem::new(
                node.span,
                format!("{} is no regular expression: {why}", node.shown()),
                "a pattern such as \"[A-Z]{2}-[0-9]{4}\"",
            ));
            None
        }
    }
}
