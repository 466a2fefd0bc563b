//! Files: the one of an open image, where it is, what it was, how it is written; those that this session wrote.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::image::Format;
use crate::report::text;
use crate::store::Identity;

/// The file of an open image.
#[derive(Debug, Clone)]
pub struct ImageFile {
    /// The file it came from or was last saved to.
    pub path: PathBuf,
    /// The file the bytes came from, which is never overwritten unasked.
    pub origin: PathBuf,
    /// What the file at `path` was when it was opened or saved; `None` where there is none that could be opened again.
    pub identity: Option<Identity>,
    /// How that file is another one by now, in words that continue "the file".
    pub changed_on_disk: Option<String>,
    /// The format it was read from and is saved in.
    pub format: Format,
    /// It may not be written.
    pub read_only: bool,
}

impl ImageFile {
    /// A file that was read from `path`.
    #[must_use]
    pub fn new(path: PathBuf, format: Format) -> ImageFile {
        ImageFile {
            origin: path.clone(),
            path,
            identity: None,
            changed_on_disk: None,
            format,
            read_only: false,
        }
    }

    /// The image is in the file at `path` now, which is this one.
    pub fn saved(&mut self, path: PathBuf, format: Format, identity: Identity) {
        (self.path, self.format) = (path, format);
        self.known_as(Some(identity));
    }

    /// What the file at `path` is now is what it is meant to be.
    pub fn known_as(&mut self, identity: Option<Identity>) {
        (self.identity, self.changed_on_disk) = (identity, None);
    }

    /// Whether it was saved to another file than its bytes came from.
    #[must_use]
    pub fn is_saved_elsewhere(&self) -> bool {
        self.path != self.origin
    }

    /// A name for the changed image, beside the one it came from; once saved, the same file again, as long as nobody
    /// else wrote to it.
    #[must_use]
    pub fn suggested(&self) -> PathBuf {
        let more = match (self.is_saved_elsewhere(), &self.changed_on_disk) {
            (false, None) => "-changed",
            (true, None) => return self.path.clone(),
            (_, Some(_)) => "-mine",
        };
        let mut name = self.path.file_stem().unwrap_or_default().to_os_string();
        name.push(more);
        if let Some(ending) = self.path.extension() {
            name.push(".");
            name.push(ending);
        }
        self.path.with_file_name(name)
    }

    /// What a layout that begins with this image is called.
    #[must_use]
    pub fn stem(&self) -> String {
        text::clean(&self.origin.file_stem().unwrap_or_default().to_string_lossy()).into_owned()
    }

    /// Its name without its folder, clean for a screen.
    #[must_use]
    pub fn name(&self) -> String {
        let name = self.path.file_name().unwrap_or(self.path.as_os_str());
        text::clean(&name.to_string_lossy()).into_owned()
    }
}

/// Where a path leads to, every link followed; itself where there is nothing.
fn target(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_path_buf())
}

/// Whether two paths lead to one file, which may be named in another way: through a link, or with its folder.
pub(super) fn is_same(a: &Path, b: &Path) -> bool {
    target(a) == target(b)
}

/// The files that this session wrote, however they are named.
#[derive(Debug, Default)]
pub struct OwnFiles(BTreeSet<PathBuf>);

impl OwnFiles {
    /// This one was written.
    pub fn add(&mut self, path: &Path) {
        self.0.insert(target(path));
    }

    /// Whether this one is among them.
    #[must_use]
    pub fn contains(&self, path: &Path) -> bool {
        self.0.contains(&target(path))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_that_is_offered_is_never_the_original_nor_a_file_that_somebody_else_wrote_to() {
        let mut file = ImageFile::new("read/unit7.bin".into(), Format::Raw);
        assert_eq!(file.suggested(), Path::new("read/unit7-changed.bin"));
        file.changed_on_disk = Some("was written to".into());
        assert_eq!(file.suggested(), Path::new("read/unit7-mine.bin"));
        file.path = file.suggested();
        file.known_as(None);
        assert_eq!(file.suggested(), file.path, "its own file again");
        file.changed_on_disk = Some("was written to".into());
        assert_eq!(file.suggested(), Path::new("read/unit7-mine-mine.bin"));
    }
}
