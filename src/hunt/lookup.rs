//! The look-ups: which ranges have a value that is stored somewhere.

use std::sync::atomic::AtomicBool;

use super::algebra::Algebra;
use super::index::Index;
use super::scene::Reach;
use super::search::is_off;
use super::stored::Stored;
use super::tables::{Tables, View};
use crate::check::StoredBytes;
use crate::span::ByteOrder;

/// Raw finds of one look-up at most; chance cannot give so many where a search is worth its while.
const MOST_RAW: usize = 100_000;
/// Stored values that are carried from end to end together: what they need stays in the nearest cache.
const TOGETHER: usize = 1024;
/// Every end of a range behind its value is tried up to this many pairs of value and end; beyond, natural ends are.
const MOST_PAIRS: usize = 1 << 23;

/// Something that was looked up: the range begins at any of some positions that are alike and ends at any of some
/// others.
#[derive(Debug, Clone, Copy)]
pub(super) struct Raw {
    /// Which view of the tables.
    pub view: usize,
    /// First and last position of the beginning.
    pub starts: (usize, usize),
    /// First and last position of the end.
    pub ends: (usize, usize),
    /// Where the value is stored.
    pub at: usize,
    pub order: ByteOrder,
    pub stored_bytes: StoredBytes,
}

/// Look-ups of some stored values.
pub(super) struct Lookup<'a, A> {
    tables: &'a Tables<'a, A>,
    stored: &'a Stored,
    cancel: &'a AtomicBool,
    pub raw: Vec<Raw>,
}

impl<'a, A: Algebra> Lookup<'a, A> {
    pub(super) fn new(tables: &'a Tables<'a, A>, stored: &'a Stored, cancel: &'a AtomicBool) -> Self {
        Lookup { tables, stored, cancel, raw: Vec::new() }
    }

    fn bytes(&self) -> usize {
        self.tables.kernel.bits.div_ceil(8) as usize
    }

    fn last(&self) -> usize {
        self.tables.base.len() - 1
    }

    fn is_off(&self) -> bool {
        is_off(self.cancel) || self.raw.len() >= MOST_RAW
    }

    fn index(&self, view: &View, channel: usize, positions: &[usize]) -> Index {
        let starts = &view.channels[channel].starts;
        let numbers = positions.iter().map(|&at| (at as u32, starts[at]));
        Index::new(|number| self.tables.algebra.hash(number), numbers)
    }

    /// True when a range has the stored value in every channel.
    fn holds(&self, view: &View, start: usize, end: usize, entry: usize) -> bool {
        let algebra = self.tables.algebra;
        view.channels.iter().zip(&self.stored.values).all(|(channel, values)| {
            channel.starts[start] == algebra.start(channel.ends[end], algebra.place(values[entry], end))
        })
    }

    fn push(&mut self, view: usize, start: usize, end: usize, entry: usize) {
        let runs = &self.tables.views[view].runs;
        let ends = if A::ENDS_ALIKE { runs[end] } else { (end, end) };
        self.add(view, runs[start], ends, entry, StoredBytes::Excluded);
    }

    fn add(
        &mut self,
        view: usize,
        starts: (usize, usize),
        ends: (usize, usize),
        entry: usize,
        stored_bytes: StoredBytes,
    ) {
        if self.raw.len() < MOST_RAW && starts.0 < ends.1 {
            let (at, order) = (self.stored.at[entry], self.stored.order[entry]);
            self.raw.push(Raw { view, starts, ends, at, order, stored_bytes });
        }
    }

    /// Any start, or one of some; any end, any place.
    pub(super) fn anywhere(&mut self, starts: Option<&[usize]>) {
        let tables = self.tables;
        for (number, view) in tables.views.iter().enumerate() {
            let starts = starts.map_or_else(|| view.representatives(), <[usize]>::to_vec);
            for pivot in 0..view.channels.len() {
                let entries = self.entries_of(pivot);
                let index = self.index(view, pivot, &starts);
                for entries in entries.chunks(TOGETHER) {
                    self.walk(number, pivot, &index, entries);
                }
            }
        }
    }

    /// Differences are looked up in the first channel in which they are one; in the others they say nothing.
    fn entries_of(&self, pivot: usize) -> Vec<usize> {
        let values = &self.stored.values;
        let is_own = |entry: &usize| {
            self.tables.scene.is_single()
                || values.iter().position(|values| values[*entry] != 0).unwrap_or(0) == pivot
        };
        (0..self.stored.len()).filter(is_own).collect()
    }

    /// Looks up `entries` for every end, from the last to the first, so that what is placed is carried on.
    fn walk(&mut self, number: usize, pivot: usize, index: &Index, entries: &[usize]) {
        let algebra = self.tables.algebra;
        let view = &self.tables.views[number];
        let values: Vec<u64> = entries.iter().map(|&entry| self.stored.values[pivot][entry]).collect();
        let mut placed = Vec::new();
        algebra.place_all(&values, self.last(), &mut placed);
        for end in (1..=self.last()).rev() {
            if A::ENDS_ALIKE && view.runs[end].0 != end {
                continue;
            }
            if self.is_off() {
                return;
            }
            let ended = view.channels[pivot].ends[end];
            for (i, placed) in placed.iter_mut().enumerate() {
                let key = algebra.start(ended, *placed);
                let hash = algebra.hash(key);
                if index.may_have(hash) {
                    for start in index.find(key, hash) {
                        if self.holds(view, start, end, entries[i]) {
                            self.push(number, start, end, entries[i]);
                        }
                    }
                }
                *placed = algebra.back(*placed);
            }
        }
    }

    /// Any start; the range ends where the value begins.
    pub(super) fn behind(&mut self) {
        let tables = self.tables;
        let Some(values) = self.stored.values.first() else { return };
        let indexes: Vec<Index> =
            tables.views.iter().map(|view| self.index(view, 0, &view.representatives())).collect();
        for (entry, &value) in values.iter().enumerate() {
            let Some(end) = tables.position(self.stored.at[entry]) else { continue };
            let placed = tables.algebra.place(value, end);
            for (number, (view, index)) in tables.views.iter().zip(&indexes).enumerate() {
                let key = tables.algebra.start(view.channels[0].ends[end], placed);
                let hash = tables.algebra.hash(key);
                if index.may_have(hash) {
                    for start in index.find(key, hash) {
                        if self.holds(view, start, end, entry) {
                            self.push(number, start, end, entry);
                        }
                    }
                }
            }
        }
    }

    /// True when every end of a range behind its value can be tried.
    pub(super) fn is_within_reach(&self) -> bool {
        self.stored.len() * self.last() <= MOST_PAIRS * if self.tables.scene.is_single() { 1 } else { 64 }
    }

    /// The range begins where the value ends; it ends anywhere.
    pub(super) fn before(&mut self) {
        let (tables, bytes) = (self.tables, self.bytes());
        let Some(values) = self.stored.values.first() else { return };
        let starting: Vec<(usize, usize, u64)> = (0..self.stored.len())
            .filter_map(|entry| Some((entry, tables.position(self.stored.at[entry] + bytes)?, values[entry])))
            .collect();
        for starting in starting.chunks(TOGETHER) {
            let values: Vec<u64> = starting.iter().map(|&(.., value)| value).collect();
            let of_view = |view: &View| -> Vec<u64> {
                starting.iter().map(|&(_, start, _)| view.channels[0].starts[start]).collect()
            };
            let starts: Vec<Vec<u64>> = tables.views.iter().map(of_view).collect();
            let mut placed = Vec::new();
            tables.algebra.place_all(&values, self.last(), &mut placed);
            for end in (1..=self.last()).rev() {
                // Those that begin behind the end are done with.
                placed.truncate(starting.partition_point(|&(_, start, _)| start < end));
                if self.is_off() || placed.is_empty() {
                    break;
                }
                for (number, (view, starts)) in tables.views.iter().zip(&starts).enumerate() {
                    let ended = view.channels[0].ends[end];
                    let fits = |(&start, &placed): (&u64, &u64)| start == tables.algebra.start(ended, placed);
                    // Without a way out in the middle this is done for several values at a time.
                    let any = starts.iter().zip(&placed).fold(false, |any, both| any | fits(both));
                    if any {
                        for (i, both) in starts.iter().zip(&placed).enumerate() {
                            let (entry, start, _) = starting[i];
                            if fits(both) && self.holds(view, start, end, entry) {
                                self.push(number, start, end, entry);
                            }
                        }
                    }
                }
                for placed in &mut placed {
                    *placed = tables.algebra.back(*placed);
                }
            }
        }
    }

    /// Range and value fill a stretch between two of `places`, the value first or last.
    pub(super) fn stretches(&mut self, places: &[usize]) {
        let (tables, bytes) = (self.tables, self.bytes());
        let Some(values) = self.stored.values.first() else { return };
        let entries_at = |at: usize| {
            let from = self.stored.at.partition_point(|&other| other < at);
            from..from + self.stored.at[from..].partition_point(|&other| other == at)
        };
        // Values at the beginning of a stretch, with the position behind them.
        let first: Vec<(usize, usize)> = places
            .iter()
            .filter_map(|&from| Some((from, tables.position(from + bytes)?)))
            .flat_map(|(from, start)| entries_at(from).map(move |entry| (entry, start)))
            .collect();
        let first_values: Vec<u64> = first.iter().map(|&(entry, _)| values[entry]).collect();
        let starts = tables.positions(places);
        let last: Vec<(usize, usize, std::ops::Range<usize>)> = places
            .iter()
            .map(|&to| {
                let stored = to.checked_sub(bytes).map_or(0..0, |stored| entries_at(stored));
                let end = to.checked_sub(bytes).and_then(|stored| tables.position(stored));
                (to, end.unwrap_or(0), if end.is_some() { stored } else { 0..0 })
            })
            .collect();
        let mut placed = Vec::new();
        for (to, end, entries) in last {
            if self.is_off() {
                return;
            }
            for entry in entries {
                let value = tables.algebra.place(values[entry], end);
                for (number, view) in tables.views.iter().enumerate() {
                    let key = tables.algebra.start(view.channels[0].ends[end], value);
                    for &start in starts.iter().take_while(|&&start| start < end) {
                        if view.channels[0].starts[start] == key && self.holds(view, start, end, entry) {
                            self.push(number, start, end, entry);
                        }
                    }
                }
            }
            let Some(end) = tables.position(to) else { continue };
            let count = first.partition_point(|&(_, start)| start < end);
            tables.algebra.place_all(&first_values[..count], end, &mut placed);
            for (number, view) in tables.views.iter().enumerate() {
                let ended = view.channels[0].ends[end];
                for (&(entry, start), &placed) in first.iter().zip(&placed) {
                    let key = tables.algebra.start(ended, placed);
                    if view.channels[0].starts[start] == key && self.holds(view, start, end, entry) {
                        self.push(number, start, end, entry);
                    }
                }
            }
        }
    }

    /// The range ends at one of `bounds`. Where `tells` allows it begins behind its value, or at another of `bounds`
    /// with the value anywhere outside or inside.
    pub(super) fn between(&mut self, bounds: &[usize], tells: &impl Fn(Reach) -> bool) {
        let (tables, algebra, bytes) = (self.tables, self.tables.algebra, self.bytes());
        let (beside, outside, inside) = (tells(Reach::Edge), tells(Reach::Bounded), tells(Reach::Inside));
        if !(beside || outside || inside) {
            return;
        }
        let Some(values) = self.stored.values.first() else { return };
        let indexes: Vec<Index> = tables.views.iter().map(|view| self.index(view, 0, bounds)).collect();
        let hole = |&at: &usize| tables.position(at).zip(tables.position(at + bytes));
        let holes: Vec<Option<(usize, usize)>> = self.stored.at.iter().map(hole).collect();
        let ones: Vec<u64> = match tables.scene.is_single() && inside {
            true => holes.iter().map(|hole| hole.map_or(0, |(from, to)| algebra.ones(from, to))).collect(),
            // They drop out of differences.
            false => Vec::new(),
        };
        let mut placed = Vec::new();
        for &end in bounds {
            if self.is_off() {
                return;
            }
            algebra.place_all(values, end, &mut placed);
            for (number, (view, index)) in tables.views.iter().zip(&indexes).enumerate() {
                let channel = &view.channels[0];
                let ended = channel.ends[end];
                for (entry, &placed) in placed.iter().enumerate() {
                    let at = self.stored.at[entry];
                    let key = algebra.start(ended, placed);
                    if beside && let Some(start) = tables.position(at + bytes) {
                        if start < end && channel.starts[start] == key && self.holds(view, start, end, entry)
                        {
                            self.push(number, start, end, entry);
                        }
                    }
                    let hash = algebra.hash(key);
                    if outside && index.may_have(hash) {
                        for start in index.find(key, hash) {
                            if self.holds(view, start, end, entry) {
                                self.push(number, start, end, entry);
                            }
                        }
                    }
                    let Some((from, to)) = holes[entry].filter(|hole| inside && hole.1 <= end) else {
                        continue;
                    };
                    let head = channel.plain[from];
                    let zeroed = algebra.plus(algebra.less(ended, channel.plain[to]), head);
                    let without = algebra.start_without((head, channel.plain[to]), bytes, ended, placed);
                    let keys = [
                        without.map(|key| (StoredBytes::Excluded, key)),
                        // The same for a sum.
                        (!A::ENDS_ALIKE).then(|| (StoredBytes::Zeroed, algebra.start(zeroed, placed))),
                        ones.get(entry).map(|&ones| {
                            (StoredBytes::Erased, algebra.start(algebra.plus(zeroed, ones), placed))
                        }),
                    ];
                    for (mode, key) in keys.into_iter().flatten() {
                        let hash = algebra.hash(key);
                        if !index.may_have(hash) {
                            continue;
                        }
                        for start in index.find(key, hash) {
                            // At the rim of the range it is the same as beside it.
                            let apart = mode != StoredBytes::Excluded || (start < from && to < end);
                            if start <= from
                                && apart
                                && self.holds_around(view, (start, end), (from, to), entry, mode)
                            {
                                self.add(number, (start, start), (end, end), entry, mode);
                            }
                        }
                    }
                }
            }
        }
    }

    /// True when a range with a hole for the stored value has that value in every channel.
    fn holds_around(
        &self,
        view: &View,
        (start, end): (usize, usize),
        (from, to): (usize, usize),
        entry: usize,
        mode: StoredBytes,
    ) -> bool {
        let algebra = self.tables.algebra;
        // In a single image it was looked up by all there is.
        self.tables.scene.is_single()
            || view.channels.iter().zip(&self.stored.values).all(|(channel, values)| {
                let (placed, ended) = (algebra.place(values[entry], end), channel.ends[end]);
                let (head, tail) = (channel.plain[from], channel.plain[to]);
                let key = match mode {
                    StoredBytes::Excluded => algebra.start_without((head, tail), self.bytes(), ended, placed),
                    _ => Some(algebra.start(algebra.plus(algebra.less(ended, tail), head), placed)),
                };
                key == Some(channel.starts[start])
            })
    }
}
