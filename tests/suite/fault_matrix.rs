//! Every fault of a read put into every clean image: what is detected, what is missed, what is a false alarm.
//!
//! Three columns: by the bytes alone, with the layouts that are shipped, with a second, good read. The table is
//! printed (`cargo test --test suite fault_matrix -- --nocapture`); the floors below it are asserted.

use std::collections::BTreeMap;

use readproof::finding::{Verdict, Weight};
use readproof::image::Image;
use readproof::layout::{self, Layout};
use readproof::vet::{Ask, Report, vet};

use crate::faults::{Clean, Dice, FAULTS, LEAST_CHANGED, changed};
use crate::support::{corpus, package};

/// Images that show what a real memory looks like but are blank or known to be damaged are no clean images.
fn clean_images() -> Vec<Clean> {
    let mut images: Vec<Clean> = ["unit7-read1", "unit9", "unit7-serviced"]
        .iter()
        .map(|n| Clean::new(*n, std::fs::read(package().join(format!("samples/{n}.bin"))).unwrap()))
        .collect();
    images.extend((0..6).map(invented));
    let Some(folder) = corpus() else { return images };
    let facts: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(folder.join("facts.json")).unwrap()).unwrap();
    for file in facts["files"].as_array().unwrap() {
        let name = file["file"].as_str().unwrap();
        let bytes = std::fs::read(folder.join(name)).unwrap();
        let varied = bytes.iter().any(|b| *b != bytes[0]);
        if !name.starts_with("records/") && file["all_checks_valid"] != false && varied {
            images.push(Clean::new(name, bytes));
        }
    }
    images
}

/// A memory that nobody made: text in padded fields, small numbers, tables, fill of one kind.
fn invented(number: usize) -> Clean {
    let mut dice = Dice::new(number as u64 + 100);
    let fill = if number.is_multiple_of(2) { 0xFF } else { 0x00 };
    let mut bytes = vec![fill; [256, 512, 1024, 2048, 4096, 256][number % 6]];
    let words =
        ["Frostkeel", "cold", "room", "CR8", "evaporator", "FK-2047B", "defrost", "unit", "Works", "store"];
    let mut at = 0;
    while at + 40 < bytes.len() * 3 / 4 {
        match dice.below(3) {
            0 => {
                let text = format!("{} {}", words[dice.below(words.len())], words[dice.below(words.len())]);
                bytes[at..at + text.len()].copy_from_slice(text.as_bytes());
                bytes[at + text.len()..at + 24].fill(b' ');
                at += 24;
            }
            1 => {
                for row in 0..4 {
                    let record =
                        [0, row, dice.below(9) as u8, dice.below(256) as u8, dice.below(40) as u8, 0];
                    bytes[at..at + 6].copy_from_slice(&record);
                    at += 8;
                }
            }
            _ => at += 8 + dice.below(24),
        }
    }
    Clean::new(format!("invented {number}"), bytes)
}

fn shipped() -> Vec<Layout> {
    layout::SHIPPED.iter().map(|(_, text)| layout::read(text).unwrap()).collect()
}

fn judge(bytes: &[u8], layouts: &[Layout]) -> Report {
    vet(&[&Image::raw(bytes.to_vec())], &Ask { layouts, ..Ask::default() })
}

#[derive(Default)]
struct Row {
    cases: usize,
    changing: usize,
    alone_noticed: usize,
    showing: usize,
    showing_noticed: usize,
    showing_named: usize,
    with_layout: usize,
    layout_noticed: usize,
    two_reads: usize,
    two_noticed: usize,
    missed: Vec<String>,
}

fn told(report: &Report) -> String {
    let codes: Vec<_> =
        report.findings.iter().filter(|f| f.weight > Weight::Note).map(|f| f.code.word()).collect();
    if codes.is_empty() { "missed".to_owned() } else { codes.join(", ") }
}

fn share(part: usize, whole: usize) -> String {
    if whole == 0 { "-".to_owned() } else { format!("{:5.1}%", 100.0 * part as f64 / whole as f64) }
}

#[test]
fn every_fault_is_put_into_every_clean_image_and_the_floors_hold() {
    let layouts = shipped();
    let mut rows: BTreeMap<usize, Row> = BTreeMap::new();
    for clean in clean_images() {
        // With a layout: where one fits the clean image and finds nothing wrong with it.
        let by_layout = judge(&clean.file, &layouts);
        let known =
            by_layout.layout.is_some() && by_layout.verdict == Verdict::Sound && clean.file == clean.chip;
        for (number, fault) in FAULTS.iter().enumerate() {
            let row = rows.entry(number).or_default();
            let cases = (fault.cases)(&clean);
            // Decoding is dear without optimisation: of many like cases a few are decoded.
            let step = (cases.len() / 4).max(1);
            for (i, case) in cases.into_iter().enumerate() {
                row.cases += 1;
                if changed(&clean.chip, &case.damaged) < LEAST_CHANGED {
                    continue;
                }
                row.changing += 1;
                let report = judge(&case.damaged, &[]);
                let noticed = report.verdict != Verdict::Sound;
                row.alone_noticed += usize::from(noticed);
                if case.shows {
                    row.showing += 1;
                    row.showing_noticed += usize::from(noticed);
                    let named = report
                        .findings
                        .iter()
                        .any(|f| f.weight > Weight::Note && fault.codes.contains(&f.code));
                    row.showing_named += usize::from(named);
                    if !named {
                        row.missed.push(format!("{}: {} ({})", clean.name, case.what, told(&report)));
                    }
                }
                if known && i % step == 0 {
                    row.with_layout += 1;
                    let report = judge(&case.damaged, &layouts);
                    let noticed = report.verdict != Verdict::Sound;
                    row.layout_noticed += usize::from(noticed);
                    if !noticed {
                        row.missed.push(format!("{}: {} (with its layout)", clean.name, case.what));
                    }
                }
                if i % step != 0 {
                    continue;
                }
                row.two_reads += 1;
                let (good, bad) = (Image::raw(clean.chip.clone()), Image::raw(case.damaged));
                let two = vet(&[&good, &bad], &Ask::default());
                row.two_noticed += usize::from(two.verdict == Verdict::Unsound);
            }
        }
    }
    print(&rows);
    for (number, row) in &rows {
        let name = FAULTS[*number].name;
        let at_least = |part: usize, whole: usize, percent: usize, what: &str| {
            assert!(part * 100 >= whole * percent, "{name}: {what}: {part} of {whole} is below {percent} %");
        };
        at_least(row.showing_noticed, row.showing, 99, "by the bytes, where they show it");
        at_least(row.showing_named, row.showing, 95, "named by the bytes, where they show it");
        // An end that is lost where no check looks is lost to the layout too.
        let by_layout = if name == "end lost" { 80 } else { 97 };
        at_least(row.layout_noticed, row.with_layout, by_layout, "with a layout");
        at_least(row.two_noticed, row.two_reads, 100, "with a second read");
    }
}

fn print(rows: &BTreeMap<usize, Row>) {
    println!(
        "\nFault matrix. A case counts when at least {LEAST_CHANGED} bytes change; it shows when the bytes alone can show it."
    );
    println!(
        "{:<30} {:>6} {:>6} {:>8} | {:>6} {:>8} {:>8} | {:>6} {:>8} | {:>8}",
        "fault", "cases", "count", "alone", "show", "noticed", "named", "layout", "noticed", "2 reads"
    );
    for (number, row) in rows {
        println!(
            "{:<30} {:>6} {:>6} {:>8} | {:>6} {:>8} {:>8} | {:>6} {:>8} | {:>8}",
            FAULTS[*number].name,
            row.cases,
            row.changing,
            share(row.alone_noticed, row.changing),
            row.showing,
            share(row.showing_noticed, row.showing),
            share(row.showing_named, row.showing),
            row.with_layout,
            share(row.layout_noticed, row.with_layout),
            share(row.two_noticed, row.two_reads),
        );
    }
    for (number, row) in rows.iter().filter(|(_, r)| !r.missed.is_empty()) {
        println!("missed or named otherwise, {}:", FAULTS[*number].name);
        row.missed.iter().take(12).for_each(|m| println!("  {m}"));
        if row.missed.len() > 12 {
            println!("  and {} more", row.missed.len() - 12);
        }
    }
}

#[test]
fn clean_images_raise_no_fault_and_few_doubts() {
    let layouts = shipped();
    let images = clean_images();
    let (mut doubts, mut faults) = (Vec::new(), Vec::new());
    for clean in &images {
        let ways: [(&str, &[u8], &[Layout]); 3] = [
            ("alone", &clean.file, &[]),
            ("with layouts", &clean.file, &layouts),
            ("alone, as a whole chip", &clean.chip, &[]),
        ];
        for (with, bytes, layouts) in ways {
            for finding in judge(bytes, layouts).findings {
                let said = format!("{} ({with}): {}: {}", clean.name, finding.code.word(), finding.seen);
                match finding.weight {
                    Weight::Fault => faults.push(said),
                    Weight::Doubt => doubts.push(said),
                    Weight::Note => {}
                }
            }
        }
    }
    println!(
        "\nFalse alarms on {} clean images: {} faults, {} doubts",
        images.len(),
        faults.len(),
        doubts.len()
    );
    faults.iter().chain(&doubts).for_each(|said| println!("  {said}"));
    assert_eq!(faults, Vec::<String>::new());
    assert!(doubts.len() * 100 <= images.len() * 3 * 2, "more than 2 % of the judgements: {doubts:#?}");
}
