//! What a file was when it was opened, to notice when it is another one.

use std::fmt;
use std::fs::{self, File};
use std::io::Read;
use std::path::Path;
use std::time::SystemTime;

use sha2::Digest as _;

use super::told;
use crate::error::Error;
use crate::wording::count;

/// Files up to this size are compared by their contents, larger ones by length and time alone.
pub(super) const COMPARED_BYTES: u64 = 4 << 20;

/// A SHA-256 digest; prints as 64 lower-case hexadecimal digits, as the tools that people check it with do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Sha256(pub [u8; 32]);

impl Sha256 {
    /// The digest of `bytes`.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Sha256(sha2::Sha256::digest(bytes).into())
    }

    /// The digest of what `reader` gives, and its length; memory does not grow with it.
    pub(super) fn of_reader(reader: &mut dyn Read) -> std::io::Result<(Self, u64)> {
        let mut digest = sha2::Sha256::new();
        let mut buffer = vec![0; 1 << 16];
        let mut length = 0;
        loop {
            match reader.read(&mut buffer) {
                Ok(0) => return Ok((Sha256(digest.finalize().into()), length)),
                Ok(n) => {
                    digest.update(buffer.get(..n).unwrap_or_default());
                    length += n as u64;
                }
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
    }
}

impl fmt::Display for Sha256 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// What a file was at one moment: its length, the time of its last change, and its contents when it is small.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// Bytes in the file.
    pub bytes: u64,
    /// When it was last changed, by the file's own record.
    pub modified: Option<SystemTime>,
    /// The digest of its contents; `None` for files over 4 MiB.
    pub sha256: Option<Sha256>,
}

/// How a file differs from what it was. Its words continue "the file".
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Difference {
    /// There is no file any more.
    Gone,
    /// A folder has its name.
    Folder,
    /// Its contents, length or time; how, in words.
    Changed(String),
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Difference::Gone => "is gone",
            Difference::Folder => "is a folder now",
            Difference::Changed(how) => how,
        })
    }
}

impl Identity {
    /// What the file at `path` is now; reads it when it is small.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn of(path: &Path) -> Result<Self, Error> {
        let failed = |e| told(path, "reading the file", &e);
        let about = fs::metadata(path).map_err(failed)?;
        let mut identity = Identity { bytes: about.len(), modified: about.modified().ok(), sha256: None };
        if about.is_file() && about.len() <= COMPARED_BYTES {
            let mut file = File::open(path).map_err(failed)?;
            let (digest, bytes) =
                Sha256::of_reader(&mut Read::by_ref(&mut file).take(COMPARED_BYTES + 1)).map_err(failed)?;
            identity.bytes = bytes;
            identity.sha256 = Some(digest);
        }
        Ok(identity)
    }

    /// What the file at `path` is after `bytes` were written to it.
    pub(super) fn written(path: &Path, bytes: &[u8]) -> Self {
        let length = bytes.len() as u64;
        Identity {
            bytes: length,
            modified: fs::metadata(path).and_then(|about| about.modified()).ok(),
            sha256: (length <= COMPARED_BYTES).then(|| Sha256::of(bytes)),
        }
    }

    /// What it is in one line that is equal for the same file, also under another name: its length, and its digest or,
    /// where that is not known, the time of its last change.
    #[must_use]
    pub fn in_a_line(&self) -> String {
        let which = match (&self.sha256, self.modified) {
            (Some(digest), _) => format!("sha256 {digest}"),
            (None, Some(time)) => format!("modified {time:?}"),
            (None, None) => String::new(),
        };
        format!("{} bytes, {which}", self.bytes)
    }

    /// How the file at `path` differs from this now, as [`Identity::difference`] says it. Its contents are read only
    /// when its length or time is another.
    ///
    /// # Errors
    /// When it cannot be looked at. A file that is gone is a difference, not an error.
    pub fn changed_at(&self, path: &Path) -> Result<Option<Difference>, Error> {
        match fs::metadata(path) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(Some(Difference::Gone)),
            Ok(now) if now.is_dir() => Ok(Some(Difference::Folder)),
            Ok(now) if now.len() == self.bytes && now.modified().ok() == self.modified => Ok(None),
            _ => Ok(self.difference(&Identity::of(path)?)),
        }
    }

    /// How `now` differs from this; `None` when it is the same file as far as a person cares: equal contents under
    /// another time are the same, because some drives shift times.
    #[must_use]
    pub fn difference(&self, now: &Identity) -> Option<Difference> {
        self.other(now).map(Difference::Changed)
    }

    fn other(&self, now: &Identity) -> Option<String> {
        if self.bytes != now.bytes {
            let bytes = count(usize::try_from(now.bytes).unwrap_or(usize::MAX), "byte");
            return Some(format!("has {bytes} now, and had {} when it was opened", self.bytes));
        }
        match (self.sha256, now.sha256) {
            (Some(was), Some(is)) => {
                (was != is).then(|| "has other contents than when it was opened".to_owned())
            }
            _ => (self.modified != now.modified).then(|| "was written to since it was opened".to_owned()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_digest_is_the_published_one() {
        // FIPS 180-4, the example "abc".
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(Sha256::of(b"abc").to_string(), abc);
        let (digest, bytes) = Sha256::of_reader(&mut &b"abc"[..]).unwrap();
        assert_eq!((digest.to_string().as_str(), bytes), (abc, 3));
    }

    #[test]
    fn the_same_file_is_known_again_also_when_it_is_too_large_to_be_read_for_it() {
        let large = Identity { bytes: 9, modified: Some(SystemTime::UNIX_EPOCH), sha256: None };
        assert_eq!(large.in_a_line(), large.clone().in_a_line());
        let later = Some(SystemTime::UNIX_EPOCH + std::time::Duration::from_nanos(1));
        assert_ne!(large.in_a_line(), Identity { modified: later, ..large }.in_a_line());
    }

    #[test]
    fn a_file_that_is_gone_or_a_folder_now_is_told_from_one_that_changed() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("unit.bin");
        fs::write(&path, b"abc").unwrap();
        let was = Identity::of(&path).unwrap();
        fs::write(&path, b"abcd").unwrap();
        assert!(matches!(was.changed_at(&path), Ok(Some(Difference::Changed(_)))));
        fs::remove_file(&path).unwrap();
        assert_eq!(was.changed_at(&path), Ok(Some(Difference::Gone)));
        fs::create_dir(&path).unwrap();
        assert_eq!(was.changed_at(&path), Ok(Some(Difference::Folder)));
    }

    #[test]
    fn another_time_alone_is_no_change_when_the_contents_are_known() {
        let was =
            Identity { bytes: 3, modified: Some(SystemTime::UNIX_EPOCH), sha256: Some(Sha256::of(b"abc")) };
        let touched = Identity { modified: Some(SystemTime::now()), ..was.clone() };
        assert_eq!(was.difference(&touched), None);
        let changed = Identity { sha256: Some(Sha256::of(b"abd")), ..was.clone() };
        assert!(was.difference(&changed).unwrap().to_string().contains("other contents"));
        let longer = Identity { bytes: 4, ..was.clone() };
        assert!(was.difference(&longer).unwrap().to_string().contains("4 bytes now"));
        let large = Identity { sha256: None, ..was.clone() };
        assert!(
            large
                .difference(&Identity { sha256: None, ..touched })
                .unwrap()
                .to_string()
                .contains("written to")
        );
    }
}
