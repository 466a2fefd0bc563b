//! Resealing checks in an order in which a check over the stored bytes of others comes after them.

use super::decode::decode;
use super::{Check, Layout, Refusal, order};
use crate::check::{self, Seal};
use crate::edit::Change;
use crate::image::Image;
use crate::notation::nearest;
use crate::wording::count;

/// The change that seals the checks called `names` (all that can be read when empty), in an order in which checks
/// over other checks come last; no edits when they are sealed.
///
/// # Errors
/// When a name is unknown, a named check's places are not in the image, or checks protect each other in a ring.
pub fn reseal(layout: &Layout, image: &Image, names: &[&str]) -> Result<Change, Refusal> {
    let decoded = decode(layout, image);
    let mut chosen: Vec<&Check> = Vec::new();
    for name in names {
        match decoded.checks.iter().find(|c| c.name == *name) {
            Some(check) if check.seal == Seal::Unreadable => {
                return Err(Refusal {
                    what: format!("a part of the check {name} is not in the image"),
                    advice: "open a read of the whole memory".to_string(),
                });
            }
            Some(check) => chosen.push(check),
            None => {
                let known = decoded.checks.iter().map(|c| c.name.as_str());
                let advice = match nearest(name, known) {
                    Some(near) => format!("did you mean {near}?"),
                    None => "name a check as it is listed".to_string(),
                };
                return Err(Refusal { what: format!("there is no check \"{name}\""), advice });
            }
        }
    }
    if names.is_empty() {
        chosen = decoded.checks.iter().filter(|c| c.seal != Seal::Unreadable).collect();
    }
    let mut scratch = image.clone();
    let mut edits = Vec::new();
    for check in in_order(&chosen)? {
        let Some(placed) = &check.placed else { continue };
        if let Some(edit) = check::reseal(placed, &scratch) {
            scratch.write(edit.at, &edit.after);
            edits.push(edit);
        } else if check::verify(placed, &scratch).seal == Seal::Broken {
            return Err(Refusal {
                what: format!("no stored value seals the check {}", check.name),
                advice: "the layout asks for what this algorithm cannot give; see `readproof checks`"
                    .to_string(),
            });
        }
    }
    let label = match edits.len() {
        1 if chosen.len() == 1 => format!("reseal {}", chosen[0].name),
        n => format!("reseal {}", count(n, "check")),
    };
    Ok(Change { label, edits })
}

/// The checks so that each comes after those whose stored bytes it covers.
fn in_order<'c>(checks: &[&'c Check]) -> Result<Vec<&'c Check>, Refusal> {
    // Stored places by offset, so that each range finds those it covers without asking all.
    let mut stored: Vec<_> = checks
        .iter()
        .enumerate()
        .filter_map(|(n, c)| c.placed.as_ref().map(|p| (p.stored_at.start, p.stored_at.end, n)))
        .collect();
    stored.sort_unstable();
    let covered = |n: usize| -> Vec<usize> {
        let Some(placed) = &checks[n].placed else { return Vec::new() };
        let mut on = Vec::new();
        for span in &placed.over {
            // A stored value has at most 16 bytes, so one that reaches in begins at most 15 before.
            let first = stored.partition_point(|(start, _, _)| *start + 16 <= span.start);
            let inside = stored[first..].iter().take_while(|(start, _, _)| *start < span.end);
            on.extend(inside.filter(|(_, end, other)| *end > span.start && *other != n).map(|(_, _, o)| *o));
        }
        on
    };
    // When all of a ring agree there is nothing to be decided.
    let matters = |ring: &[usize]| ring.iter().any(|&n| checks[n].seal != Seal::Sealed);
    let order = order::in_order(0..checks.len(), checks.len(), covered, matters).map_err(|ring| {
        let path: Vec<_> = ring.iter().chain(ring.first()).map(|&n| checks[n].name.as_str()).collect();
        Refusal {
            what: format!("checks protect each other's stored bytes: {}", path.join(" → ")),
            advice: "correct the ranges of these checks in the layout".to_string(),
        }
    })?;
    Ok(order.into_iter().map(|n| checks[n]).collect())
}
