//! The Skyline: the whole image as one strip, and under it what stands where.

use super::canvas::Canvas;
use crate::check::Seal;
use crate::skyline::Density;
use crate::tui::app::App;
use crate::tui::theme::Tone;

/// Draws the strip; under it the cursor, edits, broken checks and findings.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) {
    let it = app.it();
    let columns = canvas.width().saturating_sub(2);
    if canvas.height() == 0 || columns == 0 || it.image().is_empty() {
        return;
    }
    let line = it.contents.skyline();
    let gaps = it.image().gaps();
    for column in 0..columns {
        let stretch = line.stretch(column, columns);
        // Gaps are in order and do not overlap, so only the last that begins here or before can hold all of it.
        let gap = gaps.partition_point(|g| g.start <= stretch.start).checked_sub(1).and_then(|i| gaps.get(i));
        if gap.is_some_and(|g| g.end >= stretch.end) {
            canvas.text(1 + column, 0, "·", Tone::Quiet);
            continue;
        }
        let (glyph, tone) = match line.density(column, columns) {
            Density::Unknown => (" ", Tone::Quiet),
            Density::Blank => ("▁", Tone::Quiet),
            Density::Sparse => ("▂", Tone::Quiet),
            Density::Text => ("▅", Tone::Accent),
            Density::Dense => ("█", Tone::Quiet),
        };
        canvas.text(1 + column, 0, glyph, tone);
    }
    let mut marks: Vec<(usize, &str, Tone)> = Vec::new();
    for (column, edited) in edited_columns(app, columns).into_iter().enumerate() {
        if edited {
            marks.push((column, "*", Tone::Edited));
        }
    }
    if let Some(twin) = &app.twin {
        let marked = twin.marked(twin.side_of(app.current()));
        let differing = (0..columns).filter(|&column| line.any(marked, column, columns));
        marks.extend(differing.map(|column| (column, "!", Tone::Differs)));
    }
    for check in it.decoded().checks.iter().filter(|c| c.seal == Seal::Broken) {
        if let Some(placed) = &check.placed {
            marks.push((line.column(placed.stored_at.start, columns), "x", Tone::Bad));
        }
    }
    let here = line.column(it.cursor.at, columns);
    marks.push((here, "^", Tone::Accent));
    for (column, glyph, tone) in marks {
        canvas.text(1 + column, 1, glyph, tone);
    }
    if canvas.height() > 2 {
        let first = it.address(0);
        let last = it.address(it.image().len() - 1);
        let at = it.address(it.cursor.at);
        canvas.text(1, 2, &first, Tone::Quiet);
        canvas.text((1 + columns).saturating_sub(last.len()), 2, &last, Tone::Quiet);
        let x = (1 + here).saturating_sub(at.len() / 2);
        if x > first.len() + 2 && x + at.len() + 2 < columns.saturating_sub(last.len()) {
            canvas.text(x, 2, &at, Tone::Accent);
        }
    }
}

/// Which columns hold a byte that differs from what was opened. Only steps that are in force can have made one, so
/// only their bytes are looked at.
fn edited_columns(app: &App, columns: usize) -> Vec<bool> {
    let it = app.it();
    let mut marked = vec![false; columns];
    for edit in it.contents.history.made().iter().flat_map(|c| &c.edits) {
        let span = edit.span();
        // A long edit is looked at column by column.
        let first = it.contents.skyline().column(span.start, columns);
        for (column, mark) in marked.iter_mut().enumerate().skip(first) {
            let stretch = it.contents.skyline().stretch(column, columns);
            let Some(part) = stretch.intersection(span) else {
                if stretch.start >= span.end {
                    break;
                }
                continue;
            };
            *mark |= part.of_bytes(it.contents.before().bytes()) != part.of_bytes(it.image().bytes());
        }
    }
    marked
}
