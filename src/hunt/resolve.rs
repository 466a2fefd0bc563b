//! From what was looked up to named checks, each verified on every image.

use super::kernel::{self, Family, number};
use super::search::{Raw, Tables};
use super::{Hit, Way};
use crate::check::{
    Algorithm, CrcParameters, Finish, Method, Operation, StoredBytes, SumParameters, catalogue,
};
use crate::span::Span;

/// What came of one unit of work.
#[derive(Debug, Default)]
pub(super) struct Resolved {
    pub hits: Vec<Hit>,
    /// Finds that chance alone would give too often.
    pub withheld: usize,
}

/// Positions of one run that are looked at; in a longer run only the natural ones.
const MOST_POSITIONS: usize = 256;
/// Other ways of one find that are kept.
const MOST_WAYS: usize = 8;
/// A range of a single image says nothing when it changes less often than this from byte to byte.
const FEWEST_CHANGES: usize = 4;

/// One way to see a find, not verified yet.
struct Candidate {
    way: Way,
    listed: bool,
    /// How many such hits chance would give if every image were evidence.
    expected: f64,
}

/// Names what was looked up, verifies it, and says how often chance gives the like.
pub(super) fn resolve(tables: &Tables<'_>, raw: &[Raw], resolved: &mut Resolved) {
    for raw in raw {
        let mut candidates = candidates(tables, raw);
        candidates.retain(|candidate| says_something(tables, &candidate.way));
        let length = |candidate: &Candidate| std::cmp::Reverse(candidate.way.over.len());
        candidates.sort_by(|a, b| a.expected.total_cmp(&b.expected).then_with(|| length(a).cmp(&length(b))));
        let mut candidates = candidates.into_iter();
        let Some(best) = candidates.find(|candidate| verified(tables, &candidate.way)) else { continue };
        let Candidate { way, listed, .. } = best;
        let images = tables.scene.independent(way.over, way.stored_at);
        let reach = tables.scene.reach(way.over, way.stored_at);
        let expected = expected(tables, &way, listed, images);
        if expected > tables.scene.limit {
            resolved.withheld += 1;
            continue;
        }
        let also = candidates.take(MOST_WAYS).map(|candidate| candidate.way).collect();
        resolved.hits.push(Hit { way, images, expected, reach, listed, also });
    }
}

fn expected(tables: &Tables<'_>, way: &Way, listed: bool, images: usize) -> f64 {
    let bits = tables.kernel.bits;
    let reach = tables.scene.reach(way.over, way.stored_at);
    let (images, ways) = if listed {
        (images, kernel::ways(bits))
    } else {
        (images.saturating_sub(1), kernel::kernel_ways(bits))
    };
    tables.scene.expected(reach, bits, images, ways)
}

/// Whether a check at that place could tell anything apart from chance: its range must change.
fn says_something(tables: &Tables<'_>, way: &Way) -> bool {
    let scene = tables.scene;
    if !scene.is_mapped(way.over) || !scene.is_mapped(way.stored_at) {
        return false;
    }
    if !scene.is_single() {
        let varying = scene.varying_in(way.over);
        // A sum over no more than its own size is a copy of what it covers, or its complement.
        return match tables.kernel.family {
            Family::Crc { .. } => varying > 0,
            _ => varying > way.stored_at.len(),
        };
    }
    scene.images.first().is_some_and(|image| {
        let (over, stored) = (&image[way.over.range()], &image[way.stored_at.range()]);
        let changes = over.windows(2).filter(|pair| pair[0] != pair[1]).take(FEWEST_CHANGES).count();
        let uniform = stored.len() > 1 && stored.iter().all(|byte| stored.first() == Some(byte));
        changes >= FEWEST_CHANGES && !uniform
    })
}

fn verified(tables: &Tables<'_>, way: &Way) -> bool {
    tables.scene.images.iter().all(|image| {
        let stored = number(&image[way.stored_at.range()], way.order);
        let pieces: Vec<&[u8]> = match way.over.intersection(way.stored_at) {
            None => vec![&image[way.over.range()]],
            Some(hole) => {
                let zeros: &[u8] =
                    if way.stored_bytes == StoredBytes::Zeroed { &[0; 8][..hole.len()] } else { &[] };
                vec![&image[way.over.start..hole.start], zeros, &image[hole.end..way.over.end]]
            }
        };
        way.by.compute(pieces) == u128::from(stored)
    })
}

/// The positions of a run, in a long one only the natural ones and those beside the value.
fn positions(tables: &Tables<'_>, run: (usize, usize), at: Span) -> Vec<usize> {
    let all = run.0..=run.1;
    if run.1 - run.0 < MOST_POSITIONS {
        return all.collect();
    }
    let natural = |position: &usize| {
        let offset = tables.offset(*position);
        *position == run.0
            || *position == run.1
            || offset == at.start
            || offset == at.end
            || tables.scene.aligned.binary_search(&offset).is_ok()
    };
    all.filter(natural).collect()
}

fn candidates(tables: &Tables<'_>, raw: &Raw) -> Vec<Candidate> {
    let stored_at = Span::of(raw.at, tables.kernel.bits.div_ceil(8) as usize);
    let way = |by: Algorithm, start: usize, end: usize| Way {
        by,
        over: Span::new(tables.offset(start), tables.offset(end)),
        stored_at,
        order: raw.order,
        stored_bytes: raw.stored_bytes,
    };
    let inside = raw.stored_bytes == StoredBytes::Zeroed
        || (raw.starts.0 == raw.starts.1 && {
            let (start, end) = (tables.offset(raw.starts.0), tables.offset(raw.ends.0));
            Span::new(start, end).covers(stored_at)
        });
    let fits = |start: usize, end: usize| {
        start < end && (inside || !Span::new(tables.offset(start), tables.offset(end)).overlaps(stored_at))
    };
    let is_crc = matches!(tables.kernel.family, Family::Crc { .. });
    let starts = if is_crc {
        (raw.starts.0..=raw.starts.1).collect()
    } else {
        positions(tables, raw.starts, stored_at)
    };
    let ends = positions(tables, raw.ends, stored_at);
    let mut candidates = Vec::new();
    let mut add = |by: Algorithm, listed: bool, start: usize, end: usize| {
        let way = way(by, start, end);
        let expected = expected(tables, &way, listed, tables.scene.images.len());
        candidates.push(Candidate { way, listed, expected });
    };
    for &end in &ends {
        let mut unlisted: Option<(f64, usize)> = None;
        for &start in starts.iter().filter(|&&start| fits(start, end)) {
            match (tables.member, tables.kernel.family) {
                (Some(member), _) => add(member.clone(), true, start, end),
                (None, Family::Crc { .. }) if inside => {
                    tables.kernel.members.iter().for_each(|member| add(member.clone(), true, start, end));
                }
                (None, Family::Crc { .. }) => {
                    let mut found = false;
                    for member in &tables.kernel.members {
                        if crc_holds(tables, member, start, end, raw) {
                            add(member.clone(), true, start, end);
                            found = true;
                        }
                    }
                    if !found {
                        let span = Span::new(tables.offset(start), tables.offset(end));
                        let size = tables.scene.ranges(tables.scene.reach(span, stored_at), stored_at.len());
                        if unlisted.is_none_or(|(best, _)| size < best) {
                            unlisted = Some((size, start));
                        }
                    }
                }
                (None, _) => {
                    if let Some((by, listed)) = sum(tables, start, end, raw) {
                        add(by, listed, start, end);
                    }
                }
            }
        }
        if let Some((_, start)) = unlisted
            && let Some(by) = crc(tables, start, end, raw)
        {
            add(by, false, start, end);
        }
    }
    candidates
}

fn first_value(tables: &Tables<'_>, raw: &Raw) -> Option<u64> {
    let stored = Span::of(raw.at, tables.kernel.bits.div_ceil(8) as usize);
    tables.scene.images.first().map(|image| number(&image[stored.range()], raw.order))
}

/// Whether the first image has the value of `member`, by the numbers of its prefixes.
fn crc_holds(tables: &Tables<'_>, member: &Algorithm, start: usize, end: usize, raw: &Raw) -> bool {
    let (Family::Crc { field, .. }, Method::Crc(crc)) = (tables.kernel.family, member.method) else {
        return false;
    };
    let Some(value) = first_value(tables, raw).and_then(|value| tables.kernel.family.wanted(member, value))
    else {
        return false;
    };
    let started = field.times(tables.shifts[start], crc.init as u64);
    let ended = field.times(tables.shifts[end], value);
    tables.base[start] ^ started == tables.base[end] ^ ended
}

/// The CRC with this kernel's polynomial whose final exclusive or makes the first image right.
fn crc(tables: &Tables<'_>, start: usize, end: usize, raw: &Raw) -> Option<Algorithm> {
    let Family::Crc { field, refin, refout } = tables.kernel.family else { return None };
    let plain = |xorout: u128| {
        Algorithm::crc(CrcParameters {
            width: field.width as u8,
            poly: field.poly.into(),
            init: 0,
            refin,
            refout,
            xorout,
        })
    };
    let over = Span::new(tables.offset(start), tables.offset(end));
    let computed = plain(0).compute([&tables.scene.images.first()?[over.range()]]);
    Some(plain(computed ^ u128::from(first_value(tables, raw)?)))
}

/// The sum of this kernel whose constant makes the first image right, and whether it is a listed one.
fn sum(tables: &Tables<'_>, start: usize, end: usize, raw: &Raw) -> Option<(Algorithm, bool)> {
    let family = tables.kernel.family;
    let sum = family.part(tables.base[end], tables.base[start]);
    let value = first_value(tables, raw)?;
    let (operation, bits, word, order, missing) = match family {
        Family::Sum { bits, word, order, carry, missing } => {
            (if carry { Operation::AddCarry } else { Operation::Add }, bits, word, order, missing)
        }
        Family::Xor { bits, word, order } => (Operation::Xor, bits, word, order, true),
        Family::Crc { .. } | Family::Pair { .. } => return None,
    };
    let (init, finish) = if missing {
        (0, Finish::To(family.join(value, sum)))
    } else {
        (family.part(value, sum), Finish::Plain)
    };
    let algorithm = Algorithm::sum(SumParameters { operation, bits, word, order, init, finish });
    if catalogue().iter().any(|listed| listed.algorithm == algorithm) {
        return Some((algorithm, true));
    }
    // Folding is the only other name that a sum with carry goes by.
    let folded = tables.kernel.members.iter().find(|member| member.method == Method::SystemVSum);
    match folded {
        Some(folded) if init == 0 => Some((folded.clone(), true)),
        _ => Some((algorithm, false)),
    }
}
