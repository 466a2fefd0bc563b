//! How things look: one table from what a thing is to colour and weight, for every kind of terminal.
//!
//! Colour only underlines what words and glyphs already say. The background is always the terminal's own.

use ratatui::buffer::Buffer;
use ratatui::style::{Color, Modifier, Style};

use crate::check::Seal;
use crate::finding::{Verdict, Weight};
use crate::layout::Role;

/// How many colours the terminal has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Depth {
    /// None are wanted: weight, slant, underline and reverse video only.
    #[default]
    None,
    /// The sixteen named ones, as the user set them.
    Named,
    /// The palette of 256.
    Palette,
    /// Any colour.
    Full,
}

/// What the terminal's background is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Ground {
    /// Unknown: colours that can be read on both.
    #[default]
    Any,
    /// Dark.
    Dark,
    /// Light.
    Light,
}

/// How the screen looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Look {
    /// Colours at hand.
    pub depth: Depth,
    /// The background they must be read on.
    pub ground: Ground,
    /// Only characters of ASCII.
    pub ascii: bool,
}

impl Look {
    /// The look for a terminal: whether colour is wanted at all, and the environment.
    #[must_use]
    pub fn of(
        colour: bool,
        ground: Ground,
        ascii: bool,
        environment: impl Fn(&str) -> Option<String>,
    ) -> Self {
        let holds = |name: &str, words: &[&str]| {
            environment(name).is_some_and(|v| words.iter().any(|w| v.to_ascii_lowercase().contains(w)))
        };
        let depth = if !colour {
            Depth::None
        } else if holds("COLORTERM", &["truecolor", "24bit"]) {
            Depth::Full
        } else if holds("TERM", &["256color"]) {
            Depth::Palette
        } else {
            Depth::Named
        };
        // COLORFGBG is a hint that some terminals set: foreground;background as numbers of the named colours.
        let hinted = environment("COLORFGBG").and_then(|v| v.rsplit(';').next()?.parse::<u8>().ok());
        let ground = match (ground, hinted) {
            (Ground::Any, Some(7 | 15)) => Ground::Light,
            (Ground::Any, Some(0..=6 | 8)) => Ground::Dark,
            (ground, _) => ground,
        };
        Look { depth, ground, ascii }
    }

    /// The style of a tone.
    #[must_use]
    pub fn style(self, tone: impl Into<Tone>) -> Style {
        let tone = tone.into();
        let (plain, weight, named, any, dark, light) = tone.row();
        let rgb = match self.ground {
            Ground::Any => any,
            Ground::Dark => dark,
            Ground::Light => light,
        };
        let colour = match self.depth {
            Depth::None => None,
            Depth::Named => named,
            Depth::Palette => rgb.map(|c| Color::Indexed(nearest(c))),
            Depth::Full => rgb.map(|(r, g, b)| Color::Rgb(r, g, b)),
        };
        match colour {
            Some(colour) => Style::new().fg(colour).add_modifier(weight),
            None => Style::new().add_modifier(plain),
        }
    }
}

/// What a piece of the screen is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Ordinary text.
    Plain,
    /// What the eye should find first.
    Strong,
    /// What may be skipped.
    Quiet,
    /// The one accent: the pane that has the keys, names of keys.
    Accent,
    /// All is well.
    Good,
    /// A person must look.
    Doubt,
    /// Must not be used as it is.
    Bad,
    /// The item under the cursor.
    Cursor,
    /// The same byte in the other column, the chosen row of a pane without the keys.
    Echo,
    /// Selected bytes.
    Selected,
    /// Differs from what was opened.
    Edited,
    /// Differs from the other image.
    Differs,
    /// A field, by its role.
    Role(Role),
}

impl From<Role> for Tone {
    fn from(role: Role) -> Self {
        Tone::Role(role)
    }
}

impl From<Weight> for Tone {
    fn from(weight: Weight) -> Self {
        match weight {
            Weight::Note => Tone::Plain,
            Weight::Doubt => Tone::Doubt,
            Weight::Fault => Tone::Bad,
        }
    }
}

impl From<Verdict> for Tone {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Sound => Tone::Good,
            Verdict::Doubtful => Tone::Doubt,
            Verdict::Unsound => Tone::Bad,
        }
    }
}

impl From<Seal> for Tone {
    fn from(seal: Seal) -> Self {
        match seal {
            Seal::Sealed => Tone::Good,
            Seal::Unreadable => Tone::Doubt,
            Seal::Broken => Tone::Bad,
        }
    }
}

type Rgb = (u8, u8, u8);
/// Weight without colour, weight beside a colour, the named colour, and the colour on any, a dark, a light ground.
type Row = (Modifier, Modifier, Option<Color>, Option<Rgb>, Option<Rgb>, Option<Rgb>);

impl Tone {
    /// Every tone.
    pub const ALL: [Tone; 19] = [
        Tone::Plain,
        Tone::Strong,
        Tone::Quiet,
        Tone::Accent,
        Tone::Good,
        Tone::Doubt,
        Tone::Bad,
        Tone::Cursor,
        Tone::Echo,
        Tone::Selected,
        Tone::Edited,
        Tone::Differs,
        Tone::Role(Role::Identity),
        Tone::Role(Role::Calibration),
        Tone::Role(Role::Setting),
        Tone::Role(Role::Record),
        Tone::Role(Role::Check),
        Tone::Role(Role::Reserved),
        Tone::Role(Role::Filler),
    ];

    const fn row(self) -> Row {
        const NONE: Modifier = Modifier::empty();
        const BOLD: Modifier = Modifier::BOLD;
        const DIM: Modifier = Modifier::DIM;
        const TURNED: Modifier = Modifier::REVERSED;
        const LINE: Modifier = Modifier::UNDERLINED;
        const SLANT: Modifier = Modifier::ITALIC;
        let frost = (Some((0, 135, 175)), Some((95, 195, 225)), Some((0, 105, 145)));
        let (weights, named, tints) = match self {
            Tone::Plain => ((NONE, NONE), None, (None, None, None)),
            Tone::Strong => ((BOLD, BOLD), None, (None, None, None)),
            Tone::Quiet => ((DIM, DIM), None, (None, None, None)),
            Tone::Accent => ((BOLD, BOLD), Some(Color::Cyan), frost),
            Tone::Good => (
                (NONE, NONE),
                Some(Color::Green),
                (Some((55, 145, 75)), Some((125, 205, 135)), Some((20, 115, 50))),
            ),
            Tone::Doubt => (
                (BOLD, BOLD),
                Some(Color::Magenta),
                (Some((185, 105, 0)), Some((240, 185, 95)), Some((145, 80, 0))),
            ),
            Tone::Bad => (
                (BOLD.union(LINE), BOLD),
                Some(Color::Red),
                (Some((215, 70, 60)), Some((255, 130, 120)), Some((180, 30, 30))),
            ),
            Tone::Cursor => ((BOLD.union(TURNED), BOLD.union(TURNED)), Some(Color::Cyan), frost),
            Tone::Echo => ((BOLD.union(LINE), BOLD.union(LINE)), Some(Color::Cyan), frost),
            Tone::Selected => ((TURNED, TURNED), None, (None, None, None)),
            Tone::Edited => (
                (BOLD.union(LINE), BOLD.union(LINE)),
                Some(Color::Magenta),
                (Some((185, 105, 0)), Some((240, 185, 95)), Some((145, 80, 0))),
            ),
            Tone::Differs => (
                (BOLD.union(LINE), BOLD.union(LINE)),
                Some(Color::Red),
                (Some((215, 70, 60)), Some((255, 130, 120)), Some((180, 30, 30))),
            ),
            Tone::Role(Role::Identity) => ((BOLD, BOLD), Some(Color::Cyan), frost),
            Tone::Role(Role::Calibration) => (
                (BOLD.union(SLANT), NONE),
                Some(Color::Magenta),
                (Some((170, 95, 195)), Some((210, 160, 235)), Some((125, 55, 155))),
            ),
            Tone::Role(Role::Setting) => (
                (NONE, NONE),
                Some(Color::Green),
                (Some((55, 145, 75)), Some((125, 205, 135)), Some((20, 115, 50))),
            ),
            Tone::Role(Role::Record) => (
                (SLANT, NONE),
                Some(Color::Red),
                (Some((200, 90, 70)), Some((240, 160, 140)), Some((150, 60, 40))),
            ),
            Tone::Role(Role::Check) => (
                (LINE, NONE),
                Some(Color::Blue),
                (Some((95, 125, 210)), Some((150, 175, 250)), Some((50, 80, 170))),
            ),
            Tone::Role(Role::Reserved | Role::Filler) => ((DIM, DIM), None, (None, None, None)),
        };
        (weights.0, weights.1, named, tints.0, tints.1, tints.2)
    }
}

/// The colour of the palette of 256 that comes nearest: one of the cube of six levels or one of the greys.
fn nearest(rgb: Rgb) -> u8 {
    const LEVELS: [i32; 6] = [0, 95, 135, 175, 215, 255];
    let (r, g, b) = (i32::from(rgb.0), i32::from(rgb.1), i32::from(rgb.2));
    let off = |x: i32, y: i32, z: i32| (x - r).pow(2) + (y - g).pow(2) + (z - b).pow(2);
    let cube = (0..216u8).map(|i| {
        let level = |n: u8| LEVELS.get(usize::from(n)).copied().unwrap_or(0);
        (off(level(i / 36), level(i / 6 % 6), level(i % 6)), 16 + i)
    });
    let greys = (0..24u8).map(|i| {
        let level = 8 + 10 * i32::from(i);
        (off(level, level, level), 232 + i)
    });
    cube.chain(greys).min().map_or(7, |(_, index)| index)
}

/// What stands for our own glyphs, and for common signs in units, where only ASCII can be shown.
const IN_ASCII: &[(&str, &str)] = &[
    ("─", "-"),
    ("│", "|"),
    ("┌", "+"),
    ("┐", "+"),
    ("└", "+"),
    ("┘", "+"),
    ("▌", ">"),
    ("▁", "_"),
    ("▂", "."),
    ("▅", "a"),
    ("█", "#"),
    ("…", "~"),
    ("▸", "+"),
    ("▾", "-"),
    ("°", "o"),
    ("µ", "u"),
    ("μ", "u"),
    ("Ω", "O"),
    ("±", "+"),
    ("–", "-"),
    ("·", "."),
    ("×", "x"),
    ("→", ">"),
    ("≠", "!"),
];

/// Replaces everything in the frame that is not ASCII.
pub fn to_ascii(buffer: &mut Buffer) {
    for cell in &mut buffer.content {
        if !cell.symbol().is_ascii() {
            let plain = IN_ASCII.iter().find(|(glyph, _)| *glyph == cell.symbol()).map_or("?", |(_, a)| a);
            cell.set_symbol(plain);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast as WCAG 2.1 defines them (W3C, "contrast ratio").
    fn contrast(a: Rgb, b: Rgb) -> f64 {
        let channel = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        let light = |c: Rgb| 0.2126 * channel(c.0) + 0.7152 * channel(c.1) + 0.0722 * channel(c.2);
        let (a, b) = (light(a), light(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn every_colour_can_be_read_on_the_grounds_it_is_meant_for() {
        for tone in Tone::ALL {
            let (_, _, _, any, dark, light) = tone.row();
            for (name, colour, grounds) in [
                ("any", any, &[(0, 0, 0), (255, 255, 255)][..]),
                ("dark", dark, &[(0, 0, 0), (30, 30, 30)][..]),
                ("light", light, &[(255, 255, 255), (238, 232, 213)][..]),
            ] {
                let Some(colour) = colour else { continue };
                for &ground in grounds {
                    let contrast = contrast(colour, ground);
                    assert!(contrast >= 3.0, "{tone:?} on {name} {ground:?}: contrast {contrast:.2}");
                }
            }
        }
    }

    #[test]
    fn no_background_is_painted_and_no_white_black_or_grey_is_written() {
        for depth in [Depth::None, Depth::Named, Depth::Palette, Depth::Full] {
            for tone in Tone::ALL {
                let style = Look { depth, ..Look::default() }.style(tone);
                assert_eq!(style.bg, None);
                let poor = [Color::White, Color::Black, Color::Gray, Color::DarkGray, Color::Yellow];
                assert!(!style.fg.is_some_and(|c| poor.contains(&c)), "{tone:?}");
            }
        }
    }

    #[test]
    fn without_colour_every_state_that_matters_has_a_look_of_its_own() {
        let mono = |tone| Look::default().style(tone);
        assert!(mono(Tone::Cursor).add_modifier.contains(Modifier::REVERSED));
        let tones = [Tone::Plain, Tone::Cursor, Tone::Selected, Tone::Edited, Tone::Quiet];
        for (i, a) in tones.iter().enumerate() {
            assert_eq!(mono(*a).fg, None);
            for b in &tones[..i] {
                assert_ne!(mono(*a), mono(*b), "{a:?} and {b:?} look the same");
            }
        }
    }

    #[test]
    fn full_colour_is_used_only_where_the_terminal_says_it_has_it() {
        let depth = |variables: &[(&str, &str)], colour| {
            let find = |name: &str| variables.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).to_owned());
            Look::of(colour, Ground::Any, false, find).depth
        };
        assert_eq!(depth(&[("COLORTERM", "truecolor"), ("TERM", "xterm-256color")], true), Depth::Full);
        assert_eq!(depth(&[("TERM", "xterm-256color")], true), Depth::Palette);
        assert_eq!(depth(&[("TERM", "xterm")], true), Depth::Named);
        assert_eq!(depth(&[("COLORTERM", "truecolor")], false), Depth::None);
    }

    #[test]
    fn the_background_that_the_terminal_hints_at_is_heeded_unless_one_was_asked_for() {
        let ground = |asked, hint: &str| {
            Look::of(true, asked, false, |n| (n == "COLORFGBG").then(|| hint.into())).ground
        };
        assert_eq!(ground(Ground::Any, "0;15"), Ground::Light);
        assert_eq!(ground(Ground::Any, "15;default;0"), Ground::Dark);
        assert_eq!(ground(Ground::Any, "nonsense"), Ground::Any);
        assert_eq!(ground(Ground::Dark, "0;15"), Ground::Dark);
    }

    #[test]
    fn the_palette_colour_is_the_nearest_one() {
        assert_eq!(nearest((0, 135, 175)), 31);
        assert_eq!(nearest((255, 255, 255)), 231);
        assert_eq!(nearest((8, 8, 8)), 232);
    }
}
