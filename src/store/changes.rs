//! Change lists as files.
//!
//! ```ron
//! (
//!     change_list: 1,
//!     layout: "Frostkeel CR8 cold-room controller, settings memory",
//!     bytes: 8192,
//!     base: "0x0000",
//!     changes: [
//!         (at: "0x0101", before: "14", after: "28", fields: ["settings.setpoint"]),
//!         (at: "0x01FE", before: "1A2B", after: "77F0", fields: ["settings"], seals: "settings"),
//!     ],
//! )
//! ```

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::save_new;
use super::text::{Address, Bytes, pretty, read_text, ron};
use crate::compare::{ChangeList, Listed};
use crate::edit::Edit;
use crate::error::Error;
use crate::wording::count;

/// The version of the form.
const VERSION: u32 = 1;

/// Change lists up to this size are read.
const MOST_BYTES: u64 = 64 << 20;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ListForm {
    change_list: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    layout: Option<String>,
    bytes: usize,
    base: Address,
    changes: Vec<ListedForm>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ListedForm {
    at: Address,
    before: Bytes,
    after: Bytes,
    #[serde(default)]
    fields: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    seals: Option<String>,
}

/// Writes a change list to a new file.
///
/// # Errors
/// When the file exists or cannot be written.
pub fn save_change_list(path: &Path, list: &ChangeList) -> Result<(), Error> {
    let form = ListForm {
        change_list: VERSION,
        layout: list.layout.clone(),
        bytes: list.image_bytes,
        base: Address(list.base),
        changes: list
            .changes
            .iter()
            .map(|c| ListedForm {
                at: Address(list.base.saturating_add(c.edit.at as u64)),
                before: Bytes(c.edit.before.clone()),
                after: Bytes(c.edit.after.clone()),
                fields: c.fields.clone(),
                seals: c.check.clone(),
            })
            .collect(),
    };
    let text = ron().to_string_pretty(&form, pretty()).map_err(|e| {
        Error::new(format!("the change list cannot be written as text: {e}"))
            .in_file(path)
            .advice("report it with the images, if you may")
    })?;
    let text = format!("// readproof change list: what changes, and what must be there before.\n{text}\n");
    save_new(path, text.as_bytes()).map(|_| ())
}

/// Reads a change list.
///
/// # Errors
/// When the file cannot be read or is no change list, with the line.
pub fn read_change_list(path: &Path) -> Result<ChangeList, Error> {
    let text = read_text(path, "change list", MOST_BYTES)?;
    let advice = "make it again with `readproof amend --save-changes FILE`";
    let form: ListForm = ron().from_str(&text).map_err(|e| {
        let at = e.span.start;
        Error::new(format!("this is no change list: {}", e.code))
            .in_line(path, format_args!("{}:{}", at.line, at.col))
            .advice(advice)
    })?;
    let wrong = |what: String| Error::new(what).in_file(path).advice(advice);
    if form.change_list != VERSION {
        return Err(wrong(format!(
            "the change list has version {}, and {VERSION} is understood",
            form.change_list
        )));
    }
    let Address(base) = form.base;
    let mut changes = Vec::with_capacity(form.changes.len());
    for ListedForm { at, before: Bytes(before), after: Bytes(after), fields, seals } in form.changes {
        let said = String::from(at);
        let at = at.0.checked_sub(base).and_then(|at| usize::try_from(at).ok());
        let at = at.ok_or_else(|| {
            wrong(format!("{said} lies before the image, which begins at {}", String::from(form.base)))
        })?;
        if before.len() != after.len() || before.is_empty() {
            return Err(wrong(format!(
                "at {said} there are {} before and {} after; a change keeps their number",
                count(before.len(), "byte"),
                after.len()
            )));
        }
        changes.push(Listed { edit: Edit { at, before, after }, fields, check: seals });
    }
    Ok(ChangeList { layout: form.layout, image_bytes: form.bytes, base, changes })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn list() -> ChangeList {
        let edit =
            |at, before: &[u8], after: &[u8]| Edit { at, before: before.to_vec(), after: after.to_vec() };
        ChangeList {
            layout: Some("a \"quoted\" title".to_owned()),
            image_bytes: 64,
            base: 0x8000,
            changes: vec![
                Listed { edit: edit(3, &[1, 2], &[3, 4]), fields: vec!["a.b[2]".to_owned()], check: None },
                Listed { edit: edit(9, &[0], &[0xFF]), fields: Vec::new(), check: Some("sum".to_owned()) },
            ],
        }
    }

    #[test]
    fn a_kept_change_list_is_read_back_as_it_was() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("list.ron");
        save_change_list(&path, &list()).unwrap();
        assert_eq!(read_change_list(&path).unwrap(), list());
        assert!(save_change_list(&path, &list()).is_err(), "an existing file is never written over");
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(
            text.contains("(at: \"0x8003\", before: \"0102\", after: \"0304\", fields: [\"a.b[2]\"])"),
            "{text}"
        );
    }

    #[test]
    fn what_is_no_change_list_is_refused_with_its_place() {
        let place = tempfile::tempdir().unwrap();
        let refused = |text: &str| {
            let path = place.path().join("bad.ron");
            std::fs::write(&path, text).unwrap();
            read_change_list(&path).unwrap_err().to_string()
        };
        assert!(
            refused("(change_list: 1,\n bytes: 4,,)").contains("bad.ron:2:"),
            "{}",
            refused("(change_list: 1,\n bytes: 4,,)")
        );
        let with = |changes: &str| {
            refused(&format!("(change_list: 1, bytes: 4, base: \"0x0000\", changes: [{changes}])"))
        };
        assert!(with("(at: \"4\", before: \"00\", after: \"01\")").contains("\"4\" is no address"));
        assert!(with("(at: \"0x+1\", before: \"00\", after: \"01\")").contains("\"0x+1\" is no address"));
        assert!(with("(at: \"0x1\", before: \"0\", after: \"01\")").contains("not hexadecimal"));
        assert!(with("(at: \"0x1\", before: \"+1\", after: \"01\")").contains("not hexadecimal"));
        assert!(with("(at: \"0x1\", before: \"00\", after: \"0102\")").contains("1 byte before and 2 after"));
        assert!(refused("(change_list: 2, bytes: 4, base: \"0x0000\", changes: [])").contains("version 2"));
    }
}
