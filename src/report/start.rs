//! What the program says when nothing was asked of it: what it is for, and the first commands to try.

use std::io::{self, Write};

use serde::Serialize;

use super::json::Report;
use super::paint::{Paint, Tone};
use super::text;

/// What a command answers, and the command, with `@` for the folder of the samples.
const FIRST: &[(&str, &str)] = &[
    (
        "Is it a good read? Two reads of one chip say more than one:",
        "vet @/unit7-read1.bin @/unit7-read2.bin",
    ),
    ("Is it of the unit that the label names, to the character?", "find @/unit7-read1.bin FK-CR8-2047B"),
    ("What do its bytes mean?", "show @/unit7-read1.bin"),
    ("Is a file that somebody sent back safe to write?", "audit @/unit7-read1.bin @/unit7-returned.bin"),
    ("Look at it, change it, save it under a new name:", "@/unit7-read1.bin"),
];

/// Says it. `has_samples` is true where the folder `samples` stands in the current one.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(out: &mut dyn Write, paint: Paint, has_samples: bool) -> io::Result<()> {
    let name = paint.tone(Tone::Strong, "readproof");
    writeln!(
        out,
        "{name} proves a read of a small serial memory, shows what its bytes mean\n\
         and what a changed file changes, makes a change with its checks, and proves the\n\
         write. The original is never overwritten unasked.\n\n\
         The main job, step by step on sample images, in the editor:\n  \
         readproof tour\n"
    )?;
    if has_samples {
        writeln!(out, "Or command by command, on the samples in this folder.")?;
    } else {
        writeln!(
            out,
            "Or command by command. First the samples, into a folder of their own:\n  readproof samples"
        )?;
    }
    write_commands(out, "samples")?;
    writeln!(out, "\nYour own images take the place of the samples. Every command: readproof --help")
}

/// What `samples` prints as JSON: the folder, and the files in it.
#[must_use]
pub fn samples_json(folder: text::Name, files: Vec<text::Name>) -> Report<impl Serialize> {
    #[derive(Serialize)]
    struct Body {
        #[serde(flatten)]
        folder: text::Name,
        files: Vec<text::Name>,
    }
    Report::new("samples", None, &[], 0, Body { folder, files })
}

/// The first commands, on the samples in `folder`, a folder as it is typed in a shell.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_commands(out: &mut dyn Write, folder: &str) -> io::Result<()> {
    for (question, command) in FIRST {
        writeln!(out, "{question}\n  readproof {}", command.replace('@', folder))?;
    }
    Ok(())
}
