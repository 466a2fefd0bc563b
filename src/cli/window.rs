//! The images of one run: who takes the next one, and how far anybody may run ahead.
//!
//! Nobody starts on an image that is more than [`SIZE`] after the first that is not done, so a slow one holds back its
//! followers instead of filling the memory with their results.

use std::path::PathBuf;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use crate::error::Error;
use crate::store::{LeftOut, Walk};
use crate::wording::count_of;

/// Images that are worked on or wait for an earlier one.
const SIZE: usize = 64;

/// Which image comes next, and which are done.
pub(super) struct Window {
    state: Mutex<State>,
    moved: Condvar,
}

struct State {
    walk: Walk,
    taken: usize,
    handed_on: usize,
    closed: bool,
}

impl Window {
    pub(super) fn over(paths: &[PathBuf]) -> Self {
        let state = State { walk: Walk::over(paths.to_vec()), taken: 0, handed_on: 0, closed: false };
        Window { state: Mutex::new(state), moved: Condvar::new() }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next image and its number, once it is near enough to the first that is not done; `None` at the end.
    pub(super) fn take(&self) -> Option<(usize, Result<PathBuf, Error>)> {
        let full = |state: &mut State| !state.closed && state.taken - state.handed_on >= SIZE;
        let mut state = self.moved.wait_while(self.lock(), full).unwrap_or_else(PoisonError::into_inner);
        if state.closed {
            return None;
        }
        let met = state.walk.next();
        match met {
            Some(met) => {
                state.taken += 1;
                Some((state.taken - 1, met))
            }
            None => {
                drop(state);
                self.close();
                None
            }
        }
    }

    /// One more is done.
    pub(super) fn advance(&self) {
        self.lock().handed_on += 1;
        self.moved.notify_all();
    }

    /// Nothing more is wanted.
    pub(super) fn close(&self) {
        self.lock().closed = true;
        self.moved.notify_all();
    }

    /// What was left out of folders, in words; nothing when nothing was.
    pub(super) fn left_out(&self) -> String {
        words_of(self.lock().walk.left_out())
    }
}

/// `2 hidden, 1 link to a folder`; nothing when nothing was left out.
fn words_of(left_out: LeftOut) -> String {
    let parts = [
        (left_out.hidden, "hidden file or folder", "hidden files and folders"),
        (left_out.linked_folders, "link to a folder", "links to folders"),
        (left_out.special, "pipe, socket or device", "pipes, sockets and devices"),
        (left_out.ron, "layout or docket (.ron)", "layouts and dockets (.ron)"),
    ];
    let told = |&(n, one, more): &(usize, &str, &str)| (n > 0).then(|| count_of(n, one, more));
    parts.iter().filter_map(told).collect::<Vec<_>>().join(", ")
}
