//! Work on a layout that another session left.

use std::path::{Path, PathBuf};

use crate::author;
use crate::report::text;
use crate::tui::annotate::{InForce, Kept};
use crate::tui::app::App;
use crate::tui::dialog::Paragraph;
use crate::tui::sheet::Sheet;
use crate::tui::theme::Tone;

/// A layout with steps that were not saved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    /// Where the layout is kept, see [`about`].
    about: String,
    /// Its text.
    text: String,
    /// When its last step was made, as RFC 3339 has it.
    written: String,
}

/// Where a layout is kept, in one line.
pub(in crate::tui) fn about(in_force: &InForce) -> String {
    let word = match in_force.kept {
        Kept::Shipped => "shipped",
        Kept::Nowhere => "new",
        Kept::File(_) | Kept::Ours(_) => "file",
    };
    format!("{word} {}", in_force.path.display())
}

impl Draft {
    /// `None` when it is no text.
    pub(super) fn read(about: String, written: String, work: Vec<u8>) -> Option<Draft> {
        Some(Draft { about, text: String::from_utf8(work).ok()?, written })
    }

    /// Whether it is in force already: it was saved, or taken up in an image that shares it.
    pub(super) fn is_in(&self, sheet: &Sheet) -> bool {
        sheet.layout().is_some_and(|l| *l.text == *self.text)
    }

    /// The word for where it is kept, and its path.
    fn kept(&self) -> (&str, &Path) {
        let (word, path) = self.about.split_once(' ').unwrap_or(("new", ""));
        (word, Path::new(path))
    }

    /// What the question about it tells.
    pub(super) fn remarks(&self) -> Vec<(Tone, String)> {
        let when = self.written.replace('T', " ").replace('Z', " UTC");
        let fields = text::count(author::fields(&self.text), "field");
        let path = text::path(self.kept().1);
        vec![(Tone::Plain, format!("Its last step was on {when}: {fields} in all, for {path}."))]
    }

    /// Its text, for a page.
    pub(super) fn listed(&self) -> Vec<Paragraph> {
        self.text.lines().map(|line| Paragraph::new(Tone::Plain, line)).collect()
    }

    /// Puts it in force as a step. Returns whether it could be read.
    pub(super) fn take_up(&self, app: &mut App) -> bool {
        let (word, path) = self.kept();
        let path = PathBuf::from(path);
        let kept = match (word, app.it().layout()) {
            // Work on the layout in force goes on with it.
            (_, Some(now)) if now.path == path => now.kept.clone(),
            ("shipped", _) => Kept::Shipped,
            // What the file was then is not known any more; it is replaced only when its name is typed.
            ("file", _) => Kept::File(None),
            _ => Kept::Nowhere,
        };
        match InForce::of_text(path, kept, &self.text) {
            Ok(after) => {
                app.take_up("took up the work that was not saved", after);
                app.tell(Tone::Good, "Taken up; {save-layout} saves it, {undo} takes it away again");
                true
            }
            Err(_) => {
                app.say(Tone::Bad, "The work that was not saved cannot be read; it stays where it is");
                false
            }
        }
    }
}
