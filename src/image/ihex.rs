//! Intel HEX, after the "Hexadecimal Object File Format Specification", Intel, revision A, 1988.
//!
//! One deviation: a record that runs past the end of its 64 KiB segment (after a type 02 record) is refused. The
//! specification lets it go on at the start of the segment, most programs let it run on, so it can be read in two
//! ways.

use super::format::Unwritable;
use super::records::{self, Line, Loose, Pieces, Problems, Rejected};
use super::{Image, StartAddress};
use crate::finding::{Code, Finding, Weight};

/// Bytes of a record around its data: count, two of address, type, checksum.
const AROUND: usize = 5;
/// Addresses are below this.
const ADDRESSES: u64 = 1 << 32;

/// Where the addresses of data records count from.
#[derive(Clone, Copy)]
enum Base {
    Linear(u64),
    Segment(u64),
}

/// What has been read so far.
struct Reader {
    problems: Problems,
    pieces: Pieces,
    remarks: Vec<Finding>,
    base: Base,
    start: Option<(StartAddress, usize)>,
    /// Line of the end record.
    ended: Option<usize>,
}

/// Reads an Intel HEX file: the image, and what is to be remarked about the file.
///
/// # Errors
/// Every problem with its place.
pub fn read(text: &[u8]) -> Result<(Image, Vec<Finding>), Rejected> {
    let mut loose = Loose::default();
    let mut reader = Reader {
        problems: Problems::default(),
        pieces: Pieces::default(),
        remarks: Vec::new(),
        base: Base::Linear(0),
        start: None,
        ended: None,
    };
    let lines = records::lines(text, &mut loose);
    for line in &lines {
        reader.line(line);
    }
    let mut problems = reader.problems;
    let last = lines.last();
    let after = last.map_or((1, 1), |l| (l.number, l.column + l.text.len()));
    if reader.ended.is_none() {
        problems.add(
            after.0,
            after.1,
            "the file ends without an end record, so its last part may be missing; get the file again, or if it is \
             known to be whole add the line :00000001FF",
        );
    } else if reader.pieces.is_empty() && problems.is_empty() {
        problems.add(after.0, after.1, "the file has no data record");
    }
    let image = reader.pieces.into_image(&mut problems);
    problems.into_result()?;
    let mut image = image.unwrap_or_else(|| Image::raw(Vec::new()));
    image.start = reader.start.map(|(start, _)| start);
    reader.remarks.extend(loose.finding("hex"));
    Ok((image, reader.remarks))
}

impl Reader {
    fn line(&mut self, line: &Line<'_>) {
        let (number, column) = (line.number, line.column);
        if let Some(ended) = self.ended {
            let what = format!("there is more after the end record of line {ended}; nothing may follow it");
            self.problems.add(number, column, what);
            return;
        }
        let first = line.text.first().copied().unwrap_or_default();
        if first != b':' {
            let what = format!("the line begins with {}; a record begins with \":\"", records::shown(first));
            self.problems.add(number, column, what);
            return;
        }
        let Some(bytes) = records::digits(line, 1, &mut self.problems) else { return };
        let [count, high, low, kind, rest @ ..] = bytes.as_slice() else {
            let what = format!("the record has {} bytes; the shortest one has {AROUND}", bytes.len());
            self.problems.add(number, column, what);
            return;
        };
        let Some((&stored, data)) = rest.split_last() else {
            let what = format!("the record has 4 bytes; the shortest one has {AROUND}");
            self.problems.add(number, column, what);
            return;
        };
        if usize::from(*count) != data.len() {
            let what =
                format!("the count says {count} data bytes (0x{count:02X}), the record has {}", data.len());
            self.problems.add(number, column + 1, what);
            return;
        }
        let sum = bytes.iter().fold(0u8, |sum, b| sum.wrapping_add(*b)).wrapping_sub(stored);
        let computed = sum.wrapping_neg();
        if stored != computed {
            let what =
                format!("the checksum is 0x{stored:02X}, but the record's bytes give 0x{computed:02X}");
            self.problems.add(number, column + 2 * bytes.len() - 1, what);
            return;
        }
        self.record(line, *kind, u16::from_be_bytes([*high, *low]), data);
    }

    /// A record whose digits, count and checksum are right.
    fn record(&mut self, line: &Line<'_>, kind: u8, address: u16, data: &[u8]) {
        let word = |data: &[u8]| data.iter().fold(0u32, |word, b| word << 8 | u32::from(*b));
        match (kind, data) {
            (0, _) => self.data(line, u64::from(address), data),
            (1, []) => {
                self.ended = Some(line.number);
                if address != 0 {
                    self.remarks.push(Finding::new(
                        Weight::Note,
                        Code::LooseRecords,
                        format!("the end record of line {} names the address 0x{address:04X}", line.number),
                        "the standard has 0000 there; some programs put a start address there",
                        "leave it as it is; the address is not kept",
                    ));
                }
            }
            (2, [_, _]) => self.base = Base::Segment(u64::from(word(data)) << 4),
            (3, [cs_high, cs_low, ip_high, ip_low]) => self.start(
                line,
                StartAddress::Segment(
                    u16::from_be_bytes([*cs_high, *cs_low]),
                    u16::from_be_bytes([*ip_high, *ip_low]),
                ),
            ),
            (4, [_, _]) => self.base = Base::Linear(u64::from(word(data)) << 16),
            (5, [_, _, _, _]) => self.start(line, StartAddress::Linear(word(data))),
            (1..=5, _) => {
                let wanted = [0, 2, 4, 2, 4].get(usize::from(kind) - 1).copied().unwrap_or(0);
                let what = format!(
                    "a record of type {kind:02} has {wanted} data bytes, this one has {}",
                    data.len()
                );
                self.problems.add(line.number, line.column + 1, what);
            }
            _ => {
                let what = format!("the record type is {kind:02X}; the standard has 00 to 05");
                self.problems.add(line.number, line.column + 7, what);
            }
        }
    }

    fn data(&mut self, line: &Line<'_>, offset: u64, data: &[u8]) {
        let length = data.len() as u64;
        let (address, room) = match self.base {
            Base::Linear(base) => (base + offset, ADDRESSES - base - offset),
            Base::Segment(base) => (base + offset, 0x1_0000 - offset),
        };
        if length > room {
            let what = match self.base {
                Base::Linear(_) => {
                    format!("{length} bytes from 0x{address:04X} run past the last address, 0xFFFFFFFF")
                }
                Base::Segment(_) => format!(
                    "{length} bytes from 0x{offset:04X} run past the end of their 64 KiB segment; the standard has \
                     them go on at its start, most programs have them run on, so nothing is assumed"
                ),
            };
            self.problems.add(line.number, line.column + 3, what);
            return;
        }
        self.pieces.add(address, data, line.number, line.column + 3);
    }

    fn start(&mut self, line: &Line<'_>, start: StartAddress) {
        if let Some((before, first)) = self.start
            && before != start
        {
            self.remarks.push(Finding::new(
                Weight::Doubt,
                Code::SecondStartAddress,
                format!("line {} names another start address than line {first}", line.number),
                "a file should name one start address; the last one is kept",
                "ask whoever made the file, if the start address matters; the bytes are not concerned",
            ));
        }
        self.start = Some((start, line.number));
    }
}

/// The image as an Intel HEX file with `record_bytes` data bytes a record (at least 1).
///
/// Addresses past 16 bits use type 04 records, or type 02 where the start address is one of a segment and every
/// address fits in 20 bits.
///
/// # Errors
/// When an address does not fit in 32 bits.
pub fn write(image: &Image, record_bytes: u8) -> Result<Vec<u8>, Unwritable> {
    let end = image.address(image.len());
    if end > ADDRESSES {
        return Err(Unwritable {
            what: format!("the image ends at 0x{end:X}, and Intel HEX holds addresses up to 0xFFFFFFFF"),
            advice: "give a lower base address (--base 0)".to_owned(),
        });
    }
    let segmented = matches!(image.start, Some(StartAddress::Segment(..))) && end <= 1 << 20;
    let mut text = Vec::with_capacity(image.len() * 3);
    let mut upper = 0;
    for (span, bytes) in image.segments() {
        let mut at = image.address(span.start);
        let mut rest = bytes;
        while !rest.is_empty() {
            if at >> 16 != upper {
                upper = at >> 16;
                let (kind, base) = if segmented { (2, upper << 12) } else { (4, upper) };
                record(&mut text, kind, 0, &(base as u16).to_be_bytes());
            }
            let room = (0x1_0000 - (at & 0xFFFF)) as usize;
            let take = usize::from(record_bytes.max(1)).min(room).min(rest.len());
            let (data, after) = rest.split_at(take);
            record(&mut text, 0, (at & 0xFFFF) as u16, data);
            at += take as u64;
            rest = after;
        }
    }
    match image.start {
        Some(StartAddress::Segment(cs, ip)) => {
            let [a, b] = cs.to_be_bytes();
            let [c, d] = ip.to_be_bytes();
            record(&mut text, 3, 0, &[a, b, c, d]);
        }
        Some(StartAddress::Linear(start)) => record(&mut text, 5, 0, &start.to_be_bytes()),
        None => {}
    }
    record(&mut text, 1, 0, &[]);
    Ok(text)
}

fn record(text: &mut Vec<u8>, kind: u8, address: u16, data: &[u8]) {
    let [high, low] = address.to_be_bytes();
    let head = [data.len() as u8, high, low, kind];
    let sum = head.iter().chain(data).fold(0u8, |sum, b| sum.wrapping_add(*b));
    text.push(b':');
    for &byte in head.iter().chain(data).chain([&sum.wrapping_neg()]) {
        records::push_byte(text, byte);
    }
    text.push(b'\n');
}
