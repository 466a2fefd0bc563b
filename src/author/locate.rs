//! Where a field stands in the text of its layout.

use crate::notation::{Node, NodeValue};

/// A field in the list that holds it.
pub(super) struct Place<'n> {
    /// The list of fields.
    pub list: &'n Node,
    /// Which of them.
    pub index: usize,
    /// The field itself.
    pub node: &'n Node,
}

/// The list of fields at the top of a layout.
pub(super) fn top_fields(root: &Node) -> Option<&Node> {
    entry(root, "fields")
}

/// The field at `path`, as far as its steps are written out: groups, and the fields of a table's rows.
pub(super) fn place_of<'n>(root: &'n Node, path: &str) -> Option<Place<'n>> {
    let mut list = top_fields(root)?;
    let mut steps = path.split('.').peekable();
    loop {
        // `lockouts[3]` is a row of `lockouts`, and every row has the same text.
        let name = steps.next()?.split('[').next()?;
        let NodeValue::List(nodes) = &list.value else { return None };
        let index = nodes.iter().position(|n| name_of(n) == Some(name))?;
        if steps.peek().is_none() {
            return Some(Place { list, index, node: &nodes[index] });
        }
        list = entry(entry(&nodes[index], "kind")?, "of")?;
    }
}

/// The name that the text of a field states.
pub(super) fn name_of(node: &Node) -> Option<&str> {
    match &entry(node, "name")?.value {
        NodeValue::Text(text) => Some(text),
        _ => None,
    }
}

/// The offset that the text of a field states as a number.
pub(super) fn number_at(node: &Node) -> Option<i128> {
    crate::notation::get::as_integer(entry(node, "at")?)
}

/// The value of the entry `key` of a struct.
pub(super) fn entry<'n>(node: &'n Node, key: &str) -> Option<&'n Node> {
    let NodeValue::Struct(_, entries) = &node.value else { return None };
    entries.iter().find(|(name, _)| name.text == key).map(|(_, node)| node)
}
