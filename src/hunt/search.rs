//! The look-ups.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};

use super::gf2::Times;
use super::kernel::{Family, Kernel, kernels, number, orders};
use super::resolve::{self, Resolved};
use super::scene::{Reach, Scene};
use crate::check::{Algorithm, StoredBytes};
use crate::span::{ByteOrder, Span};

/// Raw finds of one unit at most; chance cannot give so many where a search is worth its while.
const MOST_RAW: usize = 100_000;

/// One piece of work: a kernel, and which of its algorithms when their constants matter to the look-up.
pub(super) struct Unit {
    pub kernel: &'static Kernel,
    pub member: Option<&'static Algorithm>,
}

/// The work for a scene. With several images constants drop out of differences.
pub(super) fn units(scene: &Scene<'_>) -> Vec<Unit> {
    let worth = |kernel: &&Kernel| scene.tells(Reach::Whole, kernel.bits, kernel.bits, scene.images.len());
    kernels()
        .iter()
        .filter(worth)
        .flat_map(|kernel| {
            let together = !scene.is_single() && kernel.family.has_differences();
            let members: Vec<Option<&Algorithm>> =
                if together { vec![None] } else { kernel.members.iter().map(Some).collect() };
            members.into_iter().map(move |member| Unit { kernel, member })
        })
        .collect()
}

/// Something that was looked up: the range begins at any of some positions with equal numbers and ends at any of
/// some others.
#[derive(Debug, Clone, Copy)]
pub(super) struct Raw {
    /// First and last position of the beginning.
    pub starts: (usize, usize),
    /// First and last position of the end.
    pub ends: (usize, usize),
    /// Where the value is stored.
    pub at: usize,
    pub order: ByteOrder,
    pub stored_bytes: StoredBytes,
}

/// The numbers of one image, or of its differences to the first image, at every position.
struct Channel {
    starts: Vec<u64>,
    ends: Vec<u64>,
}

/// The stored values that are looked up.
#[derive(Default)]
struct Entries {
    at: Vec<usize>,
    order: Vec<ByteOrder>,
    /// For each channel, the value of each entry as it enters the look-up.
    wanted: Vec<Vec<u64>>,
}

/// Everything about one kernel over one alignment of its words.
pub(super) struct Tables<'s> {
    pub scene: &'s Scene<'s>,
    pub kernel: &'static Kernel,
    pub member: Option<&'static Algorithm>,
    /// Offset of the first position; positions are words apart.
    pub first: usize,
    pub step: usize,
    /// x^-8 to the power of each position, for CRCs.
    pub shifts: Vec<u64>,
    /// Numbers of the first image, constants left out.
    pub base: Vec<u64>,
    channels: Vec<Channel>,
    /// For each position the first and the last of those around it with equal numbers in all channels.
    runs: Vec<(usize, usize)>,
}

/// Searches one unit.
pub(super) fn run(scene: &Scene<'_>, unit: &Unit, cancel: &AtomicBool) -> Resolved {
    let mut resolved = Resolved::default();
    let groups = Entries::new(scene, unit).by_evidence(scene);
    for first in 0..unit.kernel.family.step().min(scene.len + 1) {
        let tables = Tables::new(scene, unit, first);
        let mut search = Search { tables: &tables, entries: &Entries::default(), cancel, raw: Vec::new() };
        for (images, entries) in &groups {
            search.entries = entries;
            search.run(*images);
        }
        let raw = search.raw;
        resolve::resolve(&tables, &raw, &mut resolved);
    }
    resolved
}

impl Entries {
    fn new(scene: &Scene<'_>, unit: &Unit) -> Self {
        let bytes = unit.kernel.bits.div_ceil(8) as usize;
        let family = unit.kernel.family;
        let mut entries = Entries::default();
        let channels = match unit.member {
            Some(_) => scene.images.len(),
            None => scene.images.len() - 1,
        };
        entries.wanted.resize(channels, Vec::new());
        let mut wanted = Vec::with_capacity(channels);
        for at in scene.places(bytes) {
            if !scene.is_single() && !varies_enough(scene, unit.kernel, Span::of(at, bytes)) {
                continue;
            }
            for &order in orders(unit.kernel.bits) {
                let value = |image: &&[u8]| number(&image[at..at + bytes], order);
                wanted.clear();
                match (unit.member, scene.images.split_first()) {
                    (Some(member), _) => {
                        wanted.extend(
                            scene.images.iter().map_while(|image| family.wanted(member, value(image))),
                        );
                    }
                    (None, Some((first, others))) => wanted.extend(
                        others.iter().map_while(|image| family.wanted_difference(value(image), value(first))),
                    ),
                    (None, None) => {}
                }
                if wanted.len() < channels {
                    continue;
                }
                entries.at.push(at);
                entries.order.push(order);
                entries.wanted.iter_mut().zip(&wanted).for_each(|(all, &one)| all.push(one));
            }
        }
        entries
    }

    fn len(&self) -> usize {
        self.at.len()
    }

    /// The entries by how many images are evidence where they are stored: those with different values. Where few
    /// are, only natural ranges are worth a look.
    fn by_evidence(self, scene: &Scene<'_>) -> BTreeMap<usize, Entries> {
        let all = scene.images.len();
        let differences = self.wanted.len() < all;
        let mut groups: BTreeMap<usize, Entries> = BTreeMap::new();
        let mut values = Vec::with_capacity(all);
        for entry in 0..self.len() {
            values.clear();
            values.extend(differences.then_some(0));
            values.extend(self.wanted.iter().map(|wanted| wanted[entry]));
            values.sort_unstable();
            values.dedup();
            let group = groups.entry(values.len()).or_default();
            group.wanted.resize(self.wanted.len(), Vec::new());
            group.at.push(self.at[entry]);
            group.order.push(self.order[entry]);
            group.wanted.iter_mut().zip(&self.wanted).for_each(|(group, wanted)| group.push(wanted[entry]));
        }
        groups
    }
}

/// Whether the images differ in every byte of `stored`, but for one when there are two: a CRC that changes, changes
/// in all its bytes, and leaves one as it was in one of 256 images.
fn varies_enough(scene: &Scene<'_>, kernel: &Kernel, stored: Span) -> bool {
    let full = (kernel.bits / 8) as usize;
    let full = match kernel.family {
        Family::Crc { .. } => full,
        // The sum of sums takes long ranges to fill its high bytes.
        Family::Pair { .. } => full / 2,
        Family::Sum { .. } | Family::Xor { .. } => return true,
    };
    scene.varying_in(stored) >= full.saturating_sub(usize::from(scene.images.len() == 2)).max(1)
}

impl<'s> Tables<'s> {
    fn new(scene: &'s Scene<'s>, unit: &Unit, first: usize) -> Self {
        let family = unit.kernel.family;
        let step = family.step();
        let prefixes = |image: &&[u8]| family.prefixes(&image[first..]);
        let base = scene.images.first().map(prefixes).unwrap_or_default();
        let shifts = match family {
            Family::Crc { field, .. } => field.inverse_powers(base.len()),
            _ => Vec::new(),
        };
        let channels: Vec<Channel> = match unit.member {
            Some(member) => scene
                .images
                .iter()
                .map(|image| {
                    let ends = prefixes(image);
                    let starts = match (family, member.method) {
                        (Family::Crc { field, .. }, crate::check::Method::Crc(crc)) if crc.init != 0 => {
                            let times = |shift: &u64| field.times(*shift, crc.init as u64);
                            ends.iter().zip(&shifts).map(|(&end, shift)| end ^ times(shift)).collect()
                        }
                        _ => ends.iter().enumerate().map(|(at, &end)| family.as_start(at, end)).collect(),
                    };
                    Channel { starts, ends }
                })
                .collect(),
            None => scene
                .images
                .iter()
                .skip(1)
                .map(|image| {
                    let own = prefixes(image);
                    let ends: Vec<u64> =
                        own.iter().zip(&base).map(|(&own, &base)| family.part(own, base)).collect();
                    Channel { starts: ends.clone(), ends }
                })
                .collect(),
        };
        let mut tables = Tables {
            scene,
            kernel: unit.kernel,
            member: unit.member,
            first,
            step,
            shifts,
            base,
            channels,
            runs: Vec::new(),
        };
        tables.runs = tables.runs();
        tables
    }

    fn runs(&self) -> Vec<(usize, usize)> {
        let count = self.base.len();
        let equal =
            |a: usize, b: usize| self.channels.iter().all(|channel| channel.starts[a] == channel.starts[b]);
        let mut runs = Vec::with_capacity(count);
        let mut from = 0;
        while from < count {
            let to = (from + 1..count).find(|&at| !equal(from, at)).unwrap_or(count) - 1;
            runs.resize(to + 1, (from, to));
            from = to + 1;
        }
        runs
    }

    /// The offset of a position.
    pub(super) fn offset(&self, position: usize) -> usize {
        self.first + position * self.step
    }

    /// The position at an offset, if there is one.
    pub(super) fn position(&self, offset: usize) -> Option<usize> {
        let from = offset.checked_sub(self.first)?;
        (from.is_multiple_of(self.step) && from / self.step < self.base.len()).then(|| from / self.step)
    }

    fn positions(&self, offsets: &[usize]) -> Vec<usize> {
        offsets.iter().filter_map(|&offset| self.position(offset)).collect()
    }

    /// One position for each run.
    fn representatives(&self) -> Vec<usize> {
        self.runs.iter().enumerate().filter(|&(at, run)| at == run.0).map(|(at, _)| at).collect()
    }
}

/// Which positions have a number.
struct Index {
    shift: u32,
    /// One bit for each of some low bits of the hash: most look-ups end here.
    bitmap: Vec<u64>,
    heads: Vec<u32>,
    next: Vec<u32>,
    ids: Vec<u32>,
}

const NONE: u32 = u32::MAX;
const BITMAP_BITS: u32 = 17;

fn hash(key: u64) -> u64 {
    // The golden ratio's fraction spreads keys that differ in few bits.
    (key ^ key >> 32).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}

impl Index {
    fn new(keys: impl Iterator<Item = (usize, u64)>) -> Self {
        let keys: Vec<(usize, u64)> = keys.collect();
        let bits = (keys.len().max(2) * 2).next_power_of_two().ilog2();
        let mut index = Index {
            shift: 64 - bits,
            bitmap: vec![0; 1 << (BITMAP_BITS - 6)],
            heads: vec![NONE; 1 << bits],
            next: vec![NONE; keys.len()],
            ids: Vec::with_capacity(keys.len()),
        };
        for (slot, (id, key)) in keys.into_iter().enumerate() {
            let hash = hash(key);
            let bit = (hash >> (64 - BITMAP_BITS)) as usize;
            index.bitmap[bit / 64] |= 1 << (bit % 64);
            let head = &mut index.heads[(hash >> index.shift) as usize];
            index.next[slot] = std::mem::replace(head, slot as u32);
            index.ids.push(id as u32);
        }
        index
    }

    /// What may have that key.
    #[inline]
    fn find(&self, key: u64) -> impl Iterator<Item = usize> {
        let hash = hash(key);
        let bit = (hash >> (64 - BITMAP_BITS)) as usize;
        let may = self.bitmap[bit / 64] >> (bit % 64) & 1 == 1;
        let head = if may { self.heads[(hash >> self.shift) as usize] } else { NONE };
        std::iter::successors((head != NONE).then_some(head), |&slot| {
            Some(self.next[slot as usize]).filter(|&slot| slot != NONE)
        })
        .map(|slot| self.ids[slot as usize] as usize)
    }
}

struct Search<'a> {
    tables: &'a Tables<'a>,
    entries: &'a Entries,
    cancel: &'a AtomicBool,
    raw: Vec<Raw>,
}

/// What a stored value becomes at one end of a range.
struct End<'a> {
    family: Family,
    at: usize,
    times: Option<&'a Times>,
}

impl End<'_> {
    /// The number that the beginning of the range must have.
    #[inline]
    fn start(&self, end: u64, wanted: u64) -> u64 {
        match (self.family, self.times) {
            (Family::Crc { .. }, Some(times)) => end ^ times.apply(wanted),
            (Family::Pair { .. }, _) => self.family.start_of_pair(self.at, end, wanted),
            _ => self.family.part(end, wanted),
        }
    }
}

impl Search<'_> {
    fn run(&mut self, images: usize) {
        let scene = self.tables.scene;
        let bits = self.tables.kernel.bits;
        if self.tables.channels.is_empty() || self.entries.len() == 0 {
            return;
        }
        let evidence = self.family().evidence().min(bits);
        let tells = |reach: Reach| scene.tells(reach, bits, evidence, images);
        if tells(Reach::Free) {
            self.free();
        } else {
            let all = tells(Reach::Adjoining);
            if all || tells(Reach::Edge) {
                self.behind();
                // In a single image the end of a range behind its value must be a strong place: nothing turns the
                // search over all ends into a look-up.
                self.before(all && !scene.is_single());
            }
            let aligned = tells(Reach::Block);
            self.stretches(if aligned { &scene.aligned } else { &scene.strong });
            if tells(Reach::Start) {
                self.elsewhere(true);
            } else if tells(Reach::Bounded) {
                self.elsewhere(false);
            }
        }
        if let (Family::Crc { .. }, true) = (self.tables.kernel.family, tells(Reach::Inside)) {
            self.inside();
        }
    }

    fn family(&self) -> Family {
        self.tables.kernel.family
    }

    /// Multiplication by the shift of position `at`, for CRCs.
    fn set(&self, times: &mut Option<Times>, at: usize, values: usize) {
        let Family::Crc { field, .. } = self.family() else { return };
        match times {
            Some(times) => times.set(field, self.tables.shifts[at], values),
            None => *times = Some(Times::new(field, self.tables.shifts[at], values)),
        }
    }

    fn bytes(&self) -> usize {
        self.tables.kernel.bits.div_ceil(8) as usize
    }

    /// True when a range from `start` to `end` has the value of `entry` in every channel.
    fn holds(&self, start: usize, end: &End<'_>, entry: usize) -> bool {
        self.tables
            .channels
            .iter()
            .zip(&self.entries.wanted)
            .all(|(channel, wanted)| channel.starts[start] == end.start(channel.ends[end.at], wanted[entry]))
    }

    fn push(&mut self, start: usize, end: usize, entry: usize) {
        if self.raw.len() >= MOST_RAW {
            return;
        }
        // Runs tell nothing of ends of CRCs, whose numbers are shifted by their place.
        let ends = match self.family() {
            Family::Crc { .. } => (end, end),
            _ => self.tables.runs[end],
        };
        self.raw.push(Raw {
            starts: self.tables.runs[start],
            ends,
            at: self.entries.at[entry],
            order: self.entries.order[entry],
            stored_bytes: StoredBytes::Excluded,
        });
    }

    fn cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed) || self.raw.len() >= MOST_RAW
    }

    /// Any start, any end, any place.
    fn free(&mut self) {
        let tables = self.tables;
        let starts = tables.representatives();
        // Values are looked up by the first channel in which they differ; in the others they say nothing.
        let channels = tables.channels.len();
        for pivot in 0..channels {
            let entries: Vec<usize> = (0..self.entries.len())
                .filter(|&entry| {
                    let differs = |channel: usize| self.entries.wanted[channel][entry] != 0;
                    let first = if tables.member.is_some() {
                        0
                    } else {
                        (0..channels).find(|&c| differs(c)).unwrap_or(0)
                    };
                    first == pivot
                })
                .collect();
            if entries.is_empty() {
                continue;
            }
            let wanted: Vec<u64> = entries.iter().map(|&entry| self.entries.wanted[pivot][entry]).collect();
            let channel = &tables.channels[pivot];
            let index = Index::new(starts.iter().map(|&at| (at, channel.starts[at])));
            let ends: Vec<usize> = match self.family() {
                Family::Crc { .. } | Family::Pair { .. } => (1..tables.base.len()).collect(),
                _ => starts.clone(),
            };
            let mut times = None;
            for end in ends {
                if self.cancelled() {
                    return;
                }
                self.set(&mut times, end, wanted.len());
                let at = End { family: self.family(), at: end, times: times.as_ref() };
                for (&entry, &wanted) in entries.iter().zip(&wanted) {
                    let key = at.start(channel.ends[end], wanted);
                    for start in index.find(key) {
                        if channel.starts[start] == key && self.holds(start, &at, entry) {
                            self.push(start, end, entry);
                        }
                    }
                }
            }
        }
    }

    /// Any start; the range ends where the value begins.
    fn behind(&mut self) {
        let tables = self.tables;
        let Some(channel) = tables.channels.first() else { return };
        let index = Index::new(tables.representatives().into_iter().map(|at| (at, channel.starts[at])));
        let mut times = None;
        for entry in 0..self.entries.len() {
            let Some(end) = tables.position(self.entries.at[entry]) else { continue };
            self.set(&mut times, end, 1);
            let at = End { family: self.family(), at: end, times: times.as_ref() };
            let key = at.start(channel.ends[end], self.entries.wanted[0][entry]);
            for start in index.find(key) {
                if tables.runs[start].0 < end && channel.starts[start] == key && self.holds(start, &at, entry)
                {
                    self.push(start, end, entry);
                }
            }
        }
    }

    /// The range begins where the value ends; its end is a strong place or any.
    fn before(&mut self, any_end: bool) {
        let tables = self.tables;
        let ends =
            if any_end { (1..tables.base.len()).collect() } else { tables.positions(&tables.scene.strong) };
        let starts: Vec<(usize, usize)> = (0..self.entries.len())
            .filter_map(|entry| Some((entry, tables.position(self.entries.at[entry] + self.bytes())?)))
            .collect();
        let mut times = None;
        for end in ends {
            if self.cancelled() {
                return;
            }
            self.set(&mut times, end, starts.len());
            let at = End { family: self.family(), at: end, times: times.as_ref() };
            for &(entry, start) in &starts {
                if start < end && self.holds(start, &at, entry) {
                    self.push(start, end, entry);
                }
            }
        }
    }

    /// Range and value fill a stretch between two of `places`, the value first or last.
    fn stretches(&mut self, places: &[usize]) {
        let tables = self.tables;
        let bytes = self.bytes();
        let mut at_offset = vec![Vec::new(); tables.scene.len + 1];
        for entry in 0..self.entries.len() {
            at_offset[self.entries.at[entry]].push(entry);
        }
        let mut times = None;
        for &to in places {
            if self.cancelled() {
                return;
            }
            // The value last: the range ends where it begins.
            if let Some(stored) = to.checked_sub(bytes)
                && let Some(end) = tables.position(stored)
                && !at_offset[stored].is_empty()
            {
                self.set(&mut times, end, 2);
                let at = End { family: self.family(), at: end, times: times.as_ref() };
                for start in
                    places.iter().take_while(|&&from| from < stored).filter_map(|&from| tables.position(from))
                {
                    for &entry in &at_offset[stored] {
                        if self.holds(start, &at, entry) {
                            self.push(start, end, entry);
                        }
                    }
                }
            }
            // The value first: the range ends where the stretch does.
            if let Some(end) = tables.position(to) {
                self.set(&mut times, end, places.len());
                let at = End { family: self.family(), at: end, times: times.as_ref() };
                for &from in places.iter().take_while(|&&from| from + bytes < to) {
                    let Some(start) = tables.position(from + bytes) else { continue };
                    for &entry in &at_offset[from] {
                        if self.holds(start, &at, entry) {
                            self.push(start, end, entry);
                        }
                    }
                }
            }
        }
    }

    /// The range begins at a strong place and ends at another or anywhere; the value is anywhere.
    fn elsewhere(&mut self, any_end: bool) {
        let tables = self.tables;
        let starts = tables.positions(&tables.scene.strong);
        let ends = if any_end { (1..tables.base.len()).collect() } else { starts.clone() };
        let channels = tables.channels.len();
        let all =
            |entry: usize| self.entries.wanted.iter().fold(0, |key, wanted| hash(key ^ hash(wanted[entry])));
        let index = Index::new((0..self.entries.len()).map(|entry| (entry, all(entry))));
        let up = match self.family() {
            Family::Crc { field, .. } => field.powers(tables.base.len()),
            _ => Vec::new(),
        };
        let mut times = None;
        for end in ends {
            if self.cancelled() {
                return;
            }
            if let Family::Crc { field, .. } = self.family() {
                let times = times.get_or_insert_with(|| Times::new(field, 0, 1));
                times.set(field, up[end], 1);
            }
            for &start in starts.iter().take_while(|&&start| start < end) {
                let value = |channel: usize| {
                    let Channel { starts, ends } = &tables.channels[channel];
                    match (self.family(), times.as_ref()) {
                        (Family::Crc { .. }, Some(times)) => times.apply(starts[start] ^ ends[end]),
                        (Family::Pair { .. }, _) => {
                            self.family().value_of_pair(end, starts[start], ends[end])
                        }
                        _ => self.family().part(ends[end], starts[start]),
                    }
                };
                let values: Vec<u64> = (0..channels).map(value).collect();
                let key = values.iter().fold(0, |key, &value| hash(key ^ hash(value)));
                let fits = |&entry: &usize| {
                    values.iter().zip(&self.entries.wanted).all(|(&v, wanted)| v == wanted[entry])
                };
                let found: Vec<usize> = index.find(key).filter(fits).collect();
                for entry in found {
                    self.push(start, end, entry);
                }
            }
        }
    }

    /// The range lies between two strong places and the value inside it, left out or counted as zero.
    fn inside(&mut self) {
        let Family::Crc { field, .. } = self.family() else { return };
        let tables = self.tables;
        let strong = tables.positions(&tables.scene.strong);
        let bytes = self.bytes();
        let mut times = None;
        for &end in &strong {
            if self.cancelled() {
                return;
            }
            self.set(&mut times, end, self.entries.len());
            let Some(times) = times.as_ref() else { return };
            for entry in 0..self.entries.len() {
                let from = self.entries.at[entry];
                let to = from + bytes;
                if to > end {
                    continue;
                }
                for mode in [StoredBytes::Excluded, StoredBytes::Zeroed] {
                    let key = |channel: usize| {
                        let ends = &tables.channels[channel].ends;
                        let tail = ends[end] ^ times.apply(self.entries.wanted[channel][entry]) ^ ends[to];
                        match mode {
                            StoredBytes::Excluded => ends[from] ^ field.times_bytes(tail, bytes),
                            _ => ends[from] ^ tail,
                        }
                    };
                    let first = key(0);
                    for &start in strong.iter().take_while(|&&start| start <= from) {
                        let channels = &tables.channels;
                        if channels[0].starts[start] == first
                            && (1..channels.len()).all(|c| channels[c].starts[start] == key(c))
                            // At the rim of the range it is the same as beside it.
                            && (mode == StoredBytes::Zeroed || start < from && to < end)
                        {
                            self.raw.push(Raw {
                                starts: (start, start),
                                ends: (end, end),
                                at: from,
                                order: self.entries.order[entry],
                                stored_bytes: mode,
                            });
                        }
                    }
                }
            }
        }
    }
}
