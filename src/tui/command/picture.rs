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
        let is_drawn = |index: usize| match &app.twin {
            Some(twin) => [twin.left, twin.right].contains(&index),
            None => index == app.current(),
        };
        let mut images = app.images().iter().enumerate();
        let is_large = images.any(|(index, sheet)| is_drawn(index) && sheet.image().len() > MOST_DRAWN);
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
    let stem =
        |index: usize| app.images().get(index).and_then(|i| i.file.path.file_stem()).unwrap_or_default();
    let mut name = stem(app.current()).to_os_string();
    if let Some(twin) = &app.twin {
        name = stem(twin.left).to_os_string();
        name.push("-and-");
        name.push(stem(twin.right));
    }
    name.push(".svg");
    app.it().file.path.with_file_name(name)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::{Format, Image};
    use crate::tui::sheet::Sheet;
    use crate::tui::theme::Look;
    use crate::tui::twin::Twin;

    #[test]
    fn a_large_image_that_is_only_open_too_is_not_in_the_way() {
        let sheet = |bytes: usize| Sheet::new("unit.bin".into(), Image::raw(vec![0; bytes]), Format::Raw);
        let mut app = App::new(sheet(16), vec![sheet(MOST_DRAWN + 1)], (80, 24), Look::default());
        assert_eq!(PICTURE.refusal(&app), None);
        app.twin = Some(Twin::new(0, 1));
        assert!(PICTURE.refusal(&app).is_some_and(|why| why.contains("4 MiB")));
        app.twin = None;
        app.turn_to(1);
        assert!(PICTURE.refusal(&app).is_some());
    }
}
