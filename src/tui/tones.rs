//! The table of tones: which weight and which colour each has, on which ground. Their list, and what has which tone,
//! is in `theme.rs`.
//!
//! The contrast of every colour on every ground it is meant for is computed in the tests of this file. Where the
//! terminal has only sixteen named colours they are what its user made them, so no contrast can be promised there;
//! everything is said by words, marks and weight too.

use ratatui::style::{Color, Modifier};

use super::theme::{Ground, Tone};
use crate::layout::Role;

/// Red, green, blue.
pub type Rgb = (u8, u8, u8);

/// One tone.
pub(super) struct Row {
    /// Weight where there is no colour.
    pub(super) plain: Modifier,
    /// Weight beside a colour.
    pub(super) weight: Modifier,
    /// The named colour.
    pub(super) named: Option<Color>,
    tints: Option<Tints>,
}

/// The colours of one tone, by ground.
#[derive(Clone, Copy)]
struct Tints {
    any: Rgb,
    /// The one of the palette of 256 for any ground: hardly more than these few can be read on black and on white.
    any_of_palette: u8,
    dark: Rgb,
    light: Rgb,
}

impl Row {
    /// The colour on a ground, exactly.
    pub(super) fn rgb(&self, ground: Ground) -> Option<Rgb> {
        self.tints.map(|tints| match ground {
            Ground::Any => tints.any,
            Ground::Dark => tints.dark,
            Ground::Light => tints.light,
        })
    }

    /// The colour on a ground, of the palette of 256.
    pub(super) fn palette(&self, ground: Ground) -> Option<u8> {
        match ground {
            Ground::Any => self.tints.map(|t| t.any_of_palette),
            _ => self.rgb(ground).map(nearest),
        }
    }
}

/// The colours of one tone: named; on any ground, exactly and of the palette; on dark; on light.
type Colours = (Option<Color>, Rgb, u8, Rgb, Rgb);

const FROST: Colours = (Some(Color::Cyan), (0, 126, 175), 63, (95, 195, 225), (0, 98, 138));
const MOSS: Colours = (Some(Color::Green), (39, 134, 70), 29, (125, 205, 135), (18, 104, 46));
const AMBER: Colours = (Some(Color::Magenta), (177, 97, 0), 163, (240, 185, 95), (134, 74, 0));
const EMBER: Colours = (Some(Color::Red), (223, 47, 34), 131, (255, 140, 128), (176, 28, 28));
const PLUM: Colours = (Some(Color::Magenta), (164, 84, 190), 163, (210, 160, 235), (112, 42, 152));
const LICHEN: Colours = (Some(Color::Green), (105, 126, 22), 29, (190, 200, 120), (82, 94, 16));
const ROSE: Colours = (Some(Color::LightBlue), (194, 73, 133), 98, (235, 165, 200), (148, 48, 98));
const SLATE: Colours = (None, (79, 112, 211), 243, (150, 175, 250), (48, 78, 166));
const MIST: Colours = (None, (108, 119, 127), 243, (152, 162, 170), (88, 96, 102));

/// The look of a tone.
pub(super) const fn row(tone: Tone) -> Row {
    const NONE: Modifier = Modifier::empty();
    const BOLD: Modifier = Modifier::BOLD;
    const DIM: Modifier = Modifier::DIM;
    const SLANT: Modifier = Modifier::ITALIC;
    const LINE: Modifier = Modifier::UNDERLINED;
    const TURNED: Modifier = Modifier::REVERSED.union(BOLD);
    const STRONG_LINE: Modifier = BOLD.union(LINE);
    match tone {
        Tone::Plain => bare(NONE),
        Tone::Strong => bare(BOLD),
        Tone::Selected => bare(Modifier::REVERSED),
        Tone::Quiet | Tone::Role(Role::Reserved | Role::Filler) => tinted(DIM, NONE, MIST),
        Tone::Accent => tinted(BOLD, BOLD, FROST),
        Tone::Good => tinted(NONE, NONE, MOSS),
        Tone::Doubt => tinted(BOLD, BOLD, AMBER),
        Tone::Bad => tinted(STRONG_LINE, BOLD, EMBER),
        Tone::Cursor => tinted(TURNED, TURNED, FROST),
        Tone::Echo => tinted(STRONG_LINE, STRONG_LINE, FROST),
        Tone::Edited => tinted(STRONG_LINE, STRONG_LINE, AMBER),
        // Many bytes may differ, so they do not shout.
        Tone::Differs => tinted(STRONG_LINE, LINE, EMBER),
        Tone::Role(Role::Identity) => tinted(BOLD, BOLD, FROST),
        Tone::Role(Role::Calibration) => tinted(BOLD.union(SLANT), NONE, PLUM),
        // What may be filled in is a line to write on; what follows from it is a faint one.
        Tone::Role(Role::Setting) => tinted(LINE, NONE, LICHEN),
        Tone::Role(Role::Record) => tinted(SLANT, SLANT, ROSE),
        Tone::Role(Role::Check) => tinted(DIM.union(LINE), LINE, SLATE),
    }
}

const fn bare(weight: Modifier) -> Row {
    Row { plain: weight, weight, named: None, tints: None }
}

const fn tinted(plain: Modifier, weight: Modifier, colours: Colours) -> Row {
    let (named, any, any_of_palette, dark, light) = colours;
    Row { plain, weight, named, tints: Some(Tints { any, any_of_palette, dark, light }) }
}

/// The colour of the palette of 256 that comes nearest: one of the cube of six levels or one of the greys.
pub(super) fn nearest(rgb: Rgb) -> u8 {
    let off = |index: u8| {
        let (r, g, b) = of_palette(index);
        let square = |a: u8, b: u8| u32::from(a.abs_diff(b)).pow(2);
        square(r, rgb.0) + square(g, rgb.1) + square(b, rgb.2)
    };
    (16..=255).min_by_key(|&index| off(index)).unwrap_or(7)
}

/// The colour at a place of the palette of 256: from 16 on a cube of six levels, from 232 on greys (the values that
/// xterm gives them, and others after it; ctlseqs, 256-color mode). Those below are what the user made them.
fn of_palette(index: u8) -> Rgb {
    const LEVELS: [u8; 6] = [0, 95, 135, 175, 215, 255];
    let level = |n: u8| LEVELS.get(usize::from(n % 6)).copied().unwrap_or(0);
    match index {
        0..=15 => (0, 0, 0),
        16..=231 => (level((index - 16) / 36), level((index - 16) / 6), level(index - 16)),
        232.. => [8 + 10 * (index - 232); 3].into(),
    }
}

/// Backgrounds that colours for a ground are meant for.
#[must_use]
pub fn grounds(ground: Ground) -> &'static [Rgb] {
    match ground {
        Ground::Any => &[(0, 0, 0), (255, 255, 255)],
        Ground::Dark => &[(0, 0, 0), (24, 26, 30), (40, 42, 46)],
        Ground::Light => &[(255, 255, 255), (246, 246, 243), (238, 234, 224)],
    }
}

/// How much text must stand out from its background: WCAG 2.1, success criterion 1.4.3.
pub const TEXT_CONTRAST: f64 = 4.5;

/// Contrast as WCAG 2.1 defines it ("contrast ratio", "relative luminance"): from 1, the same colour, to 21.
#[must_use]
pub fn contrast(a: Rgb, b: Rgb) -> f64 {
    let channel = |c: u8| {
        let c = f64::from(c) / 255.0;
        if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    let light = |c: Rgb| 0.2126 * channel(c.0) + 0.7152 * channel(c.1) + 0.0722 * channel(c.2);
    let (a, b) = (light(a), light(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every colour stands for text somewhere, so all of them are held to the contrast of text, marks included
    /// (WCAG 2.1 asks 3:1 of those, criterion 1.4.11). The text under the cursor is the background on the colour,
    /// which has the same contrast.
    #[test]
    fn every_colour_of_every_theme_can_be_read_on_every_ground_it_is_meant_for() {
        for theme in [Ground::Any, Ground::Dark, Ground::Light] {
            for tone in Tone::ALL {
                let row = row(tone);
                let colours = row.rgb(theme).into_iter().chain(row.palette(theme).map(of_palette));
                for (colour, ground) in colours.flat_map(|c| grounds(theme).iter().map(move |g| (c, *g))) {
                    let contrast = contrast(colour, ground);
                    assert!(
                        contrast >= TEXT_CONTRAST,
                        "{tone:?}, {theme:?}: {colour:?} on {ground:?} has {contrast:.2}"
                    );
                }
            }
        }
    }

    /// Worked values: black on white has the largest contrast there is (WCAG 2.1, definition of contrast ratio);
    /// the grey #767676 is the lightest that passes on white (W3C, technique G18, its list of examples; from memory).
    #[test]
    fn contrast_is_as_the_standard_works_it_out() {
        assert!((contrast((0, 0, 0), (255, 255, 255)) - 21.0).abs() < 1e-9);
        assert!((contrast((9, 9, 9), (9, 9, 9)) - 1.0).abs() < 1e-9);
        let at = |grey: u8| contrast((grey, grey, grey), (255, 255, 255));
        assert!(at(0x76) >= TEXT_CONTRAST && at(0x77) < TEXT_CONTRAST);
    }

    #[test]
    fn what_means_trouble_and_what_means_well_differ_in_more_than_colour_or_in_words() {
        let weight = |tone| row(tone).weight;
        assert_ne!(weight(Tone::Good), weight(Tone::Bad));
        assert_ne!(weight(Tone::Good), weight(Tone::Doubt));
    }

    #[test]
    fn the_palette_colour_is_the_nearest_one() {
        assert_eq!(nearest((0, 135, 175)), 31);
        assert_eq!(nearest((255, 255, 255)), 231);
        assert_eq!(nearest((8, 8, 8)), 232);
    }
}
