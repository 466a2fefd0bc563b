//! Where a command is valid: in which panes, in which dialogs.

use crate::tui::app::App;
use crate::tui::dialog::Dialog;
use crate::tui::panes::Pane;

/// Where a command is valid: a set of panes, or a kind of dialog.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Where(u16);

impl Where {
    /// The Bytes pane.
    pub const BYTES: Where = Where::pane(Pane::Bytes);
    /// The Fields pane.
    pub const FIELDS: Where = Where::pane(Pane::Fields);
    /// The Checks pane.
    pub const CHECKS: Where = Where::pane(Pane::Checks);
    /// The Readings pane.
    pub const READINGS: Where = Where::pane(Pane::Readings);
    /// The Findings pane.
    pub const FINDINGS: Where = Where::pane(Pane::Findings);
    /// The Found pane.
    pub const FOUND: Where = Where::pane(Pane::Found);
    /// The Proposed pane.
    pub const PROPOSED: Where = Where::pane(Pane::Proposed);
    /// Every pane.
    pub const PANES: Where = Where((1 << Pane::ALL.len()) - 1);
    /// A line that is typed.
    pub const PROMPT: Where = Where(1 << 11);
    /// A few lines that are asked together.
    pub const FORM: Where = Where(1 << 12);
    /// A question.
    pub const QUESTION: Where = Where(1 << 13);
    /// A page that is read.
    pub const PAGE: Where = Where(1 << 14);
    /// A page that is searched by typing.
    pub const HELP: Where = Where(1 << 15);
    /// Every dialog.
    pub const DIALOGS: Where =
        Where::PROMPT.and(Where::FORM).and(Where::QUESTION).and(Where::PAGE).and(Where::HELP);

    /// Each single place with its name.
    pub const EACH: [(Where, &'static str); 12] = [
        (Where::BYTES, Pane::Bytes.title()),
        (Where::FIELDS, Pane::Fields.title()),
        (Where::CHECKS, Pane::Checks.title()),
        (Where::READINGS, Pane::Readings.title()),
        (Where::FINDINGS, Pane::Findings.title()),
        (Where::FOUND, Pane::Found.title()),
        (Where::PROPOSED, Pane::Proposed.title()),
        (Where::PROMPT, "a line"),
        (Where::FORM, "a form"),
        (Where::QUESTION, "a question"),
        (Where::PAGE, "a page"),
        (Where::HELP, "the help"),
    ];

    const fn pane(pane: Pane) -> Where {
        Where(1 << pane as u16)
    }

    /// Both sets together.
    #[must_use]
    pub const fn and(self, other: Where) -> Where {
        Where(self.0 | other.0)
    }

    /// Whether the sets share a place.
    #[must_use]
    pub const fn meets(self, other: Where) -> bool {
        self.0 & other.0 != 0
    }

    /// The one place where the keys go now.
    #[must_use]
    pub fn now(app: &App) -> Where {
        match &app.dialog {
            Some(Dialog::Prompt(_)) => Where::PROMPT,
            Some(Dialog::Form(_)) => Where::FORM,
            Some(Dialog::Question(_)) => Where::QUESTION,
            Some(Dialog::Page(page)) if page.search.is_some() => Where::HELP,
            Some(Dialog::Page(_)) => Where::PAGE,
            None => Where::pane(app.panes.focus()),
        }
    }

    /// The places in words.
    #[must_use]
    pub fn words(self) -> String {
        if self == Where::PANES {
            return "every pane".into();
        }
        if self == Where::DIALOGS {
            return "every dialog".into();
        }
        let each = Where::EACH.iter().filter(|(place, _)| self.meets(*place));
        each.map(|(_, name)| *name).collect::<Vec<_>>().join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_place_is_listed_once_and_none_is_missing() {
        let all = Where::EACH.iter().fold(Where(0), |all, (place, _)| all.and(*place));
        assert_eq!(all, Where::PANES.and(Where::DIALOGS));
        assert_eq!(all.0.count_ones() as usize, Where::EACH.len());
    }
}
