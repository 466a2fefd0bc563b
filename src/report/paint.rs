//! Colour and width of the output: decided once, handed to whatever prints.
//!
//! Colour only underlines what the words already say; without it nothing is lost.

use anstyle::{AnsiColor, Style};

use crate::check::Seal;
use crate::finding::{Verdict, Weight};

/// Columns when the output is not a terminal.
pub const PLAIN_WIDTH: usize = 80;

/// How text may look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Paint {
    /// Whether text may carry colour.
    pub colour: bool,
    /// Columns that a line may take.
    pub width: usize,
    /// Whether to print also what is shortened or left out otherwise.
    pub whole: bool,
}

impl Default for Paint {
    fn default() -> Self {
        Paint { colour: false, width: PLAIN_WIDTH, whole: false }
    }
}

/// How much is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Extent {
    /// What a person looks for: what is at rest or goes to rest together in one row, long tables cut with what is left,
    /// long values cut, no filler.
    #[default]
    Short,
    /// Everything.
    All,
}

impl Extent {
    /// Everything where that was asked for, by an option of the command or for everything.
    #[must_use]
    pub const fn of(all: bool, paint: Paint) -> Self {
        if all || paint.whole { Extent::All } else { Extent::Short }
    }

    /// Rows of a table that are printed at most.
    pub(super) const fn rows(self) -> usize {
        match self {
            Extent::Short => 40,
            Extent::All => usize::MAX,
        }
    }
}

/// What a piece of text is, which decides how it looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tone {
    /// Ordinary text.
    #[default]
    Plain,
    /// Headings and what the eye should find first.
    Strong,
    /// What may be skipped.
    Quiet,
    /// All is well.
    Good,
    /// A person must look.
    Doubt,
    /// Must not be used as it is.
    Bad,
}

impl Tone {
    const fn style(self) -> Style {
        match self {
            Tone::Plain => Style::new(),
            Tone::Strong => Style::new().bold(),
            Tone::Quiet => Style::new().dimmed(),
            Tone::Good => AnsiColor::Green.on_default(),
            Tone::Doubt => AnsiColor::Yellow.on_default().bold(),
            Tone::Bad => AnsiColor::Red.on_default().bold(),
        }
    }
}

impl From<Weight> for Tone {
    fn from(weight: Weight) -> Self {
        match weight {
            Weight::Note => Tone::Strong,
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

impl Paint {
    /// `text` in `tone`; as it is when colour is off. `text` must be clean already, see [`super::text::clean`].
    #[must_use]
    pub fn tone(self, tone: impl Into<Tone>, text: &str) -> String {
        let style = tone.into().style();
        if !self.colour || style.is_plain() || text.is_empty() {
            return text.to_owned();
        }
        format!("{style}{text}{style:#}")
    }
}

/// What the user asked for by `--color`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Colour {
    /// As the terminal and the environment say.
    #[default]
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// Whether output carries colour. The flag comes first, then `NO_COLOR`, then `CLICOLOR_FORCE`, then whether the
/// output is a terminal that is not dumb. `environment` tells the value of a variable.
#[must_use]
pub fn decide(asked: Colour, environment: impl Fn(&str) -> Option<String>, terminal: bool) -> bool {
    let set = |name: &str| environment(name).is_some_and(|v| !v.is_empty());
    let on = |name: &str| environment(name).is_some_and(|v| !v.is_empty() && v != "0");
    match asked {
        Colour::Always => true,
        Colour::Never => false,
        Colour::Auto if set("NO_COLOR") => false,
        Colour::Auto if on("CLICOLOR_FORCE") => true,
        Colour::Auto if environment("CLICOLOR").as_deref() == Some("0") => false,
        Colour::Auto => terminal && environment("TERM").as_deref() != Some("dumb"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // NO_COLOR: no-color.org. CLICOLOR and CLICOLOR_FORCE: bixense.com/clicolors.
    /// What is asked, the environment, whether it is a terminal, and whether colour is used.
    type Case = (Colour, &'static [(&'static str, &'static str)], bool, bool);

    #[test]
    fn colour_is_decided_by_flag_then_environment_then_terminal() {
        use Colour::{Always, Auto, Never};
        let cases: &[Case] = &[
            (Auto, &[], true, true),
            (Auto, &[], false, false),
            (Auto, &[("NO_COLOR", "1")], true, false),
            (Auto, &[("NO_COLOR", "")], true, true),
            (Auto, &[("CLICOLOR_FORCE", "1")], false, true),
            (Auto, &[("CLICOLOR_FORCE", "0")], false, false),
            (Auto, &[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")], true, false),
            (Auto, &[("CLICOLOR", "0")], true, false),
            (Auto, &[("TERM", "dumb")], true, false),
            (Always, &[("NO_COLOR", "1")], false, true),
            (Never, &[("CLICOLOR_FORCE", "1")], true, false),
        ];
        for (asked, variables, terminal, wanted) in cases {
            let lookup =
                |name: &str| variables.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).to_owned());
            assert_eq!(decide(*asked, lookup, *terminal), *wanted, "{asked:?} {variables:?} {terminal}");
        }
    }

    #[test]
    fn without_colour_text_is_left_as_it_is() {
        assert_eq!(Paint::default().tone(Tone::Bad, "fault"), "fault");
        let colour = Paint { colour: true, ..Paint::default() };
        assert_eq!(colour.tone(Tone::Bad, "fault"), "\u{1b}[1m\u{1b}[31mfault\u{1b}[0m");
        assert_eq!(colour.tone(Tone::Plain, "fault"), "fault");
    }
}
