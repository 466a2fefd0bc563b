//! The bytes of one memory at one moment: a base address, the bytes, and which of them are mapped.
//!
//! An image is dense: it holds every offset from the first mapped byte to the last, and bytes in a gap
//! (only record files can leave gaps) read as [`GAP_FILL`]. That keeps every algorithm a walk over one slice;
//! the price is memory for the gaps, so the codecs refuse spans over a stated limit.

mod common;
mod format;
mod ihex;
pub mod records;
mod srec;
#[cfg(test)]
mod tests;

pub use common::Common;
pub use format::{Format, Writing, read, write};

use crate::span::{Span, ending_behind};

/// What a byte in a gap reads as: the erased value of nearly every serial memory.
pub const GAP_FILL: u8 = 0xFF;

/// Storage for bytes that are not held in a vector, such as a private memory map: what was changed is held in
/// memory, the rest stays where it is. Writing to it must never reach the file.
pub trait Backing: Send + Sync {
    /// The bytes.
    fn bytes(&self) -> &[u8];
    /// Puts `bytes` at `at`, in this process's copy; what would lie outside is left out.
    fn write(&mut self, at: usize, bytes: &[u8]);
    /// The same bytes once more, to be changed on their own. It must cost what was changed, not what there is.
    /// `None` when the system does not give it.
    fn again(&self) -> Option<Box<dyn Backing>>;
}

enum Bytes {
    Owned(Vec<u8>),
    Backed(Box<dyn Backing>),
}

/// The bytes of one memory at one moment.
pub struct Image {
    base: u64,
    bytes: Bytes,
    gaps: Vec<Span>,
    /// Where execution starts, when a record file says so.
    pub start: Option<StartAddress>,
    /// The text of a header record (S0), kept so that it can be written again.
    pub header: Option<Vec<u8>>,
}

/// The start address of a record file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StartAddress {
    /// CS and IP of Intel HEX record type 03.
    Segment(u16, u16),
    /// The linear address of Intel HEX record type 05 or of S7, S8, S9.
    Linear(u32),
}

impl Image {
    /// An image of raw bytes at address 0.
    #[must_use]
    pub fn raw(bytes: Vec<u8>) -> Self {
        Image::with_gaps(0, bytes, Vec::new())
    }

    /// An image over storage that is not a vector, at address 0.
    #[must_use]
    pub fn backed(backing: Box<dyn Backing>) -> Self {
        Image { base: 0, bytes: Bytes::Backed(backing), gaps: Vec::new(), start: None, header: None }
    }

    /// An image at `base` with `gaps` (offsets; sorted, not touching, inside the bytes).
    #[must_use]
    pub fn with_gaps(base: u64, bytes: Vec<u8>, gaps: Vec<Span>) -> Self {
        debug_assert!(gaps.windows(2).all(|w| w[0].end < w[1].start));
        debug_assert!(gaps.iter().all(|g| !g.is_empty() && g.end <= bytes.len()));
        Image { base, bytes: Bytes::Owned(bytes), gaps, start: None, header: None }
    }

    /// The address of offset 0.
    #[must_use]
    pub fn base(&self) -> u64 {
        self.base
    }

    /// Says that offset 0 has this address. The start address stays as it is.
    pub fn set_base(&mut self, base: u64) {
        self.base = base;
    }

    /// The address of `offset`.
    #[must_use]
    pub fn address(&self, offset: usize) -> u64 {
        self.base.saturating_add(offset as u64)
    }

    /// The offset of `address`; `None` outside the image.
    #[must_use]
    pub fn offset(&self, address: u64) -> Option<usize> {
        let offset = usize::try_from(address.checked_sub(self.base)?).ok()?;
        (offset < self.len()).then_some(offset)
    }

    /// Every byte from the first to the last mapped one; bytes in gaps hold [`GAP_FILL`].
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        match &self.bytes {
            Bytes::Owned(bytes) => bytes,
            Bytes::Backed(backing) => backing.bytes(),
        }
    }

    /// Puts `bytes` at `at`; what would lie outside the image is left out. Gaps stay gaps whatever is written there.
    /// Undo knows nothing of it; see [`crate::edit`].
    pub fn write(&mut self, at: usize, bytes: &[u8]) {
        match &mut self.bytes {
            Bytes::Backed(backing) => backing.write(at, bytes),
            Bytes::Owned(all) => {
                let there = all.get_mut(at..).unwrap_or_default();
                let len = there.len().min(bytes.len());
                there[..len].copy_from_slice(&bytes[..len]);
            }
        }
    }

    /// The bytes, to be changed at will. Bytes that are not held in a vector are copied into one first.
    #[must_use]
    pub fn bytes_mut(&mut self) -> &mut [u8] {
        self.copy_out();
        match &mut self.bytes {
            Bytes::Owned(bytes) => bytes,
            Bytes::Backed(_) => &mut [],
        }
    }

    /// Puts `bytes` in the place of everything from `at` on; see [`crate::edit`]. Bytes that are not held in a
    /// vector are copied into one first.
    pub(crate) fn replace_end(&mut self, at: usize, bytes: &[u8]) {
        self.copy_out();
        if let Bytes::Owned(all) = &mut self.bytes {
            all.truncate(at);
            all.extend_from_slice(bytes);
        }
    }

    fn copy_out(&mut self) {
        if let Bytes::Backed(backing) = &self.bytes {
            self.bytes = Bytes::Owned(backing.bytes().to_vec());
        }
    }

    /// Bytes from the first to the last mapped one.
    #[must_use]
    pub fn len(&self) -> usize {
        self.bytes().len()
    }

    /// True when there are no bytes.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The unmapped places inside, sorted.
    #[must_use]
    pub fn gaps(&self) -> &[Span] {
        &self.gaps
    }

    /// True when every offset of `span` exists and is mapped.
    #[must_use]
    pub fn is_mapped(&self, span: Span) -> bool {
        let next = ending_behind(&self.gaps, span.start).first();
        span.end <= self.len() && !next.is_some_and(|gap| gap.overlaps(span))
    }

    /// The bytes of `span`; `None` when a part of it is outside the image or unmapped.
    #[must_use]
    pub fn get(&self, span: Span) -> Option<&[u8]> {
        if self.is_mapped(span) { span.of_bytes(self.bytes()) } else { None }
    }

    /// The mapped stretches, in order.
    pub fn segments(&self) -> impl Iterator<Item = (Span, &[u8])> {
        let ends = self.gaps.iter().map(|g| g.start).chain([self.len()]);
        let starts = [0].into_iter().chain(self.gaps.iter().map(|g| g.end));
        let bytes = self.bytes();
        starts
            .zip(ends)
            .map(|(start, end)| Span::new(start, end))
            .filter(|s| !s.is_empty())
            .map(move |span| (span, span.of_bytes(bytes).unwrap_or_default()))
    }

    /// The value that all mapped bytes have; `None` where there is none, or more than one.
    #[must_use]
    pub fn only_value(&self) -> Option<u8> {
        let first = self.segments().next().and_then(|(_, bytes)| bytes.first().copied())?;
        // Each byte is the one before it: far faster than to look at them one by one.
        let is_fill = |bytes: &[u8]| bytes.first() == Some(&first) && bytes[1..] == bytes[..bytes.len() - 1];
        self.segments().all(|(_, bytes)| is_fill(bytes)).then_some(first)
    }
}

impl Clone for Image {
    /// Copies the bytes; those of a backing only where they were changed, unless the system does not help.
    fn clone(&self) -> Self {
        let bytes = match &self.bytes {
            Bytes::Owned(bytes) => Bytes::Owned(bytes.clone()),
            Bytes::Backed(backing) => match backing.again() {
                Some(again) => Bytes::Backed(again),
                None => Bytes::Owned(backing.bytes().to_vec()),
            },
        };
        Image {
            base: self.base,
            bytes,
            gaps: self.gaps.clone(),
            start: self.start,
            header: self.header.clone(),
        }
    }
}

impl std::fmt::Debug for Image {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Image({} bytes at {:#x}, {} gaps)", self.len(), self.base, self.gaps.len())
    }
}
