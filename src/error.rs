//! What is told when something could not be done: once, at the end, by `main`.

use std::fmt;

/// Why something could not be done: what and where, the bad value, what was expected, what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error {
    /// Where: a path, or `path:line:column`.
    pub place: Option<String>,
    /// What is wrong, quoting the bad value: one sentence without its full stop.
    pub what: String,
    /// What to do next, as an imperative sentence without its full stop.
    pub advice: Option<String>,
}

impl Error {
    /// An error that says what is wrong.
    #[must_use]
    pub fn new(what: impl Into<String>) -> Self {
        Error { place: None, what: what.into(), advice: None }
    }

    /// The problems of one file as one error: the first one with its line and column, the others in the advice, a
    /// line each. `more` counts problems that are not among them. `None` when there is no problem.
    #[must_use]
    pub fn of_file(
        file: &str,
        problems: impl IntoIterator<Item = (Option<(usize, usize)>, String)>,
        more: usize,
    ) -> Option<Self> {
        let place = |at: Option<(usize, usize)>| match at {
            Some((line, column)) => format!("{file}:{line}:{column}"),
            None => file.to_owned(),
        };
        let mut problems = problems.into_iter();
        let (at, what) = problems.next()?;
        let mut others: Vec<String> = problems.map(|(at, what)| format!("{}: {what}", place(at))).collect();
        if more > 0 {
            others.push(format!("and {more} more"));
        }
        let first = Error::new(what).at(place(at));
        Some(if others.is_empty() { first } else { first.advice(others.join("\n")) })
    }

    /// The same error, tied to a file or to a line and column in it.
    #[must_use]
    pub fn at(mut self, place: impl fmt::Display) -> Self {
        self.place = Some(place.to_string());
        self
    }

    /// The same error with what to do next.
    #[must_use]
    pub fn advice(mut self, advice: impl Into<String>) -> Self {
        self.advice = Some(advice.into());
        self
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
