//! Ranges with their value next to them.

use super::{Lookup, TOGETHER};
use crate::hunt::algebra::Algebra;
use crate::hunt::index::Index;
use crate::hunt::tables::View;

/// In a single image, every end of a range behind its value is tried up to this many pairs of value and end for one
/// kernel; beyond, natural ends are.
const MOST_PAIRS: usize = 1 << 23;

impl<A: Algebra> Lookup<'_, A> {
    /// Any start; the range ends where the value begins.
    pub(in crate::hunt) fn behind(&mut self) {
        let tables = self.tables;
        let indexes: Vec<Index> =
            tables.views.iter().map(|view| self.index(view, 0, &view.representatives())).collect();
        for (entry, &value) in self.stored.values[0].iter().enumerate() {
            let Some(end) = tables.position(self.stored.at[entry]) else { continue };
            let placed = tables.algebra.place(value, end);
            for (number, (view, index)) in tables.views.iter().zip(&indexes).enumerate() {
                let key = tables.algebra.start(view.channels[0].ends[end], placed);
                for start in index.find(key, tables.algebra.hash(key)) {
                    self.push(number, start, end, entry);
                }
            }
        }
    }

    /// The range begins where the value ends; it ends anywhere, where that does not take too long.
    pub(in crate::hunt) fn before(&mut self) {
        let (tables, bytes) = (self.tables, self.bytes());
        if tables.scene.is_single() && self.stored.len() * self.last() > MOST_PAIRS {
            return;
        }
        let starting: Vec<(usize, usize)> = (0..self.stored.len())
            .filter_map(|entry| Some((entry, tables.position(self.stored.at[entry] + bytes)?)))
            .collect();
        for starting in starting.chunks(TOGETHER) {
            self.before_any_end(starting);
        }
    }

    /// Stored values with the positions at which their ranges begin, carried from the last end to the first.
    fn before_any_end(&mut self, starting: &[(usize, usize)]) {
        let tables = self.tables;
        let values: Vec<u64> = starting.iter().map(|&(entry, _)| self.stored.values[0][entry]).collect();
        let of_view =
            |view: &View| starting.iter().map(|&(_, start)| view.channels[0].starts[start]).collect();
        let starts: Vec<Vec<u64>> = tables.views.iter().map(of_view).collect();
        let mut placed = Vec::new();
        tables.algebra.place_all(&values, self.last(), &mut placed);
        for end in (1..=self.last()).rev() {
            // Those that begin behind the end are done with.
            placed.truncate(starting.partition_point(|&(_, start)| start < end));
            if self.is_off() || placed.is_empty() {
                return;
            }
            for (number, (view, starts)) in tables.views.iter().zip(&starts).enumerate() {
                let ended = view.channels[0].ends[end];
                let fits = |(&start, &placed): (&u64, &u64)| start == tables.algebra.start(ended, placed);
                // Without a way out in the middle this is done for several values at a time.
                if starts.iter().zip(&placed).fold(false, |any, both| any | fits(both)) {
                    for ((entry, start), _) in
                        starting.iter().zip(starts.iter().zip(&placed)).filter(|(_, both)| fits(*both))
                    {
                        self.push(number, *start, end, *entry);
                    }
                }
            }
            placed.iter_mut().for_each(|placed| *placed = tables.algebra.back(*placed));
        }
    }

    /// Range and value fill a stretch between two of `places`, the value first or last.
    pub(in crate::hunt) fn stretches(&mut self, places: &[usize]) {
        let stored_at = &self.stored.at;
        let entries_at = |at: usize| {
            let from = stored_at.partition_point(|&other| other < at);
            from..from + stored_at[from..].partition_point(|&other| other == at)
        };
        let last: Vec<usize> =
            places.iter().filter_map(|&to| to.checked_sub(self.bytes())).flat_map(entries_at).collect();
        let first: Vec<usize> = places.iter().flat_map(|&from| entries_at(from)).collect();
        self.stretches_before(&last, places);
        self.stretches_behind(&first, places);
    }

    /// The range begins at one of `places` and ends where one of the values begins.
    fn stretches_before(&mut self, entries: &[usize], places: &[usize]) {
        let tables = self.tables;
        let starts = tables.positions(places);
        for &entry in entries {
            let Some(end) = tables.position(self.stored.at[entry]) else { continue };
            let placed = tables.algebra.place(self.stored.values[0][entry], end);
            for (number, view) in tables.views.iter().enumerate() {
                let key = tables.algebra.start(view.channels[0].ends[end], placed);
                for &start in starts.iter().take_while(|&&start| start < end) {
                    if view.channels[0].starts[start] == key {
                        self.push(number, start, end, entry);
                    }
                }
            }
        }
    }

    /// The range begins where one of the values ends and ends at one of `places`.
    fn stretches_behind(&mut self, entries: &[usize], places: &[usize]) {
        let (tables, bytes) = (self.tables, self.bytes());
        let starting: Vec<(usize, usize)> = entries
            .iter()
            .filter_map(|&entry| Some((entry, tables.position(self.stored.at[entry] + bytes)?)))
            .collect();
        let values: Vec<u64> = starting.iter().map(|&(entry, _)| self.stored.values[0][entry]).collect();
        let mut placed = Vec::new();
        for end in tables.positions(places) {
            if self.is_off() {
                return;
            }
            let count = starting.partition_point(|&(_, start)| start < end);
            tables.algebra.place_all(&values[..count], end, &mut placed);
            for (number, view) in tables.views.iter().enumerate() {
                let ended = view.channels[0].ends[end];
                for (&(entry, start), &placed) in starting.iter().zip(&placed) {
                    if view.channels[0].starts[start] == tables.algebra.start(ended, placed) {
                        self.push(number, start, end, entry);
                    }
                }
            }
        }
    }
}
