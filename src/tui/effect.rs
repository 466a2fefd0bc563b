//! What the pure update cannot do itself and asks of the loop.

use std::path::PathBuf;

/// What the loop must do after an input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Effect {
    /// Only draw.
    None,
    /// End the program.
    Quit,
    /// Paint every cell again.
    Redraw,
    /// Hand the terminal back to the shell until the user returns.
    Suspend,
    /// Ask the terminal to put a text on the user's clipboard.
    Copy(String),
    /// Switch the terminal's reports of the mouse on or off.
    Mouse(bool),
    /// Write the image that is worked on.
    Save {
        /// The file.
        path: PathBuf,
        /// What may become of a file that is there.
        replace: Replace,
        /// Leave the program once it is written.
        then_quit: bool,
    },
    /// Read the file of the image that is worked on again, and make the changes that are not saved on it.
    TakeFile,
    /// Read a layout and put it in force.
    ReadLayout(PathBuf),
    /// Write the text of the layout in force.
    SaveLayout {
        /// The file.
        path: PathBuf,
        /// The user agreed that the file there is replaced.
        replace: bool,
        /// Leave the program once it is written.
        then_quit: bool,
    },
    /// Draw what is worked on into a new file.
    Draw(PathBuf),
    /// Do the work of [`super::app::App::jobs`] beside the keys.
    Work,
}

/// What may become of a file that is there when an image is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Replace {
    /// It stays.
    No,
    /// The user agreed that it is replaced.
    Agreed,
    /// The user agreed, and knows that it is not what was opened.
    WhateverItIs,
}

/// Why a file was not written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotSaved {
    /// A file of that name exists.
    Exists,
    /// The file is not what was opened.
    Changed(crate::store::Difference),
    /// Something else.
    Failed(crate::error::Error),
}
