//! The files below folders, one after another, in an order that is the same every time.
//!
//! What is named is taken as it is: a hidden file, a link. Inside a folder come its files by name, then its folders
//! by name, each with what is in it. Left out and counted there: what is hidden (a name that begins with a dot),
//! links to folders (so that no loop is walked), what is no file (pipes, sockets, devices: opening one may wait for
//! ever), and `*.ron`, which are layouts, dockets and change lists. A link to a file is that file.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::vec;

use super::told;
use crate::error::Error;

/// What was left out of a walk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LeftOut {
    /// Hidden files and folders.
    pub hidden: usize,
    /// Links to folders.
    pub linked_folders: usize,
    /// Pipes, sockets, devices.
    pub special: usize,
    /// Layouts, dockets and change lists.
    pub ron: usize,
}

/// A walk over files and folders. Memory grows with the longest folder, not with the tree.
#[derive(Debug)]
pub struct Walk {
    named: vec::IntoIter<PathBuf>,
    /// The folders that are open, the innermost last.
    open: Vec<Folder>,
    left_out: LeftOut,
}

#[derive(Debug)]
struct Folder {
    path: PathBuf,
    files: vec::IntoIter<OsString>,
    folders: vec::IntoIter<OsString>,
    /// What in it could not be looked at.
    problems: vec::IntoIter<Error>,
}

/// Whether there is a file of that name, links followed.
#[must_use]
pub fn is_file(path: &Path) -> bool {
    path.is_file()
}

/// Whether `path` is a folder, or leads to one.
#[must_use]
pub fn is_folder(path: &Path) -> bool {
    path.is_dir()
}

/// Whether two paths lead to one file.
#[must_use]
pub fn is_same_file(one: &Path, other: &Path) -> bool {
    matches!((fs::canonicalize(one), fs::canonicalize(other)), (Ok(one), Ok(other)) if one == other)
}

/// The folder that `file` is in.
#[must_use]
pub fn folder_of(file: &Path) -> &Path {
    file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Whether a file is a layout, a docket or a change list by its name.
pub(super) fn is_ron(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case("ron"))
}

impl Walk {
    /// A walk over `named`, files and folders, in that order.
    #[must_use]
    pub fn over(named: Vec<PathBuf>) -> Self {
        Walk { named: named.into_iter(), open: Vec::new(), left_out: LeftOut::default() }
    }

    /// What was left out so far.
    #[must_use]
    pub fn left_out(&self) -> LeftOut {
        self.left_out
    }

    /// Lists a folder.
    fn enter(&mut self, path: PathBuf) -> Result<(), Error> {
        let failed = |e| told(&path, "reading the folder", &e);
        let (mut files, mut folders, mut problems) = (Vec::new(), Vec::new(), Vec::new());
        for entry in fs::read_dir(&path).map_err(failed)? {
            let (name, kind) = match entry.and_then(|e| Ok((e.file_name(), e.file_type()?))) {
                Ok(known) => known,
                Err(error) => {
                    problems.push(failed(error));
                    continue;
                }
            };
            if name.as_encoded_bytes().starts_with(b".") {
                self.left_out.hidden += 1;
            } else if kind.is_dir() {
                folders.push(name);
            } else if is_ron(Path::new(&name)) {
                self.left_out.ron += 1;
            } else if kind.is_file() {
                files.push(name);
            } else if kind.is_symlink() {
                match fs::metadata(path.join(&name)) {
                    Ok(about) if about.is_file() => files.push(name),
                    Ok(about) if about.is_dir() => self.left_out.linked_folders += 1,
                    Ok(_) => self.left_out.special += 1,
                    Err(_) => problems.push(
                        Error::new("this link leads to no file that can be reached")
                            .in_file(path.join(&name))
                            .advice("remove the link, or put the file back"),
                    ),
                }
            } else {
                self.left_out.special += 1;
            }
        }
        files.sort();
        folders.sort();
        problems.sort_by(|a, b| a.place.cmp(&b.place));
        self.open.push(Folder {
            path,
            files: files.into_iter(),
            folders: folders.into_iter(),
            problems: problems.into_iter(),
        });
        Ok(())
    }
}

impl Iterator for Walk {
    /// The path of a file, not opened yet, or what cannot be walked into.
    type Item = Result<PathBuf, Error>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let folder = match self.open.last_mut() {
                None => {
                    let named = self.named.next()?;
                    if !is_folder(&named) {
                        return Some(Ok(named));
                    }
                    named
                }
                Some(open) => {
                    if let Some(file) = open.files.next() {
                        return Some(Ok(open.path.join(file)));
                    }
                    if let Some(problem) = open.problems.next() {
                        return Some(Err(problem));
                    }
                    match open.folders.next() {
                        Some(name) => open.path.join(name),
                        None => {
                            self.open.pop();
                            continue;
                        }
                    }
                }
            };
            if let Err(error) = self.enter(folder) {
                return Some(Err(error));
            }
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A folder with these files, and what a walk over it met, relative to it.
    pub(in crate::store) fn walked(files: &[&str], more: impl FnOnce(&Path)) -> (Vec<String>, LeftOut) {
        let folder = tempfile::tempdir().unwrap();
        for file in files {
            let path = folder.path().join(file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, file).unwrap();
        }
        more(folder.path());
        let mut walk = Walk::over(vec![folder.path().to_owned()]);
        let relative = |path: &Path| path.strip_prefix(folder.path()).unwrap().to_string_lossy().into_owned();
        let met = walk
            .by_ref()
            .map(|met| match met {
                Ok(path) => relative(&path),
                Err(error) => format!("{}: {}", relative(Path::new(&error.place.unwrap())), error.what),
            })
            .collect();
        (met, walk.left_out())
    }

    #[test]
    fn files_come_by_name_before_folders_and_the_order_is_the_same_every_time() {
        let files = ["b/2.bin", "b/a/1.bin", "z.bin", "a.bin", "b/10.bin", "a/x.bin"];
        let (met, left_out) = walked(&files, |_| {});
        assert_eq!(met, ["a.bin", "z.bin", "a/x.bin", "b/10.bin", "b/2.bin", "b/a/1.bin"]);
        assert_eq!(left_out, LeftOut::default());
    }

    #[test]
    fn many_files_in_one_folder_come_in_order() {
        let names: Vec<String> = (0..3000).map(|number| format!("{number:04}.bin")).collect();
        let shuffled: Vec<&str> = (0..3000).map(|i| names[i * 1009 % 3000].as_str()).collect();
        let (met, _) = walked(&shuffled, |_| {});
        assert_eq!(met, names);
    }

    #[test]
    fn what_is_named_is_taken_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let hidden = folder.path().join(".hidden.ron");
        fs::write(&hidden, "x").unwrap();
        let absent = folder.path().join("absent");
        let named = vec![absent.clone(), hidden.clone(), folder.path().to_owned()];
        let met: Vec<_> = Walk::over(named).map(Result::unwrap).collect();
        assert_eq!(met, [absent, hidden]);
    }
}
