//! Which layout an image is shown by: the one that was named, or the one whose marks fit best.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use crate::error::Error;
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::layout::{self, Layout};
use crate::notation::nearest;
use crate::report::names::Names;
use crate::report::text;
use crate::store::{self, LayoutFile};
use crate::vet;

/// The options on layouts that several commands share.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct LayoutArgs {
    /// Layout to use: a file, the name of one at hand, or none; without it the marks decide
    #[arg(long, value_name = "LAYOUT")]
    pub layout: Option<PathBuf>,
    /// Folder with more layouts whose marks are tried
    #[arg(long, value_name = "FOLDER")]
    pub layouts: Option<PathBuf>,
}

/// The layouts at hand, read once for all images of a command.
#[derive(Debug, Clone, Default)]
pub struct Shelf {
    layouts: Vec<Layout>,
    /// The file of each layout.
    files: Vec<LayoutFile>,
    /// The user said which one, or that none is wanted.
    named: bool,
    /// Layouts that were left out because they have problems.
    left_out: Vec<Finding>,
}

/// A layout that was chosen for an image.
#[derive(Debug, Clone, Copy)]
pub struct Chosen<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its name, place and text.
    pub file: &'a LayoutFile,
}

/// What was chosen for one image, and why.
#[derive(Debug, Clone)]
pub struct Choice<'a> {
    /// The layout; `None` when none fits or none is wanted.
    pub chosen: Option<Chosen<'a>>,
    /// Why it was taken, to stand behind its name: `named by you`.
    pub why: String,
    /// Remarks on the choice: layouts that fit as well, layouts that have problems, why none fits.
    pub findings: Vec<Finding>,
}

impl LayoutArgs {
    /// Names for proposed commands, which say of layouts what these options say.
    #[must_use]
    pub fn names(&self) -> Names {
        Names::default().with_layout(self.layout.as_deref(), self.layouts.as_deref())
    }

    /// Reads the layouts that may be used for `images`, whose folders are looked through too.
    ///
    /// # Errors
    /// When the named layout does not exist or has problems, or the folder cannot be read.
    pub fn shelf(&self, images: &[&Path]) -> Result<Shelf, Error> {
        self.shelf_where(images, |_| true)
    }

    /// As [`LayoutArgs::shelf`], for choosing a layout for these images and nothing else: layouts that come with the
    /// program and fit none of them are not read.
    ///
    /// # Errors
    /// As for that.
    pub fn shelf_to_choose(&self, images: &[(&Path, &Image)]) -> Result<Shelf, Error> {
        let paths: Vec<&Path> = images.iter().map(|(path, _)| *path).collect();
        self.shelf_where(&paths, |file| {
            file.path.is_some() || images.iter().any(|(_, image)| layout::may_fit(&file.text, image))
        })
    }

    fn shelf_where(&self, images: &[&Path], wanted: impl Fn(&LayoutFile) -> bool) -> Result<Shelf, Error> {
        let mut shelf = Shelf::default();
        if self.layout.as_deref() == Some(Path::new("none")) {
            shelf.named = true;
            return Ok(shelf);
        }
        let at_hand = store::layouts(self.layouts.as_deref(), images)?;
        if let Some(named) = &self.layout {
            let file = at_hand_or_file(named, &at_hand)?;
            shelf.named = true;
            shelf.layouts.push(store::read_layout(&file)?);
            shelf.files.push(file);
            return Ok(shelf);
        }
        for file in at_hand.into_iter().filter(wanted) {
            match layout::read(&file.text) {
                Ok(layout) => {
                    shelf.layouts.push(layout);
                    shelf.files.push(file);
                }
                Err(problems) => shelf.left_out.push(left_out(&file, problems.len())),
            }
        }
        Ok(shelf)
    }
}

/// The layouts for many images: those at hand for all of them, and those beside some.
pub struct Shelves<'a> {
    args: &'a LayoutArgs,
    /// The images and folders that were named; what lies beside them is for all.
    named: Vec<&'a Path>,
    shared: Arc<Shelf>,
    /// The folder that was looked into last. Images come folder by folder.
    last: Mutex<Option<(PathBuf, Arc<Shelf>)>>,
}

impl<'a> Shelves<'a> {
    /// The layouts for what `named` leads to.
    ///
    /// # Errors
    /// As [`LayoutArgs::shelf`].
    pub fn of(args: &'a LayoutArgs, named: &'a [PathBuf]) -> Result<Self, Error> {
        let named: Vec<&Path> = named.iter().map(PathBuf::as_path).collect();
        let shared = Arc::new(args.shelf(&named)?);
        Ok(Shelves { args, named, shared, last: Mutex::new(None) })
    }

    /// The layouts for `image`: those in its own folder come before the shared ones.
    ///
    /// # Errors
    /// As [`LayoutArgs::shelf`].
    pub fn for_image(&self, image: &Path) -> Result<Arc<Shelf>, Error> {
        let folder = store::folder_of(image);
        if self.shared.named || self.named.contains(&folder) || self.named.contains(&image) {
            return Ok(Arc::clone(&self.shared));
        }
        let mut last = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, shelf)) = last.as_ref().filter(|(of, _)| of == folder) {
            return Ok(Arc::clone(shelf));
        }
        let shelf = match store::may_hold_layouts(folder) {
            true => {
                let places: Vec<&Path> = [image].into_iter().chain(self.named.iter().copied()).collect();
                Arc::new(self.args.shelf(&places)?)
            }
            false => Arc::clone(&self.shared),
        };
        *last = Some((folder.to_owned(), Arc::clone(&shelf)));
        Ok(shelf)
    }
}

/// The layout file at `path`, or the one at hand of that name.
///
/// # Errors
/// When there is none; a name that is near is suggested.
pub fn at_hand_or_file(path: &Path, at_hand: &[LayoutFile]) -> Result<LayoutFile, Error> {
    let is_name = path.extension().is_none() && path.components().count() == 1 && !path.exists();
    store::layout_file(path, at_hand).map_err(|error| {
        if !is_name {
            return error;
        }
        let name = path.to_string_lossy();
        let error = Error::new(format!("no layout is called {name:?}"));
        match nearest(&name, at_hand.iter().map(|l| l.name.as_str())) {
            Some(near) => error.advice(format!("did you mean {near}?")),
            None => error.advice("`readproof layouts` lists the layouts at hand; or name a file"),
        }
    })
}

fn left_out(file: &LayoutFile, problems: usize) -> Finding {
    Finding::new(
        Weight::Note,
        Code::LayoutLeftOut,
        format!("the layout {} has {}", text::clean(&file.place()), text::count(problems, "problem")),
        "it was left out of the choice",
        format!(
            "look at each with `readproof layouts {}`",
            file.path.as_deref().map_or(file.name.clone(), text::shell)
        ),
    )
}

impl Shelf {
    /// The layout for `image`: the named one whatever its marks say, else the one whose marks fit best.
    #[must_use]
    pub fn choose(&self, image: &Image) -> Choice<'_> {
        let mut choice = Choice { chosen: None, why: String::new(), findings: self.left_out.clone() };
        let fits = layout::fits(&self.layouts, image);
        let best = fits.first();
        if self.named {
            choice.chosen = self.at(0);
            choice.why = "named by you".to_owned();
        } else if let Some(best) = best {
            choice.chosen = self.at(best.index);
            choice.why.clone_from(&best.why);
            choice.findings.extend(self.tie(best.index, layout::choice::as_good(&fits)));
        } else {
            choice.findings.extend(vet::why_none_fits(image, &self.layouts));
        }
        if let Some(Chosen { layout, .. }) = choice.chosen {
            match best {
                None if layout.has_marks() => {
                    choice.findings.push(layout::choice::unfit(&layout.title));
                    if !layout.allows(image.len()) {
                        choice.findings.push(layout::choice::wrong_size(image.len(), &layout.title));
                    }
                }
                Some(best) if !best.sized => {
                    choice.findings.push(layout::choice::wrong_size(image.len(), &layout.title));
                }
                _ => {}
            }
        }
        choice
    }

    /// That the layouts `others` fit as well as `taken`; none when there are no others.
    #[must_use]
    pub fn tie(&self, taken: usize, others: impl IntoIterator<Item = usize>) -> Option<Finding> {
        let all = std::iter::once(taken).chain(others);
        let names: Vec<&str> = all.filter_map(|i| self.files.get(i)).map(|file| file.name.as_str()).collect();
        (names.len() > 1).then(|| layout::choice::tie(&names))
    }

    /// What `--verbose` tells of the choice for `image`: every layout whose marks fit, the best first, and how many do
    /// not fit; empty where the user chose.
    #[must_use]
    pub fn considered(&self, image: &Image) -> Vec<(String, String)> {
        if self.named {
            return Vec::new();
        }
        let fits = layout::fits(&self.layouts, image);
        let said = |(n, fit): (usize, &layout::Fit)| {
            let name = self.files.get(fit.index)?.name.clone();
            let taken = if n == 0 { "taken: " } else { "" };
            let sized = if fit.sized { "" } else { "; the image has a size that it does not allow" };
            Some((name, format!("{taken}{}, {}{sized}", fit.why, text::count(fit.bits as usize, "bit"))))
        };
        let mut rows: Vec<_> = fits.iter().enumerate().filter_map(said).collect();
        let others = self.layouts.len() - fits.len();
        rows.push((
            text::count(others, if fits.is_empty() { "layout" } else { "other" }),
            "their marks are not in the image".to_owned(),
        ));
        rows
    }

    /// Whether the user said which layout to use, or that none is wanted.
    #[must_use]
    pub fn is_named(&self) -> bool {
        self.named
    }

    /// Remarks on layouts that have problems and cannot be chosen.
    #[must_use]
    pub fn left_out(&self) -> &[Finding] {
        &self.left_out
    }

    fn at(&self, index: usize) -> Option<Chosen<'_>> {
        Some(Chosen { layout: self.layouts.get(index)?, file: self.files.get(index)? })
    }

    /// The layouts that may be chosen; the named one alone when one was named.
    #[must_use]
    pub fn layouts(&self) -> &[Layout] {
        &self.layouts
    }

    /// The files of the layouts that may be chosen.
    #[must_use]
    pub fn files(&self) -> &[LayoutFile] {
        &self.files
    }
}
