//! Large raw images, mapped instead of read. The only unsafe code of the project.

use std::fs::File;
use std::io;

use memmap2::MmapMut;

use crate::image::Backing;

/// A private map of a file: writing to it changes this process's copy of the page and never the file.
struct PrivateMap(MmapMut);

impl Backing for PrivateMap {
    fn bytes(&self) -> &[u8] {
        &self.0
    }

    fn bytes_mut(&mut self) -> &mut [u8] {
        &mut self.0
    }
}

/// Maps the whole of `file`.
pub(super) fn private(file: &File) -> io::Result<Box<dyn Backing>> {
    #[allow(unsafe_code, reason = "a file cannot be mapped otherwise; the argument stands at the block")]
    // SAFETY: the bytes of a map change under a reader when somebody writes to the file. The map is private
    // (copy on write), so nothing of ours changes the file; another process still can, and the operating systems
    // give no way to forbid it. What we do with the bytes does not depend on their staying the same: they are plain
    // `u8`, every value of which is valid, and nothing is derived from them once and then used unchecked as an
    // index. The contents that a program sees of such a file are any mixture of old and new, which is also
    // what reading it in pieces would give.
    let map = unsafe { memmap2::MmapOptions::new().map_copy(file)? };
    Ok(Box::new(PrivateMap(map)))
}
