//! Do the contents stand at other offsets than they should?
//!
//! A header before the read, a byte too many or too few at its beginning, a read that began in the middle and wrapped
//! at the end of the chip: every byte is right and none is where it belongs. Each is put right in turn, and the marks
//! and checks of the layouts are asked. Only what a layout proves is told: a structure inside a larger memory looks
//! the same.

use super::by_layout::{self, Judged};
use crate::chip;
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::layout::{self, Layout};
use crate::span::Span;
use crate::wording::count;

/// Images larger than this are not moved about.
const LARGEST: usize = 1 << 20;
/// Bytes that a header has at the most.
const MOST_HEADER: usize = 4096;
/// Bytes that are taken too early, or lost at the beginning, at the most.
const MOST_SLIPPED: usize = 8;
/// Places that are looked at closely; where there are more of them, marks stand all over the image.
const MOST_TRIED: usize = 32;
/// Bits of marks that must be there whatever checks say, which agree everywhere over blank bytes.
const LEAST_MARK_BITS: u32 = 24;
/// Bits of marks and checks that prove a place: with a million places to try, an accident in a million images.
const LEAST_PROOF_BITS: u32 = 40;

/// Where the contents stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Off {
    /// Behind so many other bytes, in a file longer by as many.
    Header(usize),
    /// Behind so many other bytes, as many lost at the end.
    Late(usize),
    /// So many bytes before their place, which are missing.
    Early(usize),
    /// They begin there, go on to the end, and end before it.
    Turned(usize),
}

/// The finding for contents that stand elsewhere, when a layout fits where they stand.
pub(super) fn check(image: &Image, layouts: &[Layout]) -> Option<Finding> {
    let bytes = image.bytes();
    if bytes.len() > LARGEST || !image.gaps().is_empty() {
        return None;
    }
    layouts.iter().find_map(|layout| of_layout(bytes, layout))
}

fn of_layout(bytes: &[u8], layout: &Layout) -> Option<Finding> {
    let may = |bytes: &[u8]| layout::may_begin(layout, bytes, LEAST_MARK_BITS);
    let len = bytes.len();
    let found = |off: Off, moved: Vec<u8>| {
        let proof = proof(Image::raw(moved), layout, off)?;
        Some(finding(off, &proof, layout))
    };
    if layout.allows(len) {
        let twice = [bytes, bytes].concat();
        let turned = (1..len).filter(|&d| may(&twice[d..d + len])).take(MOST_TRIED);
        let mut turned = turned.filter_map(|d| found(Off::Turned(d), twice[d..d + len].to_vec()));
        let late = (1..=MOST_SLIPPED.min(len)).filter(|&d| may(&bytes[d..]));
        let mut late = late.filter_map(|d| found(Off::Late(d), [&bytes[d..], &vec![0xFF; d]].concat()));
        if let Some(finding) = turned.next().or_else(|| late.next()) {
            return Some(finding);
        }
    } else if chip::of_size(len).next().is_none() {
        let header = (1..=MOST_HEADER.min(len)).filter(|&d| layout.allows(len - d) && may(&bytes[d..]));
        if let Some(finding) =
            header.take(MOST_TRIED).filter_map(|d| found(Off::Header(d), bytes[d..].to_vec())).next()
        {
            return Some(finding);
        }
    }
    (1..=MOST_SLIPPED).find_map(|lost| {
        // Marks say what was lost as far as they go.
        let beginning = layout::beginning(layout, lost).into_iter().map(|byte| byte.unwrap_or(0xFF));
        let whole: Vec<u8> = beginning.chain(bytes.iter().copied()).collect();
        let whole = match (layout.allows(whole.len()), layout.allows(len)) {
            (true, _) => whole,
            (false, true) => whole[..len].to_vec(),
            (false, false) => return None,
        };
        may(&whole).then(|| found(Off::Early(lost), whole)).flatten()
    })
}

/// What the layout says about the contents in their place, when that proves it.
fn proof(moved: Image, layout: &Layout, off: Off) -> Option<Judged> {
    let judged = by_layout::judge(&moved, std::slice::from_ref(layout), false)?;
    // What was put there proves nothing.
    let put = match off {
        Off::Early(lost) => 8 * layout::beginning(layout, lost).iter().flatten().count() as u32,
        Off::Header(_) | Off::Late(_) | Off::Turned(_) => 0,
    };
    let own = judged.bits.saturating_sub(put);
    let proves = own >= LEAST_MARK_BITS
        && own + judged.check_bits() >= LEAST_PROOF_BITS
        // Something moved inside a memory that is turned about would not do: all of it has to agree.
        && (!matches!(off, Off::Turned(_)) || judged.is_sealed());
    (proves && judged.sized).then_some(judged)
}

fn finding(off: Off, judged: &Judged, layout: &Layout) -> Finding {
    let checks = match judged.seals() {
        (_, 0) => String::new(),
        (sealed, all) => format!(", {sealed} of {all} checks agree"),
    };
    let fits = format!("the image fits the layout {:?}{checks}; as it is it does not", layout.title);
    let (seen, means, advice, place) = match off {
        Off::Header(bytes) => (
            format!("without {} {fits}", first_bytes(bytes)),
            "something stands before the read, such as the header that some programs put before the bytes",
            "save the read as raw bytes without a header, as Intel HEX or as S-record, and vet that file",
            Some(Span::new(0, bytes)),
        ),
        Off::Late(bytes) => (
            format!("without {} {fits}", first_bytes(bytes)),
            "bytes were taken before the chip sent its first one, and as many are missing at the end",
            "select the device that is printed on the chip, with the plain read command and not the fast one, and read again",
            Some(Span::new(0, bytes)),
        ),
        Off::Early(bytes) => (
            format!("with {} more before its first one {fits}", count(bytes, "byte")),
            "the read began behind address 0, or its first bytes were lost",
            "read all of the chip again, from address 0",
            None,
        ),
        Off::Turned(at) => (
            format!("begun at offset 0x{at:04X} and carried on from its start, {fits}"),
            "the read began in the middle of the chip and wrapped at its end, as when the address was not sent, or in another length",
            "select the device that is printed on the chip, so that the address is sent in its length, and read again from address 0",
            Some(Span::of(at, 1)),
        ),
    };
    let finding = Finding::new(Weight::Fault, Code::Displaced, seen, means, advice);
    match place {
        Some(place) => finding.at(place),
        None => finding,
    }
}

fn first_bytes(n: usize) -> String {
    if n == 1 { "its first byte".to_owned() } else { format!("its first {n} bytes") }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Marks at the start and further on, a CRC-16 at the end.
    fn layout() -> Layout {
        layout::read(
            r#"(layout: "Small", format: 1, source: "invented for the tests", order: Big,
                fits: (bytes: [64], marks: [(at: 0, text: "FK"), (at: 20, text: "STORE")]),
                fields: [(name: "all", at: 0, kind: Bytes(bytes: 62))],
                checks: [(name: "whole", over: [(0, 62)], stored: (at: 62, bytes: 2), by: "CRC-16/XMODEM")])"#,
        )
        .unwrap()
    }

    fn memory() -> Vec<u8> {
        let mut bytes: Vec<u8> = (0..62_u32).map(|i| (i * 89 + 7) as u8).collect();
        bytes[..2].copy_from_slice(b"FK");
        bytes[20..25].copy_from_slice(b"STORE");
        let crc = crate::check::by_name("CRC-16/XMODEM").unwrap().compute([bytes.as_slice()]);
        bytes.extend((crc as u16).to_be_bytes());
        bytes
    }

    fn told(bytes: Vec<u8>) -> Option<(String, Option<Span>)> {
        check(&Image::raw(bytes), &[layout()]).map(|f| (f.seen, f.place))
    }

    #[test]
    fn a_header_before_the_read_is_told_with_its_length() {
        let (seen, place) = told([&[9; 16], memory().as_slice()].concat()).unwrap();
        assert!(
            seen.starts_with("without its first 16 bytes the image fits the layout \"Small\", 1 of 1"),
            "{seen}"
        );
        assert_eq!(place, Some(Span::new(0, 16)));
    }

    #[test]
    fn bytes_too_many_or_too_few_at_the_beginning_are_told() {
        let memory = memory();
        let (seen, place) = told([&[0], &memory[..63]].concat()).unwrap();
        assert!(seen.starts_with("without its first byte the image fits the layout"), "{seen}");
        assert_eq!(place, Some(Span::new(0, 1)));
        // Whether the end is filled up or not.
        for mut short in [memory[1..].to_vec(), memory[3..].to_vec()] {
            let lost = 64 - short.len();
            for _ in 0..2 {
                let (seen, _) = told(short.clone()).unwrap();
                assert!(
                    seen.starts_with(&format!("with {} more before its first one", count(lost, "byte"))),
                    "{seen}"
                );
                short.resize(64, 0xFF);
            }
        }
    }

    #[test]
    fn a_read_that_began_in_the_middle_is_told_with_where_the_memory_begins() {
        for by in [1, 7, 32, 63] {
            let mut bytes = memory();
            bytes.rotate_left(by);
            let (seen, place) = told(bytes).unwrap();
            assert!(seen.starts_with(&format!("begun at offset 0x{:04X} and carried on", 64 - by)), "{seen}");
            assert_eq!(place, Some(Span::of(64 - by, 1)));
        }
    }

    #[test]
    fn a_structure_inside_a_larger_memory_is_not_displaced() {
        // Of the size of a chip, so that something else may own what stands before.
        assert_eq!(told([&[0x5A; 64], memory().as_slice()].concat()), None);
        assert_eq!(told([&[0x5A; 4000], memory().as_slice(), &[0x5A; 40]].concat()), None);
        // Marks alone that are turned about.
        let mut broken = memory();
        broken[40] ^= 1;
        broken.rotate_left(9);
        assert_eq!(told(broken), None);
    }

    #[test]
    fn marks_that_were_put_there_and_checks_over_blank_bytes_prove_nothing() {
        let layout = layout::read(
            r#"(layout: "Blocks", format: 1, source: "invented for the tests", order: Big,
                fits: (bytes: [64], marks: [(at: 0, hex: "00 FF FF FF FF FF FF 00")]),
                fields: [(name: "all", at: 0, kind: Bytes(bytes: 64))],
                checks: [
                    (name: "a", over: [(16, 22)], stored: (at: 22, bytes: 2), by: "SUM-16"),
                    (name: "b", over: [(32, 38)], stored: (at: 38, bytes: 2), by: "SUM-16"),
                    (name: "c", over: [(48, 54)], stored: (at: 54, bytes: 2), by: "SUM-16"),
                ])"#,
        )
        .unwrap();
        let blank = Image::raw([&[1, 2, 3, 4][..], &[0; 60]].concat());
        assert_eq!(check(&blank, &[layout]), None);
    }

    #[test]
    fn an_image_full_of_marks_is_not_read_at_each_of_them() {
        let layout = layout::read(
            r#"(layout: "Any size", format: 1, source: "invented for the tests", order: Big,
                fits: (marks: [(at: 0, text: "FK"), (at: 2, text: "STORE")]),
                fields: [(name: "all", at: 0, kind: Bytes(bytes: 62))],
                checks: [(name: "whole", over: [(0, 62)], stored: (at: 62, bytes: 2), by: "CRC-16/XMODEM")])"#,
        )
        .unwrap();
        // Reading it at each would take hours.
        let bytes = [[b'x'; 16].as_slice(), &b"FKSTORE".repeat(1 << 16)].concat();
        assert_eq!(check(&Image::raw(bytes), &[layout]), None);
    }

    #[test]
    fn marks_and_checks_count_together() {
        let layout = layout::read(
            r#"(layout: "Two checks", format: 1, source: "invented for the tests", order: Big,
                fits: (bytes: [64], marks: [(at: 0, text: "FKCR")]),
                fields: [(name: "all", at: 0, kind: Bytes(bytes: 64))],
                checks: [
                    (name: "a", over: [(0, 20)], stored: (at: 20, bytes: 2), by: "CRC-16/XMODEM"),
                    (name: "b", over: [(22, 62)], stored: (at: 62, bytes: 2), by: "CRC-16/XMODEM"),
                ])"#,
        )
        .unwrap();
        let mut bytes: Vec<u8> = (0..64_u32).map(|i| (i * 89 + 7) as u8).collect();
        bytes[..4].copy_from_slice(b"FKCR");
        for (over, at) in [(0..20, 20), (22..62, 62)] {
            let crc = crate::check::by_name("CRC-16/XMODEM").unwrap().compute([&bytes[over]]);
            bytes[at..at + 2].copy_from_slice(&(crc as u16).to_be_bytes());
        }
        let behind =
            |bytes: &[u8]| check(&Image::raw([&[9; 5], bytes].concat()), std::slice::from_ref(&layout));
        assert!(behind(&bytes).is_some());
        bytes[30] ^= 1;
        assert_eq!(behind(&bytes), None, "32 bits of marks and nothing else");
        // What lies in a gap was not read, and proves nothing either.
        let gap = Image::with_gaps(0, [&[9; 16], memory().as_slice()].concat(), vec![Span::new(40, 44)]);
        assert_eq!(check(&gap, &[super::tests::layout()]), None);
    }
}
