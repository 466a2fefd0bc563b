//! `docs/findings.md` explains every finding code: the same words in the same order, each with its one-line meaning.

use std::fs;

use readproof::finding::Code;

use crate::support::package;

#[test]
fn every_finding_code_is_explained_and_nothing_else() {
    let page = fs::read_to_string(package().join("docs/findings.md")).unwrap();
    let mut sections = page.split("\n## ").skip(1);
    for code in Code::ALL {
        let (word, doc) = (code.word(), code.doc());
        let section = sections.next().unwrap_or_else(|| panic!("docs/findings.md ends before {word}: {doc}"));
        let (heading, text) = section.split_once("\n\n").unwrap_or((section, ""));
        assert_eq!(heading, word, "docs/findings.md has another section where {word} ({doc}) belongs");
        let first = text.lines().next().unwrap_or("");
        assert_eq!(first, format!("{doc}."), "the first line under {word}");
        assert!(text.lines().count() >= 3, "{word}: say also what lies behind it and what to do");
    }
    assert_eq!(sections.next(), None, "docs/findings.md explains a code that does not exist");
}
