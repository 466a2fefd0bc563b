//! From what was looked up to named checks, each verified on every image.

use std::collections::HashMap;

use super::kernel::{self, Family, number};
use super::search::{Raw, Tables};
use super::{Hit, Reach, Way};
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

/// Positions of one run that are looked at: all of a short run, of a longer one those beside the value, its ends and
/// natural places.
const MOST_POSITIONS: usize = 24;
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
        let length = |candidate: &Candidate| std::cmp::Reverse(candidate.way.over.len());
        candidates.sort_by(|a, b| a.expected.total_cmp(&b.expected).then_with(|| length(a).cmp(&length(b))));
        let limit = tables.scene.limit;
        let mut candidates =
            candidates.into_iter().filter(|candidate| says_something(tables, &candidate.way));
        let Some(best) = candidates.find(|c| c.expected > limit || verified(tables, &c.way)) else {
            continue;
        };
        if best.expected > limit {
            resolved.withheld += 1;
            continue;
        }
        let Candidate { way, listed, .. } = best;
        let images = tables.scene.independent(way.over, way.stored_at);
        let reach = tables.scene.reach(way.over, way.stored_at);
        let expected = expected(tables, &way, listed, images, bits(tables, &way));
        if expected > limit {
            resolved.withheld += 1;
            continue;
        }
        let also = candidates.take(MOST_WAYS).map(|candidate| candidate.way).collect();
        resolved.hits.push(Hit { way, images, expected, reach, listed, also });
    }
}

fn expected(tables: &Tables<'_>, way: &Way, listed: bool, images: usize, bits: f64) -> f64 {
    let width = tables.kernel.bits;
    let reach = tables.scene.reach(way.over, way.stored_at);
    let (images, ways) = if listed {
        (images, kernel::ways(width))
    } else {
        (images.saturating_sub(1), kernel::kernel_ways(width))
    };
    tables.scene.expected(reach, width, bits * images as f64, ways)
}

/// Whether a check at that place could tell anything apart from chance: its range must change, and by more than a
/// copy of what it covers would show.
fn says_something(tables: &Tables<'_>, way: &Way) -> bool {
    let scene = tables.scene;
    if !scene.is_mapped(way.over) || !scene.is_mapped(way.stored_at) {
        return false;
    }
    let Some(image) = scene.images.first() else { return false };
    if scene.is_single() {
        let over = &image[way.over.range()];
        let steps = over.windows(2).filter(|pair| pair[0] != pair[1]).take(FEWEST_CHANGES).count();
        return steps >= FEWEST_CHANGES && !is_mirrored(tables.kernel.family, over);
    }
    // Over no more varying bytes than it has itself, a sum is a copy or its complement, and so is a CRC at distances
    // at which the powers of x come round. Where range and place are natural a CRC may protect that little.
    match tables.kernel.family {
        Family::Crc { .. } if scene.reach(way.over, way.stored_at) <= Reach::Edge => {
            scene.varying_in(way.over) > 0
        }
        Family::Crc { .. } | Family::Pair { .. } => changes(tables, way, 1) > way.stored_at.len(),
        Family::Sum { word, .. } | Family::Xor { word, .. } => {
            changes(tables, way, usize::from(word / 8)) > way.stored_at.len()
        }
    }
}

/// Whether most words of the range have a twin there, inverted or for an exclusive or equal, so that a sum is about
/// nothing. Blank words do not count.
fn is_mirrored(family: Family, over: &[u8]) -> bool {
    let (word, order, equal) = match family {
        Family::Xor { word, order, .. } => (word, order, true),
        Family::Sum { word, order, .. } => (word, order, false),
        Family::Crc { .. } | Family::Pair { .. } => return false,
    };
    let ones = u64::MAX >> (64 - u32::from(word));
    let mut words: HashMap<u64, [usize; 2]> = HashMap::new();
    let mut total = 0;
    for word in over.chunks(usize::from(word / 8)) {
        let value = number(word, order);
        if value != 0 && value != ones {
            // A word and its inverse have one name.
            let inverse = ones & !value;
            words.entry(value.min(inverse)).or_default()[usize::from(value > inverse)] += 1;
            total += 1;
        }
    }
    let twins = |[a, b]: &[usize; 2]| if equal { (a + b) / 2 * 2 } else { 2 * a.min(b) };
    2 * words.values().map(twins).sum::<usize>() > total
}

/// In how many different ways bytes of the range change from image to image, told apart by their place in a word of
/// `word` bytes. Bytes that change alike count once, so that filling a stretch with another value is one change;
/// for sums two bytes that change with or against each other are no change at all, because copies and inverted
/// copies cancel whatever they hold.
fn changes(tables: &Tables<'_>, way: &Way, word: usize) -> usize {
    let scene = tables.scene;
    let Some((first, others)) = scene.images.split_first() else { return 0 };
    let (toggles, cancels) = match tables.kernel.family {
        Family::Crc { .. } | Family::Pair { .. } => (true, false),
        Family::Xor { .. } => (true, true),
        Family::Sum { .. } => (false, true),
    };
    // Changes from the first image to each other one that nothing has cancelled yet.
    let mut open: HashMap<(usize, Vec<u8>), usize> = HashMap::new();
    for at in way.over.range() {
        if scene.varying_in(Span::of(at, 1)) == 0 {
            continue;
        }
        let lane = (at - way.over.start) % word;
        let change =
            |image: &&[u8]| if toggles { image[at] ^ first[at] } else { image[at].wrapping_sub(first[at]) };
        let change: Vec<u8> = others.iter().map(change).collect();
        let against = change.iter().map(|&c| if toggles { c } else { c.wrapping_neg() }).collect();
        match open.get_mut(&(lane, against)).filter(|count| cancels && **count > 0) {
            Some(count) => *count -= 1,
            None => *open.entry((lane, change)).or_default() += 1,
        }
    }
    open.values().filter(|&&count| count > 0).count()
}

/// Bits of evidence that one image gives: those of the check, but of a sum no more than what its words can move.
/// A sum of few small differences is small, and small numbers are met everywhere.
fn bits(tables: &Tables<'_>, way: &Way) -> f64 {
    let bits = f64::from(tables.kernel.bits);
    let scene = tables.scene;
    let (Some((first, others)), false) = (scene.images.split_first(), scene.is_single()) else { return bits };
    let (word, order, joined) = match tables.kernel.family {
        Family::Crc { .. } | Family::Pair { .. } => return bits,
        Family::Sum { word, order, .. } => (usize::from(word / 8), order, false),
        Family::Xor { word, order, .. } => (usize::from(word / 8), order, true),
    };
    let (mut moved, mut toggled) = (0_u64, 0_u64);
    let words = |image: &&[u8]| -> Vec<u64> {
        image[way.over.range()].chunks(word).map(|word| number(word, order)).collect()
    };
    let before = words(first);
    let mut largest = vec![0_u64; before.len()];
    for image in others {
        for ((&before, after), largest) in before.iter().zip(words(image)).zip(&mut largest) {
            toggled |= before ^ after;
            *largest = (*largest).max(before.abs_diff(after));
        }
    }
    moved += largest.iter().sum::<u64>();
    let own = if joined { f64::from(toggled.count_ones()) } else { (2.0 * moved as f64 + 1.0).log2() };
    own.min(bits)
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

/// The positions of a run that are worth a look.
fn positions(tables: &Tables<'_>, run: (usize, usize), at: Span) -> Vec<usize> {
    let all = run.0..=run.1;
    if run.1 - run.0 < MOST_POSITIONS {
        return all.collect();
    }
    let scene = tables.scene;
    let natural = [&[at.start, at.end], scene.strong.as_slice(), scene.aligned.as_slice()];
    let within = natural.into_iter().flatten().filter_map(|&offset| tables.position(offset));
    let mut positions: Vec<usize> =
        [run.0, run.1].into_iter().chain(within.filter(|at| all.contains(at)).take(MOST_POSITIONS)).collect();
    positions.sort_unstable();
    positions.dedup();
    positions
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
        let width = f64::from(tables.kernel.bits);
        let expected = expected(tables, &way, listed, tables.scene.images.len(), width);
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
                    // Some constant always fits; it takes a natural range to believe in one.
                    let span = Span::new(tables.offset(start), tables.offset(end));
                    if let Some((by, listed)) = sum(tables, start, end, raw)
                        && (listed || tables.scene.reach(span, stored_at) <= Reach::Edge)
                    {
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
    let value = family.reduced(first_value(tables, raw)?);
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
