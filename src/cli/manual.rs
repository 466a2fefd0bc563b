//! The `manual` command.

use clap::CommandFactory as _;

use super::{Arguments, Console, Outcome};
use crate::error::Error;
use crate::notation::nearest;

/// What `manual` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof manual | man -l -\n  \
    readproof manual vet > readproof-vet.1\n  \
    readproof manual --schema > readproof.schema.json")]
pub struct Args {
    /// The command whose page is wanted; without it, the page of the whole program
    #[arg(value_name = "COMMAND")]
    command: Option<String>,
    /// List the commands that have a page
    #[arg(long, conflicts_with = "command")]
    list: bool,
    /// Print the JSON Schema (draft 2020-12) of what --json prints
    #[arg(long, conflicts_with_all = ["command", "list"])]
    schema: bool,
}

const SCHEMA: &str = include_str!("../../docs/readproof.schema.json");

/// Runs `manual`.
///
/// # Errors
/// When there is no such command, or a page was asked for as JSON.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if args.schema {
        console.hand_over(SCHEMA.as_bytes())?;
        return Ok(Outcome::Good);
    }
    console.is_no_json("a manual page")?;
    let mut all = Arguments::command();
    // Options that hold everywhere belong on every page.
    all.build();
    let names = || all.get_subcommands().map(clap::Command::get_name).filter(|name| *name != "help");
    if args.list {
        for name in names() {
            console.hand_over(format!("{name}\n").as_bytes())?;
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
                    None => "`readproof manual --list` names them".to_owned(),
                };
                Error::new(format!("there is no command {wanted:?}")).advice(advice)
            })?
        }
    };
    let mut written = Vec::new();
    clap_mangen::Man::new(page).render(&mut written)?;
    console.hand_over(&written)?;
    Ok(Outcome::Good)
}
