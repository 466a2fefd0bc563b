//! Names in expressions become paths through scopes, and each scope gets its order of decoding: what a field
//! hangs on comes first. A field that hangs on itself, by whatever detour, is told with that detour.

use std::collections::HashMap;
use std::sync::Arc;

use super::expr::{Expr, FieldUse, Place, Target, Want};
use super::model::{Form, Item, ItemId, ItemPlace, Mark, Model, Origin, ScopeId, Stretch};
use super::order::in_order;
use crate::notation::{Problem, nearest};

/// How many items one name may mean, one shape or condition excluding the other.
const MAX_MEANINGS: usize = 64;

/// What names need to know of the model while it is changed.
struct Names {
    items: Vec<Known>,
    scopes: Vec<KnownScope>,
}

struct Known {
    name: Arc<str>,
    scope: ScopeId,
    slot: usize,
    inner: Inner,
    /// The slot of the choice, for one of its shapes.
    chooser: Option<usize>,
}

#[derive(Clone, Copy)]
enum Inner {
    Value,
    Computed,
    Group(ScopeId),
    Table(ScopeId),
    Choice,
}

struct KnownScope {
    owner: Option<ItemId>,
    slots: Vec<ItemId>,
    by_name: HashMap<Arc<str>, Vec<usize>>,
}

/// Resolves every name and orders every scope.
pub(super) fn resolve(model: &mut Model, problems: &mut Vec<Problem>) {
    let names = Names::of(model);
    twins(model, &names, problems);
    let mut graph = Graph::new(&names);
    for (id, item) in model.items.iter_mut().enumerate() {
        let mut resolver = Resolver { names: &names, graph: &mut graph, problems };
        resolver.item(id, item);
    }
    ends_wait_for_sizes(model, &mut graph);
    for scope in 0..model.scopes.len() {
        let mut resolver = Resolver { names: &names, graph: &mut graph, problems };
        for check in &mut model.scopes[scope].checks {
            let around = Around { scope, dependent: None, own_size: false };
            for stretch in check.over.iter_mut().chain([&mut check.stored]) {
                match stretch {
                    Stretch::Between(a, b) | Stretch::Bytes(_, a, b) => {
                        resolver.expr(a, around);
                        resolver.expr(b, around);
                    }
                    Stretch::Field(field) => resolver.expr(field, around),
                }
            }
            if let Some(when) = &mut check.when {
                resolver.expr(when, around);
            }
        }
    }
    let mut resolver = Resolver { names: &names, graph: &mut graph, problems };
    for mark in model.fits.iter_mut().flat_map(|a| &mut a.marks) {
        if let Mark::Holds { that, .. } = mark {
            resolver.expr(that, Around { scope: 0, dependent: None, own_size: false });
        }
    }
    for scope in 0..model.scopes.len() {
        match graph.order(scope, &names) {
            Ok(order) => {
                let scope = &mut model.scopes[scope];
                scope.permuted = order.windows(2).any(|w| w[0] > w[1]);
                scope.order = order;
            }
            Err(cycle) => problems.push(told(model, &names, scope, &cycle)),
        }
    }
}

/// In a group whose size a field inside tells, what counts from its end comes after that field.
fn ends_wait_for_sizes(model: &Model, graph: &mut Graph) {
    for item in model.items.iter().filter(|item| item.late_size) {
        let (Form::Group(inner), Some(size)) = (&item.form, &item.size) else { continue };
        let mut tellers = Vec::new();
        size.for_each_field(&mut |field| {
            let own = |t: &&Target| t.up == 0 && t.slots[0].0 == item.slot;
            tellers.extend(
                field.targets.iter().filter(own).filter_map(|t| t.slots.get(1)).map(|(slot, _)| *slot),
            );
        });
        for (slot, &id) in model.scopes[*inner].slots.iter().enumerate() {
            let from_end = match &model.items[id].place {
                ItemPlace::At(origin, _) => *origin == Origin::End,
                ItemPlace::Pieces(pieces) => pieces.iter().any(|p| p.origin == Origin::End),
                ItemPlace::Next => false,
            };
            if from_end {
                tellers.iter().filter(|on| **on != slot).for_each(|on| graph.edge(*inner, slot, *on));
            }
        }
    }
}

/// A cycle as a problem at its first field.
fn told(model: &Model, names: &Names, scope: ScopeId, cycle: &[usize]) -> Problem {
    let item = |slot: usize| names.scopes[scope].slots[slot];
    let name = |slot: usize| names.items[item(slot)].name.to_string();
    let mut path: Vec<_> = cycle.iter().map(|&slot| name(slot)).collect();
    path.extend(cycle.first().map(|&slot| name(slot)));
    let first = cycle.first().map_or(0, |&slot| item(slot));
    Problem::new(
        model.items[first].span,
        format!(
            "the field {} hangs on itself: {}",
            name(cycle.first().copied().unwrap_or(0)),
            path.join(" → ")
        ),
        "a place, a size and a condition that hang on other fields only",
    )
}

/// Tells names that two fields of one list have at the same time.
fn twins(model: &mut Model, names: &Names, problems: &mut Vec<Problem>) {
    for scope in &names.scopes {
        for slots in scope.by_name.values().filter(|slots| slots.len() > 1) {
            for &slot in slots {
                model.items[scope.slots[slot]].twin = true;
            }
            for (n, &slot) in slots.iter().enumerate().skip(1) {
                let id = scope.slots[slot];
                let (item, known) = (&model.items[id], &names.items[id]);
                let exclusive = slots[..n].iter().all(|&other| {
                    let other_id = scope.slots[other];
                    let other_known = &names.items[other_id];
                    let same_choice = known.chooser == Some(other)
                        || known.chooser.is_some() && known.chooser == other_known.chooser;
                    let conditional =
                        |id: ItemId| model.items[id].when.is_some() || names.items[id].chooser.is_some();
                    same_choice || conditional(id) && conditional(other_id)
                });
                if !exclusive && !item.name.is_empty() {
                    problems.push(
                        Problem::new(
                            item.span,
                            format!("the name {} is that of two fields of one list", item.name),
                            "names that differ, or a condition (when: …) on each of the two",
                        )
                        .fix("give one of them another name"),
                    );
                }
            }
        }
    }
}

impl Names {
    fn of(model: &Model) -> Self {
        let mut items: Vec<Known> = model
            .items
            .iter()
            .map(|item| Known {
                name: item.name.clone(),
                scope: item.scope,
                slot: item.slot,
                inner: match &item.form {
                    Form::Leaf(_) => Inner::Value,
                    Form::Computed(_) => Inner::Computed,
                    Form::Group(scope) => Inner::Group(*scope),
                    Form::Table(table) => Inner::Table(table.scope),
                    Form::ByTag(_) => Inner::Choice,
                },
                chooser: None,
            })
            .collect();
        for item in &model.items {
            if let Form::ByTag(tag) = &item.form {
                for slot in tag.slots() {
                    items[model.scopes[item.scope].slots[slot]].chooser = Some(item.slot);
                }
            }
        }
        let scopes = model
            .scopes
            .iter()
            .map(|scope| {
                let mut by_name: HashMap<Arc<str>, Vec<usize>> = HashMap::new();
                for (slot, &id) in scope.slots.iter().enumerate() {
                    by_name.entry(model.items[id].name.clone()).or_default().push(slot);
                }
                KnownScope { owner: scope.owner, slots: scope.slots.clone(), by_name }
            })
            .collect();
        Names { items, scopes }
    }

    /// The scope around `scope`, if it is not the top.
    fn outer(&self, scope: ScopeId) -> Option<ScopeId> {
        self.scopes[scope].owner.map(|owner| self.items[owner].scope)
    }

    /// The slot that decodes the item: its own, or that of the choice it is a shape of.
    fn decoder(&self, item: ItemId) -> usize {
        let known = &self.items[item];
        known.chooser.unwrap_or(known.slot)
    }

    /// Follows steps of a name from the items called so in `scope`.
    fn follow(
        &self,
        scope: ScopeId,
        field: &FieldUse,
        step: usize,
        path: &mut Vec<(usize, usize)>,
        out: &mut Found,
    ) {
        let Some(slots) = self.scopes[scope].by_name.get(field.steps[step].name.as_str()) else {
            out.missing(step);
            return;
        };
        let last = step + 1 == field.steps.len();
        let choice = |slot: usize| matches!(self.items[self.scopes[scope].slots[slot]].inner, Inner::Choice);
        for &slot in slots {
            if out.targets.len() > MAX_MEANINGS {
                return;
            }
            let id = self.scopes[scope].slots[slot];
            // A choice stands for whichever shape of its own name was taken.
            if last && self.items[id].chooser.is_some_and(|c| slots.contains(&c) && choice(c)) {
                continue;
            }
            let row = field.steps[step].row.is_some();
            path.push((slot, step));
            match (self.items[id].inner, row, last) {
                (Inner::Table(_), _, true) | (_, false, true) => out.targets.push((path.clone(), id)),
                (Inner::Table(inner), true, false) | (Inner::Group(inner), false, false) => {
                    self.follow(inner, field, step + 1, path, out);
                }
                (Inner::Table(_), false, false) => out.wrong(format!(
                    "{} is a table; say which row: {}[0]",
                    field.steps[step].name, field.steps[step].name
                )),
                (_, true, _) => out.wrong(format!("{} is no table and has no rows", field.steps[step].name)),
                (Inner::Value | Inner::Computed | Inner::Choice, false, false) => {
                    out.wrong(format!("{} holds no other fields", field.steps[step].name));
                }
            }
            path.pop();
        }
    }
}

/// What a name can mean, and why it means nothing.
#[derive(Default)]
struct Found {
    targets: Vec<(Vec<(usize, usize)>, ItemId)>,
    missing: Option<usize>,
    wrong: Option<String>,
}

impl Found {
    fn missing(&mut self, step: usize) {
        self.missing = Some(self.missing.map_or(step, |s| s.max(step)));
    }

    fn wrong(&mut self, why: String) {
        self.wrong.get_or_insert(why);
    }
}

/// Which slots of each scope hang on which.
struct Graph {
    /// For each scope and slot, the slots it hangs on.
    edges: Vec<HashMap<usize, Vec<usize>>>,
}

impl Graph {
    fn new(names: &Names) -> Self {
        Graph { edges: vec![HashMap::new(); names.scopes.len()] }
    }

    fn edge(&mut self, scope: ScopeId, dependent: usize, on: usize) {
        let edges = self.edges[scope].entry(dependent).or_default();
        if !edges.contains(&on) {
            edges.push(on);
        }
    }

    /// The slots of `scope` in an order in which each comes after what it hangs on, else as in the layout; or a
    /// cycle.
    fn order(&self, scope: ScopeId, names: &Names) -> Result<Vec<usize>, Vec<usize>> {
        let slots = &names.scopes[scope].slots;
        let decoded = (0..slots.len()).filter(|&slot| names.items[slots[slot]].chooser.is_none());
        let on = |slot: usize| self.edges[scope].get(&slot).cloned().unwrap_or_default();
        in_order(decoded, slots.len(), on, |_| true)
    }
}

/// Where an expression stands.
#[derive(Clone, Copy)]
struct Around {
    scope: ScopeId,
    /// The item that cannot be decoded without it.
    dependent: Option<ItemId>,
    /// Whether it is the size of a group, which may be told by a field inside the group.
    own_size: bool,
}

struct Resolver<'a> {
    names: &'a Names,
    graph: &'a mut Graph,
    problems: &'a mut Vec<Problem>,
}

impl Resolver<'_> {
    fn item(&mut self, id: ItemId, item: &mut Item) {
        let around = Around { scope: item.scope, dependent: Some(id), own_size: false };
        match &mut item.place {
            // A computed value lies nowhere, so nothing before it matters.
            ItemPlace::Next if matches!(item.form, Form::Computed(_)) => {}
            ItemPlace::Next => self.follows(id),
            ItemPlace::At(_, at) => self.expr(at, around),
            ItemPlace::Pieces(pieces) => pieces.iter_mut().for_each(|p| self.expr(&mut p.at, around)),
        }
        if let Some(size) = &mut item.size {
            let group = matches!(item.form, Form::Group(_));
            self.expr(size, Around { own_size: group, ..around });
            size.for_each_field(&mut |field| {
                item.late_size |=
                    group && field.targets.iter().any(|t| t.up == 0 && t.slots[0].0 == item.slot);
            });
        }
        if let Some(when) = &mut item.when {
            self.expr(when, around);
        }
        item.copies.iter_mut().for_each(|copy| self.expr(&mut copy.at, around));
        match &mut item.form {
            Form::Leaf(_) | Form::Group(_) => {}
            Form::Computed(computed) => self.expr(&mut computed.expr, around),
            Form::Table(table) => {
                for expr in table.rows.iter_mut().chain(&mut table.stride) {
                    self.expr(expr, around);
                }
                let inside = Around { scope: table.scope, ..around };
                if let Some(going) = &mut table.going {
                    self.expr(going, inside);
                    self.not_inside(going);
                }
                if let Some(until) = &mut table.until {
                    self.expr(until, inside);
                }
            }
            Form::ByTag(tag) => self.expr(&mut tag.tag, around),
        }
    }

    /// `going` is asked before its row is decoded, so it cannot ask about fields of that row.
    fn not_inside(&mut self, going: &Expr) {
        let mut inside = None;
        going.for_each_field(&mut |field| {
            if field.targets.iter().any(|t| t.up == 0) {
                inside = Some((field.span, field.text.clone()));
            }
        });
        if let Some((span, text)) = inside {
            self.problems.push(
                Problem::new(
                    span,
                    format!("the field {text} is not known before its row"),
                    "byte(0), row or fields outside",
                )
                .fix("use until, which is asked after each row"),
            );
        }
    }

    /// The item lies behind the one before it in its list.
    fn follows(&mut self, id: ItemId) {
        let known = &self.names.items[id];
        let slots = &self.names.scopes[known.scope].slots;
        let own = self.names.decoder(id);
        let before = (0..own).rev().find(|&slot| {
            let item = &self.names.items[slots[slot]];
            item.chooser.is_none() && !matches!(item.inner, Inner::Computed)
        });
        if let Some(before) = before {
            self.graph.edge(known.scope, own, before);
        }
    }

    fn expr(&mut self, expr: &mut Expr, around: Around) {
        self.look_up(expr, around);
        if let Some(id) = around.dependent
            && (expr.asks(Place::Next) || expr.asks(Place::Left))
            && around.scope == self.names.items[id].scope
        {
            self.follows(id);
        }
    }

    /// Finds the fields that names mean; `here`, `next`, `row`, `image` and `left` become places where no field is
    /// called so.
    fn look_up(&mut self, expr: &mut Expr, around: Around) {
        if let Expr::Field(field) = expr {
            let place = match field.steps.as_slice() {
                [word] if field.want == Want::Value && word.row.is_none() => Place::WORDS
                    .iter()
                    .find(|(name, _)| *name == word.name && !self.is_field(name, around.scope)),
                _ => None,
            };
            match place {
                Some((_, place)) => *expr = Expr::Place(*place),
                None => self.field(field, around),
            }
        }
        expr.parts_mut().into_iter().for_each(|part| self.look_up(part, around));
    }

    fn is_field(&self, name: &str, mut scope: ScopeId) -> bool {
        loop {
            if self.names.scopes[scope].by_name.contains_key(name) {
                return true;
            }
            match self.names.outer(scope) {
                Some(outer) => scope = outer,
                None => return false,
            }
        }
    }

    fn field(&mut self, field: &mut FieldUse, around: Around) {
        let mut found = Found::default();
        let (mut scope, mut up) = (around.scope, 0);
        loop {
            self.names.follow(scope, field, 0, &mut Vec::new(), &mut found);
            if !found.targets.is_empty() {
                break;
            }
            match self.names.outer(scope) {
                Some(outer) => {
                    scope = outer;
                    up += 1;
                }
                None => {
                    self.unknown(field, around, found);
                    return;
                }
            }
        }
        if found.targets.len() > MAX_MEANINGS {
            self.problems.push(Problem::new(
                field.span,
                format!("the name {} can mean more than {MAX_MEANINGS} fields", field.text),
                "a field that stands outside the choice, or fewer shapes that have one of this name",
            ));
            return;
        }
        for (slots, id) in found.targets {
            let target = self.shortened(around.scope, up, slots);
            self.depend(around, &target, id);
            field.targets.push(target);
        }
    }

    /// A name that leads through a group around the expression, as seen from inside that group.
    fn shortened(&self, from: ScopeId, mut up: usize, mut slots: Vec<(usize, usize)>) -> Target {
        while up > 0 && slots.len() > 1 {
            let mut inner = from;
            for _ in 1..up {
                match self.names.outer(inner) {
                    Some(outer) => inner = outer,
                    None => break,
                }
            }
            let Some(owner) = self.names.scopes[inner].owner else { break };
            let known = &self.names.items[owner];
            if known.slot != slots[0].0 || !matches!(known.inner, Inner::Group(_)) {
                break;
            }
            slots.remove(0);
            up -= 1;
        }
        Target { up, slots }
    }

    /// Notes what must be decoded before what.
    fn depend(&mut self, around: Around, target: &Target, id: ItemId) {
        let Some(dependent) = around.dependent else { return };
        let mut scope = around.scope;
        for _ in 0..target.up {
            scope = self.names.outer(scope).unwrap_or(0);
        }
        // The item of that scope in which the expression stands.
        let mut inside = dependent;
        loop {
            let known = &self.names.items[inside];
            if known.scope == scope {
                break;
            }
            match self.names.scopes[known.scope].owner {
                Some(owner) => inside = owner,
                // The condition of a table that asks about its own row.
                None => return,
            }
        }
        let own = self.names.decoder(inside);
        let first = self.names.scopes[scope].slots[target.slots[0].0];
        let on = self.names.decoder(first);
        // From inside a group its start is known, from inside a row the rows before it are, and the size of a
        // group is looked for again after each field inside.
        let inner = inside != dependent || self.names.items[dependent].scope != around.scope;
        if own == on && (inner || around.own_size && id != dependent) {
            return;
        }
        self.graph.edge(scope, own, on);
    }

    fn unknown(&mut self, field: &FieldUse, around: Around, found: Found) {
        if let Some(wrong) = found.wrong {
            self.problems.push(Problem::new(
                field.span,
                format!("the name {} leads nowhere", field.text),
                wrong,
            ));
            return;
        }
        let step = found.missing.unwrap_or(0);
        let name = &field.steps[step.min(field.steps.len() - 1)].name;
        let mut known: Vec<&str> = Vec::new();
        let mut scope = Some(around.scope);
        while let Some(s) = scope {
            known.extend(self.names.scopes[s].by_name.keys().map(|k| &**k).filter(|k| !k.is_empty()));
            scope = self.names.outer(s);
        }
        known.extend(Place::WORDS.iter().map(|(word, _)| *word));
        known.sort_unstable();
        let mut problem = Problem::new(
            field.span,
            format!("there is no field {name} for {}", field.text),
            "a field of this list or of one around it",
        );
        if let Some(near) = nearest(name, known.iter().copied()) {
            problem.fix = Some(format!("did you mean {near}?"));
        }
        self.problems.push(problem);
    }
}
