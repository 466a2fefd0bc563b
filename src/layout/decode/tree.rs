//! The order of the layout for fields that were decoded in another one.

use super::super::model::Model;
use super::Trace;
use crate::layout::Field;

/// Puts each list of fields in the order of the layout, parents before what they hold.
pub(super) fn in_layout_order(
    model: &Model,
    fields: Vec<Field>,
    traces: Vec<Trace>,
) -> (Vec<Field>, Vec<Trace>) {
    let mut inside: Vec<Vec<usize>> = vec![Vec::new(); fields.len()];
    let mut top = Vec::new();
    for (index, field) in fields.iter().enumerate() {
        match field.parent {
            Some(parent) => inside[parent].push(index),
            None => top.push(index),
        }
    }
    // Rows have no item of their own and stay as they are.
    let slot = |index: &usize| traces[*index].item.map_or(0, |id| model.items[id].slot);
    for list in inside.iter_mut().chain([&mut top]) {
        list.sort_by_key(slot);
    }
    let mut order = Vec::with_capacity(fields.len());
    let mut stack: Vec<usize> = top.into_iter().rev().collect();
    while let Some(index) = stack.pop() {
        order.push(index);
        stack.extend(inside[index].iter().rev());
    }
    let mut place = vec![0; fields.len()];
    for (new, &old) in order.iter().enumerate() {
        place[old] = new;
    }
    let mut fields: Vec<Option<(Field, Trace)>> = fields.into_iter().zip(traces).map(Some).collect();
    order
        .iter()
        .filter_map(|&old| {
            let (mut field, trace) = fields[old].take()?;
            field.parent = field.parent.map(|parent| place[parent]);
            Some((field, trace))
        })
        .unzip()
}
