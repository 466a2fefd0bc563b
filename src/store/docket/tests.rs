//! A docket is read as far as it makes sense and never loses what it holds.

use std::fs;

use proptest::prelude::*;

use super::*;
use crate::docket::{ChangeRecord, FindingRecord, ImageRecord, Label, Run, What};

fn entry(what: What) -> Entry {
    Entry { at: "2026-11-25T13:40:12Z".to_owned(), what }
}

fn note(text: &str) -> Entry {
    entry(What::Noted(text.to_owned()))
}

fn full() -> Docket {
    let image = ImageRecord {
        role: "read 1".to_owned(),
        path: "reads/unit7 \"first\".bin".to_owned(),
        path_bytes: Some(b"reads/unit7 \xFF.bin".to_vec()),
        bytes: 8192,
        sha256: "ab".repeat(32),
        modified: Some("2026-11-25T13:00:00Z".to_owned()),
    };
    let run = Run {
        command: "audit".to_owned(),
        line: "readproof audit a b --allow serial".to_owned(),
        status: 1,
        verdict: Some("unsound".to_owned()),
        said: "not safe to write: Identity changed".to_owned(),
        images: vec![image.clone()],
        findings: vec![FindingRecord {
            weight: "fault".to_owned(),
            code: "identity-changed".to_owned(),
            at: Some(0x54),
            seen: "serial changed".to_owned(),
            means: String::new(),
            advice: "keep it".to_owned(),
        }],
        changes: vec![ChangeRecord {
            at: 0x54,
            before: "12".to_owned(),
            after: "47".to_owned(),
            fields: vec!["serial".to_owned()],
            allowed: Some(false),
        }],
        more_changes: 3,
        cautions: vec!["isolate it \"first\"".to_owned()],
    };
    Docket {
        entries: vec![
            entry(What::Opened("Cold store 3".to_owned())),
            entry(What::Labelled(Label { part_number: Some("FK-CR8-2047B".to_owned()), ..Label::default() })),
            note("two lines\nand a \"quote\", a ) and a ]"),
            entry(What::Added(image)),
            entry(What::Ran(run)),
        ],
    }
}

/// Whether entries can be put in without touching what is there.
fn is_whole(file: &DocketFile) -> bool {
    file.scanned.list.is_some()
}

#[test]
fn a_docket_is_read_back_as_it_was_written() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("job.ron");
    new_docket(&path, &full()).unwrap();
    let read = open_docket(&path).unwrap();
    assert_eq!((is_whole(&read), read.problems, read.docket), (true, Vec::new(), full()));
    assert!(new_docket(&path, &full()).is_err(), "an existing docket is never written over");
}

#[test]
fn what_somebody_wrote_into_a_docket_stays() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("job.ron");
    let text = "// ours\n(docket: 1, customer: \"K.\", entries: [\n  Note(at: \"t\", text: \"a\") // why\n  ], /* end */)\n";
    fs::write(&path, text).unwrap();
    assert_eq!(add_to_docket(&path, &note("b")).unwrap(), DocketAdded::default());
    let now = fs::read_to_string(&path).unwrap();
    for kept in ["// ours", "customer: \"K.\"", "text: \"a\"), // why\n", "], /* end */)"] {
        assert!(now.contains(kept), "{kept} is gone from {now}");
    }
    let read = open_docket(&path).unwrap();
    assert_eq!(read.docket.entries.len(), 2);
    assert!(is_whole(&read) && read.problems.is_empty(), "{:?}", read.problems);
}

#[test]
fn an_entry_that_makes_no_sense_costs_no_other_and_stays_in_the_file() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("job.ron");
    let text = "(docket: 1, entries: [\n Note(at: \"t\", text: \"a\"),\n Note(at: 5, txt: \"x\"),\n Burnt(1),\n Note(at: \"t\", text: \"b\"),\n])";
    fs::write(&path, text).unwrap();
    let read = open_docket(&path).unwrap();
    assert_eq!(read.docket.entries.len(), 2);
    assert_eq!(read.problems.iter().map(|p| p.line).collect::<Vec<_>>(), [3, 4], "{:?}", read.problems);
    add_to_docket(&path, &note("c")).unwrap();
    let now = fs::read_to_string(&path).unwrap();
    assert!(now.contains("Note(at: 5, txt: \"x\")") && now.contains("Burnt(1)"), "{now}");
    assert_eq!(open_docket(&path).unwrap().docket.entries.len(), 3);
}

#[test]
fn an_address_that_is_none_is_told_and_no_change_is_left_out_in_silence() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("job.ron");
    new_docket(&path, &full()).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    let spoilt = text.replace("(at: \"0x0054\", before", "(at: \"54\", before");
    assert_ne!(spoilt, text);
    fs::write(&path, spoilt).unwrap();
    let read = open_docket(&path).unwrap();
    assert!(
        matches!(&read.problems[..], [one] if one.what.contains("\"54\" is no address")),
        "{:?}",
        read.problems
    );
    assert_eq!(read.docket.entries.len(), full().entries.len() - 1);
}

#[test]
fn what_is_no_docket_is_refused_and_left_alone() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("job.ron");
    for text in ["", "(layout: \"x\", fields: [])", "hello", "[1, 2]"] {
        fs::write(&path, text).unwrap();
        assert_eq!(open_docket(&path).unwrap_err().what, "this is no docket", "{text}");
        assert!(add_to_docket(&path, &note("x")).is_err());
        assert_eq!(fs::read_to_string(&path).unwrap(), text);
    }
}

#[test]
fn a_docket_cut_short_anywhere_keeps_every_whole_entry_and_the_rest_aside() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("job.ron");
    new_docket(&path, &full()).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    let whole = scan::scan(&text).entries;
    for cut in (0..text.len()).filter(|&at| text.is_char_boundary(at)) {
        let path = place.path().join(format!("cut-{cut}.ron"));
        let short = &text[..cut];
        fs::write(&path, short).unwrap();
        let Ok(read) = open_docket(&path) else {
            assert!(cut <= text.find("docket: 1").unwrap() + "docket".len(), "cut at {cut}");
            continue;
        };
        let complete = whole.iter().filter(|(_, end)| *end <= cut).count();
        assert_eq!(read.docket.entries, full().entries[..complete], "cut at {cut}");
        let ends = text.trim_end().len();
        assert_eq!(is_whole(&read), cut >= ends, "cut at {cut}");
        assert_eq!(read.problems.is_empty(), cut >= ends, "cut at {cut}");
        // Adding is slow, so only some cuts are tried.
        if cut % 41 == 0 && cut < ends {
            let added = add_to_docket(&path, &note("after")).unwrap();
            assert_eq!(fs::read_to_string(added.damaged.unwrap()).unwrap(), short);
            let mended = open_docket(&path).unwrap();
            assert_eq!(mended.docket.entries.len(), complete + 1);
            assert!(is_whole(&mended) && mended.problems.is_empty());
        }
    }
}

#[test]
fn a_lost_bracket_or_quote_costs_one_entry() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("job.ron");
    new_docket(&path, &full()).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    for (from, to) in [
        ("a ) and a ]\"", "a ) and a ]"),
        ("a ]\",\n        )", "a ]\",\n        "),
        ("job: \"Cold", "job: Cold"),
    ] {
        let spoilt = text.replacen(from, to, 1);
        assert_ne!(spoilt, text, "{from} is not in {text}");
        fs::write(&path, spoilt).unwrap();
        let read = open_docket(&path).unwrap();
        assert_eq!(read.docket.entries.len(), 4, "{from}: {:?}", read.problems);
        assert!(!read.problems.is_empty());
    }
}

proptest! {
    #[test]
    fn any_text_is_scanned_without_harm(text in "[\\x00-\\x7f]{0,200}|(\\(docket: 1, entries: \\[)?[(),\\[\\]{}\":Note/* a\\n]{0,120}") {
        let scanned = scan::scan(&text);
        for (start, end) in &scanned.entries {
            prop_assert!(text.get(*start..*end).is_some());
        }
        if let Some(grown) = scanned.with_entry(&text, "Note(at: \"t\", text: \"z\")") {
            let again = scan::scan(&grown);
            prop_assert_eq!(again.entries.len(), scanned.entries.len() + 1);
            prop_assert!(again.list.is_some());
        }
    }

    #[test]
    fn any_note_comes_back(text in "\\PC{0,60}|[\\x00-\\x1f\"\\\\()\\[\\]/]{0,30}") {
        let written = form::entry(&note(&text)).unwrap();
        let file = form::file([written.as_str()].into_iter());
        let scanned = scan::scan(&file);
        prop_assert_eq!(scanned.entries.len(), 1, "{}", file);
        let (start, end) = scanned.entries[0];
        prop_assert_eq!(form::read_entry(&file[start..end]), Ok(note(&text)));
    }
}
