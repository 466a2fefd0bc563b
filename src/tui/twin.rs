//! Two images side by side: which rows stand beside each other, where they differ, how they move together.
//!
//! Rows by address are computed when they are drawn, never listed, so that they cost nothing whatever the size. Small
//! images are compared between a key and its frame, larger ones in the background by a [`Case`].

use std::ops::Range;
use std::sync::Arc;

use super::app::App;
use super::job::Pace;
use super::sheet::{QUICK_BYTES, Sheet};
use crate::compare::align::{Alignment, Step, align};
use crate::compare::{self, Comparison, Differences};
use crate::image::Image;
use crate::layout::Layout;
use crate::skyline::Skyline;
use crate::span::Span;

/// Larger images are not lined up: it takes too long.
pub const MOST_ALIGNED: usize = 4 << 20;

/// Places that differ which are listed; a comparison of vast images that finds more ends there.
pub const MOST_STOPS: usize = 100_000;

/// A place that differs: left and right.
pub type Stop = [Option<Span>; 2];

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
    /// What differs.
    pub compared: Compared,
    /// What that was compared by; `None` before the first time.
    by: Option<By>,
    /// The comparison that goes on in the background.
    pub going_on: Option<Pace>,
    /// The rows, and what they were laid for.
    rows: Rows,
    laid_for: Option<(By, usize, bool)>,
    /// The changed fields, as a list.
    pub fields: super::rows::Rows,
    /// The checks, as a list.
    pub checks: super::rows::Rows,
}

/// What two images are compared by: their revisions, and whether they are lined up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct By {
    revisions: [u64; 2],
    is_aligned: bool,
}

/// What differs between two images.
#[derive(Default)]
pub struct Compared {
    /// What differs, by the layout of the left image.
    pub comparison: Comparison,
    /// The left image's bytes as pieces of the right one's, when they are lined up.
    alignment: Option<Alignment>,
    /// The places that differ.
    pub stops: Vec<Stop>,
    /// Behind the last of them nothing was compared: there are [`MOST_STOPS`].
    pub is_cut: bool,
    /// For each image, which cells of its skyline hold a place that differs.
    marked: [Vec<bool>; 2],
}

impl Compared {
    /// Where contents stand that moved, when they are lined up.
    #[must_use]
    pub fn alignment(&self) -> Option<&Alignment> {
        self.alignment.as_ref()
    }
}

/// Everything that a comparison is made from.
pub struct Case {
    images: [Image; 2],
    layout: Option<Arc<Layout>>,
    by: By,
    pace: Pace,
}

impl Case {
    /// Compares; `None` when it was stopped.
    #[must_use]
    pub fn run(&self) -> Option<Compared> {
        let [a, b] = &self.images;
        let (mut done, all) = (0, a.len().min(b.len()));
        let mut watch = |bytes: usize| {
            done += bytes;
            // The screen looks how far it is by itself.
            let _ = self.pace.note(done as f64 / all as f64);
            !self.pace.is_stopped()
        };
        let (differences, is_cut) = Differences::of_first(a, b, MOST_STOPS, &mut watch)?;
        let alignment = self.by.is_aligned.then(|| align(a.bytes(), b.bytes()));
        let stops = match &alignment {
            Some(alignment) => alignment.steps.iter().filter_map(stop).collect(),
            None => stops_by_address(&differences),
        };
        let decoded = self.layout.as_ref().map(|l| compare::decode_both(l, a, b));
        let comparison = compare::compare_at(differences, a, b, decoded.as_ref().map(|(a, b)| (a, b)));
        let marked = [(0, a), (1, b)]
            .map(|(side, image)| Skyline::cells(image.len(), stops.iter().filter_map(|s: &Stop| s[side])));
        Some(Compared { comparison, alignment, stops, is_cut, marked })
    }
}

/// What stands in one row: bytes of both images, of one, and how many columns are left empty before them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RowPair {
    /// Bytes of the left and of the right image.
    pub spans: Stop,
    /// Columns left empty before them.
    pub skip: usize,
}

/// The rows that are shown.
enum Rows {
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
            compared: Compared::default(),
            by: None,
            going_on: None,
            rows: Rows::Listed(Vec::new()),
            laid_for: None,
            fields: super::rows::Rows::default(),
            checks: super::rows::Rows::default(),
        }
    }

    /// Which side the image with this index is: 0 left, 1 right.
    #[must_use]
    pub fn side_of(&self, index: usize) -> usize {
        usize::from(index == self.right)
    }

    /// Whether nothing is known yet of what differs.
    #[must_use]
    pub fn is_new(&self) -> bool {
        self.by.is_none()
    }

    fn wanted(&self, left: &Sheet, right: &Sheet) -> By {
        By { revisions: [left.revision(), right.revision()], is_aligned: self.is_aligned }
    }

    fn case(&self, left: &Sheet, right: &Sheet) -> Case {
        Case {
            images: [left.image().clone(), right.image().clone()],
            layout: left.layout().map(|l| Arc::clone(&l.layout)),
            by: self.wanted(left, right),
            pace: Pace::default(),
        }
    }

    /// Takes what a comparison came to. One that was overtaken by a change shows where things were until the next one
    /// is done.
    fn take(&mut self, case: &Case, compared: Compared) {
        self.compared = compared;
        self.by = Some(case.by);
        self.fields.fit(self.compared.comparison.fields.len());
        self.checks.fit(self.compared.comparison.checks.len());
    }

    /// Works out what is out of date and takes no time, for rows of `per_row` bytes.
    fn work_out(&mut self, left: &Sheet, right: &Sheet, per_row: usize) {
        let is_quick = left.image().len().max(right.image().len()) <= QUICK_BYTES;
        if is_quick && self.by != Some(self.wanted(left, right)) {
            let case = self.case(left, right);
            if let Some(compared) = case.run() {
                self.take(&case, compared);
            }
        }
        let by = self.by.unwrap_or(self.wanted(left, right));
        let laid_for = Some((by, per_row, self.only_differing));
        if self.laid_for == laid_for {
            return;
        }
        self.laid_for = laid_for;
        self.rows = match &self.compared.alignment {
            Some(alignment) => Rows::Listed(aligned_rows(alignment, per_row, self.only_differing)),
            None => {
                let stops = self.only_differing.then_some(&self.compared.stops[..]);
                rows_by_address([left.image().len(), right.image().len()], per_row, stops)
            }
        };
    }

    /// How many rows are shown.
    #[must_use]
    pub fn row_count(&self) -> usize {
        match &self.rows {
            Rows::ByAddress { shown, .. } => shown.last().map_or(0, |(before, rows)| before + rows.len()),
            Rows::Listed(rows) => rows.len(),
        }
    }

    /// The row with this index among those that are shown.
    #[must_use]
    pub fn row(&self, index: usize) -> Option<RowPair> {
        match &self.rows {
            Rows::Listed(rows) => rows.get(index).copied(),
            Rows::ByAddress { bytes, per_row, shown } => {
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
        matches!(self.rows, Rows::ByAddress { .. }) && self.row(index).is_none_or(|r| r.spans[side].is_none())
    }

    /// The row that the byte at `at` of `side` is in; the one before where it is not shown.
    #[must_use]
    pub fn row_of(&self, side: usize, at: usize) -> usize {
        match &self.rows {
            Rows::ByAddress { per_row, shown, .. } => {
                let number = at / per_row;
                let stretch = shown.partition_point(|(_, rows)| rows.start <= number);
                let Some((before, rows)) = stretch.checked_sub(1).and_then(|s| shown.get(s)) else {
                    return 0;
                };
                before + (number - rows.start).min(rows.len().saturating_sub(1))
            }
            Rows::Listed(rows) => {
                let span = |row: &RowPair| row.spans.get(side).copied().flatten();
                let has = |row: &RowPair| span(row).is_some_and(|s| s.contains(at));
                let before = |row: &RowPair| span(row).is_some_and(|s| s.start <= at);
                rows.iter().position(has).or_else(|| rows.iter().rposition(before)).unwrap_or(0)
            }
        }
    }

    /// The byte of the other side that stands beside the byte at `at` of `side`.
    #[must_use]
    pub fn beside(&self, side: usize, at: usize) -> Option<usize> {
        match (&self.compared.alignment, side) {
            (None, _) => Some(at),
            (Some(alignment), 0) => alignment.to_after(at),
            (Some(alignment), _) => alignment.to_before(at),
        }
    }

    /// The place that differs over the byte at `at` of `side`.
    #[must_use]
    pub fn stop_at(&self, side: usize, at: usize) -> Option<Stop> {
        let over = |stop: &&Stop| stop.get(side).copied().flatten().is_some_and(|s| s.contains(at));
        self.compared.stops.iter().find(over).copied()
    }

    /// Which cells of the skyline of `side` hold a place that differs.
    #[must_use]
    pub fn marked(&self, side: usize) -> &[bool] {
        self.compared.marked.get(side).map_or(&[], Vec::as_slice)
    }
}

/// The rows of images of so many bytes, or those of them that hold a stop.
fn rows_by_address(bytes: [usize; 2], per_row: usize, stops: Option<&[Stop]>) -> Rows {
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
    Rows::ByAddress { bytes, per_row, shown }
}

fn stops_by_address(differences: &Differences) -> Vec<Stop> {
    let mut stops: Vec<Stop> = differences.changed.iter().map(|&s| [Some(s), Some(s)]).collect();
    stops.extend(differences.only_before.iter().map(|&s| [Some(s), None]));
    stops.extend(differences.only_after.iter().map(|&s| [None, Some(s)]));
    stops.sort_by_key(|[a, b]| a.or(*b).map(|s| s.start));
    stops
}

fn stop(step: &Step) -> Option<Stop> {
    let some = |span: Span| (!span.is_empty()).then_some(span);
    match step {
        Step::Same { .. } => None,
        step => Some([some(step.before()), some(step.after())]),
    }
}

/// Rows that begin at multiples of `per_row` of the left image, or of the right one where only that has bytes.
fn aligned_rows(alignment: &Alignment, per_row: usize, only_differing: bool) -> Vec<RowPair> {
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
        let last = twin.row_count().saturating_sub(height.max(1));
        twin.top = super::rows::first_shown(twin.top, row, height).min(last);
        let other = if side == 0 { twin.right } else { twin.left };
        let (beside, column) = (twin.beside(side, at), app.it().cursor.column);
        if let (Some(to), Some(sheet)) = (beside, app.images_mut().get_mut(other)) {
            sheet.go(to);
            sheet.cursor.column = column;
        }
    }
    app.twin = Some(twin);
}

/// Whether what is shown side by side is not compared as it is now.
#[must_use]
pub fn is_stale(app: &App) -> bool {
    stale(app).is_some()
}

fn stale(app: &App) -> Option<(&Twin, &Sheet, &Sheet)> {
    let twin = app.twin.as_ref()?;
    let (left, right) = (app.images().get(twin.left)?, app.images().get(twin.right)?);
    (twin.by != Some(twin.wanted(left, right))).then_some((twin, left, right))
}

/// The comparison that is out of date and takes its time, to be made elsewhere; one at a time.
pub fn begin(app: &mut App) -> Option<Case> {
    let (twin, left, right) = stale(app).filter(|(twin, ..)| twin.going_on.is_none())?;
    let case = twin.case(left, right);
    if let Some(twin) = &mut app.twin {
        twin.going_on = Some(case.pace.clone());
    }
    Some(case)
}

/// Takes what a comparison came to, unless the view it was for is gone.
pub fn finish(app: &mut App, case: &Case, compared: Option<Compared>) {
    let is_ours = |going_on: &mut Pace| going_on.is(&case.pace);
    let Some(twin) = &mut app.twin else { return };
    if twin.going_on.take_if(is_ours).is_some()
        && let Some(compared) = compared
    {
        twin.take(case, compared);
    }
}

impl Drop for Twin {
    /// Nobody waits for the comparison any more.
    fn drop(&mut self) {
        self.going_on.iter().for_each(|p| p.stop());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(rows: Rows) -> Vec<RowPair> {
        let mut twin = Twin::new(0, 1);
        twin.rows = rows;
        let rows: Vec<RowPair> = (0..twin.row_count()).filter_map(|i| twin.row(i)).collect();
        assert_eq!((rows.len(), twin.row(rows.len())), (twin.row_count(), None));
        for (index, row) in rows.iter().enumerate() {
            for (side, span) in row.spans.iter().enumerate() {
                assert!(span.is_none_or(|s| twin.row_of(side, s.start) == index), "{row:?}");
            }
        }
        rows
    }

    #[test]
    fn by_address_every_byte_of_both_images_is_in_one_row() {
        let rows = all(rows_by_address([20, 37], 16, None));
        let of = |side: usize| rows.iter().filter_map(|r| r.spans[side]).map(|s| s.len()).sum::<usize>();
        assert_eq!((of(0), of(1), rows.len()), (20, 37, 3));
    }

    #[test]
    fn by_address_only_rows_that_differ_are_shown_and_each_once() {
        let (a, b) = (Some(Span::new(17, 18)), Some(Span::new(30, 50)));
        let stops = [[a, a], [b, b], [Some(Span::new(100, 101)), None]];
        let rows = all(rows_by_address([120, 60], 16, Some(&stops)));
        let starts: Vec<usize> = rows.iter().filter_map(|r| r.spans[0]).map(|s| s.start).collect();
        assert_eq!(starts, [16, 32, 48, 96]);
        assert_eq!(rows[3].spans, [Some(Span::new(96, 112)), None]);
        assert!(all(rows_by_address([120, 60], 16, Some(&[]))).is_empty());
    }

    #[test]
    fn aligned_every_byte_of_the_second_image_is_in_one_row_and_rows_hold_as_many_as_they_may() {
        let before: Vec<u8> = (0..=255).collect();
        let mut after = before.clone();
        after.splice(40..40, [9, 9, 9]);
        after.remove(200);
        let alignment = align(&before, &after);
        let rows = aligned_rows(&alignment, 16, false);
        let bytes: usize = rows.iter().filter_map(|r| r.spans[1]).map(|s| s.len()).sum();
        assert_eq!(bytes, after.len());
        for row in &rows {
            assert!(row.spans.iter().flatten().all(|s| row.skip + s.len() <= 16), "{row:?}");
        }
        let differing = aligned_rows(&alignment, 16, true);
        assert!(
            !differing.is_empty()
                && differing.len() < rows.len()
                && differing.iter().all(|r| rows.contains(r))
        );
    }
}
