//! What a thing on the screen is, its [`Tone`]: the list of tones, and which one a check, a verdict, a finding or a role
//! has. [`tones`] is the table from a tone to weight and colour; [`Look`] makes a style of them for one terminal.
//!
//! Colour only underlines what words and glyphs already say. The background is always the terminal's own.

use ratatui::buffer::Buffer;
use ratatui::style::{Color, Style};

use super::tones::{self, Rgb};
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
    /// What the user set.
    pub theme: Theme,
}

/// A colour that the user set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hue {
    /// None: weight, slant and underline only.
    Bare,
    /// One of the sixteen named ones.
    Named(Color),
    /// Red, green and blue; the nearest one where the terminal has only a palette, ours where it has only names.
    Exact(Rgb),
}

/// The colours that the user set, by tone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Theme([Option<Hue>; Tone::ALL.len()]);

impl Theme {
    /// Sets the colour of a tone.
    pub fn set(&mut self, tone: Tone, hue: Hue) {
        let at = Tone::ALL.iter().position(|t| *t == tone);
        if let Some(slot) = at.and_then(|at| self.0.get_mut(at)) {
            *slot = Some(hue);
        }
    }

    fn get(&self, tone: Tone) -> Option<Hue> {
        let at = Tone::ALL.iter().position(|t| *t == tone)?;
        self.0.get(at).copied().flatten()
    }
}

impl Look {
    /// The look for a terminal: whether colour is wanted at all, and the environment.
    #[must_use]
    pub fn of(
        colour: bool,
        ground: Ground,
        ascii: bool,
        theme: Theme,
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
        Look { depth, ground, ascii, theme }
    }

    /// The style of a tone.
    #[must_use]
    pub fn style(self, tone: impl Into<Tone>) -> Style {
        let tone = tone.into();
        let row = tones::row(tone);
        let exact = |(r, g, b): Rgb| Color::Rgb(r, g, b);
        let ours = || match self.depth {
            Depth::None => None,
            Depth::Named => row.named,
            Depth::Palette => row.palette(self.ground).map(Color::Indexed),
            Depth::Full => row.rgb(self.ground).map(exact),
        };
        let colour = match (self.depth, self.theme.get(tone)) {
            (Depth::None, _) | (_, Some(Hue::Bare)) => None,
            (_, Some(Hue::Named(colour))) => Some(colour),
            (Depth::Palette, Some(Hue::Exact(rgb))) => Some(Color::Indexed(tones::nearest(rgb))),
            (Depth::Full, Some(Hue::Exact(rgb))) => Some(exact(rgb)),
            (Depth::Named, Some(Hue::Exact(_))) | (_, None) => ours(),
        };
        let (plain, weight) = (row.plain, row.weight);
        match colour {
            Some(colour) => Style::new().fg(colour).add_modifier(weight),
            None => Style::new().add_modifier(plain),
        }
    }
}

/// Declares [`Tone`]: the one list of tones, each with its name in settings and what it is for; in braces those of fields, by
/// role. How each looks stands in `tones.rs`.
macro_rules! tones {
    (
        $($tone:ident = $name:literal: $doc:literal;)*
        { $($role:ident = $role_name:literal: $role_doc:literal;)* }
    ) => {
        /// What a piece of the screen is, which decides how it looks.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Tone {
            $(#[doc = $doc] $tone,)*
            /// A field, by its role.
            Role(Role),
        }

        impl Tone {
            /// Every tone.
            pub const ALL: [Tone; [$($name,)* $($role_name,)*].len()] =
                [$(Tone::$tone,)* $(Tone::Role(Role::$role),)*];

            const fn told(self) -> (&'static str, &'static str) {
                match self {
                    $(Tone::$tone => ($name, $doc),)*
                    $(Tone::Role(Role::$role) => ($role_name, $role_doc),)*
                }
            }
        }
    };
}

tones! {
    Plain = "plain": "ordinary text";
    Strong = "strong": "what the eye should find first";
    Quiet = "quiet": "what may be skipped";
    Accent = "accent": "the pane that has the keys, names of keys";
    Good = "good": "all is well";
    Doubt = "doubt": "a person must look";
    Bad = "bad": "must not be used as it is";
    Cursor = "cursor": "the item under the cursor";
    Echo = "echo": "the same byte in the other column, the chosen row of another pane";
    Selected = "selected": "selected bytes";
    Edited = "edited": "differs from what was opened";
    Differs = "differs": "differs from the other image";
    {
        Identity = "identity": "fields that say which unit it is";
        Calibration = "calibration": "fields that were measured for this unit";
        Setting = "setting": "fields that are chosen";
        Record = "record": "fields that the unit writes itself";
        Check = "check": "check values";
        Reserved = "reserved": "fields that are kept as they are";
        Filler = "filler": "bytes without meaning";
    }
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
        seal.verdict().into()
    }
}

impl Tone {
    /// Its name in settings.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.told().0
    }

    /// What it is for.
    #[must_use]
    pub const fn doc(self) -> &'static str {
        self.told().1
    }
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
    use ratatui::style::Modifier;

    use super::*;

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
    fn roles_are_told_apart_without_colour_and_by_more_than_slant_where_there_are_sixteen() {
        let tones: Vec<Tone> = [Tone::Plain]
            .into_iter()
            .chain(Role::ALL.map(Tone::Role))
            .filter(|t| *t != Role::Filler.into())
            .collect();
        for depth in [Depth::None, Depth::Named] {
            let style = |tone: Tone| {
                let style = Look { depth, ..Look::default() }.style(tone);
                match depth {
                    Depth::None => style,
                    // Many terminals with few colours show no slant.
                    _ => Style { add_modifier: style.add_modifier - Modifier::ITALIC, ..style },
                }
            };
            for (i, a) in tones.iter().enumerate() {
                for b in &tones[..i] {
                    assert_ne!(style(*a), style(*b), "{a:?} and {b:?} look the same, {depth:?}");
                }
            }
        }
    }

    #[test]
    fn a_colour_of_the_user_takes_the_place_of_ours_where_the_terminal_can_show_it() {
        let mut theme = Theme::default();
        theme.set(Tone::Accent, Hue::Exact((0, 0, 95)));
        theme.set(Tone::Good, Hue::Named(Color::Blue));
        theme.set(Tone::Bad, Hue::Bare);
        let look = |depth| Look { depth, theme, ..Look::default() };
        assert_eq!(look(Depth::Full).style(Tone::Accent).fg, Some(Color::Rgb(0, 0, 95)));
        assert_eq!(look(Depth::Palette).style(Tone::Accent).fg, Some(Color::Indexed(17)));
        assert_eq!(look(Depth::Named).style(Tone::Accent).fg, Some(Color::Cyan), "a name is all it has");
        assert_eq!(look(Depth::Full).style(Tone::Good).fg, Some(Color::Blue));
        let bare = look(Depth::Full).style(Tone::Bad);
        assert_eq!((bare.fg, bare.add_modifier), (None, Look::default().style(Tone::Bad).add_modifier));
        assert!(Tone::ALL.iter().all(|t| look(Depth::None).style(*t).fg.is_none()));
    }

    #[test]
    fn full_colour_is_used_only_where_the_terminal_says_it_has_it() {
        let depth = |variables: &[(&str, &str)], colour| {
            let find = |name: &str| variables.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).to_owned());
            Look::of(colour, Ground::Any, false, Theme::default(), find).depth
        };
        assert_eq!(depth(&[("COLORTERM", "truecolor"), ("TERM", "xterm-256color")], true), Depth::Full);
        assert_eq!(depth(&[("TERM", "xterm-256color")], true), Depth::Palette);
        assert_eq!(depth(&[("TERM", "xterm")], true), Depth::Named);
        assert_eq!(depth(&[("COLORTERM", "truecolor")], false), Depth::None);
    }

    #[test]
    fn the_background_that_the_terminal_hints_at_is_heeded_unless_one_was_asked_for() {
        let ground = |asked, hint: &str| {
            Look::of(true, asked, false, Theme::default(), |n| (n == "COLORFGBG").then(|| hint.into())).ground
        };
        assert_eq!(ground(Ground::Any, "0;15"), Ground::Light);
        assert_eq!(ground(Ground::Any, "15;default;0"), Ground::Dark);
        assert_eq!(ground(Ground::Any, "nonsense"), Ground::Any);
        assert_eq!(ground(Ground::Dark, "0;15"), Ground::Dark);
    }
}
