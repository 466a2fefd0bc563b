//! The table of kinds as the reference page.

use std::fmt::Write;

use crate::span::ByteOrder;

use super::table::{Example, Row, rows};

/// What stands on the reference page before its list.
const OPENING: &str = "\
# Kinds of fields

The kind of a field says how its bytes become a value, and how a typed value becomes bytes: `kind: Int(bits: 16, signed: true)`.
This page is made from the table that the program reads layouts by; a test compares the two, and runs every example both ways.
`readproof layouts --explain KIND` prints the part about one kind.

What holds for every kind:

- Any bytes decode; when they make no sense, the value is the bytes themselves and the field is called odd, with the reason.
- What is shown can be typed back. Typed text that does not suit is refused with what was expected; a number that falls between two steps names both.
- Setting a field to the value it has changes no byte, and bits that are not the field's own are kept.
- A kind of whole numbers (`Int`, `Fixed`, `Bcd`) shows the stored number times the field's `scale` plus its `offset`, in exact decimals: `scale: 0.1`, `scale: \"1/256\"`, `offset: 1990`. The field's `unit` may be typed behind the number.
- Numbers stand in the layout's byte order unless `order` says otherwise.
- A kind of a fixed size may also be put together from bits that lie apart; the field's place says from which.

";

/// The reference page about kinds, as Markdown: what holds for all, a list, then one part for each kind.
#[must_use]
pub fn reference() -> String {
    let mut page = format!("{OPENING}| kind | what it is |\n| --- | --- |\n");
    for row in rows() {
        let _ = writeln!(page, "| [`{}`](#{}) | {} |", row.name, row.name.to_lowercase(), cell(row.doc));
    }
    for row in rows() {
        part(&mut page, row);
    }
    page
}

fn part(page: &mut String, row: &Row) {
    let _ = writeln!(page, "\n## {}\n\n{}.", row.name, row.doc);
    if !row.options.is_empty() {
        page.push_str("\n| option | says |\n| --- | --- |\n");
        for option in row.options {
            let _ = writeln!(page, "| `{}` | {} |", option.name, cell(option.doc));
        }
    }
    page.push_str("\n| written | bytes | shows | source |\n| --- | --- | --- | --- |\n");
    for example in row.examples {
        let shown = if example.text.is_empty() { String::new() } else { format!("`{}`", cell(example.text)) };
        let _ = writeln!(
            page,
            "| `{}` | `{}` | {shown} | {} |",
            cell(example.ron),
            bytes(example),
            cell(example.source)
        );
    }
}

fn bytes(example: &Example) -> String {
    match example.order {
        ByteOrder::Big => example.bytes.to_string(),
        ByteOrder::Little => format!("{} (order: Little)", example.bytes),
    }
}

/// Text that may stand in a cell of a Markdown table.
fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_lists_every_kind_and_every_table_row_has_its_cells() {
        let page = reference();
        for row in rows() {
            assert!(page.contains(&format!("## {}\n", row.name)));
        }
        for line in page.lines().filter(|l| l.starts_with('|')) {
            let bars = line.replace("\\|", "").matches('|').count();
            assert!(bars == 3 || bars == 5, "{line}");
        }
    }
}
