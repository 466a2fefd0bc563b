//! What a save asks of the system, one operation each, so that a test can make any of them fail.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Who may use a new file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Access {
    /// Whoever the system's defaults say.
    Usual,
    /// Only we, until the file gets the access of the one it replaces.
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
        #[cfg(unix)]
        if access == Access::Ours {
            use std::os::unix::fs::OpenOptionsExt as _;
            options.mode(0o600);
        }
        #[cfg(not(unix))]
        let _ = access;
        options.open(path)
    }

    fn extend(&self, path: &Path) -> io::Result<File> {
        OpenOptions::new().append(true).open(path)
    }

    fn write(&self, file: &mut File, bytes: &[u8]) -> io::Result<usize> {
        file.write(bytes)
    }

    #[cfg(unix)]
    fn make_alike(&self, file: &File, like: &Metadata) -> io::Result<()> {
        use std::os::unix::fs::MetadataExt as _;
        let ours = file.metadata()?;
        let differing = |ours: u32, theirs: u32| (ours != theirs).then_some(theirs);
        let (user, group) = (differing(ours.uid(), like.uid()), differing(ours.gid(), like.gid()));
        if user.is_some() || group.is_some() {
            std::os::unix::fs::fchown(file, user, group)?;
        }
        // Last, because a change of owner can take bits of the mode away.
        file.set_permissions(like.permissions())
    }

    #[cfg(not(unix))]
    fn make_alike(&self, file: &File, like: &Metadata) -> io::Result<()> {
        file.set_permissions(like.permissions())
    }

    #[cfg(any(target_os = "linux", target_os = "macos"))]
    fn keep_attributes(&self, like: &Path, file: &File) {
        use rustix::fs::{XattrFlags, fsetxattr, getxattr, listxattr};
        /// The most that the system takes for the names, and for one value.
        const MOST: usize = 64 << 10;
        let (mut names, mut value) = (vec![0; MOST], vec![0; MOST]);
        // Some are the system's own and cannot be set by us; those are not ours to keep.
        let Ok(length) = listxattr(like, &mut names[..]) else { return };
        for name in names.get(..length).unwrap_or_default().split(|&b| b == 0).filter(|n| !n.is_empty()) {
            if let Ok(length) = getxattr(like, name, &mut value[..]) {
                let _ = fsetxattr(file, name, value.get(..length).unwrap_or_default(), XattrFlags::empty());
            }
        }
    }

    #[cfg(not(any(target_os = "linux", target_os = "macos")))]
    fn keep_attributes(&self, _like: &Path, _file: &File) {}

    fn sync(&self, file: &File) -> io::Result<()> {
        file.sync_all()
    }

    #[cfg(any(target_os = "linux", target_os = "macos"))]
    fn publish(&self, from: &Path, to: &Path) -> io::Result<()> {
        use rustix::fs::{CWD, RenameFlags, renameat_with};
        match renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE) {
            Ok(()) => Ok(()),
            Err(rustix::io::Errno::INVAL | rustix::io::Errno::NOSYS | rustix::io::Errno::NOTSUP) => {
                publish_by_link(from, to)
            }
            Err(error) => Err(error.into()),
        }
    }

    #[cfg(not(any(target_os = "linux", target_os = "macos")))]
    fn publish(&self, from: &Path, to: &Path) -> io::Result<()> {
        publish_by_link(from, to)
    }

    #[cfg(not(windows))]
    fn replace(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    /// Scanners and sync clients hold files for a moment, so a refusal is asked again for about two seconds.
    #[cfg(windows)]
    fn replace(&self, from: &Path, to: &Path) -> io::Result<()> {
        const SHARING_VIOLATION: i32 = 32;
        let mut wait = std::time::Duration::from_millis(20);
        loop {
            match fs::rename(from, to) {
                Err(e)
                    if wait.as_millis() < 1300
                        && (e.kind() == io::ErrorKind::PermissionDenied
                            || e.raw_os_error() == Some(SHARING_VIOLATION)) => {}
                done => return done,
            }
            std::thread::sleep(wait);
            wait *= 2;
        }
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    #[cfg(unix)]
    fn sync_folder(&self, folder: &Path) -> io::Result<()> {
        match File::open(folder)?.sync_all() {
            // Some file systems have no such thing; there is nothing more to be had from them.
            Err(e) if matches!(e.kind(), io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported) => Ok(()),
            done => done,
        }
    }

    #[cfg(not(unix))]
    fn sync_folder(&self, _folder: &Path) -> io::Result<()> {
        Ok(())
    }
}

/// For file systems that cannot rename onto a free name only: a second name for the file, then the first one taken
/// away. Where there are no second names either (FAT), the name is looked up and then taken, and only there another
/// program could take it in between.
fn publish_by_link(from: &Path, to: &Path) -> io::Result<()> {
    match fs::hard_link(from, to) {
        Ok(()) => fs::remove_file(from),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Err(e),
        Err(_) if fs::symlink_metadata(to).is_ok() => Err(io::ErrorKind::AlreadyExists.into()),
        Err(_) => fs::rename(from, to),
    }
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
