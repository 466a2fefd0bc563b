//! What the technician read off the label against what the image holds, to the character.

use crate::find::{self, Difference, Hit};
use crate::finding::{Code, Finding, Weight, argument};
use crate::image::Image;
use crate::layout::{Decoded, Field, FieldState};
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
pub(super) fn check(
    expectation: &Expectation,
    image: &Image,
    decoded: Option<&Decoded>,
) -> (Met, Vec<Finding>) {
    match decoded.and_then(|d| d.field(&expectation.field)) {
        Some(field) if field.state != FieldState::Absent => {
            let (met, finding) = by_field(expectation, field);
            (met, vec![finding])
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

fn by_field(expectation: &Expectation, field: &Field) -> (Met, Finding) {
    let (stored, wanted) = (field.text.trim_end(), expectation.value.trim_end());
    let path = &field.path;
    let equal = stored == wanted || same_number(stored, wanted, field.unit.as_deref());
    let differs = if equal { Vec::new() } else { find::differences(wanted, stored) };
    let finding = if equal {
        let seen = match stored == wanted {
            true => format!("{path} holds {wanted:?}, as expected, to the character"),
            false => format!("{path} holds {stored:?}, which is the same number as {wanted:?}"),
        };
        Finding::new(
            Weight::Note,
            Code::ExpectMet,
            seen,
            "the image is of the unit that the label names",
            "compare the rest of the label in the same way, with one more --expect for each number",
        )
    } else {
        another_part(format!("{path} holds {stored:?}, not {wanted:?}: {}", words(&differs)))
    };
    let place = field.cover();
    let met = Met {
        field: path.clone(),
        wanted: wanted.to_owned(),
        stored: Some(stored.to_owned()),
        place: Some(place),
        equal,
        differs,
    };
    (met, finding.at(place))
}

fn another_part(seen: String) -> Finding {
    Finding::new(
        Weight::Fault,
        Code::ExpectDiffers,
        seen,
        "another part until the label says otherwise, or a poor read",
        find::CHECK_LABEL,
    )
}

fn words(differs: &[Difference]) -> String {
    let shown: Vec<String> = differs.iter().take(3).map(Difference::words).collect();
    let rest = differs.len().saturating_sub(3);
    let more = if rest > 0 { format!("; and {rest} more") } else { String::new() };
    format!("{}{more}", shown.join("; "))
}

fn by_search(expectation: &Expectation, image: &Image) -> (Met, Vec<Finding>) {
    let wanted = expectation.value.trim();
    let field = &expectation.field;
    let hits = find::find(image, wanted).hits;
    let hit = hits.first();
    // Other case, other separators, leading zeros left out: found, but not to the character.
    let stored_so = |h: &Hit| h.is_whole() && (h.between.is_some() || h.text == wanted);
    let met = Met {
        field: field.clone(),
        wanted: wanted.to_owned(),
        stored: hit.map(|h| h.within.as_ref().unwrap_or(&h.text).clone()),
        place: hit.map(|h| h.place),
        equal: hit.is_some_and(stored_so),
        differs: hit.map(|h| h.differs.clone()).unwrap_or_default(),
    };
    if let Some(refusal) = find::refusal(wanted) {
        let finding = Finding::new(
            Weight::Doubt,
            Code::ExpectDiffers,
            format!("{wanted:?} was not looked for: {refusal}"),
            format!("no layout names the field {field}, and without one a text is only found by searching"),
            "name a layout that has the field with --layout, or compare it by eye with what `readproof survey IMAGE` tells",
        );
        return (met, vec![finding]);
    }
    let finding = match hit {
        Some(hit) if met.equal => Finding::new(
            Weight::Note,
            Code::ExpectMet,
            format!("{wanted:?} stands in the image, stored as {}", hit.stored_as()),
            format!("no layout names the field {field}, so this was searched for in all bytes"),
            format!("look what stands around it with `readproof find IMAGE {}`", argument(wanted)),
        )
        .at(hit.place),
        Some(hit) if hit.exact => Finding::new(
            Weight::Doubt,
            Code::ExpectDiffers,
            match hit.within {
                Some(_) => format!("{wanted:?} stands in the image, but stored as {}", hit.stored_as()),
                None => {
                    format!("{wanted:?} stands in the image as {:?}, stored as {}", hit.text, hit.stored_as())
                }
            },
            "that is not the same to the character: it may be another part, or only be written otherwise",
            format!(
                "look what stands around it with `readproof find IMAGE {}`, and read the label again",
                argument(wanted)
            ),
        )
        .at(hit.place),
        Some(hit) => another_part(format!(
            "the image holds {:?} where {wanted:?} was expected: {}",
            hit.text,
            words(&hit.differs)
        ))
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
    let like = hits.iter().find(|h| !h.exact).filter(|_| met.equal);
    let also = like.map(|h| {
        Finding::new(
            Weight::Doubt,
            Code::NearMiss,
            format!("the image also holds {:?}, in another place: {}", h.text, words(&h.differs)),
            "one of the two may be a damaged copy, or another part's number, and no layout says which is the unit's",
            format!("look at both with `readproof find IMAGE {}`", argument(wanted)),
        )
        .at(h.place)
    });
    (met, [finding].into_iter().chain(also).collect())
}
