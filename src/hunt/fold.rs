//! One hit for all the ways to see the same check; ranking.

use std::cmp::Ordering;

use super::resolve::Resolved;
use super::scene::Scene;
use super::{Hit, Way};
use crate::span::Span;

/// Other ways kept with a hit.
const MOST_WAYS: usize = 16;

/// Everything that a way reads or stores.
fn stretch(way: &Way) -> Span {
    Span::new(way.over.start.min(way.stored_at.start), way.over.end.max(way.stored_at.end))
}

/// True when the two are likely one check: their values share bytes, or they fill the same stretch, so that the
/// value of either can be worked out from the other's.
fn is_same_check(a: &Way, b: &Way) -> bool {
    a.stored_at.overlaps(b.stored_at) || stretch(a) == stretch(b)
}

/// Which of two hits is the better. Ties: the more natural range, the value behind its range, the longer range, the name.
fn rank(a: &Hit, b: &Hit) -> Ordering {
    let behind = |hit: &Hit| hit.way.stored_at.start < hit.way.over.end;
    a.expected
        .total_cmp(&b.expected)
        .then_with(|| a.reach.cmp(&b.reach))
        .then_with(|| behind(a).cmp(&behind(b)))
        .then_with(|| b.way.over.len().cmp(&a.way.over.len()))
        .then_with(|| a.way.stored_at.start.cmp(&b.way.stored_at.start))
        .then_with(|| (a.way.by.name.len(), &a.way.by.name).cmp(&(b.way.by.name.len(), &b.way.by.name)))
}

/// Hits of one check folded into its most telling one, best first; how many were withheld, and some of those.
pub(super) fn fold(mut found: Resolved, scene: &Scene<'_>) -> (Vec<Hit>, usize, Vec<Hit>) {
    let nearly = found.nearly(scene);
    let mut kept = folded(found.hits);
    let wanted = kept.iter().take_while(|hit| hit.expected <= scene.limit).count();
    let beyond = kept.split_off(wanted);
    let withheld = found.withheld + beyond.len();
    (kept, withheld, folded(nearly.into_iter().chain(beyond).collect()))
}

fn folded(mut hits: Vec<Hit>) -> Vec<Hit> {
    hits.sort_by(rank);
    let mut kept: Vec<Hit> = Vec::new();
    for hit in hits {
        match kept.iter_mut().find(|kept| is_same_check(&kept.way, &hit.way)) {
            Some(kept) => {
                for way in std::iter::once(hit.way).chain(hit.also) {
                    if kept.also.len() < MOST_WAYS && way != kept.way && !kept.also.contains(&way) {
                        kept.also.push(way);
                    }
                }
            }
            None => kept.push(hit),
        }
    }
    kept
}
