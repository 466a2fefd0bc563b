//! A note as a file: a few lines that say what it is, an empty one, and the work.

use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use super::super::text::Bytes;
use super::super::{Sha256, now};
use super::Left;
use crate::platform;

/// The first line of a note.
const FIRST_LINE: &str = "readproof, work that is not saved, format 1";
/// What a note begins with fits in here.
const MOST_HEAD: u64 = 64 << 10;
/// Larger notes are none of ours.
pub(super) const MOST_BYTES: u64 = 256 << 20;

/// The whole path of a file, every link followed as far as it leads anywhere.
fn whole(of: &Path) -> PathBuf {
    of.canonicalize().or_else(|_| std::path::absolute(of)).unwrap_or_else(|_| of.to_owned())
}

/// What notes of a kind for one file are called, however the file is named.
pub(super) fn stem(of: &Path, kind: &str) -> String {
    name_of(Sha256::of(whole(of).as_os_str().as_encoded_bytes()), kind)
}

pub(super) fn name_of(which: Sha256, kind: &str) -> String {
    let digest = which.to_string();
    format!("{}-{kind}", digest.get(..24).unwrap_or(&digest))
}

pub(super) fn path(folder: &Path, stem: &str, n: usize) -> PathBuf {
    folder.join(format!("{stem}-{n}.unsaved"))
}

/// The stem and the number in the name of a note.
pub(super) fn numbered(name: &str) -> Option<(String, usize)> {
    let (stem, n) = name.strip_suffix(".unsaved")?.rsplit_once('-')?;
    // A name such as `…-+1.unsaved` is none of ours.
    let number: usize = n.parse().ok().filter(|number: &usize| number.to_string() == n)?;
    Some((stem.to_owned(), number))
}

/// What a note begins with.
pub(super) fn head(of: &Path, holds: &str, kind: &str, about: &str) -> Vec<u8> {
    let line = |text: &str| text.replace(['\n', '\r'], " ");
    let of = whole(of);
    let shown = line(&of.to_string_lossy());
    // A name that does not stand in a line as it is follows byte for byte.
    let exact = match of.to_str() == Some(&shown) {
        true => String::new(),
        false => format!("of_bytes: {}\n", String::from(Bytes(of.as_os_str().as_encoded_bytes().to_vec()))),
    };
    format!(
        "{FIRST_LINE}\nof: {shown}\n{exact}holds: {}\nkind: {}\nabout: {}\nwritten: {}\n\n",
        line(holds),
        line(kind),
        line(about),
        now()
    )
    .into_bytes()
}

/// What a note begins with, and the work.
fn split(note: &[u8]) -> Option<(&str, &[u8])> {
    let end = memchr::memmem::find(note, b"\n\n")?;
    let head = std::str::from_utf8(note.get(..end)?).ok()?;
    (head.lines().next() == Some(FIRST_LINE)).then_some((head, note.get(end + 2..)?))
}

/// What stands behind a word at the beginning of a note.
fn entry<'a>(head: &'a str, name: &str) -> Option<&'a str> {
    head.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "))
}

/// The file that a note is of, and what it held.
pub(super) fn file(note: &Path) -> Option<(PathBuf, String)> {
    let begin = beginning(note, MOST_HEAD)?;
    let (head, _) = split(&begin)?;
    let exact = entry(head, "of_bytes").and_then(|hex| Bytes::try_from(hex.to_owned()).ok());
    let of = match exact {
        Some(Bytes(bytes)) => platform::path_of_bytes(&bytes)?,
        None => PathBuf::from(entry(head, "of")?),
    };
    Some((of, entry(head, "holds")?.to_owned()))
}

/// What a session left in a note.
pub(super) fn read(note: &Path) -> Option<Left> {
    let bytes = beginning(note, MOST_BYTES + 1).filter(|bytes| bytes.len() as u64 <= MOST_BYTES)?;
    let (head, work) = split(&bytes)?;
    let [written, about] = ["written", "about"].map(|name| entry(head, name).unwrap_or_default().to_owned());
    Some(Left { note: note.to_owned(), of: None, written, about, work: work.to_vec() })
}

fn beginning(note: &Path, most: u64) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(note).ok()?.take(most).read_to_end(&mut bytes).ok()?;
    Some(bytes)
}
