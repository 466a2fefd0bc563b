//! The whole image at a glance: what kind of bytes stand where.

use crate::span::Span;

/// What most of a stretch holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ground {
    /// One value only, FF or 00.
    Blank,
    /// Mostly FF or 00, a few other bytes.
    Sparse,
    /// Mostly printable characters.
    Text,
    /// Anything else.
    Dense,
}

/// Counts over one stretch.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Count {
    bytes: usize,
    blank: usize,
    text: usize,
}

impl Count {
    fn of(bytes: &[u8]) -> Self {
        let blank = bytes.iter().filter(|b| matches!(b, 0x00 | 0xFF)).count();
        let text = bytes.iter().filter(|b| matches!(b, 0x20..=0x7E)).count();
        Count { bytes: bytes.len(), blank, text }
    }

    fn plus(self, other: Self) -> Self {
        Count {
            bytes: self.bytes + other.bytes,
            blank: self.blank + other.blank,
            text: self.text + other.text,
        }
    }

    const fn ground(self) -> Ground {
        let filled = self.bytes - self.blank;
        if filled == 0 {
            Ground::Blank
        } else if filled * 8 < self.bytes {
            Ground::Sparse
        } else if self.text * 4 >= filled * 3 {
            Ground::Text
        } else {
            Ground::Dense
        }
    }
}

/// The image in at most [`Skyline::CELLS`] stretches of equal length.
#[derive(Debug, Clone, Default)]
pub struct Skyline {
    cell: usize,
    counts: Vec<Count>,
    len: usize,
}

impl Skyline {
    /// More than any screen has columns.
    const CELLS: usize = 1024;

    /// Looks over `bytes`.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        let cell = bytes.len().div_ceil(Self::CELLS).max(1);
        Skyline { cell, counts: bytes.chunks(cell).map(Count::of).collect(), len: bytes.len() }
    }

    /// Looks again at the bytes of `span`, after they were changed.
    pub fn renew(&mut self, bytes: &[u8], span: Span) {
        if bytes.len() != self.len {
            *self = Skyline::of(bytes);
            return;
        }
        let cells = span.start / self.cell..span.end.div_ceil(self.cell).min(self.counts.len());
        for index in cells {
            let cell = Span::of(index * self.cell, self.cell);
            let cell = Span::new(cell.start, cell.end.min(self.len));
            if let (Some(count), Some(bytes)) = (self.counts.get_mut(index), cell.of_bytes(bytes)) {
                *count = Count::of(bytes);
            }
        }
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
    pub fn ground(&self, column: usize, columns: usize) -> Ground {
        let stretch = self.stretch(column, columns);
        let cells = stretch.start / self.cell..stretch.end.div_ceil(self.cell);
        let counts = self.counts.get(cells).unwrap_or_default();
        counts.iter().fold(Count::default(), |sum, &c| sum.plus(c)).ground()
    }

    /// The column of `columns` over the byte at `at`.
    #[must_use]
    pub fn column(&self, at: usize, columns: usize) -> usize {
        (0..columns).rev().find(|&c| self.stretch(c, columns).start <= at).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_lies_under_exactly_one_column_that_shows_it() {
        for len in [1, 2, 7, 80, 255, 256, 8192, 100_000] {
            let line = Skyline::of(&vec![0; len]);
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
    fn looking_again_at_what_changed_is_as_good_as_looking_at_everything() {
        let mut bytes = vec![0xFF; 5000];
        let mut line = Skyline::of(&bytes);
        for (at, len) in [(0, 1), (4999, 1), (1234, 700), (4, 9)] {
            let span = Span::of(at, len);
            bytes[span.range()].fill(0x41);
            line.renew(&bytes, span);
            assert_eq!(line.counts, Skyline::of(&bytes).counts);
        }
        bytes.truncate(70);
        line.renew(&bytes, Span::new(70, 70));
        assert_eq!(line.counts, Skyline::of(&bytes).counts);
    }

    #[test]
    fn what_most_of_a_stretch_holds_decides() {
        let ground = |bytes: &[u8]| Skyline::of(bytes).ground(0, 1);
        assert_eq!(ground(&[0xFF; 64]), Ground::Blank);
        assert_eq!(ground(&[0x00; 64]), Ground::Blank);
        let mut sparse = [0xFF; 64];
        sparse[3] = 0x81;
        assert_eq!(ground(&sparse), Ground::Sparse);
        assert_eq!(ground(b"FK-CR8-2047B\xFF\xFF"), Ground::Text);
        assert_eq!(ground(&[0x81, 0x92, 0xA3, 0x41]), Ground::Dense);
        assert_eq!(ground(&[]), Ground::Blank);
    }
}
