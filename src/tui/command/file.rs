//! Files: save, layouts, the other open images, quit.

use std::path::Path;

use super::{Command, USUAL, disk, file_name, layouts, leave, picture, review};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{About, Ask, Prompt};
use crate::tui::effect::{Effect, Replace};
use crate::tui::recovery;
use crate::tui::theme::Tone;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "save",
        keys: &["Ctrl-S"],
        hint: "save",
        doc: "Write the image to a new file, or the layout when only that has changes; see save-layout",
        takes: "FILE",
        act: |app, typed| {
            if typed.is_empty() && !app.it().is_modified() && app.it().layout_is_modified() {
                layouts::open(app, "", false)
            } else {
                open_save(app, typed, false)
            }
        },
        ..USUAL
    },
    review::REVIEW,
    layouts::READ,
    layouts::RELOAD,
    picture::PICTURE,
    disk::TAKE_FILE,
    Command {
        name: "left-changes",
        obstacle: |app| app.left.is_empty().then_some("No session left changes that are not saved"),
        doc: "Ask again about the changes that an earlier session left unsaved",
        act: |app, _| {
            recovery::offer(app);
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "next-image",
        keys: &["Ctrl-O"],
        obstacle: |app| (app.images().len() < 2).then_some("Only one image is open"),
        hint: "other image",
        doc: "Turn to the next open image",
        act: |app, _| {
            app.turn_to(app.current() + 1);
            Effect::None
        },
        ..USUAL
    },
    leave::QUIT,
];

pub(super) fn open_save(app: &mut App, typed: &str, then_quit: bool) -> Effect {
    let suggested = app.it().file.suggested().display().to_string();
    let about = About { then_quit, ..About::default() };
    let text = if typed.is_empty() { &suggested } else { typed };
    app.dialog = Some(Prompt::about(app, &SAVE, about, text, review::warnings(app)));
    Effect::None
}

/// The file to write.
static SAVE: Ask = Ask {
    title: "Save as",
    remarks: |app, prompt| {
        let mut remarks = prompt.told.clone();
        match file_name::typed(prompt) {
            None => remarks.push(file_name::wanted()),
            Some(path) if is_origin(app, &path) => {
                let told = "This is the file the image came from; Enter asks once more";
                remarks.push((Tone::Bad, told.into()));
            }
            Some(_) => {}
        }
        remarks
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let (path, then_quit) = (file_name::typed(prompt)?, prompt.about.then_quit);
        if is_origin(app, &path) {
            return Some(ask_replace(app, &path, then_quit));
        }
        // A file that this session wrote itself may be written again.
        let replace = if path == app.it().file.path { Replace::Agreed } else { Replace::No };
        Some(Effect::Save { path, replace, then_quit })
    },
};

fn is_origin(app: &App, path: &Path) -> bool {
    app.images().iter().any(|i| i.file.origin == path)
}

/// Asks for the name of a file that would be replaced.
pub fn ask_replace(app: &mut App, path: &Path, then_quit: bool) -> Effect {
    let about = About { file: path.to_path_buf(), then_quit, ..About::default() };
    app.dialog = Some(Prompt::about(app, &REPLACE, about, "", review::warnings(app)));
    Effect::None
}

/// The name of a file that is replaced.
static REPLACE: Ask = Ask {
    title: file_name::TO_REPLACE,
    remarks: |app, prompt| {
        let path = &prompt.about.file;
        let why = if is_origin(app, path) { "the image came from this file" } else { "this file exists" };
        let mut remarks = vec![(
            Tone::Bad,
            format!("{}: {why}; a copy of what it holds is kept as well", text::path(path)),
        )];
        remarks.extend(prompt.told.clone());
        remarks.push(file_name::what_now(prompt));
        remarks
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let (file, then_quit) = (file_name::confirmed(app, prompt), prompt.about.then_quit);
        Some(file.map_or(Effect::None, |path| Effect::Save { path, replace: Replace::Agreed, then_quit }))
    },
};
