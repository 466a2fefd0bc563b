//! The image, or two side by side, as a picture in a file.

use std::path::PathBuf;

use super::{Command, USUAL, ask, file_name};
use crate::tui::app::App;
use crate::tui::dialog::Ask;
use crate::tui::drawing::MOST_DRAWN;
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

/// The row of the table.
pub(super) const PICTURE: Command = Command {
    name: "picture",
    obstacle: |app| {
        let is_large = app.images().iter().any(|i| i.image.len() > MOST_DRAWN);
        let is_new = app.twin.as_ref().is_some_and(crate::tui::twin::Twin::is_new);
        is_large
            .then_some("Images over 4 MiB are drawn by readproof show and compare, with --picture")
            .or_else(|| is_new.then_some("The images are being compared"))
    },
    doc: "Draw the whole image, or what differs side by side, as a new SVG file",
    takes: "FILE",
    act: |app, typed| {
        let suggested = suggest(app).display().to_string();
        ask(app, &DRAW, typed, &suggested)
    },
    ..USUAL
};

/// A name beside the image, after both where two are side by side.
fn suggest(app: &App) -> PathBuf {
    let stem = |index: usize| app.images().get(index).and_then(|i| i.path.file_stem()).unwrap_or_default();
    let mut name = stem(app.current()).to_os_string();
    if let Some(twin) = &app.twin {
        name = stem(twin.left).to_os_string();
        name.push("-and-");
        name.push(stem(twin.right));
    }
    name.push(".svg");
    app.it().path.with_file_name(name)
}

/// The file to write.
static DRAW: Ask = Ask {
    title: "Draw as",
    remarks: |_, prompt| match prompt.answer().trim() {
        "" => vec![file_name::wanted()],
        typed if !typed.ends_with(".svg") => {
            vec![(Tone::Doubt, "It is an SVG file; other programs know it by the ending .svg".into())]
        }
        _ => vec![(Tone::Quiet, "A file that exists is not replaced".into())],
    },
    options: |_, _| Vec::new(),
    submit: |_, prompt| file_name::typed(prompt).map(Effect::Draw),
};
