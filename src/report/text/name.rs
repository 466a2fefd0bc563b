//! Names of files: readable, byte for byte, as typed in a shell.

use std::borrow::Cow;
use std::ffi::OsStr;
use std::fmt::Write as _;
use std::ops::Deref;
use std::path::{Path, is_separator};

use serde::Serialize;

use super::{clean, hex_plain, is_hidden};

/// A path for people, cleaned.
#[must_use]
pub fn path(path: &Path) -> String {
    clean(&path.to_string_lossy()).into_owned()
}

/// The name of a file: cleaned for people, as it is typed in a shell, and byte for byte for programs where the cleaned
/// name is not the name. In JSON it stands flat as `path` and, where it is needed, `path_bytes`.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Name {
    path: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
    #[serde(skip)]
    typed: String,
}

impl Name {
    /// The name of the file at `path`.
    #[must_use]
    pub fn of(it: &Path) -> Self {
        let (bytes, path) = (it.as_os_str().as_encoded_bytes(), path(it));
        Name { path_bytes: (bytes != path.as_bytes()).then(|| hex_plain(bytes)), path, typed: shell(it) }
    }

    /// The name as it is typed in a shell, for commands that are proposed.
    #[must_use]
    pub fn typed(&self) -> &str {
        &self.typed
    }

    /// The bytes of the name in hexadecimal, where they are not those of the cleaned name.
    #[must_use]
    pub fn bytes(&self) -> Option<&str> {
        self.path_bytes.as_deref()
    }
}

/// The bytes of several names in JSON, null for those that need none; `None` when no name needs any.
#[must_use]
pub fn bytes_of(names: &[Name]) -> Option<Vec<Option<String>>> {
    let any = names.iter().any(|name| name.path_bytes.is_some());
    any.then(|| names.iter().map(|name| name.path_bytes.clone()).collect())
}

/// A name that is null in JSON where there is no file.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct NoName {
    path: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    path_bytes: Option<String>,
}

impl From<Option<&Name>> for NoName {
    fn from(name: Option<&Name>) -> Self {
        NoName {
            path: name.map(|name| name.path.clone()),
            path_bytes: name.and_then(|name| name.path_bytes.clone()),
        }
    }
}

impl Deref for Name {
    type Target = str;

    fn deref(&self) -> &str {
        &self.path
    }
}

/// What a path that was cleaned is called in a sentence or a table: `-` is where standard input was read.
#[must_use]
pub fn named(path: &str) -> &str {
    if path == "-" { "standard input" } else { path }
}

/// A path as it is typed in a shell, so that a command that is proposed can be run. A leading `-` is no option then.
#[must_use]
pub fn shell(path: &Path) -> String {
    let bytes = path.as_os_str().as_encoded_bytes();
    if bytes.starts_with(b"-") && bytes != b"-" {
        return word(Path::new(".").join(path).as_os_str());
    }
    word(path.as_os_str())
}

/// A word of a command line as it is typed in a shell: quoted where it must be; what would act on the terminal, bytes
/// that are no text, and the backtick, in which reports set commands, as three octal digits, which nothing that follows
/// can lengthen (dollar-single-quotes of POSIX.1-2024, Shell Command Language 2.2.4).
#[must_use]
pub fn word(word: &OsStr) -> String {
    word_of(word.as_encoded_bytes())
}

fn word_of(bytes: &[u8]) -> String {
    let plain =
        |b: &u8| b.is_ascii_alphanumeric() || b"._-+=:@,%".contains(b) || is_separator(char::from(*b));
    let told = String::from_utf8_lossy(bytes);
    if !bytes.is_empty() && bytes.iter().all(plain) {
        return told.into_owned();
    }
    if matches!(told, Cow::Borrowed(_)) && !told.contains(|c| is_hidden(c) || c == '`') {
        return format!("'{}'", told.replace('\'', r"'\''"));
    }
    let mut escaped = "$'".to_owned();
    for &byte in bytes {
        match byte {
            b'\'' | b'\\' => escaped.extend(['\\', char::from(byte)]),
            b'`' => escaped.push_str("\\140"),
            b' '..=b'~' => escaped.push(char::from(byte)),
            _ => {
                let _ = write!(escaped, "\\{byte:03o}");
            }
        }
    }
    escaped.push('\'');
    escaped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_in_a_proposed_command_is_read_by_a_shell_as_that_path() {
        let shell = |name: &str| super::shell(Path::new(name));
        assert_eq!(shell("reads/unit7_1.bin"), "reads/unit7_1.bin");
        assert_eq!(shell("unit 7's read.bin"), r"'unit 7'\''s read.bin'");
        assert_eq!(shell("-read.bin"), "./-read.bin", "or it would be taken for an option");
        assert_eq!(shell("-"), "-");
        assert_eq!(shell("Kühlraum.bin"), "'Kühlraum.bin'");
        assert_eq!(shell("a\nb\u{1b}.bin"), r"$'a\012b\033.bin'");
        assert_eq!(shell("a`b"), r"$'a\140b'", "or it would end the command in a sentence");
    }

    #[test]
    fn a_path_that_is_no_text_can_be_typed_as_well() {
        assert_eq!(word_of(b"it's \xff.bin"), r"$'it\'s \377.bin'");
    }
}
