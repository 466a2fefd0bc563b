//! Saving an image: at once when it is small, beside the keys when it is large.

use std::path::{Path, PathBuf};

use super::app::App;
use super::command;
use super::effect::{Effect, NotSaved, Replace};
use super::file::is_same;
use super::job::{self, Task, Watch};
use super::theme::Tone;
use crate::image::{self, Format, Image};
use crate::report::text;
use crate::store::{self, Identity, Over, Saved};

/// Images up to this size are saved at once.
pub(super) const SAVED_AT_ONCE: usize = 4 << 20;

/// A save with everything it needs, to be done anywhere.
struct Saving {
    path: PathBuf,
    /// Where the bytes came from.
    origin: PathBuf,
    image: Image,
    format: Format,
    /// What is known of the file that is replaced; `None` when it must be a new one.
    over: Option<Replaced>,
}

struct Replaced {
    /// What it must still be.
    was: Option<Identity>,
    keep_original: bool,
}

/// What a save came to.
struct Written {
    saved: Saved,
    /// How it was written.
    format: Format,
    told: String,
}

/// Saves the image that is worked on, or puts the job up that does.
pub(super) fn save(app: &mut App, path: PathBuf, replace: Replace, then_quit: bool) -> Effect {
    if replace == Replace::No && path.symlink_metadata().is_ok() {
        return command::ask_replace(app, &path, then_quit);
    }
    let (index, saving) = (app.current(), Saving::of(app, &path, replace));
    if app.it().image().len() <= SAVED_AT_ONCE {
        let written = saving.run(&mut |_| true);
        return finish(app, index, &path, written, then_quit);
    }
    let write = move |watch: &Watch<'_>| Some(saving.run(&mut |done| watch.note(done)));
    let finish = move |app: &mut App, written| finish(app, index, &path, written, then_quit);
    let begun = job::begin(app, Task::new("saving", write, finish).waited_for());
    app.it_mut().contents.is_being_saved |= begun == Effect::Work;
    begun
}

/// Takes what a save of the image with this index came to.
fn finish(
    app: &mut App,
    index: usize,
    path: &Path,
    written: Result<Written, NotSaved>,
    then_quit: bool,
) -> Effect {
    app.turn_to(index);
    let it = app.it_mut();
    it.contents.is_being_saved = false;
    match written {
        Ok(Written { saved, format, told }) => {
            it.file.saved(path.to_path_buf(), format, saved.identity);
            it.contents.history.mark_saved();
            app.own_files.add(&saved.path);
            app.say(Tone::Good, told);
            if then_quit { command::leave(app) } else { Effect::None }
        }
        Err(NotSaved::Exists) => command::ask_replace(app, path, then_quit),
        Err(NotSaved::Changed(how)) => command::ask_about_file(app, &how, then_quit),
        Err(NotSaved::Failed(error)) => {
            app.problems("Not saved", &error);
            Effect::None
        }
    }
}

impl Saving {
    /// The save of the image that is worked on as it is now.
    fn of(app: &App, path: &Path, replace: Replace) -> Saving {
        let it = app.it();
        let ending = path.extension().and_then(|e| Format::of_ending(&e.to_string_lossy()));
        let over = (replace != Replace::No).then(|| {
            let is_own = is_same(&it.file.path, path);
            Replaced {
                was: it.file.identity.clone().filter(|_| is_own && replace != Replace::WhateverItIs),
                // Whatever the file is, it was somebody's until this session wrote it.
                keep_original: replace == Replace::WhateverItIs || !app.own_files.contains(path),
            }
        });
        Saving {
            path: path.to_path_buf(),
            origin: it.file.origin.clone(),
            image: it.image().clone(),
            format: ending.unwrap_or(it.file.format),
            over,
        }
    }

    /// Writes the file. `watch` is told of the part that is done and says whether to go on.
    fn run(&self, watch: &mut dyn FnMut(f64) -> bool) -> Result<Written, NotSaved> {
        let failed = NotSaved::Failed;
        // Bytes of a large file that is cut are not those that were read.
        store::still_there_at(&self.origin).map_err(failed)?;
        let (bytes, remarks) = image::write(&self.image, self.format, image::Writing::default())
            .map_err(|e| failed(e.into()))?;
        let remarks: String = remarks.iter().map(|r| format!("; {}", r.seen)).collect();
        let mut lost = None;
        let mut watch = |done: f64| {
            lost = store::still_there_at(&self.origin).err();
            lost.is_none() && watch(done)
        };
        let saved = match &self.over {
            Some(Replaced { was, keep_original }) => {
                // Asked here as well, because what can be done about it is for the user to say.
                let changed = was.as_ref().and_then(|was| was.changed_at(&self.path).ok().flatten());
                if let Some(how) = changed {
                    return Err(NotSaved::Changed(how));
                }
                let over = Over { was: was.as_ref(), keep_original: *keep_original, read_only_too: false };
                store::save_over_watched(&self.path, &bytes, over, &mut watch)
            }
            None => store::save_new_watched(&self.path, &bytes, &mut watch),
        };
        let saved = saved.map_err(|error| failed(lost.unwrap_or(error)))?;
        let original = saved.original.as_ref();
        let kept =
            original.map(|o| format!("; what it was is kept as {}", text::path(o))).unwrap_or_default();
        let (len, name) = (bytes.len(), text::path(&self.path));
        let told = format!("Saved {name}: {len} bytes, {}{kept}{remarks}", self.format.name());
        Ok(Written { saved, format: self.format, told })
    }
}
