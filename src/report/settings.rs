//! What `settings` prints: where the file is, and what there is to say about it.

use std::io::{self, Write};

use serde::Serialize;

use super::json::Report;
use super::layouts::{self, Linted};
use super::paint::Paint;
use super::text;

/// Prints it; `linted` is `None` when there is no file.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(
    out: &mut dyn Write,
    paint: Paint,
    path: &text::Name,
    linted: Option<&Linted<'_>>,
) -> io::Result<()> {
    match linted {
        Some(linted) => layouts::write_lint(out, paint, linted),
        None => writeln!(
            out,
            "{}: no such file, so everything is as it comes.\n`readproof settings --start` writes one that \
             changes nothing, to start from.",
            &**path
        ),
    }
}

/// The JSON object.
#[must_use]
pub fn json(path: &text::Name, linted: Option<&Linted<'_>>, started: bool) -> Report<impl Serialize> {
    #[derive(Serialize)]
    struct Body {
        #[serde(flatten)]
        file: text::Name,
        exists: bool,
        started: bool,
        remarks: Vec<layouts::RemarkJson>,
    }
    let remarks = linted.map(Linted::for_json).unwrap_or_default();
    Report::new(
        "settings",
        None,
        &[],
        0,
        Body { file: path.clone(), exists: linted.is_some(), started, remarks },
    )
}
