//! Record files against published examples and against two independent implementations.

use std::collections::BTreeMap;

use proptest::prelude::*;
use readproof::image::{self, Format, Image, StartAddress, Writing};
use readproof::span::Span;

fn read(format: Format, text: &str) -> Image {
    image::read(format, text.as_bytes().to_vec()).unwrap_or_else(|e| panic!("{e:?}")).0
}

/// The example of appendix C of the "M68000 Family Programmer's Reference Manual", Motorola, 1992, which the manual page
/// srec(5) of Linux distributions repeats, with the count record S5030004F8 added.
const MOTOROLA: &str = "\
    S00600004844521B\n\
    S1130000285F245F2212226A000424290008237C2A\n\
    S11300100002000800082629001853812341001813\n\
    S113002041E900084E42234300182342000824A952\n\
    S107003000144ED492\n\
    S9030000FC\n";

#[test]
fn the_example_of_the_s_record_manual_is_read_and_written_alike() {
    let image = read(Format::SRecord, MOTOROLA);
    assert_eq!((image.base(), image.len(), image.gaps().len()), (0, 0x34, 0));
    assert_eq!(image.header.as_deref(), Some(&b"HDR"[..]));
    assert_eq!(image.bytes()[..4], [0x28, 0x5F, 0x24, 0x5F]);
    let (file, _) = image::write(&image, Format::SRecord, Writing::default()).unwrap();
    // The manual's example has no count record; we write one, the one of srec(5).
    let ours = String::from_utf8(file.into_owned()).unwrap().replace("S5030004F8\n", "");
    assert_eq!(ours, MOTOROLA);
}

#[test]
fn the_examples_of_the_intel_hex_specification_are_read() {
    // The records of types 02 to 05 of the table of record types in the article "Intel HEX" in Wikipedia, which the
    // tests of the ihex crate read too. The data record is ours.
    let example = ":020000021200EA\n:0400000300003800C1\n:01000000AA55\n:00000001FF\n";
    let image = read(Format::IntelHex, example);
    assert_eq!((image.base(), image.start), (0x1_2000, Some(StartAddress::Segment(0, 0x3800))));
    let example = ":02000004FFFFFC\n:04000005000000CD2A\n:01000000AA55\n:00000001FF\n";
    let image = read(Format::IntelHex, example);
    assert_eq!((image.base(), image.start), (0xFFFF_0000, Some(StartAddress::Linear(0xCD))));
}

/// Any image with gaps, and a linear start address.
fn any_image() -> impl Strategy<Value = Image> {
    let base = prop_oneof![Just(0u64), 0xFF00u64..0x1_0010, 0xFF_FF00u64..0x100_0010, 0u64..0xFFFF_0000];
    let pieces = prop::collection::vec((1usize..300, prop::collection::vec(any::<u8>(), 1..200)), 1..5);
    (base, pieces, prop::option::of(1u32..)).prop_map(|(base, pieces, start)| {
        let (mut bytes, mut gaps) = (Vec::new(), Vec::new());
        for (gap, data) in pieces {
            if !bytes.is_empty() {
                gaps.push(Span::of(bytes.len(), gap));
                bytes.resize(bytes.len() + gap, image::GAP_FILL);
            }
            bytes.extend(data);
        }
        let mut image = Image::with_gaps(base, bytes, gaps);
        image.start = start.map(StartAddress::Linear);
        image
    })
}

/// Every mapped byte by its address.
fn memory(image: &Image) -> BTreeMap<u64, u8> {
    let bytes = |(span, bytes): (Span, &[u8])| {
        let first = image.address(span.start);
        bytes.iter().zip(first..).map(|(&b, a)| (a, b)).collect::<Vec<_>>()
    };
    image.segments().flat_map(bytes).collect()
}

fn written(image: &Image, format: Format, record_bytes: u8) -> String {
    let (file, _) = image::write(image, format, Writing { record_bytes, fill: None }).unwrap();
    String::from_utf8(file.into_owned()).unwrap()
}

proptest! {
    /// The crate `ihex` 3.0.
    #[test]
    fn what_we_write_as_intel_hex_another_reader_reads_alike(image in any_image(), record_bytes in 1u8..) {
        let text = written(&image, Format::IntelHex, record_bytes);
        let (mut upper, mut theirs, mut start) = (0u64, BTreeMap::new(), None);
        for record in ihex::Reader::new(&text) {
            match record.unwrap() {
                ihex::Record::Data { offset, value } => {
                    theirs.extend(value.iter().zip(upper + u64::from(offset)..).map(|(&b, a)| (a, b)));
                }
                ihex::Record::ExtendedLinearAddress(address) => upper = u64::from(address) << 16,
                ihex::Record::StartLinearAddress(address) => start = Some(StartAddress::Linear(address)),
                ihex::Record::EndOfFile => {}
                other => panic!("{other:?}"),
            }
        }
        prop_assert_eq!(theirs, memory(&image));
        prop_assert_eq!(start, image.start);
    }

    /// The crate `ihex` 3.0.
    #[test]
    fn what_another_writer_writes_as_intel_hex_we_read_alike(image in any_image()) {
        let mut records = Vec::new();
        for (address, byte) in memory(&image) {
            records.push(ihex::Record::ExtendedLinearAddress((address >> 16) as u16));
            records.push(ihex::Record::Data { offset: address as u16, value: vec![byte] });
        }
        records.push(ihex::Record::EndOfFile);
        let text = ihex::create_object_file_representation(&records).unwrap();
        prop_assert_eq!(memory(&read(Format::IntelHex, &text)), memory(&image));
    }

    /// The crate `srec` 0.2.
    #[test]
    fn what_we_write_as_s_records_another_reader_reads_alike(image in any_image(), record_bytes in 1u8..) {
        let text = written(&image, Format::SRecord, record_bytes);
        let (mut theirs, mut start) = (BTreeMap::new(), None);
        for record in srec::read_records(&text) {
            let (address, data) = match record.unwrap() {
                srec::Record::S1(srec::Data { address, data }) => (u32::from(address), data),
                srec::Record::S2(srec::Data { address, data }) => (u32::from(address), data),
                srec::Record::S3(srec::Data { address, data }) => (u32::from(address), data),
                srec::Record::S7(address) => { start = Some(u32::from(address)); continue }
                srec::Record::S8(address) => { start = Some(u32::from(address)); continue }
                srec::Record::S9(address) => { start = Some(u32::from(address)); continue }
                _ => continue,
            };
            theirs.extend(data.iter().zip(u64::from(address)..).map(|(&b, a)| (a, b)));
        }
        prop_assert_eq!(theirs, memory(&image));
        prop_assert_eq!(start.filter(|&s| s != 0).map(StartAddress::Linear), image.start);
    }

    /// The crate `srec` 0.2.
    #[test]
    fn what_another_writer_writes_as_s_records_we_read_alike(image in any_image()) {
        let mut records: Vec<srec::Record> = Vec::new();
        for (address, byte) in memory(&image) {
            let address = srec::Address32(u32::try_from(address).unwrap());
            records.push(srec::Record::S3(srec::Data { address, data: vec![byte] }));
        }
        records.push(srec::Record::S7(srec::Address32(0)));
        prop_assert_eq!(memory(&read(Format::SRecord, &srec::generate_srec_file(&records))), memory(&image));
    }
}
