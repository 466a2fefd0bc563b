//! A layout that is written while its image is looked at: its text, the steps it took, and whether a file holds it.
//!
//! Steps of the layout and changes of bytes are taken back in the order in which they were made, by one key: what
//! Undo takes back is always what was done last, and it says which.
//!
//! Images of one kind share a layout: a step of it is a step in every open image that follows the same text, and
//! Undo in any of them takes it back in all.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::app::App;
use super::sheet::Sheet;
use crate::author;
use crate::edit::Refused;
use crate::layout::{self, Layout};
use crate::notation::Problem;
use crate::store::{Identity, LayoutFile};

/// Where the text of a layout is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kept {
    /// With the program; it is saved as a new file only.
    Shipped,
    /// Nowhere yet.
    Nowhere,
    /// In a file of the user, which was this when it was read.
    File(Option<Identity>),
    /// In a file that this session wrote, which was this then.
    Ours(Option<Identity>),
}

/// The layout in force, and where it was read from.
#[derive(Debug, Clone)]
pub struct InForce {
    /// Its file, or the name of a shipped one; for a new one, the file that is suggested.
    pub path: PathBuf,
    /// Where its text is kept.
    pub kept: Kept,
    /// Its text, comments and all.
    pub text: Arc<str>,
    /// What it says.
    pub layout: Arc<Layout>,
}

impl InForce {
    /// A layout by its text.
    ///
    /// # Errors
    /// Every problem of the text.
    pub fn of_text(path: PathBuf, kept: Kept, text: &str) -> Result<InForce, Vec<Problem>> {
        Ok(InForce { path, kept, text: text.into(), layout: layout::read(text)?.into() })
    }

    /// A layout that was read from a file.
    #[must_use]
    pub fn of_file(file: LayoutFile, layout: Layout) -> InForce {
        let kept = match &file.path {
            Some(path) => Kept::File(Identity::of(path).ok()),
            None => Kept::Shipped,
        };
        let path = file.path.unwrap_or_else(|| PathBuf::from(file.name));
        InForce { path, kept, text: file.text.into(), layout: layout.into() }
    }

    /// How many fields it has, those inside others counted.
    #[must_use]
    pub fn fields(&self) -> usize {
        author::fields(&self.text)
    }
}

impl Sheet {
    /// The text of the layout, of a new one when none is in force.
    #[must_use]
    pub fn layout_text(&self) -> String {
        match self.layout() {
            Some(in_force) => in_force.text.to_string(),
            None => author::begin(&self.file.stem()),
        }
    }

    /// The layout as it would be by another text.
    ///
    /// # Errors
    /// Every problem of the text.
    pub fn with_text(&self, text: &str) -> Result<InForce, Vec<Problem>> {
        match self.layout() {
            Some(now) => InForce::of_text(now.path.clone(), now.kept.clone(), text),
            None => InForce::of_text(self.file.origin.with_extension("ron"), Kept::Nowhere, text),
        }
    }

    /// Whether a step of the layout of `other` is one here too: both follow the same text, or both images are as
    /// large and follow none yet.
    fn shares_with(&self, other: &Sheet) -> bool {
        match (self.layout(), other.layout()) {
            (Some(a), Some(b)) => a.path == b.path && a.text == b.text,
            (None, None) => self.image().len() == other.image().len(),
            _ => false,
        }
    }
}

impl App {
    /// The images of which a step of this image's layout is a step too, this one first.
    #[must_use]
    pub fn sharing(&self) -> Vec<usize> {
        let (here, it) = (self.current(), self.it());
        let others = self.images().iter().enumerate().filter(|(i, s)| *i != here && s.shares_with(it));
        std::iter::once(here).chain(others.map(|(i, _)| i)).collect()
    }

    /// Changes the text of the layout as one step, here and in every image that shares it; returns in how many.
    ///
    /// # Errors
    /// Every problem of the text; then nothing has changed.
    pub fn write_layout(&mut self, label: &str, text: &str) -> Result<usize, Vec<Problem>> {
        let after = self.it().with_text(text)?;
        Ok(self.take_up(label, after))
    }

    /// Puts another layout in force as one step, here and in every image that shares the one before; returns in how
    /// many.
    pub fn take_up(&mut self, label: &str, after: InForce) -> usize {
        let sharing = self.sharing();
        self.steps_taken += 1;
        let id = self.steps_taken;
        self.it_mut().take_step(id, label.to_owned(), after);
        self.bring_along(&sharing, id, label, |_| false);
        sharing.len()
    }

    /// Takes back what was done last in this image; a step of the layout in every image that shares it.
    ///
    /// # Errors
    /// When something else wrote to the image.
    pub fn undo(&mut self) -> Result<Option<String>, Refused> {
        let id = self.it().steps.last_done();
        self.go(id, Sheet::undo, Sheet::also_back)
    }

    /// Does again what was taken back last in this image; a step of the layout in every image that shares it.
    ///
    /// # Errors
    /// As for [`App::undo`].
    pub fn redo(&mut self) -> Result<Option<String>, Refused> {
        let id = self.it().steps.last_undone();
        self.go(id, Sheet::redo, Sheet::also_again)
    }

    /// Goes back or forth by one thing; `id` is its number when it is a step of the layout, and `alike` goes the same
    /// way in another image.
    fn go(
        &mut self,
        id: Option<u64>,
        way: fn(&mut Sheet) -> Result<Option<String>, Refused>,
        alike: fn(&mut Sheet, u64) -> bool,
    ) -> Result<Option<String>, Refused> {
        let sharing = self.sharing();
        let label = way(self.it_mut())?;
        if let (Some(id), Some(label)) = (id, &label) {
            self.bring_along(&sharing, id, label, |sheet| alike(sheet, id));
        }
        Ok(label)
    }

    /// Puts the layout of this image in force in the others of `sharing`: by `alike` where that can be done there,
    /// else as a step of its own.
    fn bring_along(&mut self, sharing: &[usize], id: u64, label: &str, alike: impl Fn(&mut Sheet) -> bool) {
        let now = self.it().layout().cloned();
        for &index in sharing.iter().skip(1) {
            let Some(sheet) = self.images_mut().get_mut(index) else { continue };
            if !alike(sheet)
                && let Some(now) = &now
            {
                sheet.take_step(id, label.to_owned(), now.clone());
            }
        }
    }

    /// Says that the text of the layout is in a file now.
    pub fn layout_saved(&mut self, path: &Path, identity: &Identity) {
        for index in self.sharing() {
            if let Some(sheet) = self.images_mut().get_mut(index) {
                sheet.layout_saved(path.to_path_buf(), identity.clone());
            }
        }
    }
}
