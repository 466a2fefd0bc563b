//! A file that somebody else wrote to since it was opened.

use super::file::open_save;
use super::leave::THEN_QUIT;
use super::{Command, Where};
use crate::tui::app::App;
use crate::tui::dialog::{Dialog, Question, Reply};
use crate::tui::effect::{Effect, Replace};
use crate::tui::theme::Tone;

/// The row of the table.
pub(super) const TAKE_FILE: Command = Command {
    name: "take-file",
    keys: &[],
    place: Where::PANES,
    obstacle: |app| app.it().changed_on_disk.is_none().then_some("The file is as it was opened"),
    hint: "",
    doc: "Read the file again after somebody else wrote to it; changes that are not saved are made on it",
    takes: "",
    act: |_, _| Effect::TakeFile,
};

/// Asks what to do about a file that is not what was opened; `how` continues "the file".
pub fn ask_about_file(app: &mut App, how: String, then_quit: bool) {
    // Gone, or a folder: there is nothing that could be taken or replaced.
    let is_gone = how.starts_with("is ");
    let name = app.it().name();
    let title = format!("{name} {how}");
    let remarks = if is_gone {
        vec![(Tone::Plain, "Nothing was written. What is here is all there is of it.".into())]
    } else {
        vec![
            (Tone::Plain, "Somebody else wrote to it. Nothing was written.".into()),
            (Tone::Quiet, "Elsewhere: under another name; both can be compared then.".into()),
            (
                Tone::Quiet,
                "Take: what the file holds, with your changes made on it. Undo takes it back.".into(),
            ),
            (Tone::Quiet, "Replace: yours over it; what it holds now is kept beside it.".into()),
        ]
    };
    app.it_mut().changed_on_disk = Some(how);
    app.asked_about = if then_quit { THEN_QUIT.to_owned() } else { String::new() };
    let replies = if is_gone { GONE } else { CHANGED };
    app.dialog = Some(Dialog::Question(Question { title, remarks, replies, chosen: 0 }));
}

const ELSEWHERE: Reply = Reply {
    key: 'e',
    word: "Elsewhere",
    act: |app| {
        let about = app.asked_about.clone();
        open_save(app, "", &about);
        Effect::None
    },
};

const CANCEL: Reply = Reply { key: 'c', word: "Cancel", act: |_| Effect::None };

const GONE: &[Reply] = &[ELSEWHERE, CANCEL];

const CHANGED: &[Reply] = &[
    ELSEWHERE,
    Reply { key: 't', word: "Take", act: |_| Effect::TakeFile },
    Reply {
        key: 'r',
        word: "Replace",
        act: |app| Effect::Save {
            path: app.it().path.clone(),
            replace: Replace::WhateverItIs,
            then_quit: app.asked_about == THEN_QUIT,
        },
    },
    CANCEL,
];
