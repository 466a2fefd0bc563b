//! What is told when something could not be done.

use super::paint::{Paint, Tone};
use super::text;
use crate::error::Error;

/// The error as it is printed, once: where, what is wrong, and on lines of their own what to do next.
#[must_use]
pub fn text(error: &Error, paint: Paint) -> String {
    const NAME: &str = "readproof: ";
    let place = error.place.iter().map(|place| format!("{place}: ")).collect::<String>();
    let said = format!("{place}{}", error.what);
    let mut line = paint.tone(Tone::Bad, NAME.trim_end());
    line.push(' ');
    // The first line has the name of the program before it, the others stand in by two columns.
    for (i, piece) in
        text::wrap(&text::clean(&said), paint.width.saturating_sub(NAME.len())).iter().enumerate()
    {
        line.push_str(if i == 0 { "" } else { "  " });
        line.push_str(piece);
        line.push('\n');
    }
    for advice in error.advice.iter().flat_map(|a| a.lines()) {
        for piece in text::wrap_to_copy(&text::sentence(&text::clean(advice)), paint.width.saturating_sub(2))
        {
            line.push_str("  ");
            line.push_str(&piece);
            line.push('\n');
        }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_names_the_place_and_what_to_do_and_cannot_act_on_the_terminal() {
        let error = Error::new("is a folder").at("dir\u{1b}[2J").advice("name a file");
        assert_eq!(text(&error, Paint::default()), "readproof: dir\\x1B[2J: is a folder\n  Name a file.\n");
    }
}
