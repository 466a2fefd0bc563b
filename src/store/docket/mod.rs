//! Dockets as files.
//!
//! One RON file beside the images. It is read entry by entry, so that one that was spoilt by hand, or a file that was
//! cut short, costs no other entry; and it grows by text put in before its last bracket, so that remarks and whatever
//! else somebody wrote into it stay. A file whose brackets are wrong is kept aside whole before it is written again.

mod form;
mod scan;

use std::path::{Component, Path, PathBuf};

use super::changes::read_text;
use super::{Identity, Over, Sha256, save_new, save_over};
use crate::docket::{Docket, Entry, ImageRecord};
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
    /// Whether entries can be put in without touching what is there.
    pub is_whole: bool,
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

/// The time now, or what `SOURCE_DATE_EPOCH` says it is (reproducible-builds.org, a number of seconds since 1970).
#[must_use]
pub fn now() -> String {
    let fixed = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|text| text.parse::<i64>().ok());
    let now = fixed.and_then(|s| jiff::Timestamp::from_second(s).ok()).unwrap_or_else(jiff::Timestamp::now);
    written(now)
}

fn written(time: jiff::Timestamp) -> String {
    jiff::Timestamp::from_second(time.as_second()).unwrap_or(time).to_string()
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
    let text = read_text(path, MOST_BYTES)?;
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
    let is_whole = scanned.list.is_some();
    Ok(DocketFile {
        path: path.to_owned(),
        docket: Docket { entries },
        problems,
        is_whole,
        text,
        scanned,
        identity,
    })
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
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    for n in 1..MOST_NAMES {
        let aside = path.with_file_name(format!("{name}.damaged-{n}"));
        if aside.symlink_metadata().is_err() {
            save_new(&aside, text.as_bytes())?;
            return Ok(aside);
        }
    }
    Err(Error::new("the docket is damaged, and no name is free to keep it aside")
        .in_file(path)
        .advice("put the old .damaged files away"))
}

/// How the file at `image` is named in the docket at `docket`: seen from its folder where it is below it, else whole.
#[must_use]
pub fn path_in_docket(docket: &Path, image: &Path) -> String {
    if image.as_os_str() == "-" {
        return "-".to_owned();
    }
    let whole = |path: &Path| std::fs::canonicalize(path).or_else(|_| std::path::absolute(path)).ok();
    let folder = docket.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let (Some(folder), Some(image_whole)) = (whole(folder), whole(image)) else {
        return image.to_string_lossy().into_owned();
    };
    let below = image_whole.strip_prefix(&folder).map(Path::to_path_buf).unwrap_or(image_whole);
    // Slashes on every system, so that a docket can be read on another one.
    let parts: Vec<String> = below
        .components()
        .filter(|c| !matches!(c, Component::RootDir))
        .map(|c| c.as_os_str().to_string_lossy().into_owned())
        .collect();
    let begins_at_root = matches!(below.components().next(), Some(Component::RootDir));
    format!("{}{}", if begins_at_root { "/" } else { "" }, parts.join("/"))
}

/// The file that a path in the docket at `docket` names.
#[must_use]
pub fn path_from_docket(docket: &Path, named: &str) -> PathBuf {
    docket.parent().unwrap_or(Path::new("")).join(named)
}

/// The record of a file as it is now.
///
/// # Errors
/// When it cannot be read.
pub fn record_file(docket: &Path, role: &str, file: &Path) -> Result<ImageRecord, Error> {
    let failed = |e: std::io::Error| super::told(file, "reading the file", &e);
    let identity = Identity::of(file)?;
    let mut opened = std::fs::File::open(file).map_err(failed)?;
    let (sha256, _) = Sha256::of_reader(&mut opened).map_err(failed)?;
    Ok(ImageRecord {
        role: role.to_owned(),
        path: path_in_docket(docket, file),
        bytes: identity.bytes,
        sha256: sha256.to_string(),
        modified: modified(&identity),
    })
}

/// When a file was last changed.
#[must_use]
pub fn modified(identity: &Identity) -> Option<String> {
    identity.modified.and_then(|time| jiff::Timestamp::try_from(time).ok()).map(written)
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
    let file = path_from_docket(docket, &image.path);
    match record_file(docket, &image.role, &file) {
        Err(error) => Kept::Missing(error.what),
        Ok(now) if now.sha256.eq_ignore_ascii_case(&image.sha256) && now.bytes == image.bytes => Kept::Same,
        Ok(now) => Kept::Changed(now.bytes, now.sha256),
    }
}

#[cfg(test)]
mod tests;
