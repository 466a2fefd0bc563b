//! What became of Records: which went to rest, which are still recorded.

use super::super::changes::Comparison;
use crate::finding::{Code, Finding, Weight};
use crate::layout::{Decoded, Field, Role, Shape, top};
use crate::wording::{count, short_list};

/// What became of the Records of an image.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Records {
    /// Records that changed, by the outermost field they are in, in the order of the layout.
    pub groups: Vec<RecordGroup>,
}

/// The Records inside one outermost field.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RecordGroup {
    /// The path of that field.
    pub path: String,
    /// Fields that now hold their rest value and did not.
    pub rested: usize,
    /// Fields that changed and do not hold their rest value.
    pub rewritten: usize,
    /// Those of them that held it before.
    pub filled: usize,
    /// Fields that do not hold their rest value, rewritten ones included.
    pub left: usize,
}

impl Records {
    pub(super) fn of(decoded: &Decoded, comparison: &Comparison) -> Self {
        let mut groups: Vec<RecordGroup> = Vec::new();
        for change in comparison.fields.iter().filter(|f| f.role() == Some(Role::Record)) {
            let path = top(&change.path);
            let rested = usize::from(change.came_to_rest() || change.is_counted_out());
            let rewritten = usize::from(change.after.as_ref().is_some_and(is_recorded));
            let was_at_rest = change.before.as_ref().is_none_or(|before| before.at_rest == Some(true));
            let filled = if was_at_rest { rewritten } else { 0 };
            match groups.iter_mut().find(|group| group.path == path) {
                Some(group) => {
                    group.rested += rested;
                    group.rewritten += rewritten;
                    group.filled += filled;
                }
                None => {
                    groups.push(RecordGroup { path: path.to_owned(), rested, rewritten, filled, left: 0 })
                }
            }
        }
        groups.retain(|g| g.rested + g.rewritten > 0);
        let leaves = decoded.fields.iter().filter(|f| f.shape == Shape::Leaf && f.role == Role::Record);
        for field in leaves.filter(|f| is_recorded(f)) {
            if let Some(group) = groups.iter_mut().find(|group| group.path == top(&field.path)) {
                group.left += 1;
            }
        }
        Records { groups }
    }

    pub(super) fn findings(&self) -> impl Iterator<Item = Finding> {
        self.rested().into_iter().chain(self.filled())
    }

    /// What stands in the original as never written, and is written in the changed image.
    fn filled(&self) -> Option<Finding> {
        let filled = self.groups.iter().filter(|g| g.filled > 0);
        let filled: Vec<String> = filled.map(|g| fields(g.filled, &g.path)).collect();
        (!filled.is_empty()).then(|| {
            Finding::new(
                Weight::Note,
                Code::RecordsFilled,
                format!("{} were at rest and are recorded now", short_list(&filled)),
                "a repair clears records and makes none: the two images may stand in the wrong order, or the unit ran between",
                "look which of the two is the original, which is named first",
            )
        })
    }

    fn rested(&self) -> Option<Finding> {
        let rested = || self.groups.iter().filter(|g| g.rested > 0);
        let went: Vec<String> = rested().map(|g| fields(g.rested, &g.path)).collect();
        let left: Vec<String> = rested().filter(|g| g.left > 0).map(|g| fields(g.left, &g.path)).collect();
        let left = match left.as_slice() {
            [] => "nothing is left recorded there".to_owned(),
            left => format!("{} still recorded", short_list(left)),
        };
        (!went.is_empty()).then(|| {
            Finding::new(
                Weight::Note,
                Code::RecordsRested,
                format!("{} went to rest; {left}", short_list(&went)),
                "what the unit recorded there is gone from the changed image",
                "keep the original read; the cause of a fault must be found before its record is cleared",
            )
        })
    }
}

/// `3 fields of lockouts`.
fn fields(n: usize, group: &str) -> String {
    format!("{} of {group}", count(n, "field"))
}

fn is_recorded(field: &Field) -> bool {
    field.at_rest == Some(false)
}
