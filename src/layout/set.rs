//! Changing a field by its value, and putting it to rest.

use super::decode::leaf::{filled, gather, turned, unfit};
use super::decode::{Trace, Tree, decode_fields};
use super::model::{Form, Item, ItemPlace, Piece, Rest};
use super::patch::Patch;
use super::{Field, FieldState, Layout, Refusal, Role, Shape};
use crate::check::ones;
use crate::edit::Change;
use crate::image::Image;
use crate::span::{ByteOrder, Span};
use crate::value::{Kind, Value};
use crate::wording::{count, short_list};

/// The change that makes the field at `path` and all its copies hold what `typed` says; no edits when they
/// already do.
///
/// # Errors
/// When there is no such field, it is never changed, the text does not suit its kind, range or pattern, or other
/// fields would lie elsewhere afterwards.
pub fn set(layout: &Layout, image: &Image, path: &str, typed: &str) -> Result<Change, Refusal> {
    let tree = decode_fields(layout, image);
    let index = find(&tree, path)?;
    let field = &tree.decoded.fields[index];
    let trace = &tree.traces[index];
    let item = writable(layout, field, trace)?;
    let Form::Leaf(kind) = &item.form else { return Err(no_value(field)) };
    let value = kind.parse(typed).map_err(|error| Refusal {
        what: format!("{}: {}", field.path, error.what),
        advice: error.expected,
    })?;
    let shown = kind.show(&value);
    if let Some((_, why)) = unfit(item, &value, &shown) {
        return Err(Refusal {
            what: format!("{}: {why}", field.path),
            advice: "give a value that suits the layout".to_string(),
        });
    }
    let mut patch = Patch::new(image);
    write(&mut patch, field, trace, item, kind, &value)?;
    // Any field may say where others lie, also by its bytes alone, so the layout is asked again.
    same_shape(layout, &tree, &patch, field)?;
    let unit = field.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    Ok(Change { label: format!("set {} to {shown}{unit}", field.path), edits: patch.edits() })
}

/// What a new value of the field at `path` must be, in words; `None` when it takes none.
#[must_use]
pub fn expects(layout: &Layout, image: &Image, path: &str) -> Option<String> {
    let tree = decode_fields(layout, image);
    let index = find(&tree, path).ok()?;
    let item = writable(layout, &tree.decoded.fields[index], &tree.traces[index]).ok()?;
    let Form::Leaf(kind) = &item.form else { return None };
    if let Some(pattern) = &item.pattern {
        return Some(format!("text that suits the pattern {}", pattern.text));
    }
    let unit = item.unit.as_ref().map_or(String::new(), |unit| format!(" {unit}"));
    let (mut least, mut most) = kind.range().unzip();
    if let Some(limits) = &item.limits {
        least = limits.least.map(|l| l.to_string()).or(least);
        most = limits.most.map(|m| m.to_string()).or(most);
    }
    match (least, most) {
        (Some(least), Some(most)) => Some(format!("{least} to {most}{unit}")),
        _ => Some(kind.expects()),
    }
}

/// The index of the field at `path`.
fn find(tree: &Tree, path: &str) -> Result<usize, Refusal> {
    let field = tree.decoded.named(path)?;
    Ok(tree.decoded.fields.iter().position(|f| f.path == field.path).unwrap_or_default())
}

/// The item of a field that may be changed by its value.
fn writable<'l>(layout: &'l Layout, field: &Field, trace: &Trace) -> Result<&'l Item, Refusal> {
    let refuse = |what: &str, advice: &str| Refusal {
        what: format!("{} {what}", field.path),
        advice: advice.to_string(),
    };
    let item = trace.item.map(|id| &layout.model.items[id]);
    let Some(item) = item.filter(|_| field.shape == Shape::Leaf) else { return Err(no_value(field)) };
    if let Form::Computed(_) = item.form {
        return Err(refuse("is worked out from other fields", "change the fields it is worked out from"));
    }
    if field.state == FieldState::Absent {
        return Err(refuse("lies outside the image", "open a read of the whole memory"));
    }
    if item.fixed {
        return Err(refuse("never changes once it is made, by the layout", "edit its bytes if you must"));
    }
    match item.role {
        Role::Check => Err(refuse("is a stored check", "reseal the check instead")),
        Role::Reserved => Err(refuse("is reserved by the maker", "leave it; edit its bytes if you must")),
        _ => Ok(item),
    }
}

fn no_value(field: &Field) -> Refusal {
    Refusal {
        what: format!("{} holds other fields and has no value of its own", field.path),
        advice: "set the fields inside it".to_string(),
    }
}

/// Writes `value` into the field and all its copies.
fn write(
    patch: &mut Patch<'_>,
    field: &Field,
    trace: &Trace,
    item: &Item,
    kind: &Kind,
    value: &Value,
) -> Result<(), Refusal> {
    let own = trace.own.min(field.spans.len());
    let refuse = |what: String, advice: String| Refusal { what: format!("{}: {what}", field.path), advice };
    let outside =
        || refuse("a part of it lies outside the image".into(), "open a read of the whole memory".into());
    if let ItemPlace::Pieces(pieces) = &item.place {
        let old =
            gather(pieces, &field.spans[..own], item.order, |span| patch.get(span)).ok_or_else(outside)?;
        let number = kind.encode_number(value, old).map_err(|e| refuse(e.what, e.expected))?;
        scatter(patch, pieces, &field.spans[..own], item.order, number).ok_or_else(outside)?;
    } else {
        let span = field.spans.first().copied().ok_or_else(outside)?;
        let old = patch.get(span).ok_or_else(outside)?;
        let new = kind.encode(value, &old, item.order).map_err(|e| refuse(e.what, e.expected))?;
        if new.len() != old.len() {
            return Err(refuse(
                format!(
                    "\"{}\" takes {} and the field has {}",
                    kind.show(value),
                    count(new.len(), "byte"),
                    old.len()
                ),
                "what follows would have to move; give a value of the same length".into(),
            ));
        }
        patch.put(span.start, &new);
    }
    copy_out(patch, field, trace, item);
    Ok(())
}

/// Writes what the field now holds into its copies; of bytes that are shared, only the field's bits.
fn copy_out(patch: &mut Patch<'_>, field: &Field, trace: &Trace, item: &Item) {
    let (own, copies) = field.spans.split_at(trace.own.min(field.spans.len()));
    for (copy, &inverted) in copies.chunks_exact(own.len().max(1)).zip(&trace.inverted) {
        if let ItemPlace::Pieces(pieces) = &item.place {
            if let Some(number) = gather(pieces, own, item.order, |span| patch.get(span)) {
                let number = if inverted { !number } else { number };
                let _ = scatter(patch, pieces, copy, item.order, number);
            }
            continue;
        }
        let Form::Leaf(kind) = &item.form else { continue };
        for (own, copy) in own.iter().zip(copy) {
            if let (Some(bytes), Some(old)) = (patch.get(*own), patch.get(*copy)) {
                patch.put(copy.start, &kind.laid(&turned(&bytes, inverted), &old, item.order));
            }
        }
    }
}

fn scatter(
    patch: &mut Patch<'_>,
    pieces: &[Piece],
    spans: &[Span],
    order: ByteOrder,
    mut number: u128,
) -> Option<()> {
    for (piece, span) in pieces.iter().zip(spans).rev() {
        let old = order.number(&patch.get(*span)?);
        let mask = ones(piece.bits).checked_shl(piece.low).unwrap_or(0);
        let new = old & !mask | number.checked_shl(piece.low).unwrap_or(0) & mask;
        number = number.checked_shr(piece.bits).unwrap_or(0);
        patch.put(span.start, &order.bytes(new, span.len()));
    }
    Some(())
}

/// Refuses a change after which other fields lie elsewhere, or are others.
fn same_shape(layout: &Layout, before: &Tree, patch: &Patch<'_>, field: &Field) -> Result<(), Refusal> {
    let after = decode_fields(layout, &patch.applied());
    let (old, new) = (&before.decoded.fields, &after.decoded.fields);
    let mut moved: Vec<&str> = Vec::new();
    let shape = |f: &Field| (f.path.clone(), f.spans.clone(), f.state == FieldState::Absent, f.kind.clone());
    if old.len() != new.len() || old.iter().zip(new).any(|(a, b)| shape(a) != shape(b)) {
        let kept: std::collections::HashSet<_> = new.iter().map(shape).collect();
        moved.extend(old.iter().filter(|f| !kept.contains(&shape(f))).map(|f| f.path.as_str()));
        let had: std::collections::HashSet<_> = old.iter().map(shape).collect();
        moved.extend(new.iter().filter(|f| !had.contains(&shape(f))).map(|f| f.path.as_str()));
        let mut told = std::collections::HashSet::new();
        moved.retain(|path| told.insert(*path));
        return Err(Refusal {
            what: format!("{} says where other fields lie: {}", field.path, short_list(&moved)),
            advice: "these would move or vanish while their bytes stay; edit the bytes if that is meant"
                .to_string(),
        });
    }
    Ok(())
}

/// The change that makes the field at `path`, and every Record inside it, hold its rest value.
///
/// # Errors
/// When there is no such field or no rest value is known.
pub fn to_rest(layout: &Layout, image: &Image, path: &str) -> Result<Change, Refusal> {
    let tree = decode_fields(layout, image);
    let index = find(&tree, path)?;
    let fields = &tree.decoded.fields;
    let field = &fields[index];
    let mut patch = Patch::new(image);
    let depth = field.depth;
    let inside = fields[index + 1..].iter().take_while(|f| f.depth > depth).count();
    let mut any_rests = false;
    for at in index..=index + inside {
        let (inner, trace) = (&fields[at], &tree.traces[at]);
        if inner.role != Role::Record && at != index || inner.state == FieldState::Absent {
            continue;
        }
        // A row of a table rests as its table does.
        let id = trace.item.or_else(|| inner.parent.and_then(|parent| tree.traces[parent].item));
        let Some(item) = id.map(|id| &layout.model.items[id]) else { continue };
        let Some(rest) = &item.rest else { continue };
        match (&item.form, rest) {
            (Form::Leaf(kind), Rest::Value(value)) => write(&mut patch, inner, trace, item, kind, value)?,
            (Form::Leaf(_), Rest::Fill(fill)) => fill_leaf(&mut patch, inner, trace, item, *fill),
            (Form::Computed(_), _) | (_, Rest::Value(_) | Rest::Typed(_)) => continue,
            (_, Rest::Fill(fill)) => fill_around(&mut patch, fields, at, *fill),
        }
        any_rests = true;
    }
    if !any_rests {
        return Err(Refusal {
            what: format!("the layout knows no rest value for {}", field.path),
            advice: "write rest: beside the field in the layout, or edit its bytes".to_string(),
        });
    }
    Ok(Change { label: format!("return {} to rest", field.path), edits: patch.edits() })
}

/// Fills a leaf and its copies.
fn fill_leaf(patch: &mut Patch<'_>, field: &Field, trace: &Trace, item: &Item, fill: u8) {
    let own = trace.own.min(field.spans.len());
    if let ItemPlace::Pieces(pieces) = &item.place {
        let bits = pieces.iter().map(|p| p.bits).sum();
        let _ = scatter(patch, pieces, &field.spans[..own], item.order, filled(fill, bits));
    } else if let Form::Leaf(kind) = &item.form {
        for span in &field.spans[..own] {
            if let Some(old) = patch.get(*span) {
                patch.put(span.start, &kind.laid(&vec![fill; span.len()], &old, item.order));
            }
        }
    }
    copy_out(patch, field, trace, item);
}

/// Fills what lies between the fields of a group, table or row: bytes that no field inside has.
fn fill_around(patch: &mut Patch<'_>, fields: &[Field], at: usize, fill: u8) {
    let field = &fields[at];
    let Some(own) = field.spans.first().copied() else { return };
    let leaves =
        fields[at + 1..].iter().take_while(|f| f.depth > field.depth).filter(|f| f.shape == Shape::Leaf);
    let mut taken: Vec<Span> = leaves.flat_map(|f| &f.spans).filter_map(|s| s.intersection(own)).collect();
    taken.sort_unstable();
    let mut from = own.start;
    for span in taken.into_iter().chain([Span::new(own.end, own.end)]) {
        if from < span.start && patch.get(Span::new(from, span.start)).is_some() {
            patch.put(from, &vec![fill; span.start - from]);
        }
        from = from.max(span.end);
    }
}
