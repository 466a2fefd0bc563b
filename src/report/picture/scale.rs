//! Places along a strip: from addresses to rows of the picture, and the ticks of its axis.

use std::ops::Range;

/// Rows of the tallest picture.
const MOST_ROWS: usize = 256;
/// How high a strip is, and how low the strip of a tiny image may be.
const HEIGHT: f64 = 640.0;
const ROW_HEIGHT: f64 = 10.0;
const LEAST_HEIGHT: f64 = 160.0;
/// Ticks are about this far from each other.
const TICK_DISTANCE: f64 = 44.0;

/// Addresses from the top of the strips to their end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Scale {
    /// The first address, and the one behind the last.
    pub places: Range<u64>,
    /// Rows that are drawn.
    pub rows: usize,
}

impl Scale {
    /// A scale over these addresses.
    pub fn over(places: Range<u64>) -> Self {
        let bytes = places.end.saturating_sub(places.start);
        let rows = usize::try_from(bytes).unwrap_or(MOST_ROWS).min(MOST_ROWS);
        Scale { places, rows }
    }

    fn bytes(&self) -> u64 {
        self.places.end.saturating_sub(self.places.start)
    }

    /// Bytes that a row stands for, rounded up.
    pub fn row_bytes(&self) -> u64 {
        self.bytes().div_ceil(self.rows.max(1) as u64)
    }

    /// How high the strips are.
    pub fn height(&self) -> f64 {
        (self.rows as f64 * ROW_HEIGHT).clamp(LEAST_HEIGHT, HEIGHT)
    }

    /// How far below the top the byte at `place` begins.
    pub fn y(&self, place: u64) -> f64 {
        let from = place.saturating_sub(self.places.start).min(self.bytes());
        self.height() * from as f64 / self.bytes().max(1) as f64
    }

    /// How far below the top row `row` begins.
    pub fn row_y(&self, row: usize) -> f64 {
        self.height() * row as f64 / self.rows.max(1) as f64
    }

    /// The addresses that row `row` stands for.
    pub fn row(&self, row: usize) -> Range<u64> {
        let rows = self.rows.max(1) as u128;
        let edge = |n: usize| {
            let from = u128::from(self.bytes()) * n as u128 / rows;
            self.places.start.saturating_add(u64::try_from(from).unwrap_or(u64::MAX))
        };
        edge(row)..edge(row + 1)
    }

    /// The rows that show any of these addresses.
    pub fn rows_of(&self, places: &Range<u64>) -> Range<usize> {
        if places.is_empty() || self.rows == 0 {
            return 0..0;
        }
        let bytes = u128::from(self.bytes().max(1));
        let from =
            |place: u64| u128::from(place.saturating_sub(self.places.start)) * self.rows as u128 / bytes;
        let last = |row: u128| usize::try_from(row).unwrap_or(usize::MAX).min(self.rows - 1);
        // The floor of a row's first address may lie a byte before the row.
        let (mut first, mut end) = (last(from(places.start)), last(from(places.end - 1)));
        while first + 1 < self.rows && self.row(first).end <= places.start {
            first += 1;
        }
        while end + 1 < self.rows && self.row(end).end < places.end {
            end += 1;
        }
        first..end + 1
    }

    /// Addresses that the axis tells, a round number of bytes apart, the first one among them.
    pub fn ticks(&self) -> Vec<u64> {
        let wanted = (self.height() / TICK_DISTANCE).max(1.0) as u64;
        let step = (self.bytes() / wanted).max(1).checked_next_power_of_two().unwrap_or(u64::MAX);
        let first = self.places.start;
        let mut ticks = vec![first];
        let mut at = (first / step + 1).saturating_mul(step);
        while at < self.places.end {
            ticks.push(at);
            at = match at.checked_add(step) {
                Some(next) => next,
                None => break,
            };
        }
        // The one that stands on the heels of the first is left out.
        if ticks.get(1).is_some_and(|&at| self.y(at) < TICK_DISTANCE / 3.0) {
            ticks.remove(1);
        }
        ticks
    }
}

/// Neighbouring rows that are alike: from where to where, and what they are.
pub(super) fn runs<T: PartialEq + Copy>(rows: &[T]) -> Vec<(Range<usize>, T)> {
    let mut runs: Vec<(Range<usize>, T)> = Vec::new();
    for (n, &row) in rows.iter().enumerate() {
        match runs.last_mut() {
            Some((range, last)) if *last == row => range.end = n + 1,
            _ => runs.push((n..n + 1, row)),
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn ticks_are_round_and_few_whatever_the_size() {
        assert_eq!(Scale::over(0..8192).ticks(), (0..8).map(|n| n * 1024).collect::<Vec<u64>>());
        for places in [0..1, 0..16, 3..4099, 0x8000_0000..0x8008_0000, 0..4 << 30, 5..u64::MAX] {
            let ticks = Scale::over(places.clone()).ticks();
            assert!((1..=30).contains(&ticks.len()), "{places:?}: {ticks:?}");
            assert!(ticks.iter().all(|t| places.contains(t)), "{places:?}: {ticks:?}");
        }
        assert_eq!(Scale::over(7..7).ticks(), [7]);
    }

    proptest! {
        #[test]
        fn every_address_is_shown_by_the_rows_that_are_told(first in 0u64..1 << 40, bytes in 1u64..1 << 33, at: u64, len in 1u64..5000) {
            let scale = Scale::over(first..first + bytes);
            let at = first + at % bytes;
            let places = at..(at + len).min(first + bytes);
            let rows = scale.rows_of(&places);
            for row in 0..scale.rows {
                let shows = scale.row(row).start < places.end && places.start < scale.row(row).end;
                prop_assert_eq!(shows, rows.contains(&row), "{} of {:?}", row, rows);
            }
        }
    }
}
