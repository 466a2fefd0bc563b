//! What the commands on two images share.

use super::choose::Chosen;
use crate::error::Error;
use crate::report::show::Taken;
use crate::report::sides::Side;
use crate::report::text;
use crate::store::Opened;

/// Files up to this size are told with their digest; making it of larger ones takes longer than comparing them.
const DIGEST_BYTES: usize = 16 << 20;

/// An image that was opened, for the reports.
///
/// # Errors
/// When the digest cannot be made because the file has changed.
pub fn side(opened: &Opened) -> Result<Side<'_>, Error> {
    let sha256 = match opened.file_bytes <= DIGEST_BYTES {
        true => Some(opened.sha256()?.to_string()),
        false => None,
    };
    Ok(Side { path: text::Name::of(&opened.path), format: opened.format, image: &opened.image, sha256 })
}

/// The layout that was chosen, for the reports.
#[must_use]
pub fn taken<'a>(chosen: Chosen<'a>, why: &'a str) -> Taken<'a> {
    Taken {
        layout: chosen.layout,
        name: &chosen.file.name,
        path: chosen.file.path.as_deref().map(text::Name::of),
        why,
    }
}
