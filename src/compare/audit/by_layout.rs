//! Changes judged by what the layout says about their places.

use std::collections::{HashMap, HashSet};

use super::super::atlas::{Touched, TouchedPlace};
use super::super::changes::{Changed, CheckPair, Comparison, FieldChange};
use super::allowed::{self, Allowed};
use super::{Judged, suspects};
use crate::check::Seal;
use crate::finding::{Code, Finding, Weight, argument};
use crate::image::Image;
use crate::layout::{Check, Decoded, Field, FieldState, Role};
use crate::span::Span;
use crate::wording::{address, count, hex_short, short_list};

/// Taking over what may change, instead of writing somebody's file.
const TAKE_OVER: &str = "do not write it; take what is wanted over into the original with `readproof amend BEFORE --copy all-settings --from AFTER --reseal -o OUT`";
/// What is needed to judge.
pub(super) struct Judgement<'a> {
    pub before: &'a Image,
    pub after: &'a Image,
    /// What the layout says about the image that is to be written.
    pub decoded: &'a Decoded,
    pub allowed: &'a Allowed,
}

/// What is thought of one place that a change touches.
enum Opinion {
    Fine(String),
    Refused(String),
    /// A stored check: what is thought of it depends on what it covers.
    Check,
}

impl Judgement<'_> {
    /// Judges each change of the list.
    pub(super) fn changes(&self, comparison: &Comparison) -> Vec<Judged> {
        let mut judged: Vec<Judged> = Vec::new();
        let mut checks: Vec<(usize, Changed)> = Vec::new();
        let by_path: HashMap<&str, &FieldChange> =
            comparison.fields.iter().map(|f| (f.path.as_str(), f)).collect();
        for changed in &comparison.changes {
            let (mut fine, mut refused, mut check) = (Vec::new(), Vec::new(), false);
            for touched in &changed.touched {
                match self.opinion(touched, by_path.get(touched.path.as_str()).copied()) {
                    Opinion::Fine(why) => fine.push(why),
                    Opinion::Refused(why) => refused.push(why),
                    Opinion::Check => check = true,
                }
            }
            if changed.is_undescribed() {
                let what = if changed.has_loose_bits { "all of these bits" } else { "these bytes" };
                refused = vec![format!("the layout does not describe {what}")];
            }
            let named = self.allowed.has_span(changed.span);
            if check && refused.is_empty() && !named {
                checks.push((judged.len(), changed.clone()));
            }
            let allowed = named || refused.is_empty();
            let mut why = if named {
                vec!["named".to_owned()]
            } else if allowed {
                fine
            } else {
                refused
            };
            why.dedup();
            judged.push(Judged { changed: changed.clone(), allowed, why: why.join(", ") });
        }
        let refused: Vec<Span> = judged.iter().filter(|j| !j.allowed).map(|j| j.changed.span).collect();
        for (index, changed) in checks {
            let (allowed, why) = self.check_change(&changed, &refused);
            if let Some(place) = judged.get_mut(index) {
                place.allowed = allowed;
                place.why = if place.why.is_empty() { why } else { format!("{}, {why}", place.why) };
            }
        }
        judged
    }

    fn opinion(&self, touched: &Touched, field: Option<&FieldChange>) -> Opinion {
        let word = touched.role.word();
        match touched.role {
            Role::Record if field.is_some_and(FieldChange::came_to_rest) => {
                Opinion::Fine(format!("{word}, now at rest"))
            }
            Role::Record | Role::Setting | Role::Filler => Opinion::Fine(word.to_owned()),
            Role::Check if touched.place == TouchedPlace::Check => Opinion::Check,
            Role::Check if self.check_of(touched).is_some() => Opinion::Check,
            Role::Identity | Role::Calibration | Role::Reserved | Role::Check => {
                if self.allowed.has_field(&touched.path) {
                    Opinion::Fine(format!("{word}, named"))
                } else {
                    Opinion::Refused(format!("{word} must stay"))
                }
            }
        }
    }

    /// The check that a field of that role stores.
    fn check_of(&self, touched: &Touched) -> Option<&Check> {
        let field = self.decoded.fields.iter().find(|f| f.path == touched.path)?;
        self.checks_stored_in(field.cover()).next()
    }

    fn checks_stored_in(&self, span: Span) -> impl Iterator<Item = &Check> {
        let there = move |c: &&Check| c.placed.as_ref().is_some_and(|p| p.stored_at.overlaps(span));
        self.decoded.checks.iter().filter(there)
    }

    /// Stored check bytes may change when they are right and nothing they cover was changed against the rules.
    fn check_change(&self, changed: &Changed, refused: &[Span]) -> (bool, String) {
        for check in self.checks_stored_in(changed.span) {
            if check.seal != Seal::Sealed {
                return (false, format!("Check {} is wrong", check.name));
            }
            if refused.iter().any(|&span| covers(check, span)) {
                return (false, format!("Check {} made right over changes that are not allowed", check.name));
            }
        }
        (true, "Check, right for the changes".to_owned())
    }

    /// Everything that was seen, but for what became of Records.
    pub(super) fn findings(&self, comparison: &Comparison, changes: &[Judged]) -> Vec<Finding> {
        let mut findings = self.suspects(comparison, changes);
        findings.extend(other_unit(comparison, changes));
        for (role, code) in [
            (Role::Identity, Code::IdentityChanged),
            (Role::Calibration, Code::CalibrationChanged),
            (Role::Reserved, Code::ReservedChanged),
        ] {
            findings.extend(self.guarded(comparison, changes, role, code));
        }
        findings.extend(self.undescribed(changes));
        findings.extend(filled(comparison));
        findings.extend(self.checks(comparison, changes));
        findings.extend(self.odd(comparison));
        findings
    }

    /// Changes that look like a poor read: where no sealed check speaks for them and nobody meant them. Where a
    /// check is broken as well, that settles it.
    fn suspects(&self, comparison: &Comparison, changes: &[Judged]) -> Vec<Finding> {
        let rested = comparison.fields.iter().filter(|f| f.came_to_rest());
        let rested: HashSet<&str> = rested.map(|f| f.path.as_str()).collect();
        let by =
            |seal: Seal, span: Span| self.decoded.checks.iter().any(|c| c.seal == seal && covers(c, span));
        let settled = |change: &&Judged| {
            change.changed.touched.iter().any(|t| t.role == Role::Check || rested.contains(t.path.as_str()))
                || self.allowed.has_span(change.changed.span)
                || by(Seal::Sealed, change.changed.span)
        };
        let open: Vec<Span> = changes.iter().filter(|c| !settled(c)).map(|c| c.changed.span).collect();
        let broken = open.iter().any(|&span| by(Seal::Broken, span));
        let mut findings = suspects::findings(self.before, self.after, open.into_iter());
        for finding in &mut findings {
            finding.weight = if broken { Weight::Fault } else { Weight::Doubt };
        }
        findings
    }

    /// Changed fields of a role that must stay.
    fn guarded(
        &self,
        comparison: &Comparison,
        changes: &[Judged],
        role: Role,
        code: Code,
    ) -> Option<Finding> {
        let is_role = |j: &&Judged| j.changed.touched.iter().any(|t| t.role == role);
        let spans: Vec<Span> = changes.iter().filter(is_role).map(|j| j.changed.span).collect();
        let first = *spans.first()?;
        let refused = changes.iter().filter(|j| !j.allowed).filter(is_role);
        let names = allowed::names(refused.clone().map(|j| &j.changed), self.before);
        let mut told: Vec<String> =
            comparison.fields.iter().filter(|f| f.role() == Some(role)).map(told).collect();
        if told.is_empty() {
            told =
                changes.iter().filter(is_role).flat_map(|j| j.changed.paths()).map(str::to_owned).collect();
            told.dedup();
        }
        let seen = format!("{} changed: {}", role.word(), short_list(&told));
        let (weight, means, advice) = if names.is_empty() {
            (Weight::Note, "it was named as meant", "check it against the label once more".to_owned())
        } else {
            let means = match role {
                Role::Identity => "the file is another unit's, or somebody put another number in",
                Role::Calibration => {
                    "these were measured for the unit the file comes from and are wrong in any other"
                }
                _ => "the maker keeps these bytes for itself",
            };
            (Weight::Fault, means, keep_unless_meant(&names))
        };
        Some(Finding::new(weight, code, seen, means, advice).at(first))
    }

    fn undescribed(&self, changes: &[Judged]) -> Option<Finding> {
        let open = || changes.iter().filter(|j| !j.allowed && j.changed.is_undescribed());
        let first = open().next()?.changed.span;
        let bytes: usize = open().map(|j| j.changed.span.len()).sum();
        let names = allowed::names(open().map(|j| &j.changed), self.before);
        let part = |image: &Image| hex_short(first.of_bytes(image.bytes()).unwrap_or_default(), 8);
        Some(
            Finding::new(
                Weight::Fault,
                Code::UndescribedChanged,
                format!(
                    "{} changed outside every field, the first from {} to {}",
                    count(bytes, "byte"),
                    part(self.before),
                    part(self.after)
                ),
                "nobody has said what these bytes are; a change there is no setting and no record",
                keep_unless_meant(&names),
            )
            .at(first),
        )
    }

    fn checks(&self, comparison: &Comparison, changes: &[Judged]) -> Vec<Finding> {
        let mut findings = Vec::new();
        let mut made_right: Vec<(&str, Span)> = Vec::new();
        let mut was_wrong: Vec<(&str, Span)> = Vec::new();
        for pair in &comparison.checks {
            let Some(after) = &pair.after else { continue };
            let Some(placed) = &after.placed else { continue };
            let was = pair.before.as_ref().map(|c| c.seal);
            let refused = |role: Role| {
                changes.iter().any(|j| {
                    !j.allowed
                        && j.changed.touched.iter().any(|t| t.role == role)
                        && covers(after, j.changed.span)
                })
            };
            match after.seal {
                Seal::Sealed if refused(Role::Identity) || refused(Role::Calibration) => {
                    made_right.push((pair.name.as_str(), placed.stored_at));
                }
                Seal::Broken => {
                    let untouched = !changes
                        .iter()
                        .any(|j| covers(after, j.changed.span) || placed.stored_at.overlaps(j.changed.span));
                    findings.push(broken(&pair.name, after, placed.stored_at, was, untouched));
                }
                Seal::Unreadable if was != Some(Seal::Unreadable) => findings.push(
                    Finding::new(
                        Weight::Fault,
                        Code::CheckUnreadable,
                        format!("the check {} cannot be computed any more", pair.name),
                        "a part of what it covers is not in the changed image",
                        "do not write it; read or ask for the whole image",
                    )
                    .at(placed.stored_at),
                ),
                // A check that the changed bytes suit without being touched speaks for them.
                Seal::Sealed if was == Some(Seal::Broken) && stored_changed(pair) => {
                    was_wrong.push((pair.name.as_str(), placed.stored_at));
                }
                Seal::Sealed | Seal::Unreadable => {}
            }
        }
        findings.extend(resealed(&made_right));
        findings.extend(self.resealed_over_broken(&was_wrong));
        findings
    }

    /// Checks that were wrong in the original and are right by a new stored value: nobody has said what broke them.
    fn resealed_over_broken(&self, was_wrong: &[(&str, Span)]) -> Option<Finding> {
        let first = was_wrong.first()?.1;
        let names: Vec<&str> = was_wrong.iter().map(|(name, _)| *name).collect();
        let (which, were, are) =
            if names.len() == 1 { ("check", "was", "is") } else { ("checks", "were", "are") };
        let at = |offset| address(self.before.address(offset));
        let places: Vec<String> =
            was_wrong.iter().map(|(_, s)| format!("--allow {}..{}", at(s.start), at(s.end))).collect();
        let named = was_wrong.iter().all(|(_, stored_at)| self.allowed.has_span(*stored_at));
        Some(
            Finding::new(
                if named { Weight::Note } else { Weight::Doubt },
                Code::ResealedOverBroken,
                format!(
                    "the {which} {} {were} wrong in the original and {are} made right in the changed image",
                    short_list(&names)
                ),
                "whatever was wrong in the original, such as a poor read, now passes for good",
                format!(
                    "read the chip again and vet both reads with `readproof vet BEFORE READ2`; where it is known what broke the original, say so with {}",
                    places.join(" ")
                ),
            )
            .at(first),
        )
    }

    /// Fields that made sense and do not any more.
    fn odd(&self, comparison: &Comparison) -> Vec<Finding> {
        let turned = comparison.fields.iter().filter_map(|f| {
            let after = f.after.as_ref()?;
            let FieldState::Odd(why) = &after.state else { return None };
            let was_odd = f.before.as_ref().is_some_and(|b| matches!(b.state, FieldState::Odd(_)));
            (!was_odd).then_some((f, after, why))
        });
        turned
            .map(|(change, after, why)| {
                Finding::new(
                    Weight::Doubt,
                    Code::FieldOdd,
                    format!("{} makes no sense any more: {why}", change.path),
                    "the change does not suit what the layout says of the field",
                    format!(
                        "set it again with `readproof amend IMAGE --set {}=VALUE --reseal -o OUT`",
                        argument(&change.path)
                    ),
                )
                .at(after.cover())
            })
            .collect()
    }
}

/// What is done about changes that must not be, unless each of `names` is meant.
fn keep_unless_meant(names: &[String]) -> String {
    let options: Vec<String> = names.iter().map(|n| format!("--allow {}", argument(n))).collect();
    format!("keep what the original holds; if the change is meant, say so with {}", short_list(&options))
}

/// Fields that held nothing, by the layout and by their bytes, and now hold something.
fn filled(comparison: &Comparison) -> Option<Finding> {
    let rest = |f: &Option<Field>| f.as_ref().and_then(|f| f.at_rest);
    let of_filler = comparison.fields.iter().filter(|f| f.role() == Some(Role::Filler));
    let filled: Vec<&FieldChange> =
        of_filler.filter(|f| (rest(&f.before), rest(&f.after)) == (Some(true), Some(false))).collect();
    let names: Vec<&str> = filled.iter().map(|f| f.path.as_str()).collect();
    Some(
        Finding::new(
            Weight::Doubt,
            Code::ReservedUsed,
            format!("what held nothing holds something now: {}", short_list(&names)),
            "somebody keeps something there, or the layout is wrong about it",
            "ask who changed it what it is for, before it is written",
        )
        .at(filled.first()?.field().map(Field::cover).unwrap_or_default()),
    )
}

/// Identity and calibration both changed: the mark of another unit's image.
fn other_unit(comparison: &Comparison, changes: &[Judged]) -> Option<Finding> {
    let of = |role: Role| comparison.fields.iter().filter(move |f| f.role() == Some(role));
    let identity = of(Role::Identity).next()?;
    let measured = of(Role::Calibration).count();
    if measured == 0 {
        return None;
    }
    let guarded =
        |j: &&Judged| j.changed.touched.iter().any(|t| matches!(t.role, Role::Identity | Role::Calibration));
    let mut guarded = changes.iter().filter(guarded).peekable();
    // Fields that are not in the changed image at all say nothing about whose it is.
    guarded.peek()?;
    let named = guarded.all(|j| j.allowed);
    let place = identity.field().map(Field::cover).unwrap_or_default();
    let (weight, advice) = match named {
        true => (Weight::Note, "check by the label that it is meant for this very unit"),
        false => (Weight::Fault, TAKE_OVER),
    };
    let seen = format!(
        "identity and calibration both differ ({}; {} of calibration)",
        told(identity),
        count(measured, "value")
    );
    Some(
        Finding::new(
            weight,
            Code::OtherUnit,
            seen,
            "the changed image is another unit's, or was made from it",
            advice,
        )
        .at(place),
    )
}

/// Checks that are right over identity or calibration that changed against the rules.
fn resealed(made_right: &[(&str, Span)]) -> Option<Finding> {
    let first = made_right.first()?.1;
    let names: Vec<&str> = made_right.iter().map(|(name, _)| *name).collect();
    let (which, are) = if names.len() == 1 { ("check", "is") } else { ("checks", "are") };
    Some(
        Finding::new(
            Weight::Fault,
            Code::ResealedOverIdentity,
            format!("the {which} {} {are} right over changed identity or calibration", short_list(&names)),
            "whoever changed it made that right, so the unit would accept it without complaint",
            "do not write it: a right check makes no right image; ask who changed it and why",
        )
        .at(first),
    )
}

/// Whether the check of a pair holds another stored value than before.
fn stored_changed(pair: &CheckPair) -> bool {
    pair.before.as_ref().map(|c| c.stored) != pair.after.as_ref().map(|c| c.stored)
}

fn broken(name: &str, check: &Check, at: Span, was: Option<Seal>, untouched: bool) -> Finding {
    let digits = at.len() * 2;
    let number = |v: Option<u128>| v.map_or("nothing".to_owned(), |v| format!("{v:0digits$X}"));
    let seen = format!(
        "the check {name} is wrong: {} is stored, {} is computed",
        number(check.stored),
        number(check.computed)
    );
    if was == Some(Seal::Broken) && untouched {
        return Finding::new(
            Weight::Doubt,
            Code::CheckBroken,
            format!("{seen}, as in the original"),
            "the original read is poor, or the layout is not this memory's",
            "read the chip again before anything is written, and vet both reads with `readproof vet BEFORE READ2`",
        )
        .at(at);
    }
    Finding::new(
        Weight::Fault,
        Code::CheckBroken,
        seen,
        "the bytes were changed without their check; the unit will refuse them or fall back to defaults",
        "reseal it with `readproof amend AFTER --reseal -o OUT`, if the changes are right",
    )
    .at(at)
}

/// Whether a check covers a byte of `span`.
fn covers(check: &Check, span: Span) -> bool {
    check.placed.as_ref().is_some_and(|p| p.over.iter().any(|over| over.overlaps(span)))
}

/// `serial from 1 to 2`.
fn told(change: &FieldChange) -> String {
    const MOST: usize = 32;
    let text = |f: &Option<Field>| match f {
        None => "nothing".to_owned(),
        Some(f) if f.text.is_empty() => "empty".to_owned(),
        Some(f) => match &f.unit {
            Some(unit) => format!("{} {unit}", f.text),
            None => f.text.clone(),
        },
    };
    let (before, after) = (text(&change.before), text(&change.after));
    match before == after {
        true => format!("{} in its copies or padding", change.path),
        // Of long values only that they changed can be told in a sentence.
        false if before.chars().count().max(after.chars().count()) > MOST => change.path.clone(),
        false => format!("{} from {before} to {after}", change.path),
    }
}
