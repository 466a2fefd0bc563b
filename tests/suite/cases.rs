//! Each folder in `cases/` is one use of the command line: `session` with commands and what they print, and the
//! files that the commands find beside `samples/` and `layouts/` in `input/`.

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

use crate::command_line::commands;
use crate::console::{Streams, play};
use crate::support::{Place, assert_same_text, copy_into, package, rewriting};

fn cases() -> Vec<PathBuf> {
    let mut cases: Vec<PathBuf> =
        fs::read_dir(package().join("tests/suite/cases")).unwrap().map(|e| e.unwrap().path()).collect();
    cases.sort();
    assert!(!cases.is_empty(), "no cases were found");
    cases
}

#[test]
fn every_case_prints_what_is_committed() {
    let mut different = Vec::new();
    for case in cases() {
        let place = Place::with_samples();
        if case.join("input").is_dir() {
            copy_into(&place, &case.join("input"));
        }
        let file = case.join("session");
        let committed = fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        let played = play(&place, &committed, Streams::Marked);
        if rewriting() {
            fs::write(&file, played).unwrap();
        } else if committed != played {
            different.push((case.file_name().unwrap().to_string_lossy().into_owned(), committed, played));
        }
    }
    if let Some((name, committed, played)) = different.first() {
        let names: Vec<_> = different.iter().map(|d| d.0.as_str()).collect();
        println!("cases that differ: {}", names.join(", "));
        assert_same_text(name, committed, played);
    }
}

#[test]
fn no_case_prints_a_line_too_wide_for_80_columns() {
    for case in cases() {
        let session = fs::read_to_string(case.join("session")).unwrap();
        // JSON and file contents are for programs; a path of the user's own may be as long as it likes, and a command
        // is never broken, so that it can be copied.
        let lines =
            session.lines().filter(|l| !l.starts_with("$ ") && !l.trim_start().starts_with(['"', '{']));
        for line in lines.map(|l| l.trim_start_matches("2> ")) {
            let is_command = line.trim_start().starts_with("`readproof ");
            assert!(is_command || line.chars().count() <= 80, "{}: {line}", case.display());
        }
    }
}

#[test]
fn every_command_has_a_case() {
    let sessions: String =
        cases().iter().map(|c| fs::read_to_string(c.join("session")).unwrap_or_default()).collect();
    let used: BTreeSet<&str> = sessions
        .lines()
        .filter_map(|l| l.strip_prefix("$ readproof "))
        .filter_map(|l| l.split_whitespace().next())
        .collect();
    let without: Vec<String> = commands().into_iter().filter(|c| !used.contains(c.as_str())).collect();
    assert!(without.is_empty(), "no case uses {without:?}");
}
