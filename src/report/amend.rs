//! What `amend` prints: what was done, what was written, and the audit of the result.

use std::io::{self, Write};

use super::audit::{AmendedJson, Audited, write_ruling};
use super::head::write_proof;
use super::paint::{Extent, Paint, Tone};
use super::sides;
use super::table::{Cell, Table};
use super::text;
use crate::compare::audit::Ruling;

/// What was done and written.
pub struct Written<'a> {
    /// What was done, in order.
    pub steps: &'a [String],
    /// What was left although all of a role was meant: path and why.
    pub left: &'a [(String, String)],
    /// The file that was written; `None` when nothing was.
    pub output: Option<text::Name>,
    /// The file that the changes were kept in.
    pub change_list: Option<text::Name>,
    /// Whether nothing was to be written.
    pub dry_run: bool,
}

impl Written<'_> {
    /// The mirror for JSON.
    #[must_use]
    pub fn json(&self) -> AmendedJson {
        let bytes = |name: Option<&text::Name>| name.and_then(|name| name.bytes().map(str::to_owned));
        AmendedJson {
            steps: self.steps.to_vec(),
            left: self.left.to_vec(),
            written: self.output.is_some(),
            output: self.output.as_deref().map(str::to_owned),
            output_bytes: bytes(self.output.as_ref()),
            change_list: self.change_list.as_deref().map(str::to_owned),
            change_list_bytes: bytes(self.change_list.as_ref()),
        }
    }

    fn sentence(&self, ruling: Ruling) -> String {
        match (&self.output, ruling) {
            (Some(output), _) if &**output == "-" => "Written to standard output.".to_owned(),
            (Some(output), _) => format!("Written to {}.", &**output),
            (None, Ruling::NotSafe) => "Nothing was written.".to_owned(),
            (None, _) if self.dry_run => "A dry run: nothing was written.".to_owned(),
            (None, _) => "Nothing was written.".to_owned(),
        }
    }
}

/// Prints everything as text.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(
    out: &mut dyn Write,
    paint: Paint,
    audited: &Audited<'_>,
    written: &Written<'_>,
    extent: Extent,
) -> io::Result<()> {
    let ruling = audited.audit.ruling;
    write_ruling(out, paint, audited.audit)?;
    let tone = if written.output.is_some() { Tone::Strong } else { Tone::Doubt };
    writeln!(out, "{}", paint.tone(tone, &text::clean(&written.sentence(ruling))))?;
    if let Some(list) = &written.change_list {
        writeln!(out, "{}", text::clean(&format!("The changes are kept in {}.", &**list)))?;
    }
    let sides = [("before", &audited.before), ("after", &audited.after)];
    sides::write_head(out, paint, &sides, audited.layout.as_ref())?;
    writeln!(out)?;
    let mut table = Table::new(&["", ""]);
    for step in written.steps {
        table.row([Cell::new(Tone::Strong, "done"), step.as_str().into()]);
    }
    for (path, why) in written.left {
        table.row([Cell::new(Tone::Doubt, "left"), format!("{path}: {why}").into()]);
    }
    table.write(out, paint)?;
    audited.write_body(out, paint, extent)?;
    if let (Some(output), Ruling::Safe) = (&written.output, ruling) {
        write_proof(out, paint, "now", output)?;
    }
    Ok(())
}
