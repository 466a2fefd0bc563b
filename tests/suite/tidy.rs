//! What every file owes the reader. Sizes are printed, never enforced: a limit would only breed exemptions.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use crate::support::{files_below, package};

/// Every file of the project that people wrote, but for build output.
fn written_files() -> Vec<PathBuf> {
    let mut files = vec![];
    for folder in ["src", "tests", "benches", "samples", "layouts", "docs", ".ci"] {
        files.extend(files_below(&package().join(folder)));
    }
    files.extend(["README.md", "DEVELOPERS.md", "Cargo.toml"].map(|f| package().join(f)));
    files.retain(|f| f.is_file());
    files
}

fn with_ending(ending: &str) -> Vec<PathBuf> {
    written_files().into_iter().filter(|f| f.extension().is_some_and(|e| e == ending)).collect()
}

fn name(file: &Path) -> String {
    file.strip_prefix(package()).unwrap_or(file).to_string_lossy().replace('\\', "/")
}

fn text(file: &Path) -> String {
    fs::read_to_string(file).unwrap_or_else(|e| panic!("{}: {e}", name(file)))
}

#[test]
fn every_source_file_opens_with_what_it_is_for() {
    for file in with_ending("rs") {
        assert!(text(&file).starts_with("//! "), "{} does not open with a //! line", name(&file));
    }
}

/// `lib.rs`, and every page with a table of files.
#[test]
fn a_page_that_lists_its_files_lists_them_all() {
    for file in with_ending("rs") {
        let text = text(&file);
        let page: String = text.lines().filter(|l| l.starts_with("//!")).collect();
        if !(page.contains("| file |") || file.ends_with("src/lib.rs")) {
            continue;
        }
        let mut before = "";
        for line in text.lines() {
            let module =
                line.trim_start_matches("pub ").strip_prefix("mod ").and_then(|l| l.strip_suffix(';'));
            if let (Some(module), false) = (module, before == "#[cfg(test)]") {
                let ways = [format!("`{module}`"), format!("`mod@{module}`")];
                assert!(
                    ways.iter().any(|way| page.contains(way)),
                    "{} does not say what {module} is",
                    name(&file)
                );
            }
            before = line;
        }
    }
}

#[test]
fn nothing_is_left_for_later() {
    // Spelled in two halves, or this file would find itself.
    let marks =
        [("TO", "DO"), ("FIX", "ME"), ("XX", "X:"), ("HA", "CK:"), ("unimpl", "emented!"), ("to", "do!(")];
    for file in with_ending("rs").into_iter().chain(with_ending("md")).chain(with_ending("ron")) {
        let text = text(&file);
        for (a, b) in marks {
            let mark = format!("{a}{b}");
            let line = text.lines().position(|l| l.contains(&mark)).map(|l| l + 1);
            assert!(line.is_none(), "{}:{}: {mark}", name(&file), line.unwrap_or(0));
        }
    }
}

#[test]
fn every_source_file_is_part_of_the_program() {
    let root = package().join("src");
    for file in files_below(&root) {
        let stem = file.file_stem().unwrap().to_string_lossy().into_owned();
        if stem == "lib" || stem == "main" {
            continue;
        }
        let folder = file.parent().unwrap();
        let (module, parent) = if stem == "mod" {
            (folder.file_name().unwrap().to_string_lossy().into_owned(), folder.parent().unwrap())
        } else {
            (stem, folder)
        };
        let mut parents = vec![parent.join("mod.rs"), parent.join("lib.rs"), parent.with_extension("rs")];
        parents.retain(|p| p.is_file());
        let declared = parents.iter().any(|p| {
            let text = text(p);
            text.contains(&format!("mod {module};")) || text.contains(&format!("=> {module}"))
        });
        assert!(declared, "{} is not declared by {:?}", name(&file), parents);
    }
}

#[test]
fn every_promise_file_is_in_the_table_of_contents() {
    let contents = text(&package().join("tests/suite/main.rs"));
    for entry in fs::read_dir(package().join("tests/suite")).unwrap().flatten() {
        let file = entry.path();
        if file.extension().is_none_or(|e| e != "rs") || file.ends_with("main.rs") {
            continue;
        }
        let module = file.file_stem().unwrap().to_string_lossy().into_owned();
        assert!(contents.contains(&format!("mod {module};")), "{module} is not in tests/suite/main.rs");
    }
}

#[test]
fn every_layout_in_the_folder_is_shipped_and_every_shipped_one_is_in_the_folder() {
    let in_folder: BTreeSet<String> = with_ending("ron")
        .iter()
        .filter(|f| f.parent().is_some_and(|p| p.ends_with("layouts")))
        .map(|f| f.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    let shipped: BTreeSet<String> =
        readproof::layout::SHIPPED.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(in_folder, shipped);
}

/// Words that others use for what has a name here, and that name.
const OTHER_WORDS: &[(&str, &str)] = &[
    ("corrupt", "damaged or broken"),
    ("template", "layout"),
    ("bookmark", "mark, or a field of the layout"),
    ("hexdump", "the bytes"),
    ("hex dump", "the bytes"),
    ("factory reset", "return to rest"),
    ("firmware", "image"),
    ("metadata", "what it is"),
    ("checksum mismatch", "broken check"),
    ("struct ", "group"),
    ("parse error", "problem"),
    ("sanity check", "check"),
];

#[test]
fn one_thing_has_one_name_in_what_people_read() {
    let sessions =
        files_below(&package().join("tests/suite/cases")).into_iter().filter(|f| f.ends_with("session"));
    let pages = with_ending("md").into_iter().filter(|f| !f.ends_with("DEVELOPERS.md"));
    for (what, text) in
        pages.chain(sessions).map(|f| (name(&f), text(&f))).chain([("the help".to_owned(), help())])
    {
        let text = text.to_lowercase();
        for (word, ours) in OTHER_WORDS {
            assert!(!text.contains(word), "{what} says \"{word}\"; here it is called {ours}");
        }
    }
}

/// What the program says of itself and of each of its commands.
fn help() -> String {
    let commands = crate::support::run(["manual", "--list"]).expect(0);
    let pages = commands.out().lines().filter_map(|l| l.split_whitespace().next());
    pages.map(|command| crate::support::run([command, "--help"]).out().to_owned()).collect()
}

#[test]
fn links_in_the_documentation_lead_somewhere() {
    for file in with_ending("md") {
        let text = text(&file);
        let folder = file.parent().unwrap();
        for (at, _) in text.match_indices("](") {
            let target = text[at + 2..].split([')', ' ']).next().unwrap_or("");
            if target.starts_with("http") || target.starts_with('#') {
                continue;
            }
            let (path, anchor) = target.split_once('#').unwrap_or((target, ""));
            let path = folder.join(path);
            assert!(path.exists(), "{}: the link {target} leads nowhere", name(&file));
            if !anchor.is_empty() {
                let there = fs::read_to_string(&path).unwrap_or_default();
                let found = there.lines().filter(|l| l.starts_with('#')).any(|l| slug(l) == anchor);
                assert!(found, "{}: the link {target} names no heading", name(&file));
            }
        }
    }
}

#[test]
fn every_page_of_the_documentation_is_in_the_list_of_its_chapters() {
    let list = text(&package().join("docs/README.md"));
    for entry in fs::read_dir(package().join("docs")).unwrap().flatten() {
        let page = entry.file_name().to_string_lossy().into_owned();
        if page.ends_with(".md") && page != "README.md" {
            assert!(list.contains(&format!("]({page})")), "docs/README.md does not lead to {page}");
        }
    }
}

/// The anchor that a heading gets.
fn slug(heading: &str) -> String {
    let words = heading.trim_start_matches('#').trim().to_lowercase();
    words
        .chars()
        .filter(|c| c.is_alphanumeric() || " -_".contains(*c))
        .map(|c| if c == ' ' { '-' } else { c })
        .collect()
}

#[test]
fn no_file_names_a_folder_of_somebodys_machine() {
    let folders = [["/wo", "rk/"], ["/ho", "me/"], ["/ro", "ot/"], ["/Us", "ers/"]].map(|h| h.concat());
    for file in written_files() {
        let bytes = fs::read(&file).unwrap();
        let text = String::from_utf8_lossy(&bytes);
        for folder in &folders {
            assert!(!text.contains(folder.as_str()), "{} names {folder}", name(&file));
        }
    }
}

#[test]
fn every_dependency_says_why_it_is_there() {
    let manifest = text(&package().join("Cargo.toml"));
    let (mut inside, mut explained) = (false, false);
    for line in manifest.lines() {
        if line.starts_with('[') {
            inside = line.contains("dependencies]");
            explained = false;
        } else if line.starts_with('#') {
            explained = true;
        } else if line.is_empty() {
            explained = false;
        } else if inside && line.contains('=') {
            assert!(explained || line.contains('#') || manifest_group(&manifest, line), "{line}");
        }
    }
}

/// Lines under one comment share it.
fn manifest_group(manifest: &str, line: &str) -> bool {
    let before = manifest.split(line).next().unwrap_or("");
    before.lines().rev().take_while(|l| !l.is_empty() && !l.starts_with('[')).any(|l| l.starts_with('#'))
}

/// Lines of code, of documentation and of tests in a source file.
fn split_lines(text: &str) -> (usize, usize, usize) {
    let (mut code, mut docs, mut tests, mut in_tests) = (0, 0, 0, false);
    for line in text.lines().map(str::trim).filter(|l| !l.is_empty()) {
        in_tests |= line == "#[cfg(test)]";
        match line {
            _ if in_tests => tests += 1,
            l if l.starts_with("//") => docs += 1,
            _ => code += 1,
        }
    }
    (code, docs, tests)
}

#[test]
fn sizes_are_printed_for_the_reader_and_never_enforced() {
    let mut rows: Vec<(usize, usize, usize, String)> = with_ending("rs")
        .iter()
        .filter(|f| f.starts_with(package().join("src")))
        .map(|f| {
            let (code, docs, tests) = split_lines(&text(f));
            (code, docs, tests, name(f))
        })
        .collect();
    rows.sort();
    let median = rows.get(rows.len() / 2).map_or(0, |r| r.0);
    let high = rows.get(rows.len() * 9 / 10).map_or(0, |r| r.0);
    let mut report = format!("{} files of source; lines of code: median {median}, p90 {high}\n", rows.len());
    let _ = writeln!(report, "   code   docs  tests  largest");
    for (code, docs, tests, name) in rows.iter().rev().take(5) {
        let _ = writeln!(report, "{code:>7}{docs:>7}{tests:>7}  {name}");
    }
    let (code, docs, tests) = rows.iter().fold((0, 0, 0), |s, r| (s.0 + r.0, s.1 + r.1, s.2 + r.2));
    let _ = writeln!(report, "{code:>7}{docs:>7}{tests:>7}  all of src");
    println!("{report}");
    assert!(code > 0, "no source was found");
}
