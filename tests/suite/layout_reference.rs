//! The reference page of layouts: every block on it is read, and the part about composed kinds is the program's own.

use std::fs;

use readproof::layout::{self, composed};
use readproof::notation::Lines;

use crate::support::{assert_same_text, package, rewriting};

const BEGIN: &str = "<!-- composed kinds: made from the table in the program -->\n";
const END: &str = "<!-- end of composed kinds -->\n";

fn page() -> String {
    fs::read_to_string(package().join("docs/layouts.md")).unwrap()
}

#[test]
fn the_part_about_composed_kinds_is_what_the_table_says() {
    let page = page();
    let begin = page.find(BEGIN).expect("the mark before the part") + BEGIN.len();
    let end = page.find(END).expect("the mark behind the part");
    let now = format!("{}\n{}{}", &page[..begin], composed::reference(), &page[end..]);
    if rewriting() {
        fs::write(package().join("docs/layouts.md"), now).unwrap();
        return;
    }
    assert_same_text("docs/layouts.md", &page, &now);
}

/// The fenced blocks of RON: what stands behind `ron`, the line they begin in, and their text.
fn blocks(page: &str) -> Vec<(String, usize, String)> {
    let mut blocks = Vec::new();
    let mut lines = page.lines().enumerate();
    while let Some((at, line)) = lines.next() {
        if let Some(sort) = line.strip_prefix("```ron") {
            let text: Vec<_> = lines.by_ref().map(|(_, l)| l).take_while(|l| *l != "```").collect();
            blocks.push((sort.trim().to_string(), at + 2, text.join("\n")));
        }
    }
    blocks
}

#[test]
fn every_block_is_read_without_a_problem() {
    let page = page();
    let blocks = blocks(&page);
    assert!(blocks.len() >= 10, "{} blocks", blocks.len());
    for (sort, line, text) in blocks {
        // What a block leaves out is put around it, on its own first line so that places stay true.
        let head = "(layout: \"t\", format: 1, source: \"t\", order: Big, ";
        let (fields, checks) = (
            "fields: [(name: \"part_number\", at: 0, kind: Text(bytes: 4))]",
            "checks: [(name: \"settings\", over: (0, 4), stored: (at: 4, bytes: 2), by: \"CRC-16/XMODEM\")]",
        );
        let whole = match sort.as_str() {
            "" => text,
            "fields" => format!("{head}fields: [{text}])"),
            "checks" => format!("{head}{fields}, checks: [{text}])"),
            "fits" => format!("{head}{fields}, {checks}, fits: {text})"),
            other => panic!("line {line}: no sort of block is called {other}"),
        };
        if let Err(problems) = layout::read(&whole) {
            let lines = Lines::of(&whole);
            let told: Vec<_> = problems.iter().map(|p| p.line("block", &lines)).collect();
            panic!("the block in line {line} of docs/layouts.md: {}", told.join("\n"));
        }
    }
}

#[test]
fn every_entry_that_the_reader_knows_is_on_the_page() {
    let page = page();
    let known = |text: &str| {
        let problems = layout::read(text).unwrap_err();
        let told = problems.iter().find(|p| p.what.ends_with("has no entry zzz")).expect("an unknown entry");
        told.expected.trim_start_matches("one of ").split(", ").map(str::to_string).collect::<Vec<_>>()
    };
    let layout = |rest: &str| format!("(layout: \"t\", format: 1, source: \"t\", fields: [], {rest})");
    for text in [
        layout("zzz: 1"),
        "(layout: \"t\", format: 1, source: \"t\", fields: [(name: \"a\", zzz: 1, kind: Int(bits: 8))])"
            .to_string(),
        layout("checks: [(name: \"a\", zzz: 1)]"),
        layout("fits: (zzz: 1)"),
        layout("fits: (marks: [(zzz: 1)])"),
    ] {
        for entry in known(&text) {
            assert!(
                page.contains(&format!("`{entry}`")) || page.contains(&format!("({entry}: ")),
                "{entry} is not on the page"
            );
        }
    }
}

#[test]
fn the_limits_on_the_page_are_those_of_the_program() {
    let page = page().replace(['\u{a0}', ' '], "");
    for limit in [
        layout::MAX_ITEMS,
        layout::MAX_ROWS,
        layout::MAX_FIELDS,
        layout::MAX_WORK,
        layout::expr::MAX_NODES,
        layout::expr::MAX_NESTING,
        layout::MAX_GROUPS,
    ] {
        assert!(page.contains(&limit.to_string()), "{limit} is not on the page");
    }
    assert!(page.contains(&format!("{}MiB", layout::MAX_TEXT >> 20)));
}
