//! The `completions` command.

use clap::CommandFactory as _;
use clap_complete::{Shell, generate};

use super::{Arguments, Console, Outcome};
use crate::error::Error;

/// What `completions` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    source <(readproof completions bash)\n  \
    readproof completions zsh > ~/.zfunc/_readproof\n  \
    readproof completions fish > ~/.config/fish/completions/readproof.fish")]
pub struct Args {
    /// The shell: bash, elvish, fish, powershell or zsh
    #[arg(value_name = "SHELL", hide_possible_values = true)]
    shell: Shell,
}

/// Runs `completions`.
///
/// # Errors
/// When it was asked for as JSON, or cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    console.is_no_json("what a shell reads")?;
    let mut script = Vec::new();
    generate(args.shell, &mut Arguments::command(), "readproof", &mut script);
    console.hand_over(&script)?;
    Ok(Outcome::Good)
}
