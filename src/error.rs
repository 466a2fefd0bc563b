//! What is told when something could not be done: once, at the end, by `main`.

use std::fmt;
use std::path::{Path, PathBuf};

/// Why something could not be done: what and where, the bad value, what was expected, what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error {
    /// Where: a path, or `path:line:column`.
    pub place: Option<String>,
    /// The file that the place names, byte for byte; `None` when it names none, or standard input.
    pub file: Option<PathBuf>,
    /// What is wrong, quoting the bad value: one sentence without its full stop.
    pub what: String,
    /// What to do next, as an imperative sentence without its full stop.
    pub advice: Option<String>,
}

impl Error {
    /// An error that says what is wrong.
    #[must_use]
    pub fn new(what: impl Into<String>) -> Self {
        Error { place: None, file: None, what: what.into(), advice: None }
    }

    /// The problems of one file as one error: the first one with its line and column, the others in the advice, a
    /// line each, then `advice`. `more` counts problems that are not among them. `None` when there is no problem.
    #[must_use]
    pub fn of_file(
        file: &Path,
        problems: impl IntoIterator<Item = (Option<(usize, usize)>, String)>,
        more: usize,
        advice: &str,
    ) -> Option<Self> {
        let at_place = |error: Error, at: Option<(usize, usize)>| match at {
            Some((line, column)) => error.in_line(file, format_args!("{line}:{column}")),
            None => error.in_file(file),
        };
        let mut problems = problems.into_iter().map(|(at, what)| at_place(Error::new(what), at));
        let first = problems.next()?;
        let mut others: Vec<String> = problems.map(|other| other.to_string()).collect();
        if more > 0 {
            others.push(format!("and {more} more"));
        }
        others.push(advice.to_owned());
        Some(first.advice(others.join("\n")))
    }

    /// The same error, tied to a place that is no file.
    #[must_use]
    pub fn at(mut self, place: impl fmt::Display) -> Self {
        (self.place, self.file) = (Some(place.to_string()), None);
        self
    }

    /// The same error, tied to a file; `-` is standard input.
    #[must_use]
    pub fn in_file(mut self, file: impl AsRef<Path>) -> Self {
        let file = file.as_ref();
        if file.as_os_str() == "-" {
            return self.at("standard input");
        }
        (self.place, self.file) = (Some(file.display().to_string()), Some(file.to_owned()));
        self
    }

    /// The same error, tied to a line of a file, or to a line and column: `12:7`.
    #[must_use]
    pub fn in_line(self, file: impl AsRef<Path>, at: impl fmt::Display) -> Self {
        let mut error = self.in_file(file);
        error.place = error.place.map(|place| format!("{place}:{at}"));
        error
    }

    /// The same error with what to do next.
    #[must_use]
    pub fn advice(mut self, advice: impl Into<String>) -> Self {
        self.advice = Some(advice.into());
        self
    }
}

/// Why something that was asked for is not done, where no file is concerned.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// What is wrong, quoting the bad value: one sentence without its full stop.
    pub what: String,
    /// What was expected, or what to do instead.
    pub advice: String,
}

impl From<Refusal> for Error {
    fn from(refusal: Refusal) -> Self {
        Error::new(refusal.what).advice(refusal.advice)
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        f.write_str(&self.what)?;
        if let Some(advice) = &self.advice {
            write!(f, "\n  {advice}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Error {}
