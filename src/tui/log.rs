//! What happened in a session, line by line as it happens, for the report of a bug.
//!
//! What was typed and pasted stands in it as a script says it, so that it can be played again (`--keys`). What images
//! hold does not.

use std::fmt::Write as _;
use std::io::Write;
use std::time::{Duration, Instant};

use super::app::App;
use super::effect::Effect;
use super::input::Input;
use crate::report::text;

/// The log of a session. When it cannot be written any more, it ends there; the session goes on.
pub struct Log {
    out: Option<Box<dyn Write + Send>>,
    /// Why it ended, until somebody was told.
    problem: Option<std::io::Error>,
    began: Instant,
}

impl Log {
    /// Begins a log.
    #[must_use]
    pub fn begin(out: Box<dyn Write + Send>, app: &App) -> Log {
        let mut log = Log { out: Some(out), problem: None, began: Instant::now() };
        let version = env!("CARGO_PKG_VERSION");
        let mut head = format!("readproof {version}, what happened in the editor; times in seconds\n");
        for sheet in app.images() {
            let (path, bytes) = (text::path(&sheet.file.path), text::count(sheet.image().len(), "byte"));
            let _ = writeln!(head, "image {path}: {bytes}, {}", sheet.file.format.name());
        }
        head.push_str("again: readproof IMAGE --dump --keys \"$(sed -n 's/^key [^ ]* //p' FILE)\"");
        log.line(&head);
        log
    }

    /// Somebody did something.
    pub fn input(&mut self, input: &Input) {
        let at = self.began.elapsed().as_secs_f64();
        self.line(&format!("key {at:.3} {input}"));
    }

    /// What it led to.
    pub fn effect(&mut self, effect: &Effect, took: Duration) {
        let name = format!("{effect:?}");
        let name = name.split(|c: char| !c.is_alphanumeric()).next().unwrap_or_default();
        self.line(&format!("  took {:.6}, then {name}", took.as_secs_f64()));
    }

    /// A frame was drawn.
    pub fn drew(&mut self, took: Duration) {
        self.line(&format!("  drew {:.6}", took.as_secs_f64()));
    }

    fn line(&mut self, line: &str) {
        let written = self.out.as_mut().map(|out| out.write_all(format!("{line}\n").as_bytes()));
        if let Some(Err(error)) = written {
            (self.out, self.problem) = (None, Some(error));
        }
    }

    /// Why the log ended before the session did; told once.
    pub fn problem(&mut self) -> Option<std::io::Error> {
        self.problem.take()
    }
}
