//! The look-ups: which ranges have a value that is stored somewhere.
//!
//! Here those over any range; in `beside` those for a value next to its range, in `between` those for a range between
//! natural places.

mod beside;
mod between;

pub(super) use between::Wanted;

use std::sync::atomic::AtomicBool;

use super::algebra::Algebra;
use super::index::Index;
use super::search::is_off;
use super::stored::Stored;
use super::tables::{Tables, View};
use crate::check::StoredBytes;
use crate::span::ByteOrder;

/// Raw finds of one look-up at most; chance cannot give so many where a search is worth its while.
const MOST_RAW: usize = 100_000;
/// What is carried from end to end together: what they need stays in the nearest cache.
const TOGETHER: usize = 1024;

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

    /// Takes a range and its value where they agree in the other channels too.
    fn push(&mut self, number: usize, start: usize, end: usize, entry: usize) {
        let view = &self.tables.views[number];
        if self.holds(view, start, end, entry) {
            let ends = if A::ENDS_ALIKE { view.runs[end] } else { (end, end) };
            self.add(number, view.runs[start], ends, entry, StoredBytes::Excluded);
        }
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
        for (number, view) in self.tables.views.iter().enumerate() {
            let starts = starts.map_or_else(|| view.representatives(), <[usize]>::to_vec);
            for pivot in 0..view.channels.len() {
                let entries = self.entries_of(pivot);
                if entries.is_empty() {
                    continue;
                }
                // Either way every end is gone to, with every beginning before it or with every value.
                if starts.len() / 2 < entries.len() && !self.tables.scene.is_single() {
                    self.by_starts(number, pivot, &starts, &entries);
                } else {
                    let index = self.index(view, pivot, &starts);
                    entries
                        .chunks(TOGETHER)
                        .for_each(|entries| self.by_values(number, pivot, &index, entries));
                }
            }
        }
    }

    /// Looks up the value of the range from every start to every end, carried from each end to the next.
    fn by_starts(&mut self, number: usize, pivot: usize, starts: &[usize], entries: &[usize]) {
        let algebra = self.tables.algebra;
        let words = &self.tables.views[number].channels[pivot].words;
        let stored = &self.stored.values[pivot];
        let values = entries.iter().map(|&entry| (entry as u32, stored[entry]));
        let index = Index::new(|value| algebra.hash(value), values);
        for starts in starts.chunks(TOGETHER) {
            let mut running = vec![0; starts.len()];
            let first = starts.first().copied().unwrap_or(0);
            for (before, &word) in words.iter().enumerate().skip(first) {
                // Where nothing changes, a sum does not either.
                if A::ENDS_ALIKE && word == 0 {
                    continue;
                }
                if self.is_off() {
                    return;
                }
                let begun = starts.partition_point(|&start| start <= before);
                for (running, &start) in running[..begun].iter_mut().zip(starts) {
                    *running = algebra.after(*running, word);
                    let hash = algebra.hash(*running);
                    if index.may_have(hash) {
                        for entry in index.find(*running, hash) {
                            self.push(number, start, before + 1, entry);
                        }
                    }
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

    /// Looks up where a range with each value would have to begin, for every end from the last to the first, so that
    /// what is placed is carried on.
    fn by_values(&mut self, number: usize, pivot: usize, index: &Index, entries: &[usize]) {
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
                        self.push(number, start, end, entries[i]);
                    }
                }
                *placed = algebra.back(*placed);
            }
        }
    }
}
