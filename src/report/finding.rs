//! Findings and verdicts as text and as JSON.

use std::io::{self, Write};

use serde::Serialize;

use super::paint::Paint;
use super::text;
use crate::finding::Finding;

/// Prints findings, the heaviest first, each as a block:
///
/// ```text
/// fault  check-broken  at 0x01FE, 2 bytes
///   Seen:   The check settings stores 1A2B, but 77F0 is computed.
///   Means:  A field was changed and the check was not resealed, or the read is poor.
///   Do:     Read the chip again; if both reads agree, reseal the check.
/// ```
///
/// `base` is the address of the image's first byte. Prints nothing when there are no findings.
///
/// # Errors
/// When `out` cannot be written.
pub fn write(out: &mut dyn Write, paint: Paint, findings: &[Finding], base: u64) -> io::Result<()> {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|f| std::cmp::Reverse(f.weight));
    for (i, finding) in sorted.into_iter().enumerate() {
        if i > 0 {
            writeln!(out)?;
        }
        write_one(out, paint, finding, base)?;
    }
    Ok(())
}

fn write_one(out: &mut dyn Write, paint: Paint, finding: &Finding, base: u64) -> io::Result<()> {
    write!(out, "{}  {}", paint.tone(finding.weight, finding.weight.word()), finding.code.word())?;
    match finding.place {
        Some(place) => writeln!(out, "  at {}", text::place(place, base))?,
        None => writeln!(out)?,
    }
    for (label, said) in [("Seen:", &finding.seen), ("Means:", &finding.means), ("Do:", &finding.advice)] {
        if said.is_empty() {
            continue;
        }
        let sentence = text::sentence(&text::clean(said));
        for (i, line) in text::wrap_to_copy(&sentence, paint.width.saturating_sub(10)).iter().enumerate() {
            writeln!(out, "  {:<6}  {line}", if i == 0 { label } else { "" })?;
        }
    }
    Ok(())
}

/// One finding in JSON.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FindingJson {
    /// `note`, `doubt`, `fault`.
    pub weight: &'static str,
    /// The kebab-case word of the code.
    pub code: &'static str,
    /// Address of the first byte; null when the whole image is meant.
    pub at: Option<u64>,
    /// Bytes concerned; null when the whole image is meant.
    pub bytes: Option<usize>,
    /// What was seen.
    pub seen: String,
    /// What it usually means.
    pub means: String,
    /// What to do.
    #[serde(rename = "do")]
    pub advice: String,
}

impl FindingJson {
    /// The mirror of a finding in an image whose first byte has address `base`.
    #[must_use]
    pub fn new(finding: &Finding, base: u64) -> Self {
        FindingJson {
            weight: finding.weight.word(),
            code: finding.code.word(),
            at: finding.place.map(|p| p.addresses(base).start),
            bytes: finding.place.map(|p| p.len()),
            seen: finding.seen.clone(),
            means: finding.means.clone(),
            advice: finding.advice.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Code, Weight};
    use crate::span::Span;

    fn two() -> Vec<Finding> {
        vec![
            Finding::new(Weight::Note, Code::NoLayout, "no marks fit", "", "name a layout"),
            Finding::new(
                Weight::Fault,
                Code::CheckBroken,
                "the check settings stores 1A2B, but 77F0 is computed over 0x0100..0x01FE, which is another number",
                "a change without its check",
                "reseal",
            )
            .at(Span::of(0x1FE, 2)),
        ]
    }

    #[test]
    fn findings_are_blocks_with_the_heaviest_first() {
        let mut out = Vec::new();
        write(&mut out, Paint::default(), &two(), 0x1000).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "fault  check-broken  at 0x11FE, 2 bytes\n  \
             Seen:   The check settings stores 1A2B, but 77F0 is computed over\n          \
             0x0100..0x01FE, which is another number.\n  \
             Means:  A change without its check.\n  \
             Do:     Reseal.\n\
             \n\
             note  no-layout\n  \
             Seen:   No marks fit.\n  \
             Do:     Name a layout.\n"
        );
    }

    #[test]
    fn json_has_the_names_of_the_documentation() {
        let json = serde_json::to_string(&FindingJson::new(&two()[1], 0x1000)).unwrap();
        assert!(
            json.starts_with(r#"{"weight":"fault","code":"check-broken","at":4606,"bytes":2,"seen":"#),
            "{json}"
        );
        assert!(json.ends_with(r#""do":"reseal"}"#), "{json}");
    }
}
