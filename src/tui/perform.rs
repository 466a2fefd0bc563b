//! Effects on files: what the loop and the player do for the pure update.

use std::path::Path;

use super::annotate::{InForce, Kept};
use super::app::App;
use super::effect::{Effect, NotSaved};
use super::file::is_same;
use super::theme::Tone;
use super::{command, drawing, job, saving, taking, update};
use crate::error::Error;
use crate::report::text;
use crate::store::{self, Over};

/// Saves, reads and draws, and does what takes no time, until nothing is left but what concerns the terminal or is work
/// that takes its time.
pub fn perform(app: &mut App, mut effect: Effect) -> Effect {
    loop {
        effect = match effect {
            Effect::Save { path, replace, then_quit } => saving::save(app, path, replace, then_quit),
            Effect::TakeFile => taking::take(app),
            Effect::ReadLayout(path) => {
                match read_layout(app, &path) {
                    Ok(in_force) => {
                        app.say(Tone::Good, format!("In force: {}", in_force.layout.title));
                        app.it_mut().follow(in_force);
                    }
                    // The layout that was in force stays; the problems are listed.
                    Err(error) => app.problems("The layout is not in force", &error),
                }
                Effect::None
            }
            Effect::SaveLayout { path, replace, then_quit } => {
                let result = save_layout(app, &path, replace);
                command::layout_saved(app, result, &path, then_quit)
            }
            Effect::Draw(path) => {
                drawing::draw(app, &path);
                Effect::None
            }
            Effect::Work if job::is_quick(app) => job::do_now(app),
            left => return left,
        };
        update::scroll(app);
    }
}

/// Writes the text of the layout in force; a file that this session wrote itself is replaced without asking, and the
/// first time another one is replaced, what it was is kept beside it.
fn save_layout(app: &mut App, path: &Path, replace: bool) -> Result<String, NotSaved> {
    let failed = NotSaved::Failed;
    let in_force = app.it().layout().cloned().ok_or_else(|| {
        failed(Error::new("there is no layout to be saved").advice("begin or choose one first"))
    })?;
    let exists = path.symlink_metadata().is_ok();
    let ours = app.own_files.contains(path);
    if exists && !replace && !ours {
        return Err(NotSaved::Exists);
    }
    let was = match &in_force.kept {
        Kept::File(identity) | Kept::Ours(identity) if is_same(&in_force.path, path) => identity.as_ref(),
        _ => None,
    };
    let bytes = in_force.text.as_bytes();
    let saved = if exists {
        store::save_over(path, bytes, Over { was, keep_original: !ours, read_only_too: false })
    } else {
        store::save_new(path, bytes)
    };
    let saved = saved.map_err(failed)?;
    let kept =
        saved.original.map(|o| format!("; what it was is kept as {}", text::path(&o))).unwrap_or_default();
    app.own_files.add(&saved.path);
    app.layout_saved(path, &saved.identity);
    let fields = text::count(in_force.fields(), "field");
    Ok(format!("Saved the layout as {}: {fields}{kept}", text::path(path)))
}

fn read_layout(app: &App, path: &Path) -> Result<InForce, Error> {
    let at_hand = store::layouts(None, &[&app.it().file.origin])?;
    let file = store::layout_file(path, &at_hand)?;
    let layout = store::read_layout(&file)?;
    Ok(InForce::of_file(file, layout))
}
