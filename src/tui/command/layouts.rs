//! The layout as a file: saved under a new name, or over the file it came from once that is confirmed.

use std::path::{Path, PathBuf};

use super::leave::THEN_QUIT;
use super::{Command, Where, has_layout, replace};
use crate::report::text;
use crate::tui::annotate::Kept;
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Dialog, Prompt};
use crate::tui::effect::{Effect, NotSaved};
use crate::tui::theme::Tone;

/// Writes the layout.
pub(super) const SAVE_LAYOUT: Command = Command {
    name: "save-layout",
    keys: &[],
    place: Where::PANES,
    obstacle: has_layout,
    hint: "",
    doc: "Write the layout to a new file; the one it came from only when its name is typed",
    takes: "FILE",
    act: |app, typed| {
        open(app, typed, "");
        Effect::None
    },
};

pub(super) fn open(app: &mut App, typed: &str, about: &str) {
    let suggested = suggest(app).display().to_string();
    app.dialog = Some(Prompt::open(app, &SAVE, about, if typed.is_empty() { &suggested } else { typed }));
}

/// A file name for the layout: the one it has; beside the image for one that has none.
fn suggest(app: &App) -> PathBuf {
    let it = app.it();
    let Some(in_force) = &it.layout else { return PathBuf::new() };
    match in_force.kept {
        Kept::File(_) | Kept::Ours(_) | Kept::Nowhere => in_force.path.clone(),
        // A file of this name beside the image would hide the shipped layout from then on, which may be meant.
        Kept::Shipped => it.origin.with_file_name(format!("{}-changed.ron", in_force.path.display())),
    }
}

fn is_own_file(app: &App, path: &Path) -> bool {
    let layout = app.it().layout.as_ref();
    layout.is_some_and(|l| l.path == path && matches!(l.kept, Kept::File(_)))
}

/// The file to write.
static SAVE: Ask = Ask {
    title: "Save the layout as",
    remarks: |app, prompt| {
        let typed = prompt.answer().trim();
        let mut remarks = Vec::new();
        if typed.is_empty() {
            remarks.push((Tone::Bad, "Type a file name".into()));
        } else if is_own_file(app, Path::new(typed)) {
            remarks.push((Tone::Doubt, "This is the file the layout came from; Enter asks once more".into()));
        } else if !typed.ends_with(".ron") {
            remarks.push((Tone::Doubt, "Only files ending in .ron are found as layouts".into()));
        }
        remarks
    },
    options: super::change::no_options,
    submit: |app, prompt| {
        let path = PathBuf::from(prompt.answer().trim());
        let then_quit = prompt.about == THEN_QUIT;
        if path.as_os_str().is_empty() {
            app.dialog = Some(Dialog::Prompt(prompt));
            return Effect::None;
        }
        if is_own_file(app, &path) {
            ask_replace(app, &path, then_quit);
            return Effect::None;
        }
        Effect::SaveLayout { path, replace: false, then_quit }
    },
};

fn ask_replace(app: &mut App, path: &Path, then_quit: bool) {
    let about = replace::about(path, then_quit);
    app.dialog = Some(Prompt::open(app, &REPLACE, about, ""));
}

/// The name of a file that is replaced.
static REPLACE: Ask = Ask {
    title: replace::TITLE,
    remarks: |_, prompt| {
        let (path, _) = replace::to_replace(prompt);
        vec![
            (Tone::Bad, format!("{} exists; what it was is kept beside it", text::path(path))),
            replace::what_now(prompt),
        ]
    },
    options: super::change::no_options,
    submit: |app, prompt| {
        let (path, then_quit) = replace::to_replace(&prompt);
        if replace::names_it(&prompt) {
            return Effect::SaveLayout { path: path.to_path_buf(), replace: true, then_quit };
        }
        app.say(Tone::Doubt, replace::OTHER_NAME);
        Effect::None
    },
};

/// Tells what saving a layout came to.
pub fn layout_saved(app: &mut App, result: Result<String, NotSaved>, path: &Path, then_quit: bool) -> Effect {
    match result {
        Ok(told) => {
            app.say(Tone::Good, told);
            if then_quit { super::leave(app) } else { Effect::None }
        }
        Err(NotSaved::Exists) => {
            ask_replace(app, path, then_quit);
            Effect::None
        }
        Err(NotSaved::Changed(how)) => {
            app.say(Tone::Bad, format!("Not saved: the file {how}"));
            Effect::None
        }
        Err(NotSaved::Failed(error)) => {
            app.problems("The layout is not saved", &error);
            Effect::None
        }
    }
}

/// Possible while every change of the layout is in a file.
pub(super) fn layout_is_saved(app: &App) -> Option<&'static str> {
    app.it()
        .layout_is_modified()
        .then_some("The layout has changes that are not saved: save-layout, or undo them")
}
