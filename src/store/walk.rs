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
            } else if Path::new(&name).extension().is_some_and(|e| e.eq_ignore_ascii_case("ron")) {
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
mod tests {
    use super::*;

    /// A folder with these files, and what a walk over it met, relative to it.
    fn walked(files: &[&str], more: impl FnOnce(&Path)) -> (Vec<String>, LeftOut) {
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

    #[cfg(unix)]
    #[test]
    fn loops_hidden_things_pipes_and_layouts_are_left_out_and_counted() {
        use std::os::unix::fs::symlink;
        let files = ["a/1.bin", ".hidden.bin", ".git/config", "cr8.ron", "b/job.RON"];
        let (met, left_out) = walked(&files, |root| {
            symlink(root, root.join("a/loop")).unwrap();
            symlink("1.bin", root.join("a/2.bin")).unwrap();
            symlink("nowhere", root.join("a/3.bin")).unwrap();
            rustix::fs::mknodat(
                rustix::fs::CWD,
                root.join("pipe"),
                rustix::fs::FileType::Fifo,
                0o600.into(),
                0,
            )
            .unwrap();
        });
        assert_eq!(met, ["a/1.bin", "a/2.bin", "a/3.bin: this link leads to no file that can be reached"]);
        assert_eq!(left_out, LeftOut { hidden: 2, linked_folders: 1, special: 1, ron: 2 });
    }

    #[cfg(unix)]
    #[test]
    fn sockets_are_left_out_and_what_cannot_be_entered_is_told_in_its_place() {
        use std::os::unix::{fs::PermissionsExt, net::UnixListener};
        let mut is_barred = false;
        let (met, left_out) = walked(&["a/1.bin", "b/2.bin", "c/3.bin"], |root| {
            UnixListener::bind(root.join("a/socket")).unwrap();
            fs::set_permissions(root.join("b"), PermissionsExt::from_mode(0o000)).unwrap();
            // Nothing is barred to the superuser.
            is_barred = fs::read_dir(root.join("b")).is_err();
        });
        let [first, second, third] = &met[..] else { panic!("{met:?}") };
        assert_eq!([first.as_str(), third], ["a/1.bin", "c/3.bin"]);
        assert!(if is_barred { second.starts_with("b: ") } else { second == "b/2.bin" }, "{second}");
        assert_eq!(left_out, LeftOut { special: 1, ..LeftOut::default() });
    }

    #[cfg(unix)]
    #[test]
    fn a_tree_deeper_than_a_path_may_be_long_is_told_and_the_rest_is_walked() {
        use rustix::fs::{CWD, Mode, OFlags, mkdirat, openat};
        const NAME: &str = "a-folder-with-a-name-of-forty-characters";
        let (met, _) = walked(&["a/1.bin", "z/2.bin"], |root| {
            let mut inner = openat(CWD, root.join("a"), OFlags::DIRECTORY, Mode::empty()).unwrap();
            // 8 KiB of names, where systems take 1 to 4.
            for _ in 0..200 {
                mkdirat(&inner, NAME, Mode::RWXU).unwrap();
                inner = openat(&inner, NAME, OFlags::DIRECTORY, Mode::empty()).unwrap();
            }
        });
        let [first, deep, last] = &met[..] else { panic!("{} met", met.len()) };
        assert_eq!([first.as_str(), last], ["a/1.bin", "z/2.bin"]);
        assert!(deep.starts_with(&format!("a/{NAME}/{NAME}/")) && deep.contains(": "), "{deep}");
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
