//! How a picture looks: one palette for light and dark and paper, a pattern for everything that a colour tells.

use std::fmt::Write as _;

use crate::layout::Role;
use crate::report::svg::{DARK, LIGHT, Palette};
use crate::skyline::Density;

/// What fills an area.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fill {
    /// One value only, FF or 00.
    Blank,
    /// A few bytes in what is blank.
    Sparse,
    /// Mostly printable characters.
    Text,
    /// Anything else.
    Dense,
    /// No byte of the image.
    Unmapped,
    /// Fields of a role.
    Role(Role),
    /// A part that a survey told apart.
    Region,
    /// Bytes that are not the same.
    Differs,
    /// Bytes that only one of the images has.
    Only,
    /// Contents that stand elsewhere.
    Moved,
    /// Bytes that the other image has not.
    Put,
    /// Other in each unit.
    PerUnit,
    /// Other in two reads of one unit.
    Unstable,
}

impl From<Density> for Fill {
    fn from(density: Density) -> Self {
        match density {
            Density::Unknown | Density::Blank => Fill::Blank,
            Density::Sparse => Fill::Sparse,
            Density::Text => Fill::Text,
            Density::Dense => Fill::Dense,
        }
    }
}

impl Fill {
    /// The class that paints it.
    pub const fn class(self) -> &'static str {
        match self {
            Fill::Blank => "blank",
            Fill::Sparse => "sparse",
            Fill::Text => "text",
            Fill::Dense => "dense",
            Fill::Unmapped => "unmapped",
            Fill::Role(Role::Identity) => "identity",
            Fill::Role(Role::Calibration) => "calibration",
            Fill::Role(Role::Setting) => "setting",
            Fill::Role(Role::Record) => "record",
            Fill::Role(Role::Check) => "check",
            Fill::Role(Role::Reserved) => "reserved",
            Fill::Role(Role::Filler) => "filler",
            Fill::Region => "region",
            Fill::Differs => "differs",
            Fill::Only => "only",
            Fill::Moved => "moved",
            Fill::Put => "put",
            Fill::PerUnit => "perunit",
            Fill::Unstable => "unstable",
        }
    }

    /// What the legend says.
    pub const fn word(self) -> &'static str {
        match self {
            Fill::Blank => "blank: only FF or 00",
            Fill::Sparse => "a few bytes in FF or 00",
            Fill::Text => "text",
            Fill::Dense => "other bytes",
            Fill::Unmapped => "not in the image",
            Fill::Role(role) => role.word(),
            Fill::Region => "told apart by its bytes",
            Fill::Differs => "differs",
            Fill::Only => "only in this image",
            Fill::Moved => "the same, elsewhere",
            Fill::Put => "inserted or missing",
            Fill::PerUnit => "other in each unit",
            Fill::Unstable => "other in reads of one unit",
        }
    }

    /// How much of the width of a strip a row of it takes; so that its silhouette tells what stands where.
    pub const fn share(self) -> f64 {
        match self {
            Fill::Blank => 0.0,
            Fill::Sparse => 0.3,
            Fill::Text => 0.65,
            _ => 1.0,
        }
    }
}

/// A pattern: its class, its size, its colours in the light and in the dark, and what is drawn in it. `P` stands for
/// the light ground of the pattern.
struct Pattern(&'static str, (u8, u8), [&'static str; 2], &'static str);

const PATTERNS: &[Pattern] = &[
    Pattern("text", (8, 5), ["#2c6e63", "#79c7b8"], "<path d=\"M0 1.5H6M0 4H4\" stroke-width=\"1.4\"/>"),
    Pattern("unmapped", (7, 7), ["#6d777e", "#8d979f"], "<path d=\"M0 7L7 0\" stroke-width=\"0.8\"/>"),
    Pattern("identity", (4, 4), ["#1d5a86", "#7db8e4"], "<path d=\"M0 2H4\" stroke-width=\"4\"/>"),
    Pattern("calibration", (4, 4), ["#8a5600", "#e3b35c"], "<path d=\"M1 0V4\" stroke-width=\"1.8\"/>"),
    Pattern(
        "setting",
        (6, 6),
        ["#2b7a45", "#7ecb93"],
        "<path d=\"M0 6L6 0M-1 1L1 -1M5 7L7 5\" stroke-width=\"1.8\"/>",
    ),
    Pattern("record", (4, 4), ["#8c2f63", "#e692bf"], "<path d=\"M0 1H4\" stroke-width=\"1.8\"/>"),
    Pattern("check", (6, 6), ["#5145a0", "#b0a6f2"], "<path d=\"M0 1.5H3M3 4.5H6\" stroke-width=\"3\"/>"),
    Pattern("reserved", (5, 5), ["#59636b", "#a9b3ba"], "<path d=\"M1 2H3\" stroke-width=\"2\"/>"),
    Pattern("filler", (12, 12), ["#b9bfc3", "#59636b"], "<path d=\"M0 6H12\" stroke-width=\"0.6\"/>"),
    Pattern("only", (5, 5), ["#a3241c", "#ff9a8f"], "<path d=\"M0 5L5 0\" stroke-width=\"1.4\"/>"),
    Pattern("moved", (10, 10), ["#2b6a86", "#7fc0dc"], "<path d=\"M0 10L10 0\" stroke-width=\"1\"/>"),
    Pattern("put", (4, 4), ["#7a5a1e", "#d8b874"], "<path d=\"M0 2H2\" stroke-width=\"1.2\"/>"),
    Pattern("perunit", (4, 4), ["#1d5a86", "#7db8e4"], "<path d=\"M0 1H4\" stroke-width=\"1.4\"/>"),
];

/// The style and the patterns, for the parts of them that are `used`.
pub(super) fn definitions(used: &[Fill]) -> String {
    let colours = |palette: &Palette| {
        let Palette { page, ink, quiet, line, dense, sparse, fault, .. } = palette;
        format!(
            ".page{{fill:{page}}} .ink{{fill:{ink}}} .quiet{{fill:{quiet}}} .line{{stroke:{line};fill:none}} \
             .blank{{fill:{page};stroke:{line}}} .dense{{fill:{dense}}} .sparse{{fill:{sparse}}} \
             .differs,.unstable,.loud{{fill:{fault}}} .band{{fill:{fault};fill-opacity:.12}} \
             .region{{stroke:{quiet};fill:none;stroke-width:1.5}}"
        )
    };
    let used: Vec<&Pattern> =
        PATTERNS.iter().filter(|p| used.iter().any(|fill| fill.class() == p.0)).collect();
    let patterns = |which: usize| {
        used.iter().fold(String::new(), |mut css, Pattern(class, _, colour, _)| {
            let colour = colour.get(which).copied().unwrap_or_default();
            let _ = write!(css, " .{class}-p{{stroke:{colour}}} .{class}{{stroke:{colour}}}");
            css
        })
    };
    let mut svg = format!(
        "<style>\ntext{{font:12px system-ui,'DejaVu Sans',Arial,sans-serif;white-space:pre}} \
         .head{{font-size:19px;font-weight:600}} .at{{font:11px ui-monospace,'DejaVu Sans Mono',Consolas,monospace}} \
         .loud{{font-weight:600}} .word{{font-weight:400}} .end{{text-anchor:end}} .mid{{text-anchor:middle}} .line{{stroke-width:1}}\n{}{}\n",
        colours(&LIGHT),
        patterns(0)
    );
    for Pattern(class, ..) in &used {
        let _ = write!(svg, ".{class}{{fill:url(#{class});stroke-width:.6}} ");
    }
    // Paper is light, whatever the screen is.
    let _ = write!(
        svg,
        "\n@media screen and (prefers-color-scheme:dark){{\n{}{}\n}}\n</style>\n<defs>\n",
        colours(&DARK),
        patterns(1)
    );
    for Pattern(class, (wide, high), _, inside) in &used {
        let _ = writeln!(
            svg,
            "<pattern id=\"{class}\" width=\"{wide}\" height=\"{high}\" patternUnits=\"userSpaceOnUse\">\
             <g class=\"{class}-p\" fill=\"none\">{inside}</g></pattern>"
        );
    }
    svg + "</defs>\n"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::svg::tests::contrast;

    #[test]
    fn patterns_stand_out_from_the_page_in_the_light_and_in_the_dark() {
        for Pattern(class, _, [light, dark], _) in PATTERNS.iter().filter(|p| p.0 != "filler") {
            for (page, colour) in [(LIGHT.page, light), (DARK.page, dark)] {
                assert!(contrast(page, colour) >= 3.0, "{class} {colour} on {page}");
            }
        }
    }

    #[test]
    fn no_two_fills_look_alike_without_colour() {
        let drawn: Vec<&str> = PATTERNS.iter().map(|p| p.3).collect();
        for (n, pattern) in PATTERNS.iter().enumerate() {
            let same = |other: &Pattern| other.3 == pattern.3 && other.1 == pattern.1;
            assert!(!PATTERNS.iter().take(n).any(same), "{} of {drawn:?}", pattern.0);
        }
        assert_eq!(Fill::from(Density::Dense).class(), "dense");
    }
}
