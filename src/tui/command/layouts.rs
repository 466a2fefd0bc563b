//! The layout as a file: read; saved under a new name, or over the file it came from once that is confirmed.

use std::path::{Path, PathBuf};

use super::{Command, USUAL, ask, file_name, has_layout};
use crate::report::text;
use crate::tui::annotate::Kept;
use crate::tui::app::App;
use crate::tui::dialog::{About, Ask, Choice, Prompt};
use crate::tui::effect::{Effect, NotSaved};
use crate::tui::theme::Tone;

/// Reads a layout.
pub(super) const READ: Command = Command {
    name: "layout",
    obstacle: layout_is_saved,
    doc: "Read a layout from a file and put it in force",
    takes: "FILE",
    act: |app, typed| {
        let now = app.it().layout().map(|l| l.path.display().to_string()).unwrap_or_default();
        ask(app, &LAYOUT, typed, &now)
    },
    ..USUAL
};

/// Reads the layout in force again.
pub(super) const RELOAD: Command = Command {
    name: "reload-layout",
    obstacle: |app| has_layout(app).or_else(|| layout_is_saved(app)),
    doc: "Read the layout in force again from its file; changes of bytes stay",
    act: |app, _| app.it().layout().map_or(Effect::None, |l| Effect::ReadLayout(l.path.clone())),
    ..USUAL
};

/// A layout's file.
static LAYOUT: Ask = Ask {
    title: "Layout",
    remarks: |_, _| {
        vec![(Tone::Quiet, "a layout's file (.ron), or the name of one that comes with the program".into())]
    },
    options: |_, typed| {
        let shipped = crate::layout::SHIPPED.iter().filter(|(name, _)| name.contains(typed.trim()));
        shipped.map(|(name, _)| Choice::new(*name, "comes with the program")).collect()
    },
    submit: |_, prompt| Some(file_name::typed(prompt).map_or(Effect::None, Effect::ReadLayout)),
};

/// Writes the layout.
pub(super) const SAVE_LAYOUT: Command = Command {
    name: "save-layout",
    obstacle: has_layout,
    doc: "Write the layout to a new file; the one it came from only when its name is typed",
    takes: "FILE",
    act: |app, typed| open(app, typed, false),
    ..USUAL
};

pub(super) fn open(app: &mut App, typed: &str, then_quit: bool) -> Effect {
    let suggested = suggest(app).display().to_string();
    let about = About { then_quit, ..About::default() };
    let text = if typed.is_empty() { &suggested } else { typed };
    app.dialog = Some(Prompt::about(app, &SAVE, about, text, Vec::new()));
    Effect::None
}

/// A file name for the layout: the one it has; beside the image for one that has none.
fn suggest(app: &App) -> PathBuf {
    let it = app.it();
    let Some(in_force) = it.layout() else { return PathBuf::new() };
    match in_force.kept {
        Kept::File(_) | Kept::Ours(_) | Kept::Nowhere => in_force.path.clone(),
        // A file of this name beside the image would hide the shipped layout from then on, which may be meant.
        Kept::Shipped => it.file.origin.with_file_name(format!("{}-changed.ron", in_force.path.display())),
    }
}

fn is_own_file(app: &App, path: &Path) -> bool {
    let layout = app.it().layout();
    layout.is_some_and(|l| l.path == path && matches!(l.kept, Kept::File(_)))
}

/// The file to write.
static SAVE: Ask = Ask {
    title: "Save the layout as",
    remarks: |app, prompt| {
        let Some(path) = file_name::typed(prompt) else { return vec![file_name::wanted()] };
        let told = if is_own_file(app, &path) {
            "This is the file the layout came from; Enter asks once more"
        } else if !prompt.answer().trim().ends_with(".ron") {
            "Only files ending in .ron are found as layouts"
        } else {
            return Vec::new();
        };
        vec![(Tone::Doubt, told.into())]
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let (path, then_quit) = (file_name::typed(prompt)?, prompt.about.then_quit);
        if is_own_file(app, &path) {
            return Some(ask_replace(app, &path, then_quit));
        }
        Some(Effect::SaveLayout { path, replace: false, then_quit })
    },
};

fn ask_replace(app: &mut App, path: &Path, then_quit: bool) -> Effect {
    let about = About { file: path.to_path_buf(), then_quit, ..About::default() };
    app.dialog = Some(Prompt::about(app, &REPLACE, about, "", Vec::new()));
    Effect::None
}

/// The name of a file that is replaced.
static REPLACE: Ask = Ask {
    title: file_name::TO_REPLACE,
    remarks: |_, prompt| {
        let exists = format!("{} exists; what it was is kept beside it", text::path(&prompt.about.file));
        vec![(Tone::Bad, exists), file_name::what_now(prompt)]
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let (file, then_quit) = (file_name::confirmed(app, prompt), prompt.about.then_quit);
        Some(file.map_or(Effect::None, |path| Effect::SaveLayout { path, replace: true, then_quit }))
    },
};

/// Tells what saving a layout came to.
pub fn layout_saved(app: &mut App, result: Result<String, NotSaved>, path: &Path, then_quit: bool) -> Effect {
    match result {
        Ok(told) => {
            app.say(Tone::Good, told);
            if then_quit { super::leave(app) } else { Effect::None }
        }
        Err(NotSaved::Exists) => ask_replace(app, path, then_quit),
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
