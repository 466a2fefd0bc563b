//! Check digits: a character or two of a text that is computed from its other characters.
//!
//! A single wrong character in a part number, serial or vehicle number that carries one gives itself away, and
//! the digit that would be right can be told.

use crate::notation::nearest;

explained! {
    /// A rule by which check characters are computed: the one list of them, each with its word in layouts, what it is
    /// for and where it is defined.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum DigitRule:

    Vin = "VIN": "vehicle identification number, ninth character; 49 CFR 565.15, ISO 3779";
    Luhn = "LUHN": "digits, every second one doubled; ISO/IEC 7812-1";
    Gs1 = "GS1": "8, 12, 13, 14 or 18 digits, weights 3 and 1; GS1 General Specifications";
    Isbn10 = "ISBN-10": "10 digits, modulo 11, X for ten; ISO 2108:1992";
    Mod11Radix2 = "MOD-11-2": "digits, X for ten; ISO 7064";
    Mod37Radix2 = "MOD-37-2": "digits and letters, * for 36; ISO 7064";
    Mod97Radix10 = "MOD-97-10": "digits, two check digits; ISO 7064";
    Mod661Radix26 = "MOD-661-26": "letters, two check letters; ISO 7064";
    Mod1271Radix36 = "MOD-1271-36": "digits and letters, two check characters; ISO 7064";
    Mod11And10 = "MOD-11,10": "digits, hybrid system; ISO 7064";
    Mod27And26 = "MOD-27,26": "letters, hybrid system; ISO 7064";
    Mod37And36 = "MOD-37,36": "digits and letters, hybrid system; ISO 7064";
    Verhoeff = "VERHOEFF": "digits, dihedral group; Verhoeff 1969";
    Damm = "DAMM": "digits, quasigroup; Damm 2004";
}

/// What a text's check characters say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DigitState {
    /// They are right.
    Right,
    /// They are wrong.
    Wrong {
        /// Index of the first check character, counted in characters of the text.
        at: usize,
        /// What stands there.
        found: String,
        /// What should.
        expected: String,
    },
    /// The text cannot carry this kind of check digit, and why.
    Odd(String),
}

const DIGITS: &str = "0123456789";
const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const ALPHANUMERIC: &str = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
/// Every letter but I, O and Q.
const VIN: &str = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ";

impl DigitRule {
    /// The rule of that name, in any case; commas, spaces and hyphens may be left out or exchanged.
    ///
    /// # Errors
    /// The nearest name, when there is no such rule and one is near.
    pub fn by_name(text: &str) -> Result<DigitRule, Option<&'static str>> {
        let plain = |text: &str| -> String {
            text.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_uppercase()).collect()
        };
        let wanted = plain(text);
        let all = || Self::ALL.iter().copied();
        all()
            .find(|rule| plain(rule.word()) == wanted)
            .ok_or_else(|| nearest(text, all().map(DigitRule::word)))
    }

    /// The characters it is computed over.
    const fn alphabet(self) -> &'static str {
        match self {
            DigitRule::Vin => VIN,
            DigitRule::Mod661Radix26 | DigitRule::Mod27And26 => LETTERS,
            DigitRule::Mod37Radix2 | DigitRule::Mod1271Radix36 | DigitRule::Mod37And36 => ALPHANUMERIC,
            DigitRule::Luhn
            | DigitRule::Gs1
            | DigitRule::Isbn10
            | DigitRule::Mod11Radix2
            | DigitRule::Mod97Radix10
            | DigitRule::Mod11And10
            | DigitRule::Verhoeff
            | DigitRule::Damm => DIGITS,
        }
    }

    /// The characters a check character may be, in the order of their values.
    const fn check_alphabet(self) -> &'static str {
        match self {
            DigitRule::Vin | DigitRule::Isbn10 | DigitRule::Mod11Radix2 => "0123456789X",
            DigitRule::Mod37Radix2 => "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*",
            _ => self.alphabet(),
        }
    }

    /// How many check characters there are.
    const fn checks(self) -> usize {
        match self {
            DigitRule::Mod97Radix10 | DigitRule::Mod661Radix26 | DigitRule::Mod1271Radix36 => 2,
            _ => 1,
        }
    }

    /// Characters of the whole text, where the rule fixes them.
    const fn lengths(self) -> &'static [usize] {
        match self {
            DigitRule::Vin => &[17],
            DigitRule::Gs1 => &[8, 12, 13, 14, 18],
            DigitRule::Isbn10 => &[10],
            _ => &[],
        }
    }

    /// The check characters of a payload: the text without them (a VIN without its ninth character).
    ///
    /// # Errors
    /// Why the payload can carry none: a character that does not belong, another length.
    fn check_characters(self, payload: &[(usize, char)]) -> Result<String, String> {
        let values = self.values(payload)?;
        if values.is_empty() {
            return Err("there is nothing to compute a check digit over".to_owned());
        }
        self.check_length(values.len() + self.checks())?;
        let check = self.check_value(&values);
        let alphabet = self.check_alphabet();
        let radix = alphabet.len() as u32;
        let characters = (0..self.checks()).rev().map(|place| {
            let value = check / radix.pow(place as u32) % radix;
            alphabet.chars().nth(value as usize).unwrap_or('?')
        });
        Ok(characters.collect())
    }

    /// What the check characters of `text` say: its last ones, the ninth of a VIN.
    /// Spaces and hyphens are passed over; small letters count as capitals.
    #[must_use]
    pub fn verify(self, text: &str) -> DigitState {
        let mut characters = significant(text);
        if let Err(why) = self.check_length(characters.len()) {
            return DigitState::Odd(why);
        }
        let first = match self {
            DigitRule::Vin => 8,
            _ => characters.len().saturating_sub(self.checks()),
        };
        if characters.len() <= self.checks() {
            return DigitState::Odd(format!(
                "\"{}\" is too short to carry a check digit",
                text.escape_debug()
            ));
        }
        let found: Vec<(usize, char)> = characters.drain(first..first + self.checks()).collect();
        let expected = match self.check_characters(&characters) {
            Ok(expected) => expected,
            Err(why) => return DigitState::Odd(why),
        };
        let at = found.first().map_or(0, |(at, _)| *at);
        let found: String = found.into_iter().map(|(_, c)| c).collect();
        if found == expected { DigitState::Right } else { DigitState::Wrong { at, found, expected } }
    }

    fn check_length(self, characters: usize) -> Result<(), String> {
        let lengths = self.lengths();
        if lengths.is_empty() || lengths.contains(&characters) {
            return Ok(());
        }
        let allowed: Vec<String> = lengths.iter().map(ToString::to_string).collect();
        Err(format!("{} takes {} characters, not {characters}", self.word(), allowed.join(", ")))
    }

    /// The value of each character.
    fn values(self, characters: &[(usize, char)]) -> Result<Vec<u32>, String> {
        let alphabet = self.alphabet();
        characters
            .iter()
            .map(|&(at, c)| {
                let index = alphabet.find(c).map(|index| index as u32);
                let value = match self {
                    DigitRule::Vin => index.and_then(|_| vin_value(c)),
                    _ => index,
                };
                value.ok_or_else(|| {
                    format!("'{}' at place {} does not belong in {}", c.escape_debug(), at + 1, self.word())
                })
            })
            .collect()
    }

    /// The check value over the values of the payload.
    fn check_value(self, values: &[u32]) -> u32 {
        match self {
            DigitRule::Vin => {
                const WEIGHTS: [u32; 16] = [8, 7, 6, 5, 4, 3, 2, 10, 9, 8, 7, 6, 5, 4, 3, 2];
                values.iter().zip(WEIGHTS).map(|(value, weight)| value * weight).sum::<u32>() % 11
            }
            // ISO/IEC 7812-1, annex B.
            DigitRule::Luhn => {
                let doubled = |value: u32| if value > 4 { 2 * value - 9 } else { 2 * value };
                missing_to_ten(from_right(values, doubled, |value| value))
            }
            // GS1 General Specifications, section 7.9.
            DigitRule::Gs1 => missing_to_ten(from_right(values, |value| 3 * value, |value| value)),
            DigitRule::Isbn10 => {
                let sum: u32 = values.iter().zip((2..=10).rev()).map(|(value, weight)| value * weight).sum();
                (11 - sum % 11) % 11
            }
            DigitRule::Mod11Radix2 => pure(values, 11, 2, 1),
            DigitRule::Mod37Radix2 => pure(values, 37, 2, 1),
            DigitRule::Mod97Radix10 => pure(values, 97, 10, 2),
            DigitRule::Mod661Radix26 => pure(values, 661, 26, 2),
            DigitRule::Mod1271Radix36 => pure(values, 1271, 36, 2),
            DigitRule::Mod11And10 => hybrid(values, 10),
            DigitRule::Mod27And26 => hybrid(values, 26),
            DigitRule::Mod37And36 => hybrid(values, 36),
            DigitRule::Verhoeff => verhoeff(values),
            DigitRule::Damm => {
                values.iter().fold(0, |row, &value| DAMM[row as usize % 10][value as usize % 10])
            }
        }
    }
}

/// The characters that count, in capitals, each with its index.
fn significant(text: &str) -> Vec<(usize, char)> {
    text.chars()
        .enumerate()
        .filter(|(_, c)| !matches!(c, ' ' | '-'))
        .map(|(at, c)| (at, c.to_ascii_uppercase()))
        .collect()
}

/// 49 CFR 565.15(c), table III: letters count 1 to 9 by their place, starting afresh at A, J and S (as 2).
fn vin_value(c: char) -> Option<u32> {
    let letter = c as u32;
    match c {
        '0'..='9' => c.to_digit(10),
        'A'..='H' => Some(letter - 'A' as u32 + 1),
        'J'..='R' => Some(letter - 'J' as u32 + 1),
        'S'..='Z' => Some(letter - 'S' as u32 + 2),
        _ => None,
    }
}

/// The sum with `odd` applied to the last value, the third last, …, and `even` to those between.
fn from_right(values: &[u32], odd: impl Fn(u32) -> u32, even: impl Fn(u32) -> u32) -> u32 {
    let place = |(i, &value): (usize, &u32)| if i % 2 == 0 { odd(value) } else { even(value) };
    values.iter().rev().enumerate().map(place).sum()
}

fn missing_to_ten(sum: u32) -> u32 {
    (10 - sum % 10) % 10
}

/// ISO 7064, pure systems: the whole with its check characters is 1 modulo `modulus`.
fn pure(values: &[u32], modulus: u32, radix: u32, checks: u32) -> u32 {
    let sum = values.iter().fold(0, |sum, value| (sum * radix + value) % modulus);
    let shifted = sum * radix.pow(checks) % modulus;
    (modulus + 1 - shifted) % modulus
}

/// ISO 7064, hybrid systems with moduli `m + 1` and `m`.
fn hybrid(values: &[u32], m: u32) -> u32 {
    let product = values.iter().fold(m, |product, value| {
        let sum = (product + value) % m;
        (if sum == 0 { m } else { sum }) * 2 % (m + 1)
    });
    (m + 1 - product) % m
}

/// The product of two elements of the dihedral group of order ten.
fn dihedral(a: u32, b: u32) -> u32 {
    match (a < 5, b < 5) {
        (true, true) => (a + b) % 5,
        (true, false) => (a + b) % 5 + 5,
        (false, true) => (a + 5 - b) % 5 + 5,
        (false, false) => (a + 5 - b) % 5,
    }
}

/// Verhoeff's permutation, and applied `times` times.
fn permuted(value: u32, times: usize) -> u32 {
    const ONCE: [u32; 10] = [1, 5, 7, 6, 2, 8, 3, 0, 9, 4];
    (0..times % 8).fold(value, |value, _| ONCE[value as usize % 10])
}

/// Verhoeff, "Error Detecting Decimal Codes" (1969).
fn verhoeff(values: &[u32]) -> u32 {
    let total =
        values.iter().rev().enumerate().fold(0, |total, (i, &value)| dihedral(total, permuted(value, i + 1)));
    // The inverse: rotations turn back, reflections are their own.
    if total < 5 { (5 - total) % 5 } else { total }
}

/// A totally anti-symmetric quasigroup: Damm, "Total anti-symmetrische Quasigruppen" (2004).
const DAMM: [[u32; 10]; 10] = [
    [0, 3, 1, 7, 5, 9, 8, 6, 4, 2],
    [7, 0, 9, 2, 1, 5, 4, 8, 6, 3],
    [4, 2, 0, 6, 8, 7, 1, 3, 5, 9],
    [1, 7, 5, 0, 9, 8, 3, 4, 2, 6],
    [6, 1, 2, 3, 0, 4, 5, 9, 7, 8],
    [3, 6, 7, 4, 2, 0, 9, 5, 8, 1],
    [5, 8, 6, 9, 7, 2, 0, 1, 3, 4],
    [8, 9, 4, 5, 3, 6, 2, 0, 1, 7],
    [9, 4, 3, 8, 6, 1, 7, 2, 0, 5],
    [2, 5, 8, 1, 4, 3, 6, 7, 9, 0],
];

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn compute(rule: DigitRule, payload: &str) -> Result<String, String> {
        rule.check_characters(&significant(payload))
    }

    #[test]
    fn published_examples_come_out_right() {
        for (rule, payload, check) in [
            // 49 CFR 565.15(c), the worked example of table V.
            (DigitRule::Vin, "1G4AH59H5G118341", "4"),
            // The worked example of the article "Vehicle identification number" in Wikipedia: 1M8GDM9AXKP042788.
            (DigitRule::Vin, "1M8GDM9AKP042788", "X"),
            // The worked example of the article "Luhn algorithm" in Wikipedia, earlier versions.
            (DigitRule::Luhn, "7992739871", "3"),
            // GS1's own explanation of the check digit.
            (DigitRule::Gs1, "629104150021", "3"),
            // ISBN Users' Manual, International Edition.
            (DigitRule::Isbn10, "0-306-40615", "2"),
            // The worked examples of the articles "Verhoeff algorithm" and "Damm algorithm" in Wikipedia.
            (DigitRule::Verhoeff, "236", "3"),
            (DigitRule::Damm, "572", "4"),
            // ISO 7064's examples, by way of the documentation of python-stdnum 2.2.
            (DigitRule::Mod11Radix2, "0794", "0"),
            (DigitRule::Mod11Radix2, "079", "X"),
            (DigitRule::Mod11And10, "0794", "5"),
            (DigitRule::Mod97Radix10, "794", "44"),
            (DigitRule::Mod37And36, "A12425GABC1234002", "M"),
        ] {
            assert_eq!(compute(rule, payload).as_deref(), Ok(check), "{} {payload}", rule.word());
        }
    }

    #[test]
    fn results_agree_with_an_independent_library() {
        // Computed by python-stdnum 2.2 (PyPI).
        for (rule, payload, check) in [
            (DigitRule::Mod11Radix2, "0823", "0"),
            (DigitRule::Mod11Radix2, "12345678901", "2"),
            (DigitRule::Mod11And10, "79462", "3"),
            (DigitRule::Mod11And10, "12345", "0"),
            (DigitRule::Mod37Radix2, "G12349865432", "A"),
            (DigitRule::Mod37Radix2, "A12425GABC1234002", "5"),
            (DigitRule::Mod37Radix2, "ZZ", "D"),
            (DigitRule::Mod37And36, "G12349865432", "J"),
            (DigitRule::Mod97Radix10, "9999123456789012141490", "95"),
            (DigitRule::Luhn, "1", "8"),
            (DigitRule::Luhn, "123456789", "7"),
            (DigitRule::Verhoeff, "12345", "1"),
            (DigitRule::Verhoeff, "142857", "0"),
            (DigitRule::Verhoeff, "0", "4"),
            (DigitRule::Damm, "43881234567", "9"),
            (DigitRule::Damm, "123456789", "4"),
            (DigitRule::Gs1, "7351353", "7"),
        ] {
            assert_eq!(compute(rule, payload).as_deref(), Ok(check), "{} {payload}", rule.word());
        }
    }

    #[test]
    fn a_wrong_digit_is_told_with_its_place_and_the_right_one() {
        assert_eq!(DigitRule::Vin.verify("1M8GDM9AXKP042788"), DigitState::Right);
        assert_eq!(
            DigitRule::Vin.verify("1m8gdm9a3kp042788"),
            DigitState::Wrong { at: 8, found: "3".into(), expected: "X".into() }
        );
        assert_eq!(
            DigitRule::Isbn10.verify("0-306-40615-3"),
            DigitState::Wrong { at: 12, found: "3".into(), expected: "2".into() }
        );
        assert_eq!(
            DigitRule::Mod97Radix10.verify("79445"),
            DigitState::Wrong { at: 3, found: "45".into(), expected: "44".into() }
        );
    }

    #[test]
    fn text_that_cannot_carry_the_digit_is_odd_and_says_why() {
        for (rule, text, why) in [
            (DigitRule::Vin, "1M8GDM9AXKP04278", "17 characters, not 16"),
            (DigitRule::Vin, "1M8GDM9AXKP04278O", "'O' at place 17"),
            (DigitRule::Luhn, "12a4", "'A' at place 3"),
            (DigitRule::Luhn, "", "too short"),
            (DigitRule::Damm, "7", "too short"),
            (DigitRule::Gs1, "123", "8, 12, 13, 14, 18"),
            (DigitRule::Mod27And26, "AB\u{1}D", "'\\u{1}'"),
        ] {
            match rule.verify(text) {
                DigitState::Odd(said) => assert!(said.contains(why), "{said}"),
                other => panic!("{text}: {other:?}"),
            }
        }
    }

    #[test]
    fn rules_are_found_by_name_however_it_is_spelt() {
        for &rule in DigitRule::ALL {
            assert_eq!(DigitRule::by_name(rule.word()), Ok(rule));
            assert_eq!(DigitRule::by_name(&rule.word().to_lowercase().replace('-', " ")), Ok(rule));
        }
        assert_eq!(DigitRule::by_name("LUHM"), Err(Some("LUHN")));
        assert_eq!(DigitRule::by_name("temperature"), Err(None));
    }

    proptest! {
        #[test]
        fn a_text_with_its_computed_digit_is_right_and_with_one_digit_changed_is_not(
            digits in proptest::collection::vec(0_u8..10, 12),
            at in 0_usize..12,
            by in 1_u8..10,
        ) {
            let text = |digits: &[u8]| -> String { digits.iter().map(|d| char::from(b'0' + d)).collect() };
            for rule in DigitRule::ALL.iter().copied().filter(|rule| rule.alphabet() == DIGITS && *rule != DigitRule::Isbn10) {
                let check = compute(rule, &text(&digits)).unwrap();
                prop_assert_eq!(rule.verify(&(text(&digits) + &check)), DigitState::Right);
                let mut changed = digits.clone();
                changed[at] = (changed[at] + by) % 10;
                prop_assert_ne!(rule.verify(&(text(&changed) + &check)), DigitState::Right, "{}", rule.word());
            }
        }

        #[test]
        fn letters_are_protected_as_digits_are(text in "[A-Z]{3,20}", at in 0_usize..3, by in 1_u8..26) {
            for rule in [
                DigitRule::Mod37Radix2, DigitRule::Mod661Radix26, DigitRule::Mod1271Radix36,
                DigitRule::Mod27And26, DigitRule::Mod37And36,
            ] {
                let check = compute(rule, &text).unwrap();
                prop_assert_eq!(rule.verify(&format!("{text}{check}")), DigitState::Right);
                let mut changed = text.clone().into_bytes();
                changed[at] = b'A' + (changed[at] - b'A' + by) % 26;
                let changed = String::from_utf8(changed).unwrap();
                prop_assert_ne!(rule.verify(&format!("{changed}{check}")), DigitState::Right, "{}", rule.word());
            }
        }

        #[test]
        fn no_text_makes_a_rule_panic(text in ".{0,20}") {
            for &rule in DigitRule::ALL {
                let _ = rule.verify(&text);
                let _ = compute(rule, &text);
            }
        }
    }
}
