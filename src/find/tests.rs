//! Texts found in every way they are stored, and what is only like them.

use super::*;

fn hits(bytes: &[u8], wanted: &str) -> Vec<Hit> {
    find(&Image::raw(bytes.to_vec()), wanted).hits
}

fn first(bytes: &[u8], wanted: &str) -> (usize, usize, String, bool, String) {
    let hit = hits(bytes, wanted).into_iter().next().unwrap();
    (hit.place.start, hit.place.len(), hit.stored_as(), hit.exact, hit.text)
}

const PART: &str = "FK-CR8-2047B";

/// The part in the middle of fill.
fn among(stored: &[u8]) -> Vec<u8> {
    [&[0xFF; 20][..], stored, &[0xFF; 20]].concat()
}

#[test]
fn every_encoding_is_found_and_named() {
    let ascii = PART.as_bytes();
    let wide =
        |high: bool| ascii.iter().flat_map(|&b| if high { [0, b] } else { [b, 0] }).collect::<Vec<u8>>();
    let mut swapped = ascii.to_vec();
    swapped.chunks_exact_mut(2).for_each(|w| w.swap(0, 1));
    let parity = |b: &u8| if b.count_ones() % 2 == 1 { b | 0x80 } else { *b };
    let cases: Vec<(Vec<u8>, &str)> = vec![
        (ascii.to_vec(), "text"),
        (b"fk-cr8-2047b".to_vec(), "text"),
        (b"FKCR82047B".to_vec(), "text, separated otherwise"),
        (b"FK CR8/2047B".to_vec(), "text, separated otherwise"),
        (wide(true), "UTF-16 text, high byte first"),
        (wide(false), "UTF-16 text, low byte first"),
        (swapped, "text with the bytes of 16-bit words swapped"),
        (ascii.iter().flat_map(|&b| [b, 0x5A]).collect(), "text in every other byte"),
        (ascii.iter().rev().copied().collect(), "text backwards"),
        (ascii.iter().map(parity).collect(), "text with a parity bit"),
        (ascii.iter().map(|b| !b).collect(), "text with inverted bits"),
        (ascii.iter().map(|b| b.reverse_bits()).collect(), "text with reversed bits"),
        (ascii.iter().map(|b| b.rotate_left(4)).collect(), "text with the halves of bytes swapped"),
        (b"FK-CR8\0\0\0\x012047B".to_vec(), "text, in two parts, 4 bytes between"),
    ];
    for (stored, words) in cases {
        let (at, len, stored_as, exact, _) = first(&among(&stored), PART);
        assert!(exact, "{words}");
        assert_eq!(stored_as, words);
        assert!((19..=20).contains(&at) && len + 1 >= stored.len(), "{words}: {at} {len}");
    }
}

#[test]
fn digits_are_found_packed_unpacked_and_as_a_number() {
    let serial = "2207140312";
    let cases: [(&[u8], &str); 5] = [
        (&[0x22, 0x07, 0x14, 0x03, 0x12], "packed digits"),
        (&[0x22, 0x70, 0x41, 0x30, 0x21], "packed digits, low half first"),
        (&[2, 2, 0, 7, 1, 4, 0, 3, 1, 2], "digits, one a byte"),
        (&[0x83, 0x8E, 0x49, 0xD8], "binary number, high byte first"),
        (&[0xD8, 0x49, 0x8E, 0x83], "binary number, low byte first"),
    ];
    for (stored, words) in cases {
        let (at, len, stored_as, exact, text) = first(&among(stored), serial);
        assert_eq!(
            (at, len, stored_as.as_str(), exact, text.as_str()),
            (20, stored.len(), words, true, serial)
        );
    }
    // From the middle of a byte on.
    let hit = hits(&among(&[0xF2, 0x20, 0x71, 0x40, 0x31, 0x2F]), serial).remove(0);
    assert_eq!((hit.place, hit.bit, hit.encoding), (Span::of(20, 6), 4, Encoding::PackedDigits));
}

#[test]
fn a_near_miss_is_shown_and_never_called_a_match() {
    let found = find(&Image::raw(among(b"FK-CR8-2O47B")), PART);
    assert!(!found.is_exact());
    assert_eq!(found.hits[0].differs, [Difference { place: 9, wanted: Some('0'), stored: Some('O') }]);
    assert_eq!(found.findings[0].code, Code::NearMiss);
    assert_eq!(
        found.findings[0].means,
        "one character differs, so this is another part until the label says otherwise"
    );
    for (stored, differ) in [("FK-CR8-2O47D", 2), ("FK-CR8-247B", 1), ("FK-CR8-20447B", 1), ("FKCR82O47B", 1)]
    {
        let found = find(&Image::raw(among(stored.as_bytes())), PART);
        assert_eq!((found.is_exact(), found.hits[0].differs.len()), (false, differ), "{stored}");
    }
    assert_eq!(find(&Image::raw(among(b"FK-CRO-2O47D")), PART).hits, []);
}

#[test]
fn one_place_gives_one_hit_and_the_exact_one_comes_first() {
    let mut bytes = among(b"FK-CR8-2O47B");
    bytes.extend(among(PART.as_bytes()));
    let found = hits(&bytes, PART);
    let summary: Vec<_> = found.iter().map(|h| (h.place.start, h.exact)).collect();
    assert_eq!(summary, [(72, true), (20, false)]);
    assert_eq!(hits(&among(b"ABCCBA"), "ABCCBA").len(), 1, "the same backwards");
}

#[test]
fn a_short_text_says_how_many_hits_chance_would_give() {
    let bytes: Vec<u8> = (0..=255).cycle().take(65536).collect();
    let found = find(&Image::raw(bytes), "7B");
    assert!(found.by_chance > 0.9, "{}", found.by_chance);
    assert!(found.findings.iter().any(|f| f.code == Code::ShortText));
    let long = find(&Image::raw(among(PART.as_bytes())), PART);
    assert!(long.by_chance < 1e-6 && long.findings.is_empty());
}

#[test]
fn what_chance_would_give_is_said_in_words() {
    assert_eq!(hits_in_words(41.6), "about 42 hits");
    assert_eq!(hits_in_words(1.04), "about 1.0 hits");
    assert_eq!(hits_in_words(0.25), "a hit in one image of 4");
    assert_eq!(hits_in_words(0.9), "a hit in one image of 2");
}

#[test]
fn nothing_to_search_for_is_refused_and_finds_nothing() {
    assert!(refusal("  ").is_some() && refusal("Kälte").is_some() && refusal(PART).is_none());
    assert_eq!(find(&Image::raw(among(PART.as_bytes())), "").hits, []);
    assert_eq!(hits(&[], PART), []);
    assert_eq!(hits(b"F", PART), []);
}

#[test]
fn what_is_not_mapped_is_not_searched() {
    let bytes = among(PART.as_bytes());
    let image = Image::with_gaps(0, bytes, vec![Span::new(25, 28)]);
    assert_eq!(find(&image, PART).hits, []);
}

#[test]
fn in_windows_the_same_is_found_as_at_once_wherever_the_borders_lie() {
    const SIZE: usize = 12 * 40;
    let wide: Vec<u8> = PART.bytes().flat_map(|b| [b, 0]).collect();
    let swapped: Vec<u8> = PART.as_bytes().chunks(2).flat_map(|w| [w[1], w[0]]).collect();
    let parity: Vec<u8> = PART.bytes().map(|b| b | 0x80).collect();
    let stored: [&[u8]; 7] = [
        PART.as_bytes(),
        &wide,
        &swapped,
        &parity,
        b"FK-CR8-2O47B",
        b"FK-CR8\0\0\0\0\x002047B",
        b"FK.CR8.2047B",
    ];
    for stored in stored {
        for back in 0..=stored.len() {
            let mut bytes = vec![0xFF; 3 * SIZE + 7];
            // Words of 16 bits begin at even places.
            let at = (2 * SIZE - back) / 2 * 2;
            bytes[at..at + stored.len()].copy_from_slice(stored);
            let image = Image::raw(bytes);
            let once = find(&image, PART);
            let parts = in_windows(&image, PART, SIZE, &|_, _| true).unwrap();
            assert_eq!((parts.hits, parts.more), (once.hits, once.more), "{stored:02X?} at {at}");
        }
    }
    for at in [SIZE - 2, SIZE, 2 * SIZE - 1, 3 * SIZE - 5] {
        let mut bytes = vec![0xFF; 3 * SIZE];
        bytes[at..at + 5].copy_from_slice(&[0x22, 0x07, 0x14, 0x03, 0x12]);
        let found = in_windows(&Image::raw(bytes), "2207140312", SIZE, &|_, _| true).unwrap();
        assert_eq!((found.hits[0].place, found.hits[0].exact), (Span::of(at, 5), true));
    }
}

#[test]
fn a_search_that_is_stopped_says_so() {
    let image = Image::raw(vec![0xFF; 4000]);
    assert_eq!(in_windows(&image, PART, 120, &|_, _| false), None);
}

#[test]
fn a_longer_text_that_holds_the_wanted_one_is_no_match_and_is_shown_whole() {
    let longer = |stored: &[u8]| {
        let found = find(&Image::raw(among(stored)), PART);
        (found.is_exact(), found.hits[0].within.clone())
    };
    for stored in ["FK-CR8-2047BA", "FK-CR8-2047B-02", "XFK-CR8-2047B", "A/FK-CR8-2047B", "FK-CR8-2047Bx.1"] {
        assert_eq!(longer(stored.as_bytes()), (false, Some(stored.to_owned())), "{stored}");
    }
    let wide: Vec<u8> = "FK-CR8-2047BA".bytes().flat_map(|b| [b, 0]).collect();
    assert_eq!(longer(&wide), (false, Some("FK-CR8-2047BA".to_owned())));
    for stored in ["PN: FK-CR8-2047B REV 2", "PN:FK-CR8-2047B,", "FK-CR8-2047B.", "-FK-CR8-2047B--"] {
        assert_eq!(longer(stored.as_bytes()), (true, None), "{stored}");
    }
    let twice = [among(b"FK-CR8-2047BA"), among(PART.as_bytes())].concat();
    let found = find(&Image::raw(twice), PART);
    assert_eq!((found.hits[0].place.start, found.hits[1].place.start), (73, 20));
    assert!(found.is_exact() && found.findings.is_empty(), "{:?}", found.findings);
}

#[test]
fn a_text_that_is_known_to_end_there_is_whole() {
    let mut found = find(&Image::raw(among(b"FK-CR8-2047BA")), PART);
    assert_eq!(found.findings[0].code, Code::NearMiss);
    found.are_whole(|hit| hit.place.start == 20);
    assert!(found.is_exact() && found.findings.is_empty());
}
