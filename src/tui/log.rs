//! What happened in a session, line by line as it happens, for the report of a bug.
//!
//! Keys stand in it as a script says them, so that they can be played again (`--keys`). Bytes of images do not: of a
//! paste, a copy or a prompt only what was pressed, and how long the text was.

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
    began: Instant,
}

impl Log {
    /// Begins a log.
    #[must_use]
    pub fn begin(out: Box<dyn Write + Send>, app: &App) -> Log {
        let mut log = Log { out: Some(out), began: Instant::now() };
        let version = env!("CARGO_PKG_VERSION");
        let mut head = format!("readproof {version}, what happened in the editor; times in seconds\n");
        for sheet in app.images() {
            let (path, bytes) = (text::path(&sheet.path), text::count(sheet.image.len(), "byte"));
            let _ = writeln!(head, "image {path}: {bytes}, {}", sheet.format.name());
        }
        head.push_str("again: readproof IMAGE --dump --keys \"$(sed -n 's/^key [^ ]* //p' FILE)\"");
        log.line(&head);
        log
    }

    /// Somebody did something.
    pub fn input(&mut self, input: &Input) {
        let at = self.began.elapsed().as_secs_f64();
        match input {
            Input::Paste(text) => {
                let count = text::count(text.chars().count(), "character");
                self.line(&format!("pasted {at:.3} {count}"));
            }
            other => self.line(&format!("key {at:.3} {other}")),
        }
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
        if matches!(written, Some(Err(_))) {
            self.out = None;
        }
    }
}
