//! Every finding code comes out of the program for real, says what was seen, why and what to do, and is explained in
//! `docs/findings.md`.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs;

use readproof::cli;
use readproof::finding::{Code, NAMES};
use readproof::report::names::BY_LAYOUT;
use readproof::vet::Transform;

use crate::support::{Place, package, run};

#[test]
fn every_finding_code_is_explained_and_nothing_else() {
    let page = fs::read_to_string(package().join("docs/findings.md")).unwrap();
    let mut sections = page.split("\n## ").skip(1);
    let mut slips = Vec::new();
    for code in Code::ALL {
        let (word, doc) = (code.word(), code.doc());
        let section = sections.next().unwrap_or_else(|| panic!("docs/findings.md ends before {word}: {doc}"));
        let (heading, text) = section.split_once("\n\n").unwrap_or((section, ""));
        assert_eq!(heading, word, "docs/findings.md has another section where {word} ({doc}) belongs");
        let first = text.lines().next().unwrap_or("");
        assert_eq!(first, format!("{doc}."), "the first line under {word}");
        assert!(text.lines().count() >= 3, "{word}: say also what lies behind it and what to do");
        let todo = text.trim().lines().last().unwrap_or_default();
        if !is_an_act(todo) {
            slips.push(format!("{word}: the last line says what to do: {todo}"));
        }
        slips.extend(commands(text).iter().filter_map(|command| parsed(command).err()));
    }
    assert!(slips.is_empty(), "{}", slips.join("\n"));
    assert_eq!(sections.next(), None, "docs/findings.md explains a code that does not exist");
}

/// 1 KiB in which no byte says anything about the next.
fn noise(seed: usize) -> Vec<u8> {
    (0..1024_usize).map(|i| (((i + seed) * 167) ^ (i >> 2) ^ (i >> 5) ^ seed) as u8).collect()
}

/// A layout whose fields are odd in every way when they hold [`ODD`].
const ODD_LAYOUT: &str = r#"(
    layout: "Odd on purpose", format: 1, source: "invented for this test",
    fits: (marks: [(at: 0, hex: "464B4F44")]), order: Big,
    fields: [
        (name: "mark", at: 0, kind: Text(bytes: 4), role: Identity, fixed: true),
        (name: "digits", at: 4, kind: Bcd(digits: 4), role: Setting),
        (name: "part", at: 6, kind: Text(bytes: 4), role: Identity, pattern: "FK[0-9]{2}"),
        (name: "setpoint", at: 10, kind: Int(bits: 8), role: Setting, max: 40, unit: "°C"),
        (name: "gain", at: 11, kind: Int(bits: 8), role: Calibration, copies: [(at: 12)]),
        (name: "kept", at: 13, kind: Int(bits: 8), role: Reserved, rest: "0"),
        (name: "far", at: 200, kind: Int(bits: 16), role: Setting),
    ],
    checks: [
        (name: "near", over: (0, 14), stored: (at: 14, bytes: 2), by: "CRC-16/XMODEM"),
        (name: "cut", over: (0, 100), stored: (at: 16, bytes: 2), by: "CRC-16/XMODEM"),
    ],
)"#;
const ODD: &[u8] = b"FKOD\xAB\xCDFKO1\x50\x01\x02\x07\0\0\0\0..............";

/// A layout that asks for more rows than any image means.
const ENDLESS_LAYOUT: &str = r#"(
    layout: "Endless", format: 1, source: "invented for this test",
    fields: [
        (name: "a", at: 0, kind: Table(rows: "image", stride: 1, of: [
            (name: "b", at: 0, kind: Table(rows: "image", stride: 1, of: [
                (name: "c", at: 0, kind: Table(rows: "image", stride: 1, of: [
                    (name: "d", at: 0, kind: Int(bits: 8)),
                ])),
            ])),
        ])),
    ],
)"#;

/// The files of [`PRODUCES`] beside the samples.
fn place() -> Place {
    let place = Place::with_samples();
    let sample = |name: &str| place.bytes(&format!("samples/{name}"));
    let clean = sample("unit7-read1.bin");
    let with = |bytes: &[u8], changes: &[(usize, u8)]| {
        let mut bytes = bytes.to_vec();
        changes.iter().for_each(|&(at, flip)| bytes[at] ^= flip);
        bytes
    };
    place.file("odd.ron", ODD_LAYOUT);
    place.file("odd.bin", ODD);
    place.file("endless.ron", ENDLESS_LAYOUT);
    place.file("tie/one.ron", ODD_LAYOUT);
    place.file("tie/two.ron", ODD_LAYOUT);
    place.file("slips/slip.ron", "(layout: 5)");
    place.file("noise.bin", noise(1));
    place.file("letter.txt", "a letter and no read of a chip");
    place.file("blank.bin", [0xFF; 1024]);
    place.file("blank-too.bin", [0xFF; 1024]);
    place.file("line.bin", (0..1024).map(|i| noise(1)[i & !8]).collect::<Vec<_>>());
    place.file("bit.bin", noise(1).iter().map(|b| b | 8).collect::<Vec<_>>());
    for transform in
        [Transform::SwappedBytes, Transform::ReversedBits, Transform::InvertedBits, Transform::Late(3)]
    {
        place.file(&format!("{transform:?}.bin"), transform.apply(&clean));
    }
    place.file("header.bin", [&[0; 16], clean.as_slice()].concat());
    place.file("turned.bin", [&clean[0x1000..], &clean[..0x1000]].concat());
    place.file("mailed.bin", clean.iter().map(|&byte| char::from(byte)).collect::<String>());
    place.file("listing.txt", "46 4B 43 52 38 03 20 00\n".repeat(1024));
    place.file("tail.bin", [&clean[..0x7C3], &vec![0xFF; 8192 - 0x7C3]].concat());
    for n in 1..=3_u8 {
        place.file(&format!("vote{n}.bin"), with(&clean, &[(0x300, n)]));
    }
    place.file("scattered.bin", with(&noise(1), &[(7, 0x11), (300, 0x82), (600, 0x24)]));
    place.file("quarter.bin", [&noise(1)[..768], &noise(77)[768..]].concat());
    place.file("old.bin", noise(77));
    let mut wrapped = noise(77);
    for (n, &byte) in noise(1).iter().enumerate() {
        wrapped[n / 64 * 64 + n % 32] = byte;
    }
    place.file("wrapped.bin", wrapped);
    place.file("one-bit.bin", with(&noise(1), &[(0x155, 0x10)]));
    place.file("reserved.bin", with(&clean, &[(5, 0x07)]));
    place.file("undescribed.bin", [ODD, b"!"].concat().as_slice());
    place.file("undescribed-before.bin", [ODD, b"?"].concat().as_slice());
    place.file("flips.bin", with(&noise(1), &[(7, 1), (300, 2), (600, 4), (901, 8)]));
    let hex = String::from_utf8(sample("unit7.hex")).unwrap();
    place.file("loose.hex", hex.to_lowercase());
    let starts = ":0400000500000100F6\n:0400000500000200F5\n:00000001FF";
    place.file("starts.hex", hex.replace(":00000001FF", starts));
    let records = String::from_utf8(sample("unit7.s19")).unwrap();
    let open: Vec<&str> = records.lines().filter(|l| !l.starts_with("S9") && !l.starts_with("S5")).collect();
    place.file("open.s19", format!("{}\n", open.join("\n")));
    for name in ["kept.bin", "gone.bin"] {
        place.file(name, noise(1));
    }
    for words in [
        vec!["docket", "new", "job.ron", "--job", "cold store 3"],
        vec!["docket", "image", "job.ron", "kept.bin", "--as", "read 1"],
        vec!["docket", "image", "job.ron", "gone.bin", "--as", "read 2"],
    ] {
        place.run(words).expect(0);
    }
    place.file("kept.bin", noise(2));
    fs::remove_file(place.path("gone.bin")).unwrap();
    let docket = fs::read_to_string(place.path("job.ron")).unwrap();
    place.file("damaged.ron", docket.replacen("sha256:", "sha: 256", 1));
    place
}

/// For each code a use of the program that gives it; `samples/` and the files of [`place`].
const PRODUCES: &[(Code, &str)] = &[
    (Code::WrongSize, "vet samples/unit7-wrong-size.bin --chip 24C64"),
    (Code::WrongSize, "vet samples/unit7-read1.bin --chip 24C256"),
    (Code::WrongSize, "vet letter.txt"),
    (Code::WrongSize, "show samples/unit7-wrong-size.bin"),
    (Code::WrongSize, "vet samples/unit7-wrong-size.bin --must-equal samples/unit7-read1.bin"),
    (Code::Blank, "vet blank.bin"),
    (Code::Repeats, "vet samples/unit7-wrong-size.bin"),
    (Code::AddressLine, "vet line.bin"),
    (Code::DataBit, "vet bit.bin"),
    (Code::BytesSwapped, "vet SwappedBytes.bin"),
    (Code::BitsReversed, "vet ReversedBits.bin"),
    (Code::BitsInverted, "vet InvertedBits.bin"),
    (Code::BitsShifted, "vet Late(3).bin"),
    (Code::Displaced, "vet header.bin"),
    (Code::Displaced, "vet turned.bin"),
    (Code::TakenForText, "vet mailed.bin"),
    (Code::TextFile, "vet listing.txt"),
    (Code::TailLost, "vet tail.bin"),
    (Code::OneRead, "vet samples/unit7-read1.bin"),
    (Code::ReadsDisagree, "vet samples/unit7-read1.bin samples/unit7-read3-poor.bin"),
    (Code::ReadsDisagree, "vet samples/unit7-read1.bin samples/unit7-read2.bin samples/unit7-read3-poor.bin"),
    (Code::ReadsDisagree, "vet vote1.bin vote2.bin vote3.bin"),
    (Code::ReadsDisagree, "vet samples/unit7-read1.bin noise.bin"),
    (Code::GoodReadsDiffer, "vet samples/unit7-read1.bin samples/unit9.bin"),
    (Code::GoodReadsDiffer, "vet samples/unit7-read1.bin samples/unit7-serviced.bin"),
    (Code::NoMajority, "vet vote1.bin vote2.bin vote3.bin --majority most.bin"),
    (Code::NoLayout, "show noise.bin"),
    (Code::NoLayout, "vet noise.bin"),
    (Code::NoLayout, "audit noise.bin flips.bin"),
    (Code::LayoutTie, "show odd.bin --layouts tie"),
    (Code::LayoutTie, "vet odd.bin --layouts tie"),
    (Code::LayoutUnfit, "show noise.bin --layout odd.ron"),
    (Code::LayoutUnfit, "vet noise.bin --layout odd.ron"),
    (Code::LayoutLeftOut, "show samples/unit7-read1.bin --layouts slips"),
    (Code::FieldOdd, "show odd.bin --layout odd.ron"),
    (Code::FieldAbsent, "show odd.bin --layout odd.ron"),
    (Code::PatternUnmet, "show odd.bin --layout odd.ron"),
    (Code::OutOfRange, "show odd.bin --layout odd.ron"),
    (Code::CopiesDiffer, "show odd.bin --layout odd.ron"),
    (Code::ReservedUsed, "show odd.bin --layout odd.ron"),
    (Code::LimitReached, "show noise.bin --layout endless.ron"),
    (Code::CheckBroken, "show samples/unit7-broken-check.bin"),
    (Code::CheckBroken, "audit samples/unit7-read1.bin samples/unit7-broken-check.bin"),
    (Code::CheckBroken, "amend samples/unit7-read1.bin --set setpoint=3.5 --dry-run"),
    (Code::CheckUnreadable, "show odd.bin --layout odd.ron"),
    (Code::ExpectMet, "vet samples/unit7-read1.bin --expect part_number=FK-CR8-2047B"),
    (Code::ExpectMet, "vet samples/unit7-read1.bin --layout none --expect part_number=FK-CR8-2047B"),
    (Code::ExpectDiffers, "vet samples/unit7-part-off.bin --expect part_number=FK-CR8-2047B"),
    (Code::ExpectDiffers, "vet noise.bin --expect part_number=FK-CR8-2047B"),
    (Code::NearMiss, "find samples/unit7-part-off.bin FK-CR8-2047B"),
    (Code::NotFound, "find noise.bin FK-CR8-2047B"),
    (Code::ShortText, "find samples/unit7-read1.bin 47"),
    (Code::WrittenExactly, "vet samples/unit7-read1.bin --must-equal samples/unit7-read2.bin"),
    (Code::WriteDiffers, "vet scattered.bin --must-equal noise.bin"),
    (Code::WriteProtected, "vet quarter.bin --must-equal noise.bin --before old.bin"),
    (Code::PageWrap, "vet wrapped.bin --must-equal noise.bin --before old.bin"),
    (Code::BitLost, "vet one-bit.bin --must-equal noise.bin"),
    (Code::OldContents, "vet old.bin --must-equal noise.bin --before old.bin"),
    (Code::SizeChanged, "audit samples/unit7-read1.bin samples/unit7-wrong-size.bin"),
    (Code::OtherUnit, "audit samples/unit7-read1.bin samples/unit7-returned.bin"),
    (Code::OtherUnit, "audit noise.bin old.bin"),
    (
        Code::OtherUnit,
        "amend samples/unit7-read1.bin --copy serial,calibration --from samples/unit9.bin --dry-run",
    ),
    (
        Code::OtherUnit,
        "amend samples/unit7-read1.bin --bytes 0x50=22 --bytes 0x51=08 --bytes 0x80=0102 --dry-run",
    ),
    (Code::IdentityChanged, "audit samples/unit7-read1.bin samples/unit7-part-off.bin"),
    (Code::CalibrationChanged, "audit samples/unit7-read1.bin samples/unit7-returned.bin"),
    (Code::ReservedChanged, "audit samples/unit7-read1.bin reserved.bin"),
    (Code::UndescribedChanged, "audit undescribed-before.bin undescribed.bin --layout odd.ron"),
    (Code::ResealedOverIdentity, "audit samples/unit7-read1.bin samples/unit7-returned.bin"),
    (Code::ResealedOverBroken, "amend samples/unit7-broken-check.bin --reseal --dry-run"),
    (Code::ResealedOverBroken, "amend samples/unit7-read3-poor.bin --reseal --dry-run"),
    (Code::LayoutUnfit, "audit samples/unit7-read1.bin noise.bin"),
    (
        Code::CheckBroken,
        "amend samples/unit7-read1.bin --copy all-settings --from samples/unit7-broken-check.bin --reseal --dry-run",
    ),
    (Code::Blank, "vet blank.bin --must-equal blank-too.bin"),
    (
        Code::OldContents,
        "vet samples/unit7-read1.bin --must-equal samples/unit7-read2.bin --before samples/unit7-read2.bin",
    ),
    (Code::NearMiss, "find samples/unit7-read1.bin FK-CR8-2047"),
    (Code::RecordsFilled, "audit samples/unit7-serviced.bin samples/unit7-read1.bin"),
    (Code::RecordsRested, "audit samples/unit7-read1.bin samples/unit7-serviced.bin"),
    (Code::LooksLikeReadFault, "audit noise.bin flips.bin"),
    (Code::TextChanged, "audit samples/unit7-read1.bin samples/unit7-part-off.bin --layout none"),
    (Code::RecordDiffers, "docket check job.ron"),
    (Code::RecordMissing, "docket check job.ron"),
    (Code::DocketDamaged, "docket check damaged.ron"),
    (Code::LooseRecords, "show loose.hex"),
    (Code::NoEndRecord, "show open.s19"),
    (Code::SecondStartAddress, "show starts.hex"),
    (Code::NotCarried, "convert samples/unit7.s19 plain.bin"),
];

#[test]
fn every_code_comes_out_and_says_what_was_seen_why_and_what_to_do() {
    let place = place();
    let mut produced: BTreeMap<Code, usize> = Code::ALL.iter().map(|code| (*code, 0)).collect();
    let mut slips = Vec::new();
    for (code, line) in PRODUCES {
        let told = place.run(line.split(' ').chain(["--json"]));
        assert!(told.status() < 2, "{told}");
        let findings = told.json()["findings"].as_array().cloned().unwrap_or_default();
        let codes: Vec<_> = findings.iter().map(|f| f["code"].to_string()).collect();
        if !findings.iter().any(|f| f["code"] == code.word()) {
            slips.push(format!("{line}: {} does not come out, but {}", code.word(), codes.join(" ")));
        }
        slips.extend(findings.iter().flat_map(|finding| slips_of(line, finding)));
        *produced.get_mut(code).unwrap() += 1;
    }
    assert!(slips.is_empty(), "{}", slips.join("\n"));
    let dead: Vec<&str> = produced.iter().filter(|(_, n)| **n == 0).map(|(code, _)| code.word()).collect();
    assert!(dead.is_empty(), "nothing shows that these can come out: {dead:?}");
}

/// In text each of the three ends in a full stop and stands under its word.
#[test]
fn a_finding_in_text_is_three_sentences() {
    let told = run(["vet", "samples/unit7-read1.bin", "samples/unit7-read3-poor.bin"]).expect(1);
    for block in told.out().split("\n\n").filter(|b| b.starts_with("fault") || b.starts_with("doubt")) {
        let (_, said) = block.split_once("  Seen:").unwrap_or_else(|| panic!("{block}"));
        for part in said.split("  Means:").flat_map(|part| part.split("  Do:")) {
            assert!(part.trim_end().ends_with('.'), "{block}");
        }
    }
}

/// What is wrong with the words of a finding.
fn slips_of(line: &str, finding: &serde_json::Value) -> Vec<String> {
    let text = |key: &str| finding[key].as_str().unwrap_or_default().to_owned();
    let (seen, means, todo) = (text("seen"), text("means"), text("do"));
    let mut slips = Vec::new();
    let mut slip = |what: &str| slips.push(format!("{line}: {what}\n{finding:#}"));
    for said in [&seen, &means, &todo] {
        if said.is_empty() || said.ends_with('.') || said.contains("0X") || said.contains("  ") {
            slip("each part is a sentence without its full stop");
        }
    }
    let has_number = seen.contains(|c: char| c.is_ascii_digit()) || seen.contains("one read");
    let is_of_all = ["no-layout", "layout-unfit"].contains(&finding["code"].as_str().unwrap_or_default());
    let is_concrete = has_number || seen.contains(['"', ':']) || !finding["at"].is_null() || is_of_all;
    if !is_concrete && finding["weight"] != "note" {
        slip("what was seen has no number, name or place");
    }
    if !is_an_act(&todo) {
        slip("what to do begins with an act");
    }
    for command in commands(&todo) {
        if let Err(why) = parsed(&command) {
            slip(&why);
        }
        if NAMES.iter().any(|(name, _)| command.split(' ').any(|word| word == *name)) {
            slip("a file has its name in a command");
        }
    }
    slips
}

/// What is done at the bench, or with the program.
const ACTS: &[&str] = &[
    "ask", "bring", "check", "clean", "compare", "do", "find", "give", "keep", "leave", "look", "name",
    "press", "put", "read", "remove", "reseal", "reseat", "restore", "save", "say", "search", "select",
    "set", "take", "trust", "use", "write", "choose", "mend", "get", "go", "replace",
];

fn is_an_act(todo: &str) -> bool {
    let first = todo.split([' ', ',']).next().unwrap_or_default().to_lowercase();
    ACTS.contains(&first.as_str())
}

/// What stands between backticks and begins with the program's name.
fn commands(text: &str) -> Vec<String> {
    let quoted = text.split('`').skip(1).step_by(2);
    quoted.filter(|command| command.starts_with("readproof ")).map(str::to_owned).collect()
}

/// The program's own parser takes it.
fn parsed(command: &str) -> Result<(), String> {
    cli::parses(words(command).into_iter().map(OsString::from)).map_err(|why| format!("{command}: {why}"))
}

/// As a shell takes a line apart that has no more than single quotes.
fn words(line: &str) -> Vec<String> {
    let (mut words, mut quoted) = (vec![String::new()], false);
    for c in line.chars() {
        match c {
            '\'' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            c => words.last_mut().unwrap().push(c),
        }
    }
    words
}

#[test]
fn the_commands_that_look_for_a_layout_are_those_that_take_its_options() {
    let help = run(["--help"]).expect(0);
    let list = help.out().split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap().to_owned();
    let mut by_layout: Vec<&str> = list
        .lines()
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help" && run([*c, "--help"]).out().contains("--layout <LAYOUT>"))
        .filter(|c| run([*c, "--help"]).out().contains("--layouts <FOLDER>"))
        .collect();
    let mut known = BY_LAYOUT.to_vec();
    by_layout.sort_unstable();
    known.sort_unstable();
    assert_eq!(by_layout, known);
}
