//! Instructions to a changed image: fields set, Records returned to rest, fields copied from another image, bytes
//! written, checks resealed.
//!
//! Nothing is judged here. The result is held against the original by [`super::audit`], with what the instructions
//! name as allowed: who types `--set serial=…` or the bytes themselves has named that change. Copying and returning
//! to rest name nothing: a group that is copied whole can hold what must stay.

use std::collections::HashSet;

use super::audit::Allowed;
use super::change_list::ChangeList;
use super::differences::Differences;
use crate::check::Seal;
use crate::edit::{self, Change};
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::layout::{self, Check, Decoded, Field, FieldState, Layout, Refusal, Role, Shape};
use crate::span::Span;
use crate::wording::{address, hex_short, short_list};

/// One thing to do.
#[derive(Debug, Clone)]
pub enum Instruction<'a> {
    /// Make a change list's changes, and seal the checks it sealed.
    Apply(&'a ChangeList),
    /// Take the fields that are named over from another image of the same layout.
    Copy(Selection, &'a Image),
    /// Return Records to their rest value.
    Rest(Selection),
    /// Make the field at a path hold what is typed.
    Set(String, String),
    /// Write bytes from an offset on.
    Bytes(usize, Vec<u8>),
    /// Seal checks; all when no name is given.
    Reseal(Vec<String>),
}

/// Which fields are meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Selection {
    /// The field at a path and all that is inside it.
    Path(String),
    /// Every field of a role.
    All(Role),
}

/// A changed image and how it came about.
#[derive(Debug, Clone)]
pub struct Amended {
    /// The image.
    pub image: Image,
    /// What was done, in order: "set setpoint to 4.0 °C".
    pub steps: Vec<String>,
    /// What could not be done although all of a role was meant: path and why.
    pub left: Vec<(String, String)>,
    /// What speaks against the image that was copied from.
    pub findings: Vec<Finding>,
}

impl Amended {
    /// The edits from `before` to the result, without those that were taken back on the way.
    #[must_use]
    pub fn change(&self, before: &Image) -> Change {
        Differences::between(before, &self.image).change(before, &self.image, self.steps.join("; "))
    }
}

/// What the instructions name: fields that are set, bytes that are written.
///
/// # Errors
/// When a field that is set is not in `decoded`.
pub fn named(
    instructions: &[Instruction<'_>],
    decoded: Option<&Decoded>,
    mut allowed: Allowed,
) -> Result<Allowed, Refusal> {
    for instruction in instructions {
        match (instruction, decoded) {
            (Instruction::Set(path, _), Some(decoded)) => allowed.allow_field(decoded, path)?,
            (Instruction::Bytes(at, bytes), _) => allowed.allow_span(Span::of(*at, bytes.len())),
            _ => {}
        }
    }
    Ok(allowed)
}

/// Carries the instructions out one after the other.
///
/// # Errors
/// Of the first instruction that cannot be carried out, or whose outcome another one undid; nothing is done then.
pub fn amend(
    layout: Option<&Layout>,
    image: &Image,
    instructions: &[Instruction<'_>],
) -> Result<Amended, Refusal> {
    let mut amended =
        Amended { image: image.clone(), steps: Vec::new(), left: Vec::new(), findings: Vec::new() };
    for instruction in instructions {
        amended.carry_out(layout, instruction)?;
    }
    instructions.iter().try_for_each(|instruction| amended.holds(layout, instruction))?;
    Ok(amended)
}

impl Amended {
    fn carry_out(&mut self, layout: Option<&Layout>, instruction: &Instruction<'_>) -> Result<(), Refusal> {
        match instruction {
            Instruction::Apply(list) => {
                let change = list.change(&self.image, layout)?;
                self.make(change)
            }
            Instruction::Bytes(at, bytes) => {
                let change =
                    Change::overwrite(&self.image, write_label(&self.image, *at, bytes), *at, bytes.clone());
                self.make(change.map_err(refused)?)
            }
            Instruction::Copy(selection, from) => self.copy(needed(layout)?, selection, from),
            Instruction::Rest(Selection::Path(path)) => {
                let change = layout::to_rest(needed(layout)?, &self.image, path)?;
                self.make(change)
            }
            Instruction::Rest(Selection::All(role)) => self.rest_all(needed(layout)?, *role),
            Instruction::Set(path, typed) => {
                let change = layout::set(needed(layout)?, &self.image, path, typed)?;
                self.make(change)
            }
            Instruction::Reseal(names) => {
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                let change = layout::reseal(needed(layout)?, &self.image, &names)?;
                self.make(change)
            }
        }
    }

    /// That the value or the bytes of an instruction stand in the result: no later one wrote others there.
    fn holds(&self, layout: Option<&Layout>, instruction: &Instruction<'_>) -> Result<(), Refusal> {
        let undone = match instruction {
            Instruction::Set(path, typed) => {
                let again = layout::set(needed(layout)?, &self.image, path, typed);
                (!again.is_ok_and(|change| change.is_empty())).then(|| format!("{path} was set to {typed}"))
            }
            Instruction::Bytes(at, bytes) => (self.image.get(Span::of(*at, bytes.len())) != Some(bytes))
                .then(|| write_label(&self.image, *at, bytes)),
            _ => None,
        };
        undone.map_or(Ok(()), |what| {
            Err(Refusal {
                what: format!("{what}, and another instruction makes something else of it"),
                advice: "leave out one of the two".to_owned(),
            })
        })
    }

    fn make(&mut self, change: Change) -> Result<(), Refusal> {
        edit::apply(&mut self.image, &change).map_err(refused)?;
        let nothing = if change.is_empty() { " (nothing to change)" } else { "" };
        self.steps.push(format!("{}{nothing}", change.label));
        Ok(())
    }

    /// Every outermost field of a role that has a rest value.
    fn rest_all(&mut self, layout: &Layout, role: Role) -> Result<(), Refusal> {
        let decoded = layout::decode(layout, &self.image);
        let outermost: Vec<String> = decoded
            .fields
            .iter()
            .filter(|f| f.role == role)
            .filter(|f| f.parent.and_then(|p| decoded.fields.get(p)).is_none_or(|p| p.role != role))
            .map(|f| f.path.clone())
            .collect();
        if outermost.is_empty() {
            return Err(Refusal {
                what: format!("the layout has no {} field", role.word()),
                advice: "name a field as `readproof show` lists it".to_owned(),
            });
        }
        for path in outermost {
            match layout::to_rest(layout, &self.image, &path) {
                Ok(change) => self.make(change)?,
                Err(refusal) => self.left.push((path, refusal.what)),
            }
        }
        Ok(())
    }

    fn copy(&mut self, layout: &Layout, selection: &Selection, from: &Image) -> Result<(), Refusal> {
        if layout::may_begin(layout, self.image.bytes(), 0) && !layout::may_begin(layout, from.bytes(), 0) {
            return Err(Refusal {
                what: format!("the marks of the layout {:?} are not in the image to copy from", layout.title),
                advice: "look what it is with `readproof vet`; nothing that it holds lies where it should"
                    .to_owned(),
            });
        }
        let (here, there) = (layout::decode(layout, &self.image), layout::decode(layout, from));
        let (top, name) = match selection {
            Selection::All(role) => (None, format!("every {}", role.word())),
            Selection::Path(path) => {
                let top = there.named(path)?.path.clone();
                (Some(top.clone()), top)
            }
        };
        let is_meant = |f: &&Field| {
            let chosen = match (selection, &top) {
                (Selection::All(role), _) => f.role == *role,
                (_, top) => top.as_ref().is_some_and(|top| layout::is_inside(&f.path, top)),
            };
            chosen
                && f.shape == Shape::Leaf
                && f.role != Role::Check
                && !f.spans.is_empty()
                && f.state != FieldState::Absent
        };
        let leaves: Vec<&Field> = there.fields.iter().filter(is_meant).collect();
        let paths: HashSet<&str> = leaves.iter().map(|f| f.path.as_str()).collect();
        let kept: Vec<&str> = here
            .fields
            .iter()
            .filter(is_meant)
            .map(|f| f.path.as_str())
            .filter(|p| !paths.contains(p))
            .collect();
        if !kept.is_empty() {
            let why = format!("the image to copy from does not have {}", short_list(&kept));
            self.left.push((name.clone(), why));
        }
        self.findings.extend(broken_there(&there, &leaves));
        let before = self.image.clone();
        let (mut copied, mut bits) = (0, Vec::new());
        for field in leaves {
            copied += 1;
            let own = here.fields.iter().find(|f| f.path == field.path);
            if own.is_some_and(|own| own.spans != field.spans) {
                return Err(Refusal {
                    what: format!("{} lies elsewhere in the other image", field.path),
                    advice: "set its value with --set instead".to_owned(),
                });
            }
            // Other fields share the bytes of one that does not fill them, so only its value is taken over.
            if field.bits.is_some() {
                bits.push(field);
                continue;
            }
            for &span in &field.spans {
                let bytes = from.get(span).map(<[u8]>::to_vec).unwrap_or_default();
                let change =
                    Change::overwrite(&self.image, String::new(), span.start, bytes).map_err(refused)?;
                edit::apply(&mut self.image, &change).map_err(refused)?;
            }
        }
        if copied == 0 {
            return Err(Refusal {
                what: format!("there is nothing to copy in {name}"),
                advice: "name a field as `readproof show` lists it".to_owned(),
            });
        }
        for field in bits {
            let change = layout::set(layout, &self.image, &field.path, &field.text)?;
            edit::apply(&mut self.image, &change).map_err(refused)?;
        }
        let changed = Differences::between(&before, &self.image);
        let nothing = if changed.is_empty() { " (nothing to change)" } else { "" };
        self.steps.push(format!("copy {name}{nothing}"));
        Ok(())
    }
}

/// That checks over what is copied are wrong in the image it comes from: resealed here, it would pass for good.
fn broken_there(there: &Decoded, leaves: &[&Field]) -> Option<Finding> {
    let over = |c: &&Check| {
        let ranges = c.placed.as_ref().map_or(&[][..], |p| &p.over);
        c.seal != Seal::Sealed
            && ranges.iter().any(|r| leaves.iter().flat_map(|f| &f.spans).any(|span| span.overlaps(*r)))
    };
    let names: Vec<&str> = there.checks.iter().filter(over).map(|c| c.name.as_str()).collect();
    let (which, are) = if names.len() == 1 { ("a check", "is") } else { ("checks", "are") };
    (!names.is_empty()).then(|| {
        Finding::new(
            Weight::Doubt,
            Code::CheckBroken,
            format!("{which} of the image that was copied from {are} not right: {}", short_list(&names)),
            "what was copied may be a poor read, and passes for good under the checks of this image",
            "read that chip again, and look at the file with `readproof vet AFTER`",
        )
    })
}

fn write_label(image: &Image, at: usize, bytes: &[u8]) -> String {
    format!("write {} at {}", hex_short(bytes, 8), address(image.address(at)))
}

fn needed(layout: Option<&Layout>) -> Result<&Layout, Refusal> {
    layout.ok_or_else(|| Refusal {
        what: "no layout is known for this image, so fields and checks have no names".to_owned(),
        advice: "name a layout with --layout, or write bytes with --bytes".to_owned(),
    })
}

fn refused(refused: edit::Refused) -> Refusal {
    Refusal { what: refused.what, advice: "check the address and the size of the image".to_owned() }
}
