//! What `readproof` alone says: what it is for, and the first commands to try.

use std::ffi::OsString;
use std::io::{IsTerminal, Read, stdin};
use std::path::Path;

use super::Console;
use crate::error::Error;
use crate::report::{start, text};
use crate::store;

/// Says it; on a terminal offers the tour or a sample. Returns the command line that was chosen, if one was.
///
/// # Errors
/// When the output cannot be written, or a sample.
pub(super) fn run(console: &mut Console<'_>) -> Result<Option<Vec<OsString>>, Error> {
    let sample = Path::new("samples/unit7-read1.bin");
    let has_samples = store::is_file(sample);
    start::write(console.out, console.paint, has_samples)?;
    if !console.terminal || !stdin().is_terminal() {
        return Ok(None);
    }
    write!(console.out, "\nType t for the tour, s to open a sample, or nothing to leave, and Enter: ")?;
    console.out.flush()?;
    let chosen = match answer(console.input)? {
        Some('t') => "tour".into(),
        Some('s') if has_samples => sample.into(),
        Some('s') => {
            let folder = store::write_samples_aside()?;
            writeln!(console.out, "The samples are in {}.", text::path(&folder))?;
            folder.join("unit7-read1.bin").into_os_string()
        }
        _ => return Ok(None),
    };
    Ok(Some(vec!["readproof".into(), chosen]))
}

/// The first character of a line.
fn answer(input: &mut dyn Read) -> Result<Option<char>, Error> {
    let (mut first, mut byte) = (None, [0]);
    while input.read(&mut byte)? > 0 && byte != *b"\n" {
        first = first.or(Some(char::from(byte[0]).to_ascii_lowercase()));
    }
    Ok(first)
}
