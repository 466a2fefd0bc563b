//! Files: save, layouts, the other open images, quit.

use std::path::{Path, PathBuf};

use super::leave::{self, THEN_QUIT};
use super::{Command, Where, always, disk, picture, replace, review};
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Choice, Dialog, Prompt};
use crate::tui::effect::{Effect, Replace};
use crate::tui::recovery;
use crate::tui::theme::Tone;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "save",
        keys: &["Ctrl-S"],
        place: Where::PANES,
        obstacle: always,
        hint: "save",
        doc: "Write the image to a new file, or the layout when only that has changes; see save-layout",
        takes: "FILE",
        act: |app, typed| {
            if typed.is_empty() && !app.it().is_modified() && app.it().layout_is_modified() {
                super::layouts::open(app, "", "");
            } else {
                open_save(app, typed, "");
            }
            Effect::None
        },
    },
    review::REVIEW,
    Command {
        name: "layout",
        keys: &[],
        place: Where::PANES,
        obstacle: super::layouts::layout_is_saved,
        hint: "",
        doc: "Read a layout from a file and put it in force",
        takes: "FILE",
        act: |app, typed| {
            let now = app.it().layout.as_ref().map(|l| l.path.display().to_string()).unwrap_or_default();
            app.dialog = Some(Prompt::open(app, &LAYOUT, "", if typed.is_empty() { &now } else { typed }));
            Effect::None
        },
    },
    Command {
        name: "reload-layout",
        keys: &[],
        place: Where::PANES,
        obstacle: |app| super::has_layout(app).or_else(|| super::layouts::layout_is_saved(app)),
        hint: "",
        doc: "Read the layout in force again from its file; changes of bytes stay",
        takes: "",
        act: |app, _| app.it().layout.as_ref().map_or(Effect::None, |l| Effect::ReadLayout(l.path.clone())),
    },
    picture::PICTURE,
    disk::TAKE_FILE,
    Command {
        name: "left-changes",
        keys: &[],
        place: Where::PANES,
        obstacle: |app| app.left.is_empty().then_some("No session left changes that are not saved"),
        hint: "",
        doc: "Ask again about the changes that an earlier session left unsaved",
        takes: "",
        act: |app, _| {
            recovery::offer(app);
            Effect::None
        },
    },
    Command {
        name: "next-image",
        keys: &["Ctrl-O"],
        place: Where::PANES,
        obstacle: |app| (app.images().len() < 2).then_some("Only one image is open"),
        hint: "other image",
        doc: "Turn to the next open image",
        takes: "",
        act: |app, _| {
            app.turn_to(app.current() + 1);
            Effect::None
        },
    },
    leave::QUIT,
];

pub(super) fn open_save(app: &mut App, typed: &str, about: &str) {
    let suggested = suggest(app).display().to_string();
    let told = review::warnings(app);
    let text = if typed.is_empty() { &suggested } else { typed };
    app.dialog = Some(Prompt::telling(app, &SAVE, about, text, told));
}

/// A name for the changed image, beside the one it came from; once saved, the same file again, as long as nobody else
/// wrote to it.
fn suggest(app: &App) -> PathBuf {
    let it = app.it();
    let more = match (it.path == it.origin, &it.changed_on_disk) {
        (true, None) => "-changed",
        (false, None) => return it.path.clone(),
        (_, Some(_)) => "-mine",
    };
    let mut name = it.path.file_stem().unwrap_or_default().to_os_string();
    name.push(more);
    if let Some(ending) = it.path.extension() {
        name.push(".");
        name.push(ending);
    }
    it.path.with_file_name(name)
}

/// The file to write.
static SAVE: Ask = Ask {
    title: "Save as",
    remarks: |app, prompt| {
        let mut remarks = prompt.told.clone();
        let typed = prompt.answer().trim();
        if typed.is_empty() {
            remarks.push((Tone::Bad, "Type a file name".into()));
        } else if is_origin(app, Path::new(typed)) {
            remarks.push((Tone::Bad, "This is the file the image came from; Enter asks once more".into()));
        }
        remarks
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let path = PathBuf::from(prompt.answer().trim());
        let then_quit = prompt.about == THEN_QUIT;
        if path.as_os_str().is_empty() {
            app.dialog = Some(Dialog::Prompt(prompt));
            return Effect::None;
        }
        if is_origin(app, &path) {
            ask_replace(app, &path, then_quit);
            return Effect::None;
        }
        // A file that this session wrote itself may be written again.
        let replace = if path == app.it().path { Replace::Agreed } else { Replace::No };
        Effect::Save { path, replace, then_quit }
    },
};

fn is_origin(app: &App, path: &Path) -> bool {
    app.images().iter().any(|i| i.origin == path)
}

/// Asks for the name of a file that would be replaced.
pub fn ask_replace(app: &mut App, path: &Path, then_quit: bool) {
    let about = replace::about(path, then_quit);
    let told = review::warnings(app);
    app.dialog = Some(Prompt::telling(app, &REPLACE, about, "", told));
}

/// The name of a file that is replaced.
static REPLACE: Ask = Ask {
    title: replace::TITLE,
    remarks: |app, prompt| {
        let (path, _) = replace::to_replace(prompt);
        let why = if is_origin(app, path) { "the image came from this file" } else { "this file exists" };
        let mut remarks = vec![(
            Tone::Bad,
            format!("{}: {why}; a copy of what it holds is kept as well", text::path(path)),
        )];
        remarks.extend(prompt.told.clone());
        remarks.push(replace::what_now(prompt));
        remarks
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let (path, then_quit) = replace::to_replace(&prompt);
        if replace::names_it(&prompt) {
            return Effect::Save { path: path.to_path_buf(), replace: Replace::Agreed, then_quit };
        }
        app.say(Tone::Doubt, replace::OTHER_NAME);
        Effect::None
    },
};

/// A layout's file.
static LAYOUT: Ask = Ask {
    title: "Layout",
    remarks: |_, _| {
        vec![(Tone::Quiet, "a layout's file (.ron), or the name of one that comes with the program".into())]
    },
    options: |_, typed| {
        let shipped = crate::layout::SHIPPED.iter().filter(|(name, _)| name.contains(typed.trim()));
        shipped
            .map(|(name, _)| Choice {
                text: (*name).into(),
                detail: "comes with the program".into(),
                aside: String::new(),
                possible: true,
            })
            .collect()
    },
    submit: |_, prompt| match prompt.answer().trim() {
        "" => Effect::None,
        path => Effect::ReadLayout(PathBuf::from(path)),
    },
};
