//! Colours by tone.

use ratatui::style::Color;

use super::Said;
use crate::notation::{Entries, Node, NodeValue, Problem};
use crate::tui::theme::{Ground, Hue, Theme, Tone};
use crate::tui::tones::{self, Rgb, TEXT_CONTRAST};

/// Colours by name: none, and the sixteen of every terminal.
pub(super) const NAMES: &[(&str, Hue)] = &[
    ("None", Hue::Bare),
    ("Black", Hue::Named(Color::Black)),
    ("Red", Hue::Named(Color::Red)),
    ("Green", Hue::Named(Color::Green)),
    ("Yellow", Hue::Named(Color::Yellow)),
    ("Blue", Hue::Named(Color::Blue)),
    ("Magenta", Hue::Named(Color::Magenta)),
    ("Cyan", Hue::Named(Color::Cyan)),
    ("White", Hue::Named(Color::Gray)),
    ("BrightBlack", Hue::Named(Color::DarkGray)),
    ("BrightRed", Hue::Named(Color::LightRed)),
    ("BrightGreen", Hue::Named(Color::LightGreen)),
    ("BrightYellow", Hue::Named(Color::LightYellow)),
    ("BrightBlue", Hue::Named(Color::LightBlue)),
    ("BrightMagenta", Hue::Named(Color::LightMagenta)),
    ("BrightCyan", Hue::Named(Color::LightCyan)),
    ("BrightWhite", Hue::Named(Color::White)),
];

pub(super) fn read(node: &Node, ground: Ground, said: &mut Said) -> Theme {
    let mut theme = Theme::default();
    let Some(mut entries) = Entries::of(node, "the theme", &mut said.problems) else { return theme };
    for tone in Tone::ALL {
        let Some(node) = entries.optional(tone.name()) else { continue };
        if let Some(hue) = hue(node, &mut said.problems) {
            theme.set(tone, hue);
            if let Hue::Exact(rgb) = hue {
                said.remarks.extend(pale(node, tone, rgb, ground));
            }
        }
    }
    entries.finish(&mut said.problems);
    theme
}

fn hue(node: &Node, problems: &mut Vec<Problem>) -> Option<Hue> {
    let named = |typed: &str| NAMES.iter().find(|(name, _)| *name == typed).map(|(_, hue)| *hue);
    let typed = match &node.value {
        NodeValue::Word(word) => match named(word) {
            Some(hue) => return Some(hue),
            None => word.as_str(),
        },
        NodeValue::Text(text) => match rgb(text) {
            Some(rgb) => return Some(Hue::Exact(rgb)),
            None => text.as_str(),
        },
        _ => "",
    };
    let names: Vec<&str> = NAMES.iter().map(|(name, _)| *name).collect();
    let mut problem = Problem::new(
        node.span,
        format!("{} is no colour", node.shown()),
        format!("\"#RRGGBB\" in hexadecimal digits, or one of {}", names.join(", ")),
    )
    .suggest(typed, names);
    if matches!(node.value, NodeValue::Text(_)) && named(typed).is_some() {
        problem = problem.fix(format!("words stand without quotes: {typed}"));
    }
    problems.push(problem);
    None
}

fn rgb(text: &str) -> Option<Rgb> {
    let digits =
        text.strip_prefix('#').filter(|d| d.len() == 6 && d.bytes().all(|b| b.is_ascii_hexdigit()))?;
    let [_, r, g, b] = u32::from_str_radix(digits, 16).ok()?.to_be_bytes();
    Some((r, g, b))
}

/// That a colour can hardly be read on the background it is for.
fn pale(node: &Node, tone: Tone, rgb: Rgb, ground: Ground) -> Option<Problem> {
    let worst = tones::grounds(ground).iter().map(|g| tones::contrast(rgb, *g)).min_by(f64::total_cmp)?;
    let on = match ground {
        Ground::Any => "black or on white",
        Ground::Dark => "a dark background",
        Ground::Light => "a light background",
    };
    let what = format!("{} for {} has a contrast of {worst:.1} to 1 on {on}", node.shown(), tone.name());
    let problem = Problem::new(node.span, what, format!("at least {TEXT_CONTRAST} to 1 (WCAG 2.1)"));
    let problem = match ground {
        Ground::Any => problem.fix("say which background it is for: ground: Dark, or ground: Light"),
        _ => problem,
    };
    (worst < TEXT_CONTRAST).then_some(problem)
}
