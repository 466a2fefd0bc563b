//! The copy of what a file was before this program wrote over it.

use std::fs::Metadata;
use std::io;
use std::path::{Path, PathBuf};

use sha2::Digest as _;

use super::files::{Access, Files, pieces};
use super::identity::Sha256;
use super::save::Progress;
use super::temporary::Temporary;
use super::told;
use super::walk::folder_of;
use crate::error::Error;

/// Keeps a copy of `target` beside it, under the first of `NAME.original`, `NAME.original-2`… that is free or already
/// holds the same bytes.
pub(super) fn keep_original(
    files: &dyn Files,
    target: &Path,
    about: &Metadata,
    progress: &mut Progress<'_>,
) -> Result<PathBuf, Error> {
    /// Far more sessions on one file than anybody has.
    const MOST: usize = 999;
    let failed = |e: io::Error| told(target, "keeping a copy of the original", &e);
    let folder = folder_of(target);
    // Read only where there is a copy that may be of the same bytes.
    let mut wanted: Option<Sha256> = None;
    for number in 1..=MOST {
        let mut name = target.file_name().unwrap_or_default().to_owned();
        name.push(".original");
        if number > 1 {
            name.push(format!("-{number}"));
        }
        let copy = folder.join(name);
        match copy.symlink_metadata() {
            Ok(there) if there.len() == about.len() => {
                let ours = match wanted {
                    Some(known) => known,
                    None => *wanted.insert(digest(files, target, about, progress)?),
                };
                // A copy that cannot be read is none of these bytes.
                if digest(files, &copy, &there, progress).is_ok_and(|theirs| theirs == ours) {
                    return Ok(copy);
                }
            }
            Ok(_) => {}
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                let temporary = Temporary::create(files, folder, Access::Ours, target)?;
                let mut from = files.open(target).map_err(failed)?;
                progress.grow(about.len());
                temporary.copy(&mut from, progress)?.alike(target, about)?.sync()?.publish(&copy)?;
                files.sync_folder(folder).map_err(failed)?;
                return Ok(copy);
            }
            Err(e) => return Err(failed(e)),
        }
    }
    Err(Error::new(format!("{MOST} copies of the original are kept already"))
        .in_file(target)
        .advice("move them to another folder"))
}

/// The digest of the file at `path`.
fn digest(
    files: &dyn Files,
    path: &Path,
    about: &Metadata,
    progress: &mut Progress<'_>,
) -> Result<Sha256, Error> {
    let failed = |e: io::Error| told(path, "reading the file", &e);
    progress.grow(about.len());
    let mut file = files.open(path).map_err(failed)?;
    let mut digest = sha2::Sha256::new();
    pieces(files, &mut file, failed, |piece| {
        digest.update(piece);
        progress.step(piece.len(), path)
    })?;
    Ok(Sha256(digest.finalize().into()))
}
