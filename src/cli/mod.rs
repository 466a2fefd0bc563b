//! The command line: one small file per command, each a `run(&Args, &mut Console)`.

use std::ffi::OsString;
use std::io::{self, Read, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::error::Error;

/// What a command came to; the exit status of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Sound, found, the same.
    Good,
    /// Something a person must look at.
    Attention,
}

impl Outcome {
    /// The exit status; 2 is an [`Error`] and has no outcome.
    #[must_use]
    pub const fn status(self) -> u8 {
        match self {
            Outcome::Good => 0,
            Outcome::Attention => 1,
        }
    }
}

/// What a command may talk to.
pub struct Console<'a> {
    /// Results.
    pub out: &'a mut dyn Write,
    /// Remarks that are not results.
    pub err: &'a mut dyn Write,
    /// Where `-` reads from.
    pub input: &'a mut dyn Read,
    /// Print one JSON object instead of text.
    pub json: bool,
    /// Whether text may carry colour.
    pub colour: bool,
}

/// Declares the commands: name of the variant, its module. The one list of them.
macro_rules! commands {
    ($($(#[doc = $doc:literal])* $variant:ident => $module:ident),* $(,)?) => {
        $(pub mod $module;)*

        #[derive(Debug, Subcommand)]
        enum Command {
            $($(#[doc = $doc])* $variant($module::Args),)*
        }

        impl Command {
            fn run(&self, console: &mut Console<'_>) -> Result<Outcome, Error> {
                match self { $(Command::$variant(args) => $module::run(args, console),)* }
            }
        }
    };
}

commands! {
    /// Is this a good read? One or several reads of one chip
    Vet => vet,
    /// Fields and checks of an image by its layout
    Show => show,
    /// A part number or serial in an image, however it is stored
    Find => find,
    /// What differs between images: bytes, fields, checks, shifts
    Compare => compare,
    /// Is this changed file safe to write?
    Audit => audit,
    /// Change an image by script and write it to a new file
    Amend => amend,
    /// What is in an unknown memory
    Survey => survey,
    /// Which check protects which range, and where it is stored
    Hunt => hunt,
    /// Raw, Intel HEX, S-record: from one to another
    Convert => convert,
    /// Families of serial memories, or what a marking can mean
    Chips => chips,
    /// Checks with their parameters, or one of them computed
    Checks => checks,
    /// Layouts at hand, or the problems of one
    Layouts => layouts,
    /// Keep and print the record of a job
    Docket => docket,
}

/// Prove a read of a small serial memory, see what its bytes mean, and change it safely.
///
/// With only images named, opens the editor on them.
#[derive(Debug, Parser)]
#[command(name = "readproof", version, args_conflicts_with_subcommands = true)]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
    /// Print one JSON object instead of text
    #[arg(long, global = true)]
    json: bool,
    #[command(flatten)]
    editor: crate::tui::Args,
}

/// Runs the program on the arguments and streams of this process.
#[must_use]
pub fn main() -> ExitCode {
    let (stdout, stderr, stdin) = (io::stdout(), io::stderr(), io::stdin());
    let (mut out, mut err, mut input) = (io::BufWriter::new(stdout.lock()), stderr.lock(), stdin.lock());
    let mut console = Console { out: &mut out, err: &mut err, input: &mut input, json: false, colour: false };
    let status = run(std::env::args_os(), &mut console);
    // A reader that went away (a closed pipe) is no failure of ours.
    let _ = out.flush();
    ExitCode::from(status)
}

/// Runs the program on `arguments` (the first is the program's name); returns the exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>, console: &mut Console<'_>) -> u8 {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            let (stream, status): (&mut dyn Write, u8) =
                if error.use_stderr() { (console.err, 2) } else { (console.out, 0) };
            let _ = write!(stream, "{}", error.render());
            return status;
        }
    };
    console.json = arguments.json;
    let result = match &arguments.command {
        Some(command) => command.run(console),
        None => crate::tui::run(&arguments.editor, console),
    };
    match result {
        Ok(outcome) => outcome.status(),
        Err(error) => {
            let _ = console.out.flush();
            let _ = writeln!(console.err, "readproof: {error}");
            2
        }
    }
}
