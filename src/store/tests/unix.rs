//! What only Unix has: links, modes, pipes, devices, names that are no text, files cut under their map.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::os::unix::ffi::OsStrExt as _;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, symlink};
use std::os::unix::net::UnixListener;
use std::path::Path;

use rustix::fs::{CWD, FileType, Mode, OFlags, XattrFlags, getxattr, mkdirat, mknodat, openat, setxattr};

use super::*;
use crate::store::walk::tests::walked;
use crate::store::*;

fn make_pipe(path: &Path) {
    mknodat(CWD, path, FileType::Fifo, 0o600.into(), 0).unwrap();
}

#[test]
fn devices_are_refused_and_pipes_are_read() {
    assert!(refused(Path::new("/dev/zero")).contains("this is a device"));
    let dir = tempfile::tempdir().unwrap();
    let pipe = dir.path().join("pipe");
    make_pipe(&pipe);
    let writer = std::thread::spawn({
        let pipe = pipe.clone();
        move || fs::write(pipe, "abc").unwrap()
    });
    let opened = open_file(&pipe).unwrap();
    writer.join().unwrap();
    assert_eq!((opened.image.bytes(), opened.identity), (&b"abc"[..], None));
}

#[test]
fn a_path_that_is_no_unicode_opens() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(OsStr::from_bytes(b"unit\xFF\n7.bin"));
    fs::write(&path, "abc").unwrap();
    let opened = open_file(&path).unwrap();
    assert_eq!((opened.image.bytes(), opened.path.as_path()), (&b"abc"[..], path.as_path()));
}

#[test]
fn a_file_that_is_cut_under_its_map_is_an_error_and_no_crash() {
    let _asking = asking();
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("cut.bin");
    let file = fs::File::create(&path).unwrap();
    file.set_len(100 << 20).unwrap();
    let mut opened = open_file(&path).unwrap();
    assert_eq!((opened.unchanged(), opened.image.bytes()[99 << 20]), (Ok(()), 0));
    file.set_len(1 << 20).unwrap();
    // Every page behind the new end, read and written.
    let sum: u64 = opened.image.bytes().iter().step_by(4096).map(|&b| u64::from(b)).sum();
    opened.image.write(98 << 20, &[7]);
    assert_eq!((sum, opened.image.bytes()[98 << 20]), (0, 7));
    assert!(opened.changed_on_disk().unwrap().unwrap().to_string().contains("1048576 bytes now"));
    let error = still_there().unwrap_err();
    assert!(error.what.contains("could not be read to its end"), "{error}");
    // It is told also when the image is closed already, and then once.
    let was = opened.identity.clone();
    drop(opened);
    assert!(still_there().unwrap_err().what.contains("could not be read to its end"));
    assert_eq!(still_there(), Ok(()));
    // A save from such an image is refused as well: the file is not what it was.
    let over = Over { was: was.as_ref(), keep_original: false, read_only_too: false };
    assert!(save_over(&path, b"x", over).is_err());
}

#[test]
fn extended_attributes_of_a_replaced_file_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("unit.bin");
    fs::write(&path, [1]).unwrap();
    if setxattr(&path, "user.bench", b"3", XattrFlags::empty()).is_err() {
        eprintln!("skipped: this file system keeps no extended attributes");
        return;
    }
    let over = Over { was: None, keep_original: false, read_only_too: false };
    save_over(&path, &[2], over).unwrap();
    let mut value = [0; 8];
    assert_eq!(getxattr(&path, "user.bench", &mut value[..]).unwrap(), 1);
    assert_eq!((fs::read(&path).unwrap(), value[0]), (vec![2], b'3'));
}

#[test]
fn links_stay_links_through_chains_and_folders() {
    let dir = tempfile::tempdir().unwrap();
    let deep = dir.path().join("deep");
    fs::create_dir(&deep).unwrap();
    fs::write(deep.join("unit7.bin"), "old").unwrap();
    symlink("deep/unit7.bin", dir.path().join("one")).unwrap();
    symlink(dir.path().join("one"), dir.path().join("two")).unwrap();
    symlink("two", dir.path().join("three")).unwrap();
    let saved = save_over(&dir.path().join("three"), b"new", CONFIRMED).unwrap();
    assert_eq!(saved.path, deep.canonicalize().unwrap().join("unit7.bin"));
    for link in ["one", "two", "three"] {
        let path = dir.path().join(link);
        assert!(path.symlink_metadata().unwrap().is_symlink(), "{link}");
        assert_eq!(fs::read(path).unwrap(), b"new");
    }
    assert_eq!(fs::read(deep.join("unit7.bin.original")).unwrap(), b"old");
}

#[test]
fn a_link_that_leads_nowhere_is_never_written_through() {
    let dir = tempfile::tempdir().unwrap();
    let link = dir.path().join("unit7.bin");
    symlink("nowhere", &link).unwrap();
    assert!(save_new(&link, b"new").unwrap_err().what.contains("already"));
    assert!(save_over(&link, b"new", CONFIRMED).unwrap_err().what.contains("is gone"));
}

#[test]
fn the_mode_is_kept_also_on_the_copy_of_the_original() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    for mode in [0o600, 0o640, 0o664, 0o4755] {
        fs::write(&path, format!("old {mode}")).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
        let saved = save_over(&path, b"new", CONFIRMED).unwrap();
        let mode_of = |path: &Path| fs::metadata(path).unwrap().mode() & 0o7777;
        assert_eq!(mode_of(&path), mode);
        assert_eq!(mode_of(&saved.original.unwrap()), mode);
    }
}

#[test]
fn a_write_protected_file_is_replaced_only_when_that_is_asked_for() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "old").unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o444)).unwrap();
    let opened = open(&path, &mut io::empty()).unwrap();
    assert!(opened.read_only, "told when it is opened");
    let error = save_over(&path, b"new", CONFIRMED).unwrap_err();
    assert!(error.what.contains("write-protected"), "{error}");
    assert_eq!(fs::read(&path).unwrap(), b"old");
    save_over(&path, b"new", Over { read_only_too: true, ..CONFIRMED }).unwrap();
    assert_eq!(
        (fs::read(&path).unwrap(), fs::metadata(&path).unwrap().mode() & 0o777),
        (b"new".to_vec(), 0o444)
    );
}

#[test]
fn a_file_with_several_names_is_not_split() {
    let dir = tempfile::tempdir().unwrap();
    let (path, alias) = (dir.path().join("unit7.bin"), dir.path().join("alias.bin"));
    fs::write(&path, "old").unwrap();
    fs::hard_link(&path, &alias).unwrap();
    let error = save_over(&path, b"new", CONFIRMED).unwrap_err();
    assert!(error.what.contains("2 names"), "{error}");
    assert_eq!(fs::metadata(&path).unwrap().ino(), fs::metadata(&alias).unwrap().ino());
}

#[test]
fn a_file_that_is_no_plain_one_is_not_replaced() {
    let error = save_over(Path::new("/dev/null"), b"new", CONFIRMED).unwrap_err();
    assert!(error.what.contains("no plain file"), "{error}");
}

#[test]
fn names_that_are_no_unicode_are_saved_and_kept() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(OsStr::from_bytes(b"unit\xFF7.bin"));
    save_new(&path, b"old").unwrap();
    let saved = save_over(&path, b"new", CONFIRMED).unwrap();
    assert_eq!(
        (fs::read(&path).unwrap(), fs::read(saved.original.unwrap()).unwrap()),
        (b"new".to_vec(), b"old".to_vec())
    );
}

#[test]
fn notes_are_for_their_user_alone() {
    let dir = tempfile::tempdir().unwrap();
    let (image, folder) = (dir.path().join("unit.bin"), dir.path().join("states/unsaved"));
    fs::write(&image, [1]).unwrap();
    let mut session = Unsaved::within(folder.clone());
    session.add(&image, "bytes", "", &[step(1)]).unwrap();
    session.keep(&image, "1 byte", "layout", "", b"work").unwrap();
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&folder), 0o700);
    for entry in fs::read_dir(folder).unwrap().flatten() {
        assert_eq!(mode(&entry.path()) & 0o077, 0, "{}", entry.path().display());
    }
}

#[test]
fn loops_hidden_things_pipes_and_layouts_are_left_out_and_counted() {
    let files = ["a/1.bin", ".hidden.bin", ".git/config", "cr8.ron", "b/job.RON"];
    let (met, left_out) = walked(&files, |root| {
        symlink(root, root.join("a/loop")).unwrap();
        symlink("1.bin", root.join("a/2.bin")).unwrap();
        symlink("nowhere", root.join("a/3.bin")).unwrap();
        make_pipe(&root.join("pipe"));
    });
    assert_eq!(met, ["a/1.bin", "a/2.bin", "a/3.bin: this link leads to no file that can be reached"]);
    assert_eq!(left_out, LeftOut { hidden: 2, linked_folders: 1, special: 1, ron: 2 });
}

#[test]
fn sockets_are_left_out_and_what_cannot_be_entered_is_told_in_its_place() {
    let mut is_barred = false;
    let (met, left_out) = walked(&["a/1.bin", "b/2.bin", "c/3.bin"], |root| {
        UnixListener::bind(root.join("a/socket")).unwrap();
        fs::set_permissions(root.join("b"), fs::Permissions::from_mode(0o000)).unwrap();
        // Nothing is barred to the superuser.
        is_barred = fs::read_dir(root.join("b")).is_err();
    });
    let [first, second, third] = &met[..] else { panic!("{met:?}") };
    assert_eq!([first.as_str(), third], ["a/1.bin", "c/3.bin"]);
    assert!(if is_barred { second.starts_with("b: ") } else { second == "b/2.bin" }, "{second}");
    assert_eq!(left_out, LeftOut { special: 1, ..LeftOut::default() });
}

#[test]
fn a_tree_deeper_than_a_path_may_be_long_is_told_and_the_rest_is_walked() {
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
fn an_image_whose_name_is_no_text_is_found_again_by_the_docket() {
    let dir = tempfile::tempdir().unwrap();
    let docket = dir.path().join("job.ron");
    let image = dir.path().join(OsStr::from_bytes(b"unit\xFF7.bin"));
    fs::write(&image, "abc").unwrap();
    let record = record_file(&docket, "read 1", &image).unwrap();
    assert_eq!((record.path.as_str(), check_record(&docket, &record)), ("unit\u{fffd}7.bin", Kept::Same));
    assert_eq!(record_opened(&docket, "read 1", &open_file(&image).unwrap()), Ok(record.clone()));
    // A file that only looks like it is another one.
    let alike = dir.path().join("unit\u{fffd}7.bin");
    fs::rename(&image, &alike).unwrap();
    assert!(matches!(check_record(&docket, &record), Kept::Missing(_)));
    assert!(!record_file(&docket, "read 1", &alike).unwrap().is_same(&record));
}

#[test]
fn work_on_a_file_whose_name_is_no_text_is_not_offered_for_a_copy_of_it() {
    let dir = tempfile::tempdir().unwrap();
    let root = dir.path().canonicalize().unwrap();
    for name in [&b"unit\xFF7.bin"[..], b"unit\n7.bin"] {
        let image = root.join(OsStr::from_bytes(name));
        fs::write(&image, name).unwrap();
        let copy = root.join("copy.bin");
        fs::copy(&image, &copy).unwrap();
        let holds = Identity::of(&image).unwrap().in_a_line();
        let session = || Unsaved::within(root.join("states"));
        session().add(&image, "bytes", &holds, &[step(1)]).unwrap();
        assert_eq!(session().left(&copy, &holds, "bytes"), []);
        fs::remove_file(&image).unwrap();
        let moved = session().left(&copy, &holds, "bytes");
        assert_eq!(moved.into_iter().map(|left| left.of.unwrap()).collect::<Vec<_>>(), [image]);
    }
}
