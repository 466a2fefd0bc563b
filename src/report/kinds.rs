//! What `layouts --explain` prints: kinds of fields, or one of them with its options and examples.

use std::io::{self, Write};

use serde::Serialize;

use super::json::Report;
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::text;
use crate::layout::COMPOSED;
use crate::layout::composed::Composed;
use crate::span::ByteOrder;
use crate::value::{self, OptionDoc, Row};

/// A kind of field: one that is a value, or one that holds other fields.
#[derive(Clone, Copy)]
pub enum AnyKind {
    /// Its bytes are one value.
    Value(&'static Row),
    /// It holds other fields, or is worked out from them.
    Composed(&'static Composed),
}

impl AnyKind {
    /// Every kind.
    pub fn all() -> impl Iterator<Item = AnyKind> {
        let values = value::rows().map(AnyKind::Value);
        values.chain(COMPOSED.iter().map(AnyKind::Composed))
    }

    /// Its name in layouts.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            AnyKind::Value(kind) => kind.name,
            AnyKind::Composed(kind) => kind.name,
        }
    }

    fn doc(self) -> &'static str {
        match self {
            AnyKind::Value(kind) => kind.doc,
            AnyKind::Composed(kind) => kind.doc,
        }
    }

    fn options(self) -> &'static [OptionDoc] {
        match self {
            AnyKind::Value(kind) => kind.options,
            AnyKind::Composed(kind) => kind.options,
        }
    }
}

/// Prints every kind of field in one line each.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_list(out: &mut dyn Write, paint: Paint) -> io::Result<()> {
    writeln!(out, "Kinds of fields; `readproof layouts --explain KIND` tells more of one.")?;
    writeln!(out)?;
    let mut table = Table::new(&["kind", "what it is"]);
    for row in AnyKind::all() {
        table.row([Cell::new(Tone::Strong, row.name()), text::sentence(row.doc()).into()]);
    }
    table.write(out, paint)
}

/// Prints what a kind is, its options, and examples with their bytes and what they show.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_one(out: &mut dyn Write, paint: Paint, kind: AnyKind) -> io::Result<()> {
    for line in text::wrap(&format!("{}: {}", kind.name(), text::sentence(kind.doc())), paint.width) {
        writeln!(out, "{line}")?;
    }
    if !kind.options().is_empty() {
        writeln!(out)?;
        let mut table = Table::new(&["option", "what it says"]);
        for option in kind.options() {
            table.row([Cell::new(Tone::Strong, option.name), text::sentence(option.doc).into()]);
        }
        table.write(out, paint)?;
    }
    let kind = match kind {
        AnyKind::Value(kind) => kind,
        AnyKind::Composed(kind) => {
            writeln!(out)?;
            for line in kind.example.lines() {
                writeln!(out, "{}", paint.tone(Tone::Strong, line))?;
            }
            let mut table = Table::new(&["", ""]).indent(2);
            table.row(["bytes", kind.bytes]);
            for (n, line) in kind.shows.iter().enumerate() {
                table.row([if n == 0 { "shows" } else { "" }, *line]);
            }
            return table.write(out, paint);
        }
    };
    for example in kind.examples {
        writeln!(out)?;
        writeln!(out, "{}", paint.tone(Tone::Strong, example.ron))?;
        let order = match example.order {
            ByteOrder::Big => "",
            ByteOrder::Little => " (least significant byte first)",
        };
        let mut table = Table::new(&["", ""]).indent(2);
        table.row(["bytes", &format!("{}{order}", example.bytes)]);
        table.row(["shows", example.text]);
        table.row(["source", example.source]);
        table.write(out, paint)?;
    }
    Ok(())
}

/// The JSON object for kinds of fields.
#[must_use]
pub fn json(kinds: impl Iterator<Item = AnyKind>) -> Report<impl Serialize> {
    #[derive(Serialize)]
    struct Body {
        kinds: Vec<KindJson>,
    }
    #[derive(Serialize)]
    struct KindJson {
        name: &'static str,
        doc: &'static str,
        options: Vec<OptionJson>,
        examples: Vec<ExampleJson>,
    }
    #[derive(Serialize)]
    struct OptionJson {
        name: &'static str,
        doc: &'static str,
    }
    #[derive(Serialize)]
    struct ExampleJson {
        written: &'static str,
        order: &'static str,
        bytes: String,
        text: String,
        source: &'static str,
    }
    let examples = |kind: AnyKind| match kind {
        AnyKind::Value(kind) => kind
            .examples
            .iter()
            .map(|e| ExampleJson {
                written: e.ron,
                order: e.order.word(),
                bytes: e.bytes.replace(' ', ""),
                text: e.text.to_owned(),
                source: e.source,
            })
            .collect(),
        AnyKind::Composed(kind) => vec![ExampleJson {
            written: kind.example,
            order: "Big",
            bytes: kind.bytes.replace(' ', ""),
            text: kind.shows.join("\n"),
            source: "invented",
        }],
    };
    let kinds = kinds.map(|kind| KindJson {
        name: kind.name(),
        doc: kind.doc(),
        options: kind.options().iter().map(|o| OptionJson { name: o.name, doc: o.doc }).collect(),
        examples: examples(kind),
    });
    Report::new("layouts", None, &[], 0, Body { kinds: kinds.collect() })
}
