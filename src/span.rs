//! Places in an image.
//!
//! Three numbers that are easily mixed up are kept apart by name:
//! an *offset* counts bytes from the first byte of the image (`usize`),
//! an *address* is what the memory calls that byte (`u64`, the image's base plus the offset),
//! and a *length* counts bytes (`usize`).

use std::fmt;
use std::ops::Range;

/// A half-open range of offsets: `start` belongs to it, `end` does not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span {
    /// First offset inside.
    pub start: usize,
    /// First offset after the end; never below `start`.
    pub end: usize,
}

impl Span {
    /// The span from `start` up to, not including, `end`; empty when `end` lies before `start`.
    #[must_use]
    pub const fn new(start: usize, end: usize) -> Self {
        Span { start, end: if end < start { start } else { end } }
    }

    /// The span of `len` bytes from `start`; cut at the end of the address space.
    #[must_use]
    pub const fn of(start: usize, len: usize) -> Self {
        Span { start, end: start.saturating_add(len) }
    }

    /// Bytes in the span.
    #[must_use]
    pub const fn len(self) -> usize {
        self.end - self.start
    }

    /// True when no byte is in the span.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.start == self.end
    }

    /// True when `offset` lies inside.
    #[must_use]
    pub const fn contains(self, offset: usize) -> bool {
        self.start <= offset && offset < self.end
    }

    /// True when every offset of `other` lies inside.
    #[must_use]
    pub const fn covers(self, other: Span) -> bool {
        self.start <= other.start && other.end <= self.end
    }

    /// True when the two share an offset.
    #[must_use]
    pub const fn overlaps(self, other: Span) -> bool {
        self.start < other.end && other.start < self.end
    }

    /// What the two share; `None` when they share nothing.
    #[must_use]
    pub fn intersection(self, other: Span) -> Option<Span> {
        let start = self.start.max(other.start);
        let end = self.end.min(other.end);
        (start < end).then_some(Span { start, end })
    }

    /// From the first offset of the two to the last.
    #[must_use]
    pub fn joined(self, other: Span) -> Span {
        Span { start: self.start.min(other.start), end: self.end.max(other.end) }
    }

    /// The span as far further on; cut at the end of the address space.
    #[must_use]
    pub const fn moved(self, by: usize) -> Span {
        Span { start: self.start.saturating_add(by), end: self.end.saturating_add(by) }
    }

    /// Puts the span behind `spans`, joined with the last of them where that ends at its start.
    pub fn go_on(self, spans: &mut Vec<Span>) {
        match spans.last_mut().filter(|last| last.end == self.start) {
            Some(last) => last.end = self.end,
            None => spans.push(self),
        }
    }

    /// Its addresses in an image whose first byte has the address `base`.
    #[must_use]
    pub const fn addresses(self, base: u64) -> Range<u64> {
        base.saturating_add(self.start as u64)..base.saturating_add(self.end as u64)
    }

    /// The offsets as a standard range, for slicing.
    #[must_use]
    pub const fn range(self) -> Range<usize> {
        self.start..self.end
    }

    /// The part of `bytes` in the span; `None` when the span reaches past the end.
    #[must_use]
    pub fn of_bytes(self, bytes: &[u8]) -> Option<&[u8]> {
        bytes.get(self.range())
    }
}

/// Those of `sorted`, which stand in order and apart, that end behind `at`: only from them on can one hold it or lie
/// behind it.
#[must_use]
pub fn ending_behind(sorted: &[Span], at: usize) -> &[Span] {
    &sorted[sorted.partition_point(|span| span.end <= at)..]
}

impl From<Range<usize>> for Span {
    fn from(range: Range<usize>) -> Self {
        Span::new(range.start, range.end)
    }
}

impl fmt::Display for Span {
    /// `0x0040..0x0050`, the end not included.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "0x{:04X}..0x{:04X}", self.start, self.end)
    }
}

words! {
    /// Which byte of a number stands first.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
    pub enum ByteOrder {
        /// The most significant byte stands first.
        Big,
        /// The least significant byte stands first.
        #[default]
        Little,
    }
}

impl ByteOrder {
    /// The number that `bytes` (at most 16) form.
    #[must_use]
    pub fn number(self, bytes: &[u8]) -> u128 {
        let join = |number: u128, &byte: &u8| number << 8 | u128::from(byte);
        match self {
            ByteOrder::Big => bytes.iter().fold(0, join),
            ByteOrder::Little => bytes.iter().rev().fold(0, join),
        }
    }

    /// The low `len` bytes (at most 16) of `number`.
    #[must_use]
    pub fn bytes(self, number: u128, len: usize) -> Vec<u8> {
        let mut bytes = number.to_le_bytes();
        let bytes = &mut bytes[..len.min(16)];
        if self == ByteOrder::Big {
            bytes.reverse();
        }
        bytes.to_vec()
    }

    /// As [`ByteOrder::number`], for at most eight bytes and quicker.
    #[must_use]
    pub fn number_u64(self, bytes: &[u8]) -> u64 {
        let join = |number: u64, &byte: &u8| number << 8 | u64::from(byte);
        match self {
            ByteOrder::Big => bytes.iter().fold(0, join),
            ByteOrder::Little => bytes.iter().rev().fold(0, join),
        }
    }

    /// `high byte first`, `low byte first`.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            ByteOrder::Big => "high byte first",
            ByteOrder::Little => "low byte first",
        }
    }
}
