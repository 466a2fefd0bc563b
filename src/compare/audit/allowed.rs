//! What a person named as meant.

use super::super::changes::Changed;
use super::super::words::address;
use crate::image::Image;
use crate::layout::{Decoded, Refusal};
use crate::notation::nearest;
use crate::span::Span;

/// Fields and places that may change although their role says otherwise, because a person named each.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Allowed {
    paths: Vec<String>,
    spans: Vec<Span>,
}

impl Allowed {
    /// Nothing beyond Records and Settings.
    #[must_use]
    pub fn nothing() -> Self {
        Allowed::default()
    }

    /// Allows the field at `path` and all that is inside it; a last step that only one field has will do.
    ///
    /// # Errors
    /// When `decoded` has no such field.
    pub fn allow_field(&mut self, decoded: &Decoded, path: &str) -> Result<(), Refusal> {
        match decoded.field(path) {
            Some(field) => {
                self.paths.push(field.path.clone());
                Ok(())
            }
            None => {
                let known = decoded.fields.iter().flat_map(|f| [f.path.as_str(), &*f.name]);
                let advice = match nearest(path, known) {
                    Some(near) => format!("did you mean {near}?"),
                    None => "name a field as `readproof show` lists it, or a range such as 0x1F0..0x200"
                        .to_owned(),
                };
                Err(Refusal { what: format!("there is no field \"{path}\" to allow"), advice })
            }
        }
    }

    /// Allows the bytes of `span`, whatever lies there.
    pub fn allow_span(&mut self, span: Span) {
        self.spans.push(span);
    }

    /// Whether all of `span` was named as a place.
    pub(super) fn has_span(&self, span: Span) -> bool {
        self.spans.iter().any(|s| s.covers(span))
            || span.range().all(|at| self.spans.iter().any(|s| s.contains(at)))
    }

    /// Whether the field at `path` or what it is inside was named.
    pub(super) fn has_field(&self, path: &str) -> bool {
        self.paths.iter().any(|named| is_inside(path, named))
    }
}

/// Whether `path` is `outer` or inside it.
pub(in crate::compare) fn is_inside(path: &str, outer: &str) -> bool {
    path.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
}

/// What would allow each of `changes`, as `--allow` takes it: paths, and ranges of addresses where there is no
/// field. Many fields of one group are named by the group.
pub(super) fn names<'a>(changes: impl Iterator<Item = &'a Changed>, image: &Image) -> Vec<String> {
    const MANY: usize = 3;
    let mut names: Vec<String> = Vec::new();
    for change in changes {
        if change.is_undescribed() {
            let at = |offset| address(image.address(offset));
            names.push(format!("{}..{}", at(change.span.start), at(change.span.end)));
        } else {
            names.extend(change.paths().map(str::to_owned));
        }
    }
    names.dedup();
    let group = |name: &str| match name.split_once(['.', '[']) {
        Some((group, rest)) if !rest.starts_with('.') => Some(group.to_owned()),
        _ => None,
    };
    let of_group = |wanted: &str| names.iter().filter(|n| group(n).as_deref() == Some(wanted)).count();
    let mut told: Vec<String> = Vec::new();
    for name in &names {
        let name = group(name).filter(|g| of_group(g) > MANY).unwrap_or_else(|| name.clone());
        if !told.contains(&name) {
            told.push(name);
        }
    }
    told
}
