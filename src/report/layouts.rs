//! What `layouts` prints: the layouts at hand, the problems of one.

use std::io::{self, Write};

use serde::Serialize;

use super::json::Report;
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::text;
use crate::layout::{Remark, RemarkWeight};
use crate::notation::{Lines, Problem};

/// A layout at hand.
#[derive(Debug, Serialize)]
pub struct Listed {
    /// The name it goes by.
    pub name: String,
    /// Its file; `None` for one that comes with the program.
    #[serde(serialize_with = "flat", flatten)]
    pub path: Option<text::Name>,
    /// What it is called; `None` for one with problems.
    pub title: Option<String>,
    /// Where what it says comes from; `None` for one with problems.
    pub source: Option<String>,
    /// How many problems it has.
    pub problems: usize,
}

/// A file that may be missing, as `path` and `path_bytes`.
fn flat<S: serde::Serializer>(path: &Option<text::Name>, to: S) -> Result<S::Ok, S::Error> {
    text::NoName::from(path.as_ref()).serialize(to)
}

/// Prints the layouts at hand.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_list(out: &mut dyn Write, paint: Paint, layouts: &[Listed]) -> io::Result<()> {
    writeln!(out, "{} at hand.", text::count(layouts.len(), "layout"))?;
    for layout in layouts {
        writeln!(out)?;
        let name = layout.path.as_deref().unwrap_or(&layout.name);
        writeln!(out, "{}", paint.tone(Tone::Strong, &text::clean(name)))?;
        let mut table = Table::new(&["", ""]).indent(2);
        for (label, said) in [("title", &layout.title), ("source", &layout.source)] {
            if let Some(said) = said {
                table.row([label, said]);
            }
        }
        if layout.problems > 0 {
            let count = text::count(layout.problems, "problem");
            let name = layout.path.as_ref().map_or(name, text::Name::typed);
            table.row([Cell::new(Tone::Bad, count), format!("`readproof layouts {name}` tells them").into()]);
        }
        table.write(out, paint)?;
    }
    Ok(())
}

/// The JSON object for the layouts at hand.
#[must_use]
pub fn list_json(layouts: Vec<Listed>) -> Report<impl Serialize> {
    #[derive(Serialize)]
    struct Body {
        layouts: Vec<Listed>,
    }
    Report::new("layouts", None, &[], 0, Body { layouts })
}

/// One file, of a layout or of settings, that was looked through.
pub struct Linted<'a> {
    /// Its path.
    pub path: text::Name,
    /// Its text.
    pub text: &'a str,
    /// What is wrong in it or worth a look; empty for a good one.
    pub remarks: &'a [Remark],
}

impl Linted<'_> {
    /// How many remarks have this weight.
    #[must_use]
    pub fn count(&self, weight: RemarkWeight) -> usize {
        self.remarks.iter().filter(|r| r.weight == weight).count()
    }
}

/// A remark in JSON.
#[derive(Debug, Serialize)]
pub struct RemarkJson {
    weight: &'static str,
    line: usize,
    column: usize,
    what: String,
    expected: String,
    fix: Option<String>,
}

impl Linted<'_> {
    /// The remarks for JSON.
    #[must_use]
    pub fn for_json(&self) -> Vec<RemarkJson> {
        let lines = Lines::of(self.text);
        let remark = |remark: &Remark| {
            let p = &remark.problem;
            let at = lines.place(p.span.start);
            RemarkJson {
                weight: match remark.weight {
                    RemarkWeight::Problem => "problem",
                    RemarkWeight::Remark => "remark",
                },
                line: at.line,
                column: at.column,
                what: p.what.clone(),
                expected: p.expected.clone(),
                fix: p.fix.clone(),
            }
        };
        self.remarks.iter().map(remark).collect()
    }
}

/// Prints the problems of a layout: for each the place, the line it stands in with the place marked, what was
/// expected and a likely fix.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_lint(out: &mut dyn Write, paint: Paint, linted: &Linted<'_>) -> io::Result<()> {
    let problems = linted.count(RemarkWeight::Problem);
    let remarks = linted.count(RemarkWeight::Remark);
    let verdict = match problems {
        0 => paint.tone(Tone::Good, "no problems"),
        n => paint.tone(Tone::Bad, &text::count(n, "problem")),
    };
    match remarks {
        0 => writeln!(out, "{}: {verdict}.", &*linted.path)?,
        n => writeln!(out, "{}: {verdict}, {} worth a look.", &*linted.path, text::count(n, "remark"))?,
    }
    let lines = Lines::of(linted.text);
    for remark in linted.remarks {
        writeln!(out)?;
        write_remark(out, paint, linted, remark, &lines)?;
    }
    Ok(())
}

fn write_remark(
    out: &mut dyn Write,
    paint: Paint,
    linted: &Linted<'_>,
    remark: &Remark,
    lines: &Lines<'_>,
) -> io::Result<()> {
    let problem = &remark.problem;
    let at = lines.place(problem.span.start);
    let place = format!("{}:{}:{}", &*linted.path, at.line, at.column);
    match remark.weight {
        RemarkWeight::Problem => writeln!(out, "{}", paint.tone(Tone::Strong, &place))?,
        RemarkWeight::Remark => writeln!(out, "{}  remark", paint.tone(Tone::Strong, &place))?,
    }
    for line in text::wrap(&text::clean(&problem.what), paint.width.saturating_sub(2)) {
        writeln!(out, "  {line}")?;
    }
    write_line(out, paint, linted.text, problem, at.line, at.column)?;
    let mut table = Table::new(&["", ""]).indent(2);
    if !problem.expected.is_empty() {
        table.row(["expected", problem.expected.as_str()]);
    }
    if let Some(fix) = &problem.fix {
        table.row(["likely fix", fix.as_str()]);
    }
    table.write(out, paint)
}

/// The line of a problem and marks under the place; only the part around the place when the line is long.
fn write_line(
    out: &mut dyn Write,
    paint: Paint,
    source: &str,
    problem: &Problem,
    line: usize,
    column: usize,
) -> io::Result<()> {
    const BEFORE: usize = 24;
    let Some(text) = source.lines().nth(line - 1) else { return Ok(()) };
    // Columns count characters, so the marks stand right whatever the characters take in bytes.
    let text = text.trim_start_matches('\u{feff}').replace('\t', " ");
    let room = paint.width.saturating_sub(8);
    let skipped = if column > room { (column - 1).saturating_sub(BEFORE) } else { 0 };
    let piece: String = text.chars().skip(skipped).take(room).collect();
    let before: String = piece.chars().take(column - 1 - skipped).collect();
    let quoted = source.get(problem.span.start..problem.span.end).unwrap_or("");
    let marks = quoted.lines().next().unwrap_or("").chars().count().max(1);
    let left = room.saturating_sub(column - 1 - skipped).max(1);
    let indent = " ".repeat(text::width(&text::clean(&before)));
    writeln!(out, "    {}", paint.tone(Tone::Quiet, &text::clean(&piece)).trim_end())?;
    writeln!(out, "    {indent}{}", paint.tone(Tone::Doubt, &"^".repeat(marks.min(left))))
}

/// The JSON object for layout files that were looked through.
#[must_use]
pub fn lint_json(linted: &[Linted<'_>]) -> Report<impl Serialize> {
    #[derive(Serialize)]
    struct Body {
        files: Vec<File>,
    }
    #[derive(Serialize)]
    struct File {
        #[serde(flatten)]
        file: text::Name,
        remarks: Vec<RemarkJson>,
    }
    let files = linted.iter().map(|l| File { file: l.path.clone(), remarks: l.for_json() });
    Report::new("layouts", None, &[], 0, Body { files: files.collect() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::notation::TextSpan;

    #[test]
    fn a_problem_shows_its_line_with_the_place_marked_and_what_to_do() {
        let text = "(\n  kind: Txt(bytes: 4),\n)\n";
        let problem = Problem::new(TextSpan::new(10, 13), "\"Txt\" is no kind of field", "Int, Text, Bcd");
        let remarks = [Remark { weight: RemarkWeight::Problem, problem: problem.fix("write Text") }];
        let mut out = Vec::new();
        let linted = Linted { path: text::Name::of("bad.ron".as_ref()), text, remarks: &remarks };
        write_lint(&mut out, Paint::default(), &linted).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "bad.ron: 1 problem.\n\
             \n\
             bad.ron:2:9\n  \
             \"Txt\" is no kind of field\n      \
             kind: Txt(bytes: 4),\n            \
             ^^^\n  \
             expected    Int, Text, Bcd\n  \
             likely fix  write Text\n"
        );
    }

    #[test]
    fn a_long_line_is_shown_around_its_problem() {
        let text = format!("({}bad)", "x".repeat(300));
        let problem = Problem::new(TextSpan::new(301, 304), "no", "");
        let remarks = [Remark { weight: RemarkWeight::Remark, problem }];
        let mut out = Vec::new();
        let linted = Linted { path: text::Name::of("a".as_ref()), text: &text, remarks: &remarks };
        write_lint(&mut out, Paint::default(), &linted).unwrap();
        let printed = String::from_utf8(out).unwrap();
        let lines: Vec<&str> = printed.lines().collect();
        let (code, marks) = (lines[4], lines[5]);
        assert!(printed.lines().all(|l| l.chars().count() <= 80), "{printed}");
        assert_eq!(code.find("bad"), marks.find('^'), "{printed}");
        assert!(marks.ends_with("^^^"), "{printed}");
    }
}
