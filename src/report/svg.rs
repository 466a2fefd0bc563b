//! What every picture that leaves the program shares: how text stands in it, how it opens, who it is told to.
//!
//! A picture is SVG 1.1 (W3C, 2011) without scripts, fonts or anything that is fetched. Its text is text, so it can be
//! selected, searched and read aloud; `title` and `desc` say in words what is drawn.

use super::text;

/// The colours of what leaves the program, in the light or in the dark.
pub struct Palette {
    /// The ground of everything.
    pub page: &'static str,
    /// Text.
    pub ink: &'static str,
    /// Text that matters less.
    pub quiet: &'static str,
    /// Lines and frames.
    pub line: &'static str,
    /// Bytes of any kind.
    pub dense: &'static str,
    /// A few bytes in what is blank.
    pub sparse: &'static str,
    /// What is well.
    pub sound: &'static str,
    /// What is in doubt.
    pub doubt: &'static str,
    /// What is wrong, and what differs.
    pub fault: &'static str,
}

/// For light screens and for paper.
pub const LIGHT: Palette = Palette {
    page: "#fcfbf8",
    ink: "#1c2226",
    quiet: "#545d64",
    line: "#c3c9cc",
    dense: "#3b4852",
    sparse: "#8e9aa2",
    sound: "#1b6b38",
    doubt: "#7d5200",
    fault: "#a3241c",
};

/// For dark screens.
pub const DARK: Palette = Palette {
    page: "#16191c",
    ink: "#e4e8ea",
    quiet: "#a4aeb5",
    line: "#474f55",
    dense: "#8c99a2",
    sparse: "#5f6b74",
    sound: "#7ecb93",
    doubt: "#e3b35c",
    fault: "#ff9a8f",
};

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
pub(super) mod tests {
    use super::*;

    /// Relative luminance and contrast, WCAG 2.1 (W3C).
    pub(crate) fn contrast(a: &str, b: &str) -> f64 {
        let light = |colour: &str| {
            let part = |at: usize| f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            let linear = |c: f64| if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
            0.2126 * linear(part(1)) + 0.7152 * linear(part(3)) + 0.0722 * linear(part(5))
        };
        let (a, b) = (light(a), light(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_stands_out_from_the_page_in_the_light_and_in_the_dark() {
        for p in [LIGHT, DARK] {
            for (colour, least) in
                [(p.ink, 7.0), (p.quiet, 4.5), (p.sound, 4.5), (p.doubt, 4.5), (p.fault, 4.5)]
            {
                assert!(contrast(p.page, colour) >= least, "{colour} on {}", p.page);
            }
            assert!(contrast(p.page, p.dense) >= 3.0 && contrast(p.page, p.sparse) >= 2.5, "{}", p.page);
        }
    }

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
