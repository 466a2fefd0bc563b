//! The one JSON object that each command prints.
//!
//! Names are stable: later versions add keys and never change or remove one without raising [`SCHEMA`].
//! Addresses and lengths are numbers, byte strings and check values upper-case hexadecimal text.

use std::fmt::Write as _;
use std::io::{self, Write};

use serde::Serialize;

use super::finding::FindingJson;
use super::text;
use crate::error::Error;
use crate::finding::{Finding, Verdict};
use crate::span::Span;

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
        put(out, self, false)
    }

    /// Prints the object, on one line where there is one for each of several images.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn print(&self, out: &mut dyn Write, line: bool) -> io::Result<()> {
        put(out, self, line)
    }
}

/// Prints `value` on one line or over several. JSON lets nearly every character stand as it is (RFC 8259, section 7);
/// those that could act on a terminal are escaped, so that a reader gets the same text and a terminal gets none of it.
fn put(out: &mut dyn Write, value: &impl Serialize, line: bool) -> io::Result<()> {
    let plain = if line { serde_json::to_string(value)? } else { serde_json::to_string_pretty(value)? };
    let acts = |c: char| c != '\n' && text::is_hidden(c);
    if !plain.contains(acts) {
        return writeln!(out, "{plain}");
    }
    let mut escaped = String::with_capacity(plain.len() + 64);
    for c in plain.chars() {
        if acts(c) {
            for unit in c.encode_utf16(&mut [0; 2]) {
                let _ = write!(escaped, "\\u{unit:04x}");
            }
        } else {
            escaped.push(c);
        }
    }
    writeln!(out, "{escaped}")
}

/// Ranges of offsets as addresses in JSON, the end not included.
#[must_use]
pub fn ranges(spans: &[Span], base: u64) -> Vec<(u64, u64)> {
    spans.iter().map(|span| span.addresses(base)).map(|at| (at.start, at.end)).collect()
}

/// What could not be done, as the object that `--json` prints for it.
#[derive(Debug, Serialize)]
struct ErrorJson<'a> {
    place: Option<String>,
    /// The name of the file in the place, where that is not plain.
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
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
    let file = error.file.as_deref().map(text::Name::of);
    let error = ErrorJson {
        place: error.place.as_deref().map(|place| text::clean(place).into_owned()),
        path_bytes: file.and_then(|file| file.bytes().map(str::to_owned)),
        what: &error.what,
        advice: error.advice.as_deref(),
    };
    put(out, &Failure { schema: SCHEMA, error }, line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_could_act_on_a_terminal_is_escaped_and_reads_back_the_same() {
        let told = "a\u{1b}[2J\u{9b}2K\u{7f}\u{202e}\u{e0041}\u{e9}\n";
        for line in [false, true] {
            let mut out = Vec::new();
            put(&mut out, &vec![told], line).unwrap();
            let text = String::from_utf8(out).unwrap();
            assert!(!text.chars().any(|c| c != '\n' && super::text::is_hidden(c)), "{text:?}");
            assert!(text.contains("\\udb40\\udc41") && text.contains('\u{e9}'), "{text}");
            assert_eq!(serde_json::from_str::<Vec<String>>(&text).unwrap(), [told]);
        }
    }

    #[test]
    fn an_object_starts_with_schema_command_verdict_and_findings() {
        #[derive(Serialize)]
        struct Body {
            hits: Vec<u32>,
        }
        let mut out = Vec::new();
        Report::new("find", None, &[], 0, Body { hits: vec![7] }).print(&mut out, true).unwrap();
        Report::new("vet", Some(Verdict::Sound), &[], 0, ()).print(&mut out, true).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "{\"schema\":1,\"command\":\"find\",\"findings\":[],\"hits\":[7]}\n\
             {\"schema\":1,\"command\":\"vet\",\"verdict\":\"sound\",\"findings\":[]}\n"
        );
    }
}
