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
    writeln!(console.out)?;
    loop {
        write!(console.out, "Type t for the tour, s to open a sample, or nothing to leave, and Enter: ")?;
        console.out.flush()?;
        let Some(answer) = line(console.input)? else {
            // The input ended, so what comes next begins on a line of its own.
            writeln!(console.out)?;
            return Ok(None);
        };
        let chosen = match answer.trim().to_ascii_lowercase().as_str() {
            "" | "q" | "quit" | "exit" => return Ok(None),
            "t" | "tour" => "tour".into(),
            "s" | "sample" if has_samples => sample.into(),
            "s" | "sample" => {
                let folder = store::write_samples_aside()?;
                writeln!(console.out, "The samples are in {}.", text::path(&folder))?;
                folder.join("unit7-read1.bin").into_os_string()
            }
            other => {
                let other = text::clean(other);
                writeln!(console.out, "{:?} is neither t nor s.", text::cut(&other, 30))?;
                continue;
            }
        };
        return Ok(Some(vec!["readproof".into(), chosen]));
    }
}

/// One line, without its end; what is longer than any answer is left out. `None` at the end of the input.
fn line(input: &mut dyn Read) -> Result<Option<String>, Error> {
    let (mut line, mut byte) = (Vec::new(), [0]);
    let mut is_end = true;
    while input.read(&mut byte)? > 0 {
        is_end = false;
        if byte == *b"\n" {
            break;
        }
        if line.len() < 80 {
            line.push(byte[0]);
        }
    }
    Ok((!is_end).then(|| String::from_utf8_lossy(&line).into_owned()))
}
