//! The one table of the kinds that hold other fields: explaining and the reference page are made from it, and a
//! test runs every example.

use crate::value::{OptionDoc, option};

/// A kind that holds other fields, or has no bytes of its own.
pub struct Composed {
    /// Its name in layouts.
    pub name: &'static str,
    /// What it is, in one sentence without its full stop.
    pub doc: &'static str,
    /// What may stand in its brackets.
    pub options: &'static [OptionDoc],
    /// A field of this kind as it stands in a layout whose numbers stand most significant byte first.
    pub example: &'static str,
    /// Bytes in hexadecimal pairs.
    pub bytes: &'static str,
    /// What they show, field by field.
    pub shows: &'static [&'static str],
}

const CHECKS: OptionDoc = option("checks", "checks that each one of them has; ranges count from its start");

/// Every such kind.
pub const COMPOSED: &[Composed] = &[
    Composed {
        name: "Group",
        doc: "Fields that belong together; places inside count from its start",
        options: &[option("of", "the fields"), CHECKS],
        example: r#"(name: "header", at: 1, kind: Group(of: [
    (name: "version", kind: Int(bits: 8)),
    (name: "length", kind: Int(bits: 16)),
]))"#,
        bytes: "00 02 01 00",
        shows: &["header.version = 2", "header.length = 256"],
    },
    Composed {
        name: "Table",
        doc: "Rows, each of the same fields or of one kind",
        options: &[
            option("of", "the fields of a row, or the one kind that each row is"),
            option("rows", "how many; when left out, rows go on to the end of what encloses the table"),
            option(
                "stride",
                "bytes from one row to the next; when left out, each begins where the one before ends",
            ),
            option(
                "going",
                "rows go on only while this holds; asked before each row, when its fields are not known",
            ),
            option("until", "the row in which this holds is the last; asked after each row"),
            CHECKS,
        ],
        example: r#"(name: "lockouts", kind: Table(rows: 2, stride: 3, of: [
    (name: "cause", kind: Choice(bits: 8, of: {1: "high pressure", 2: "low oil"})),
    (name: "hours", kind: Int(bits: 16)),
]))"#,
        bytes: "01 00 10 02 00 20",
        shows: &[
            "lockouts[0].cause = high pressure",
            "lockouts[0].hours = 16",
            "lockouts[1].cause = low oil",
            "lockouts[1].hours = 32",
        ],
    },
    Composed {
        name: "ByTag",
        doc: "One of several shapes, chosen by a tag",
        options: &[
            option("tag", "the expression that chooses"),
            option(
                "shapes",
                "for each tag, {1: …, \"2..5\": …, \"'AB'\": …}, a list of fields, a kind, (\"name\", either), \
                 or (name: …, kind: …, role: …)",
            ),
            option("other", "the shape for every other tag; when left out, there is nothing"),
        ],
        example: r#"(name: "sensor", kind: Group(of: [
    (name: "type", kind: Int(bits: 8)),
    (name: "reading", kind: ByTag(tag: "type", shapes: {
        1: (name: "temperature", kind: Int(bits: 16, signed: true), scale: 0.1, unit: "°C"),
        "2..3": ("pressure", Int(bits: 16)),
    }, other: Bytes(bytes: 2))),
]))"#,
        bytes: "01 FF F1",
        shows: &["sensor.type = 1", "sensor.temperature = -1.5 °C"],
    },
    Composed {
        name: "Chain",
        doc: "Records one behind the other, each with a head that tells its tag and its size",
        options: &[
            option("head", "the fields that each record begins with"),
            option("tag", "the expression that chooses the shape of what follows the head"),
            option("size", "how many bytes follow the head"),
            option(
                "of",
                "for each tag the shape, as in ByTag; the part is called value when it has no other name",
            ),
            option("other", "the shape for every other tag"),
            option("tail", "fields behind each record, such as its check"),
            option(
                "rows",
                "how many records; when left out, they go on to the end of what encloses the chain",
            ),
            option("going", "records go on only while this holds; asked before each"),
            option("until", "the record in which this holds is the last; asked after each"),
            CHECKS,
        ],
        example: r#"(name: "records", kind: Chain(
    head: [(name: "tag", kind: Int(bits: 8)), (name: "length", kind: Int(bits: 8))],
    tag: "tag",
    size: "length",
    until: "tag == 0xFF",
    of: {0x21: ("room", Text), 0xFF: ("end", Bytes)},
    other: Bytes,
))"#,
        bytes: "21 04 43 6F 6C 64 07 01 55 FF 00",
        shows: &[
            "records[0].tag = 33",
            "records[0].length = 4",
            "records[0].room = Cold",
            "records[1].tag = 7",
            "records[1].length = 1",
            "records[1].value = 55",
            "records[2].tag = 255",
            "records[2].length = 0",
            "records[2].end = ",
        ],
    },
    Composed {
        name: "Computed",
        doc: "A number worked out from other fields; it has no bytes and cannot be set",
        options: &[
            option("as", "the expression; Computed(\"…\") is short for Computed(as: \"…\")"),
            option("of", "labels for numbers, {0: \"none\", …}"),
        ],
        example: r#"(name: "memory", kind: Group(of: [
    (name: "code", kind: Int(bits: 8)),
    (name: "capacity", kind: Computed("1 << (code & 0x0F)"), unit: "KiB"),
]))"#,
        bytes: "05",
        shows: &["memory.code = 5", "memory.capacity = 32 KiB"],
    },
];

/// The part of the reference page about these kinds, in Markdown.
#[must_use]
pub fn reference() -> String {
    let mut out = String::new();
    for kind in COMPOSED {
        out.push_str(&format!("### {}\n\n{}.\n\n| option | says |\n| --- | --- |\n", kind.name, kind.doc));
        for option in kind.options {
            out.push_str(&format!("| `{}` | {} |\n", option.name, option.doc));
        }
        out.push_str(&format!(
            "\n```ron fields\n{}\n```\n\nThe bytes `{}` show:\n\n```text\n",
            kind.example, kind.bytes
        ));
        for line in kind.shows {
            out.push_str(line.trim_end());
            out.push('\n');
        }
        out.push_str("```\n\n");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Image;
    use crate::layout::{Shape, decode, read};
    use crate::notation::get;

    #[test]
    fn every_example_shows_what_it_says() {
        for kind in COMPOSED {
            let text =
                format!("(layout: \"t\", format: 1, source: \"t\", order: Big, fields: [{}])", kind.example);
            let layout = read(&text).unwrap_or_else(|p| panic!("{}: {p:?}", kind.name));
            let decoded = decode(&layout, &Image::raw(get::hex_bytes(kind.bytes).unwrap()));
            let shows: Vec<_> = decoded
                .fields
                .iter()
                .filter(|f| f.shape == Shape::Leaf)
                .map(|f| format!("{} = {}", f.path, f.shown()))
                .collect();
            assert_eq!(shows, kind.shows, "{}", kind.name);
            assert_eq!(decoded.findings, [], "{}", kind.name);
        }
    }

    #[test]
    fn every_option_is_known_to_its_kind() {
        for kind in COMPOSED {
            // A kind with a name that nothing knows tells the options it has.
            let text = format!(
                "(layout: \"t\", format: 1, source: \"t\", fields: [(name: \"x\", kind: {}(zzz: 1))])",
                kind.name
            );
            let problems = read(&text).unwrap_err();
            let told = problems.iter().find(|p| p.what.ends_with("has no entry zzz")).unwrap();
            let mut known: Vec<_> = told.expected.trim_start_matches("one of ").split(", ").collect();
            let mut options: Vec<_> = kind.options.iter().map(|o| o.name).collect();
            if kind.name == "ByTag" || kind.name == "Computed" {
                options.retain(|o| *o != "checks");
            }
            known.sort_unstable();
            options.sort_unstable();
            assert_eq!(known, options, "{}", kind.name);
        }
    }
}
