//! The note that the edits of an image are added to.

use std::fs::{self, File};
use std::path::Path;

use super::super::files::{Access, Files, write_all};
use super::super::save::new_file;
use super::super::told;
use super::edits::frame;
use super::note::MOST_BYTES;
use crate::edit::Done;
use crate::error::Error;

/// The open end of a note.
#[derive(Debug)]
pub(super) struct Journal {
    file: File,
    /// Bytes that are whole.
    len: u64,
    /// Frames that are whole.
    frames: u64,
    is_synced: bool,
}

impl Journal {
    pub(super) fn begin(files: &dyn Files, note: &Path, head: &[u8]) -> Result<Journal, Error> {
        // Whatever stands there is what an attempt of this session left, or its lock would not be ours.
        let _ = fs::remove_file(note);
        new_file(files, note, head, Access::Ours, &mut |_| true)?;
        let file = files.extend(note).map_err(|e| told(note, "adding to the journal", &e))?;
        Ok(Journal { file, len: head.len() as u64, frames: 0, is_synced: true })
    }

    pub(super) fn add(&mut self, files: &dyn Files, note: &Path, done: &[Done]) -> Result<(), Error> {
        let at = jiff::Timestamp::now().as_second();
        let numbered = (self.frames..).zip(done);
        let bytes: Vec<u8> = numbered.flat_map(|(number, done)| frame(number, at, done)).collect();
        if self.len + bytes.len() as u64 > MOST_BYTES {
            return Err(Error::new(format!(
                "there is more of it than the {MOST_BYTES} bytes that are kept aside"
            ))
            .in_file(note)
            .advice("save it"));
        }
        self.is_synced = false;
        if let Err(e) = write_all(files, &mut self.file, &bytes) {
            // A part of a frame at the end would be passed over too; this only leaves no litter.
            let _ = self.file.set_len(self.len);
            return Err(told(note, "adding to the journal", &e));
        }
        self.len += bytes.len() as u64;
        self.frames += done.len() as u64;
        Ok(())
    }

    /// Has everything that was added on the disk before it returns.
    pub(super) fn sync(&mut self, note: &Path) -> Result<(), Error> {
        if !self.is_synced {
            self.file.sync_all().map_err(|e| told(note, "writing to the disk", &e))?;
            self.is_synced = true;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::files::Disk;
    use super::*;
    use crate::edit::{Change, Edit, Turn};

    #[test]
    fn what_would_be_too_large_to_be_read_again_is_refused_and_not_half_written() {
        let mut journal = Journal { file: tempfile::tempfile().unwrap(), len: 0, frames: 0, is_synced: true };
        let edits = vec![Edit { at: 0, before: vec![0; 50], after: vec![1; 50] }];
        let done = [Done { turn: Turn::Made, change: Change { label: String::new(), edits } }];
        let note = Path::new("note");
        journal.add(&Disk, note, &done).unwrap();
        journal.len = MOST_BYTES - 100;
        assert!(journal.add(&Disk, note, &done).unwrap_err().what.contains("more of it than"));
        assert_eq!((journal.len, journal.frames), (MOST_BYTES - 100, 1));
    }
}
