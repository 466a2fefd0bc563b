//! A file that is replaced once its name was typed: what an image and a layout ask alike.

use std::path::Path;

use crate::tui::dialog::{Prompt, Remark};
use crate::tui::theme::Tone;

/// What the prompts are called.
pub(super) const TITLE: &str = "Type its name to replace it";

/// What is said when another name was typed.
pub(super) const OTHER_NAME: &str = "The name was not the file's; nothing was written";

/// What such a prompt is about: the file, and whether the program ends afterwards.
pub(super) fn about(path: &Path, then_quit: bool) -> String {
    format!("{}{}", if then_quit { "q" } else { "-" }, path.display())
}

/// The file, and whether the program ends afterwards; see [`about`].
pub(super) fn to_replace(prompt: &Prompt) -> (&Path, bool) {
    let (quits, path) = prompt.about.split_at_checked(1).unwrap_or(("-", ""));
    (Path::new(path), quits == "q")
}

/// Whether what was typed is the name of the file.
pub(super) fn names_it(prompt: &Prompt) -> bool {
    let (path, _) = to_replace(prompt);
    let typed = prompt.answer().trim();
    Path::new(typed) == path || path.file_name().is_some_and(|n| n.to_string_lossy() == typed)
}

/// What Enter or Esc does now.
pub(super) fn what_now(prompt: &Prompt) -> Remark {
    if names_it(prompt) {
        (Tone::Doubt, "Enter replaces it".into())
    } else {
        (Tone::Quiet, "Esc leaves it as it is".into())
    }
}
