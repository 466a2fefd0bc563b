//! Checks that were found, as checks of the layout.

use super::locate::{entry, name_of};
use super::{Refused, because, checked, node_of};
use crate::hunt::{Way, entry as found};
use crate::notation::{NodeValue, splice};

/// Puts a check in behind the others, under `name`; without one it is named by where it is stored. Returns the new
/// text and the name.
///
/// # Errors
/// When the name is taken or the check cannot be written.
pub fn add_check(text: &str, way: &Way, name: Option<&str>) -> Result<(String, String), Refused> {
    let added = found::add(text, &[way]).map_err(Refused::Problems)?;
    let given = added.names.first().cloned().unwrap_or_default();
    let Some(name) = name.filter(|n| *n != given) else { return Ok((checked(Some(added.text))?, given)) };
    let root = node_of(&added.text)?;
    let nodes = match entry(&root, "checks").map(|list| &list.value) {
        Some(NodeValue::List(nodes)) => &nodes[..],
        _ => &[],
    };
    if nodes.iter().any(|n| name_of(n) == Some(name)) {
        return Err(because(format!("there is a check called {name} already; give another name")));
    }
    let node = nodes.iter().find(|n| name_of(n) == Some(given.as_str()));
    let renamed = node.and_then(|n| splice::set_entry(&added.text, n, "name", &format!("{name:?}")));
    Ok((checked(renamed)?, name.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{StoredBytes, by_name};
    use crate::span::{ByteOrder, Span};

    #[test]
    fn a_check_is_named_as_asked_and_no_name_is_given_twice() {
        let way = Way {
            by: by_name("CRC-16/XMODEM").unwrap(),
            over: Span::new(0, 14),
            stored_at: Span::of(14, 2),
            order: ByteOrder::Big,
            stored_bytes: StoredBytes::Excluded,
        };
        let (text, name) = add_check(&super::super::begin("board"), &way, None).unwrap();
        assert_eq!(name, "check_000e");
        let (text, name) = add_check(&text, &way, Some("settings")).unwrap();
        assert!(name == "settings" && text.contains("(name: \"settings\", over"), "{text}");
        assert!(add_check(&text, &way, Some("settings")).is_err());
    }
}
