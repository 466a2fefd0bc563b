//! Files saved: new ones, over others, stopped half way.

use std::fs;
use std::path::Path;

use super::*;
use crate::store::files::{Access, Disk};
use crate::store::save::{new_file, over_file};

#[test]
fn a_save_that_is_stopped_leaves_the_old_file() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, old()).unwrap();
    let large = vec![7; 3 << 20];
    let mut told = Vec::new();
    let mut watch = |done: f64| {
        told.push((done * (old().len() + large.len()) as f64).round() as usize);
        told.len() < 3
    };
    let error = over_file(&Disk, &path, &large, CONFIRMED, &mut watch).unwrap_err();
    assert!(error.what.contains("stopped"));
    // The copy of what it was counts too.
    assert_eq!(told, [old().len(), old().len() + (1 << 20), old().len() + (2 << 20)]);
    assert_eq!(fs::read(&path).unwrap(), old());
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2, "the file and its kept original");
}

#[test]
fn a_copy_of_the_original_that_is_stopped_leaves_the_old_file_alone() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    let large = vec![7; 3 << 20];
    fs::write(&path, &large).unwrap();
    let mut told = 0;
    let mut watch = |_: f64| {
        told += 1;
        told < 2
    };
    let error = over_file(&Disk, &path, &new(), CONFIRMED, &mut watch).unwrap_err();
    assert!(error.what.contains("stopped"), "{error}");
    assert_eq!(fs::read(&path).unwrap(), large);
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1, "no part of a copy is left");
}

#[test]
fn two_saves_keep_the_first_bytes_and_another_session_keeps_its_own() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "first").unwrap();
    let kept = save_over(&path, b"second", CONFIRMED).unwrap().original.unwrap();
    assert_eq!(kept, dir.path().canonicalize().unwrap().join("unit7.bin.original"));
    let again = Over { keep_original: false, ..CONFIRMED };
    assert_eq!(save_over(&path, b"third", again).unwrap().original, None);
    assert_eq!(fs::read(&kept).unwrap(), b"first");
    let later = save_over(&path, b"fourth", CONFIRMED).unwrap().original.unwrap();
    assert_eq!(
        (later.file_name().unwrap().to_str(), fs::read(&later).unwrap()),
        (Some("unit7.bin.original-2"), b"third".to_vec())
    );
    // The same bytes are kept once.
    fs::write(&path, "first").unwrap();
    assert_eq!(save_over(&path, b"fifth", CONFIRMED).unwrap().original, Some(kept));
}

#[test]
fn nothing_is_overwritten_unasked() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "old").unwrap();
    let error = save_new(&path, b"new").unwrap_err();
    assert!(error.to_string().contains("there is a file of this name already"), "{error}");
    assert_eq!(fs::read(&path).unwrap(), b"old");
    // Even when the name is taken only after it was looked at.
    let late = dir.path().join("late.bin");
    let mut watch = |_| {
        fs::write(&late, "somebody else's").unwrap();
        true
    };
    let error = new_file(&Disk, &late, b"new", Access::Usual, &mut watch).unwrap_err();
    assert!(error.what.contains("already"), "{error}");
    assert_eq!(fs::read(&late).unwrap(), b"somebody else's");
}

#[test]
fn a_file_that_changed_since_it_was_opened_is_not_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("unit7.bin");
    fs::write(&path, "old").unwrap();
    let was = Identity::of(&path).unwrap();
    let over = Over { was: Some(&was), ..CONFIRMED };
    save_over(&path, b"old", over).unwrap();
    fs::write(&path, "theirs").unwrap();
    let error = save_over(&path, b"ours", over).unwrap_err();
    assert!(error.what.contains("has 6 bytes now"), "{error}");
    // Also when it changes while the new bytes are written.
    fs::write(&path, "old").unwrap();
    let mut watch = |_| {
        fs::write(&path, "their").unwrap();
        true
    };
    assert!(over_file(&Disk, &path, b"ours", over, &mut watch).is_err());
    assert_eq!(fs::read(&path).unwrap(), b"their");
    fs::remove_file(&path).unwrap();
    let error = save_over(&path, b"ours", over).unwrap_err();
    assert!(error.what.contains("is gone"), "{error}");
}

#[test]
fn what_cannot_be_saved_says_why() {
    let dir = tempfile::tempdir().unwrap();
    let says = |path: &Path, what: &str| {
        let error = save_new(path, b"x").unwrap_err().to_string();
        assert!(error.contains(what), "{error}");
    };
    says(&dir.path().join("absent/unit7.bin"), "there is no such folder");
    says(&dir.path().join("x".repeat(300)), "does not take this name");
    says(dir.path(), "there is a file of this name already");
    says(&dir.path().join(".."), "names no file");
    let error = save_over(dir.path(), b"x", CONFIRMED).unwrap_err();
    assert!(error.what.contains("this is a folder"), "{error}");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0, "nothing is left behind");
}
