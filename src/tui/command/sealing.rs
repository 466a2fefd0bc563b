//! Checks computed and stored: between a key and its frame, or beside the keys where they may cover much.

use std::sync::Arc;

use super::change::unlocked_layout;
use super::{Command, USUAL, Where};
use crate::edit::Change;
use crate::layout::{self, Refusal};
use crate::tui::app::App;
use crate::tui::effect::Effect;
use crate::tui::job::{self, Task, Watch};
use crate::tui::sheet::QUICK_BYTES;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// Computes the chosen check.
pub(super) const RESEAL: Command = Command {
    name: "reseal",
    keys: &["Space"],
    place: Where::CHECKS,
    obstacle,
    hint: "reseal",
    doc: "Compute the chosen check and store it",
    takes: "CHECK",
    act: |app, typed| {
        let chosen = app.chosen_check().map(|check| check.name.as_str());
        match Some(typed).filter(|typed| !typed.is_empty()).or(chosen).map(str::to_owned) {
            Some(name) => reseal(app, Some(name)),
            None => {
                app.say(Tone::Doubt, "This image has no such check");
                Effect::None
            }
        }
    },
};

/// Computes every check.
pub(super) const RESEAL_ALL: Command = Command {
    name: "reseal-all",
    keys: &["Ctrl-R"],
    obstacle,
    hint: "reseal all",
    doc: "Compute every check and store it",
    act: |app, _| reseal(app, None),
    ..USUAL
};

fn obstacle(app: &App) -> Option<&'static str> {
    let has_none = app.it().decoded().checks.is_empty();
    unlocked_layout(app).or(has_none.then_some("The layout has no checks")).or_else(|| job::obstacle(app))
}

/// Computes a check, or all of them.
fn reseal(app: &mut App, name: Option<String>) -> Effect {
    let it = app.it();
    let Some(layout) = it.layout().map(|l| Arc::clone(&l.layout)) else { return Effect::None };
    let (index, revision, image, is_all) = (app.current(), it.revision(), it.image().clone(), name.is_none());
    let is_quick = image.len() <= QUICK_BYTES;
    let compute = move |_: &Watch<'_>| Some(layout::reseal(&layout, &image, name.as_deref().as_slice()));
    let finish = move |app: &mut App, change| {
        finish(app, index, revision, is_all, change);
        Effect::None
    };
    job::begin(app, Task::new("computing checks", compute, finish).quick(is_quick))
}

/// Takes what came of computing checks; `revision` is that of the image when it began.
fn finish(app: &mut App, index: usize, revision: u64, is_all: bool, change: Result<Change, Refusal>) {
    app.turn_to(index);
    if app.it().revision() != revision {
        app.say(Tone::Doubt, "The image was changed meanwhile, so nothing was stored; reseal once more");
        return;
    }
    match change {
        Ok(change) => {
            typing::make(app, change, if is_all { "Every check is sealed" } else { "It is sealed already" })
        }
        Err(refusal) => app.say(Tone::Bad, format!("{}; {}", refusal.what, refusal.advice)),
    }
}
