//! Files: the only module that knows the file system.
//!
//! [`open()`] reads an image whatever its format, [`save_new`] and [`save_over`] write one so that a failure at any
//! moment leaves either the old file or the new one, [`layouts()`] finds the layouts at hand, [`Unsaved`] keeps work
//! that is not saved yet so that it outlives the process.
//!
//! Paths are kept as the system gave them, also where they are no Unicode. The places in errors hold them
//! readable; whoever prints them cleans them (see `report::text::path`).

mod changes;
mod docket;
mod files;
mod identity;
mod layouts;
mod lost;
mod map;
mod open;
mod original;
mod places;
mod samples;
mod save;
mod settings;
mod temporary;
#[cfg(test)]
mod tests;
mod text;
mod times;
mod unsaved;
mod walk;

pub use changes::{read_change_list, save_change_list};
pub use docket::{
    DocketAdded, DocketFile, DocketProblem, Kept, add_to_docket, check_record, new_docket, open_docket,
    record_file, record_opened, recorded_file,
};
pub use identity::{Difference, Identity, Sha256};
pub use layouts::{LAYOUTS_VARIABLE, LayoutFile, layout_file, layouts, may_hold_layouts, read_layout};
pub use map::{accept, still_there, still_there_at};
pub use open::{MAX_RAW_BYTES, MAX_RECORD_TEXT_BYTES, MAX_STREAM_BYTES, Opened, open, open_as};
pub use samples::{SAMPLES, remove_samples, write_read_back, write_samples, write_samples_aside};
pub use save::{Over, Saved, Watch, new_log, save_new, save_new_watched, save_over, save_over_watched};
pub use settings::{settings, settings_path, start_settings};
pub use times::now;
pub use unsaved::{Left, Step, Steps, Unsaved, read_steps};
pub use walk::{LeftOut, Walk, folder_of, is_file, is_folder, is_same_file};

use std::io;
use std::path::Path;

use crate::error::Error;

/// What the system said about `path`, in words that say what to do.
fn told(path: &Path, doing: &str, error: &io::Error) -> Error {
    use io::ErrorKind as Kind;
    let same = |what: &str, advice| (what.to_owned(), advice);
    let (what, advice) = match error.kind() {
        Kind::NotFound => same("there is no such file", "check the name and the folder"),
        Kind::PermissionDenied => {
            (format!("{doing} is not permitted"), "check the permissions of the file and of its folder")
        }
        Kind::StorageFull => same("the disk is full", "make room, or save to another disk"),
        Kind::QuotaExceeded => {
            same("the quota of this disk is used up", "make room, or save to another disk")
        }
        Kind::FileTooLarge => same(
            "there is no room for a file of this size",
            "raise the limit on the size of files, or save to another disk",
        ),
        Kind::ReadOnlyFilesystem => same("the disk can only be read", "save to another disk"),
        Kind::InvalidFilename => same("the system does not take this name", "give a shorter or plainer name"),
        Kind::NotADirectory => same("a part of the path is a file, not a folder", "check the path"),
        Kind::IsADirectory => same("this is a folder, not a file", "name a file"),
        _ => (format!("{doing} failed: {error}"), "try it again; if it stays, copy the file elsewhere first"),
    };
    Error::new(what).in_file(path).advice(advice)
}
