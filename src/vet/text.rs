//! Was the file taken for text, or is it text?
//!
//! A read that goes through a mail, a chat or an editor may come back rewritten: each byte above 7F as two, or lost;
//! each line feed with a carriage return. And what is called a read may be a listing for the eye.

use memchr::memmem;

use crate::chip;
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::count;

/// Rewritten bytes below this may be the memory's own.
const LEAST_REWRITTEN: usize = 8;
/// U+FFFD in UTF-8, which stands where something was no text.
const REPLACED: &[u8] = &[0xEF, 0xBF, 0xBD];
/// Text shorter than this may be all that a small memory holds.
const LEAST_TEXT: usize = 512;

/// The bytes as text, when they are nothing else.
pub(super) fn plain(bytes: &[u8]) -> Option<&str> {
    let is_plain = |text: &&str| text.chars().all(|c| !c.is_control() || c.is_ascii_whitespace());
    std::str::from_utf8(bytes).ok().filter(is_plain)
}

/// A finding when bytes were rewritten on the way, or when the file is text alone.
pub(super) fn check(image: &Image) -> Option<Finding> {
    let bytes = image.bytes();
    let text = std::str::from_utf8(bytes).ok();
    let replaced: Vec<usize> = memmem::find_iter(bytes, REPLACED).collect();
    if let (Some(_), Some(&first)) = (text, replaced.first())
        && replaced.len() >= LEAST_REWRITTEN
    {
        return Some(rewritten(
            format!(
                "the replacement character of UTF-8 (EF BF BD) stands {} times where other bytes were",
                replaced.len()
            ),
            Span::of(first, REPLACED.len()),
        ));
    }
    let is_chip = |bytes: usize| chip::of_size(bytes).next().is_some();
    if is_chip(bytes.len()) || !image.gaps().is_empty() {
        return None;
    }
    if let Some(text) = text {
        let above = text.chars().filter(|c| !c.is_ascii()).count();
        let first = text.find(|c: char| !c.is_ascii());
        if let Some(first) = first
            && above >= LEAST_REWRITTEN
            && text.chars().all(|c| c <= '\u{FF}')
            && is_chip(bytes.len() - above)
        {
            return Some(rewritten(
                format!(
                    "every byte above 7F stands there as two bytes of UTF-8; as single bytes the file would have {}",
                    bytes.len() - above
                ),
                Span::of(first, 2),
            ));
        }
    }
    let feeds = memchr::memchr_iter(b'\n', bytes).count();
    let both: Vec<usize> = memmem::find_iter(bytes, b"\r\n").collect();
    let plain = plain(bytes);
    if let Some(&first) = both.first()
        && plain.is_none()
        && feeds == both.len()
        && feeds >= LEAST_REWRITTEN / 2
        && is_chip(bytes.len() - feeds)
    {
        return Some(rewritten(
            format!(
                "each of its {feeds} line feeds (0A) stands behind a carriage return (0D); without these the file would have {} bytes",
                bytes.len() - feeds
            ),
            Span::of(first, 2),
        ));
    }
    plain.filter(|text| text.len() >= LEAST_TEXT).map(listing)
}

fn rewritten(seen: String, first: Span) -> Finding {
    Finding::new(
        Weight::Fault,
        Code::TakenForText,
        seen,
        "a mail, a chat or an editor took the file for text and rewrote it",
        "get the file again in an archive or as Intel HEX, which text programs leave alone, or read the chip again",
    )
    .at(first)
}

fn listing(text: &str) -> Finding {
    const SHOWN: usize = 32;
    let line = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default().trim();
    let head: String = line.chars().take(SHOWN).collect();
    let dots = if line.chars().count() > SHOWN { "…" } else { "" };
    Finding::new(
        Weight::Fault,
        Code::TextFile,
        format!("the file is text, {}: \"{head}{dots}\"", count(text.lines().count(), "line")),
        "a listing for the eye, a letter or another document, and not the bytes of a memory",
        "save the read as raw bytes, Intel HEX or S-record, and vet that file",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 256 bytes, the size of a 24C02 (common practice, no source), with every value once.
    fn memory() -> Vec<u8> {
        (0..=255_u8).map(|b| b.wrapping_mul(77)).collect()
    }

    fn told(bytes: &[u8]) -> Option<(Code, String)> {
        check(&Image::raw(bytes.to_vec())).map(|f| (f.code, f.seen))
    }

    #[test]
    fn a_read_that_was_taken_for_text_is_told_with_what_became_of_it() {
        // Latin-1 to UTF-8 and the replacement character as the standard library writes them (Unicode, chapter 3.9).
        let mut plainer = memory();
        plainer[..100].fill(b'A');
        let latin: String = plainer.into_iter().map(char::from).collect();
        let found = check(&Image::raw(latin.clone().into_bytes())).unwrap();
        assert_eq!(found.code, Code::TakenForText);
        assert!(found.seen.ends_with("as single bytes the file would have 256"), "{}", found.seen);
        assert_eq!(found.place, latin.find(|c: char| !c.is_ascii()).map(|at| Span::of(at, 2)));
        let lossy = String::from_utf8_lossy(&memory()).into_owned();
        let (code, seen) = told(lossy.as_bytes()).unwrap();
        assert_eq!(code, Code::TakenForText);
        assert!(seen.contains("EF BF BD"), "{seen}");
        let mut feeds = memory();
        feeds[100..104].copy_from_slice(b"\nA\nB");
        feeds[200..202].copy_from_slice(b"\nC");
        let dos: Vec<u8> =
            feeds.iter().flat_map(|&b| if b == b'\n' { vec![b'\r', b'\n'] } else { vec![b] }).collect();
        let (code, seen) = told(&dos).unwrap();
        assert_eq!(code, Code::TakenForText);
        assert!(seen.contains("each of its 4 line feeds") && seen.contains("would have 256 bytes"), "{seen}");
        // Fewer may be the memory's own.
        let mut few = memory();
        few.retain(|&b| b != b'\n' && b != b'\r');
        few.truncate(253);
        few.extend(b"\r\n\r\n\r\n");
        assert_eq!((few.len() - 3, told(&few)), (256, None));
    }

    #[test]
    fn a_listing_is_text_and_no_read() {
        let lines: Vec<String> = memory()
            .repeat(2)
            .chunks(16)
            .map(|row| row.iter().map(|b| format!("{b:02X} ")).collect::<String>())
            .collect();
        let (code, seen) = told(lines.join("\r\n").as_bytes()).unwrap();
        assert_eq!(code, Code::TextFile);
        assert!(seen.starts_with("the file is text, 32 lines: \"00 4D 9A "), "{seen}");
        assert!(seen.ends_with("…\""), "a long line is cut\n{seen}");
        let (_, seen) = told("46 4B 43 52\n".repeat(100).as_bytes()).unwrap();
        assert!(seen.ends_with(": \"46 4B 43 52\""), "{seen}");
    }

    #[test]
    fn what_a_memory_may_hold_is_left_alone() {
        for bytes in [memory(), vec![b'A'; 2048], vec![b'A'; 100], memory()[..200].to_vec(), Vec::new()] {
            assert_eq!(told(&bytes), None);
        }
    }
}
