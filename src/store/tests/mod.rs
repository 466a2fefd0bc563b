//! Files opened, saved and walked over, on a file system that works and on one that does not.

mod faults;
mod opening;
mod saving;
#[cfg(unix)]
mod unix;

use std::io;
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::*;
use crate::edit::{Change, Done, Edit, Turn};

fn open_file(path: &Path) -> Result<Opened, Error> {
    open(path, &mut io::empty())
}

/// The error of a file that is not taken.
#[track_caller]
fn refused(path: &Path) -> String {
    open_file(path).unwrap_err().to_string()
}

const CONFIRMED: Over<'_> = Over { was: None, keep_original: true, read_only_too: false };

fn old() -> Vec<u8> {
    (0..5000u32).map(|i| (i % 251) as u8).collect()
}

fn new() -> Vec<u8> {
    (0..6000u32).map(|i| (i % 241) as u8 ^ 0x5A).collect()
}

/// A step of an image's history, of 3 KB.
fn step(n: usize) -> Done {
    let edits = vec![Edit { at: n, before: vec![0; 1500], after: vec![n as u8; 1500] }];
    Done { turn: Turn::Made, change: Change { label: format!("step {n}"), edits } }
}

/// What became of maps is told once, to whoever asks first; so only one test at a time asks.
fn asking() -> MutexGuard<'static, ()> {
    static ASKING: Mutex<()> = Mutex::new(());
    ASKING.lock().unwrap_or_else(PoisonError::into_inner)
}
