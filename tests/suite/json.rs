//! What `--json` prints: one object, stable names, each of them in `docs/json.md`.

use std::collections::BTreeSet;
use std::fs;

use serde_json::Value;

use crate::command_line::commands;
use crate::support::{Place, package};

/// A use of each command that prints much, and the exit status it must have.
const USES: &[(&[&str], i32)] = &[
    (&["show", "samples/unit7-broken-check.bin"], 1),
    (&["vet", "samples/unit7-read1.bin", "samples/unit7-read3-poor.bin"], 1),
    (&["vet", "samples/unit7-read3-poor.bin", "--must-equal", "samples/unit7-read1.bin"], 1),
    (&["find", "samples/unit7-part-off.bin", "FK-CR8-2047B"], 1),
    (&["compare", "samples/unit7-read1.bin", "samples/unit7-part-off.bin"], 1),
    (&["compare", "samples/unit7-read1.bin", "samples/unit9.bin", "samples/unit12.bin"], 1),
    (&["audit", "samples/unit7-read1.bin", "samples/unit7-returned.bin"], 1),
    (&["amend", "samples/unit7-read1.bin", "-o", "out.bin", "--set", "setpoint=3.5", "--reseal"], 0),
    (&["layouts"], 0),
    (&["layouts", "layouts/frostkeel-cr8.ron"], 0),
    (&["layouts", "--explain", "Bcd"], 0),
    (&["checks"], 0),
    (&["checks", "CRC-16/XMODEM", "samples/unit7-read1.bin", "--over", "0x100..0x1FE"], 0),
    (&["chips"], 0),
    (&["chips", "564"], 0),
    (&["convert", "samples/unit7.hex", "out.s19"], 0),
    (&["survey", "samples/unit7-read1.bin"], 0),
    (&["nearest", "samples/unit7-read3-poor.bin", "samples"], 0),
    (&["settings"], 0),
    (&["settings", "--start", "mine.ron"], 0),
    (&["hunt", "small-a.bin", "small-b.bin", "small-c.bin"], 0),
    (&["docket", "new", "job.ron", "--job", "store 3"], 0),
    (&["docket", "check", "job.ron"], 0),
];

/// Commands whose output is for a person, a shell or a reader of manual pages.
const WITHOUT: &[&str] = &["tour", "samples", "completions", "manual"];

#[test]
fn every_command_is_used_here_or_has_no_json() {
    let used: BTreeSet<&str> =
        USES.iter().map(|(words, _)| words[0]).chain(WITHOUT.iter().copied()).collect();
    for command in commands() {
        assert!(
            used.contains(command.as_str()),
            "{command}: a use of it belongs into USES, or it into WITHOUT"
        );
    }
}

/// The samples, and the calibration of three of them as images of their own, which a hunt is quick with.
fn place() -> Place {
    let place = Place::with_samples();
    for (from, to) in [("unit7-read1", "small-a"), ("unit9", "small-b"), ("unit12", "small-c")] {
        let bytes = place.bytes(&format!("samples/{from}.bin"));
        place.file(&format!("{to}.bin"), &bytes[0x40..0x80]);
    }
    place
}

/// Keys of objects at the top and in lists at the top.
fn keys(value: &Value, depth: usize, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(object) if depth < 3 => {
            for (key, inner) in object {
                found.insert(key.clone());
                keys(inner, depth + 1, found);
            }
        }
        Value::Array(items) => items.iter().take(3).for_each(|item| keys(item, depth, found)),
        _ => {}
    }
}

/// The section of the page that explains `command`, perhaps together with another one.
fn section<'a>(page: &'a str, command: &str) -> &'a str {
    let name = format!("`{command}`");
    let mut sections = page.split("\n## ").skip(1);
    let found = sections.find(|s| s.lines().next().is_some_and(|heading| heading.contains(&name)));
    found.unwrap_or_else(|| panic!("docs/json.md has no section on {command}"))
}

#[test]
fn every_command_prints_one_object_with_the_common_keys() {
    let place = place();
    for (words, status) in USES {
        let run = place.run(words.iter().copied().chain(["--json"])).expect(*status);
        let object = run.json();
        assert_eq!(object["schema"], 1, "{run}");
        assert_eq!(object["command"], words[0], "{run}");
        let findings = object["findings"].as_array().unwrap_or_else(|| panic!("no list of findings\n{run}"));
        for finding in findings {
            for key in ["weight", "code", "at", "bytes", "seen", "means", "do"] {
                assert!(finding.get(key).is_some(), "a finding without {key}\n{run}");
            }
        }
        assert!(run.err().is_empty(), "talk beside the object\n{run}");
    }
}

#[test]
fn every_key_that_a_command_prints_is_in_the_documentation() {
    let page = fs::read_to_string(package().join("docs/json.md")).unwrap();
    let (_, common) = page.split_once("\n## Every command\n").unwrap();
    let common = common.split("\n## ").next().unwrap_or(common);
    let place = place();
    for (words, _) in USES {
        let object = place.run(words.iter().copied().chain(["--json"])).json();
        let own = section(&page, words[0]);
        // `as for `compare`` and `as of `show`` refer to those sections.
        let others = ["compare", "show"].into_iter().filter(|other| {
            own.contains(&format!("as for `{other}`")) || own.contains(&format!("as of `{other}`"))
        });
        let documented: BTreeSet<&str> = [common, own]
            .into_iter()
            .chain(others.map(|other| section(&page, other)))
            .flat_map(|text| text.split(|c: char| !c.is_alphanumeric() && c != '_'))
            .collect();
        let mut printed = BTreeSet::new();
        keys(&object, 0, &mut printed);
        let missing: Vec<_> = printed.iter().filter(|key| !documented.contains(key.as_str())).collect();
        assert!(missing.is_empty(), "docs/json.md, {}: {missing:?} is not explained", words[0]);
    }
}
