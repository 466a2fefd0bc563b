//! The name of a file as it is typed, and a file that is replaced once its name was: what images, layouts and pictures
//! ask alike.

use std::path::{Path, PathBuf};

use crate::tui::app::App;
use crate::tui::dialog::{Prompt, Remark};
use crate::tui::theme::Tone;

/// The file that was named; `None` where nothing was typed.
pub(super) fn typed(prompt: &Prompt) -> Option<PathBuf> {
    Some(prompt.answer().trim()).filter(|typed| !typed.is_empty()).map(PathBuf::from)
}

/// What is said while nothing is typed.
pub(super) fn wanted() -> Remark {
    (Tone::Bad, "Type a file name".into())
}

/// What the prompts are called that ask for the name of a file that would be replaced.
pub(super) const TO_REPLACE: &str = "Type its name to replace it";

/// Whether what was typed is the name of the file that would be replaced.
fn names_it(prompt: &Prompt) -> bool {
    let (file, typed) = (&prompt.about.file, prompt.answer().trim());
    Path::new(typed) == file || file.file_name().is_some_and(|n| n.to_string_lossy() == typed)
}

/// What Enter or Esc does now.
pub(super) fn what_now(prompt: &Prompt) -> Remark {
    if names_it(prompt) {
        (Tone::Doubt, "Enter replaces it".into())
    } else {
        (Tone::Quiet, "Esc leaves it as it is".into())
    }
}

/// The file that may be replaced, because its name was typed; says so where another one was.
pub(super) fn confirmed(app: &mut App, prompt: &Prompt) -> Option<PathBuf> {
    if names_it(prompt) {
        return Some(prompt.about.file.clone());
    }
    app.say(Tone::Doubt, "The name was not the file's; nothing was written");
    None
}
