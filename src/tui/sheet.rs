//! One image that is open in the editor, with everything that is kept about it between two keys.

use std::path::PathBuf;

use super::annotate::{InForce, Kept};
use super::contents::Contents;
use super::described::Described;
use super::file::ImageFile;
use super::found::Found;
use super::judging::Judged;
use super::proposals::Proposals;
use super::rows::Rows;
use super::steps::{Steps, Turn};
use crate::edit::{Change, Joining, Refused};
use crate::image::{Format, Image};
use crate::layout::{Decoded, Role};
use crate::report::names::Names;
use crate::span::Span;

/// Which of the two columns of the Bytes pane is typed into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Column {
    /// Bytes as two hexadecimal digits.
    #[default]
    Digits,
    /// Bytes as characters.
    Text,
}

/// Where the bytes cursor stands, and what is shown around it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Cursor {
    /// Offset of the byte.
    pub at: usize,
    /// The second digit of the byte comes next.
    pub second_digit: bool,
    /// The column that is typed into.
    pub column: Column,
    /// Where the selection began, when there is one.
    pub anchor: Option<usize>,
    /// First row of the Bytes pane, as an offset.
    pub top: usize,
}

/// What the Readings pane is on.
#[derive(Debug, Default)]
pub struct Readings {
    /// The list on the screen.
    pub rows: Rows,
    /// They are chosen in the column where the least significant byte stands first.
    pub little_first: bool,
}

/// Images up to this size are decoded between a key and its frame.
pub const QUICK_BYTES: usize = 256 << 10;

/// One image that is open in the editor.
pub struct Sheet {
    /// Its file.
    pub file: ImageFile,
    /// Its bytes.
    pub contents: Contents,
    /// What the layout says about them.
    pub described: Described,
    /// The steps that the layout took since it was read, and their order among the changes of bytes.
    pub steps: Steps,
    /// What is proposed by the bytes alone, once that was asked.
    pub proposals: Proposals,
    /// What speaks for or against the read.
    pub judged: Judged,
    /// What was searched for and found.
    pub found: Found,
    /// The bytes cursor.
    pub cursor: Cursor,
    /// The Readings pane.
    pub readings: Readings,
    /// Typing is refused until the user unlocks.
    pub locked: bool,
    revision: u64,
}

impl Sheet {
    /// An image that was read from `path`, locked.
    #[must_use]
    pub fn new(path: PathBuf, image: Image, format: Format) -> Self {
        Sheet {
            file: ImageFile::new(path, format),
            described: Described::new(image.len()),
            contents: Contents::new(image),
            locked: true,
            cursor: Cursor::default(),
            steps: Steps::default(),
            proposals: Proposals::default(),
            judged: Judged::default(),
            found: Found::default(),
            readings: Readings::default(),
            revision: 0,
        }
    }

    /// Puts a layout in force.
    pub fn follow(&mut self, layout: InForce) {
        self.described.put(Some(layout));
        self.steps.begin();
        self.decode();
        self.described.choose_broken();
    }

    /// Reads the fields and checks again; after every change of bytes or layout. In a large image that would keep
    /// the keys waiting, so there it is left to the judgement that follows.
    pub(super) fn decode(&mut self) {
        self.revision += 1;
        if self.image().len() <= QUICK_BYTES {
            self.described.read(self.contents.image(), self.cursor.at);
            self.proposals.list(&self.described);
        }
    }

    /// What the words of proposed commands stand for.
    #[must_use]
    pub fn names(&self) -> Names {
        let own = self.layout().filter(|l| matches!(l.kept, Kept::File(_) | Kept::Ours(_)));
        let names = Names::of_image(&self.file.path).with("BEFORE", &self.file.path);
        names.with_layout(own.map(|l| l.path.as_path()), None)
    }

    /// Shows only the fields of one role, or all again.
    pub fn show_only(&mut self, role: Option<Role>) {
        self.described.show_only(role);
        self.described.follow(self.cursor.at);
    }

    /// The selected bytes; the byte under the cursor when nothing is selected.
    #[must_use]
    pub fn selection(&self) -> Span {
        let at = self.cursor.at.min(self.image().len());
        match self.cursor.anchor {
            Some(anchor) => Span::new(anchor.min(at), (anchor.max(at) + 1).min(self.image().len())),
            None => Span::new(at, (at + 1).min(self.image().len())),
        }
    }

    /// Puts the cursor on `at`, inside the image, and drops the selection.
    pub fn go(&mut self, at: usize) {
        self.cursor.anchor = None;
        self.move_to(at);
    }

    /// Puts the cursor on `at`, inside the image, and keeps the selection's beginning.
    pub fn move_to(&mut self, at: usize) {
        self.cursor.at = at.min(self.image().len().saturating_sub(1));
        self.cursor.second_digit = false;
        self.described.follow(self.cursor.at);
    }

    /// Selects `span`, its part inside the image, with the cursor on its first byte.
    pub fn select(&mut self, span: Span) {
        let last = self.image().len().saturating_sub(1);
        self.move_to(span.start.min(last));
        self.cursor.anchor = (span.len() > 1).then(|| span.end.saturating_sub(1).min(last));
    }

    /// The bytes as they are now.
    #[must_use]
    pub fn image(&self) -> &Image {
        self.contents.image()
    }

    /// The layout in force.
    #[must_use]
    pub fn layout(&self) -> Option<&InForce> {
        self.described.layout()
    }

    /// What it says about the bytes.
    #[must_use]
    pub fn decoded(&self) -> &Decoded {
        self.described.decoded()
    }

    /// Counts changes of bytes or layout: both are the same as long as it is.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Whether there are changes of bytes that no file holds.
    #[must_use]
    pub fn is_modified(&self) -> bool {
        self.contents.is_modified()
    }

    /// Makes a change; the image is read anew. Returns whether anything changed.
    ///
    /// # Errors
    /// When it does not fit the image, which then is as it was.
    pub fn apply(&mut self, change: Change, joining: Joining) -> Result<bool, Refused> {
        if change.is_empty() {
            // The second digit of a byte does not join what was done before the first, when that changed nothing.
            if joining == Joining::Separate {
                self.contents.history.close();
            }
            return Ok(false);
        }
        let is_step = self.contents.apply(change, joining)?;
        self.steps.bytes_changed(is_step);
        self.bytes_changed();
        Ok(true)
    }

    /// Takes one step back and puts the cursor where it was made; returns what was undone.
    ///
    /// # Errors
    /// When something else wrote to the image.
    pub fn undo(&mut self) -> Result<Option<String>, Refused> {
        self.contents.may_change()?;
        match self.steps.back() {
            None => Ok(None),
            Some(Turn::Layout(_)) => Ok(self.layout_back()),
            Some(Turn::Bytes) => {
                let undone = self.contents.undo().inspect_err(|_| _ = self.steps.again())?;
                Ok(undone.map(|change| self.revisit(change)))
            }
        }
    }

    /// Takes one undone step again; returns what was done.
    ///
    /// # Errors
    /// As for [`Sheet::undo`].
    pub fn redo(&mut self) -> Result<Option<String>, Refused> {
        self.contents.may_change()?;
        match self.steps.again() {
            None => Ok(None),
            Some(Turn::Layout(_)) => Ok(self.layout_again()),
            Some(Turn::Bytes) => {
                let redone = self.contents.redo().inspect_err(|_| _ = self.steps.back())?;
                Ok(redone.map(|change| self.revisit(change)))
            }
        }
    }

    /// Goes where `change` was made or taken back; returns what it was.
    fn revisit(&mut self, change: Change) -> String {
        self.bytes_changed();
        if let Some(edit) = change.edits.first() {
            self.go(edit.at);
        }
        change.label
    }

    fn bytes_changed(&mut self) {
        self.proposals.forget();
        self.decode();
    }

    /// Digits of an address of this image: as many as its last one needs, four at least, an even number.
    #[must_use]
    pub fn digits(&self) -> usize {
        let last = self.image().address(self.image().len().saturating_sub(1));
        (last.max(1).ilog(16) as usize + 1).max(4).next_multiple_of(2)
    }

    /// The address of the byte at an offset, as wide as every other one of this image.
    #[must_use]
    pub fn address(&self, at: usize) -> String {
        format!("0x{:0digits$X}", self.image().address(at), digits = self.digits())
    }
}
