//! Work that other sessions left unsaved: one queue of it, offered piece by piece when its file is opened again.
//!
//! Nothing is ever made again unasked. What is taken up becomes steps that undo takes back; its note goes once this
//! session keeps the work itself.

mod bytes;
mod layout;
#[cfg(test)]
mod tests;

use std::path::PathBuf;

pub use bytes::Changes;
pub use layout::Draft;
pub(super) use layout::about;

use super::app::App;
use super::dialog::{About, Dialog, Page, Paragraph, Question, Reply};
use super::effect::Effect;
use super::keeping::{BYTES, LAYOUT, holds};
use super::sheet::Sheet;
use super::theme::Tone;
use crate::report::text;
use crate::store::{Left, Unsaved};

/// Work that another session left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftWork {
    /// Index of the image.
    pub image: usize,
    /// The note that holds it.
    pub note: PathBuf,
    /// The file that it was done on, when that is another one than this image came from.
    pub of: Option<PathBuf>,
    /// The work.
    pub work: Work,
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Work {
    /// Steps of a layout.
    Layout(Draft),
    /// Changes of bytes.
    Bytes(Changes),
}

/// What other sessions left of the open images, until it is decided about.
#[derive(Debug, Default)]
pub struct Leftovers {
    undecided: Vec<LeftWork>,
    /// The notes of what was decided about.
    decided: Vec<PathBuf>,
}

impl Leftovers {
    /// Whether everything is decided about.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.undecided.is_empty()
    }

    /// Asks about these too, behind the others.
    pub(super) fn add(&mut self, work: impl IntoIterator<Item = LeftWork>) {
        self.undecided.extend(work);
    }

    /// What is next to be decided about, taken off the queue.
    fn next(&mut self) -> Option<LeftWork> {
        (!self.is_empty()).then(|| self.undecided.remove(0))
    }

    /// The user decided about what this note holds, or it needs no decision.
    fn decide(&mut self, note: PathBuf) {
        self.decided.push(note);
    }

    /// The notes that were decided about since this was asked last.
    pub(super) fn decided(&mut self) -> impl Iterator<Item = PathBuf> {
        self.decided.drain(..)
    }
}

/// Reads what other sessions left of the open images: work on layouts first, because fields are named by them.
pub(super) fn look_for(app: &mut App, notes: &mut Unsaved) {
    for image in 0..app.images().len() {
        let Some(sheet) = app.images().get(image).filter(|s| s.file.origin.is_file()) else { continue };
        for Left { note, of, written, about, work } in notes.left(&sheet.file.origin, &holds(sheet), LAYOUT) {
            let draft = Draft::read(about, written, work);
            app.left.add(draft.map(|draft| LeftWork { image, note, of, work: Work::Layout(draft) }));
        }
    }
    for image in 0..app.images().len() {
        let Some(sheet) = app.images().get(image).filter(|s| s.file.path.is_file()) else { continue };
        let now = holds(sheet);
        let left = notes.left(&sheet.file.path, &now, BYTES).into_iter();
        let left = left.map(|l| (Changes::read(sheet, &l.work, l.about == now), l.note, l.of));
        for (changes, note, of) in left.collect::<Vec<_>>() {
            match changes {
                Some(changes) => app.left.add([LeftWork { image, note, of, work: Work::Bytes(changes) }]),
                None => app.left.decide(note),
            }
        }
    }
}

/// Asks about the first work that another session left, unless something else is asked.
pub fn offer(app: &mut App) {
    if app.dialog.is_some() {
        return;
    }
    // What is in force already needs no question.
    let is_in_force = |left: &LeftWork| match &left.work {
        Work::Layout(draft) => app.images().get(left.image).is_some_and(|sheet| draft.is_in(sheet)),
        Work::Bytes(_) => false,
    };
    let (same, left): (Vec<_>, Vec<_>) = app.left.undecided.iter().cloned().partition(is_in_force);
    app.left.undecided = left;
    same.into_iter().for_each(|left| app.left.decide(left.note));
    let Some((left, sheet)) = first(app) else { return };
    let name = sheet.file.name();
    let (title, mut remarks, can_be_made) = match &left.work {
        Work::Layout(draft) => (format!("Work on the layout of {name} was not saved"), draft.remarks(), true),
        Work::Bytes(changes) => {
            (format!("Changes of {name} were not saved"), changes.remarks(sheet), changes.fits(sheet))
        }
    };
    if let Some(of) = &left.of {
        let told = format!("The work was done on {}, which is not there any more.", text::path(of));
        remarks.push((Tone::Doubt, told));
        remarks.push((Tone::Plain, format!("{name} holds what that file held: it was moved or renamed.")));
    }
    let told = match (&left.work, can_be_made) {
        (Work::Layout(_), _) => {
            "Take up puts it in force, to be looked at and saved; {undo} takes it away again. Esc keeps it for later."
        }
        (Work::Bytes(_), true) => {
            "Take up makes them again, to be looked at and saved; {undo} takes them back one by one. Esc keeps them \
             for later."
        }
        (Work::Bytes(_), false) => "Esc keeps them for later, should the file they belong to come back.",
    };
    remarks.push((Tone::Quiet, app.keys.fill(told)));
    let replies = if can_be_made { FIT } else { UNFIT };
    app.dialog =
        Some(Dialog::Question(Question { title, about: About::default(), remarks, replies, chosen: 0 }));
}

/// The first work that is not decided about, and its image.
fn first(app: &App) -> Option<(&LeftWork, &Sheet)> {
    let left = app.left.undecided.first()?;
    Some((left, app.images().get(left.image)?))
}

const LOOK: Reply = Reply {
    key: 'l',
    word: "Look",
    act: |app, _| {
        let Some((left, sheet)) = first(app) else { return Effect::None };
        let again = app.keys.fill("{left-changes} asks again what is to become of it.");
        let mut lines = vec![Paragraph::new(Tone::Quiet, again)];
        lines.extend(match &left.work {
            Work::Layout(draft) => draft.listed(),
            Work::Bytes(changes) => changes.listed(sheet),
        });
        app.dialog = Some(Page::open(app, "What was not saved", lines));
        Effect::None
    },
};

const TAKE_UP: Reply = Reply {
    key: 't',
    word: "Take up",
    act: |app, _| {
        if let Some(left) = app.left.next() {
            app.turn_to(left.image);
            let is_whole = match &left.work {
                Work::Layout(draft) => draft.take_up(app),
                Work::Bytes(changes) => changes.take_up(app),
            };
            if is_whole {
                app.left.decide(left.note);
            }
        }
        offer(app);
        Effect::None
    },
};

const DISCARD: Reply = Reply {
    key: 'd',
    word: "Discard",
    act: |app, _| {
        if let Some(left) = app.left.next() {
            app.left.decide(left.note);
            app.say(Tone::Plain, "What was not saved is gone");
        }
        offer(app);
        Effect::None
    },
};

const FIT: &[Reply] = &[LOOK, TAKE_UP, DISCARD];

/// Changes that belong to other bytes are no choice.
const UNFIT: &[Reply] = &[LOOK, DISCARD];
