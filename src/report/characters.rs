//! What was wanted and what is stored, character by character under each other.

use std::io::{self, Write};

use serde::Serialize;

use super::paint::{Paint, Tone};
use super::text::clean;
use crate::find::{Difference, under_each_other};

/// Prints the two texts under each other, a caret under each difference, and the differences in words.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(out: &mut dyn Write, paint: Paint, wanted: &str, differs: &[Difference]) -> io::Result<()> {
    // One column a character, whatever the bytes say: the carets must stand right.
    let plain = |c: char| if c.is_control() || super::text::width(&c.to_string()) != 1 { '?' } else { c };
    let shown = |text: &str| text.chars().map(plain).collect::<String>();
    let [above, below, carets] = under_each_other(wanted, differs);
    writeln!(out, "  wanted  {}", shown(&above))?;
    writeln!(out, "  stored  {}", paint.tone(Tone::Bad, &shown(&below)))?;
    writeln!(out, "          {}", paint.tone(Tone::Bad, &carets))?;
    for differ in differs {
        writeln!(out, "          {}", clean(&differ.words()))?;
    }
    Ok(())
}

/// One difference in JSON.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DifferenceJson {
    /// Which character of the wanted text, counted from 1.
    pub place: usize,
    /// The wanted character; null for one too many.
    pub wanted: Option<char>,
    /// The stored character; null for a missing one.
    pub stored: Option<char>,
}

impl From<&Difference> for DifferenceJson {
    fn from(differ: &Difference) -> Self {
        DifferenceJson { place: differ.place, wanted: differ.wanted, stored: differ.stored }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::find::differences;

    #[test]
    fn the_two_texts_stand_under_each_other() {
        let mut out = Vec::new();
        write(&mut out, Paint::default(), "2047B", &differences("2047B", "2O47\u{7f}")).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "  wanted  2047B\n  stored  2O47?\n           ^  ^\n          \
             character 2 is the letter O, not the digit 0 (they look alike)\n          \
             character 5 is the character U+007F, not the letter B\n"
        );
    }
}
