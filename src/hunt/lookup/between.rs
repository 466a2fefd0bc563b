//! Ranges that end at a natural place.

use super::Lookup;
use crate::check::StoredBytes;
use crate::hunt::algebra::Algebra;
use crate::hunt::index::Index;

/// What is looked up for ranges that end at a natural place.
#[derive(Clone, Copy)]
pub(in crate::hunt) struct Wanted {
    /// The range begins where its value ends.
    pub beside: bool,
    /// It begins at a natural place, the value is anywhere outside.
    pub outside: bool,
    /// It begins at a natural place, the value is anywhere inside.
    pub inside: bool,
}

/// A stored value as a hole in a range.
#[derive(Clone, Copy)]
struct Hole {
    from: usize,
    to: usize,
    /// What bytes of ones in it would add to the numbers behind it.
    ones: u64,
}

impl<A: Algebra> Lookup<'_, A> {
    /// The range ends at one of `bounds`, and begins at another of them or behind its value.
    pub(in crate::hunt) fn between(&mut self, bounds: &[usize], wanted: Wanted) {
        if !(wanted.beside || wanted.outside || wanted.inside) {
            return;
        }
        let tables = self.tables;
        let indexes: Vec<Index> = tables.views.iter().map(|view| self.index(view, 0, bounds)).collect();
        let holes: Vec<Option<Hole>> = match wanted.inside {
            true => self.stored.at.iter().map(|&at| self.hole(at)).collect(),
            false => vec![None; self.stored.len()],
        };
        let mut placed = Vec::new();
        for &end in bounds {
            if self.is_off() {
                return;
            }
            tables.algebra.place_all(&self.stored.values[0], end, &mut placed);
            for (number, index) in indexes.iter().enumerate() {
                for (entry, &placed) in placed.iter().enumerate() {
                    self.around(number, index, end, (entry, placed), wanted);
                    if let Some(hole) = holes[entry].filter(|hole| hole.to <= end) {
                        self.inside(number, index, end, (entry, placed), hole);
                    }
                }
            }
        }
    }

    /// The value is outside the range.
    fn around(
        &mut self,
        number: usize,
        index: &Index,
        end: usize,
        (entry, placed): (usize, u64),
        wanted: Wanted,
    ) {
        let (tables, algebra) = (self.tables, self.tables.algebra);
        let channel = &tables.views[number].channels[0];
        let key = algebra.start(channel.ends[end], placed);
        if wanted.beside
            && let Some(start) = tables.position(self.stored.at[entry] + self.bytes())
            && start < end
            && channel.starts[start] == key
        {
            self.push(number, start, end, entry);
        }
        if wanted.outside {
            for start in index.find(key, algebra.hash(key)) {
                self.push(number, start, end, entry);
            }
        }
    }

    /// The value is inside the range, left out or with something else in its place.
    fn inside(
        &mut self,
        number: usize,
        index: &Index,
        end: usize,
        (entry, placed): (usize, u64),
        hole: Hole,
    ) {
        let (tables, algebra) = (self.tables, self.tables.algebra);
        let is_single = tables.scene.is_single();
        for mode in [StoredBytes::Excluded, StoredBytes::Zeroed, StoredBytes::Erased] {
            // Zeros add nothing to a sum, and what stands in drops out of differences.
            let twice = match mode {
                StoredBytes::Zeroed => A::ENDS_ALIKE,
                StoredBytes::Erased => !is_single,
                StoredBytes::Excluded | StoredBytes::Included => false,
            };
            let Some(key) = self.start_around(number, 0, end, placed, hole, mode).filter(|_| !twice) else {
                continue;
            };
            for start in index.find(key, algebra.hash(key)) {
                // At the rim of the range it is the same as beside it.
                let apart = mode != StoredBytes::Excluded || (start < hole.from && hole.to < end);
                if start <= hole.from && apart && self.holds_around(number, (start, end), entry, hole, mode) {
                    self.add(number, (start, start), (end, end), entry, mode);
                }
            }
        }
    }

    fn hole(&self, at: usize) -> Option<Hole> {
        let (from, to) = (self.tables.position(at)?, self.tables.position(at + self.bytes())?);
        let ones = if self.tables.scene.is_single() { self.tables.algebra.ones(from, to) } else { 0 };
        Some(Hole { from, to, ones })
    }

    /// The number that the beginning of a range with a hole must have in one channel.
    fn start_around(
        &self,
        number: usize,
        channel: usize,
        end: usize,
        placed: u64,
        hole: Hole,
        mode: StoredBytes,
    ) -> Option<u64> {
        let algebra = self.tables.algebra;
        let channel = &self.tables.views[number].channels[channel];
        let (head, tail, ended) = (channel.plain[hole.from], channel.plain[hole.to], channel.ends[end]);
        let zeroed = || algebra.plus(algebra.less(ended, tail), head);
        match mode {
            StoredBytes::Excluded => algebra.start_without((head, tail), self.bytes(), ended, placed),
            StoredBytes::Zeroed => Some(algebra.start(zeroed(), placed)),
            StoredBytes::Erased => Some(algebra.start(algebra.plus(zeroed(), hole.ones), placed)),
            StoredBytes::Included => None,
        }
    }

    /// True when a range with a hole for the stored value has that value in every channel.
    fn holds_around(
        &self,
        number: usize,
        (start, end): (usize, usize),
        entry: usize,
        hole: Hole,
        mode: StoredBytes,
    ) -> bool {
        let view = &self.tables.views[number];
        view.channels.iter().zip(&self.stored.values).enumerate().all(|(channel, (own, values))| {
            let placed = self.tables.algebra.place(values[entry], end);
            self.start_around(number, channel, end, placed, hole, mode) == Some(own.starts[start])
        })
    }
}
