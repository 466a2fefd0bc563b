//! The rows of two images side by side: by address, computed when they are drawn, or of contents that are lined up.

use std::ops::Range;

use super::{Stop, stop};
use crate::compare::align::Alignment;
use crate::span::Span;

/// What stands in one row: bytes of both images, of one, and how many columns are left empty before them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RowPair {
    /// Bytes of the left and of the right image.
    pub spans: Stop,
    /// Columns left empty before them.
    pub skip: usize,
}

/// The rows that are shown.
pub struct Rows(Laid);

enum Laid {
    /// By address.
    ByAddress {
        /// Bytes of both images.
        bytes: [usize; 2],
        /// Bytes in a row.
        per_row: usize,
        /// The shown rows by number, where row n begins at n times the bytes in a row; with each stretch of them, how
        /// many stand before it.
        shown: Vec<(usize, Range<usize>)>,
    },
    /// Lined up.
    Listed(Vec<RowPair>),
}

impl Default for Rows {
    fn default() -> Self {
        Rows(Laid::Listed(Vec::new()))
    }
}

impl Rows {
    /// The rows of images of so many bytes, or those of them that hold a stop.
    pub(super) fn by_address(bytes: [usize; 2], per_row: usize, stops: Option<&[Stop]>) -> Rows {
        let per_row = per_row.max(1);
        let all = bytes[0].max(bytes[1]).div_ceil(per_row);
        let mut shown: Vec<(usize, Range<usize>)> = Vec::new();
        let places = stops.map(|stops| {
            // By address a stop has one place: in both images, or in the one that has these bytes.
            stops.iter().filter_map(|[a, b]| a.or(*b)).map(|s| s.start / per_row..s.end.div_ceil(per_row))
        });
        match places {
            None => shown.push((0, 0..all)),
            Some(places) => {
                for rows in places {
                    match shown.last_mut() {
                        Some((_, last)) if rows.start <= last.end => last.end = last.end.max(rows.end),
                        last => {
                            let before = last.map_or(0, |(before, rows)| *before + rows.len());
                            shown.push((before, rows));
                        }
                    }
                }
            }
        }
        Rows(Laid::ByAddress { bytes, per_row, shown })
    }

    /// Rows that begin at multiples of `per_row` of the left image, or of the right one where only that has bytes.
    pub(super) fn lined_up(alignment: &Alignment, per_row: usize, only_differing: bool) -> Rows {
        let mut rows = Vec::new();
        for step in alignment.steps.iter().filter(|s| !only_differing || stop(s).is_some()) {
            let (before, after) = (step.before(), step.after());
            let lead = if before.is_empty() { after.start } else { before.start };
            let len = before.len().max(after.len());
            let mut done = 0;
            while done < len {
                let skip = (lead + done) % per_row;
                let take = (per_row - skip).min(len - done);
                let part = |span: Span| {
                    let part = Span::of(span.start + done, take);
                    part.intersection(span)
                };
                rows.push(RowPair { spans: [part(before), part(after)], skip });
                done += take;
            }
        }
        Rows(Laid::Listed(rows))
    }

    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        match &self.0 {
            Laid::ByAddress { shown, .. } => shown.last().map_or(0, |(before, rows)| before + rows.len()),
            Laid::Listed(rows) => rows.len(),
        }
    }

    /// The one with this index.
    #[must_use]
    pub fn get(&self, index: usize) -> Option<RowPair> {
        match &self.0 {
            Laid::Listed(rows) => rows.get(index).copied(),
            Laid::ByAddress { bytes, per_row, shown } => {
                let stretch = shown.partition_point(|(before, _)| *before <= index).checked_sub(1)?;
                let (before, rows) = shown.get(stretch)?;
                let number = Some(rows.start + (index - before)).filter(|n| *n < rows.end)?;
                let part = |len: usize| Span::of(number * per_row, *per_row).intersection(Span::new(0, len));
                Some(RowPair { spans: bytes.map(part), skip: 0 })
            }
        }
    }

    /// Whether no row behind this one has bytes of `side`.
    #[must_use]
    pub fn ends_before(&self, side: usize, index: usize) -> bool {
        matches!(self.0, Laid::ByAddress { .. }) && self.get(index).is_none_or(|r| r.spans[side].is_none())
    }

    /// Index of the row that the byte at `at` of `side` is in; the one before where it is not shown.
    #[must_use]
    pub fn index_of(&self, side: usize, at: usize) -> usize {
        match &self.0 {
            Laid::ByAddress { per_row, shown, .. } => {
                let number = at / per_row;
                let stretch = shown.partition_point(|(_, rows)| rows.start <= number);
                let Some((before, rows)) = stretch.checked_sub(1).and_then(|s| shown.get(s)) else {
                    return 0;
                };
                before + (number - rows.start).min(rows.len().saturating_sub(1))
            }
            Laid::Listed(rows) => {
                let span = |row: &RowPair| row.spans.get(side).copied().flatten();
                let has = |row: &RowPair| span(row).is_some_and(|s| s.contains(at));
                let before = |row: &RowPair| span(row).is_some_and(|s| s.start <= at);
                rows.iter().position(has).or_else(|| rows.iter().rposition(before)).unwrap_or(0)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::align::align;

    fn listed(rows: &Rows) -> Vec<RowPair> {
        let listed: Vec<RowPair> = (0..rows.count()).filter_map(|i| rows.get(i)).collect();
        assert_eq!((listed.len(), rows.get(listed.len())), (rows.count(), None));
        listed
    }

    fn by_address(bytes: [usize; 2], per_row: usize, stops: Option<&[Stop]>) -> Vec<RowPair> {
        let rows = Rows::by_address(bytes, per_row, stops);
        for (index, row) in listed(&rows).iter().enumerate() {
            for (side, span) in row.spans.iter().enumerate() {
                assert!(span.is_none_or(|s| rows.index_of(side, s.start) == index), "{row:?}");
            }
        }
        listed(&rows)
    }

    #[test]
    fn by_address_every_byte_of_both_images_is_in_one_row() {
        let rows = by_address([20, 37], 16, None);
        let of = |side: usize| rows.iter().filter_map(|r| r.spans[side]).map(|s| s.len()).sum::<usize>();
        assert_eq!((of(0), of(1), rows.len()), (20, 37, 3));
    }

    #[test]
    fn by_address_only_rows_that_differ_are_shown_and_each_once() {
        let (a, b) = (Some(Span::new(17, 18)), Some(Span::new(30, 50)));
        let stops = [[a, a], [b, b], [Some(Span::new(100, 101)), None]];
        let rows = by_address([120, 60], 16, Some(&stops));
        let starts: Vec<usize> = rows.iter().filter_map(|r| r.spans[0]).map(|s| s.start).collect();
        assert_eq!(starts, [16, 32, 48, 96]);
        assert_eq!(rows[3].spans, [Some(Span::new(96, 112)), None]);
        assert!(by_address([120, 60], 16, Some(&[])).is_empty());
    }

    #[test]
    fn aligned_every_byte_of_the_second_image_is_in_one_row_and_rows_hold_as_many_as_they_may() {
        let before: Vec<u8> = (0..=255).collect();
        let mut after = before.clone();
        after.splice(40..40, [9, 9, 9]);
        after.remove(200);
        let alignment = align(&before, &after);
        let rows = listed(&Rows::lined_up(&alignment, 16, false));
        let bytes: usize = rows.iter().filter_map(|r| r.spans[1]).map(|s| s.len()).sum();
        assert_eq!(bytes, after.len());
        for row in &rows {
            assert!(row.spans.iter().flatten().all(|s| row.skip + s.len() <= 16), "{row:?}");
        }
        let differing = listed(&Rows::lined_up(&alignment, 16, true));
        assert!(
            !differing.is_empty()
                && differing.len() < rows.len()
                && differing.iter().all(|r| rows.contains(r))
        );
    }
}
