//! The `manual` command.

use clap::CommandFactory as _;

use super::{Arguments, Console, Outcome};
use crate::error::Error;
use crate::notation::nearest;

/// What `manual` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof manual | man -l -\n  \
    readproof manual vet > readproof-vet.1")]
pub struct Args {
    /// The command whose page is wanted; without it, the page of the whole program
    #[arg(value_name = "COMMAND")]
    command: Option<String>,
    /// List the commands that have a page
    #[arg(long, conflicts_with = "command")]
    list: bool,
}

/// Runs `manual`.
///
/// # Errors
/// When there is no such command.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let mut all = Arguments::command();
    // Options that hold everywhere belong on every page.
    all.build();
    let names = || all.get_subcommands().map(clap::Command::get_name).filter(|name| *name != "help");
    if args.list {
        for name in names() {
            writeln!(console.out, "{name}")?;
        }
        return Ok(Outcome::Good);
    }
    let page = match &args.command {
        None => all.clone(),
        Some(wanted) => {
            let found = all.get_subcommands().find(|c| c.get_name() == wanted);
            found.cloned().ok_or_else(|| {
                let advice = match nearest(wanted, names()) {
                    Some(near) => format!("did you mean {near}?"),
                    None => "readproof manual --list names them".to_owned(),
                };
                Error::new(format!("there is no command {wanted:?}")).advice(advice)
            })?
        }
    };
    let mut written = Vec::new();
    clap_mangen::Man::new(page).render(&mut written)?;
    console.out.write_all(&written)?;
    Ok(Outcome::Good)
}
