//! A file that somebody else wrote to since it was opened.

use super::file::open_save;
use super::{Command, USUAL};
use crate::store::Difference;
use crate::tui::app::App;
use crate::tui::dialog::{About, Dialog, Question, Reply};
use crate::tui::effect::{Effect, Replace};
use crate::tui::job;
use crate::tui::theme::Tone;

/// The row of the table.
pub(super) const TAKE_FILE: Command = Command {
    name: "take-file",
    obstacle: |app| {
        let is_same = app.it().file.changed_on_disk.is_none();
        is_same.then_some("The file is as it was opened").or_else(|| job::obstacle(app))
    },
    doc: "Read the file again after somebody else wrote to it; changes that are not saved are made on it",
    act: |_, _| Effect::TakeFile,
    ..USUAL
};

/// Asks what to do about a file that is not what was opened.
pub fn ask_about_file(app: &mut App, how: &Difference, then_quit: bool) -> Effect {
    // There is nothing that could be taken or replaced.
    let is_gone = matches!(how, Difference::Gone | Difference::Folder);
    let name = app.it().file.name();
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
    app.it_mut().file.changed_on_disk = Some(how.to_string());
    let about = About { then_quit, ..About::default() };
    let replies = if is_gone { GONE } else { CHANGED };
    app.dialog = Some(Dialog::Question(Question { title, about, remarks, replies, chosen: 0 }));
    Effect::None
}

const ELSEWHERE: Reply =
    Reply { key: 'e', word: "Elsewhere", act: |app, about| open_save(app, "", about.then_quit) };

const GONE: &[Reply] = &[ELSEWHERE, Reply::CANCEL];

const CHANGED: &[Reply] = &[
    ELSEWHERE,
    Reply { key: 't', word: "Take", act: |_, _| Effect::TakeFile },
    Reply {
        key: 'r',
        word: "Replace",
        act: |app, about| Effect::Save {
            path: app.it().file.path.clone(),
            replace: Replace::WhateverItIs,
            then_quit: about.then_quit,
        },
    },
    Reply::CANCEL,
];
