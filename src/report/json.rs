//! The one JSON object that each command prints.
//!
//! Names are stable: later versions add keys and never change or remove one without raising [`SCHEMA`].
//! Addresses and lengths are numbers, byte strings and check values upper-case hexadecimal text.

use std::io::{self, Write};

use serde::Serialize;

use super::finding::FindingJson;
use crate::error::Error;
use crate::finding::{Finding, Verdict};

/// The version of the names.
pub const SCHEMA: u32 = 1;

/// What every object starts with, then what is the command's own.
#[derive(Debug, Serialize)]
pub struct Report<T: Serialize> {
    schema: u32,
    command: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    verdict: Option<&'static str>,
    findings: Vec<FindingJson>,
    #[serde(flatten)]
    body: T,
}

impl<T: Serialize> Report<T> {
    /// The object of `command`. `verdict` is `None` where nothing is judged; `base` is the address of the first
    /// byte of the image that the findings speak of.
    pub fn new(
        command: &'static str,
        verdict: Option<Verdict>,
        findings: &[Finding],
        base: u64,
        body: T,
    ) -> Self {
        Report {
            schema: SCHEMA,
            command,
            verdict: verdict.map(Verdict::word),
            findings: findings.iter().map(|f| FindingJson::new(f, base)).collect(),
            body,
        }
    }

    /// Prints the object over several lines.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        serde_json::to_writer_pretty(&mut *out, self)?;
        writeln!(out)
    }

    /// Prints the object, on one line or over several.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn print(&self, out: &mut dyn Write, line: bool) -> io::Result<()> {
        if line { self.write_line(out) } else { self.write(out) }
    }

    /// Prints the object on one line, for commands that print an object for each of several images.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write_line(&self, out: &mut dyn Write) -> io::Result<()> {
        serde_json::to_writer(&mut *out, self)?;
        writeln!(out)
    }
}

/// What could not be done, as the object that `--json` prints for it.
#[derive(Debug, Serialize)]
struct ErrorJson<'a> {
    place: Option<&'a str>,
    what: &'a str,
    #[serde(rename = "do")]
    advice: Option<&'a str>,
}

/// Prints `{schema, error: {place, what, do}}`, on one line where there is an object for each of many images.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_error(out: &mut dyn Write, error: &Error, line: bool) -> io::Result<()> {
    #[derive(Serialize)]
    struct Failure<'a> {
        schema: u32,
        error: ErrorJson<'a>,
    }
    let error =
        ErrorJson { place: error.place.as_deref(), what: &error.what, advice: error.advice.as_deref() };
    let failure = Failure { schema: SCHEMA, error };
    if line {
        serde_json::to_writer(&mut *out, &failure)?;
    } else {
        serde_json::to_writer_pretty(&mut *out, &failure)?;
    }
    writeln!(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_object_starts_with_schema_command_verdict_and_findings() {
        #[derive(Serialize)]
        struct Body {
            hits: Vec<u32>,
        }
        let mut out = Vec::new();
        Report::new("find", None, &[], 0, Body { hits: vec![7] }).write_line(&mut out).unwrap();
        Report::new("vet", Some(Verdict::Sound), &[], 0, ()).write_line(&mut out).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "{\"schema\":1,\"command\":\"find\",\"findings\":[],\"hits\":[7]}\n\
             {\"schema\":1,\"command\":\"vet\",\"verdict\":\"sound\",\"findings\":[]}\n"
        );
    }
}
