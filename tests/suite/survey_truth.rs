//! How much of what a hidden layout would say a survey finds by the bytes alone, and how often it is right.
//!
//! The images are those of the corpus whose layout is known, the samples, and sets generated from the samples. The
//! corpus is parted by a hash of the file names: the rules were tuned on one half only; the other is the blind one.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use readproof::image::Image;
use readproof::layout::{self, Decoded, Field, Layout, SHIPPED, Shape};
use readproof::survey::{ColumnKind, Course, Kind, Label, Region, survey};
use readproof::value::Value;

use crate::support;

/// An image with what is known of it and what a survey without its layout says.
struct Case {
    name: String,
    half: Half,
    decoded: Decoded,
    regions: Vec<Region>,
}

/// Where an image comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Half {
    /// The samples and what is generated from them; always there.
    Own,
    /// The part of the corpus that the rules were tuned on.
    Tuning,
    /// The other part.
    Blind,
}

/// FNV-1a, which parts the corpus by names.
fn hash(name: &str) -> u32 {
    name.bytes().fold(0x811C_9DC5, |h, b| (h ^ u32::from(b)).wrapping_mul(0x0100_0193))
}

fn cases() -> &'static [Case] {
    static CASES: OnceLock<Vec<Case>> = OnceLock::new();
    CASES.get_or_init(|| {
        let mut layouts: Vec<Layout> =
            SHIPPED.iter().filter_map(|(_, text)| layout::read(text).ok()).collect();
        let sample = std::fs::read_to_string(support::package().join("layouts/frostkeel-cr8.ron")).unwrap();
        layouts.push(layout::read(&sample).expect("the layout of the samples"));
        let mut images: Vec<(String, Half, Vec<u8>)> = Vec::new();
        for name in ["unit7-read1.bin", "unit9.bin", "unit12.bin", "unit7-serviced.bin"] {
            let bytes = std::fs::read(support::package().join("samples").join(name)).expect(name);
            images.push((name.to_owned(), Half::Own, bytes));
        }
        images.extend(
            generated(&layouts[layouts.len() - 1]).into_iter().map(|(name, bytes)| (name, Half::Own, bytes)),
        );
        layouts.push(layout::read(HAND_MADE).expect("the layout of the hand-made image"));
        images.push(("hand-made".to_owned(), Half::Own, hand_made()));
        if let Some(corpus) = support::corpus() {
            for path in support::files_below(&corpus) {
                let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
                let half = if hash(&name).is_multiple_of(2) { Half::Tuning } else { Half::Blind };
                if path.extension().is_some_and(|e| e == "bin") {
                    images.push((name, half, std::fs::read(&path).expect("corpus")));
                }
            }
        }
        images
            .into_iter()
            .filter_map(|(name, half, bytes)| {
                let image = Image::raw(bytes);
                let fit = layout::fits(&layouts, &image).into_iter().next()?;
                let decoded = layout::decode(&layouts[fit.index], &image);
                let regions = survey(&[&image], Course::Units, &[]).regions;
                Some(Case { name, half, decoded, regions })
            })
            .collect()
    })
}

/// Sets generated from a sample: other serials, dates and texts, typed into the fields of the layout.
fn generated(layout: &Layout) -> Vec<(String, Vec<u8>)> {
    let sample = std::fs::read(support::package().join("samples/unit9.bin")).expect("sample");
    (0..6_u32)
        .map(|unit| {
            let mut image = Image::raw(sample.clone());
            let day = format!("20{:02}-{:02}-{:02}", 19 + unit % 6, 1 + unit * 5 % 12, 1 + unit * 11 % 28);
            for (path, typed) in [
                (
                    "part_number",
                    format!("FK-CR8-{}{}", 1208 + unit * 977, ["A", "B", "D"][unit as usize % 3]),
                ),
                ("serial", format!("{}{:04}", day[2..].replace('-', ""), 17 + unit * 331)),
                ("built", day.clone()),
                (
                    "settings.room",
                    ["Cold store 5", "Butcher", "Freezer hall 2", "Cheese ripening"][unit as usize % 4]
                        .to_owned(),
                ),
            ] {
                let change = layout::set(layout, &image, path, &typed).expect(path);
                let mut bytes = image.bytes().to_vec();
                change.edits.iter().for_each(|e| bytes[e.span().range()].copy_from_slice(&e.after));
                image = Image::raw(bytes);
            }
            (format!("generated unit {unit}"), image.bytes().to_vec())
        })
        .collect()
}

/// A layout of what the samples do not have, invented for this test.
const HAND_MADE: &str = r#"(
    layout: "Hand-made memory", format: 1, source: "invented",
    fits: (bytes: [2048], marks: [(at: 0, hex: "A7 5C E1 9B")]), order: Little,
    fields: [
        (name: "mark", at: 0, kind: Bytes(bytes: 4)),
        (name: "swapped_name", at: 0x20, kind: Text(bytes: 26, swapped: true), role: Identity),
        (name: "serial", at: 0x50, kind: Bcd(digits: 14), role: Identity),
        (name: "wide_name", at: 0x80, kind: Text(bytes: 32, code: Utf16), role: Setting),
        (name: "made", at: 0xC0, kind: Date(form: "DD MM YYYY"), role: Identity),
        (name: "built", at: 0xD4, kind: Text(bytes: 16), role: Identity),
        (name: "reads", at: 0x100, kind: Table(rows: 40, stride: 20, of: [
            (name: "kind", at: 0, kind: Int(bits: 8)),
            (name: "when", at: 1, kind: Since(bits: 32, count: Seconds, from: "1970-01-01")),
            (name: "count", at: 5, kind: Int(bits: 32)),
            (name: "word", at: 9, kind: Text(bytes: 4)),
            (name: "rest", at: 13, kind: Bytes(bytes: 7)),
        ]), role: Record),
        (name: "a_length", at: 0x500, kind: Int(bits: 8)),
        (name: "a", at: 0x501, kind: Text(bytes: 7)),
        (name: "b_length", at: 0x508, kind: Int(bits: 8)),
        (name: "b", at: 0x509, kind: Text(bytes: 4)),
        (name: "c_length", at: 0x50D, kind: Int(bits: 8)),
        (name: "c", at: 0x50E, kind: Text(bytes: 11)),
        (name: "tail", at: 0x519, kind: Bytes(bytes: 128)),
    ],
)"#;

/// An image of that layout.
fn hand_made() -> Vec<u8> {
    let mut bytes = vec![0xFF; 2048];
    let mut put = |at: usize, what: &[u8]| bytes[at..at + what.len()].copy_from_slice(what);
    put(0, &[0xA7, 0x5C, 0xE1, 0x9B]);
    let mut swapped = *b"Evaporator Fan Control 900";
    swapped.chunks_exact_mut(2).for_each(|pair| pair.swap(0, 1));
    put(0x20, &swapped);
    put(0x50, &[0x84, 0x31, 0x92, 0x57, 0x66, 0x48, 0x73]);
    let wide: Vec<u8> = "North cold store".bytes().flat_map(|c| [c, 0]).collect();
    put(0x80, &wide);
    put(0xC0, &[0x27, 0x11, 0x20, 0x23]);
    put(0xD4, b"2023-11-29 07:31");
    for row in 0..40u32 {
        let mut bytes = vec![(row % 3) as u8];
        bytes.extend((1_690_000_000 + row * 7919 + row * row * 613).to_le_bytes());
        bytes.extend((70_000 + row * 91).to_le_bytes());
        bytes.extend([b"FAN ", b"HEAT", b"DOOR"][row as usize % 3]);
        bytes.extend([0; 7]);
        put(0x100 + row as usize * 20, &bytes);
    }
    put(0x500, b"\x07Kestrel\x04AX-9\x0BCR8 sub-net");
    // Numbers that look like nothing.
    let mut noise = 1u32;
    let tail: Vec<u8> = (0..128)
        .map(|_| {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (noise >> 24) as u8
        })
        .collect();
    put(0x519, &tail);
    bytes
}

/// What is counted, each as one row of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Sort {
    /// Text fields of at least four characters, but for serials and dates.
    Text,
    /// Texts that the layout calls serial.
    Serial,
    /// Dates of at least four bytes, in text, part by part, or as seconds in a table; of shorter ones a single image
    /// cannot tell.
    Date,
    /// Packed digits of at least four bytes.
    Digits,
    /// Tables of at least eight filled rows.
    Table,
}

/// The fields of a layout that count, one of each column of a table.
fn wanted(case: &Case) -> Vec<(Sort, &Field)> {
    let fields = &case.decoded.fields;
    let mut seen = std::collections::BTreeSet::new();
    let mut all = Vec::new();
    for field in fields {
        let word = |word: &str| field.kind.starts_with(word);
        let filled = || rows(fields, field).iter().filter(|row| row.at_rest != Some(true)).count();
        let sort = match field.shape {
            Shape::Table if filled() >= 8 => Sort::Table,
            Shape::Leaf
                if (word("Date") || word("Since")) && field.spans.first().is_some_and(|s| s.len() >= 4) =>
            {
                Sort::Date
            }
            Shape::Leaf if word("Bcd") && field.cover().len() >= 4 => Sort::Digits,
            Shape::Leaf if field.path.contains("serial") && is_text(field) => Sort::Serial,
            Shape::Leaf if field.path.contains("date") && is_text(field) => Sort::Date,
            Shape::Leaf if is_text(field) => Sort::Text,
            _ => continue,
        };
        // What stands at rest, or is blank, cannot be found; nor can what the image is too short for.
        let says_nothing = field.text.is_empty() || field.text == "not set";
        if field.at_rest == Some(true) || field.shape == Shape::Leaf && says_nothing || field.spans.is_empty()
        {
            continue;
        }
        // Of a column of a table, one row counts.
        let in_table = fields.iter().any(|t| {
            t.shape == Shape::Table
                && field.path.starts_with(&format!("{}[", t.path))
                && rows(fields, t).len() >= 4
        });
        let column: String = match in_table {
            true => field.path.chars().filter(|c| !c.is_ascii_digit()).collect(),
            false => field.path.clone(),
        };
        if seen.insert(column) {
            all.push((sort, field));
        }
    }
    all
}

/// The rows of a table.
fn rows<'f>(fields: &'f [Field], table: &Field) -> Vec<&'f Field> {
    fields
        .iter()
        .filter(|f| {
            f.shape == Shape::Row
                && f.path.starts_with(&format!("{}[", table.path))
                && f.depth == table.depth + 1
        })
        .collect()
}

fn is_text(field: &Field) -> bool {
    let Some(Value::Text(text)) = &field.value else { return false };
    let plain = text.bytes().filter(u8::is_ascii_alphanumeric).count() * 2 > text.len();
    let distinct = text.bytes().collect::<std::collections::BTreeSet<_>>().len();
    let kind = field.kind.starts_with("Text") || field.kind.starts_with("TypeLength");
    kind && text.len() >= 4 && text.is_ascii() && plain && distinct >= 3 && field.text == *text
}

/// Whether the regions say what a field holds.
fn is_found(sort: Sort, field: &Field, case: &Case) -> bool {
    let starts_at = |r: &Region| field.spans.iter().any(|s| r.at.start.abs_diff(s.start) <= 1);
    let first = field.spans[0];
    case.regions.iter().any(|r| match (&r.kind, sort) {
        (Kind::Text { text, .. }, Sort::Text | Sort::Serial | Sort::Date) if is_text(field) => {
            starts_at(r) && text.trim() == field.text.trim()
        }
        (Kind::Table(table), Sort::Text) if r.at.overlaps(field.cover()) => {
            let in_row = (first.start + table.stride - r.at.start % table.stride) % table.stride;
            table
                .columns
                .iter()
                .any(|c| c.kind == ColumnKind::Text && c.at <= in_row && in_row < c.at + c.bytes)
        }
        (Kind::Text { label: Label::Date, .. }, Sort::Date) => starts_at(r),
        (Kind::Date { .. }, Sort::Date) => r.at == first,
        (Kind::Table(table), Sort::Date) if r.at.overlaps(field.cover()) => {
            let in_row = (first.start + table.stride - r.at.start % table.stride) % table.stride;
            table
                .columns
                .iter()
                .any(|c| matches!(c.kind, ColumnKind::Date(_) | ColumnKind::Seconds(_)) && c.at == in_row)
        }
        (Kind::PackedDigits { .. }, Sort::Digits) => r.at == first,
        (Kind::Table(table), Sort::Table) => {
            let rows = rows(&case.decoded.fields, field);
            let filled = rows.iter().filter(|r| r.at_rest != Some(true)).count();
            let stride = rows.get(1).zip(rows.first()).map_or(0, |(b, a)| b.cover().start - a.cover().start);
            // The same row length, in step, and most of the filled rows.
            stride == table.stride
                && r.at.start % stride == field.cover().start % stride
                && r.at.overlaps(field.cover())
                && table.rows * 10 >= filled * 8
        }
        _ => false,
    })
}

/// Whether a claim is right, by the layout; `None` where the layout says nothing of these bytes, or too little.
fn is_right(region: &Region, case: &Case) -> Option<bool> {
    let fields = &case.decoded.fields;
    let over: Vec<&Field> = fields
        .iter()
        .filter(|f| f.shape == Shape::Leaf && f.spans.iter().any(|s| s.overlaps(region.at)))
        .collect();
    let undescribed = |f: &&Field| f.kind.starts_with("Bytes");
    let of = |words: &[&str]| {
        let told = over.iter().filter(|f| words.iter().any(|w| f.kind.starts_with(w)));
        told.copied().collect::<Vec<&Field>>()
    };
    let judged = match &region.kind {
        Kind::Text { text, .. } => {
            let like = |f: &&Field| {
                let (a, b) = (f.text.trim(), text.trim());
                a.contains(b) || b.contains(a) && a.len() * 10 >= b.len() * 7
            };
            let date =
                |f: &&Field| f.kind.starts_with("Date") && f.spans.iter().any(|s| s.start == region.at.start);
            over.iter().any(|f| like(f) || date(f))
        }
        Kind::PackedDigits { .. } => {
            of(&["Bcd", "Date"])
                .iter()
                .map(|f| f.cover().intersection(region.at).map_or(0, |s| s.len()))
                .sum::<usize>()
                * 2
                > region.at.len()
        }
        Kind::Date { .. } => of(&["Date", "Since"])
            .iter()
            .any(|f| f.spans.iter().any(|s| region.at.covers(*s) || s.covers(region.at))),
        Kind::Table(_) => {
            let table = |f: &&Field| f.shape == Shape::Table && f.cover().overlaps(region.at);
            fields.iter().filter(table).any(|f| is_found(Sort::Table, f, case)) || repeats(region, case)
        }
        _ => return None,
    };
    (judged || !over.is_empty() && !over.iter().all(undescribed)).then_some(judged)
}

/// Whether the leaves of the layout repeat in a table's region with its row length: groups side by side are rows too.
fn repeats(region: &Region, case: &Case) -> bool {
    let Kind::Table(table) = &region.kind else { return false };
    let leaves = || {
        case.decoded
            .fields
            .iter()
            .filter(|f| f.shape == Shape::Leaf)
            .flat_map(|f| f.spans.iter().map(move |s| (s.start, s.len(), f)))
    };
    let inside =
        || leaves().filter(|(at, ..)| region.at.contains(*at) && region.at.contains(at + table.stride));
    let again = inside().filter(|(at, len, f)| {
        leaves().any(|(a, l, g)| a == at + table.stride && l == *len && g.kind == f.kind)
    });
    inside().count() > 0 && again.count() * 10 >= inside().count() * 9
}

#[test]
fn most_of_what_a_hidden_layout_says_is_found() {
    let mut table: BTreeMap<(Half, Sort), [usize; 2]> = BTreeMap::new();
    for case in cases() {
        for (sort, field) in wanted(case) {
            let row = table.entry((case.half, sort)).or_default();
            let found = is_found(sort, field, case);
            row[0] += 1;
            row[1] += usize::from(found);
            if !found {
                let over: Vec<_> = case
                    .regions
                    .iter()
                    .filter(|r| r.at.overlaps(field.cover()))
                    .map(|r| (r.kind.word(), r.at))
                    .collect();
                println!(
                    "missed {:?} in {} ({:?}): {} {:?} at {:?}: {over:?}",
                    sort,
                    case.name,
                    case.half,
                    field.path,
                    field.text,
                    field.cover()
                );
            }
        }
    }
    println!("found by the bytes alone   in the layout  found  of 100");
    for ((half, sort), [all, found]) in &table {
        println!("{:<26} {all:>13} {found:>6} {:>7}", format!("{half:?}, {sort:?}"), found * 100 / all);
    }
    for (half, sort, floor) in [
        (Half::Own, Sort::Text, 95),
        (Half::Own, Sort::Date, 70),
        (Half::Own, Sort::Table, 75),
        (Half::Tuning, Sort::Text, 80),
        (Half::Tuning, Sort::Serial, 90),
        (Half::Tuning, Sort::Date, 70),
        (Half::Blind, Sort::Text, 80),
        (Half::Blind, Sort::Serial, 85),
    ] {
        let [all, found] = table.get(&(half, sort)).copied().unwrap_or_default();
        assert!(all > 0 || half != Half::Own && support::corpus().is_none(), "{half:?}, {sort:?}");
        assert!(found * 100 >= all * floor, "{half:?}, {sort:?}: {found} of {all} found");
    }
}

#[test]
fn a_confidence_is_the_share_of_claims_that_are_right() {
    let mut bands: BTreeMap<(Half, &str, i32), [usize; 2]> = BTreeMap::new();
    for case in cases() {
        for region in &case.regions {
            let Some(right) = is_right(region, case) else { continue };
            let band = region.chance.max(1e-30).log10().floor() as i32;
            let row = bands.entry((case.half, sort_of(&region.kind), band)).or_default();
            row[0] += 1;
            row[1] += usize::from(right);
            if !right {
                println!(
                    "wrong in {} ({:?}): {:?} {:?} {}, chance {:.0e}",
                    case.name,
                    case.half,
                    region.at,
                    region.kind.word(),
                    region.evidence,
                    region.chance
                );
            }
        }
    }
    for ((half, sort, band), [all, right]) in &bands {
        println!("{half:?} {sort} 1e{band}: {right} of {all}");
    }
    let mut claimed: BTreeMap<(Half, usize), (f64, [usize; 2])> = BTreeMap::new();
    for case in cases() {
        for region in &case.regions {
            let Some(right) = is_right(region, case) else { continue };
            let band = BANDS.iter().rposition(|&b| region.probability() >= b).unwrap_or(0);
            let row = claimed.entry((case.half, band)).or_default();
            row.0 += region.probability();
            row.1[0] += 1;
            row.1[1] += usize::from(right);
        }
    }
    println!("claims             of them  claimed right  are right");
    for ((half, band), (sum, [all, right])) in &claimed {
        let claimed = sum * 100.0 / *all as f64;
        let are = *right as f64 * 100.0 / *all as f64;
        println!(
            "{:<18} {all:>7} {claimed:>12.0} % {are:>8.0} %",
            format!("{half:?}, from {:.0} %", BANDS[*band] * 100.0)
        );
        // What is claimed holds but for twice what so few claims scatter by, and for what a blind half costs.
        let scatter = 200.0 * (claimed / 100.0 * (1.0 - claimed / 100.0) / *all as f64).sqrt();
        let blind = if *half == Half::Blind { 10.0 } else { 2.0 };
        if *all >= 10 {
            assert!(
                are >= claimed - scatter - blind,
                "{half:?}: {right} of {all} right, {claimed:.0} % claimed"
            );
        }
    }
}

/// Where bands of confidence begin.
const BANDS: [f64; 5] = [0.0, 0.3, 0.6, 0.8, 0.95];

fn sort_of(kind: &Kind) -> &'static str {
    match kind {
        Kind::Text { encoding: readproof::find::Encoding::Text, .. } => "text",
        Kind::Text { .. } => "text, otherwise stored",
        other => other.word(),
    }
}
