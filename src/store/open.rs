//! Opening an image, whatever its format, size and origin.

use std::cell::OnceCell;
use std::fs::{self, File};
use std::io::{Read, Seek};
use std::path::{Path, PathBuf};

use super::files::is_read_only;
use super::identity::{COMPARED_BYTES, Difference, Identity, Sha256};
use super::{map, told};
use crate::error::Error;
use crate::finding::Finding;
use crate::image::records::{Problem, Rejected};
use crate::image::{self, Format, Image};
use crate::platform;

/// Raw files up to this size are taken: 16 GiB, far above any serial memory, far below the address space.
pub const MAX_RAW_BYTES: u64 = 16 << 30;

/// Record files up to this size are taken: enough for the largest span in records of a few bytes each.
pub const MAX_RECORD_TEXT_BYTES: u64 = 512 << 20;

/// This much is taken from standard input and from pipes, which must be held in memory.
pub const MAX_STREAM_BYTES: u64 = 1 << 30;

/// Raw files up to this size are read into memory, which nothing can change any more; larger ones are mapped.
const COPIED_BYTES: u64 = 4 << 20;

/// The format is told from this much of the beginning.
const HEAD_BYTES: usize = 64 << 10;

/// An image and where it came from.
#[derive(Debug)]
pub struct Opened {
    /// The bytes.
    pub image: Image,
    /// The path as it was given; `-` for standard input.
    pub path: PathBuf,
    /// What the file is.
    pub format: Format,
    /// Bytes in the file; as many as the image has only for raw files.
    pub file_bytes: usize,
    /// What is to be remarked about a record file that was taken.
    pub remarks: Vec<Finding>,
    /// True when the file may not be written to.
    pub read_only: bool,
    /// What the file was when it was opened; `None` for streams, which have no file to come back to.
    pub identity: Option<Identity>,
    sha256: OnceCell<Sha256>,
}

impl Opened {
    /// The digest of the file as it was when it was opened: of its text, when it holds records. Large files are
    /// read again for it, in pieces.
    ///
    /// # Errors
    /// When the file has changed since, or cannot be read any more.
    pub fn sha256(&self) -> Result<Sha256, Error> {
        if let Some(known) = self.sha256.get() {
            return Ok(*known);
        }
        let failed = |e| told(&self.path, "reading the file", &e);
        let mut file = File::open(&self.path).map_err(failed)?;
        let (digest, _) = Sha256::of_reader(&mut file).map_err(failed)?;
        self.unchanged()?;
        Ok(*self.sha256.get_or_init(|| digest))
    }

    /// How the file on disk differs from what was opened; `None` when it is the same or there is no file.
    ///
    /// # Errors
    /// When it cannot be looked at. A file that is gone is a difference, not an error.
    pub fn changed_on_disk(&self) -> Result<Option<Difference>, Error> {
        self.identity.as_ref().map_or(Ok(None), |was| was.changed_at(&self.path))
    }

    /// Nothing when the file on disk still is what was opened.
    ///
    /// # Errors
    /// How it has changed.
    pub fn unchanged(&self) -> Result<(), Error> {
        match self.changed_on_disk()? {
            None => Ok(()),
            Some(how) => Err(Error::new(format!("the file {how}"))
                .in_file(&self.path)
                .advice("open it again; if somebody else writes to it, copy it first and work on the copy")),
        }
    }
}

/// Opens the image at `path`, its format told by its content; `-` reads `input` to its end.
///
/// # Errors
/// When there is no image to be had: no such file, a folder, a device, nothing in it, too large, a record file with
/// problems (all of them).
pub fn open(path: &Path, input: &mut dyn Read) -> Result<Opened, Error> {
    open_as(path, input, None)
}

/// Opens the image at `path` as a file of `format`, or of the format that its content tells when that is `None`.
///
/// # Errors
/// As [`open`].
pub fn open_as(path: &Path, input: &mut dyn Read, format: Option<Format>) -> Result<Opened, Error> {
    if path.as_os_str() == "-" {
        return from_stream(path, input, format);
    }
    let failed = |e| told(path, "reading the file", &e);
    let about = fs::metadata(path).map_err(failed)?;
    if about.is_dir() {
        return Err(Error::new("this is a folder, not an image").in_file(path).advice("name a file in it"));
    }
    if platform::is_device(&about) {
        return Err(Error::new("this is a device, not a file")
            .in_file(path)
            .advice("copy what it holds to a file first, and name that"));
    }
    let mut file = File::open(path).map_err(failed)?;
    if !about.is_file() {
        return from_stream(path, &mut file, format);
    }
    let mut head = Vec::new();
    Read::by_ref(&mut file).take(HEAD_BYTES as u64).read_to_end(&mut head).map_err(failed)?;
    let format = format.unwrap_or_else(|| Format::recognise(&head));
    let limit = if format == Format::Raw { MAX_RAW_BYTES } else { MAX_RECORD_TEXT_BYTES };
    if about.len() > limit {
        return Err(too_large(path, format!("has {} bytes", about.len()), limit));
    }
    let read_only = is_read_only(path, &about);
    let mut identity = Identity { bytes: about.len(), modified: about.modified().ok(), sha256: None };
    if format == Format::Raw && about.len() > COPIED_BYTES {
        let image = Image::backed(map::private(path, file, &identity).map_err(failed)?);
        return Ok(Opened {
            image,
            path: path.to_owned(),
            format,
            file_bytes: usize::try_from(about.len()).unwrap_or(usize::MAX),
            remarks: Vec::new(),
            read_only,
            identity: Some(identity),
            sha256: OnceCell::new(),
        });
    }
    file.rewind().map_err(failed)?;
    let mut bytes = Vec::with_capacity(usize::try_from(about.len()).unwrap_or(0));
    file.take(limit + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > limit {
        return Err(too_large(path, "grows while it is read".to_owned(), limit));
    }
    identity.bytes = bytes.len() as u64;
    let mut opened = from_bytes(path, bytes, format)?;
    identity.sha256 = opened.sha256.get().copied().filter(|_| identity.bytes <= COMPARED_BYTES);
    opened.identity = Some(identity);
    opened.read_only = read_only;
    Ok(opened)
}

/// An image from something that can only be read once, from its beginning to its end.
fn from_stream(path: &Path, stream: &mut dyn Read, format: Option<Format>) -> Result<Opened, Error> {
    let mut bytes = Vec::new();
    let read = stream.take(MAX_STREAM_BYTES + 1).read_to_end(&mut bytes);
    read.map_err(|e| told(path, "reading", &e))?;
    if bytes.len() as u64 > MAX_STREAM_BYTES {
        return Err(too_large(path, "gives more and more bytes".to_owned(), MAX_STREAM_BYTES));
    }
    let format = format.unwrap_or_else(|| Format::recognise(bytes.get(..HEAD_BYTES).unwrap_or(&bytes)));
    from_bytes(path, bytes, format)
}

fn from_bytes(path: &Path, bytes: Vec<u8>, format: Format) -> Result<Opened, Error> {
    if bytes.is_empty() {
        let empty = Error::new("there are no bytes in it").in_file(path);
        return Err(empty.advice("read the chip again, or check that the copy was finished"));
    }
    let sha256 = OnceCell::from(Sha256::of(&bytes));
    let file_bytes = bytes.len();
    let (image, remarks) = image::read(format, bytes).map_err(|r| rejected(path, format, &r))?;
    Ok(Opened {
        image,
        path: path.to_owned(),
        format,
        file_bytes,
        remarks,
        read_only: false,
        identity: None,
        sha256,
    })
}

fn too_large(path: &Path, what: String, limit: u64) -> Error {
    Error::new(format!("the input {what}; at most {limit} are taken"))
        .in_file(path)
        .advice("check that this is the image; a serial memory holds a few bytes to a few MiB")
}

fn rejected(path: &Path, format: Format, rejected: &Rejected) -> Error {
    let problems = rejected.problems.iter();
    let told = problems.map(|Problem { line, column, what }| (Some((*line, *column)), what.clone()));
    let advice = "copy or make the file again, or name its format with `readproof convert --from raw`";
    Error::of_file(path, told, rejected.more, advice).unwrap_or_else(|| {
        Error::new(format!("this is no {} file", format.name())).in_file(path).advice(advice)
    })
}
