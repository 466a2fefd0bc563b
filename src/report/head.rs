//! How a report opens and how it ends: its first sentence, labelled lines, what to do next.

use std::io::{self, Write};

use super::paint::{Extent, Paint, Tone};
use super::table::Table;
use super::text;

/// Prints the first sentence of a report, `word`, with which it opens, in a tone.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_opening(
    out: &mut dyn Write,
    paint: Paint,
    tone: impl Into<Tone>,
    word: &str,
    sentence: &str,
) -> io::Result<()> {
    let tone = tone.into();
    for (n, line) in text::wrap(&text::clean(sentence), paint.width).iter().enumerate() {
        match line.strip_prefix(word).filter(|_| n == 0) {
            Some(rest) => writeln!(out, "{}{rest}", paint.tone(tone, word))?,
            None => writeln!(out, "{line}")?,
        }
    }
    Ok(())
}

/// One line of the head of a report, its label in a column of its own.
pub(super) fn write_labelled(
    out: &mut dyn Write,
    paint: Paint,
    tone: Tone,
    label: &str,
    said: &str,
) -> io::Result<()> {
    const COLUMNS: usize = 9;
    let room = paint.width.saturating_sub(COLUMNS);
    for (i, line) in text::wrap_to_copy(&text::clean(said), room).iter().enumerate() {
        let label = if i == 0 { label } else { "" };
        let space = " ".repeat(COLUMNS.saturating_sub(text::width(label)).max(1));
        writeln!(out, "{}{space}{line}", paint.tone(tone, label))?;
    }
    Ok(())
}

/// Which layouts were considered for an image, and why each was taken or not; nothing when there are none to tell of.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_considered(
    out: &mut dyn Write,
    paint: Paint,
    considered: &[(String, String)],
) -> io::Result<()> {
    if considered.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n{}", paint.tone(Tone::Strong, "layouts considered"))?;
    let mut table = Table::new(&["", ""]).indent(2);
    for (layout, why) in considered {
        table.row([layout, why]);
    }
    table.write(out, paint)
}

/// What to do next: a command, whole on its line so that it can be copied, or words.
pub(super) fn write_next(out: &mut dyn Write, paint: Paint, next: Option<&str>) -> io::Result<()> {
    let Some(next) = next else { return Ok(()) };
    writeln!(out)?;
    match next.starts_with("readproof ") {
        true => writeln!(out, "{}     {}", paint.tone(Tone::Strong, "next"), text::clean(next)),
        false => write_labelled(out, paint, Tone::Strong, "next", next),
    }
}

/// Says how many rows of `all` were not printed.
pub(super) fn write_left(
    out: &mut dyn Write,
    paint: Paint,
    extent: Extent,
    all: usize,
    noun: &str,
) -> io::Result<()> {
    match all.saturating_sub(extent.rows()) {
        0 => Ok(()),
        left => {
            let left = format!("… {}; --all prints them", text::count(left, noun));
            writeln!(out, "{}", paint.tone(Tone::Quiet, &left))
        }
    }
}

/// How the write of `file` is proved, in a sentence that begins with `when`.
pub(super) fn write_proof(
    out: &mut dyn Write,
    paint: Paint,
    when: &str,
    file: &text::Name,
) -> io::Result<()> {
    writeln!(out)?;
    let advice = format!(
        "{when} write it, read the chip back, and prove it: `readproof vet READBACK --must-equal {}`",
        file.typed()
    );
    for line in text::wrap_to_copy(&text::sentence(&text::clean(&advice)), paint.width) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_sentence_fits_the_line_and_only_its_word_is_toned() {
        let mut out = Vec::new();
        let paint = Paint { colour: true, width: 40, whole: false };
        let sentence = "doubtful: of 12 images 3 changed since, and a part\u{1b} makes no sense.";
        write_opening(&mut out, paint, Tone::Doubt, "doubtful", sentence).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            format!(
                "{}: of 12 images 3 changed since,\nand a part\\x1B makes no sense.\n",
                paint.tone(Tone::Doubt, "doubtful")
            )
        );
    }
}
