//! What a command talks to: its three streams, and how it may use them.

use std::io::{Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::choose::Shelf;
use super::for_docket::ForDocket;
use crate::error::Error;
use crate::image::{Format, Image};
use crate::report::head::write_considered;
use crate::report::paint::Paint;
use crate::store::{self, Opened};

/// What a command may talk to.
pub struct Console<'a> {
    /// Results.
    pub out: &'a mut dyn Write,
    /// Remarks that are not results.
    pub err: &'a mut dyn Write,
    /// Where `-` reads from.
    pub input: &'a mut dyn Read,
    /// Print one JSON object instead of text.
    pub json: bool,
    /// JSON objects stand on a line each, since there is one for each of many images.
    pub lines: bool,
    /// Only what a person must look at is told, and no remarks.
    pub quiet: bool,
    /// How text may look.
    pub paint: Paint,
    /// What is to be kept in a docket; `None` when none was named.
    pub(super) for_docket: Option<ForDocket>,
    /// The command's first sentence, where it said which that is.
    pub(super) sentence: Option<String>,
    pub(super) terminal: bool,
    /// True once nobody reads the results any more.
    pub(super) gone: Arc<AtomicBool>,
    /// True while what is written is no report but what was asked for, and must pass even if reports are hushed.
    pub(super) loud: Arc<AtomicBool>,
    /// True once standard input was read.
    pub(super) is_read: bool,
    /// What standard input held, where it is kept for several images.
    pub(super) typed: Option<Arc<[u8]>>,
    /// A file goes to standard output, so that reports go to standard error.
    pub(super) streamed: bool,
}

impl<'a> Console<'a> {
    /// A console over plain streams that are no terminal.
    pub fn new(out: &'a mut dyn Write, err: &'a mut dyn Write, input: &'a mut dyn Read) -> Self {
        Console {
            out,
            err,
            input,
            json: false,
            lines: false,
            quiet: false,
            paint: Paint::default(),
            for_docket: None,
            sentence: None,
            terminal: false,
            gone: Arc::default(),
            loud: Arc::default(),
            is_read: false,
            typed: None,
            streamed: false,
        }
    }

    /// Opens the image at `path`; `-` is standard input, which can be read once.
    ///
    /// # Errors
    /// When there is no image to be had, or standard input was read before.
    pub fn open(&mut self, path: &Path) -> Result<Opened, Error> {
        self.open_as(path, None)
    }

    /// Opens the image at `path` as a file of `format`, or of the format that its content tells when that is `None`.
    ///
    /// # Errors
    /// As [`Console::open`].
    pub fn open_as(&mut self, path: &Path, format: Option<Format>) -> Result<Opened, Error> {
        if path.as_os_str() != "-" {
            return store::open_as(path, self.input, format);
        }
        if let Some(typed) = &self.typed {
            return store::open_as(path, &mut &**typed, format);
        }
        self.read_once()?;
        store::open_as(path, self.input, format)
    }

    /// Notes that standard input is read now.
    ///
    /// # Errors
    /// When it was read before.
    pub(super) fn read_once(&mut self) -> Result<(), Error> {
        match std::mem::replace(&mut self.is_read, true) {
            false => Ok(()),
            true => Err(Error::new(
                "\"-\" was given for more than one image, and what comes in can be read only once",
            )
            .at("standard input")
            .advice("save it to a file first, and name that file")),
        }
    }

    /// Whether the file that is to be written goes to standard output; reports then go to standard error.
    ///
    /// # Errors
    /// When `--json` is to go there too.
    pub(super) fn is_stream(&mut self, path: &Path) -> Result<bool, Error> {
        if path.as_os_str() != "-" {
            return Ok(false);
        }
        if self.json || self.streamed {
            let other = if self.json { "--json" } else { "another file" };
            return Err(Error::new(format!(
                "with \"-\" the file itself goes to standard output, and {other} would too"
            ))
            .advice(format!("name a file to write, or leave out {other}")));
        }
        self.streamed = true;
        Ok(true)
    }

    /// For commands whose product is no JSON.
    ///
    /// # Errors
    /// When JSON is asked for.
    pub(super) fn is_no_json(&self, product: &str) -> Result<(), Error> {
        match self.json {
            false => Ok(()),
            true => Err(Error::new(format!("--json was given, and {product} cannot be told as JSON"))
                .advice("leave --json out")),
        }
    }

    /// Writes to standard output what was asked for itself, such as a file: it is not hushed by `--quiet`.
    ///
    /// # Errors
    /// When it cannot be written.
    pub(super) fn hand_over(&mut self, bytes: &[u8]) -> Result<(), Error> {
        self.loud.store(true, Ordering::Relaxed);
        let written = self.out.write_all(bytes);
        self.loud.store(false, Ordering::Relaxed);
        Ok(written?)
    }

    /// Where a report goes.
    pub(super) fn report(&mut self) -> &mut dyn Write {
        if self.streamed && !self.quiet { self.err } else { self.out }
    }

    /// With `--verbose`: which layouts were considered for `image`, and why this one was taken.
    ///
    /// # Errors
    /// When it cannot be written.
    pub(super) fn tell_choice(&mut self, shelf: &Shelf, image: &Image) -> Result<(), Error> {
        let paint = self.paint;
        if paint.whole && !self.json {
            write_considered(self.report(), paint, &shelf.considered(image))?;
        }
        Ok(())
    }

    /// Says something beside the results, on standard error.
    ///
    /// # Errors
    /// When the results that come before it cannot be written.
    pub(super) fn remark(&mut self, said: &str) -> Result<(), Error> {
        if !self.quiet {
            self.out.flush()?;
            writeln!(self.err, "readproof: {said}")?;
        }
        Ok(())
    }
}
