//! Kinds of fields: their reference page is what the program knows, and they read real images as independent
//! decoders do.

use std::fs;

use readproof::notation;
use readproof::span::ByteOrder;
use readproof::value::{Kind, Value, reference};
use serde_json::Value as Json;

use crate::support::{assert_same_text, corpus, package, rewriting};

#[test]
fn the_reference_page_of_kinds_is_what_the_table_says() {
    let path = package().join("docs/kinds.md");
    let now = reference();
    if rewriting() {
        fs::write(&path, now).unwrap();
        return;
    }
    assert_same_text("docs/kinds.md", &fs::read_to_string(&path).unwrap_or_default(), &now);
}

fn kind(ron: &str) -> Kind {
    let mut problems = Vec::new();
    let kind = Kind::read(&notation::parse(ron).unwrap(), &mut problems);
    assert_eq!(problems, [], "{ron}");
    kind.unwrap()
}

/// A real image and what is known about it.
struct Known {
    file: String,
    bytes: Vec<u8>,
    facts: Json,
}

impl Known {
    fn fact(&self, name: &str) -> Option<&str> {
        self.facts["fields"][name].as_str()
    }

    /// What `len` bytes at `at` show as a kind in a layout with the lowest byte first.
    fn shows(&self, ron: &str, at: usize, len: usize) -> String {
        let kind = kind(ron);
        let bytes = &self.bytes[at..at + len];
        let seen = kind.decode(bytes, ByteOrder::Little);
        // Whatever real bytes say, it can be put back.
        assert_eq!(kind.encode(&seen.value, bytes, ByteOrder::Little).unwrap(), bytes, "{} {ron}", self.file);
        kind.show(&seen.value)
    }
}

fn known(folder: &str) -> Vec<Known> {
    let Some(corpus) = corpus() else { return Vec::new() };
    let facts: Json = serde_json::from_str(&fs::read_to_string(corpus.join("facts.json")).unwrap()).unwrap();
    let files = facts["files"].as_array().unwrap().iter();
    let wanted = files.filter(|facts| facts["file"].as_str().unwrap().starts_with(folder));
    wanted
        .map(|facts| {
            let file = facts["file"].as_str().unwrap().to_string();
            Known { bytes: fs::read(corpus.join(&file)).unwrap(), file, facts: facts.clone() }
        })
        .collect()
}

/// The name before what stands in brackets: lists differ in how they tell former names.
fn bare(name: &str) -> &str {
    name.split(" (").next().unwrap_or(name)
}

#[test]
fn makers_and_weeks_of_monitors_are_those_of_edid_decode() {
    for image in known("edid/") {
        if let Some(maker) = image.fact("manufacturer") {
            assert_eq!(image.shows("Letters", 8, 2), maker, "{}", image.file);
        }
        // "week 26 of 2008", or only "2008".
        if let Some(made) = image.fact("made in") {
            let wanted = match made.strip_prefix("week ").and_then(|rest| rest.split_once(" of ")) {
                Some((week, year)) => format!("{year}-W{week:0>2}"),
                None => made.to_string(),
            };
            let shown = image.shows("Date(form: \"WW YY\", coded: Binary, from: 1990)", 16, 2);
            assert_eq!(shown, wanted, "{}", image.file);
        }
    }
}

#[test]
fn makers_and_weeks_of_memory_modules_are_those_of_decode_dimms() {
    for image in known("spd/") {
        let Some(maker) = image.fact("module manufacturer") else { continue };
        // Where the maker and the date stand, by the memory type in byte 2 (JEDEC JESD21-C, section 4.1.2).
        let (maker_kind, at, len, date) = match image.bytes[2] {
            0x0C => ("Maker", 320, 2, 323),
            0x0B => ("Maker", 117, 2, 120),
            _ => ("Maker(continued: 8)", 64, 8, 93),
        };
        assert_eq!(bare(&image.shows(maker_kind, at, len)), bare(maker), "{}", image.file);
        if let Some(week) = image.fact("manufacturing date") {
            assert_eq!(image.shows("Date(form: \"YY WW\")", date, 2), week, "{}", image.file);
        }
    }
}

#[test]
fn dates_and_addresses_of_transceivers_are_those_of_the_reference_decoder() {
    for image in known("sfp/sfp-") {
        let Some(date) = image.fact("date code") else { continue };
        let shown = image.shows("Date(form: \"YY MM DD\", coded: Ascii)", 84, 6);
        assert_eq!(shown, date, "{}", image.file);
        let oui = image.shows("Eui(bytes: 3)", 37, 3).replace(':', "-").to_lowercase();
        assert_eq!(Some(oui.as_str()), image.fact("vendor OUI"), "{}", image.file);
        let part = image.shows("Text(bytes: 16, pad: \" \")", 40, 16);
        assert_eq!(Some(part.as_str()), image.fact("vendor part number"), "{}", image.file);
    }
}

#[test]
fn identifiers_of_add_on_boards_are_those_of_eepdump() {
    for image in known("hat/") {
        let shown = image.shows("Guid(order: Little)", 20, 16);
        assert_eq!(Some(shown.as_str()), image.fact("product uuid"), "{}", image.file);
    }
}

#[test]
fn times_and_texts_of_board_areas_are_those_of_ipmi_fru() {
    for image in known("fru/") {
        let at = usize::from(image.bytes[3]) * 8;
        let Some(time) = image.fact("board manufacture time by ipmi-fru") else { continue };
        // "07/22/13 - 19:23:00"
        let (date, clock) = time.split_once(" - ").unwrap();
        let parts: Vec<&str> = date.split('/').collect();
        let wanted = format!("20{}-{}-{} {}", parts[2], parts[0], parts[1], &clock[..5]);
        let since = "Since(bits: 24, count: Minutes, from: \"1996-01-01\", unset: 0)";
        assert_eq!(image.shows(since, at + 3, 3), wanted, "{}", image.file);

        let field = kind("TypeLength");
        let mut at = at + 6;
        for name in ["board manufacturer", "board product name", "board serial number", "board part number"] {
            let len = field.extent(&image.bytes[at..]).unwrap();
            let shown = image.shows("TypeLength", at, len);
            assert_eq!(Some(shown.as_str()), image.fact(name).map(str::trim_end), "{} {name}", image.file);
            at += len;
        }
    }
}

#[test]
fn a_shorter_text_keeps_the_length_of_its_field() {
    let field = kind("TypeLength");
    let old = *b"\xC8FK-2047B";
    let new = field.encode(&Value::Text("FK-1".into()), &old, ByteOrder::Little).unwrap();
    assert_eq!(new, *b"\xC8FK-1    ");
    let longer = field.encode(&Value::Text("FK-2047B-2".into()), &old, ByteOrder::Little).unwrap();
    assert_eq!(longer, *b"\xCAFK-2047B-2");
}
