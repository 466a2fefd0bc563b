//! The command line: one small file per command, each a `run(&Args, &mut Console)`.
//!
//! Results go to standard output, remarks and errors to standard error. An error is told once, at the end;
//! with `--json` it is also the one object on standard output. Exit status: see [`Outcome`].
//! Over many images (`batch`) results come one after another, on all cores, and what is wrong with one image is
//! told in its place.

mod arguments;
mod batch;
pub mod choose;
mod console;
mod for_docket;
mod hush;
mod overhear;
mod picture;
mod sides;
mod start;
mod stream;
mod vet_each;
mod wait;
mod window;

use std::ffi::OsString;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::LazyLock;

use clap::{Parser, Subcommand, ValueEnum};

pub use arguments::{AddressRange, parse_address};
pub use choose::LayoutArgs;
pub use console::Console;

use crate::error::Error;
use crate::finding::Verdict;
use crate::notation::nearest;
use crate::report::paint::{self, Paint};
use crate::report::{self, json};

/// What a command came to; the exit status of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Sound, found, the same.
    Good,
    /// Something a person must look at.
    Attention,
    /// Of many images some could not be read, each told in its place; the others were done.
    Partly,
}

impl Outcome {
    /// The exit status; an [`Error`] is 2 and has no outcome.
    #[must_use]
    pub const fn status(self) -> u8 {
        match self {
            Outcome::Good => 0,
            Outcome::Attention => 1,
            Outcome::Partly => 2,
        }
    }

    /// What a verdict comes to: only a sound one is good.
    #[must_use]
    pub const fn of(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Sound => Outcome::Good,
            Verdict::Doubtful | Verdict::Unsound => Outcome::Attention,
        }
    }
}

impl From<io::Error> for Error {
    /// For the streams of the console, the only ones that commands use themselves; files are `store`'s.
    fn from(error: io::Error) -> Self {
        Error::new(format!("the output could not be written: {error}"))
            .advice("make room where it goes, or send it elsewhere")
    }
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

            const fn name(&self) -> &'static str {
                match self { $(Command::$variant(_) => stringify!($module),)* }
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
    /// Which of many known reads is nearest to this one?
    Nearest => nearest,
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
    /// Where the editor's settings are, and what is wrong in them
    Settings => settings,
    /// The main job on the samples, step by step in the editor
    Tour => tour,
    /// Write the sample images into a new folder
    Samples => samples,
    /// What a shell needs to complete the command line
    Completions => completions,
    /// Manual pages, for the system's reader of such pages
    Manual => manual,
}

/// The command line as a whole.
#[derive(Debug, Parser)]
#[command(
    name = "readproof",
    version,
    long_version = LONG_VERSION.as_str(),
    about = "Prove a read of a small serial memory, see what its bytes mean, and change it\n\
             safely. With only images named, opens the editor on them.",
    long_about = None,
    args_conflicts_with_subcommands = true,
    max_term_width = 80,
    after_help = "Exit status: 0 sound, found or the same; 1 a person must look at something;\n\
                  2 it could not be done.\n\n\
                  A report of a bug needs what --version prints, the command as typed, what it\n\
                  printed and, if you may, the image. A docket (--docket) holds most of it."
)]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
    /// Print one JSON object instead of text
    #[arg(long, global = true)]
    json: bool,
    /// Print nothing when all is well, one sentence when a person must look
    #[arg(short, long, global = true, conflicts_with = "verbose")]
    quiet: bool,
    /// Print what is shortened or left out otherwise
    #[arg(short, long, global = true)]
    verbose: bool,
    /// Colour in text: auto, always or never
    #[arg(
        long,
        global = true,
        value_name = "WHEN",
        value_enum,
        default_value_t,
        hide_possible_values = true
    )]
    color: When,
    /// Add what the command reads, says and writes to the record of a job
    #[arg(long, global = true, value_name = "FILE")]
    docket: Option<PathBuf>,
    #[command(flatten, next_help_heading = "Editor")]
    editor: crate::tui::Args,
}

/// What a report of a bug begins with.
static LONG_VERSION: LazyLock<String> = LazyLock::new(|| {
    let (version, system, machine) =
        (env!("CARGO_PKG_VERSION"), std::env::consts::OS, std::env::consts::ARCH);
    format!(
        "{version} ({system}, {machine})\nA report of a bug needs this line, the command as typed, what it printed \
         and, if you may, the image."
    )
});

/// When to use colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum When {
    #[default]
    Auto,
    Always,
    Never,
}

impl From<When> for paint::Colour {
    fn from(when: When) -> Self {
        match when {
            When::Auto => paint::Colour::Auto,
            When::Always => paint::Colour::Always,
            When::Never => paint::Colour::Never,
        }
    }
}

/// Runs the program on the arguments and streams of this process.
#[must_use]
pub fn main() -> ExitCode {
    let (stdout, stderr, stdin) = (io::stdout(), io::stderr(), io::stdin());
    let terminal = stdout.is_terminal();
    // Neither is locked for long: the editor's threads give the terminal back through them when a signal ends it.
    let mut out = stream::Quiet::new(io::BufWriter::new(stdout));
    let gone = out.closed();
    let (mut err, mut input) = (stderr, stdin.lock());
    let mut console = Console::new(&mut out, &mut err, &mut input);
    console.terminal = terminal;
    console.gone = gone;
    let status = run(std::env::args_os(), &mut console);
    // A reader that goes away early changes nothing about what was found: `readproof vet READ | head -n 1` must not
    // call an unsound read sound.
    ExitCode::from(status)
}

/// Whether `arguments` (the first is the program's name) are a use of one of the commands; why not, in the parser's
/// own words. Nothing is done. For the commands that texts propose.
///
/// # Errors
/// When they are not.
pub fn parses(arguments: impl IntoIterator<Item = OsString>) -> Result<(), String> {
    match Arguments::try_parse_from(arguments) {
        Ok(Arguments { command: Some(_), .. }) => Ok(()),
        Ok(_) => Err("this names no command".to_owned()),
        Err(error) => Err(error.render().to_string()),
    }
}

/// Runs the program on `arguments` (the first is the program's name); returns the exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>, console: &mut Console<'_>) -> u8 {
    let typed: Vec<OsString> = arguments.into_iter().collect();
    let arguments = match Arguments::try_parse_from(&typed) {
        Ok(arguments) => arguments,
        // Help and the version are errors to clap, but not to anybody else.
        Err(error) => {
            let (stream, status): (&mut dyn Write, u8) =
                if error.use_stderr() { (console.err, 2) } else { (console.out, 0) };
            let text: String = error
                .render()
                .to_string()
                .lines()
                .map(|line| format!("{}\n", report::text::clean(line.trim_end())))
                .collect();
            let told = stream.write_all(text.as_bytes()).and_then(|()| stream.flush());
            if status == 2 && typed.iter().any(|word| word == "--json") {
                let _ =
                    json::write_error(console.out, &slip(&text), false).and_then(|()| console.out.flush());
            }
            return if told.is_ok() { status } else { 2 };
        }
    };
    (console.json, console.quiet) = (arguments.json, arguments.quiet);
    console.paint = paint_for(&arguments, console.terminal);
    if typed.len() == 1 {
        match start::run(console) {
            Ok(Some(chosen)) => return run(chosen, console),
            told => return end(told.map(|_| Outcome::Good), console),
        }
    }
    // The editor draws where reports are printed.
    let reports = !matches!(arguments.command, None | Some(Command::Tour(_)));
    let result = match arguments.quiet && !arguments.json && reports {
        true => hush::run(console, |console| arguments.run(&typed, console)),
        false => arguments.run(&typed, console),
    };
    end(result, console)
}

impl Arguments {
    fn run(&self, typed: &[OsString], console: &mut Console<'_>) -> Result<Outcome, Error> {
        match (&self.command, &self.docket) {
            (Some(command), None) => command.run(console),
            (Some(command), Some(docket)) => {
                for_docket::run(docket, command.name(), typed, console, |c| command.run(c))
            }
            (None, None) => match mistyped(typed) {
                Some(error) => Err(error),
                None => crate::tui::run(&self.editor, console),
            },
            (None, Some(docket)) => {
                for_docket::run(docket, "editor", typed, console, |c| crate::tui::run(&self.editor, c))
            }
        }
    }
}

/// What is wrong with the command line itself, as told to people, for the object that `--json` prints.
fn slip(told: &str) -> Error {
    let words = |part: &str| part.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut parts = told.split("\n\n");
    let what = words(parts.next().unwrap_or_default().trim_start_matches("error:"));
    let tips: Vec<String> =
        parts.filter_map(|part| part.trim_start().strip_prefix("tip:")).map(words).collect();
    let advice = if tips.is_empty() { "try --help".to_owned() } else { tips.join("; ") };
    Error::new(what).advice(advice)
}

/// Tells what came of it, where that is an error; returns the exit status.
fn end(result: Result<Outcome, Error>, console: &mut Console<'_>) -> u8 {
    let flushed = console.out.flush().map_err(Error::from);
    // A result counts only if the large files it was made from were there to the end.
    let result = result.and_then(|outcome| crate::store::still_there().map(|()| outcome));
    match result.and_then(|outcome| flushed.map(|()| outcome)) {
        Ok(outcome) => outcome.status(),
        Err(error) => {
            if console.json {
                let _ = json::write_error(console.out, &error, console.lines);
                let _ = console.out.flush();
            }
            let _ = write!(console.err, "{}", report::error::text(&error, console.paint));
            2
        }
    }
}

/// A first word that is no file and nearly a command was meant as that command, not as an image for the editor.
fn mistyped(typed: &[OsString]) -> Option<Error> {
    let word = typed.get(1)?.to_str()?;
    let commands = <Arguments as clap::CommandFactory>::command();
    let near = nearest(word, commands.get_subcommands().map(clap::Command::get_name))?;
    let is_name = word.chars().all(char::is_alphabetic) && !Path::new(word).exists();
    is_name.then(|| {
        Error::new(format!("there is no file and no command {word:?}"))
            .advice(format!("did you mean `readproof {near}`?"))
    })
}

/// The one decision on colour and width. Lines of more than 100 columns are hard to read, whatever the terminal.
fn paint_for(arguments: &Arguments, terminal: bool) -> Paint {
    let colour = paint::decide(arguments.color.into(), |name| std::env::var(name).ok(), terminal);
    let width = match crossterm::terminal::size() {
        Ok((columns, _)) if terminal && columns > 0 => usize::from(columns).clamp(40, 100),
        _ => paint::PLAIN_WIDTH,
    };
    Paint { colour, width, whole: arguments.verbose }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_contradicts_itself_nowhere() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn what_stands_below_the_options_is_not_wrapped_a_second_time() {
        for command in Arguments::command().get_subcommands() {
            let text = command.get_after_help().map(ToString::to_string).unwrap_or_default();
            for line in text.lines() {
                assert!(line.chars().count() <= 80, "{}: {line}", command.get_name());
            }
        }
    }

    #[test]
    fn every_command_and_every_option_says_what_it_does() {
        for command in Arguments::command().get_subcommands() {
            assert!(command.get_about().is_some(), "{} says nothing", command.get_name());
            for argument in command.get_arguments() {
                assert!(argument.get_help().is_some(), "{} {}", command.get_name(), argument.get_id());
            }
        }
    }
}
