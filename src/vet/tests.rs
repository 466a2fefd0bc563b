//! Verdicts on reads of a memory as real ones are.

use super::*;

/// A memory as real ones are: text, numbers, fill.
pub(super) fn memory() -> Vec<u8> {
    let mut bytes = vec![0xFF; 1024];
    let mut put = |at: usize, what: &[u8]| bytes[at..at + what.len()].copy_from_slice(what);
    put(0, b"FKCR8\x03\x02\x20");
    put(0x40, b"FK-CR8-2047B    ");
    put(0x50, &[0x22, 0x07, 0x14, 0x03, 0x12, 0x01, 0x20, 0x22]);
    put(0x60, b"COLD ROOM CTRL  ");
    put(
        0x80,
        &[0xFF, 0xF4, 0x00, 0x08, 0x00, 0x1F, 0xFF, 0xD1, 0x27, 0x1D, 0x27, 0x03, 0x27, 0x3A, 0x26, 0xE6],
    );
    put(0x100, &[0, 0x14, 0, 0x0F, 0, 0x3C, 0xFF, 0xF6, 0, 0x1E, 3, 2, 2, 0x53, 6, 0x72, 0, 0x28, 0, 0xB4]);
    put(0x140, b"Cold store 3            ");
    for row in 0..20_u8 {
        let r = usize::from(row);
        put(
            0x200 + r * 16,
            &[0, row + 1, 1 + row % 7, row % 5, 0x63, 0x81 + row, (r * 83) as u8, (r * 29 + 7) as u8],
        );
    }
    bytes
}

fn codes(bytes: Vec<u8>) -> Vec<Code> {
    let image = Image::raw(bytes);
    let report = vet(&[&image], &Ask::default());
    report.findings.iter().filter(|f| f.weight > Weight::Note).map(|f| f.code).collect()
}

#[test]
fn a_clean_read_is_sound_and_says_that_one_read_is_little() {
    let image = Image::raw(memory());
    let report = vet(&[&image], &Ask::default());
    assert_eq!(report.verdict, Verdict::Sound, "{report:?}");
    assert!(report.sentence.starts_with("sound: as far as one read of 1024 bytes can show"));
    assert!(report.findings.iter().any(|f| f.code == Code::OneRead));
    let two = vet(&[&image, &image], &Ask::default());
    assert_eq!(two.verdict, Verdict::Sound);
    assert!(two.sentence.starts_with("sound: 2 equal reads of 1024 bytes"), "{}", two.sentence);
    assert!(two.findings.iter().all(|f| f.code != Code::OneRead));
}

#[test]
fn each_fault_of_one_read_is_named_and_nothing_else() {
    let memory = memory();
    let through = |f: &dyn Fn(usize) -> usize| (0..1024).map(|i| memory[f(i)]).collect::<Vec<u8>>();
    assert_eq!(codes(vec![0xFF; 1024]), [Code::Blank]);
    assert_eq!(codes(memory.repeat(2)), [Code::Repeats]);
    assert_eq!(codes(through(&|i| i & !8)), [Code::AddressLine]);
    assert_eq!(codes(through(&|i| i | 64)), [Code::AddressLine]);
    assert_eq!(codes(memory.iter().map(|b| b & !4).collect()), [Code::DataBit]);
    assert_eq!(codes(memory.iter().map(|b| b | 32).collect()), [Code::DataBit]);
    assert_eq!(codes(Transform::ReversedBits.apply(&memory)), [Code::BitsReversed]);
    assert_eq!(codes(Transform::InvertedBits.apply(&memory)), [Code::BitsInverted]);
    assert_eq!(codes(Transform::Late(3).apply(&memory)), [Code::BitsShifted]);
    assert_eq!(codes(Transform::Early(6).apply(&memory)), [Code::BitsShifted]);
    let mut lost = memory;
    lost[777..].fill(0x00);
    assert_eq!(codes(lost), [Code::TailLost]);
}

#[test]
fn an_outvoted_read_is_told_of_once_and_not_judged() {
    let good = Image::raw(memory());
    let mut poor = memory();
    poor[0x100..0x110].iter_mut().for_each(|b| *b ^= 0x55);
    let poor = Image::raw(poor);
    let report = vet(&[&poor, &good, &good], &Ask::default());
    assert_eq!((report.verdict, report.judged_read), (Verdict::Doubtful, 1));
    let told: Vec<_> = report.findings.iter().filter(|f| f.weight > Weight::Note).map(|f| f.code).collect();
    assert_eq!(told, [Code::ReadsDisagree]);
}

#[test]
fn a_chip_of_another_size_and_an_empty_read_are_faults() {
    let image = Image::raw(memory());
    let report = vet(&[&image], &Ask { chip: crate::chip::by_name("24C16"), ..Ask::default() });
    assert_eq!(report.findings[0].code, Code::WrongSize);
    assert_eq!(report.verdict, Verdict::Unsound);
    assert_eq!(codes(Vec::new()), [Code::Blank]);
    assert_eq!(vet(&[], &Ask::default()).findings, []);
}

#[test]
fn without_a_layout_what_is_expected_is_searched_for() {
    let image = Image::raw(memory());
    let expect = |value: &str| [Expectation { field: "part_number".to_owned(), value: value.to_owned() }];
    let met = expect("FK-CR8-2047B");
    let report = vet(&[&image], &Ask { expect: &met, ..Ask::default() });
    assert!(report.expected[0].equal && report.verdict == Verdict::Sound);
    let off = expect("FK-CR8-2O47B");
    let report = vet(&[&image], &Ask { expect: &off, ..Ask::default() });
    assert_eq!((report.verdict, report.expected[0].equal), (Verdict::Unsound, false));
    assert_eq!(report.expected[0].differs[0].place, 9);
    assert!(report.sentence.contains("character 9 is the digit 0, not the letter O"), "{}", report.sentence);
    let verdict = |held: &[u8]| {
        let mut bytes = vec![0xFF; 64];
        bytes[20..20 + held.len()].copy_from_slice(held);
        let report = vet(&[&Image::raw(bytes)], &Ask { expect: &met, ..Ask::default() });
        (report.verdict, report.expected[0].equal)
    };
    assert_eq!(verdict(b"FK-CR8-2047B"), (Verdict::Sound, true));
    for otherwise in
        [&b"FK-CR8-2047BA"[..], b"1FK-CR8-2047B", b"fk-cr8-2047b", b"FKCR82047B", b"FK CR8 2047B"]
    {
        assert_eq!(verdict(otherwise), (Verdict::Doubtful, false), "{otherwise:?}");
    }
    let twice = verdict(b"FK-CR8-2047B\0FK-CR8-2O47B");
    assert_eq!(twice, (Verdict::Doubtful, true), "and something like it in another place");
    let absent = expect("ZZ-999-QQQQQ");
    assert_eq!(vet(&[&image], &Ask { expect: &absent, ..Ask::default() }).verdict, Verdict::Doubtful);
}

#[test]
fn a_named_layout_that_does_not_fit_leaves_a_doubt_and_those_that_fit_alike_are_told() {
    let marked = |mark: &str| {
        let text = format!(
            r#"(layout: "{mark}", format: 1, source: "invented for the tests", order: Big,
                fits: (bytes: [1024], marks: [(at: 0, text: "{mark}")]),
                fields: [(name: "mark", at: 0, kind: Text(bytes: 5))])"#
        );
        crate::layout::read(&text).unwrap()
    };
    let image = Image::raw(memory());
    let told = |layouts: &[Layout], named| {
        let report = vet(&[&image, &image], &Ask { layouts, named, ..Ask::default() });
        let is_unfit = report.findings.iter().any(|f| f.code == Code::LayoutUnfit);
        (report.verdict, is_unfit, report.layout.unwrap().as_good)
    };
    assert_eq!(told(&[marked("FKCR8")], true), (Verdict::Sound, false, vec![]));
    assert_eq!(told(&[marked("OTHER")], true), (Verdict::Doubtful, true, vec![]));
    assert_eq!(told(&[marked("FKCR8"), marked("FKCR8")], false), (Verdict::Sound, false, vec![1]));
    // One that says nothing of its images cannot be found unfit.
    let text = r#"(layout: "any", format: 1, source: "invented for the tests",
        fields: [(name: "mark", at: 0, kind: Text(bytes: 5))])"#;
    assert_eq!(told(&[crate::layout::read(text).unwrap()], true), (Verdict::Sound, false, vec![]));
}

#[test]
fn what_no_search_can_find_is_not_said_to_be_missing() {
    let image = Image::raw(memory());
    let expect = [Expectation { field: "name".to_owned(), value: "Kälte".to_owned() }];
    let report = vet(&[&image], &Ask { expect: &expect, ..Ask::default() });
    assert_eq!((report.verdict, report.expected[0].equal), (Verdict::Doubtful, false));
    assert!(report.sentence.contains("was not looked for"), "{}", report.sentence);
}

#[test]
fn what_is_added_from_elsewhere_counts_in_verdict_and_sentence() {
    let image = Image::raw(memory());
    let mut report = vet(&[&image, &image], &Ask::default());
    let of = |weight| Finding::new(weight, Code::LooseRecords, "the file is odd", "", "");
    report.add([of(Weight::Note)]);
    assert_eq!(report.verdict, Verdict::Sound);
    report.add([of(Weight::Doubt), of(Weight::Doubt)]);
    assert_eq!(report.sentence, "doubtful: the file is odd; and 1 more finding");
}

#[test]
fn no_bytes_make_it_panic() {
    let mut state = 7_u32;
    for len in [1, 2, 3, 7, 8, 9, 31, 64, 100, 255, 256, 257] {
        for kind in 0..4 {
            let bytes: Vec<u8> = (0..len)
                .map(|i| {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    match kind {
                        0 => (state >> 24) as u8,
                        1 => (state >> 31) as u8 * 0xFF,
                        2 => b'A' + (i % 7) as u8,
                        _ => 0xFF << (i % 8),
                    }
                })
                .collect();
            let (a, b) = (Image::raw(bytes.clone()), Image::with_gaps(3, bytes, Vec::new()));
            for reads in [vec![&a], vec![&a, &b], vec![&a, &b, &a]] {
                let report = vet(&reads, &Ask::default());
                assert!(!report.sentence.is_empty());
            }
        }
    }
}

/// A serial, hours and a setting under a CRC-16 over all before it.
fn sealed(serial: u8, hours: u8) -> Vec<u8> {
    let mut bytes = vec![b'R', b'P', serial, hours, 20, 0xA5, 0x5A, 0x11];
    let crc = crate::check::by_name("CRC-16/XMODEM").unwrap().compute([bytes.as_slice()]);
    bytes.extend((crc as u16).to_be_bytes());
    bytes
}

#[test]
fn reads_that_differ_and_are_each_sealed_hold_different_contents_and_no_contact_is_blamed() {
    let layout = crate::layout::read(
        r#"(layout: "Small", format: 1, source: "invented for the tests", order: Big,
            fits: (bytes: [10], marks: [(at: 0, text: "RP")]),
            fields: [
                (name: "mark", at: 0, kind: Text(bytes: 2), role: Reserved),
                (name: "serial", at: 2, kind: Int(bits: 8), role: Identity),
                (name: "hours", at: 3, kind: Int(bits: 8), role: Record),
                (name: "setpoint", at: 4, kind: Int(bits: 8), role: Setting),
                (name: "spare", at: 5, kind: Bytes(bytes: 3), role: Filler),
            ],
            checks: [(name: "whole", over: [(0, 8)], stored: (at: 8, bytes: 2), by: "CRC-16/XMODEM")])"#,
    )
    .unwrap();
    let layouts = [layout];
    let told = |reads: &[Vec<u8>]| {
        let images: Vec<Image> = reads.iter().cloned().map(Image::raw).collect();
        let images: Vec<&Image> = images.iter().collect();
        let report = vet(&images, &Ask { layouts: &layouts, ..Ask::default() });
        let findings = report.findings.into_iter().filter(|f| f.weight > Weight::Note);
        findings.map(|f| (f.code, f.weight, f.seen, f.means)).collect::<Vec<_>>()
    };
    let another_unit = told(&[sealed(7, 40), sealed(9, 40)]);
    let [(Code::GoodReadsDiffer, Weight::Fault, seen, means)] = another_unit.as_slice() else {
        panic!("{another_unit:?}")
    };
    assert_eq!(
        seen,
        "read 2 differs from read 1 in 3 bytes, and in both the check agrees; serial is 7 in read 1 and 9 in read 2"
    );
    assert!(means.contains("not of one unit"), "{means}");
    let later = told(&[sealed(7, 40), sealed(7, 41)]);
    let [(Code::GoodReadsDiffer, Weight::Fault, seen, means)] = later.as_slice() else { panic!("{later:?}") };
    assert!(seen.ends_with("; hours has another value"), "{seen}");
    assert!(means.contains("wrote to its memory in between"), "{means}");
    // What differs is Filler, which no field tells.
    let mut filled = sealed(7, 40);
    filled[5] = 0;
    let crc = crate::check::by_name("CRC-16/XMODEM").unwrap().compute([&filled[..8]]);
    filled[8..].copy_from_slice(&(crc as u16).to_be_bytes());
    let filled = told(&[sealed(7, 40), filled]);
    assert!(filled[0].2.ends_with(", and in both the check agrees"), "{filled:?}");
    // Outvoted, it is a doubt as any other read.
    let outvoted = told(&[sealed(7, 40), sealed(7, 40), sealed(9, 40)]);
    assert!(matches!(outvoted.as_slice(), [(Code::GoodReadsDiffer, Weight::Doubt, ..)]), "{outvoted:?}");
    // A disturbed read breaks its check, and is a disturbed read.
    let mut poor = sealed(9, 40);
    poor[6] ^= 0x10;
    let codes: Vec<Code> = told(&[sealed(7, 40), poor]).into_iter().map(|(code, ..)| code).collect();
    assert_eq!(codes, [Code::ReadsDisagree, Code::CheckBroken]);
    // A byte that no check covers proves nothing.
    let unsealed = |last: u8| [sealed(7, 40), vec![last; 6]].concat();
    let codes: Vec<Code> = told(&[unsealed(1), unsealed(2)]).into_iter().map(|(code, ..)| code).collect();
    assert!(codes.contains(&Code::ReadsDisagree) && !codes.contains(&Code::GoodReadsDiffer), "{codes:?}");
}
