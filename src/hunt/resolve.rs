//! From what was looked up to named checks, each verified on every image.

use super::algebra::Algebra;
use super::evidence::{bits, says_something};
use super::kernel::{self, Family, Kernel};
use super::lookup::Raw;
use super::scene::Reach;
use super::scene::Scene;
use super::tables::Tables;
use super::{Hit, Way};
use crate::check::{Algorithm, CrcParameters, Finish, Operation, StoredBytes, SumParameters};
use crate::span::Span;

/// What came of one unit of work.
#[derive(Debug, Default)]
pub(super) struct Resolved {
    pub hits: Vec<Hit>,
    /// How many finds chance alone would give too often.
    pub withheld: usize,
    /// The least likely of those by chance, not verified yet.
    pub nearly: Vec<Candidate>,
}

/// Positions of one run that are looked at: all of a short run, of a longer one those beside the value, its ends and
/// natural places.
const MOST_POSITIONS: usize = 24;
/// Other ways of one find that are kept.
const MOST_WAYS: usize = 8;

/// Withheld finds that are kept to be told.
const MOST_NEARLY: usize = 16;

/// One way to see a find, not verified yet.
#[derive(Debug)]
pub(super) struct Candidate {
    way: Way,
    /// Whether its constants are listed ones.
    listed: bool,
    /// How many such hits chance would give if every image were evidence with all bits.
    expected: f64,
}

impl Candidate {
    pub(super) fn new(scene: &Scene<'_>, kernel: &Kernel, way: Way, listed: bool) -> Self {
        let bits = vec![f64::from(kernel.bits); scene.images.len()];
        let expected = expected(scene, kernel, &way, listed, &bits);
        Candidate { way, listed, expected }
    }

    fn hit(self, scene: &Scene<'_>) -> Hit {
        let Candidate { way, listed, expected } = self;
        let images = scene.independent(way.over, way.stored_at).len();
        let reach = scene.reach(way.over, way.stored_at);
        Hit { way, images, expected, reach, listed, also: Vec::new() }
    }
}

/// Names what was looked up, verifies it, and says how often chance gives the like.
pub(super) fn resolve<A: Algebra>(tables: &Tables<'_, A>, raw: &[Raw], resolved: &mut Resolved) {
    for raw in raw {
        resolved.judge(tables.scene, tables.kernel, candidates(tables, raw));
    }
}

impl Resolved {
    /// Takes in what another unit found.
    pub(super) fn add(&mut self, other: Resolved) {
        self.hits.extend(other.hits);
        self.withheld += other.withheld;
        self.nearly.extend(other.nearly);
        self.keep_nearest();
    }

    /// Of the withheld finds only those are kept that chance explains least.
    fn keep_nearest(&mut self) {
        let place = |c: &Candidate| (c.way.stored_at, c.way.over, c.way.by.name.clone());
        self.nearly.sort_by(|a, b| a.expected.total_cmp(&b.expected).then_with(|| place(a).cmp(&place(b))));
        self.nearly.truncate(MOST_NEARLY);
    }

    /// The withheld finds that hold.
    pub(super) fn nearly(&mut self, scene: &Scene<'_>) -> Vec<Hit> {
        let nearly = std::mem::take(&mut self.nearly);
        nearly.into_iter().filter(|c| verified(scene, &c.way)).map(|c| c.hit(scene)).collect()
    }

    /// Takes the most telling of the ways to see one find, with the others that hold.
    pub(super) fn judge(&mut self, scene: &Scene<'_>, kernel: &Kernel, mut candidates: Vec<Candidate>) {
        let length = |candidate: &Candidate| std::cmp::Reverse(candidate.way.over.len());
        candidates.sort_by(|a, b| a.expected.total_cmp(&b.expected).then_with(|| length(a).cmp(&length(b))));
        let mut candidates = candidates
            .into_iter()
            .filter(|candidate| says_something(scene, kernel.family, &candidate.way))
            .filter(|candidate| candidate.expected > scene.limit || verified(scene, &candidate.way));
        let Some(Candidate { way, listed, expected: at_best }) = candidates.next() else { return };
        let expected = match at_best > scene.limit {
            true => at_best,
            false => expected(scene, kernel, &way, listed, &bits(scene, kernel, &way)),
        };
        let best = Candidate { way, listed, expected };
        if expected > scene.limit {
            self.withheld += 1;
            self.nearly.push(best);
            if self.nearly.len() > 4 * MOST_NEARLY {
                self.keep_nearest();
            }
            return;
        }
        let also = candidates.take(MOST_WAYS).map(|candidate| candidate.way).collect();
        self.hits.push(Hit { also, ..best.hit(scene) });
    }
}

/// How many hits like `way` chance alone would give, when each image is so many bits of evidence; constants that
/// were solved for cost the evidence of one.
fn expected(scene: &Scene<'_>, kernel: &Kernel, way: &Way, listed: bool, bits: &[f64]) -> f64 {
    let reach = scene.reach(way.over, way.stored_at);
    let all: f64 = bits.iter().sum();
    let (evidence, ways) = match listed {
        true => (all, kernel::ways(kernel.bits)),
        false => (all - bits.iter().copied().fold(0.0, f64::max), kernel::kernel_ways(kernel.bits)),
    };
    scene.expected(reach, kernel.bits, evidence, ways)
}

/// Whether the check agrees in every image.
pub(super) fn verified(scene: &Scene<'_>, way: &Way) -> bool {
    scene.images.iter().all(|image| {
        let stored = way.order.number_u64(&image[way.stored_at.range()]);
        let pieces: Vec<&[u8]> = match way.over.intersection(way.stored_at) {
            None => vec![&image[way.over.range()]],
            Some(hole) => {
                let stand_in: &[u8] = match way.stored_bytes {
                    StoredBytes::Zeroed => &[0; 8],
                    StoredBytes::Erased => &[0xFF; 8],
                    StoredBytes::Excluded | StoredBytes::Included => &[],
                };
                let stand_in = &stand_in[..hole.len().min(stand_in.len())];
                vec![&image[way.over.start..hole.start], stand_in, &image[hole.end..way.over.end]]
            }
        };
        way.by.compute(pieces) == u128::from(stored)
    })
}

/// The positions of a run that are worth a look.
fn positions<A: Algebra>(tables: &Tables<'_, A>, run: (usize, usize), at: Span) -> Vec<usize> {
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

fn candidates<A: Algebra>(tables: &Tables<'_, A>, raw: &Raw) -> Vec<Candidate> {
    let stored_at = Span::of(raw.at, tables.kernel.bits.div_ceil(8) as usize);
    let span = |start: usize, end: usize| Span::new(tables.offset(start), tables.offset(end));
    let member = tables.views[raw.view].member;
    let inside = raw.stored_bytes != StoredBytes::Excluded
        || span(raw.starts.0, raw.ends.1).covers(stored_at) && {
            // A run may reach over the value where the range does not.
            raw.starts.0 == raw.starts.1 && raw.ends.0 == raw.ends.1
        };
    let modes: &[StoredBytes] = match (raw.stored_bytes, member) {
        // In differences what stands in for the value drops out.
        (StoredBytes::Zeroed, None) => &[StoredBytes::Zeroed, StoredBytes::Erased],
        (StoredBytes::Zeroed, _) => &[StoredBytes::Zeroed],
        (StoredBytes::Erased, _) => &[StoredBytes::Erased],
        (StoredBytes::Excluded | StoredBytes::Included, _) => &[StoredBytes::Excluded],
    };
    let mut candidates: Vec<Candidate> = Vec::new();
    let add = |candidates: &mut Vec<Candidate>, by: Algorithm, listed: bool, start: usize, end: usize| {
        for &stored_bytes in modes {
            let by = by.clone();
            let way = Way { by, over: span(start, end), stored_at, order: raw.order, stored_bytes };
            candidates.push(Candidate::new(tables.scene, tables.kernel, way, listed));
        }
    };
    // Constants tell between beginnings of a CRC that are alike in the differences.
    let starts = match tables.kernel.family {
        Family::Crc { .. } => (raw.starts.0..=raw.starts.1).collect(),
        _ => positions(tables, raw.starts, stored_at),
    };
    for end in positions(tables, raw.ends, stored_at) {
        let mut unlisted: Option<(f64, usize)> = None;
        for &start in &starts {
            let over = span(start, end);
            if start >= end || (!inside && over.overlaps(stored_at)) {
                continue;
            }
            match member {
                Some(member) => add(&mut candidates, member.clone(), true, start, end),
                None if inside => {
                    tables
                        .kernel
                        .members
                        .iter()
                        .for_each(|member| add(&mut candidates, member.clone(), true, start, end));
                }
                None => {
                    let holding = |member: &&Algorithm| holds(tables, member, start, end, raw);
                    let before = candidates.len();
                    tables
                        .kernel
                        .members
                        .iter()
                        .filter(holding)
                        .for_each(|m| add(&mut candidates, m.clone(), true, start, end));
                    if candidates.len() == before {
                        let size = tables.scene.ranges(tables.scene.reach(over, stored_at), stored_at.len());
                        if unlisted.is_none_or(|(best, _)| size < best) {
                            unlisted = Some((size, start));
                        }
                    }
                }
            }
        }
        if let Some((_, start)) = unlisted
            && let Some(by) = solved(tables, start, end, raw)
        {
            add(&mut candidates, by, false, start, end);
        }
    }
    candidates
}

fn first_value<A: Algebra>(tables: &Tables<'_, A>, raw: &Raw) -> Option<u64> {
    let stored = Span::of(raw.at, tables.kernel.bits.div_ceil(8) as usize);
    tables.scene.images.first().map(|image| raw.order.number_u64(&image[stored.range()]))
}

/// Whether the first image has the value of `member`, by the numbers of its prefixes.
fn holds<A: Algebra>(
    tables: &Tables<'_, A>,
    member: &Algorithm,
    start: usize,
    end: usize,
    raw: &Raw,
) -> bool {
    let algebra = tables.algebra;
    first_value(tables, raw).and_then(|value| algebra.register(value)).is_some_and(|value| {
        let ended = algebra.end(member.method, end, tables.base[end]);
        algebra.begin(member.method, start, tables.base[start])
            == algebra.start(ended, algebra.place(value, end))
    })
}

/// The algorithm of this kernel with a constant that makes the first image right; it takes a natural range to
/// believe in one of a sum.
fn solved<A: Algebra>(tables: &Tables<'_, A>, start: usize, end: usize, raw: &Raw) -> Option<Algorithm> {
    let over = Span::new(tables.offset(start), tables.offset(end));
    let stored = first_value(tables, raw)?;
    let (operation, bits, word, order, missing) = match tables.kernel.family {
        Family::Crc { field, refin, refout } => {
            let plain = |xorout: u128| {
                let (width, poly) = (field.width as u8, field.poly.into());
                Algorithm::crc(CrcParameters { width, poly, init: 0, refin, refout, xorout })
            };
            let computed = plain(0).compute([&tables.scene.images.first()?[over.range()]]);
            return Some(plain(computed ^ u128::from(stored)));
        }
        Family::Sum { bits, word, order, carry: false, missing } => {
            (Operation::Add, bits, word, order, missing)
        }
        Family::Sum { bits, word, order, carry: true, missing } => {
            (Operation::AddCarry, bits, word, order, missing)
        }
        Family::Xor { bits, word, order } => (Operation::Xor, bits, word, order, true),
        Family::Pair { .. } | Family::Rotating => return None,
    };
    let stored_at = Span::of(raw.at, usize::from(bits / 8));
    if tables.scene.reach(over, stored_at) > Reach::Edge {
        return None;
    }
    let algebra = tables.algebra;
    let sum = algebra.less(tables.base[end], tables.base[start]);
    let value = algebra.register(stored)?;
    let (init, finish) = match missing {
        true => (0, Finish::To(algebra.less(sum, value))),
        false => (algebra.less(value, sum), Finish::Plain),
    };
    Some(Algorithm::sum(SumParameters { operation, bits, word, order, init, finish }))
}
