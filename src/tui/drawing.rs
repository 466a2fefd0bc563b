//! What is worked on as a picture: the same one that the commands `show` and `compare` draw.

use std::path::Path;

use super::app::App;
use super::sheet::Sheet;
use super::theme::Tone;
use crate::report::compare::{Compared, Pair};
use crate::report::picture::{self, Contents};
use crate::report::show::Taken;
use crate::report::sides::Side;
use crate::report::text;
use crate::store;

/// Larger images are left to the commands: to look over them takes longer than a frame.
pub const MOST_DRAWN: usize = 4 << 20;

/// Draws the image that is worked on, or the two side by side, into a new file, and says so.
pub(super) fn draw(app: &mut App, path: &Path) {
    match store::save_new(path, drawn(app).as_bytes()) {
        Ok(_) => app.say(Tone::Good, format!("Drawn as {}", text::path(path))),
        Err(error) => app.problems("The picture is not written", &error),
    }
}

fn drawn(app: &App) -> String {
    let it = app.it();
    let sides = app.twin.as_ref().and_then(|twin| {
        let (left, right) = (app.images().get(twin.left)?, app.images().get(twin.right)?);
        Some((twin, left, right))
    });
    let Some((twin, left, right)) = sides else {
        let taken = taken(it);
        let contents = taken.as_ref().map(|taken| Contents::Layout(taken, it.decoded()));
        return picture::portrait(&side(it), &contents.unwrap_or(Contents::Bytes));
    };
    let pair = Pair {
        other: side(right),
        images: (left.image(), right.image()),
        comparison: twin.compared.comparison.clone(),
        alignment: twin.compared.alignment().cloned(),
    };
    let compared = Compared {
        base: side(left),
        pairs: vec![pair],
        summary: None,
        units: Vec::new(),
        layout: taken(left),
        findings: &[],
    };
    picture::comparison(&compared, left.layout().map(|_| left.decoded()))
}

/// The image as it is now, changes that are not saved among it; so it has no digest of a file.
fn side(sheet: &Sheet) -> Side<'_> {
    Side {
        path: text::Name::of(&sheet.file.path),
        format: sheet.file.format,
        image: sheet.image(),
        sha256: None,
    }
}

fn taken(sheet: &Sheet) -> Option<Taken<'_>> {
    sheet.layout().map(|in_force| Taken { layout: &in_force.layout, name: "", path: None, why: "" })
}
