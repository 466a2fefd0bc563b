//! What Intel HEX and S-record have in common: lines of hexadecimal digits, problems with their places, pieces of
//! memory that must not overlap.

use crate::error::Refusal;
use crate::finding::{Code, Finding, Weight};
use crate::image::{GAP_FILL, Image};
use crate::span::Span;
use crate::wording::count;

/// An image read from a record file spans at most this many bytes from its first to its last mapped one, because
/// gaps are held in memory: twice the largest memory of the chip table.
pub const MAX_SPAN: usize = 64 << 20;

/// At most this many problems of one file are told; a file with more is not nearly a record file.
pub const MAX_PROBLEMS: usize = 50;

/// Addresses are below this.
pub(super) const ADDRESSES: u64 = 1 << 32;

/// The character that fills the last block of a text file on systems that know no length in bytes.
pub(super) const END_OF_FILE: u8 = 0x1A;

/// What is wrong in a record file, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The line, counted from 1.
    pub line: usize,
    /// The character in the line, counted from 1; a byte that is no ASCII counts as one character.
    pub column: usize,
    /// What is wrong, quoting the bad value and saying what was expected: one sentence without its full stop.
    pub what: String,
}

/// Why a record file was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejected {
    /// The problems in the order of their places; never empty, at most [`MAX_PROBLEMS`].
    pub problems: Vec<Problem>,
    /// Problems that were found but not kept.
    pub more: usize,
}

/// Collects problems, and counts those that are too many.
#[derive(Default)]
struct Problems {
    kept: Vec<Problem>,
    more: usize,
}

impl Problems {
    fn add(&mut self, line: usize, column: usize, what: impl Into<String>) {
        if self.kept.len() < MAX_PROBLEMS {
            self.kept.push(Problem { line, column, what: what.into() });
        } else {
            self.more += 1;
        }
    }

    /// Nothing when there was no problem.
    fn into_result(mut self) -> Result<(), Rejected> {
        self.kept.sort_by_key(|p| (p.line, p.column));
        if self.kept.is_empty() { Ok(()) } else { Err(Rejected { problems: self.kept, more: self.more }) }
    }
}

/// A line that should be a record.
pub(super) struct Line<'t> {
    /// Counted from 1.
    pub number: usize,
    /// Column of the first character of `text`.
    pub column: usize,
    /// Without line end and surrounding spaces; never empty.
    pub text: &'t [u8],
}

/// How a file is written where other readers may be stricter; none of it leaves a choice of what is meant.
#[derive(Default)]
struct Loose {
    mark: bool,
    blank_lines: usize,
    spaces: bool,
    bare_returns: bool,
    lower_case: bool,
    end_of_file_mark: bool,
    no_last_line_end: bool,
}

impl Loose {
    /// One remark for all of it; `None` for a file that is written strictly. Lines may end in LF or in CR LF.
    /// `ending` is that of files of this format.
    fn finding(&self, ending: &str) -> Option<Finding> {
        let lines = match self.blank_lines {
            1 => "a blank line".to_owned(),
            n => format!("{n} blank lines"),
        };
        let seen: Vec<&str> = [
            (self.mark, "a byte order mark at its start"),
            (self.blank_lines > 0, &lines),
            (self.spaces, "spaces around records"),
            (self.bare_returns, "lines that end in CR alone"),
            (self.lower_case, "lower-case letters in records"),
            (self.end_of_file_mark, "the character 1A after the last record"),
            (self.no_last_line_end, "no line end after the last record"),
        ]
        .into_iter()
        .filter_map(|(is, what)| is.then_some(what))
        .collect();
        (!seen.is_empty()).then(|| {
            Finding::new(
                Weight::Note,
                Code::LooseRecords,
                format!("the file has {}", seen.join(", ")),
                "nothing is lost or doubtful, but a stricter program may refuse the file",
                format!("write it cleanly with `readproof convert IMAGE OUT.{ending}` if another program refuses it"),
            )
        })
    }
}

/// The lines of a record file that are not blank.
fn lines<'t>(text: &'t [u8], loose: &mut Loose) -> Vec<Line<'t>> {
    let mut rest = text;
    if let Some(after) = rest.strip_prefix(b"\xEF\xBB\xBF") {
        loose.mark = true;
        rest = after;
    }
    while let Some(before) = rest.strip_suffix(&[END_OF_FILE]) {
        loose.end_of_file_mark = true;
        rest = before;
    }
    let mut lines = Vec::new();
    let mut number = 0;
    while !rest.is_empty() {
        number += 1;
        let end = memchr::memchr2(b'\n', b'\r', rest);
        let (line, after) = match end {
            Some(at) => {
                let width = if rest.get(at..at + 2) == Some(b"\r\n") { 2 } else { 1 };
                loose.bare_returns |= width == 1 && rest.get(at) == Some(&b'\r');
                (rest.get(..at).unwrap_or_default(), rest.get(at + width..).unwrap_or_default())
            }
            None => (rest, &[][..]),
        };
        let trimmed = line.trim_ascii();
        if trimmed.is_empty() {
            loose.blank_lines += 1;
        } else {
            loose.no_last_line_end |= end.is_none();
            loose.spaces |= trimmed.len() < line.len();
            loose.lower_case |= trimmed.iter().any(u8::is_ascii_lowercase);
            let column = line.len() - line.trim_ascii_start().len() + 1;
            lines.push(Line { number, column, text: trimmed });
        }
        rest = after;
    }
    lines
}

/// A record file as far as it has been read.
#[derive(Default)]
pub(super) struct Reading {
    problems: Problems,
    pieces: Pieces,
    loose: Loose,
    /// What is to be remarked about the file.
    pub remarks: Vec<Finding>,
    /// Line of the end record.
    pub ended: Option<usize>,
}

impl Reading {
    /// The lines that are not blank.
    pub(super) fn lines<'t>(&mut self, text: &'t [u8]) -> Vec<Line<'t>> {
        lines(text, &mut self.loose)
    }

    /// Tells a problem at the character of `line` that follows `skip` others.
    pub(super) fn problem(&mut self, line: &Line<'_>, skip: usize, what: impl Into<String>) {
        self.problems.add(line.number, line.column + skip, what);
    }

    /// Tells a problem behind the last of all `lines`.
    pub(super) fn problem_at_end(&mut self, lines: &[Line<'_>], what: &str) {
        let (line, column) = lines.last().map_or((1, 1), |l| (l.number, l.column + l.text.len()));
        self.problems.add(line, column, what);
    }

    /// Whether the file may go on with `line`: not behind its end record, which is told.
    pub(super) fn goes_on(&mut self, line: &Line<'_>) -> bool {
        if let Some(ended) = self.ended {
            let what = format!("there is more after the end record of line {ended}; nothing may follow it");
            self.problem(line, 0, what);
        }
        self.ended.is_none()
    }

    /// The bytes that the digits of `line` from character `skip` on stand for; `None` after telling a problem.
    pub(super) fn digits(&mut self, line: &Line<'_>, skip: usize) -> Option<Vec<u8>> {
        let digits = line.text.get(skip..).unwrap_or_default();
        if let Some(at) = digits.iter().position(|c| !c.is_ascii_hexdigit()) {
            let bad = shown(digits.get(at).copied().unwrap_or_default());
            self.problem(
                line,
                skip + at,
                format!("{bad} is no hexadecimal digit; expected 0 to 9 or A to F"),
            );
            return None;
        }
        if digits.len() % 2 == 1 {
            let what = format!(
                "the record ends after {}, an odd number; a digit is missing or too many",
                count(digits.len(), "digit")
            );
            self.problem(line, skip + digits.len(), what);
            return None;
        }
        let nibble = |c: u8| if c.is_ascii_digit() { c - b'0' } else { (c | 0x20) - b'a' + 10 };
        Some(
            digits
                .chunks_exact(2)
                .map(|pair| pair.iter().fold(0, |byte, &c| byte << 4 | nibble(c)))
                .collect(),
        )
    }

    /// Whether the checksum in the last two characters of `line` is the computed one; tells when it is not.
    pub(super) fn is_sealed(&mut self, line: &Line<'_>, stored: u8, computed: u8) -> bool {
        if stored != computed {
            let what =
                format!("the checksum is 0x{stored:02X}, but the record's bytes give 0x{computed:02X}");
            self.problem(line, line.text.len().saturating_sub(2), what);
        }
        stored == computed
    }

    /// Adds the data of a record, whose address follows `skip` characters of `line`.
    pub(super) fn add(&mut self, address: u64, bytes: &[u8], line: &Line<'_>, skip: usize) {
        self.pieces.add(address, bytes, line.number, line.column + skip);
    }

    /// The image, and what is to be remarked about the file, whose name ends in `ending` as a rule.
    pub(super) fn finish(
        mut self,
        lines: &[Line<'_>],
        ending: &str,
    ) -> Result<(Image, Vec<Finding>), Rejected> {
        if self.pieces.pieces.is_empty() && self.problems.kept.is_empty() {
            self.problem_at_end(lines, "the file has no data record");
        }
        let image = self.pieces.into_image(&mut self.problems);
        self.problems.into_result()?;
        self.remarks.extend(self.loose.finding(ending));
        Ok((image.unwrap_or_else(|| Image::raw(Vec::new())), self.remarks))
    }
}

/// The end of an image, if record files hold it; `holds` is their name with its verb.
pub(super) fn end(image: &Image, holds: &str) -> Result<u64, Refusal> {
    let end = image.address(image.len());
    if end > ADDRESSES {
        return Err(Refusal {
            what: format!("the image ends at 0x{end:X}, and {holds} addresses up to 0xFFFFFFFF"),
            advice: "give a lower base address (--base 0)".to_owned(),
        });
    }
    Ok(end)
}

/// Appends a record: its mark, then the digits of all bytes.
pub(super) fn push(text: &mut Vec<u8>, mark: &[u8], bytes: &[&[u8]]) {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    text.extend_from_slice(mark);
    for &byte in bytes.iter().copied().flatten() {
        text.extend([byte >> 4, byte & 0xF].map(|nibble| DIGITS[usize::from(nibble)]));
    }
    text.push(b'\n');
}

/// A character of a record file, quoted for a message.
pub(super) fn shown(byte: u8) -> String {
    if byte.is_ascii_graphic() || byte == b' ' {
        format!("\"{}\"", char::from(byte))
    } else {
        format!("the byte 0x{byte:02X}")
    }
}

/// Bytes of a record file at an address, and the line that holds them.
struct Piece {
    address: u64,
    line: usize,
    column: usize,
    data: Span,
}

/// The pieces of memory of a record file.
#[derive(Default)]
struct Pieces {
    data: Vec<u8>,
    pieces: Vec<Piece>,
}

impl Pieces {
    /// Adds the data of one record; `column` is where its address stands.
    fn add(&mut self, address: u64, bytes: &[u8], line: usize, column: usize) {
        if !bytes.is_empty() {
            let data = Span::of(self.data.len(), bytes.len());
            self.data.extend_from_slice(bytes);
            self.pieces.push(Piece { address, line, column, data });
        }
    }

    /// The image of the pieces; `None` after telling why there is none.
    fn into_image(mut self, problems: &mut Problems) -> Option<Image> {
        self.pieces.sort_by_key(|p| (p.address, p.line));
        let end = |p: &Piece| p.address + p.data.len() as u64;
        // The piece that reaches furthest among those before: only with it can the next one overlap.
        let mut furthest: Option<&Piece> = None;
        let mut sound = true;
        for piece in &self.pieces {
            if let Some(before) = furthest.filter(|b| end(b) > piece.address) {
                let (first, second) =
                    if before.line < piece.line { (before, piece) } else { (piece, before) };
                let shared = Span::new(
                    first.address.max(second.address) as usize,
                    end(first).min(end(second)) as usize,
                );
                let of = |p: &Piece| {
                    let skip = shared.start - p.address as usize;
                    self.data.get(p.data.start + skip..p.data.start + skip + shared.len())
                };
                let same = if of(first) == of(second) { "the same bytes" } else { "other bytes" };
                problems.add(
                    second.line,
                    second.column,
                    format!("{shared} is written again, with {same}; line {} wrote it first", first.line),
                );
                sound = false;
            }
            if furthest.is_none_or(|b| end(b) < end(piece)) {
                furthest = Some(piece);
            }
        }
        let (first, last) = (self.pieces.first()?, furthest?);
        let (base, span) = (first.address, end(last) - first.address);
        if span > MAX_SPAN as u64 {
            problems.add(
                last.line,
                last.column,
                format!(
                    "from 0x{base:04X} (line {}) to 0x{:04X} the file spans {span} bytes; at most {MAX_SPAN} are taken",
                    first.line,
                    end(last),
                ),
            );
            sound = false;
        }
        if !sound {
            return None;
        }
        let mut bytes = vec![GAP_FILL; span as usize];
        let mut gaps = Vec::new();
        let mut mapped = 0;
        for piece in &self.pieces {
            let at = (piece.address - base) as usize;
            if at > mapped {
                gaps.push(Span::new(mapped, at));
            }
            mapped = at + piece.data.len();
            if let (Some(to), Some(from)) = (bytes.get_mut(at..mapped), piece.data.of_bytes(&self.data)) {
                to.copy_from_slice(from);
            }
        }
        Some(Image::with_gaps(base, bytes, gaps))
    }
}
