//! Parse, run, report an error once, exit status. Nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    readproof::cli::main()
}
