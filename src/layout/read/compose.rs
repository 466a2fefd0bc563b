//! The kinds that hold other fields: groups, tables, choices by a tag, chains; and computed values.

use std::sync::Arc;

use super::super::composed::COMPOSED;
use super::super::expr::Expr;
use super::super::model::{ComputedForm, Form, ItemId, ItemPlace, Rest, TableForm, TagForm, Tags};
use super::fields::Presented;
use super::{Inherited, Reader};
use crate::notation::{Entries, Name, Node, NodeValue, Problem, get};
use crate::value::{self, Kind, Scaling, Size};
use crate::wording::{count, does};

/// How many shapes one choice may have.
const MAX_SHAPES: usize = 512;

impl Reader {
    /// The kind of item `id`.
    pub(super) fn form(&mut self, node: &Node, id: ItemId, presented: Presented<'_>, inherited: Inherited) {
        let word = node.head().unwrap_or_default();
        if let "Group" | "Chain" = word {
            self.shows_nothing(word, presented);
        }
        let form = match word {
            "Group" => self.group(node, id, inherited),
            "Table" => self.table(node, id, presented, inherited),
            "ByTag" => self.by_tag(node, id, presented, inherited),
            "Chain" => self.chain(node, id, inherited),
            "Computed" => self.computed(node, id, presented),
            _ => self.leaf(node, id, presented),
        };
        if let Some(form) = form {
            self.misplaced(word, &form, id);
            let item = &mut self.model.items[id];
            if item.kind.is_empty() {
                item.kind = word.into();
            }
            item.form = form;
        }
    }

    /// Tells how a number is shown where none is.
    fn shows_nothing(&mut self, word: &str, presented: Presented<'_>) {
        if let Some(entry) = presented.scale.or(presented.offset).or(presented.unit) {
            self.problems.push(Problem::new(
                entry.span,
                format!("a {word} has no scale, offset or unit"),
                "them beside the kinds of single values",
            ));
        }
    }

    /// Tells entries that mean nothing beside a kind of this form.
    fn misplaced(&mut self, word: &str, form: &Form, id: ItemId) {
        let item = &self.model.items[id];
        let mut wrong = Vec::new();
        if let Form::Group(_) | Form::Table(_) = form
            && matches!(item.place, ItemPlace::Pieces(_))
        {
            wrong.push(("lies in whole bytes", "at instead of low, in_bytes or pieces"));
        }
        let bare = matches!(form, Form::Table(table) if table.bare);
        if matches!(form, Form::Group(_) | Form::Table(_))
            && !bare
            && (item.limits.is_some() || item.pattern.is_some())
        {
            wrong.push(("has no value", "min, max and pattern beside the fields inside"));
        }
        if matches!(form, Form::Group(_) | Form::Table(_)) && matches!(item.rest, Some(Rest::Typed(_))) {
            wrong.push(("has no value", "a byte such as 0xFF that fills it at rest"));
        }
        if let Form::Computed(_) = form
            && (!matches!(item.place, ItemPlace::Next) || item.size.is_some() || !item.copies.is_empty())
        {
            wrong.push(("has no bytes", "neither a place, nor a size, nor copies"));
        }
        for (what, expected) in wrong {
            self.problems.push(Problem::new(
                item.span,
                format!("the field {} is a {word} and {what}", item.name),
                expected.to_string(),
            ));
        }
    }

    fn leaf(&mut self, node: &Node, id: ItemId, presented: Presented<'_>) -> Option<Form> {
        let kind = self.known_kind(node)?;
        let kind = kind.presented(presented.scale, presented.offset, presented.unit, &mut self.problems)?;
        let item = &mut self.model.items[id];
        item.kind = kind.label().into();
        item.unit = kind.unit().map(Arc::from);
        if let Some(Rest::Typed(typed)) = &item.rest {
            match kind.parse(typed) {
                Ok(value) => item.rest = Some(Rest::Value(value)),
                Err(error) => {
                    self.problems.push(Problem::new(
                        item.span,
                        format!("rest {}", error.what),
                        error.expected,
                    ));
                }
            }
        }
        // A field with a lowest bit has as many bits as its kind.
        if let ItemPlace::Pieces(pieces) = &mut item.place {
            if !kind.is_picked_in(item.order) {
                self.problems.push(Problem::new(
                    node.span,
                    "the kind has another order than the field, whose bits are picked first",
                    "order: Big or order: Little beside the field, and none in its kind",
                ));
            }
            let named = match kind.size() {
                Size::Bits(bits) => Some(bits),
                Size::Bytes(bytes) => u32::try_from(bytes * 8).ok(),
                Size::Found | Size::Given => None,
            };
            match (named, pieces.as_mut_slice()) {
                (Some(bits), [piece]) if piece.bits == 0 => {
                    if piece.bytes == 0 {
                        piece.bytes = (piece.low + bits).div_ceil(8) as usize;
                    }
                    piece.bits = bits;
                    if u64::from(piece.low + bits) > piece.bytes as u64 * 8 {
                        self.problems.push(Problem::new(
                            node.span,
                            format!(
                                "{} from bit {} {} not fit into {}",
                                count(bits as usize, "bit"),
                                piece.low,
                                does(bits as usize, "does", "do"),
                                count(piece.bytes, "byte")
                            ),
                            "a lower bit, or more bytes by in_bytes",
                        ));
                    }
                }
                (Some(bits), pieces) => {
                    let sum: u32 = pieces.iter().map(|p| p.bits).sum();
                    if sum != bits {
                        self.problems.push(Problem::new(
                            node.span,
                            format!(
                                "the pieces have {} together and the kind has {bits}",
                                count(sum as usize, "bit")
                            ),
                            "as many bits in the pieces as in the kind",
                        ));
                    }
                }
                (None, _) => self.problems.push(Problem::new(
                    node.span,
                    format!(
                        "{} has no fixed number of bits to be picked",
                        node.head().unwrap_or("this kind")
                    ),
                    "a kind with a fixed number of bits",
                )),
            }
        }
        Some(Form::Leaf(kind))
    }

    /// A leaf kind; a name that is none is told with the names of composed kinds, too.
    fn known_kind(&mut self, node: &Node) -> Option<Kind> {
        if node.head().and_then(value::row).is_none() {
            self.problems.push(Kind::unknown(node, COMPOSED.iter().map(|kind| kind.name)));
            return None;
        }
        Kind::read(node, &mut self.problems)
    }

    fn computed(&mut self, node: &Node, id: ItemId, presented: Presented<'_>) -> Option<Form> {
        let (expr, labels) = match &node.value {
            NodeValue::Tuple(_, values) if values.len() == 1 => {
                (self.expr(&values[0], "a computed number"), None)
            }
            NodeValue::Struct(..) => {
                let mut entries = Entries::of(node, "Computed", &mut self.problems)?;
                let expr = entries.required("as", &mut self.problems);
                let labels = entries.optional("of");
                entries.finish(&mut self.problems);
                (self.expr(expr?, "a computed number"), labels)
            }
            _ => {
                self.problems.push(Problem::new(
                    node.span,
                    format!("{} computes nothing", node.shown()),
                    "Computed(\"an expression\") or Computed(as: \"an expression\", of: {0: \"label\"})",
                ));
                return None;
            }
        };
        let mut named = Vec::new();
        if let Some(labels) = labels {
            for (key, label) in get::map(labels, "labels by number", &mut self.problems)? {
                let key = get::int(key, i64::MIN..=i64::MAX, "a number", &mut self.problems);
                let label = get::text(label, "a label", &mut self.problems);
                if let (Some(key), Some(label)) = (key, label) {
                    named.push((i128::from(key), Arc::from(label)));
                }
            }
        }
        let unit = presented.unit.and_then(|n| get::text(n, "a unit", &mut self.problems));
        self.model.items[id].unit = unit.map(Arc::from);
        let scaling = match presented {
            Presented { scale: None, offset: None, .. } => None,
            Presented { scale, offset, .. } => Some(Scaling::read(scale, offset, &mut self.problems)?),
        };
        Some(Form::Computed(Box::new(ComputedForm { expr: expr?, labels: named, scaling })))
    }

    fn group(&mut self, node: &Node, id: ItemId, inherited: Inherited) -> Option<Form> {
        let mut entries = Entries::of(node, "Group", &mut self.problems)?;
        let of = entries.required("of", &mut self.problems);
        let checks = entries.optional("checks");
        entries.finish(&mut self.problems);
        let scope = self.scope(Some(id));
        let inside = inherited.deeper();
        self.fields(of?, scope, inside);
        if let Some(checks) = checks {
            self.checks(checks, scope, inside);
        }
        Some(Form::Group(scope))
    }

    fn table(
        &mut self,
        node: &Node,
        id: ItemId,
        presented: Presented<'_>,
        inherited: Inherited,
    ) -> Option<Form> {
        let mut entries = Entries::of(node, "Table", &mut self.problems)?;
        let rows = self.optional_expr(&mut entries, "rows", "a number of rows");
        let stride = self.optional_expr(&mut entries, "stride", "the bytes from one row to the next");
        let going = self.optional_expr(&mut entries, "going", "a condition");
        let until = self.optional_expr(&mut entries, "until", "a condition");
        let of = entries.required("of", &mut self.problems);
        let checks = entries.optional("checks");
        entries.finish(&mut self.problems);
        let scope = self.scope(Some(id));
        let inside = inherited.deeper();
        let of = of?;
        let bare = !matches!(of.value, NodeValue::List(_));
        if bare {
            let row = self.item(scope, "", of, inside)?;
            let owner = &self.model.items[id];
            // What a bare row is, is said of the table: its scale, its limits and so on are the rows'.
            let (limits, pattern) = (owner.limits, owner.pattern.clone());
            let item = &mut self.model.items[row];
            (item.limits, item.pattern) = (limits, pattern);
            self.form(of, row, presented, inside);
            if !matches!(self.model.items[row].form, Form::Leaf(_)) {
                self.problems.push(Problem::new(
                    of.span,
                    format!("{} is no kind of a single value", of.shown()),
                    "a list of fields, or a kind such as Int(bits: 16)",
                ));
            }
        } else {
            self.shows_nothing("Table", presented);
            self.fields(of, scope, inside);
        }
        if let Some(checks) = checks {
            self.checks(checks, scope, inside);
        }
        self.model.items[id].kind = match rows.as_ref().and_then(Expr::constant) {
            Some(n) => format!("Table {n}").into(),
            None => "Table".into(),
        };
        Some(Form::Table(Box::new(TableForm { rows, stride, going, until, scope, bare })))
    }

    fn by_tag(
        &mut self,
        node: &Node,
        id: ItemId,
        presented: Presented<'_>,
        inherited: Inherited,
    ) -> Option<Form> {
        let mut entries = Entries::of(node, "ByTag", &mut self.problems)?;
        let tag = self.required_expr(&mut entries, "tag", "what chooses the shape");
        let shapes = entries.required("shapes", &mut self.problems);
        let other = entries.optional("other");
        entries.finish(&mut self.problems);
        let form = self.choice(id, shapes?, other, presented, inherited);
        Some(Form::ByTag(Box::new(TagForm { tag: tag?, ..form? })))
    }

    /// The shapes of a choice, as items of the same scope that follow the item `id`.
    fn choice(
        &mut self,
        id: ItemId,
        shapes: &Node,
        other: Option<&Node>,
        presented: Presented<'_>,
        inherited: Inherited,
    ) -> Option<TagForm> {
        let map = get::map(shapes, "shapes by tag", &mut self.problems)?;
        if !self.is_short(shapes, map.len(), MAX_SHAPES, "shapes") {
            return None;
        }
        let mut form = TagForm { tag: Expr::Number(0), shapes: Vec::new(), other: None };
        let mut seen: Vec<Tags> = Vec::new();
        for (key, shape) in map {
            let tags = self.tags(key);
            let slot = self.shape(id, shape, presented, inherited);
            let (Some(tags), Some(slot)) = (tags, slot) else { continue };
            if let Some(other) = seen.iter().find(|other| other.overlaps(&tags)) {
                let what =
                    if other.covers(&tags) { "is never reached" } else { "shares tags with one before it" };
                self.problems.push(Problem::new(
                    key.span,
                    format!("the shape for {} {what}", key.shown()),
                    "tags that no shape before it has",
                ));
            }
            seen.push(tags.clone());
            form.shapes.push((tags, slot));
        }
        form.other = other.and_then(|other| self.shape(id, other, presented, inherited));
        Some(form)
    }

    /// A tag: `3`, `"0x10..0x1F"` (both ends included), or text in single quotes, `"'FRU'"`.
    fn tags(&mut self, key: &Node) -> Option<Tags> {
        let wrong = |problems: &mut Vec<Problem>| {
            problems.push(Problem::new(
                key.span,
                format!("{} is no tag", key.shown()),
                "a number, a range with both ends included (\"0x10..0x1F\"), or text in single quotes (\"'FRU'\")",
            ));
            None
        };
        match &key.value {
            NodeValue::Number(_) => match get::as_integer(key) {
                Some(number) => Some(Tags::Numbers(number, number)),
                None => wrong(&mut self.problems),
            },
            NodeValue::Char(c) => Some(Tags::Text(c.to_string())),
            NodeValue::Text(text) => {
                if let Some(text) = text.strip_prefix('\'').and_then(|t| t.strip_suffix('\'')) {
                    return Some(Tags::Text(text.to_string()));
                }
                match get::ends(text, "..") {
                    Some((first, last)) => Some(Tags::Numbers(first, last)),
                    None => wrong(&mut self.problems),
                }
            }
            _ => wrong(&mut self.problems),
        }
    }

    /// One shape: a list of fields, a kind, or either with a name of its own, `("name", …)`, or with further
    /// entries of a field, `(name: "…", kind: …, unit: "…")`. Gives its slot.
    fn shape(
        &mut self,
        chooser: ItemId,
        node: &Node,
        presented: Presented<'_>,
        inherited: Inherited,
    ) -> Option<usize> {
        let chooser = self.model.items[chooser].clone();
        let (name, body) = match &node.value {
            NodeValue::Tuple(None, values) if values.len() == 2 => {
                (super::name(&values[0], &mut self.problems)?.to_string(), &values[1])
            }
            _ => (chooser.name.to_string(), node),
        };
        let owned;
        let (name, body, mut entries) = match &body.value {
            NodeValue::Struct(None, _) => {
                let mut entries = Entries::of(body, "a shape", &mut self.problems)?;
                let name = match entries.optional("name") {
                    Some(node) => super::name(node, &mut self.problems)?.to_string(),
                    None => name,
                };
                let kind = entries.required("kind", &mut self.problems)?;
                (name, kind, Some(entries))
            }
            NodeValue::List(_) => {
                // A list of fields is a group of them.
                let group = Name { span: body.span, text: "Group".to_string() };
                let of = Name { span: body.span, text: "of".to_string() };
                owned =
                    Node { span: body.span, value: NodeValue::Struct(Some(group), vec![(of, body.clone())]) };
                (name, &owned, None)
            }
            _ => (name, body, None),
        };
        let id = self.item(chooser.scope, &name, node, inherited)?;
        let (inherited, presented) = match &mut entries {
            Some(entries) => {
                for taken in ["at", "from", "low", "in_bytes", "pieces", "size", "when", "copies"] {
                    if let Some(node) = entries.optional(taken) {
                        self.problems.push(Problem::new(
                            node.span,
                            format!("a shape has no {taken} of its own"),
                            format!("{taken} beside the tag"),
                        ));
                    }
                }
                let inherited = self.common(entries, id, inherited);
                (inherited, Presented::of(entries).or(presented))
            }
            None => {
                let item = &mut self.model.items[id];
                item.limits = chooser.limits;
                item.pattern = chooser.pattern;
                item.note = chooser.note;
                item.caution = chooser.caution;
                item.rest = chooser.rest;
                // A group of fields has no scale; one value takes over what was said beside the tag.
                let group = body.head() == Some("Group");
                (inherited, if group { Presented::default() } else { presented })
            }
        };
        if let Some(entries) = entries {
            entries.finish(&mut self.problems);
        }
        // Every shape lies where the choice lies.
        let item = &mut self.model.items[id];
        item.place = chooser.place;
        item.size = chooser.size;
        item.copies = chooser.copies;
        self.form(body, id, presented, inherited);
        Some(self.model.items[id].slot)
    }

    /// A chain is a table whose rows are the fields of the head and a choice by the tag.
    fn chain(&mut self, node: &Node, id: ItemId, inherited: Inherited) -> Option<Form> {
        let mut entries = Entries::of(node, "Chain", &mut self.problems)?;
        let head = entries.required("head", &mut self.problems);
        let tag = self.required_expr(&mut entries, "tag", "the tag of a record");
        let size = self.required_expr(&mut entries, "size", "the bytes of a record behind its head");
        let of = entries.required("of", &mut self.problems);
        let other = entries.optional("other");
        let rows = self.optional_expr(&mut entries, "rows", "a number of records");
        let going = self.optional_expr(&mut entries, "going", "a condition");
        let until = self.optional_expr(&mut entries, "until", "a condition");
        let tail = entries.optional("tail");
        let checks = entries.optional("checks");
        entries.finish(&mut self.problems);
        let scope = self.scope(Some(id));
        let inside = inherited.deeper();
        self.fields(head?, scope, inside);
        let body = self.item(scope, "value", node, inside)?;
        self.model.items[body].size = size;
        let form = self.choice(body, of?, other, Presented::default(), inside);
        let (tag, form) = (tag?, form?);
        let item = &mut self.model.items[body];
        item.form = Form::ByTag(Box::new(TagForm { tag, ..form }));
        item.kind = "ByTag".into();
        if let Some(tail) = tail {
            self.fields(tail, scope, inside);
        }
        if let Some(checks) = checks {
            self.checks(checks, scope, inside);
        }
        let table = TableForm { rows, stride: None, going, until, scope, bare: false };
        Some(Form::Table(Box::new(table)))
    }
}

impl Inherited {
    fn deeper(self) -> Self {
        Inherited { depth: self.depth + 1, ..self }
    }
}

impl Tags {
    fn covers(&self, other: &Tags) -> bool {
        match (self, other) {
            (Tags::Numbers(a, b), Tags::Numbers(c, d)) => a <= c && d <= b,
            _ => self == other,
        }
    }

    fn overlaps(&self, other: &Tags) -> bool {
        match (self, other) {
            (Tags::Numbers(a, b), Tags::Numbers(c, d)) => a <= d && c <= b,
            (Tags::Text(a), Tags::Text(b)) => a == b,
            _ => false,
        }
    }
}
