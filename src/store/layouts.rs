//! Layouts at hand: files of the user and those shipped with the program.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use super::places::{configuration_folder, set};
use super::text::read_text;
use super::told;
use super::walk::{folder_of, is_ron};
use crate::error::Error;
use crate::layout::{self, Layout};
use crate::notation::Lines;

/// The environment variable that names a folder of layouts.
pub const LAYOUTS_VARIABLE: &str = "READPROOF_LAYOUTS";

/// A layout is at most this large: every shipped one together is far smaller.
const MAX_LAYOUT_BYTES: u64 = 4 << 20;

/// At most this many files of one folder are looked at, the first by name.
const MAX_FILES: usize = 1000;

/// A layout that was found, not yet read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayoutFile {
    /// Its file name without the ending.
    pub name: String,
    /// Where it is; `None` for one that is shipped.
    pub path: Option<PathBuf>,
    /// Its text.
    pub text: String,
}

impl LayoutFile {
    /// Where it is, for people: the path, or `shipped: NAME`.
    #[must_use]
    pub fn place(&self) -> String {
        match &self.path {
            Some(path) => path.display().to_string(),
            None => format!("shipped: {}", self.name),
        }
    }
}

/// The layouts at hand, in this order: `folder` or, without it, the one that the environment names; the folders of
/// `images` (a folder among them stands for itself); the user's own (`readproof/layouts` in the configuration folder);
/// those that are shipped. The first of a name hides later ones, so that a user can correct a shipped one.
///
/// # Errors
/// When `folder`, or the one of the environment, cannot be read. The others may be absent, and files in them that
/// cannot be read are left out.
pub fn layouts(folder: Option<&Path>, images: &[&Path]) -> Result<Vec<LayoutFile>, Error> {
    let named = folder.map(Path::to_owned).or_else(|| set(LAYOUTS_VARIABLE).map(PathBuf::from));
    let mut found = Vec::new();
    if let Some(folder) = &named {
        found.extend(in_folder(folder)?);
    }
    let mut others: Vec<PathBuf> = Vec::new();
    for image in images.iter().filter(|i| i.as_os_str() != "-") {
        let beside = if image.is_dir() { image } else { folder_of(image) };
        if !others.iter().any(|o| o == beside) {
            others.push(beside.to_owned());
        }
    }
    others.extend(configuration_folder().map(|c| c.join("layouts")));
    for folder in &others {
        found.extend(in_folder(folder).unwrap_or_default());
    }
    found.extend(layout::SHIPPED.iter().map(|(name, text)| LayoutFile {
        name: name.trim_end_matches(".ron").to_owned(),
        path: None,
        text: (*text).to_owned(),
    }));
    let mut names = std::collections::HashSet::new();
    found.retain(|layout| names.insert(layout.name.clone()));
    Ok(found)
}

/// Whether files that may be layouts lie in `folder`.
#[must_use]
pub fn may_hold_layouts(folder: &Path) -> bool {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.map(|entry| entry.file_name()).any(|name| is_ron(Path::new(&name)))
}

/// The layout file at `path`, or the one at hand whose name is `path`.
///
/// # Errors
/// When there is none, or it cannot be read.
pub fn layout_file(path: &Path, at_hand: &[LayoutFile]) -> Result<LayoutFile, Error> {
    if !path.is_file()
        && let Some(known) = at_hand.iter().find(|l| path.as_os_str() == OsStr::new(&l.name))
    {
        return Ok(known.clone());
    }
    read_file(path)
}

/// Reads a layout that was found.
///
/// # Errors
/// Every problem of it, as `file:line:column`.
pub fn read_layout(file: &LayoutFile) -> Result<Layout, Error> {
    layout::read(&file.text).map_err(|problems| {
        let lines = Lines::of(&file.text);
        let told = problems.iter().map(|p| {
            let at = lines.place(p.span.start);
            let fix = p.fix.iter().map(|f| format!("; {f}")).collect::<String>();
            (Some((at.line, at.column)), format!("{}; expected {}{fix}", p.what, p.expected))
        });
        let place = file.path.clone().unwrap_or_else(|| PathBuf::from(file.place()));
        Error::of_file(&place, told, 0, "`readproof layouts FILE` shows every problem in its line")
            .unwrap_or_else(|| {
                Error::new("the layout cannot be read").in_file(place).advice("name another one")
            })
    })
}

/// The layouts of one folder, by name: files `*.ron` that say `layout:` somewhere, because dockets and other RON
/// files may lie there too.
fn in_folder(folder: &Path) -> Result<Vec<LayoutFile>, Error> {
    let entries = fs::read_dir(folder).map_err(|e| told(folder, "reading the folder", &e))?;
    // What is no file, such as a pipe, might be waited for.
    let ours = |path: &PathBuf| is_ron(path) && path.is_file();
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).filter(ours).collect();
    paths.sort();
    paths.truncate(MAX_FILES);
    Ok(paths.iter().filter_map(|p| read_file(p).ok()).filter(|l| l.text.contains("layout:")).collect())
}

fn read_file(path: &Path) -> Result<LayoutFile, Error> {
    let text = read_text(path, "layout", MAX_LAYOUT_BYTES)?;
    let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    Ok(LayoutFile { name, path: Some(path.to_owned()), text })
}
