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

/// What would allow each of `changes`, as `--allow` takes it: paths, and ranges of addresses where there is no field.
pub(super) fn names<'a>(changes: impl Iterator<Item = &'a Changed>, image: &Image) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for change in changes {
        let mut named: Vec<String> = change.paths().map(str::to_owned).collect();
        if change.is_undescribed() {
            let at = |offset| address(image.address(offset));
            named = vec![format!("{}..{}", at(change.span.start), at(change.span.end))];
        }
        for name in named {
            if !names.contains(&name) {
                names.push(name);
            }
        }
    }
    names
}
