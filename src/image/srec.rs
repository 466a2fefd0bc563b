//! Motorola S-records, after the "M68000 Family Programmer's Reference Manual", Motorola, 1992, appendix C.

use super::records::{self, Line, Reading, Rejected};
use super::{Image, StartAddress};
use crate::error::Refusal;
use crate::finding::{Code, Finding, Weight};
use crate::wording::count;

/// What has been read so far.
#[derive(Default)]
struct Reader {
    file: Reading,
    header: Option<Vec<u8>>,
    start: Option<StartAddress>,
    /// Data records so far.
    data_records: u32,
    /// Line of a count record that agreed.
    counted: Option<usize>,
    /// The widest address of a data record, in bytes.
    width: usize,
}

/// Reads an S-record file: the image, and what is to be remarked about the file.
///
/// # Errors
/// Every problem with its place.
pub fn read(text: &[u8]) -> Result<(Image, Vec<Finding>), Rejected> {
    let mut reader = Reader::default();
    let lines = reader.file.lines(text);
    for line in &lines {
        reader.line(line);
    }
    if reader.file.ended.is_none() {
        reader.file.remarks.push(no_end_record(reader.counted));
    }
    let (mut image, remarks) = reader.file.finish(&lines, "s19")?;
    image.start = reader.start;
    image.header = reader.header;
    Ok((image, remarks))
}

/// Without S7, S8 or S9 only a count record can say that nothing was cut off.
fn no_end_record(counted: Option<usize>) -> Finding {
    let seen = "the file has no end record (S7, S8 or S9)";
    match counted {
        Some(line) => Finding::new(
            Weight::Note,
            Code::NoEndRecord,
            format!("{seen}, but the count of line {line} agrees with its data records"),
            "no data record is missing",
            "write it cleanly with `readproof convert IMAGE OUT.s19` if another program refuses it",
        ),
        None => Finding::new(
            Weight::Doubt,
            Code::NoEndRecord,
            seen,
            "the last part of the file may be missing; nothing in it says how long it should be",
            "compare its size with the chip by `readproof vet IMAGE --chip MARKING`, or get the file again",
        ),
    }
}

impl Reader {
    fn line(&mut self, line: &Line<'_>) {
        if !self.file.goes_on(line) {
            return;
        }
        let (kind, width) = match line.text {
            [b'S' | b's', kind @ b'0'..=b'9', ..] if *kind != b'4' => {
                let kind = kind - b'0';
                (kind, [2, 2, 3, 4, 0, 2, 3, 4, 3, 2].get(usize::from(kind)).copied().unwrap_or(2))
            }
            [b'S' | b's', kind, ..] => {
                let what = format!(
                    "the record type is {}; the standard has S0 to S3 and S5 to S9",
                    records::shown(*kind)
                );
                self.file.problem(line, 1, what);
                return;
            }
            other => {
                let first = records::shown(other.first().copied().unwrap_or_default());
                self.file.problem(
                    line,
                    0,
                    format!("the line begins with {first}; a record begins with \"S\""),
                );
                return;
            }
        };
        // A record with a problem was counted too when the file was made; the count must not be told as wrong again.
        self.data_records += u32::from((1..=3).contains(&kind));
        let Some(bytes) = self.file.digits(line, 2) else { return };
        let shortest = width + 2;
        if bytes.len() < shortest {
            let what = format!(
                "the record has {}; the shortest S{kind} record has {shortest}",
                count(bytes.len(), "byte")
            );
            self.file.problem(line, 0, what);
            return;
        }
        let [said, rest @ .., stored] = bytes.as_slice() else { return };
        if usize::from(*said) != rest.len() + 1 {
            let what = format!(
                "the count says {} after it (0x{said:02X}), the record has {}",
                count((*said).into(), "byte"),
                rest.len() + 1
            );
            self.file.problem(line, 2, what);
            return;
        }
        let computed = !rest.iter().fold(*said, |sum, b| sum.wrapping_add(*b));
        if !self.file.is_sealed(line, *stored, computed) {
            return;
        }
        let (address, data) = rest.split_at(width.min(rest.len()));
        let address = address.iter().fold(0u64, |address, b| address << 8 | u64::from(*b));
        self.record(line, kind, width, address, data);
    }

    /// A record whose digits, count and checksum are right.
    fn record(&mut self, line: &Line<'_>, kind: u8, width: usize, address: u64, data: &[u8]) {
        let number = line.number;
        match kind {
            0 if self.header.is_some() => self.file.remarks.push(Finding::new(
                Weight::Note,
                Code::LooseRecords,
                format!("line {number} is a second header record"),
                "the file was perhaps put together from two; the first header is kept",
                "look whether the file holds what you expect with `readproof show IMAGE`",
            )),
            0 => self.header = Some(data.to_vec()),
            1..=3 => {
                self.counted = None;
                self.width = self.width.max(width);
                let end = address + data.len() as u64;
                let space = 1u64 << (8 * width);
                if end > space {
                    let what = format!(
                        "{} bytes from 0x{address:04X} run past the last address of S{kind}",
                        data.len()
                    );
                    self.file.problem(line, 4, what);
                    return;
                }
                self.file.add(address, data, line, 4);
            }
            _ if !data.is_empty() => {
                let what = format!("an S{kind} record has no data bytes, this one has {}", data.len());
                self.file.problem(line, 2, what);
            }
            5 | 6 => {
                if address == u64::from(self.data_records) {
                    self.counted = Some(number);
                } else {
                    let what = format!(
                        "the count is {address}, but {} data records stand before it",
                        self.data_records
                    );
                    self.file.problem(line, 4, what);
                }
            }
            _ => {
                self.file.ended = Some(number);
                // 0 stands for no start address (common practice, no source): the record must name one.
                self.start = u32::try_from(address).ok().filter(|&a| a != 0).map(StartAddress::Linear);
                if self.width != 0 && width != self.width {
                    self.file.remarks.push(Finding::new(
                        Weight::Note,
                        Code::LooseRecords,
                        format!(
                            "line {number} ends the file with S{kind}, but its data records have {}-bit addresses",
                            8 * self.width
                        ),
                        "S9 ends files of S1, S8 of S2, S7 of S3 records; a stricter program may refuse the file",
                        "write it cleanly with `readproof convert IMAGE OUT.s19` if another program refuses it",
                    ));
                }
            }
        }
    }
}

/// The image as an S-record file with `record_bytes` data bytes a record (at least 1, and what the count allows):
/// S1, S2 or S3 by the largest address, a count record where the count fits, the end record that belongs to it.
///
/// # Errors
/// When an address does not fit in 32 bits.
pub fn write(image: &Image, record_bytes: u8) -> Result<Vec<u8>, Refusal> {
    let end = records::end(image, "S-records hold")?;
    let start = match image.start {
        Some(StartAddress::Linear(start)) => start,
        Some(StartAddress::Segment(cs, ip)) => u32::from(cs) * 16 + u32::from(ip),
        None => 0,
    };
    let (kind, width) = match u64::from(start).max(end.saturating_sub(1)) {
        ..=0xFFFF => (1, 2),
        0x1_0000..=0xFF_FFFF => (2, 3),
        _ => (3, 4),
    };
    let mut text = Vec::with_capacity(image.len() * 3);
    if let Some(header) = &image.header {
        // A header longer than a record is cut: no reader gives one.
        record(&mut text, 0, 2, 0, header.get(..252).unwrap_or(header));
    }
    let chunk = usize::from(record_bytes).clamp(1, 254 - width);
    let mut records = 0u32;
    for (span, bytes) in image.segments() {
        let mut at = image.address(span.start);
        for data in bytes.chunks(chunk) {
            record(&mut text, kind, width, at as u32, data);
            at += data.len() as u64;
            records += 1;
        }
    }
    match records {
        ..=0xFFFF => record(&mut text, 5, 2, records, &[]),
        0x1_0000..=0xFF_FFFF => record(&mut text, 6, 3, records, &[]),
        _ => {}
    }
    record(&mut text, 10 - kind, width, start, &[]);
    Ok(text)
}

fn record(text: &mut Vec<u8>, kind: u8, width: usize, address: u32, data: &[u8]) {
    let address = address.to_be_bytes();
    let address = address.get(4 - width..).unwrap_or_default();
    let count = (width + data.len() + 1) as u8;
    let sum = address.iter().chain(data).fold(count, |sum, b| sum.wrapping_add(*b));
    records::push(text, &[b'S', b'0' + kind], &[&[count], address, data, &[!sum]]);
}
