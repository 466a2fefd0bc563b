//! Reads that differ although each is right by its own checks: good reads of different contents.

use std::collections::HashMap;

use super::agreement::Flips;
use super::by_layout::Judged;
use crate::finding::{Code, Finding, Weight};
use crate::layout::{Check, Field, Role, Shape};
use crate::wording::{count, short_list};

/// Bytes of check values that must differ and agree on both sides: what a disturbed read passes by chance once in
/// 65536 times.
const LEAST_PROOF: usize = 2;

/// That two reads hold different contents, when the checks of both say so; a disturbed read would break them.
pub(super) fn finding(flips: &Flips, here: &Judged, there: &Judged, weight: Weight) -> Option<Finding> {
    if here.index != there.index
        || !here.is_sealed()
        || !there.is_sealed()
        || proof(here, there) < LEAST_PROOF
    {
        return None;
    }
    let (read, against) = (flips.read + 1, flips.against + 1);
    let checks = here.decoded.checks.len();
    let agree = format!(
        "read {read} differs from read {against} in {}, and in both {}",
        count(flips.bytes, "byte"),
        if checks == 1 { "the check agrees".to_owned() } else { format!("all {checks} checks agree") },
    );
    let changed = changed(here, there);
    let identity: Vec<String> = changed
        .iter()
        .filter(|(_, field)| field.role == Role::Identity)
        .map(|(before, field)| {
            format!("{} is {} in read {against} and {} in read {read}", field.path, before.text, field.text)
        })
        .collect();
    let compare = format!("`readproof compare IMAGE{against} IMAGE{read}`");
    let (seen, means, advice) = if identity.is_empty() {
        let paths: Vec<&str> = changed.iter().map(|(_, field)| field.path.as_str()).collect();
        let what = match paths.as_slice() {
            [] => String::new(),
            [path] => format!("; {path} has another value"),
            _ => format!("; {} fields have other values: {}", paths.len(), short_list(&paths)),
        };
        (
            format!("{agree}{what}"),
            "both are good reads: the unit wrote to its memory in between, or one of the files was changed",
            format!(
                "keep the unit from running while it is read, and read twice more; see what changed with {compare}"
            ),
        )
    } else {
        (
            format!("{agree}; {}", identity.join(", ")),
            "both are good reads, but not of one unit, or one of the files was changed",
            format!(
                "find out by the label which of them is this unit's, and vet that one with a second read of it; see what differs with {compare}"
            ),
        )
    };
    Some(Finding::new(weight, Code::GoodReadsDiffer, seen, means, advice).at(flips.place))
}

/// Bytes of the check values that are not the same in both.
fn proof(here: &Judged, there: &Judged) -> usize {
    let stored: HashMap<&str, Option<u128>> =
        there.decoded.checks.iter().map(|c| (c.name.as_str(), c.stored)).collect();
    let differs = |c: &&Check| stored.get(c.name.as_str()).is_some_and(|other| *other != c.stored);
    let differing = here.decoded.checks.iter().filter(differs);
    differing.filter_map(|c| c.placed.as_ref()).map(|placed| placed.stored_at.len()).sum()
}

/// The fields with another value, each as it is there and as it is here.
fn changed<'a>(here: &'a Judged, there: &'a Judged) -> Vec<(&'a Field, &'a Field)> {
    let before: HashMap<&str, &Field> = there.decoded.fields.iter().map(|f| (f.path.as_str(), f)).collect();
    let telling = |f: &&Field| f.shape == Shape::Leaf && !matches!(f.role, Role::Check | Role::Filler);
    let fields = here.decoded.fields.iter().filter(telling);
    let pairs = fields.filter_map(|field| Some((*before.get(field.path.as_str())?, field)));
    pairs.filter(|(before, field)| before.text != field.text).collect()
}
