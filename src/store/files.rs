//! What a save asks of the system, one operation each, so that a test can make any of them fail.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use crate::error::Error;
use crate::platform;

/// Who may use a new file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Access {
    /// Whoever the system's defaults say.
    Usual,
    /// Only we.
    Ours,
}

/// The operations of a save.
pub(super) trait Files {
    /// `path` with every link in it followed; the file must exist.
    fn resolve(&self, path: &Path) -> io::Result<PathBuf>;
    /// What the system knows about the file that `path` leads to.
    fn about(&self, path: &Path) -> io::Result<Metadata>;
    /// Opens a file to read it.
    fn open(&self, path: &Path) -> io::Result<File>;
    /// Reads on.
    fn read(&self, file: &mut File, buffer: &mut [u8]) -> io::Result<usize>;
    /// Creates a file that does not exist yet.
    fn create(&self, path: &Path, access: Access) -> io::Result<File>;
    /// Opens a file to add to its end.
    fn extend(&self, path: &Path) -> io::Result<File>;
    /// Writes a first part of `bytes` and says how many that are.
    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<usize>;
    /// Gives `file` the owner, the group and the mode that `like` has.
    fn make_alike(&self, file: &File, like: &Metadata) -> io::Result<()>;
    /// Gives `file` the extended attributes of the file `like`, as far as the system lets us.
    fn keep_attributes(&self, like: &Path, file: &File);
    /// Waits until what was written to `file` is on the disk.
    fn sync(&self, file: &File) -> io::Result<()>;
    /// Gives the file `from` the name `to`, which must be free.
    fn publish(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Gives the file `from` the name `to` in one step, in the place of the file that has it.
    fn replace(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Waits until the names in `folder` are on the disk.
    fn sync_folder(&self, folder: &Path) -> io::Result<()>;
}

/// The real file system.
pub(super) struct Disk;

impl Files for Disk {
    fn resolve(&self, path: &Path) -> io::Result<PathBuf> {
        fs::canonicalize(path)
    }

    fn about(&self, path: &Path) -> io::Result<Metadata> {
        fs::metadata(path)
    }

    fn open(&self, path: &Path) -> io::Result<File> {
        File::open(path)
    }

    fn read(&self, file: &mut File, buffer: &mut [u8]) -> io::Result<usize> {
        file.read(buffer)
    }

    fn create(&self, path: &Path, access: Access) -> io::Result<File> {
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        if access == Access::Ours {
            platform::for_us_alone(&mut options);
        }
        options.open(path)
    }

    fn extend(&self, path: &Path) -> io::Result<File> {
        OpenOptions::new().append(true).open(path)
    }

    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<usize> {
        file.write(bytes)
    }

    fn make_alike(&self, file: &File, like: &Metadata) -> io::Result<()> {
        platform::make_alike(file, like)
    }

    fn keep_attributes(&self, like: &Path, file: &File) {
        platform::keep_attributes(like, file);
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        file.sync_all()
    }

    fn publish(&self, from: &Path, to: &Path) -> io::Result<()> {
        platform::publish(from, to)
    }

    fn replace(&self, from: &Path, to: &Path) -> io::Result<()> {
        platform::replace(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn sync_folder(&self, folder: &Path) -> io::Result<()> {
        platform::sync_folder(folder)
    }
}

/// Bytes that are read or written between two looks at whether to go on.
pub(super) const PIECE: usize = 1 << 20;

/// Reads `file` to its end and hands over piece after piece; `failed` tells what the system says.
pub(super) fn pieces(
    files: &dyn Files,
    file: &mut File,
    failed: impl Fn(io::Error) -> Error,
    mut take: impl FnMut(&[u8]) -> Result<(), Error>,
) -> Result<(), Error> {
    let mut buffer = vec![0; PIECE];
    loop {
        match files.read(file, &mut buffer) {
            Ok(0) => return Ok(()),
            Ok(read) => take(buffer.get(..read).unwrap_or_default())?,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(failed(e)),
        }
    }
}

/// Writes all of `bytes`.
pub(super) fn write_all(files: &dyn Files, file: &mut File, mut bytes: &[u8]) -> io::Result<()> {
    while !bytes.is_empty() {
        match files.write(file, bytes) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(n) => bytes = bytes.get(n..).unwrap_or_default(),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(())
}

/// True when the file may not be written to: no one may, or we may not.
pub(super) fn is_read_only(path: &Path, about: &Metadata) -> bool {
    if about.permissions().readonly() {
        return true;
    }
    // Opening a file to write it changes nothing in it.
    let opened = OpenOptions::new().write(true).open(path);
    matches!(
        opened.map_err(|e| e.kind()),
        Err(io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem)
    )
}
