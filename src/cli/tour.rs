//! The `tour` command: the main job on the sample images.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use super::{Console, Outcome};
use crate::error::Error;
use crate::report::text;
use crate::store;
use crate::tui::{LookArgs, SessionArgs, run_tour};

/// What `tour` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof tour\n  \
    readproof tour --folder practice\n\n\
    The images are written into a folder of their own, and only there is anything\n\
    written. Exit status: 0 all steps were done; 1 left before; 2 it could not be\n\
    done.")]
pub struct Args {
    /// New folder for the images of the tour; without it, one among the temporary ones
    #[arg(long, value_name = "FOLDER")]
    folder: Option<PathBuf>,
    /// Remove that folder, with everything in it, on leaving
    #[arg(long)]
    remove: bool,
    #[command(flatten)]
    look: LookArgs,
    #[command(flatten)]
    session: SessionArgs,
}

/// Runs `tour`.
///
/// # Errors
/// When the folder cannot be written, or there is no terminal.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    console.is_no_json("a tour")?;
    let folder = match &args.folder {
        Some(folder) => store::write_samples(folder).map(|_| folder.clone())?,
        None => store::write_samples_aside()?,
    };
    let images = ["unit7-read1.bin", "unit7-returned.bin"].map(|name| folder.join(name));
    let toured = run_tour(&images, &args.look, &args.session, console);
    let outcome = toured.and_then(|saved| {
        let Some(saved) = saved else {
            writeln!(console.out, "You left the tour before its end. `readproof tour` begins anew.")?;
            return Ok(Outcome::Attention);
        };
        close(&folder, &saved, console)?;
        Ok(Outcome::Good)
    });
    if args.remove {
        store::remove_samples(&folder)?;
    } else {
        let told = text::path(&folder);
        writeln!(console.out, "The files of the tour are in {told}; remove it when you like.")?;
    }
    outcome
}

/// The steps that need no editor, by the real commands.
fn close(folder: &Path, saved: &Path, console: &mut Console<'_>) -> Result<(), Error> {
    let path = |name: &str| folder.join(name).into_os_string();
    writeln!(console.out, "Is the file that came back safe to write? Two images, one command:\n")?;
    play(["audit".into(), path("unit7-read1.bin"), path("unit7-returned.bin")], console)?;
    writeln!(console.out, "\nIt is not, and yours?\n")?;
    play(["audit".into(), path("unit7-read1.bin"), saved.into()], console)?;
    writeln!(
        console.out,
        "\nNow the chip is written with your device, and read back. Here a copy stands for\n\
         what was read back; only this proves that the chip holds what you approved:\n"
    )?;
    let read_back = folder.join("unit7-read-back.bin");
    store::write_read_back(saved, &read_back)?;
    play(["vet".into(), read_back.into(), "--must-equal".into(), saved.into()], console)?;
    writeln!(
        console.out,
        "\nThat was the whole job. On the bench: isolate the mains supply and lock it off\n\
         first, find the cause before a lockout is cleared, leave pressure equipment to\n\
         licensed people, and follow the maker's instructions and local codes.\n"
    )?;
    Ok(())
}

/// Shows a command and runs it.
fn play<const N: usize>(words: [OsString; N], console: &mut Console<'_>) -> Result<(), Error> {
    let shown = words.iter().map(|w| text::word(w)).collect::<Vec<_>>().join(" ");
    writeln!(console.out, "$ readproof {shown}")?;
    let mut inner = Console::new(console.out, console.err, console.input);
    let all = [OsString::from("readproof")].into_iter().chain(words);
    super::run(all, &mut inner);
    Ok(())
}
