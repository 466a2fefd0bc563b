//! `--quiet`: nothing when all is well, one sentence when a person must look at something.

use super::overhear::overhear;
use super::{Console, Outcome};
use crate::error::Error;
use crate::report::text;

/// Runs a command and swallows what it prints, but for what is no report. Where it came to something that a person
/// must look at, its first sentence is told instead.
pub(super) fn run(
    console: &mut Console<'_>,
    run: impl FnOnce(&mut Console<'_>) -> Result<Outcome, Error>,
) -> Result<Outcome, Error> {
    let heard = overhear(console, true, None, run);
    if heard.result.as_ref().is_ok_and(|outcome| *outcome != Outcome::Good) {
        let lines = text::wrap(&text::clean(&heard.sentence()), console.paint.width);
        let out = if console.streamed { &mut *console.err } else { &mut *console.out };
        for line in lines.iter().filter(|line| !line.is_empty()) {
            writeln!(out, "{line}")?;
        }
    }
    heard.result
}

#[cfg(test)]
mod tests {
    use std::io;

    use super::*;

    #[test]
    fn only_what_is_no_report_passes_and_a_good_outcome_says_nothing() {
        let cases = [(Outcome::Good, "data"), (Outcome::Attention, "datano match: it is another.\n")];
        for (outcome, wanted) in cases {
            let (mut out, mut err, mut input) = (Vec::new(), Vec::new(), io::empty());
            let mut console = Console::new(&mut out, &mut err, &mut input);
            let told = run(&mut console, |console| {
                writeln!(console.out, "no match: it is another.\nmore")?;
                console.hand_over(b"data")?;
                Ok(outcome)
            });
            assert_eq!(told, Ok(outcome));
            assert_eq!(String::from_utf8(out).unwrap(), wanted);
        }
    }
}
