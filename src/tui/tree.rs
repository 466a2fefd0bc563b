//! The rows of the Fields pane: fields as a tree in which groups and tables are folded, or those of one role.

use std::collections::BTreeSet;

use super::rows::Rows;
use crate::layout::{Field, Role, Shape};

/// The rows of the Fields pane.
#[derive(Debug, Clone, Default)]
pub struct Tree {
    /// Which is chosen and which is the first shown.
    pub rows: Rows,
    /// Index of the decoded field of each row.
    pub listed: Vec<usize>,
    /// Paths of what is not as it comes: folded groups, unfolded tables and rows.
    turned: BTreeSet<String>,
    /// Only fields of this role are listed.
    pub only: Option<Role>,
}

impl Tree {
    /// Lists the rows anew; after a decode or when something was folded.
    pub fn list(&mut self, fields: &[Field]) {
        if let Some(role) = self.only {
            // Flat: what is folded away would be missed.
            let of_role = |(_, f): &(usize, &Field)| f.role == role && f.shape == Shape::Leaf;
            self.listed = fields.iter().enumerate().filter(of_role).map(|(index, _)| index).collect();
        } else {
            let mut shown = vec![true; fields.len()];
            self.listed.clear();
            for (index, field) in fields.iter().enumerate() {
                let visible = field.parent.is_none_or(|p| {
                    shown.get(p).copied().unwrap_or(true) && fields.get(p).is_some_and(|p| self.is_open(p))
                });
                if let Some(shown) = shown.get_mut(index) {
                    *shown = visible;
                }
                if visible {
                    self.listed.push(index);
                }
            }
        }
        self.rows.fit(self.listed.len());
    }

    /// Whether the contents of a group or table are shown. Groups are until they are folded, tables and rows are not
    /// until they are unfolded.
    #[must_use]
    pub fn is_open(&self, field: &Field) -> bool {
        let turned = self.turned.contains(&field.path);
        match field.shape {
            Shape::Group => !turned,
            Shape::Table | Shape::Row => turned,
            Shape::Leaf => false,
        }
    }

    /// The field of the chosen row.
    #[must_use]
    pub fn chosen<'f>(&self, fields: &'f [Field]) -> Option<&'f Field> {
        self.listed.get(self.rows.at).and_then(|&i| fields.get(i))
    }

    /// Chooses the field at `path`, if it is listed.
    pub fn choose(&mut self, fields: &[Field], path: &str) {
        let is_it = |&i: &usize| fields.get(i).is_some_and(|f| f.path == path);
        self.rows.at = self.listed.iter().position(is_it).unwrap_or(self.rows.at);
    }

    /// Chooses the innermost listed field over the byte at `at`, if there is one.
    pub fn follow(&mut self, fields: &[Field], at: usize) {
        let over = |f: &Field| f.spans.iter().any(|s| s.contains(at));
        let last = |wanted: &dyn Fn(&Field) -> bool| {
            self.listed.iter().rposition(|&i| fields.get(i).is_some_and(wanted))
        };
        let row = last(&|f| f.shape == Shape::Leaf && over(f))
            .or_else(|| last(&|f| over(f) || f.cover().contains(at)));
        self.rows.at = row.unwrap_or(self.rows.at);
    }

    /// Shows or hides what the chosen group or table holds; the other of both where neither is said. From one that is
    /// shut, or a leaf, hiding goes up to what holds it.
    pub fn fold(&mut self, fields: &[Field], open: Option<bool>) {
        let Some(field) = self.chosen(fields) else { return };
        let (is_open, is_leaf) = (self.is_open(field), field.shape == Shape::Leaf);
        if open == Some(false) && (is_leaf || !is_open) {
            let row = field.parent.and_then(|p| self.listed.iter().position(|&i| i == p));
            self.rows.at = row.unwrap_or(self.rows.at);
        } else if !is_leaf && open != Some(is_open) {
            if !self.turned.remove(&field.path) {
                self.turned.insert(field.path.clone());
            }
            self.list(fields);
        }
    }
}
