//! What every picture that leaves the program shares: how text stands in it, how it opens, who it is told to.
//!
//! A picture is SVG 1.1 (W3C, 2011) without scripts, fonts or anything that is fetched. Its text is text, so it can be
//! selected, searched and read aloud; `title` and `desc` say in words what is drawn.

use super::text;

/// `text` so that neither XML nor HTML takes any of it for markup, in quotes too, and without hidden characters.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text::clean(text).chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            // XML 1.0 has no place for these two, section 2.2.
            '\u{FFFE}' | '\u{FFFF}' => escaped.push('\u{FFFD}'),
            c => escaped.push(c),
        }
    }
    escaped
}

/// The opening of a picture of this size, whose `title` and `about` are told to who cannot see it.
#[must_use]
pub fn open(size: (f64, f64), title: &str, about: &str) -> String {
    let (wide, high) = (number(size.0), number(size.1));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" \
         height=\"{high}\" role=\"img\" aria-labelledby=\"title about\">\n\
         <title id=\"title\">{}</title>\n<desc id=\"about\">{}</desc>\n",
        escape(title),
        escape(about),
    )
}

/// A place or a length: at most one decimal, none where it is 0.
#[must_use]
pub fn number(x: f64) -> String {
    let written = format!("{x:.1}");
    written.strip_suffix(".0").map_or(written.clone(), str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_left_that_a_reader_of_xml_could_take_for_markup_or_refuse() {
        assert_eq!(escape("<a b=\"c\">&'"), "&lt;a b=&quot;c&quot;&gt;&amp;&#39;");
        assert_eq!(escape("a\u{0}\u{1b}[2J\u{202E}b\u{FFFF}"), "a\\x00\\x1B[2J\\u{202E}b\u{FFFD}");
    }

    #[test]
    fn numbers_are_written_as_short_as_they_are() {
        assert_eq!((number(8.0), number(8.04), number(-0.25)), ("8".into(), "8".into(), "-0.2".into()));
    }
}
