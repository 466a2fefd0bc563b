//! What the layout in force says about an image, as the Fields and Checks panes list it.

use std::path::PathBuf;

use super::annotate::{InForce, Kept};
use super::rows::Rows;
use super::tree::Tree;
use crate::author;
use crate::check::Seal;
use crate::image::Image;
use crate::layout::{self, Decoded, Field, Role, Shape};
use crate::span::Span;
use crate::store::Identity;

/// What the layout in force says about an image. What is listed is always of what was read last.
pub struct Described {
    layout: Option<InForce>,
    decoded: Decoded,
    undescribed: Vec<Span>,
    /// The Fields pane.
    pub fields: Tree,
    /// The Checks pane.
    pub checks: Rows,
}

impl Described {
    /// Nothing, about an image of so many bytes.
    #[must_use]
    pub fn new(bytes: usize) -> Described {
        let decoded = Decoded::default();
        Described {
            layout: None,
            undescribed: author::undescribed(&decoded, bytes),
            decoded,
            fields: Tree::default(),
            checks: Rows::default(),
        }
    }

    /// The layout in force.
    #[must_use]
    pub fn layout(&self) -> Option<&InForce> {
        self.layout.as_ref()
    }

    /// What it says about the bytes.
    #[must_use]
    pub fn decoded(&self) -> &Decoded {
        &self.decoded
    }

    /// Runs of bytes that it says nothing about.
    #[must_use]
    pub fn undescribed(&self) -> &[Span] {
        &self.undescribed
    }

    /// Another layout is in force, or none; it is to be read next.
    pub(super) fn put(&mut self, layout: Option<InForce>) {
        if layout.is_none() {
            self.decoded = Decoded::default();
        }
        self.layout = layout;
    }

    /// The text of the layout is in a file of ours now.
    pub(super) fn saved(&mut self, path: PathBuf, identity: Identity) {
        if let Some(in_force) = &mut self.layout {
            (in_force.path, in_force.kept) = (path, Kept::Ours(Some(identity)));
        }
    }

    /// Reads what the layout says about `image`; `cursor` is where the bytes cursor stands.
    pub(super) fn read(&mut self, image: &Image, cursor: usize) {
        let decoded = self.layout.as_ref().map(|l| layout::decode(&l.layout, image));
        self.take(decoded.unwrap_or_default(), image.len(), cursor);
    }

    /// Takes what it was found to say about an image of so many bytes.
    pub(super) fn take(&mut self, decoded: Decoded, bytes: usize, cursor: usize) {
        self.decoded = decoded;
        self.undescribed = author::undescribed(&self.decoded, bytes);
        self.fields.list(&self.decoded.fields);
        self.checks.fit(self.decoded.checks.len());
        // A group or table that was chosen stays chosen.
        if !self.chosen_field().is_some_and(|f| f.cover().contains(cursor)) {
            self.follow(cursor);
        }
    }

    /// Chooses the first check that wants looking at.
    pub(super) fn choose_broken(&mut self) {
        let broken = self.decoded.checks.iter().position(|c| c.seal == Seal::Broken);
        self.checks.at = broken.unwrap_or(self.checks.at);
    }

    /// The field that the Fields pane is on.
    #[must_use]
    pub fn chosen_field(&self) -> Option<&Field> {
        self.fields.chosen(&self.decoded.fields)
    }

    /// Puts the Fields pane on the field at `path`, if it is listed.
    pub fn choose_field(&mut self, path: &str) {
        self.fields.choose(&self.decoded.fields, path);
    }

    /// Puts the Fields pane on the innermost listed field over the byte at `at`.
    pub fn follow(&mut self, at: usize) {
        self.fields.follow(&self.decoded.fields, at);
    }

    /// Lists only the fields of one role, or all again.
    pub fn show_only(&mut self, role: Option<Role>) {
        self.fields.only = role;
        self.fields.list(&self.decoded.fields);
    }

    /// Shows or hides what the chosen group or table holds, see [`Tree::fold`].
    pub fn fold(&mut self, open: Option<bool>) {
        self.fields.fold(&self.decoded.fields, open);
    }

    /// For each offset of `span`, the index of the decoded leaf that lies over it.
    #[must_use]
    pub fn leaves(&self, span: Span) -> Vec<Option<usize>> {
        let mut leaves = vec![None; span.len()];
        for (index, field) in self.decoded.fields.iter().enumerate() {
            if field.shape != Shape::Leaf {
                continue;
            }
            for part in field.spans.iter().filter_map(|s| s.intersection(span)) {
                let inside = part.start - span.start..part.end - span.start;
                leaves.get_mut(inside).into_iter().flatten().for_each(|leaf| *leaf = Some(index));
            }
        }
        leaves
    }
}
