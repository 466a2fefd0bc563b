//! Where two texts differ, character by character, and which characters are easily taken for each other.

/// One place at which what is stored is not what was wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// Which character of the wanted text, counted from 1; for one too many, the character it stands before.
    pub place: usize,
    /// The wanted character; `None` for one too many.
    pub wanted: Option<char>,
    /// The stored character; `None` for a missing one.
    pub stored: Option<char>,
}

impl Difference {
    /// Whether the two are easily taken for each other, on a label or in handwriting.
    #[must_use]
    pub fn looks_alike(&self) -> bool {
        matches!((self.wanted, self.stored), (Some(a), Some(b)) if look_alike(a, b))
    }

    /// `character 9 is the letter O, not the digit 0 (they look alike)`.
    #[must_use]
    pub fn words(&self) -> String {
        let place = self.place;
        match (self.wanted, self.stored) {
            (Some(wanted), Some(stored)) => {
                let alike = if self.looks_alike() { " (they look alike)" } else { "" };
                format!("character {place} is {}, not {}{alike}", name(stored), name(wanted))
            }
            (Some(wanted), None) => format!("character {place}, {}, is missing", name(wanted)),
            (None, Some(stored)) => format!("{} is one too many before character {place}", name(stored)),
            (None, None) => format!("character {place}"),
        }
    }
}

/// Characters that are taken for each other; each string is one family.
/// Common practice, no source.
const FAMILIES: &[&str] = &[
    "0OoQD",
    "1Il|iL",
    "2Zz",
    "5Ss",
    "6Gb",
    "8B",
    "4A",
    "7T1",
    "UVuv",
    "MN",
    "CG",
    "EF",
    "PR",
    "-_–.",
    "9gq",
    "38",
    // Letters of other alphabets and other dashes that look the same; from Unicode Technical Standard #39, confusables.
    "AАΑ",
    "BВΒ",
    "CСϹ",
    "EЕΕ",
    "HНΗ",
    "IІΙ",
    "JЈ",
    "KКΚ",
    "MМΜ",
    "NΝ",
    "OОΟ",
    "PРΡ",
    "SЅ",
    "TТΤ",
    "XХΧ",
    "YΥ",
    "ZΖ",
    "-‐‑‒–—−",
];

/// Whether two characters are easily taken for each other.
#[must_use]
pub fn look_alike(a: char, b: char) -> bool {
    a != b && FAMILIES.iter().any(|f| f.contains(a) && f.contains(b))
}

/// A character with its kind, so that a 0 and an O cannot be mixed up in a sentence.
#[must_use]
pub fn name(c: char) -> String {
    match c {
        '0'..='9' => format!("the digit {c}"),
        'A'..='Z' => format!("the letter {c}"),
        'a'..='z' => format!("the small letter {c}"),
        ' ' => "a space".to_owned(),
        '-' => "a hyphen".to_owned(),
        c if c.is_control() => format!("the character U+{:04X}", u32::from(c)),
        c if !c.is_ascii() => format!("the character {c} (U+{:04X})", u32::from(c)),
        c => format!("the character {c}"),
    }
}

/// Where `stored` differs from `wanted`; as few places as there can be. Case counts.
#[must_use]
pub fn differences(wanted: &str, stored: &str) -> Vec<Difference> {
    let (wanted, stored): (Vec<char>, Vec<char>) = (wanted.chars().collect(), stored.chars().collect());
    // Texts that are compared here are fields and part numbers; longer ones are compared by place.
    if wanted.len() == stored.len() || wanted.len().max(stored.len()) > 256 {
        return by_place(&wanted, &stored);
    }
    // Least edits: the classic table, walked back from its end.
    let (rows, columns) = (wanted.len() + 1, stored.len() + 1);
    let mut edits = vec![0_usize; rows * columns];
    for row in 0..rows {
        for column in 0..columns {
            edits[row * columns + column] = match (row, column) {
                (0, n) | (n, 0) => n,
                _ => {
                    let same = usize::from(wanted[row - 1] != stored[column - 1]);
                    let above = edits[(row - 1) * columns + column] + 1;
                    let left = edits[row * columns + column - 1] + 1;
                    above.min(left).min(edits[(row - 1) * columns + column - 1] + same)
                }
            };
        }
    }
    let (mut row, mut column) = (wanted.len(), stored.len());
    let mut found = Vec::new();
    while row > 0 || column > 0 {
        let here = edits[row * columns + column];
        let both = row > 0 && column > 0;
        if both {
            let differ = wanted[row - 1] != stored[column - 1];
            if edits[(row - 1) * columns + column - 1] + usize::from(differ) == here {
                if differ {
                    found.push(Difference {
                        place: row,
                        wanted: Some(wanted[row - 1]),
                        stored: Some(stored[column - 1]),
                    });
                }
                (row, column) = (row - 1, column - 1);
                continue;
            }
        }
        if column > 0 && edits[row * columns + column - 1] + 1 == here {
            found.push(Difference { place: row + 1, wanted: None, stored: Some(stored[column - 1]) });
            column -= 1;
        } else {
            found.push(Difference { place: row, wanted: Some(wanted[row - 1]), stored: None });
            row -= 1;
        }
    }
    found.reverse();
    found
}

/// The two texts under each other: wanted, stored, and a caret under each place where they differ. A `·` stands
/// where one of them has no character.
#[must_use]
pub fn under_each_other(wanted: &str, differs: &[Difference]) -> [String; 3] {
    let mut rows: [String; 3] = Default::default();
    let mut put = |w: char, s: char| {
        rows[0].push(w);
        rows[1].push(s);
        rows[2].push(if w == s { ' ' } else { '^' });
    };
    let extra_before = |place: usize| differs.iter().filter(move |d| d.place == place && d.wanted.is_none());
    let mut end = 1;
    for (i, c) in wanted.chars().enumerate() {
        let place = i + 1;
        for stored in extra_before(place).filter_map(|d| d.stored) {
            put('·', stored);
        }
        match differs.iter().find(|d| d.place == place && d.wanted.is_some()) {
            Some(differ) => put(c, differ.stored.unwrap_or('·')),
            None => put(c, c),
        }
        end = place + 1;
    }
    for stored in differs.iter().filter(|d| d.place >= end && d.wanted.is_none()).filter_map(|d| d.stored) {
        put('·', stored);
    }
    rows.map(|row| row.trim_end().to_owned())
}

fn by_place(wanted: &[char], stored: &[char]) -> Vec<Difference> {
    (0..wanted.len().max(stored.len()))
        .map(|i| Difference { place: i + 1, wanted: wanted.get(i).copied(), stored: stored.get(i).copied() })
        .filter(|d| d.wanted != d.stored)
        .collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_letter_in_the_place_of_a_digit_is_named() {
        let found = differences("FK-CR8-2047B", "FK-CR8-2O47B");
        assert_eq!(found, [Difference { place: 9, wanted: Some('0'), stored: Some('O') }]);
        assert_eq!(found[0].words(), "character 9 is the letter O, not the digit 0 (they look alike)");
    }

    #[test]
    fn missing_and_extra_characters_are_told_as_such() {
        let words = |w, s| differences(w, s).iter().map(Difference::words).collect::<Vec<_>>();
        assert_eq!(words("2047B", "207B"), ["character 3, the digit 4, is missing"]);
        assert_eq!(words("2047B", "20547B"), ["the digit 5 is one too many before character 3"]);
        assert_eq!(words("AB", "AB "), ["a space is one too many before character 3"]);
        assert_eq!(words("", ""), Vec::<String>::new());
    }

    #[test]
    fn texts_stand_under_each_other_with_a_caret_at_each_difference() {
        let rows = |w, s| under_each_other(w, &differences(w, s));
        assert_eq!(rows("CR8-2047B", "CR8-2O47B"), ["CR8-2047B", "CR8-2O47B", "     ^"]);
        assert_eq!(rows("2047B", "207B"), ["2047B", "20·7B", "  ^"]);
        assert_eq!(rows("2047B", "20547BX"), ["20·47B·", "20547BX", "  ^   ^"]);
    }

    #[test]
    fn letters_of_another_alphabet_are_told_by_their_number() {
        let words = differences("FK-CR8-2047\u{412}", "FK\u{2011}CR8-2047B");
        let words: Vec<String> = words.iter().map(Difference::words).collect();
        assert_eq!(
            words,
            [
                "character 3 is the character \u{2011} (U+2011), not a hyphen (they look alike)",
                "character 12 is the letter B, not the character \u{412} (U+0412) (they look alike)"
            ]
        );
    }

    #[test]
    fn the_usual_pairs_look_alike_both_ways() {
        for (a, b) in [('0', 'O'), ('1', 'I'), ('1', 'l'), ('5', 'S'), ('8', 'B'), ('2', 'Z'), ('6', 'G')] {
            assert!(look_alike(a, b) && look_alike(b, a), "{a} {b}");
        }
        assert!(!look_alike('0', '0') && !look_alike('K', '4'));
    }

    proptest! {
        #[test]
        fn the_differences_lead_from_one_text_to_the_other(wanted in "[AB0O]{0,9}", stored in "[AB0O]{0,9}") {
            let mut text: Vec<char> = wanted.chars().collect();
            for d in differences(&wanted, &stored).into_iter().rev() {
                match (d.wanted, d.stored) {
                    (Some(w), Some(s)) => { prop_assert_eq!(text[d.place - 1], w); text[d.place - 1] = s; }
                    (Some(w), None) => prop_assert_eq!(text.remove(d.place - 1), w),
                    (None, Some(s)) => text.insert(d.place - 1, s),
                    (None, None) => prop_assert!(false),
                }
            }
            prop_assert_eq!(text.into_iter().collect::<String>(), stored);
        }
    }
}
