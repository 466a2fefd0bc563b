//! What the text of a layout says of the whole: its title, its source, its byte order, by what an image is known.

use super::locate::entry;
use super::{Refused, because, checked, node_of};
use crate::notation::{Node, NodeValue, splice};
use crate::span::Span;
use crate::wording::hex;

/// What stands at the top of a layout, in this order.
const ORDER: [&str; 10] =
    ["layout", "format", "source", "fits", "order", "role", "cautions", "note", "fields", "checks"];

/// What a layout says of the whole.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Head {
    /// What the memory is called.
    pub title: String,
    /// Where the layout comes from.
    pub source: String,
    /// The word for its byte order; empty when it states none.
    pub order: String,
    /// A remark about the whole.
    pub note: String,
    /// How many marks an image is known by.
    pub marks: usize,
}

/// What the text of a layout says of the whole.
#[must_use]
pub fn head(text: &str) -> Head {
    let Ok(root) = crate::notation::parse(text) else { return Head::default() };
    let word = |key: &str| match entry(&root, key).map(|n| &n.value) {
        Some(NodeValue::Text(text) | NodeValue::Word(text)) => text.clone(),
        _ => String::new(),
    };
    let marks = entry(&root, "fits")
        .and_then(|fits| entry(fits, "marks"))
        .map_or(0, |marks| if let NodeValue::List(list) = &marks.value { list.len() } else { 0 });
    Head { title: word("layout"), source: word("source"), order: word("order"), note: word("note"), marks }
}

/// Says something of the whole: `value` as a layout writes it, `None` to say it no more. What was not said yet stands
/// in a line of its own, in the order in which layouts say such things.
///
/// # Errors
/// When the layout could not be used afterwards.
pub fn set_head(text: &str, key: &str, value: Option<&str>) -> Result<String, Refused> {
    let root = node_of(text)?;
    let Some(value) = value else {
        return match entry(&root, key) {
            Some(_) => checked(splice::remove_entry(text, &root, key)),
            None => Ok(text.to_owned()),
        };
    };
    if entry(&root, key).is_some() {
        return checked(splice::set_entry(text, &root, key, value));
    }
    let rank = |key: &str| ORDER.iter().position(|k| *k == key).unwrap_or(ORDER.len());
    let NodeValue::Struct(_, entries) = &root.value else { return Err(because("this is no layout")) };
    let next = entries.iter().position(|(name, _)| rank(&name.text) > rank(key)).unwrap_or(entries.len());
    checked(splice::insert_entry(text, &root, next, &format!("{key}: {value}")))
}

/// Lets the bytes of `span` be a mark by which images are known; `len` is how many bytes an image of this kind has.
///
/// # Errors
/// When the layout says in another way by what images are known.
pub fn mark(text: &str, span: Span, bytes: &[u8], len: usize) -> Result<String, Refused> {
    let is_text =
        bytes.len() > 2 && bytes.iter().all(|b| b.is_ascii_graphic() || *b == b' ') && !bytes.contains(&b'"');
    let said = if is_text {
        format!("text: {:?}", String::from_utf8_lossy(bytes))
    } else {
        format!("hex: {:?}", hex(bytes))
    };
    let mark = format!("(at: {:#06X}, {said})", span.start);
    let root = node_of(text)?;
    match entry(&root, "fits") {
        None => set_head(text, "fits", Some(&format!("(bytes: [{len}], marks: [{mark}])"))),
        Some(fits) => {
            let other =
                || because("the layout has several ways by which images are known; add the mark in its text");
            let marks: &Node = entry(fits, "marks").ok_or_else(other)?;
            let NodeValue::List(list) = &marks.value else { return Err(other()) };
            let Some(last) = list.last() else {
                return checked(Some(splice::replace(text, marks.span, &format!("[{mark}]"))));
            };
            let behind = crate::notation::TextSpan::new(last.span.end, last.span.end);
            checked(Some(splice::replace(text, behind, &format!(", {mark}"))))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Image;

    const TEXT: &str = "// Ours.\n(\n    layout: \"b\",\n    format: 1, // for good\n    source: \"s\",\n    // The \
                        places.\n    fields: [],\n)\n";

    #[test]
    fn what_was_not_said_stands_where_layouts_say_it_and_comments_stay() {
        let text = set_head(TEXT, "order", Some("Big")).unwrap();
        assert_eq!(text, TEXT.replace("    // The places", "    order: Big,\n    // The places"));
        let text = set_head(&text, "layout", Some("\"board\"")).unwrap();
        let text = set_head(&text, "note", Some("\"seen twice\"")).unwrap();
        let said = head(&text);
        assert_eq!(
            (said.title.as_str(), said.order.as_str(), said.note.as_str()),
            ("board", "Big", "seen twice")
        );
        let text = set_head(&text, "note", None).unwrap();
        assert_eq!(set_head(&text, "layout", Some("\"b\"")).unwrap().replace("    order: Big,\n", ""), TEXT);
    }

    #[test]
    fn images_are_known_by_marks() {
        let mut bytes = vec![0xFF; 64];
        bytes[..5].copy_from_slice(b"FKCR8");
        bytes[16..18].copy_from_slice(&[0xB6, 0x33]);
        let text = mark(TEXT, Span::of(0, 5), &bytes[..5], 64).unwrap();
        let text = mark(&text, Span::of(16, 2), &bytes[16..18], 64).unwrap();
        assert!(
            text.contains("marks: [(at: 0x0000, text: \"FKCR8\"), (at: 0x0010, hex: \"B6 33\")]"),
            "{text}"
        );
        assert_eq!(head(&text).marks, 2);
        let layout = crate::layout::read(&text).unwrap();
        let layouts = [layout];
        assert_eq!(crate::layout::fits(&layouts, &Image::raw(bytes)).len(), 1);
        assert!(crate::layout::fits(&layouts, &Image::raw(vec![0; 64])).is_empty());
    }
}
