//! Images as pictures: each memory a strip from its first address at the top to its last one, what stands where, what
//! differs, and beside it in words what lies there. For a screen, a record or a sheet of paper.
//!
//! A strip has at most some hundred rows, whatever the size of the image, and neighbouring rows that are alike are one
//! area; so a picture stays small. Nothing is told by colour alone: every fill has its own pattern or width.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `portrait` | one image: what its bytes are, and its fields or what a survey found |
//! | `differing` | two or more images: what differs and what moved |
//! | `scale` | from addresses to rows, ticks |
//! | `labels` | words beside the strips, none over another |
//! | `look` | palette and patterns |

mod differing;
mod labels;
mod look;
mod portrait;
mod scale;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::ops::Range;
use std::path::is_separator;

pub use differing::comparison;
pub use portrait::{Contents, portrait};

use super::sides::Side;
use super::svg::{self, escape, number};
use super::text;
use crate::image::Image;
use crate::skyline::Skyline;
use crate::span::Span;
use labels::Label;
use look::Fill;
use scale::{Scale, runs};

/// Free around everything.
const MARGIN: f64 = 28.0;
/// Where the axis ends and the first strip begins.
const AXIS: f64 = 116.0;
/// Between lines of text.
const LINE: f64 = 17.0;
/// Columns of such a line.
const COLUMNS: usize = 132;
/// From the left edge of the labels to the right edge of the picture.
const LABELS: f64 = 500.0;
/// Columns of a label without its address.
const LABEL_COLUMNS: usize = 62;
/// Columns of the name above a strip.
const NAME_COLUMNS: usize = 27;
/// Width of a lane of marks, and of a lane of roles.
const LANE: f64 = 7.0;
const WIDE_LANE: f64 = 14.0;

/// A memory that is drawn from the top to the bottom.
struct Strip<'a> {
    /// What stands above it.
    name: String,
    image: &'a Image,
    skyline: Skyline,
    /// The address on the axis of its first byte.
    first: u64,
    /// What differs from the first strip, marked at its left; of the first strip at its right.
    differs: Vec<Range<u64>>,
    /// What only this image has.
    only: Vec<Range<u64>>,
}

impl<'a> Strip<'a> {
    fn new(name: String, image: &'a Image, first: u64) -> Self {
        let skyline = Skyline::whole(image);
        Strip { name, image, skyline, first, differs: Vec::new(), only: Vec::new() }
    }

    fn places(&self) -> Range<u64> {
        Span::new(0, self.image.len()).addresses(self.first)
    }

    /// What fills each row; `None` where the strip is not.
    fn rows(&self, scale: &Scale) -> Vec<Option<Fill>> {
        let offset = |place: u64| usize::try_from(place.saturating_sub(self.first)).unwrap_or(usize::MAX);
        let fill = |row: usize| {
            let row = scale.row(row);
            let span = Span::new(offset(row.start), offset(row.end).min(self.image.len()));
            if row.end <= self.first || span.is_empty() {
                return None;
            }
            let is_gap = self.image.gaps().iter().any(|gap| gap.covers(span));
            Some(if is_gap { Fill::Unmapped } else { Fill::from(self.skyline.density_of(span)) })
        };
        (0..scale.rows).map(fill).collect()
    }
}

/// Contents of the first strip that the second one holds in another way.
struct Band {
    left: Range<u64>,
    right: Range<u64>,
    fill: Fill,
}

/// A column beside the strips, filled row by row.
struct Lane {
    wide: f64,
    rows: Vec<Option<Fill>>,
}

/// Everything that is drawn.
struct Picture<'a> {
    title: String,
    /// What can be said in a sentence.
    sentence: String,
    /// Which files these are, and by which layout.
    facts: Vec<String>,
    scale: Scale,
    strips: Vec<Strip<'a>>,
    strip_wide: f64,
    /// Between strips.
    gap: f64,
    bands: Vec<Band>,
    lanes: Vec<Lane>,
    labels: Vec<Label>,
    /// What to heed before anybody touches the board.
    cautions: Vec<String>,
}

/// Which file an image is, in a line.
fn fact(side: &Side<'_>) -> String {
    let digest: String = side.sha256.iter().flat_map(|d| d.chars().take(16)).collect();
    let digest = if digest.is_empty() { digest } else { format!(", SHA-256 {digest}…") };
    let bytes = text::count(side.image.len(), "byte");
    format!("{}, {bytes}, {}{digest}", text::named(&side.path), side.format.name())
}

/// The file of an image without its folders.
fn short_name(side: &Side<'_>) -> String {
    let path = text::named(&side.path);
    path.rsplit(is_separator).next().unwrap_or(path).to_owned()
}

impl Picture<'_> {
    fn draw(&self) -> String {
        let rows: Vec<Vec<Option<Fill>>> = self.strips.iter().map(|s| s.rows(&self.scale)).collect();
        let mut used: BTreeSet<Fill> =
            rows.iter().chain(self.lanes.iter().map(|l| &l.rows)).flatten().flatten().copied().collect();
        used.extend(self.bands.iter().map(|b| b.fill));
        if self.strips.iter().any(|s| !s.differs.is_empty()) {
            used.insert(Fill::Differs);
        }
        if self.strips.iter().any(|s| !s.only.is_empty()) {
            used.insert(Fill::Only);
        }
        let used: Vec<Fill> = used.into_iter().collect();
        let labels = labels::placed(&self.scale, self.labels.clone());

        let strips_end =
            AXIS + self.strip_wide + (self.strip_wide + self.gap) * (self.strips.len().max(1) - 1) as f64;
        let lanes_wide: f64 = self.lanes.iter().map(|l| l.wide + 4.0).sum();
        let lanes_at = strips_end + if self.strips.len() > 1 { LANE + 8.0 } else { 8.0 };
        let labels_at = lanes_at + lanes_wide + 30.0;
        let wide = (labels_at + LABELS).max(960.0);

        let mut body = String::new();
        let mut y = MARGIN + 18.0;
        let _ = writeln!(
            body,
            "<text class=\"ink head\" x=\"{MARGIN}\" y=\"{}\">{}</text>",
            number(y),
            escape(&text::cut(&self.title, 88))
        );
        y += 6.0;
        let mut line = |body: &mut String, class: &str, line: &str| {
            y += LINE;
            let _ = writeln!(
                body,
                "<text class=\"{class}\" x=\"{MARGIN}\" y=\"{}\">{}</text>",
                number(y),
                escape(line)
            );
        };
        for said in text::wrap(&text::sentence(&self.sentence), COLUMNS) {
            line(&mut body, "ink", &said);
        }
        for fact in self.facts.iter().flat_map(|f| text::wrap(f, COLUMNS)) {
            line(&mut body, "quiet", &fact);
        }
        y += 42.0;
        let top = y;
        let height = self.scale.height();
        self.draw_axis(&mut body, top);
        for (n, (strip, rows)) in self.strips.iter().zip(&rows).enumerate() {
            let x = AXIS + (self.strip_wide + self.gap) * n as f64;
            self.draw_strip(&mut body, n, strip, rows, (x, top));
        }
        self.draw_bands(&mut body, top);
        let mut x = lanes_at;
        for lane in &self.lanes {
            for (rows, fill) in runs(&lane.rows) {
                if let Some(fill) = fill {
                    self.area(&mut body, fill, (x, top), lane.wide, &rows);
                }
            }
            x += lane.wide + 4.0;
        }
        self.draw_labels(&mut body, &labels, (lanes_at + lanes_wide, labels_at, top));
        y = top + height + 46.0;
        y = self.draw_legend(&mut body, &used, y, wide);
        for caution in &self.cautions {
            for said in text::wrap(&format!("Caution: {caution}"), COLUMNS) {
                y += LINE;
                let _ = writeln!(
                    body,
                    "<text class=\"ink\" x=\"{MARGIN}\" y=\"{}\">{}</text>",
                    number(y),
                    escape(&said)
                );
            }
        }
        let high = y + MARGIN;
        let mut picture = svg::open((wide, high), &self.title, &self.in_words(&labels));
        picture.push_str(&look::definitions(&used));
        picture.push_str("<rect class=\"page\" width=\"100%\" height=\"100%\"/>\n");
        picture.push_str(&body);
        picture + "</svg>\n"
    }

    /// The picture for who cannot see it.
    fn in_words(&self, labels: &[(f64, Label)]) -> String {
        let mut words = text::sentence(&self.sentence);
        for (_, label) in labels {
            let word = if label.word.is_empty() { String::new() } else { format!(", {}", label.word) };
            let _ = write!(words, " {}: {}{word}.", text::address(label.places.start), label.text);
        }
        for caution in &self.cautions {
            let _ = write!(words, " Caution: {}", text::sentence(caution));
        }
        words
    }

    fn draw_axis(&self, body: &mut String, top: f64) {
        let last = self.scale.places.end.saturating_sub(1);
        for place in self.scale.ticks() {
            let y = top + self.scale.y(place);
            let _ = writeln!(
                body,
                "<path class=\"line\" d=\"M{} {}h7\"/><text class=\"quiet at end\" x=\"{}\" y=\"{}\">{}</text>",
                number(AXIS - 10.0),
                number(y),
                number(AXIS - 14.0),
                number(y + 4.0),
                text::address(place)
            );
        }
        let _ = writeln!(
            body,
            "<text class=\"quiet at end\" x=\"{}\" y=\"{}\">{}</text>",
            number(AXIS - 14.0),
            number(top + self.scale.height() + 14.0),
            text::address(last)
        );
    }

    fn draw_strip(
        &self,
        body: &mut String,
        n: usize,
        strip: &Strip<'_>,
        rows: &[Option<Fill>],
        at: (f64, f64),
    ) {
        let (x, top) = at;
        let wide = self.strip_wide;
        let places = strip.places();
        let (from, to) = (top + self.scale.y(places.start), top + self.scale.y(places.end));
        let _ = writeln!(
            body,
            "<text class=\"ink mid\" x=\"{}\" y=\"{}\">{}</text>",
            number(x + wide / 2.0),
            number(top - 12.0),
            escape(&text::cut(&text::clean(&strip.name), NAME_COLUMNS))
        );
        let _ = writeln!(
            body,
            "<rect class=\"blank\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            number(x - 0.5),
            number(from - 0.5),
            number(wide + 1.0),
            number(to - from + 1.0)
        );
        for fill in [Fill::Unmapped, Fill::Sparse, Fill::Text, Fill::Dense] {
            let mut areas = String::new();
            for (rows, _) in runs(rows).into_iter().filter(|(_, f)| *f == Some(fill)) {
                let (y, high) = self.rows_y(&rows, 0.0);
                let y = (top + y).max(from);
                let high = high.min(to - y);
                let wide = number(wide * fill.share());
                let _ = write!(areas, "M{} {}h{wide}v{}h-{wide}z", number(x), number(y), number(high));
            }
            if !areas.is_empty() {
                let _ = writeln!(body, "<path class=\"{}\" d=\"{areas}\"/>", fill.class());
            }
        }
        // Of the first strip on its right, of the others on the side of the first.
        let lane = if n == 0 { x + wide + 2.0 } else { x - 2.0 - LANE };
        for (fill, marked) in [(Fill::Only, &strip.only), (Fill::Differs, &strip.differs)] {
            let mut rows = vec![false; self.scale.rows];
            for places in marked {
                rows.get_mut(self.scale.rows_of(places)).unwrap_or_default().fill(true);
            }
            for (rows, _) in runs(&rows).into_iter().filter(|(_, is_marked)| *is_marked) {
                self.area(body, fill, (lane, top), LANE, &rows);
            }
        }
    }

    /// Where these rows begin and how high they are, at least `least`.
    fn rows_y(&self, rows: &Range<usize>, least: f64) -> (f64, f64) {
        let (from, to) = (self.scale.row_y(rows.start), self.scale.row_y(rows.end));
        (from, (to - from).max(least))
    }

    fn area(&self, body: &mut String, fill: Fill, at: (f64, f64), wide: f64, rows: &Range<usize>) {
        let (y, high) = self.rows_y(rows, 2.5);
        let _ = writeln!(
            body,
            "<rect class=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            fill.class(),
            number(at.0),
            number(at.1 + y),
            number(wide),
            number(high)
        );
    }

    /// What stands between the first two strips.
    fn draw_bands(&self, body: &mut String, top: f64) {
        let left = AXIS + self.strip_wide + 2.0 + LANE;
        let right = AXIS + self.strip_wide + self.gap - 2.0 - LANE;
        for band in &self.bands {
            let y = |place: u64| number(top + self.scale.y(place));
            let _ = writeln!(
                body,
                "<path class=\"{}\" d=\"M{} {}L{} {}V{}L{} {}z\"/>",
                band.fill.class(),
                number(left),
                y(band.left.start),
                number(right),
                y(band.right.start),
                y(band.right.end),
                number(left),
                y(band.left.end)
            );
        }
    }

    fn draw_labels(&self, body: &mut String, labels: &[(f64, Label)], (from, at, top): (f64, f64, f64)) {
        let digits = labels.iter().map(|(_, l)| text::address(l.places.start).len()).max().unwrap_or(0);
        let text_at = at + digits as f64 * 6.8 + 8.0;
        let mut lines = String::new();
        for (y, label) in labels {
            let (start, y) = (top + self.scale.y(label.places.start) + 0.5, top + y);
            let _ = write!(
                lines,
                "M{} {}h5L{} {}h4",
                number(from - 2.0),
                number(start),
                number(at - 7.0),
                number(y)
            );
            let class = if label.is_loud { "loud" } else { "ink" };
            let word = if label.word.is_empty() {
                String::new()
            } else {
                format!("<tspan class=\"quiet word\" dx=\"8\">{}</tspan>", label.word)
            };
            let _ = writeln!(
                body,
                "<text class=\"quiet at\" x=\"{}\" y=\"{}\">{}</text><text class=\"{class}\" x=\"{}\" y=\"{}\">{}{word}</text>",
                number(at),
                number(y + 4.0),
                text::address(label.places.start),
                number(text_at),
                number(y + 4.0),
                escape(&text::cut(&text::clean(&label.text), LABEL_COLUMNS))
            );
        }
        if !lines.is_empty() {
            let _ = writeln!(body, "<path class=\"line\" d=\"{lines}\"/>");
        }
    }

    /// Draws what each fill means; returns where it ends.
    fn draw_legend(&self, body: &mut String, used: &[Fill], top: f64, wide: f64) -> f64 {
        let (mut x, mut y) = (MARGIN, top);
        for fill in used {
            let word = fill.word();
            let room = 34.0 + text::width(word) as f64 * 6.6 + 14.0;
            if x + room > wide - MARGIN {
                (x, y) = (MARGIN, y + LINE + 3.0);
            }
            let share = if fill.share() == 0.0 { 1.0 } else { fill.share() };
            let _ = writeln!(
                body,
                "<rect class=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"11\"/><text class=\"quiet\" x=\"{}\" y=\"{}\">{word}</text>",
                fill.class(),
                number(x),
                number(y - 9.5),
                number(24.0 * share),
                number(x + 31.0),
                number(y)
            );
            x += room;
        }
        let row = text::count(usize::try_from(self.scale.row_bytes()).unwrap_or(usize::MAX), "byte");
        y += LINE + 5.0;
        let _ = writeln!(
            body,
            "<text class=\"quiet\" x=\"{MARGIN}\" y=\"{}\">From the top to the bottom; a row stands for {row}.</text>",
            number(y)
        );
        y + 3.0
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::image::Format;

    #[test]
    fn a_name_with_what_acts_on_a_terminal_is_shown_whole() {
        let image = Image::raw(vec![0]);
        let path = text::Name::of(Path::new("reads/unit\u{1b}7.bin"));
        let side = Side { path, format: Format::Raw, image: &image, sha256: None };
        if !is_separator('\\') {
            assert_eq!(short_name(&side), "unit\\x1B7.bin");
        }
    }
}
