//! Intel HEX, after the "Hexadecimal Object File Format Specification", Intel, revision A, 1988.
//!
//! One deviation: a record that runs past the end of its 64 KiB segment (after a type 02 record) is refused. The
//! specification lets it go on at the start of the segment, most programs let it run on, so it can be read in two
//! ways.

use super::records::{self, ADDRESSES, Line, Reading, Rejected};
use super::{Image, StartAddress};
use crate::error::Refusal;
use crate::finding::{Code, Finding, Weight};
use crate::wording::count;

/// Bytes of a record around its data: count, two of address, type, checksum.
const AROUND: usize = 5;
/// Where the addresses of data records count from.
#[derive(Clone, Copy)]
enum Base {
    Linear(u64),
    Segment(u64),
}

/// What has been read so far.
struct Reader {
    file: Reading,
    base: Base,
    start: Option<(StartAddress, usize)>,
}

/// Reads an Intel HEX file: the image, and what is to be remarked about the file.
///
/// # Errors
/// Every problem with its place.
pub fn read(text: &[u8]) -> Result<(Image, Vec<Finding>), Rejected> {
    let mut reader = Reader { file: Reading::default(), base: Base::Linear(0), start: None };
    let lines = reader.file.lines(text);
    for line in &lines {
        reader.line(line);
    }
    if reader.file.ended.is_none() {
        reader.file.problem_at_end(
            &lines,
            "the file ends without an end record, so its last part may be missing; get the file again, or if it is \
             known to be whole add the line :00000001FF",
        );
    }
    let (mut image, remarks) = reader.file.finish(&lines, "hex")?;
    image.start = reader.start.map(|(start, _)| start);
    Ok((image, remarks))
}

impl Reader {
    fn line(&mut self, line: &Line<'_>) {
        if !self.file.goes_on(line) {
            return;
        }
        let first = line.text.first().copied().unwrap_or_default();
        if first != b':' {
            let what = format!("the line begins with {}; a record begins with \":\"", records::shown(first));
            self.file.problem(line, 0, what);
            return;
        }
        let Some(bytes) = self.file.digits(line, 1) else { return };
        let [said, high, low, kind, data @ .., stored] = bytes.as_slice() else {
            let what =
                format!("the record has {}; the shortest one has {AROUND}", count(bytes.len(), "byte"));
            self.file.problem(line, 0, what);
            return;
        };
        if usize::from(*said) != data.len() {
            let what = format!(
                "the count says {} (0x{said:02X}), the record has {}",
                count((*said).into(), "data byte"),
                data.len()
            );
            self.file.problem(line, 1, what);
            return;
        }
        let sum = bytes.iter().fold(0u8, |sum, b| sum.wrapping_add(*b)).wrapping_sub(*stored);
        if self.file.is_sealed(line, *stored, sum.wrapping_neg()) {
            self.record(line, *kind, u16::from_be_bytes([*high, *low]), data);
        }
    }

    /// A record whose digits, count and checksum are right.
    fn record(&mut self, line: &Line<'_>, kind: u8, address: u16, data: &[u8]) {
        let word = |data: &[u8]| data.iter().fold(0u32, |word, b| word << 8 | u32::from(*b));
        match (kind, data) {
            (0, _) => self.data(line, u64::from(address), data),
            (1, []) => {
                self.file.ended = Some(line.number);
                if address != 0 {
                    self.file.remarks.push(Finding::new(
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
                self.file.problem(line, 1, what);
            }
            _ => {
                let what = format!("the record type is {kind:02X}; the standard has 00 to 05");
                self.file.problem(line, 7, what);
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
            self.file.problem(line, 3, what);
            return;
        }
        self.file.add(address, data, line, 3);
    }

    fn start(&mut self, line: &Line<'_>, start: StartAddress) {
        if let Some((before, first)) = self.start
            && before != start
        {
            self.file.remarks.push(Finding::new(
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
pub fn write(image: &Image, record_bytes: u8) -> Result<Vec<u8>, Refusal> {
    let end = records::end(image, "Intel HEX holds")?;
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
    records::push(text, b":", &[&head, data, &[sum.wrapping_neg()]]);
}
