//! From one piece of bytes that the layout says nothing about to the next.

use super::sheet::Sheet;
use crate::author;
use crate::span::Span;

impl Sheet {
    /// The next piece of undescribed bytes behind the cursor, or the last before it; round and round. Blank stretches
    /// are pieces of their own.
    #[must_use]
    pub fn next_undescribed(&self, forward: bool) -> Option<Span> {
        // Bytes of a run that are looked at for pieces: a large image is not read through for one key.
        const WINDOW: usize = 1 << 20;
        let (runs, here) = (self.described.undescribed(), self.selection());
        let pieces = |run: Span| author::pieces(self.image().bytes(), run);
        let ahead = |run: &Span| {
            let start = run.start.max(here.start.saturating_sub(WINDOW));
            pieces(Span::new(start, run.end.min(start.max(here.start) + WINDOW)))
        };
        let back = |run: &Span| {
            let end = if run.contains(here.start) { here.start } else { run.end };
            pieces(Span::new(run.start.max(end.saturating_sub(WINDOW)), end)).into_iter().rev()
        };
        if forward {
            // The one around the cursor comes first, unless it is what is selected.
            let next =
                |p: &Span| p.end > here.start && *p != here && (p.start >= here.start || !here.covers(*p));
            let behind = runs.iter().filter(|r| r.end > here.start).flat_map(ahead).find(next);
            behind.or_else(|| {
                runs.first()
                    .and_then(|r| pieces(Span::new(r.start, r.end.min(r.start + WINDOW))).first().copied())
            })
        } else {
            let before = runs.iter().rev().filter(|r| r.start < here.start).flat_map(back).next();
            before.or_else(|| {
                runs.last().and_then(|r| {
                    pieces(Span::new(r.start.max(r.end.saturating_sub(WINDOW)), r.end)).last().copied()
                })
            })
        }
    }
}
