//! Bytes out of pasted text: hexadecimal digits however they are usually written, with what was left out told.
//!
//! Nothing is guessed silently. A text that can be read in two ways is refused; what is no byte (addresses in front
//! of the lines of a dump, its text column, words around the values of a source file) is left out only where the
//! rest shows that it is none, and is listed.

mod dump;

use crate::report::text;

/// What a text holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pasted {
    /// The bytes.
    pub bytes: Vec<u8>,
    /// What of the text is none of them, in words; empty when that is nothing but separators.
    pub left_out: Vec<String>,
}

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
    match dump::read(&lines)? {
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
