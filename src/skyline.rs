//! The whole image at a glance: what kind of bytes stand where.
//!
//! A large image is looked over in the background, see [`Skyline::look`]; what is changed meanwhile is counted on top,
//! so a change costs what was changed and nothing else.

use crate::edit::Edit;
use crate::image::Image;
use crate::span::{Span, ending_behind};

/// What most of a stretch holds, its gaps left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Density {
    /// Not looked at yet, or a gap.
    Unknown,
    /// One value only, FF or 00.
    Blank,
    /// Mostly FF or 00, a few other bytes.
    Sparse,
    /// Mostly printable characters.
    Text,
    /// Anything else.
    Dense,
}

/// Counts over one stretch; below zero while only what was taken away is known.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Count {
    bytes: isize,
    blank: isize,
    text: isize,
}

impl Count {
    fn of(bytes: &[u8]) -> Self {
        let mut count = Count { bytes: bytes.len() as isize, ..Count::default() };
        let is_blank = |byte: u8| u8::from(byte.wrapping_add(1) <= 1);
        let is_text = |byte: u8| u8::from(byte.wrapping_sub(0x20) <= 0x7E - 0x20);
        // A count of one byte for each place in a lane, so that the processor counts a whole lane at once, and no more
        // lanes than such counts hold.
        const LANE: usize = 32;
        let mut add = |blank: u8, text: u8| {
            count.blank += isize::from(blank);
            count.text += isize::from(text);
        };
        for some in bytes.chunks(LANE * 255) {
            let (mut blank, mut text) = ([0; LANE], [0; LANE]);
            let (lanes, rest) = some.as_chunks::<LANE>();
            for lane in lanes {
                for ((byte, blank), text) in lane.iter().zip(&mut blank).zip(&mut text) {
                    *blank += is_blank(*byte);
                    *text += is_text(*byte);
                }
            }
            blank.into_iter().zip(text).for_each(|(blank, text)| add(blank, text));
            rest.iter().for_each(|byte| add(is_blank(*byte), is_text(*byte)));
        }
        count
    }

    /// Over the cells of `cell` bytes that begin in `span`, without what lies in gaps.
    fn of_cells(image: &Image, span: Span, cell: usize) -> Vec<Count> {
        let bytes = span.of_bytes(image.bytes()).unwrap_or_default();
        let mut counts: Vec<Count> = bytes.chunks(cell).map(Count::of).collect();
        let near = ending_behind(image.gaps(), span.start);
        for gap in near.iter().map_while(|gap| gap.intersection(span)) {
            let cells = (gap.start - span.start) / cell..(gap.end - span.start).div_ceil(cell);
            for index in cells {
                let part = Span::of(span.start + index * cell, cell).intersection(gap);
                let unread = part.and_then(|part| part.of_bytes(image.bytes())).map(Count::of);
                counts[index] = counts[index].minus(unread.unwrap_or_default());
            }
        }
        counts
    }

    fn plus(self, other: Self) -> Self {
        Count {
            bytes: self.bytes + other.bytes,
            blank: self.blank + other.blank,
            text: self.text + other.text,
        }
    }

    fn minus(self, other: Self) -> Self {
        Count {
            bytes: self.bytes - other.bytes,
            blank: self.blank - other.blank,
            text: self.text - other.text,
        }
    }

    const fn density(self) -> Density {
        let filled = self.bytes - self.blank;
        if self.bytes == 0 {
            Density::Unknown
        } else if filled == 0 {
            Density::Blank
        } else if filled * 8 < self.bytes {
            Density::Sparse
        } else if self.text * 4 >= filled * 3 {
            Density::Text
        } else {
            Density::Dense
        }
    }
}

/// The image in at most [`Skyline::CELLS`] stretches of equal length.
#[derive(Debug, Clone, Default)]
pub struct Skyline {
    cell: usize,
    counts: Vec<Count>,
    len: usize,
    /// Cells at the front that were looked at.
    seen: usize,
    /// Somebody looks at the rest.
    is_looked_at: bool,
    /// Which look over the image is the one that counts.
    look: u64,
}

/// A look over the image as it was at one moment, which another thread can take.
pub struct Look {
    image: Image,
    cell: usize,
    number: u64,
}

/// What a look saw of the next cells.
pub struct Seen {
    number: u64,
    counts: Vec<Count>,
}

impl Look {
    /// Looks from the front to the end and gives what it saw piece by piece, until `take` wants no more.
    pub fn over(&self, mut take: impl FnMut(Seen) -> bool) {
        let (len, some) = (self.image.len(), self.cell * Skyline::CELLS_AT_ONCE);
        for start in (0..len).step_by(some) {
            let cells = Span::new(start, len.min(start + some));
            let counts = Count::of_cells(&self.image, cells, self.cell);
            if !take(Seen { number: self.number, counts }) {
                break;
            }
        }
    }
}

impl Skyline {
    /// More than any screen has columns.
    const CELLS: usize = 1024;
    /// Cells that a look gives at once.
    const CELLS_AT_ONCE: usize = 32;
    /// Images up to this size are looked over at once.
    const QUICK_BYTES: usize = 1 << 20;

    /// Looks over the image, or leaves it for later when that takes its time.
    #[must_use]
    pub fn of(image: &Image) -> Self {
        let len = image.len();
        let cell = len.div_ceil(Self::CELLS).max(1);
        let cells = len.div_ceil(cell);
        let mut skyline = Skyline { cell, counts: vec![Count::default(); cells], len, ..Skyline::default() };
        if len <= Self::QUICK_BYTES {
            skyline.counts = Count::of_cells(image, Span::new(0, len), cell);
            skyline.seen = cells;
        }
        skyline
    }

    /// Looks over the whole image, however long that takes.
    #[must_use]
    pub fn whole(image: &Image) -> Self {
        let mut skyline = Skyline::of(image);
        if let Some(look) = skyline.look(image) {
            look.over(|seen| {
                skyline.take(seen);
                true
            });
        }
        skyline
    }

    /// The look over the image that is still to be taken; `None` when all was seen, or somebody is looking.
    pub fn look(&mut self, image: &Image) -> Option<Look> {
        if self.seen == self.counts.len() || self.is_looked_at {
            return None;
        }
        self.counts.fill(Count::default());
        self.is_looked_at = true;
        Some(Look { image: image.clone(), cell: self.cell, number: self.look })
    }

    /// Takes what a look saw, unless the image has another size by now.
    pub fn take(&mut self, seen: Seen) {
        if seen.number != self.look {
            return;
        }
        let counts = self.counts.get_mut(self.seen..).unwrap_or_default();
        let number = counts.len().min(seen.counts.len());
        for (count, seen) in counts.iter_mut().zip(seen.counts) {
            *count = count.plus(seen);
        }
        self.seen += number;
    }

    /// Counts what an edit changed that was made of `image`, or taken back.
    pub fn change(&mut self, image: &Image, edit: &Edit) {
        if image.len() != self.len {
            // A look at the image of the old size is of no use any more.
            *self = Skyline { look: self.look + 1, ..Skyline::of(image) };
            return;
        }
        let mut at = edit.at;
        while let Some(rest) = Span::new(at, edit.span().end).intersection(Span::new(at, self.len)) {
            let index = at / self.cell;
            let part = Span::new(at, rest.end.min((index + 1) * self.cell));
            let inside = part.start - edit.at..part.end - edit.at;
            let (Some(count), Some(before), Some(after)) =
                (self.counts.get_mut(index), edit.before.get(inside.clone()), edit.after.get(inside))
            else {
                return;
            };
            *count = count.minus(Count::of(before)).plus(Count::of(after));
            at = part.end;
        }
    }

    /// Which cells of an image of so many bytes these places lie in.
    #[must_use]
    pub fn cells(bytes: usize, places: impl Iterator<Item = Span>) -> Vec<bool> {
        let cell = bytes.div_ceil(Self::CELLS).max(1);
        let mut cells = vec![false; bytes.div_ceil(cell)];
        for place in places.filter(|p| !p.is_empty()) {
            let touched = cells.get_mut(place.start / cell..place.end.div_ceil(cell)).unwrap_or_default();
            touched.fill(true);
        }
        cells
    }

    /// Whether a column of `columns` lies over one of these cells.
    #[must_use]
    pub fn any(&self, cells: &[bool], column: usize, columns: usize) -> bool {
        let stretch = self.stretch(column, columns);
        let cells = cells.get(stretch.start / self.cell..stretch.end.div_ceil(self.cell));
        cells.is_some_and(|cells| cells.contains(&true))
    }

    /// The stretch of the image that column `column` of `columns` stands for.
    #[must_use]
    pub fn stretch(&self, column: usize, columns: usize) -> Span {
        let edge = |c: usize| {
            let at = self.counts.len() as u128 * c as u128 / columns.max(1) as u128;
            usize::try_from(at).unwrap_or(usize::MAX).saturating_mul(self.cell).min(self.len)
        };
        let start = edge(column);
        // With more columns than bytes, several columns show one byte.
        Span::new(start, edge(column + 1).max((start + 1).min(self.len)))
    }

    /// What that stretch holds.
    #[must_use]
    pub fn density(&self, column: usize, columns: usize) -> Density {
        self.density_of(self.stretch(column, columns))
    }

    /// What a stretch of the image holds, as finely as it was looked over.
    #[must_use]
    pub fn density_of(&self, stretch: Span) -> Density {
        let cell = self.cell.max(1);
        let cells = stretch.start / cell..stretch.end.div_ceil(cell);
        if cells.end > self.seen {
            return Density::Unknown;
        }
        let counts = self.counts.get(cells).unwrap_or_default();
        counts.iter().fold(Count::default(), |sum, &c| sum.plus(c)).density()
    }

    /// The column of `columns` over the byte at `at`, the first of them where several show it.
    #[must_use]
    pub fn column(&self, at: usize, columns: usize) -> usize {
        let (mut column, mut last) = (0, columns.saturating_sub(1));
        while column < last {
            let middle = column.midpoint(last);
            if self.stretch(middle, columns).end > at { last = middle } else { column = middle + 1 }
        }
        column
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(bytes: &[u8]) -> Skyline {
        Skyline::of(&Image::raw(bytes.to_vec()))
    }

    #[test]
    fn every_byte_lies_under_exactly_one_column_that_shows_it() {
        for len in [1, 2, 7, 80, 255, 256, 8192, 100_000] {
            let line = of(&vec![0; len]);
            for columns in [1, 3, 80, 200] {
                assert_eq!(line.stretch(0, columns).start, 0);
                assert_eq!(line.stretch(columns - 1, columns).end, len, "{len} bytes, {columns} columns");
                for column in 1..columns {
                    let (a, b) = (line.stretch(column - 1, columns), line.stretch(column, columns));
                    assert!(a.end >= b.start && !b.is_empty(), "{len} bytes, {columns} columns: {a} {b}");
                }
                for at in (0..len).step_by(len / 7 + 1) {
                    assert!(line.stretch(line.column(at, columns), columns).contains(at));
                }
            }
        }
    }

    #[test]
    fn counts_are_those_of_looking_at_each_byte() {
        let bytes: Vec<u8> = (0..3000_u32).map(|i| (i * i % 257) as u8).collect();
        for bytes in [
            &bytes[..],
            &[],
            &[0; 255],
            &[0xFF; 256],
            &[0x20; 600],
            &[0xFF; 20_000],
            &[0x7E, 0x7F, 0x1F, 1, 0xFE],
        ] {
            let blank = bytes.iter().filter(|b| matches!(b, 0x00 | 0xFF)).count() as isize;
            let text = bytes.iter().filter(|b| matches!(b, 0x20..=0x7E)).count() as isize;
            assert_eq!(Count::of(bytes), Count { bytes: bytes.len() as isize, blank, text });
        }
    }

    fn edit(image: &mut Image, at: usize, after: Vec<u8>) -> Edit {
        let before = image.bytes()[at..at + after.len()].to_vec();
        image.write(at, &after);
        Edit { at, before, after }
    }

    #[test]
    fn counting_what_changed_is_as_good_as_looking_at_everything() {
        let mut image = Image::raw(vec![0xFF; 5000]);
        let mut line = Skyline::of(&image);
        for (at, len) in [(0, 1), (4999, 1), (1234, 700), (4, 9)] {
            let edit = edit(&mut image, at, vec![0x41; len]);
            line.change(&image, &edit);
            assert_eq!(line.counts, Skyline::of(&image).counts);
        }
        let cut = Edit { at: 70, before: vec![0xFF; 4930], after: vec![] };
        image = Image::raw(image.bytes()[..70].to_vec());
        line.change(&image, &cut);
        assert_eq!(line.counts, Skyline::of(&image).counts);
    }

    #[test]
    fn what_is_changed_while_a_large_image_is_looked_at_is_counted_once() {
        let mut image = Image::raw(vec![0xFF; 3 << 20]);
        let mut line = Skyline::of(&image);
        assert_eq!(line.density(0, 80), Density::Unknown);
        let first = edit(&mut image, 10, vec![0x41; 5000]);
        line.change(&image, &first);
        let look = line.look(&image).unwrap();
        assert!(line.look(&image).is_none(), "one look is enough");
        let mut all = Vec::new();
        look.over(|seen| {
            all.push(seen);
            true
        });
        for (n, seen) in all.into_iter().enumerate() {
            line.take(seen);
            if n == 3 {
                assert_ne!(line.density(0, 80), Density::Unknown);
                assert_eq!(line.density(79, 80), Density::Unknown);
                for at in [20, 2 << 20, (3 << 20) - 1] {
                    let edit = edit(&mut image, at, vec![0]);
                    line.change(&image, &edit);
                }
            }
        }
        let mut again = Skyline::of(&image);
        again.look(&image).unwrap().over(|seen| {
            again.take(seen);
            true
        });
        assert_eq!((line.seen, line.counts), (again.seen, again.counts));
        assert_ne!(line.seen, 0);
    }

    #[test]
    fn what_most_of_a_stretch_holds_decides() {
        let density = |bytes: &[u8]| of(bytes).density(0, 1);
        assert_eq!(density(&[0xFF; 64]), Density::Blank);
        assert_eq!(density(&[0x00; 64]), Density::Blank);
        let mut sparse = [0xFF; 64];
        sparse[3] = 0x81;
        assert_eq!(density(&sparse), Density::Sparse);
        assert_eq!(density(b"FK-CR8-2047B\xFF\xFF"), Density::Text);
        assert_eq!(density(&[0x81, 0x92, 0xA3, 0x41]), Density::Dense);
        assert_eq!(density(&[]), Density::Unknown);
    }
}
