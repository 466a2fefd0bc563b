//! The table of kinds as text: for `layouts --explain`, and for the reference page of layouts.

use std::fmt::Write;

use crate::span::ByteOrder;

use super::table::{Example, KINDS, Row, row};

/// What the kind called `name` is, its options and examples, as plain text; `None` when there is no such kind.
#[must_use]
pub fn explain(name: &str) -> Option<String> {
    let row = row(name)?;
    let mut text = String::new();
    wrap(&mut text, &format!("{}: {}.", row.name, row.doc), 0);
    if !row.options.is_empty() {
        let width = row.options.iter().map(|o| o.name.len()).max().unwrap_or(0);
        text.push_str("\nOptions:\n");
        for option in row.options {
            let indent = width + 4;
            wrap(&mut text, &format!("  {:width$}  {}", option.name, option.doc), indent);
        }
    }
    text.push_str("\nExamples:\n");
    for example in row.examples {
        let _ = writeln!(text, "  {}", example.ron);
        let _ = writeln!(text, "    {}  shows  {}", bytes(example), example.text);
        wrap(&mut text, &format!("    ({})", example.source), 5);
    }
    Some(text)
}

/// A line of at most 80 columns, or several, all but the first behind `indent` blanks.
fn wrap(text: &mut String, line: &str, indent: usize) {
    const WIDEST: usize = 80;
    let lead = line.len() - line.trim_start().len();
    let mut column = 0;
    // Runs of blanks in the first words align columns and are kept.
    for (n, word) in line[lead..].split(' ').enumerate() {
        let width = word.chars().count();
        if n == 0 {
            text.extend(std::iter::repeat_n(' ', lead));
            column = lead;
        } else if column + 1 + width > WIDEST {
            text.push('\n');
            text.extend(std::iter::repeat_n(' ', indent));
            column = indent;
        } else {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += width;
    }
    text.push('\n');
}

fn bytes(example: &Example) -> String {
    match example.order {
        ByteOrder::Big => example.bytes.to_string(),
        ByteOrder::Little => format!("{} (order: Little)", example.bytes),
    }
}

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
    let rows = || KINDS.iter().flat_map(|rows| rows.iter());
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

/// Text that may stand in a cell of a Markdown table.
fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_explanation_names_options_and_examples_within_80_columns() {
        for row in KINDS.iter().flat_map(|rows| rows.iter()) {
            let text = explain(row.name).unwrap();
            assert!(row.options.iter().all(|o| text.contains(o.name)), "{text}");
            for line in text.lines() {
                let source_or_option = line.chars().count() <= 80;
                let example = row.examples.iter().any(|e| line.contains(e.ron) || line.contains(e.bytes));
                assert!(source_or_option || example, "{line}");
            }
        }
        assert_eq!(explain("Imt"), None);
    }

    #[test]
    fn the_reference_lists_every_kind_and_every_table_row_has_its_cells() {
        let page = reference();
        for row in KINDS.iter().flat_map(|rows| rows.iter()) {
            assert!(page.contains(&format!("## {}\n", row.name)));
        }
        for line in page.lines().filter(|l| l.starts_with('|')) {
            let bars = line.replace("\\|", "").matches('|').count();
            assert!(bars == 3 || bars == 5, "{line}");
        }
    }
}
