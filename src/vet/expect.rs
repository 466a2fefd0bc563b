//! What the technician read off the label against what the image holds, to the character.

use crate::find::{self, Difference};
use crate::finding::{Code, Finding, Weight, argument};
use crate::image::Image;
use crate::layout::{Decoded, FieldState};
use crate::span::Span;

/// A field and the value it must have, as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expectation {
    /// The path of the field, or the last step of it.
    pub field: String,
    /// The value as it stands on the label.
    pub value: String,
}

/// What came of an expectation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Met {
    /// The field that was asked for.
    pub field: String,
    /// What was expected.
    pub wanted: String,
    /// What the image holds; `None` when nothing like it was found.
    pub stored: Option<String>,
    /// Where; `None` when nothing like it was found.
    pub place: Option<Span>,
    /// Whether the two are equal.
    pub equal: bool,
    /// Where they differ.
    pub differs: Vec<Difference>,
}

/// Compares one expectation with the image: by its field when a layout is known and has it, else by search.
#[must_use]
pub fn check(expectation: &Expectation, image: &Image, decoded: Option<&Decoded>) -> (Met, Finding) {
    match decoded.and_then(|d| d.field(&expectation.field)) {
        Some(field) if field.state != FieldState::Absent => {
            let stored = field.text.trim_end();
            let wanted = expectation.value.trim_end();
            let equal = stored == wanted || same_number(stored, wanted, field.unit.as_deref());
            let differs = if equal { Vec::new() } else { find::differences(wanted, stored) };
            let met = Met {
                field: field.path.clone(),
                wanted: wanted.to_owned(),
                stored: Some(stored.to_owned()),
                place: Some(field.cover()),
                equal,
                differs,
            };
            let finding = by_field(&met);
            (met, finding)
        }
        _ => by_search(expectation, image),
    }
}

/// `4.0` and `4.0 °C` are the number 4; a part number is never compared as a number unless the field holds one.
fn same_number(stored: &str, wanted: &str, unit: Option<&str>) -> bool {
    let Some(unit) = unit else { return false };
    let number = |text: &str| text.strip_suffix(unit).unwrap_or(text).trim().parse::<f64>().ok();
    matches!((number(stored), number(wanted)), (Some(a), Some(b)) if a == b)
}

fn by_field(met: &Met) -> Finding {
    let (field, wanted) = (&met.field, &met.wanted);
    let stored = met.stored.as_deref().unwrap_or_default();
    let finding = if met.equal {
        Finding::new(
            Weight::Note,
            Code::ExpectMet,
            format!("{field} holds {wanted:?}, as expected, to the character"),
            "the image is of the unit that the label names",
            "compare the rest of the label in the same way, with one more --expect for each number",
        )
    } else {
        Finding::new(
            Weight::Fault,
            Code::ExpectDiffers,
            format!("{field} holds {stored:?}, not {wanted:?}: {}", words(&met.differs)),
            "another part until the label says otherwise, or a poor read",
            "read the label again, character by character, and read the chip again",
        )
    };
    match met.place {
        Some(place) => finding.at(place),
        None => finding,
    }
}

fn words(differs: &[Difference]) -> String {
    let shown: Vec<String> = differs.iter().take(3).map(Difference::words).collect();
    let rest = differs.len().saturating_sub(3);
    let more = if rest > 0 { format!("; and {rest} more") } else { String::new() };
    format!("{}{more}", shown.join("; "))
}

fn by_search(expectation: &Expectation, image: &Image) -> (Met, Finding) {
    let wanted = expectation.value.trim();
    let field = &expectation.field;
    let hit = find::find(image, wanted).hits.into_iter().next();
    let met = Met {
        field: field.clone(),
        wanted: wanted.to_owned(),
        stored: hit.as_ref().map(|h| h.text.clone()),
        place: hit.as_ref().map(|h| h.place),
        equal: hit.as_ref().is_some_and(|h| h.exact),
        differs: hit.as_ref().map(|h| h.differs.clone()).unwrap_or_default(),
    };
    let finding = match &hit {
        Some(hit) if hit.exact => Finding::new(
            Weight::Note,
            Code::ExpectMet,
            format!("{wanted:?} stands in the image, stored as {}", hit.stored_as()),
            format!("no layout names the field {field}, so this was searched for in all bytes"),
            format!("look what stands around it with `readproof find IMAGE {}`", argument(wanted)),
        )
        .at(hit.place),
        Some(hit) => Finding::new(
            Weight::Fault,
            Code::ExpectDiffers,
            format!("the image holds {:?} where {wanted:?} was expected: {}", hit.text, words(&hit.differs)),
            "another part until the label says otherwise, or a poor read",
            "read the label again, character by character, and read the chip again",
        )
        .at(hit.place),
        None => Finding::new(
            Weight::Doubt,
            Code::ExpectDiffers,
            format!(
                "{wanted:?} stands nowhere in the image, however it could be stored, nor anything like it"
            ),
            format!(
                "no layout names the field {field}; this memory may not hold it, or it is another unit's"
            ),
            "read the label again, and search for a part of it with `readproof find IMAGE TEXT`",
        ),
    };
    (met, finding)
}
