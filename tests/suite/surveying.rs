//! A survey finds in an unknown memory what its layout, hidden from it, would have said; its draft is a layout
//! that can be used at once.

use readproof::image::Image;
use readproof::layout::{self, Layout, SHIPPED, Shape};
use readproof::survey::{Confidence, Course, Kind, Region, draft, survey};
use readproof::value::Value;

use crate::support::{self, Place};

/// Every image whose layout is known: its name, its bytes, and the layout.
fn known_images() -> Vec<(String, Vec<u8>, Layout)> {
    let layouts: Vec<Layout> = SHIPPED.iter().filter_map(|(_, text)| layout::read(text).ok()).collect();
    let mut files: Vec<_> = ["unit7-read1.bin", "unit9.bin", "unit12.bin"]
        .iter()
        .map(|name| support::package().join("samples").join(name))
        .collect();
    if let Some(corpus) = support::corpus() {
        for folder in ["edid", "spd", "fru", "sfp", "hat", "onie", "ethernet-nvm"] {
            let entries = std::fs::read_dir(corpus.join(folder)).expect(folder);
            files.extend(entries.filter_map(|e| Some(e.ok()?.path())).filter(|p| p.extension().is_some()));
        }
    }
    files.sort();
    files
        .into_iter()
        .filter_map(|path| {
            let bytes = std::fs::read(&path).ok()?;
            let fit = layout::fits(&layouts, &Image::raw(bytes.clone())).into_iter().next()?;
            Some((path.file_name()?.to_string_lossy().into_owned(), bytes, layouts[fit.index].clone()))
        })
        .collect()
}

/// The regions of a survey that was given no layouts.
fn regions(bytes: &[u8]) -> Vec<Region> {
    survey(&[&Image::raw(bytes.to_vec())], Course::Units, &[]).regions
}

#[test]
fn most_texts_of_known_memories_are_found_without_their_layout() {
    let mut table: std::collections::BTreeMap<String, [usize; 3]> = std::collections::BTreeMap::new();
    for (_, bytes, layout) in known_images() {
        let image = Image::raw(bytes.clone());
        let found: Vec<Region> = regions(&bytes);
        let [wanted, whole, touched] = table.entry(layout.title.clone()).or_default();
        for field in layout::decode(&layout, &image).fields.iter().filter(|f| f.shape == Shape::Leaf) {
            let Some(Value::Text(text)) = &field.value else { continue };
            let plain = text.len() >= 6
                && text.is_ascii()
                && (field.kind.starts_with("Text") || field.kind.starts_with("TypeLength"))
                && text.bytes().filter(u8::is_ascii_alphanumeric).count() * 2 > text.len();
            if !plain || field.text != *text {
                continue;
            }
            *wanted += 1;
            let start = field.cover().start;
            let says = |r: &&Region| matches!(&r.kind, Kind::Text { text: t, .. } if t == text);
            *whole += usize::from(found.iter().filter(says).any(|r| r.at.start.abs_diff(start) <= 1));
            *touched += usize::from(found.iter().any(|r| r.at.overlaps(field.cover())));
        }
    }
    println!("texts of six characters and more   in the layout  found whole  found in part");
    let mut all = [0; 3];
    for (title, row) in &table {
        println!("{title:<50.50} {:>6} {:>11} {:>13}", row[0], row[1], row[2]);
        (0..3).for_each(|i| all[i] += row[i]);
    }
    println!("{:<50} {:>6} {:>11} {:>13}", "all", all[0], all[1], all[2]);
    assert!(all[0] > 0);
    assert!(all[1] * 100 >= all[0] * 60, "found whole: {} of {}", all[1], all[0]);
    assert!(all[2] * 100 >= all[0] * 90, "found at least in part: {} of {}", all[2], all[0]);
}

#[test]
fn what_is_sure_in_random_bytes_is_next_to_nothing() {
    use sha2::{Digest, Sha256};
    let mut sure = 0;
    for seed in 0..64u32 {
        let bytes: Vec<u8> =
            (0..32u32).flat_map(|i| Sha256::digest([seed.to_le_bytes(), i.to_le_bytes()].concat())).collect();
        sure += regions(&bytes).iter().filter(|r| r.confidence() == Confidence::Sure).count();
    }
    // "Sure" is one in ten thousand surveys for each kind of region; 64 surveys have some dozen kinds.
    assert!(sure <= 1, "{sure} sure regions in 64 surveys of noise");
}

#[test]
fn the_draft_of_every_known_memory_lints_clean_and_decodes_it() {
    for (name, bytes, _) in known_images() {
        let image = Image::raw(bytes);
        let found = survey(&[&image], Course::Units, &[]);
        let text = draft(&name, &found, &image, &[]);
        let layout = layout::read(&text).unwrap_or_else(|p| panic!("{name}: {p:?}\n{text}"));
        let fields = layout::decode(&layout, &image).fields.len();
        assert!(
            fields > 0
                || found.regions.iter().all(|r| matches!(r.kind, Kind::Fill(_) | Kind::Copy { .. })
                    || r.confidence() == Confidence::Weak),
            "{name}: no field\n{text}"
        );
        assert_eq!(
            layout::fits(&[layout], &image).len(),
            usize::from(text.contains("marks:")),
            "{name}\n{text}"
        );
    }
}

#[test]
fn surveys_of_nothing_and_of_one_byte_say_nothing() {
    for bytes in [&[][..], &[0x41], &[0xFF, 0xFF]] {
        assert!(regions(bytes).is_empty());
    }
}

#[test]
fn records_and_units_are_told_apart_over_several_images() {
    let place = Place::with_samples();
    let run =
        place.run(["survey", "samples/unit7-read1.bin", "samples/unit9.bin", "samples/unit12.bin", "--json"]);
    let json: serde_json::Value = serde_json::from_str(run.out()).expect("JSON");
    let class_at = |at: u64| {
        let stretches = json["stretches"].as_array().expect("stretches");
        let over = |s: &&serde_json::Value| {
            s["at"].as_u64().is_some_and(|start| start <= at && at < start + s["bytes"].as_u64().unwrap_or(0))
        };
        stretches.iter().find(over).and_then(|s| s["class"].as_str()).unwrap_or_default().to_owned()
    };
    // The serial, a lockout that only some units have, the mark, the sum over all.
    assert_eq!(class_at(0x0052), "unit-specific");
    assert_eq!(class_at(0x0240), "record-like");
    assert_eq!(class_at(0x0000), "same");
    assert_eq!(class_at(0x1FFE), "check-like");
}

#[test]
fn a_draft_is_written_once_and_never_over_another_file() {
    let place = Place::with_samples();
    let words = ["survey", "samples/unit9.bin", "--draft", "draft.ron"];
    assert_eq!(place.run(words).status(), 0);
    let first = place.bytes("draft.ron");
    let second = place.run(words);
    assert_eq!(second.status(), 2, "{}", second.err());
    assert_eq!(place.bytes("draft.ron"), first);
    assert_eq!(place.run(["show", "samples/unit9.bin", "--layout", "draft.ron"]).status(), 0);
}

#[test]
fn what_a_service_changes_is_told_from_a_pair() {
    let place = Place::with_samples();
    let run =
        place.run(["survey", "samples/unit7-read1.bin", "samples/unit7-serviced.bin", "--pairs", "--json"]);
    let json = run.json();
    let stretches = json["stretches"].as_array().expect("stretches");
    let event = |at: u64| {
        stretches.iter().find(|s| s["at"] == at && s["class"] == "event").map(|s| s["detail"].to_string())
    };
    // The lockouts are cleared to rest, the sum over all is another; the serial stays.
    assert!(event(0x0200).is_some_and(|told| told.contains("clears it to FF")), "{stretches:#?}");
    assert!(event(0x1FFE).is_some());
    assert!(
        stretches.iter().any(|s| s["at"] == 0 && s["class"] == "same" && s["bytes"].as_u64() > Some(0x60))
    );
    place.run(["survey", "samples/unit9.bin", "--pairs"]).expect(2).complains("--pairs was given 1 image");
}
