//! Images as a docket records them: their names as its folder sees them, and what has become of their files.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::path::{Component, Path, PathBuf, Prefix};

use super::super::walk::folder_of;
use super::super::{Identity, Opened, Sha256, times, told};
use crate::docket::ImageRecord;
use crate::error::Error;
use crate::platform;

/// How the file at `image` is named in the docket at `docket`: seen from its folder where it is below it, else whole.
/// The name as text, and byte for byte where it is no text.
fn name_in_docket(docket: &Path, image: &Path) -> (String, Option<Vec<u8>>) {
    let whole = |path: &Path| fs::canonicalize(path).or_else(|_| std::path::absolute(path)).ok();
    let name = match (whole(folder_of(docket)), whole(image)) {
        _ if image.as_os_str() == "-" => b"-".to_vec(),
        (Some(folder), Some(image)) => slashed(image.strip_prefix(&folder).unwrap_or(&image)),
        _ => image.as_os_str().as_encoded_bytes().to_vec(),
    };
    match String::from_utf8(name) {
        Ok(name) => (name, None),
        Err(e) => (String::from_utf8_lossy(e.as_bytes()).into_owned(), Some(e.into_bytes())),
    }
}

/// The path with slashes on every system, so that a docket can be read on another one.
fn slashed(path: &Path) -> Vec<u8> {
    let mut slashed: Vec<u8> = Vec::new();
    for part in path.components() {
        if !slashed.is_empty() && !slashed.ends_with(b"/") {
            slashed.push(b'/');
        }
        match part {
            Component::RootDir if slashed.is_empty() => slashed.push(b'/'),
            Component::RootDir => {}
            Component::Prefix(prefix) => slashed.extend(beginning(prefix.kind(), prefix.as_os_str())),
            part => slashed.extend(part.as_os_str().as_encoded_bytes()),
        }
    }
    match slashed.as_slice() {
        // Alone this is standard input.
        b"-" => b"./-".to_vec(),
        _ => slashed,
    }
}

/// What a path of Windows begins with. A whole path is a verbatim one there, in which a slash parts nothing.
fn beginning(prefix: Prefix<'_>, as_it_is: &OsStr) -> Vec<u8> {
    match prefix {
        Prefix::VerbatimDisk(letter) => vec![letter, b':'],
        Prefix::VerbatimUNC(server, share) => {
            [b"//", server.as_encoded_bytes(), b"/", share.as_encoded_bytes()].concat()
        }
        _ => as_it_is.as_encoded_bytes().to_vec(),
    }
}

/// The file of an image that is recorded in the docket at `docket`.
#[must_use]
pub fn recorded_file(docket: &Path, image: &ImageRecord) -> PathBuf {
    let name = image.path_bytes.as_deref().and_then(platform::path_of_bytes);
    docket.parent().unwrap_or(Path::new("")).join(name.unwrap_or_else(|| PathBuf::from(&image.path)))
}

/// The record of a file as it is now.
///
/// # Errors
/// When it cannot be read.
pub fn record_file(docket: &Path, role: &str, file: &Path) -> Result<ImageRecord, Error> {
    let failed = |e| told(file, "reading the file", &e);
    let mut identity = Identity::of(file)?;
    let sha256 = match identity.sha256 {
        Some(known) => known,
        None => {
            let (sha256, bytes) =
                Sha256::of_reader(&mut File::open(file).map_err(failed)?).map_err(failed)?;
            identity.bytes = bytes;
            sha256
        }
    };
    Ok(record(docket, role, file, identity.bytes, sha256, Some(&identity)))
}

/// The record of an image as it was when it was opened.
///
/// # Errors
/// When its digest cannot be made.
pub fn record_opened(docket: &Path, role: &str, image: &Opened) -> Result<ImageRecord, Error> {
    let bytes = image.file_bytes as u64;
    Ok(record(docket, role, &image.path, bytes, image.sha256()?, image.identity.as_ref()))
}

fn record(
    docket: &Path,
    role: &str,
    file: &Path,
    bytes: u64,
    sha256: Sha256,
    identity: Option<&Identity>,
) -> ImageRecord {
    let (path, path_bytes) = name_in_docket(docket, file);
    ImageRecord {
        role: role.to_owned(),
        path,
        path_bytes,
        bytes,
        sha256: sha256.to_string(),
        modified: identity.and_then(|identity| identity.modified).and_then(times::of),
    }
}

/// What has become of a recorded image.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kept {
    /// Its file holds what it held.
    Same,
    /// Its file holds something else: its bytes and digest now.
    Changed(u64, String),
    /// There is no such file, or it cannot be read; why.
    Missing(String),
    /// It came from standard input, so there is no file to look at.
    Stream,
}

/// Looks whether the file of `image` still is what was recorded.
#[must_use]
pub fn check_record(docket: &Path, image: &ImageRecord) -> Kept {
    if image.path == "-" {
        return Kept::Stream;
    }
    match record_file(docket, &image.role, &recorded_file(docket, image)) {
        Err(error) => Kept::Missing(error.what),
        Ok(now) if now.sha256.eq_ignore_ascii_case(&image.sha256) && now.bytes == image.bytes => Kept::Same,
        Ok(now) => Kept::Changed(now.bytes, now.sha256),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_seen_from_the_dockets_folder() {
        let place = tempfile::tempdir().unwrap();
        let docket = place.path().join("job.ron");
        fs::create_dir(place.path().join("reads")).unwrap();
        let image = place.path().join("reads/a.bin");
        fs::write(&image, b"x").unwrap();
        let record = record_file(&docket, "read 1", &image).unwrap();
        assert_eq!((record.path.as_str(), &record.path_bytes), ("reads/a.bin", &None));
        assert_eq!(check_record(&docket, &record), Kept::Same);
        fs::write(&image, b"y").unwrap();
        assert!(matches!(check_record(&docket, &record), Kept::Changed(1, _)));
        fs::remove_file(&image).unwrap();
        assert!(matches!(check_record(&docket, &record), Kept::Missing(_)));
        let outside = tempfile::tempdir().unwrap();
        let far = outside.path().join("b.bin");
        fs::write(&far, b"z").unwrap();
        let record = record_file(&docket, "read 1", &far).unwrap();
        assert_eq!(recorded_file(&docket, &record), fs::canonicalize(&far).unwrap());
    }

    #[test]
    fn standard_input_is_told_from_a_file_of_that_name() {
        let place = tempfile::tempdir().unwrap();
        let docket = place.path().join("job.ron");
        assert_eq!(name_in_docket(&docket, Path::new("-")).0, "-");
        fs::write(place.path().join("-"), b"x").unwrap();
        let record = record_file(&docket, "read 1", &place.path().join("-")).unwrap();
        assert_eq!((record.path.as_str(), check_record(&docket, &record)), ("./-", Kept::Same));
    }

    #[test]
    fn whole_paths_of_windows_are_written_so_that_slashes_count_in_them() {
        let begins = |prefix| String::from_utf8(beginning(prefix, OsStr::new("C:"))).unwrap();
        assert_eq!(begins(Prefix::VerbatimDisk(b'C')), "C:");
        assert_eq!(begins(Prefix::Disk(b'C')), "C:");
        assert_eq!(begins(Prefix::VerbatimUNC(OsStr::new("bench"), OsStr::new("reads"))), "//bench/reads");
    }
}
