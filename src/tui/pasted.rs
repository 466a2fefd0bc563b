//! Bytes out of pasted text: hexadecimal digits however they are usually written, with what was left out told.
//!
//! Nothing is guessed silently. A text that can be read in two ways is refused; what is no byte (addresses in front
//! of the lines of a dump, its text column, words around the values of a source file) is left out only where the
//! rest shows that it is none, and is listed.

use crate::report::text;

/// What a text holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pasted {
    /// The bytes.
    pub bytes: Vec<u8>,
    /// What of the text is none of them, in words; empty when that is nothing but separators.
    pub left_out: Vec<String>,
}

/// More bytes in a line than any dump has.
const MOST_IN_LINE: usize = 256;

/// Reads a text.
///
/// # Errors
/// Why it cannot be read, in words.
pub fn read(pasted: &str) -> Result<Pasted, String> {
    let blank = |c: char| c.is_whitespace() || is_invisible(c);
    let lines: Vec<&str> =
        pasted.split(['\n', '\r']).map(|l| l.trim_matches(blank)).filter(|l| !l.is_empty()).collect();
    if lines.is_empty() {
        return Err("The paste holds no digits".into());
    }
    refuse_records(&lines)?;
    match dump(&lines)? {
        Some(pasted) => Ok(pasted),
        None => values(pasted),
    }
}

/// What editors and pages put into text unseen.
fn is_invisible(c: char) -> bool {
    matches!(c, '\u{feff}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2060}' | '\0')
}

/// Records hold lengths, addresses and sums besides bytes; as digits they would be written into the image.
fn refuse_records(lines: &[&str]) -> Result<(), String> {
    let all_hex = |text: &str| text.len() >= 10 && text.bytes().all(|b| b.is_ascii_hexdigit());
    let intel = |l: &&str| l.strip_prefix(':').is_some_and(all_hex);
    let motorola = |l: &&str| l.strip_prefix('S').is_some_and(|rest| all_hex(rest) && rest.len() % 2 == 1);
    let kind = if lines.iter().all(intel) {
        "Intel HEX"
    } else if lines.iter().all(motorola) {
        "S-record"
    } else {
        return Ok(());
    };
    Err(format!("This is a file of {kind} records, not bytes: save it as a file and open that"))
}

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
fn dump(lines: &[&str]) -> Result<Option<Pasted>, String> {
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

/// Bytes written as pairs of digits and nothing else.
fn pairs(word: &str) -> Option<Vec<u8>> {
    let is_hex = word.len().is_multiple_of(2) && word.bytes().all(|b| b.is_ascii_hexdigit());
    (is_hex && !word.is_empty()).then(|| crate::notation::get::hex_bytes(word)).flatten()
}

/// A word of a text without addresses.
enum Word<'a> {
    /// Said to be hexadecimal: `0x46`, `\x46`, `$46`, `46h`.
    Marked(Vec<u8>),
    /// Pairs of digits.
    Pairs(Vec<u8>),
    /// Anything else.
    Other(&'a str),
}

fn word(word: &str) -> Result<Word<'_>, String> {
    if word.starts_with("\\x") || word.starts_with("\\X") {
        let mut bytes = Vec::new();
        for piece in word.split("\\x").flat_map(|w| w.split("\\X")).skip(1) {
            let byte = pairs(piece).filter(|b| b.len() == 1);
            bytes.extend(
                byte.ok_or_else(|| format!("{:?} is not \\x with two digits each", text::cut(word, 20)))?,
            );
        }
        return Ok(Word::Marked(bytes));
    }
    let marked =
        word.strip_prefix("0x").or_else(|| word.strip_prefix("0X")).or_else(|| word.strip_prefix('$'));
    let marked =
        marked.or_else(|| word.strip_suffix(['h', 'H']).filter(|w| w.bytes().all(|b| b.is_ascii_hexdigit())));
    match marked {
        // A value may be one digit, as it may not among pairs.
        Some(digits) if digits.len() == 1 => {
            let byte = pairs(&format!("0{digits}")).ok_or_else(|| odd(word))?;
            Ok(Word::Marked(byte))
        }
        Some(digits) => pairs(digits).map(Word::Marked).ok_or_else(|| odd(word)),
        None => Ok(pairs(word).map_or(Word::Other(word), Word::Pairs)),
    }
}

/// What is wrong with a word that should be digits.
fn odd(word: &str) -> String {
    let shown = text::cut(word, 20);
    let plain = word.trim_start_matches("0x").trim_start_matches("0X").trim_start_matches('$');
    match plain.chars().find(|c| !c.is_ascii_hexdigit()) {
        Some(c) => format!("{c:?} in {shown:?} is no hexadecimal digit"),
        None => format!("{shown:?} has an odd number of digits"),
    }
}

/// What may stand between values.
fn is_separator(c: char) -> bool {
    c.is_whitespace() || is_invisible(c) || ",;:-_|/\"'`{}()<>=+&“”‘’«»–—·•".contains(c)
}

fn values(pasted: &str) -> Result<Pasted, String> {
    let (code, comments) = without_comments(pasted);
    let mut words = Vec::new();
    let mut left_out: Vec<String> = comments.then(|| "comments".to_owned()).into_iter().collect();
    let mut rest = code.as_str();
    while !rest.is_empty() {
        rest = rest.trim_start_matches(is_separator);
        // The number of values in front of them, as in `mark[16]`, is none of them.
        if let Some(inside) = rest.strip_prefix('[') {
            let (size, after) = inside.split_once(']').unwrap_or((inside, ""));
            let holds_values =
                size.contains(',') || size.contains("0x") || size.split_whitespace().count() > 1;
            if !holds_values && after.contains("0x") {
                left_out.push(format!("[{}]", text::cut(size, 20)));
                rest = after;
            } else {
                rest = inside;
            }
            continue;
        }
        rest = rest.trim_start_matches(']');
        let end = rest.find(|c| is_separator(c) || "[]".contains(c)).unwrap_or(rest.len());
        let (one, after) = rest.split_at(end);
        if !one.is_empty() {
            words.push((one, word(one)?));
        }
        rest = after;
    }
    let marked = words.iter().filter(|(_, w)| matches!(w, Word::Marked(_))).count();
    // One 0x in front of everything marks all of it; more mark each its own value, and the rest is something else.
    let each = marked > 1 || (marked == 1 && words.iter().any(|(_, w)| matches!(w, Word::Other(_))));
    let mut bytes = Vec::new();
    for (written, word) in words {
        match word {
            Word::Marked(read) => bytes.extend(read),
            Word::Pairs(_) if each => {
                return Err(format!(
                    "Some values are marked as hexadecimal and {:?} is not",
                    text::cut(written, 20)
                ));
            }
            Word::Pairs(read) => bytes.extend(read),
            Word::Other(word) if each => left_out.push(text::cut(word, 20).into_owned()),
            Word::Other(word) => return Err(odd(word)),
        }
    }
    if bytes.is_empty() {
        return Err("The paste holds no hexadecimal digits".into());
    }
    Ok(Pasted { bytes, left_out })
}

/// A text without comments of common languages, and whether it had any.
fn without_comments(text: &str) -> (String, bool) {
    let (mut kept, mut rest, mut found) = (String::with_capacity(text.len()), text, false);
    while let Some(at) = rest.find("//").into_iter().chain(rest.find("/*")).min() {
        let (before, comment) = rest.split_at(at);
        kept.push_str(before);
        kept.push(' ');
        let end = if comment.starts_with("//") {
            comment.find(['\n', '\r'])
        } else {
            comment.find("*/").map(|end| end + 2)
        };
        rest = end.and_then(|end| comment.get(end..)).unwrap_or("");
        found = true;
    }
    kept.push_str(rest);
    (kept, found)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[track_caller]
    fn bytes(pasted: &str, bytes: &[u8], left_out: &[&str]) {
        let read = read(pasted).unwrap_or_else(|e| panic!("{pasted:?}: {e}"));
        assert_eq!(read.bytes, bytes, "{pasted:?}");
        assert_eq!(read.left_out, left_out, "{pasted:?}");
    }

    #[track_caller]
    fn refused(pasted: &str, why: &str) {
        let told = read(pasted).expect_err(pasted);
        assert!(told.contains(why), "{pasted:?}: {told}");
    }

    const FK: &[u8] = b"FKCR8";

    #[test]
    fn digits_are_read_with_anything_usual_between_them() {
        for pasted in [
            "464B435238",
            "46 4b 43 52 38",
            "46,4B,43,52,38",
            "46:4B:43:52:38",
            "46-4B-43-52-38\r\n",
            "464B 4352 38",
            "46\n4B\n43\n52\n38\n",
            "\u{feff}46\u{a0}4B\u{200b}\t43 | 52 | 38",
            "“46 4B 43 52 38”",
            "0x464B435238",
            "0x46 4B 43 52 38",
            "0x46, 0x4B, 0x43, 0x52, 0x38,",
            "{ 0x46, 0x4b, 0X43, 0x52, 0x38 };",
            "[0x46, 0x4B, 0x43, 0x52, 0x38]",
            "[46, 4B, 43, 52, 38]",
            r"\x46\x4B\x43\x52\x38",
            r#""\x46\x4b" "\x43\x52\x38""#,
            "$46 $4B $43 $52 $38",
            "46h, 4Bh, 43h, 52H, 38h",
        ] {
            bytes(pasted, FK, &[]);
        }
        bytes("0x4, 0x0, 0xF", &[4, 0, 15], &[]);
    }

    #[test]
    fn what_a_source_file_says_around_its_values_is_left_out_and_told() {
        bytes(
            "static const uint8 mark[5] = {0x46, 0x4B, 0x43, 0x52, 0x38};",
            FK,
            &["[5]", "static", "const", "uint8", "mark"],
        );
        bytes(
            "mark[16] = {0x46, // first\n 0x4B, /* DE AD */ 0x43, 0x52, 0x38}",
            FK,
            &["comments", "[16]", "mark"],
        );
    }

    #[test]
    fn addresses_and_the_text_of_a_dump_are_left_out_and_told() {
        let addresses = "the addresses";
        bytes("0040: 46 4B\n0042: 43 52\n0044: 38", FK, &[addresses]);
        bytes("0x0040  46 4B 43 52 38  FKCR8", FK, &["the address 40", "the text column"]);
        bytes("00000000: 464B 4352 38  FKCR8", FK, &["the address 0", "the text column"]);
        bytes("00000000  46 4b 43 52 38  |FKCR8|", FK, &["the address 0", "the text column"]);
        // Texts that look like digits are told from bytes by the bytes.
        bytes("0040  41 42 43 44  ABCD\n0044  45 46  EF", b"ABCDEF", &[addresses, "the text column"]);
        bytes("0040  41 42 20 43 44  AB CD", b"AB CD", &["the address 40", "the text column"]);
        // As the editor itself shows bytes.
        let shown = " 0000  46 4B 43 52 38 03 20 00  FF FF FF FF FF FF FF FF  FKCR8. .........\n \
                     0010  43 4F 4C 44 20 52 4F 4F  4D 20 43 54 52 4C 20 20  COLD ROOM CTRL";
        let read = read(shown).unwrap();
        assert_eq!(read.bytes[..9], [0x46, 0x4B, 0x43, 0x52, 0x38, 3, 0x20, 0, 0xFF]);
        assert_eq!((read.bytes.len(), &read.bytes[16..]), (32, &b"COLD ROOM CTRL  "[..]));
        assert_eq!(read.left_out, [addresses, "the text column"]);
    }

    #[test]
    fn words_that_only_resemble_addresses_are_bytes() {
        bytes("464B 4352\n3803 2000", &[0x46, 0x4B, 0x43, 0x52, 0x38, 0x03, 0x20, 0x00], &[]);
        bytes("464B  4352", &[0x46, 0x4B, 0x43, 0x52], &[]);
        bytes("464B 43 52 38", FK, &[]);
        bytes("46:4B", &[0x46, 0x4B], &[]);
    }

    #[test]
    fn what_can_be_read_in_two_ways_or_in_none_is_refused() {
        refused("", "no digits");
        refused(" \n\t", "no digits");
        refused("-, -", "no hexadecimal digits");
        refused("464", "odd number of digits");
        refused("4 6 4", "odd number of digits");
        refused("0x464", "odd number of digits");
        refused("46 4G", "'G'");
        refused("46 4B hello", "'h'");
        refused("0x46, 0x4B, 43", "\"43\" is not");
        refused(r"\x46K", "two digits each");
        refused(":10010000214601360121470136007EFE09D2190140", "Intel HEX");
        refused("S1137AF00A0A0D0000000000000000000000000061", "S-record");
        refused("0040: 46 4B\n0060: 43 52", "does not reach the next");
        refused("0040: 46 4B\n0030: 43 52", "do not follow each other");
        refused("0040: 46 4B\n*\n0060: 43 52", "no hexadecimal digit");
        refused("0040: 46 4B 43  XYZ", "is not their text");
        refused("４６", "no hexadecimal digit");
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused_and_nothing_panics(text in "\\PC{0,80}|[0-9A-Fa-fxh:|,\\\\\\[\\]{} \\n]{0,80}") {
            let _ = read(&text);
        }

        #[test]
        fn a_dump_of_any_bytes_gives_those_bytes(
            bytes in proptest::collection::vec(any::<u8>(), 1..80),
            first in 0usize..0x9000,
            per_row in prop::sample::select(vec![4usize, 8, 16]),
        ) {
            let shown = |b: &u8| if (0x20..0x7F).contains(b) { char::from(*b) } else { '.' };
            let rows = bytes.chunks(per_row).enumerate().map(|(i, row)| {
                let text: String = row.iter().map(shown).collect();
                let digits = crate::report::text::hex(row);
                format!("{:04X}  {digits:width$}  {text}\n", first + i * per_row, width = per_row * 3 - 1)
            });
            let dump: String = rows.collect();
            // A text that would be bytes in the reading of its own line is refused, never taken for bytes.
            if let Ok(read) = read(&dump) {
                prop_assert_eq!(read.bytes, bytes, "{}", dump);
            }
        }

        #[test]
        fn bytes_written_with_any_separator_are_those_bytes(
            bytes in proptest::collection::vec(any::<u8>(), 1..40),
            between in prop::sample::select(vec!["", " ", ",", ", ", ":", "-", "\n", "\t", " | "]),
        ) {
            let digits: Vec<String> = bytes.iter().map(|b| format!("{b:02X}")).collect();
            prop_assert_eq!(read(&digits.join(between)).unwrap().bytes, bytes.clone());
            let marked: Vec<String> = bytes.iter().map(|b| format!("0x{b:x}")).collect();
            prop_assert_eq!(read(&marked.join(", ")).unwrap().bytes, bytes);
        }
    }
}
