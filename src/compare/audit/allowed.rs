//! What a person named as meant.

use super::super::changes::Changed;
use crate::image::Image;
use crate::layout::{Decoded, Refusal, is_inside};
use crate::span::Span;
use crate::wording::address;

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
        self.paths.push(decoded.named(path)?.path.clone());
        Ok(())
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
