//! Bytes out of a dump: addresses in front of the lines, perhaps their text behind the bytes.

use super::{Pasted, pairs};
use crate::report::text;

/// More bytes in a line than any dump has.
const MOST_IN_LINE: usize = 256;

/// A line of a dump: its address, and the rest.
struct Row<'a> {
    address: u64,
    has_colon: bool,
    digits: usize,
    rest: &'a str,
}

fn row(line: &str) -> Option<Row<'_>> {
    let line = line.strip_prefix("0x").or_else(|| line.strip_prefix("0X")).unwrap_or(line);
    let digits = line.bytes().take_while(u8::is_ascii_hexdigit).count();
    let address = u64::from_str_radix(line.get(..digits)?, 16).ok()?;
    let after = line.get(digits..)?;
    let (has_colon, rest) = match after.strip_prefix(':') {
        Some(rest) => (true, rest),
        None => (false, after),
    };
    let stands_alone = rest.starts_with(char::is_whitespace);
    (stands_alone && digits >= if has_colon { 2 } else { 4 }).then_some(Row {
        address,
        has_colon,
        digits,
        rest,
    })
}

/// The bytes of a dump whose every line begins with an address; `None` when the text is none.
pub(super) fn read(lines: &[&str]) -> Result<Option<Pasted>, String> {
    let Some(rows) = lines.iter().map(|l| row(l)).collect::<Option<Vec<Row<'_>>>>() else { return Ok(None) };
    // Without a colon only something longer than any byte, and written like no other word, is an address.
    let first = |row: &Row<'_>| row.rest.split_whitespace().next().map_or(0, str::len);
    let looks = |row: &Row<'_>| row.has_colon || first(row) < row.digits;
    // A line alone has no other one that would prove its address.
    let is_apart = |row: &Row<'_>| row.has_colon || row.rest.starts_with("  ") || row.rest.starts_with('\t');
    if !rows.iter().all(looks) || (rows.len() == 1 && !rows.iter().all(is_apart)) {
        return Ok(None);
    }
    let mut bytes: Vec<u8> = Vec::new();
    let (mut has_text, mut before) = (false, 0);
    for (at, row) in rows.iter().enumerate() {
        let wanted = match rows.get(at + 1) {
            Some(next) => {
                let apart = next.address.checked_sub(row.address).and_then(|n| usize::try_from(n).ok());
                let apart = apart.filter(|n| (1..=MOST_IN_LINE).contains(n));
                Some(apart.ok_or_else(|| {
                    format!(
                        "The lines of the paste do not follow each other: {:X} is followed by {:X}",
                        row.address, next.address
                    )
                })?)
            }
            None => None,
        };
        let most = wanted.unwrap_or(if before > 0 { before } else { MOST_IN_LINE });
        let (read, rest) = row_bytes(row.rest, most)?;
        if wanted.is_some_and(|n| n != read.len()) || read.is_empty() {
            return Err(format!("The line of the paste at {:X} does not reach the next one", row.address));
        }
        before = before.max(read.len());
        if !rest.is_empty() {
            if !is_text_of(rest, &read) {
                return Err(format!(
                    "{:?} behind the bytes at {:X} is not their text",
                    text::cut(rest, 20),
                    row.address
                ));
            }
            has_text = true;
        }
        bytes.extend(read);
    }
    let mut left_out = vec![match rows.as_slice() {
        [only] => format!("the address {:X}", only.address),
        _ => "the addresses".to_owned(),
    }];
    if has_text {
        left_out.push("the text column".into());
    }
    Ok(Some(Pasted { bytes, left_out }))
}

/// At most `most` bytes from the beginning of a line, and what stands behind them.
fn row_bytes(line: &str, most: usize) -> Result<(Vec<u8>, &str), String> {
    let mut bytes = Vec::new();
    let mut rest = line.trim_start();
    while !rest.is_empty() && bytes.len() < most && !rest.starts_with('|') {
        let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        let Some(read) = pairs(word).filter(|read| bytes.len() + read.len() <= most) else { break };
        bytes.extend(read);
        let gap = after.len() - after.trim_start().len();
        rest = after.trim_start();
        // Behind a gap may be the text column, and that may look like digits.
        if gap > 1 && is_text_of(rest, &bytes) {
            break;
        }
    }
    Ok((bytes, rest))
}

/// Whether a text is how a dump shows `bytes`: each character the one of the byte, or a sign where that has none.
fn is_text_of(text: &str, bytes: &[u8]) -> bool {
    let inside = text.strip_prefix('|').map_or(text, |t| t.trim_end().strip_suffix('|').unwrap_or(t));
    let shown = |c: char, byte: u8| {
        if (0x21..0x7F).contains(&byte) { c == char::from(byte) } else { !c.is_ascii_alphanumeric() }
    };
    let count = inside.chars().count();
    // Blanks at the beginning and the end may be gone.
    let whole = |skip: usize| {
        count + skip <= bytes.len()
            && inside.chars().zip(bytes.iter().skip(skip)).all(|(c, b)| shown(c, *b))
            && bytes.iter().take(skip).all(|b| *b == b' ')
            && bytes.iter().skip(skip + count).all(|b| *b == b' ')
    };
    count > 0 && (0..bytes.len()).any(whole)
}
