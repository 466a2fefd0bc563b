//! Image files: round trips of every format, and every kind of problem of a record file with its place.

use proptest::prelude::*;

use super::records::MAX_SPAN;
use super::*;
use crate::finding::{Code, Finding};

/// The problems of a file as `line:column what`.
fn problems(format: Format, text: &str) -> Vec<String> {
    match read(format, text.as_bytes().to_vec()) {
        Ok((image, _)) => panic!("taken as {image:?}"),
        Err(rejected) => {
            rejected.problems.iter().map(|p| format!("{}:{} {}", p.line, p.column, p.what)).collect()
        }
    }
}

fn taken(format: Format, text: &str) -> (Image, Vec<Finding>) {
    read(format, text.as_bytes().to_vec()).unwrap_or_else(|r| panic!("{r:?}"))
}

#[track_caller]
fn one_problem(format: Format, text: &str, wanted: &str) {
    let told = problems(format, text);
    assert_eq!(told.len(), 1, "{told:#?}");
    assert!(told[0].starts_with(wanted), "wanted {wanted:?}, told {:?}", told[0]);
}

#[test]
fn each_problem_of_an_intel_hex_file_is_told_with_its_place() {
    let hex = |text: &str, wanted: &str| one_problem(Format::IntelHex, text, wanted);
    let end = ":00000001FF\n";
    hex(&format!(":0100000001FF\n{end}"), "1:12 the checksum is 0xFF, but the record's bytes give 0xFE");
    hex(&format!(":0100000100F\n{end}"), "1:13 the record ends after 11 digits, an odd number");
    hex(&format!(":02000000AAFE\n{end}"), "1:2 the count says 2 data bytes (0x02), the record has 1");
    hex(&format!(":01000006AA4F\n{end}"), "1:8 the record type is 06; the standard has 00 to 05");
    hex(&format!(":0100g000AA55\n{end}"), "1:6 \"g\" is no hexadecimal digit");
    hex(&format!("  :0100\u{7}000AA55\n{end}"), "1:8 the byte 0x07 is no hexadecimal digit");
    hex(&format!("\nx0100000001FE\n{end}"), "2:1 the line begins with \"x\"; a record begins with \":\"");
    hex(&format!(":000000\n:01000000AA55\n{end}"), "1:1 the record has 3 bytes; the shortest one has 5");
    hex(":01000000AA55\n", "1:14 the file ends without an end record");
    hex(&format!(":01000000AA55\n{end}:01000100AA54\n"), "3:1 there is more after the end record of line 2");
    hex(
        &format!(":02000000AABB99\n:01000100BB43\n{end}"),
        "2:4 0x0001..0x0002 is written again, with the same bytes; line 1 wrote it first",
    );
    hex(
        &format!(":01000004AA51\n:01000000AA55\n{end}"),
        "1:2 a record of type 04 has 2 data bytes, this one has 1",
    );
    hex(
        &format!(":020000021000EC\n:02FFFF00AABB9B\n{end}"),
        "2:4 2 bytes from 0xFFFF run past the end of their 64 KiB segment",
    );
    hex(
        &format!(":02000004FFFFFC\n:02FFFF00AABB9B\n{end}"),
        "2:4 2 bytes from 0xFFFFFFFF run past the last address",
    );
    hex(
        &format!(":01000000AA55\n:020000044000BA\n:01000000AA55\n{end}"),
        "3:4 from 0x0000 (line 1) to 0x40000001",
    );
    hex(end, "1:12 the file has no data record");
}

#[test]
fn each_problem_of_an_s_record_file_is_told_with_its_place() {
    let srec = |text: &str, wanted: &str| one_problem(Format::SRecord, text, wanted);
    let (data, end) = ("S1040000AA51\n", "S9030000FC\n");
    srec(&format!("S1040000AA50\n{end}"), "1:11 the checksum is 0x50, but the record's bytes give 0x51");
    srec(&format!("S1040000AA5\n{end}"), "1:12 the record ends after 9 digits, an odd number");
    srec(&format!("S1050000AA50\n{end}"), "1:3 the count says 5 bytes after it (0x05), the record has 4");
    srec(
        &format!("S4040000AA51\n{data}{end}"),
        "1:2 the record type is \"4\"; the standard has S0 to S3 and S5 to S9",
    );
    srec(&format!("SA040000AA51\n{data}{end}"), "1:2 the record type is \"A\"");
    srec(&format!("S104OO00AA51\n{data}{end}"), "1:5 \"O\" is no hexadecimal digit");
    srec(&format!("{data}S5030002FA\n{end}"), "2:5 the count is 2, but 1 data records stand before it");
    srec(&format!("{data}S604000002F9\n{end}"), "2:5 the count is 2, but 1 data records stand before it");
    srec(&format!("{data}{end}{data}"), "3:1 there is more after the end record of line 2");
    srec(
        &format!("{data}S1040000BB40\n{end}"),
        "2:5 0x0000..0x0001 is written again, with other bytes; line 1",
    );
    srec(&format!("{data}S9040000AA51\n"), "2:3 an S9 record has no data bytes, this one has 1");
    srec(&format!("{data}S10300\n{end}"), "2:1 the record has 2 bytes; the shortest S1 record has 4");
    srec(&format!("S105FFFFAABB97\n{end}"), "1:5 2 bytes from 0xFFFF run past the last address of S1");
    srec(&format!("{data}:00000001FF\n{end}"), "2:1 the line begins with \":\"; a record begins with \"S\"");
    srec(end, "1:11 the file has no data record");
}

#[test]
fn all_problems_are_told_at_once_and_very_many_are_counted() {
    let text = ":0100000001FF\n:01000006AA4F\n:02000000AABB99\n:01000100BB43\n";
    let told = problems(Format::IntelHex, text);
    let places: Vec<&str> = told.iter().map(|p| p.split(' ').next().unwrap()).collect();
    assert_eq!(places, ["1:12", "2:8", "4:4", "4:14"]);
    let rejected = read(Format::IntelHex, ":x\n".repeat(80).into_bytes()).unwrap_err();
    assert_eq!((rejected.problems.len(), rejected.more), (50, 31));
}

#[test]
fn loose_writing_is_remarked_and_read_all_the_same() {
    let (image, remarks) = taken(Format::IntelHex, "\u{feff}\r\n :01000000aa55\r\n:00000001FF");
    assert_eq!(image.bytes(), [0xAA]);
    let codes: Vec<Code> = remarks.iter().map(|r| r.code).collect();
    assert_eq!(codes, [Code::LooseRecords]);
    for said in ["byte order mark", "a blank line", "spaces", "lower-case", "no line end"] {
        assert!(remarks[0].seen.contains(said), "{said}: {}", remarks[0].seen);
    }
    let (_, remarks) = taken(Format::IntelHex, ":01000000AA55\r\n:00000001FF\r\n");
    assert!(remarks.is_empty(), "CR LF is ordinary: {remarks:?}");
    let (_, remarks) = taken(Format::SRecord, "S1040000AA51\rS9030000FC\r\u{1a}\u{1a}\u{1a}");
    assert!(remarks[0].seen.contains("CR alone") && remarks[0].seen.contains("1A"), "{remarks:?}");
}

#[test]
fn a_bad_s_record_is_told_once_and_not_again_by_the_count() {
    let bad = "S1050000010203\nS105000203040C\nS10500040506EB\nS5030003F9\nS9030000FC\n";
    let problems = srec::read(bad.as_bytes()).unwrap_err().problems;
    assert_eq!(problems.iter().map(|p| p.line).collect::<Vec<_>>(), [1, 2], "{problems:?}");
    // A count that is wrong besides is told.
    let problems = srec::read(bad.replace("S5030003F9", "S5030004F8").as_bytes()).unwrap_err().problems;
    assert_eq!(problems.iter().map(|p| p.line).collect::<Vec<_>>(), [1, 2, 4], "{problems:?}");
}

#[test]
fn a_missing_end_of_an_s_record_file_is_doubtful_unless_the_count_agrees() {
    use crate::finding::Weight;
    let weight =
        |text: &str| taken(Format::SRecord, text).1.iter().map(|r| (r.code, r.weight)).collect::<Vec<_>>();
    assert_eq!(weight("S1040000AA51\n"), [(Code::NoEndRecord, Weight::Doubt)]);
    assert_eq!(weight("S1040000AA51\nS5030001FB\n"), [(Code::NoEndRecord, Weight::Note)]);
    assert_eq!(weight("S1040000AA51\nS5030001FB\nS1040001BB3F\n"), [(Code::NoEndRecord, Weight::Doubt)]);
}

#[test]
fn a_second_start_address_is_doubtful_and_the_last_one_is_kept() {
    let text = ":01000000AA55\n:0400000300003800C1\n:04000005000000CD2A\n:00000001FF\n";
    let (image, remarks) = taken(Format::IntelHex, text);
    assert_eq!(image.start, Some(StartAddress::Linear(0xCD)));
    assert_eq!(remarks.iter().map(|r| r.code).collect::<Vec<_>>(), [Code::SecondStartAddress]);
}

#[test]
fn gaps_and_the_base_address_come_from_the_records() {
    let (image, _) = taken(Format::IntelHex, ":02100000AABB89\n:01100400CC1F\n:00000001FF\n");
    assert_eq!((image.base(), image.len(), image.gaps()), (0x1000, 5, &[Span::new(2, 4)][..]));
    assert_eq!(image.bytes(), [0xAA, 0xBB, GAP_FILL, GAP_FILL, 0xCC]);
}

#[test]
fn formats_are_told_by_content() {
    let format = |text: &str| Format::recognise(text.as_bytes());
    assert_eq!(format(":00000001FF\n"), Format::IntelHex);
    assert_eq!(format("\u{feff}\r\n\r\n:00000001ff\r\n"), Format::IntelHex);
    assert_eq!(format("S9030000FC"), Format::SRecord);
    assert_eq!(format("s00600004844521b\rs9030000fc"), Format::SRecord);
    assert_eq!(format(":00000001FF\r\n\u{1a}\u{1a}\u{1a}"), Format::IntelHex);
    // One damaged line of two is a damaged record file, not a raw image of text.
    assert_eq!(format(":00000001FF\n\u{1b}junk"), Format::IntelHex);
    assert_eq!(format(""), Format::Raw);
    assert_eq!(format("SN00123456"), Format::Raw);
    assert_eq!(format("some text\n:00000001FF\nmore text\n"), Format::Raw);
    assert_eq!(Format::recognise(&[0xFF; 64]), Format::Raw);
    assert_eq!(Format::recognise(b":\x00\x01\x02"), Format::Raw);
    assert_eq!(Format::of_ending("S19"), Some(Format::SRecord));
    assert_eq!(Format::of_ending("txt"), None);
}

#[test]
fn a_raw_file_leaves_nothing_out_unasked() {
    let image = Image::with_gaps(0x10, vec![1, 0xFF, 0xFF, 2], vec![Span::new(1, 3)]);
    let refused = write(&image, Format::Raw, Writing::default()).unwrap_err();
    assert!(refused.what.contains("2 bytes that are not mapped (the first at 0x0011)"), "{refused:?}");
    let (bytes, lost) = write(&image, Format::Raw, Writing { fill: Some(0), ..Writing::default() }).unwrap();
    assert_eq!(bytes.as_ref(), [1, 0, 0, 2]);
    assert!(lost.iter().any(|l| l.code == Code::NotCarried && l.seen.contains("0x0010")), "{lost:?}");
}

#[test]
fn addresses_that_a_format_cannot_hold_are_refused() {
    let high = Image::with_gaps(0xFFFF_FFFF, vec![1, 2], Vec::new());
    for format in [Format::IntelHex, Format::SRecord] {
        assert!(write(&high, format, Writing::default()).is_err());
        let last = Image::with_gaps(0xFFFF_FFFE, vec![1, 2], Vec::new());
        let (file, _) = write(&last, format, Writing::default()).unwrap();
        assert_eq!(read(format, file.into_owned()).unwrap().0.base(), 0xFFFF_FFFE);
    }
}

#[test]
fn s_records_take_the_narrowest_type_that_reaches_all_addresses() {
    let first = |base: u64, start| {
        let mut image = Image::with_gaps(base, vec![0xAA], Vec::new());
        image.start = start;
        let (file, _) = write(&image, Format::SRecord, Writing::default()).unwrap();
        String::from_utf8(file.into_owned()).unwrap()
    };
    assert_eq!(first(0xFFFF, None), "S104FFFFAA53\nS5030001FB\nS9030000FC\n");
    assert!(first(0x1_0000, None).starts_with("S205010000AA"));
    assert!(first(0x100_0000, None).starts_with("S30601000000AA"));
    assert!(first(0, Some(StartAddress::Linear(0x1_0000))).starts_with("S205000000AA"));
}

/// Any image with gaps, and a start address of any kind.
fn any_image() -> impl Strategy<Value = Image> {
    let base = prop_oneof![Just(0u64), 0u64..0x2_0000, 0xFFF0u64..0x1_0010, 0u64..0xFFFF_0000];
    let pieces = prop::collection::vec((1usize..400, prop::collection::vec(any::<u8>(), 1..300)), 1..6);
    let start = prop_oneof![
        Just(None),
        (1u32..).prop_map(|a| Some(StartAddress::Linear(a))),
        any::<(u16, u16)>().prop_map(|(cs, ip)| Some(StartAddress::Segment(cs, ip))),
    ];
    (base, pieces, start).prop_map(|(base, pieces, start)| {
        let (mut bytes, mut gaps) = (Vec::new(), Vec::new());
        for (gap, data) in pieces {
            if !bytes.is_empty() {
                gaps.push(Span::of(bytes.len(), gap));
                bytes.resize(bytes.len() + gap, GAP_FILL);
            }
            bytes.extend(data);
        }
        let mut image = Image::with_gaps(base, bytes, gaps);
        image.start = start;
        image
    })
}

fn same(a: &Image, b: &Image) -> bool {
    (a.base(), a.bytes(), a.gaps()) == (b.base(), b.bytes(), b.gaps())
}

proptest! {
    #[test]
    fn intel_hex_keeps_bytes_gaps_base_and_start(image in any_image(), record_bytes in 1u8..) {
        let (file, _) = write(&image, Format::IntelHex, Writing { record_bytes, fill: None }).unwrap();
        prop_assert_eq!(Format::recognise(&file), Format::IntelHex);
        let (back, remarks) = read(Format::IntelHex, file.into_owned()).unwrap();
        prop_assert!(same(&image, &back) && remarks.is_empty(), "{:?}", remarks);
        prop_assert_eq!(image.start, back.start);
    }

    #[test]
    fn s_records_keep_bytes_gaps_base_start_and_header(
        image in any_image(), record_bytes in 1u8.., header in prop::option::of(prop::collection::vec(any::<u8>(), 0..40)),
    ) {
        let mut image = image;
        image.header = header;
        let (file, lost) = write(&image, Format::SRecord, Writing { record_bytes, fill: None }).unwrap();
        prop_assert_eq!(Format::recognise(&file), Format::SRecord);
        let (back, remarks) = read(Format::SRecord, file.into_owned()).unwrap();
        prop_assert!(same(&image, &back) && remarks.is_empty(), "{:?}", remarks);
        prop_assert_eq!(&image.header, &back.header);
        prop_assert_eq!(lost.is_empty(), image.start == back.start, "{:?}", lost);
    }

    #[test]
    fn every_format_is_told_by_its_content_and_gives_back_the_bytes_and_says_what_it_cannot_hold(image in any_image()) {
        for format in Format::ALL {
            let writing = Writing { fill: Some(GAP_FILL), ..Writing::default() };
            let (file, lost) = write(&image, format, writing).unwrap();
            prop_assert_eq!(Format::recognise(&file), format);
            let (back, _) = read(format, file.into_owned()).unwrap();
            prop_assert_eq!(image.bytes(), back.bytes());
            let is_whole = image.base() == back.base() && image.start == back.start && image.header == back.header;
            prop_assert!(is_whole || !lost.is_empty(), "{}", format.name());
        }
    }

    #[test]
    fn any_bytes_are_read_or_refused_without_a_panic(
        text in prop_oneof![
            prop::collection::vec(any::<u8>(), 0..200),
            "([:S][0-9A-Fa-f]{0,24}[\r\n ]{0,2}){0,8}".prop_map(String::into_bytes),
        ],
    ) {
        for format in Format::ALL {
            if let Ok((image, _)) = read(format, text.clone()) {
                prop_assert!(format == Format::Raw || (!image.is_empty() && image.len() <= MAX_SPAN));
                let gaps: usize = image.gaps().iter().map(|g| g.len()).sum();
                let mapped: usize = image.segments().map(|(s, _)| s.len()).sum();
                prop_assert_eq!(gaps + mapped, image.len());
            }
        }
    }

    #[test]
    fn a_record_with_one_wrong_digit_is_never_taken(image in any_image(), at in any::<prop::sample::Index>(), by in 1u8..16) {
        for format in [Format::IntelHex, Format::SRecord] {
            let (file, _) = write(&image, format, Writing::default()).unwrap();
            let mut file = file.into_owned();
            let places: Vec<usize> = (0..file.len()).filter(|&i| file[i].is_ascii_hexdigit()).collect();
            let at = places[at.index(places.len())];
            // A digit of the record type in S-records is outside the checksum; the rest is inside.
            let is_type = format == Format::SRecord && file[at - 1] == b'S';
            let digit = char::from(file[at]).to_digit(16).unwrap() as u8;
            file[at] = char::from_digit(u32::from((digit + by) % 16), 16).unwrap().to_ascii_uppercase() as u8;
            if !is_type {
                prop_assert!(read(format, file).is_err());
            }
        }
    }
}
