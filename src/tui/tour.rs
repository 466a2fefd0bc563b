//! The tour: the main job on the sample images, in the real editor, each step checked by what it leaves behind.

use super::app::App;
use super::dialog::Dialog;
use super::panes::Pane;
use super::sheet::Sheet;
use crate::check::Seal;
use crate::layout::{Role, Shape};

/// How far the user is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tour {
    done: usize,
}

/// One step.
struct Step {
    /// What it is about.
    name: &'static str,
    /// What to do; keys stand in it as `{command}`.
    task: &'static str,
    /// Whether it was done, by what the editor knows now.
    is_done: fn(&App) -> bool,
}

const STEPS: &[Step] = &[
    Step {
        name: "Is it a good read?",
        task: "This is a read of a cold-room controller that stays locked out. Press {next-pane} until Findings has \
               the keys: what speaks for or against the read stands there, with what to do about it.",
        is_done: |app| app.panes.focus() == Pane::Findings,
    },
    Step {
        name: "Is it the right unit?",
        task: "The label says FK-CR8-2047B. Press {find}, type that and press Enter: it must be in the read to the \
               character; near misses would be shown too.",
        is_done: |app| {
            app.last.searched == "FK-CR8-2047B" && app.it().found.places().iter().any(|hit| hit.exact)
        },
    },
    Step {
        name: "What did it record?",
        task: "Press {go-to}, type lockouts and press Enter. A high-pressure lockout is cleared only by licensed \
               people, after its cause was found; follow the maker's instructions and local codes.",
        is_done: |app| {
            let lockouts = app.it().decoded().field("lockouts");
            app.dialog.is_none() && lockouts.is_some_and(|f| f.cover().contains(app.it().cursor.at))
        },
    },
    Step {
        name: "Allow changes",
        task: "Images open locked, so that no stray key changes one. {unlock} unlocks it; the title says so. On the \
               bench the mains supply is isolated and locked off before a board is touched.",
        is_done: |app| !app.it().locked,
    },
    Step {
        name: "Return the lockouts to rest",
        task: "Press {next-pane} until Fields has the keys; the row lockouts is chosen. {to-rest} returns it to what \
               it holds when nothing is recorded. Read the caution, then agree with r.",
        is_done: |app| is_at_rest(app.it()),
    },
    Step {
        name: "Reseal the checks",
        task: "The check over the whole image is broken now, and the board would refuse it. {reseal-all} computes \
               and stores every check. ({undo} takes back any step.)",
        is_done: |app| is_at_rest(app.it()) && is_sealed(app.it()),
    },
    Step {
        name: "Compare with the original",
        task: "{review} shows what would be written against what was opened: which bytes, in which fields, and \
               whether each may change. Esc closes the page.",
        is_done: |app| matches!(&app.dialog, Some(Dialog::Page(page)) if page.search.is_none()),
    },
    Step {
        name: "Save under a new name",
        task: "Close the page with Esc and press {save}: a new name is offered, and Enter takes it. The original stays \
               as it is; whatever was changed can be compared with it for ever.",
        is_done: |app| app.it().file.is_saved_elsewhere() && !app.it().is_modified(),
    },
    Step {
        name: "Look into a file that came back",
        task: "Somebody else cleared this unit's lockouts too, in unit7-returned.bin. Press {twin} for both side by \
               side, then {go-to}, type serial and press Enter: it is another unit's.",
        is_done: |app| {
            app.twin.is_some() && app.it().decoded().leaf_at(app.it().cursor.at).is_some_and(is_serial)
        },
    },
];

fn is_serial(field: &crate::layout::Field) -> bool {
    field.path == "serial"
}

/// Whether every record of the lockouts is at rest.
fn is_at_rest(sheet: &Sheet) -> bool {
    let mut records = sheet
        .decoded()
        .fields
        .iter()
        .filter(|f| f.shape == Shape::Leaf && f.role == Role::Record && f.path.starts_with("lockouts["))
        .peekable();
    records.peek().is_some() && records.all(|f| f.at_rest == Some(true))
}

fn is_sealed(sheet: &Sheet) -> bool {
    !sheet.decoded().checks.is_empty() && sheet.decoded().checks.iter().all(|c| c.seal == Seal::Sealed)
}

impl Tour {
    /// Whether every step was done.
    #[must_use]
    pub(super) const fn is_over(self) -> bool {
        self.done >= STEPS.len()
    }

    /// The step that is next, as the strip names it, and what to do.
    #[must_use]
    pub fn told(self, app: &App) -> (String, String) {
        let Some(step) = STEPS.get(self.done) else {
            let task = "What is left needs no editor: {quit} leaves it, then the file that came back is audited and \
                        the write is proved by what is read back.";
            return ("Tour: all steps in the editor are done".into(), app.keys.fill(task));
        };
        let before = if self.done == 0 { "" } else { "Done. " };
        let leave = app.keys.fill("{quit} leaves at any time");
        let heading = format!("{before}Step {} of {}: {}  ({leave})", self.done + 1, STEPS.len(), step.name);
        (heading, app.keys.fill(step.task))
    }
}

/// Goes on to the first step that was not done yet.
pub(super) fn follow(app: &mut App) {
    let Some(mut tour) = app.tour else { return };
    while STEPS.get(tour.done).is_some_and(|step| (step.is_done)(app)) {
        tour.done += 1;
    }
    app.tour = Some(tour);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::keys::Keys;

    #[test]
    fn every_key_that_a_step_names_is_a_command_and_every_task_fits_three_lines_of_80_columns() {
        for step in STEPS {
            let told = Keys::default().fill(step.task);
            assert!(!told.contains('{'), "{told}");
            let lines = crate::report::text::wrap(&told, 78);
            assert!(lines.len() <= 3, "{}: {lines:#?}", step.name);
        }
    }
}
