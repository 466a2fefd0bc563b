//! Two images side by side: which rows stand beside each other, where they differ, how they move together.
//!
//! Rows by address are computed when they are drawn, never listed, so that they cost nothing whatever the size. Small
//! images are compared between a key and its frame, larger ones in the background by a [`Case`].

mod rows;

use std::sync::Arc;

pub use rows::{RowPair, Rows};

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
            rows: Rows::default(),
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
            Some(alignment) => Rows::lined_up(alignment, per_row, self.only_differing),
            None => {
                let stops = self.only_differing.then_some(&self.compared.stops[..]);
                Rows::by_address([left.image().len(), right.image().len()], per_row, stops)
            }
        };
    }

    /// The rows that are shown.
    #[must_use]
    pub fn rows(&self) -> &Rows {
        &self.rows
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

/// Works out the Twin view anew where it is out of date, and puts the cursor of the other side beside the cursor of
/// the one that is worked on.
pub fn follow(app: &mut App, per_row: usize, height: usize) {
    let Some(mut twin) = app.twin.take() else { return };
    if let (Some(left), Some(right)) = (app.images().get(twin.left), app.images().get(twin.right)) {
        twin.work_out(left, right, per_row);
        let side = twin.side_of(app.current());
        let at = app.it().cursor.at;
        let row = twin.rows().index_of(side, at);
        let last = twin.rows().count().saturating_sub(height.max(1));
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
