//! Dockets as files.
//!
//! One RON file beside the images. It is read entry by entry, so that one that was spoilt by hand, or a file that was
//! cut short, costs no other entry; and it grows by text put in before its last bracket, so that remarks and whatever
//! else somebody wrote into it stay. A file whose brackets are wrong is kept aside whole before it is written again.

mod form;
mod images;
mod scan;

use std::path::{Path, PathBuf};

pub use images::{Kept, check_record, record_file, record_opened, recorded_file};

use super::text::read_text;
use super::{Identity, Over, save_new, save_over};
use crate::docket::{Docket, Entry};
use crate::error::Error;

/// Dockets up to this size are read.
const MOST_BYTES: u64 = 64 << 20;

/// A docket and the file it was read from.
#[derive(Debug)]
pub struct DocketFile {
    /// The file.
    pub path: PathBuf,
    /// As much of it as makes sense.
    pub docket: Docket,
    /// What does not, each with its line.
    pub problems: Vec<DocketProblem>,
    text: String,
    scanned: scan::Scanned,
    identity: Identity,
}

/// What makes no sense in a docket.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DocketProblem {
    /// The line, from 1.
    pub line: usize,
    /// What is wrong.
    pub what: String,
}

/// What came of adding to a docket.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DocketAdded {
    /// The docket did not exist.
    pub is_new: bool,
    /// The docket was damaged, and is kept here as it was.
    pub damaged: Option<PathBuf>,
}

/// Begins a docket.
///
/// # Errors
/// When the file exists or cannot be written.
pub fn new_docket(path: &Path, docket: &Docket) -> Result<(), Error> {
    let entries: Result<Vec<String>, String> = docket.entries.iter().map(form::entry).collect();
    let entries = entries.map_err(|e| unwritable(path, &e))?;
    save_new(path, form::file(entries.iter().map(String::as_str)).as_bytes()).map(|_| ())
}

fn unwritable(path: &Path, why: &str) -> Error {
    Error::new(format!("the entry cannot be written as text: {why}"))
        .in_file(path)
        .advice("report it, with what was to be kept if you may")
}

/// Reads a docket as far as it makes sense.
///
/// # Errors
/// When the file cannot be read, or nothing in it is a docket's.
pub fn open_docket(path: &Path) -> Result<DocketFile, Error> {
    const BEGIN: &str = "begin one with `readproof docket new FILE`";
    let identity = Identity::of(path).map_err(|error| match path.exists() {
        true => error,
        false => error.advice(format!("check the name, or {BEGIN}")),
    })?;
    let text = read_text(path, "docket", MOST_BYTES)?;
    let scanned = scan::scan(&text);
    if !scanned.is_docket {
        return Err(Error::new("this is no docket").in_file(path).advice(BEGIN));
    }
    let line = |at: usize| text.get(..at).unwrap_or_default().matches('\n').count() + 1;
    let mut problems: Vec<DocketProblem> = scanned
        .problems
        .iter()
        .map(|(at, what)| DocketProblem { line: line(*at), what: what.clone() })
        .collect();
    let mut entries = Vec::new();
    for &(start, end) in &scanned.entries {
        match form::read_entry(text.get(start..end).unwrap_or_default()) {
            Ok(entry) => entries.push(entry),
            Err((offset, what)) => problems.push(DocketProblem { line: line(start) + offset, what }),
        }
    }
    problems.sort_by_key(|p| p.line);
    Ok(DocketFile { path: path.to_owned(), docket: Docket { entries }, problems, text, scanned, identity })
}

/// Adds an entry to the docket at `path`, which is begun where there is none.
///
/// # Errors
/// When it cannot be read or written, or somebody else wrote to it at this moment.
pub fn add_to_docket(path: &Path, entry: &Entry) -> Result<DocketAdded, Error> {
    if matches!(path.symlink_metadata(), Err(e) if e.kind() == std::io::ErrorKind::NotFound) {
        new_docket(path, &Docket { entries: vec![entry.clone()] })?;
        return Ok(DocketAdded { is_new: true, damaged: None });
    }
    let file = open_docket(path)?;
    let added = form::entry(entry).map_err(|e| unwritable(path, &e))?;
    let over = Over { was: Some(&file.identity), keep_original: false, read_only_too: false };
    if let Some(text) = file.scanned.with_entry(&file.text, &added) {
        save_over(path, text.as_bytes(), over)?;
        return Ok(DocketAdded::default());
    }
    let aside = keep_aside(path, &file.text)?;
    let kept = file.scanned.entries.iter().map(|&(start, end)| file.text.get(start..end).unwrap_or_default());
    save_over(path, form::file(kept.chain([added.as_str()])).as_bytes(), over)?;
    Ok(DocketAdded { is_new: false, damaged: Some(aside) })
}

/// Keeps a damaged docket under a name that is free.
fn keep_aside(path: &Path, text: &str) -> Result<PathBuf, Error> {
    const MOST_NAMES: usize = 1000;
    for n in 1..MOST_NAMES {
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(format!(".damaged-{n}"));
        let aside = path.with_file_name(name);
        if aside.symlink_metadata().is_err() {
            save_new(&aside, text.as_bytes())?;
            return Ok(aside);
        }
    }
    Err(Error::new("the docket is damaged, and no name is free to keep it aside")
        .in_file(path)
        .advice("put the old .damaged files away"))
}

#[cfg(test)]
mod tests;
