//! Where the system keeps what belongs to a user: settings and layouts, and what a session leaves for the next one.

use std::ffi::OsString;
use std::path::PathBuf;

use crate::platform::{SETTINGS, STATES, UserFolder};

/// The folder of the user's settings and layouts: `readproof` in `XDG_CONFIG_HOME`, else in `%APPDATA%` on Windows
/// and in `~/.config` elsewhere. `None` where the system names none.
#[must_use]
pub(super) fn configuration_folder() -> Option<PathBuf> {
    folder("XDG_CONFIG_HOME", SETTINGS)
}

/// The folder of what sessions leave: `readproof` in `XDG_STATE_HOME`, else in `%LOCALAPPDATA%` on Windows and in
/// `~/.local/state` elsewhere. `None` where the system names none.
#[must_use]
pub(super) fn state_folder() -> Option<PathBuf> {
    folder("XDG_STATE_HOME", STATES)
}

/// The XDG Base Directory Specification takes only absolute paths.
fn folder(xdg: &str, (variable, inside): UserFolder) -> Option<PathBuf> {
    let named = |name: &str| set(name).map(PathBuf::from).filter(|p| p.is_absolute());
    let base = named(xdg).or_else(|| Some(named(variable)?.join(inside)))?;
    Some(base.join("readproof"))
}

/// What a variable of the environment is set to.
pub(super) fn set(variable: &str) -> Option<OsString> {
    std::env::var_os(variable).filter(|value| !value.is_empty())
}
