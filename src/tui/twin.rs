//! Two images side by side: which rows stand beside each other, where they differ, how they move together.

use super::app::App;
use super::sheet::Sheet;
use crate::compare::align::{Alignment, Step, align};
use crate::compare::{self, Comparison, Differences};
use crate::image::Image;
use crate::span::Span;

/// Larger images are for the command `compare`.
pub const MOST_BYTES: usize = 4 << 20;

/// Two images side by side.
pub struct Twin {
    /// Index of the left image.
    pub left: usize,
    /// Index of the right image.
    pub right: usize,
    /// Contents that moved stand beside each other, not equal addresses.
    pub is_aligned: bool,
    /// Only rows that differ are shown.
    pub only_differing: bool,
    /// First shown row.
    pub top: usize,
    /// What differs, by the layout of the left image.
    pub comparison: Comparison,
    /// The left image's bytes as pieces of the right one's; kept only while aligned.
    alignment: Option<Alignment>,
    /// The places that differ: left and right.
    pub stops: Vec<[Option<Span>; 2]>,
    /// The rows.
    pub rows: Vec<RowPair>,
    /// What all of this was worked out for: revisions of both images, bytes in a row, aligned, only differing.
    worked_out: Option<(u64, u64, usize, bool, bool)>,
    /// The changed fields, as a list.
    pub fields: super::rows::Rows,
    /// The checks, as a list.
    pub checks: super::rows::Rows,
}

/// What stands in one row: bytes of both images, of one, and how many columns are left empty before them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RowPair {
    /// Bytes of the left and of the right image.
    pub spans: [Option<Span>; 2],
    /// Columns left empty before them.
    pub skip: usize,
}

impl Twin {
    /// Two images, by address.
    #[must_use]
    pub fn new(left: usize, right: usize) -> Self {
        Twin {
            left,
            right,
            is_aligned: false,
            only_differing: false,
            top: 0,
            comparison: Comparison::default(),
            alignment: None,
            stops: Vec::new(),
            rows: Vec::new(),
            worked_out: None,
            fields: super::rows::Rows::default(),
            checks: super::rows::Rows::default(),
        }
    }

    /// Which side the image with this index is: 0 left, 1 right.
    #[must_use]
    pub fn side_of(&self, index: usize) -> usize {
        usize::from(index == self.right)
    }

    /// Works out what is out of date, for rows of `per_row` bytes.
    fn work_out(&mut self, left: &Sheet, right: &Sheet, per_row: usize) {
        let now = (left.revision, right.revision, per_row, self.is_aligned, self.only_differing);
        if self.worked_out == Some(now) {
            return;
        }
        let same_bytes = self.worked_out.is_some_and(|(l, r, _, a, _)| (l, r, a) == (now.0, now.1, now.3));
        if !same_bytes {
            self.compare(left, right);
        }
        self.worked_out = Some(now);
        self.rows = match &self.alignment {
            Some(alignment) => aligned_rows(alignment, per_row),
            None => rows_by_address(&left.image, &right.image, per_row),
        };
        if self.only_differing {
            let stops = &self.stops;
            self.rows.retain(|row| stops.iter().any(|stop| touches(row, stop)));
        }
        self.fields.fit(self.comparison.fields.len());
        self.checks.fit(self.comparison.checks.len());
    }

    fn compare(&mut self, left: &Sheet, right: &Sheet) {
        let (a, b) = (&left.image, &right.image);
        self.alignment = self.is_aligned.then(|| align(a.bytes(), b.bytes()));
        let decoded = left.layout.as_ref().map(|l| compare::decode_both(&l.layout, a, b));
        self.comparison = compare::compare(a, b, decoded.as_ref().map(|(a, b)| (a, b)));
        self.stops = match &self.alignment {
            Some(alignment) => alignment.steps.iter().filter_map(stop).collect(),
            None => stops_by_address(&Differences::between(a, b)),
        };
    }

    /// The row that the byte at `at` of `side` is in; the one before where it is not shown.
    #[must_use]
    pub fn row_of(&self, side: usize, at: usize) -> usize {
        let has = |row: &RowPair| row.spans.get(side).copied().flatten().is_some_and(|s| s.contains(at));
        if let Some(row) = self.rows.iter().position(has) {
            return row;
        }
        let before = |row: &RowPair| row.spans.get(side).copied().flatten().is_some_and(|s| s.start <= at);
        self.rows.iter().rposition(before).unwrap_or(0)
    }

    /// The byte of the other side that stands beside the byte at `at` of `side`.
    #[must_use]
    pub fn beside(&self, side: usize, at: usize) -> Option<usize> {
        match (&self.alignment, side) {
            (None, _) => Some(at),
            (Some(alignment), 0) => alignment.to_after(at),
            (Some(alignment), _) => alignment.to_before(at),
        }
    }

    /// The place that differs over the byte at `at` of `side`.
    #[must_use]
    pub fn stop_at(&self, side: usize, at: usize) -> Option<[Option<Span>; 2]> {
        let over =
            |stop: &&[Option<Span>; 2]| stop.get(side).copied().flatten().is_some_and(|s| s.contains(at));
        self.stops.iter().find(over).copied()
    }
}

fn touches(row: &RowPair, stop: &[Option<Span>; 2]) -> bool {
    row.spans.iter().zip(stop).any(|(row, stop)| matches!((row, stop), (Some(r), Some(s)) if r.overlaps(*s)))
}

/// The offset in `b` of offset 0 in `a`, by address; the images may begin at different addresses.
fn rows_by_address(a: &Image, b: &Image, per_row: usize) -> Vec<RowPair> {
    let len = a.len().max(b.len());
    let part = |start: usize, len: usize| {
        let span = Span::new(start.min(len), (start + per_row).min(len));
        (!span.is_empty()).then_some(span)
    };
    (0..len)
        .step_by(per_row.max(1))
        .map(|start| RowPair { spans: [part(start, a.len()), part(start, b.len())], skip: 0 })
        .collect()
}

fn stops_by_address(differences: &Differences) -> Vec<[Option<Span>; 2]> {
    let mut stops: Vec<[Option<Span>; 2]> = differences.changed.iter().map(|&s| [Some(s), Some(s)]).collect();
    stops.extend(differences.only_before.iter().map(|&s| [Some(s), None]));
    stops.extend(differences.only_after.iter().map(|&s| [None, Some(s)]));
    stops.sort_by_key(|[a, b]| a.or(*b).map(|s| s.start));
    stops
}

fn stop(step: &Step) -> Option<[Option<Span>; 2]> {
    let some = |span: Span| (!span.is_empty()).then_some(span);
    match step {
        Step::Same { .. } => None,
        step => Some([some(step.before()), some(step.after())]),
    }
}

/// Rows that begin at multiples of `per_row` of the left image, or of the right one where only that has bytes.
fn aligned_rows(alignment: &Alignment, per_row: usize) -> Vec<RowPair> {
    let mut rows = Vec::new();
    for step in &alignment.steps {
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
    rows
}

/// Works out the Twin view anew where it is out of date, and puts the cursor of the other side beside the cursor of
/// the one that is worked on.
pub fn follow(app: &mut App, per_row: usize, height: usize) {
    let Some(mut twin) = app.twin.take() else { return };
    if let (Some(left), Some(right)) = (app.images().get(twin.left), app.images().get(twin.right)) {
        twin.work_out(left, right, per_row);
        let side = twin.side_of(app.current());
        let at = app.it().cursor.at;
        let row = twin.row_of(side, at);
        twin.top = super::rows::first_shown(twin.top, row, height).min(twin.rows.len().saturating_sub(1));
        let other = if side == 0 { twin.right } else { twin.left };
        let (beside, column) = (twin.beside(side, at), app.it().cursor.column);
        if let (Some(to), Some(sheet)) = (beside, app.images_mut().get_mut(other)) {
            sheet.go(to);
            sheet.cursor.column = column;
        }
    }
    app.twin = Some(twin);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn image(bytes: &[u8]) -> Image {
        Image::raw(bytes.to_vec())
    }

    #[test]
    fn by_address_every_byte_of_both_images_is_in_one_row() {
        let rows = rows_by_address(&image(&[0; 20]), &image(&[0; 37]), 16);
        let of = |side: usize| rows.iter().filter_map(|r| r.spans[side]).map(|s| s.len()).sum::<usize>();
        assert_eq!((of(0), of(1), rows.len()), (20, 37, 3));
    }

    #[test]
    fn aligned_every_byte_of_the_second_image_is_in_one_row_and_rows_hold_as_many_as_they_may() {
        let before: Vec<u8> = (0..=255).collect();
        let mut after = before.clone();
        after.splice(40..40, [9, 9, 9]);
        after.remove(200);
        let alignment = align(&before, &after);
        let rows = aligned_rows(&alignment, 16);
        let bytes: usize = rows.iter().filter_map(|r| r.spans[1]).map(|s| s.len()).sum();
        assert_eq!(bytes, after.len());
        for row in &rows {
            assert!(row.spans.iter().flatten().all(|s| row.skip + s.len() <= 16), "{row:?}");
        }
    }
}
