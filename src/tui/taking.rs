//! Taking what a file holds now, after somebody else wrote to it: beside the keys, because both may be large.

use std::path::PathBuf;

use super::app::App;
use super::dialog::{Page, Paragraph};
use super::effect::Effect;
use super::job::{self, Task, Watch};
use super::judging::MOST_JUDGED;
use super::saving::SAVED_AT_ONCE;
use super::sheet::Sheet;
use super::theme::Tone;
use crate::compare::{self, Carried, NotCarried};
use crate::edit::Joining;
use crate::error::Error;
use crate::image::{Format, Image};
use crate::report::text;
use crate::span::Span;
use crate::store::{self, Identity};

/// What differs is remembered for undo, so that it cannot be more than this.
const MOST_DIFFERING: usize = MOST_JUDGED;

/// The file of an image that is to be taken, with everything it needs, to be read anywhere.
struct Taking {
    path: PathBuf,
    format: Format,
    /// The image as it was opened or saved last.
    base: Image,
    mine: Image,
    /// Where those two may differ.
    touched: Vec<Span>,
}

/// What the file holds, with the changes that are not saved carried over to it.
struct Taken {
    carried: Carried,
    image: Image,
    identity: Option<Identity>,
}

/// Takes what the file of the image that is worked on holds now.
pub(super) fn take(app: &mut App) -> Effect {
    let (index, it) = (app.current(), app.it());
    let (taking, writes) = (Taking::of(it), it.contents.writes());
    let is_quick = it.image().len() <= SAVED_AT_ONCE;
    let read = move |watch: &Watch<'_>| {
        let taken = taking.run(&mut |done| watch.note(done))?;
        Some((taking, taken))
    };
    let finish = move |app: &mut App, (taking, taken)| {
        finish(app, index, writes, taken);
        // Maps of the file as it was are closed only now that it is known as it is: before, that would be a loss.
        drop::<Taking>(taking);
        Effect::None
    };
    job::begin(app, Task::new("taking the file", read, finish).quick(is_quick))
}

impl Taking {
    /// The file of an image.
    fn of(it: &Sheet) -> Taking {
        let (contents, mine) = (&it.contents, it.image());
        let base = contents.history.saved_state(mine).unwrap_or_else(|| Image::clone(contents.before()));
        Taking {
            path: it.file.path.clone(),
            format: it.file.format,
            base,
            mine: mine.clone(),
            touched: contents.history.touched(),
        }
    }

    /// Reads it; `None` once `watch`, which is told of the part that is done, does not want to go on.
    fn run(&self, watch: &mut dyn FnMut(f64) -> bool) -> Option<Result<Taken, Error>> {
        let opened = match store::open_as(&self.path, &mut std::io::empty(), Some(self.format)) {
            Ok(opened) => opened,
            Err(error) => return Some(Err(error)),
        };
        let images = [&self.base, &self.mine, &opened.image];
        let label = "take what the file holds now";
        match compare::carry(images, self.touched.clone(), label, MOST_DIFFERING, watch) {
            Ok(carried) => {
                // What was compared counts only if the file was there, and the same, to the end.
                let identity = opened.identity;
                let moved = identity.as_ref().and_then(|was| was.changed_at(&self.path).ok().flatten());
                Some(match moved {
                    None => Ok(Taken { carried, image: opened.image, identity }),
                    Some(how) => Err(Error::new(format!("the file {how}"))
                        .in_file(&self.path)
                        .advice("take it once more when nobody writes to it")),
                })
            }
            Err(NotCarried::Stopped) => None,
            Err(NotCarried::TooMany) => {
                let most = MOST_DIFFERING >> 20;
                Some(Err(Error::new(format!(
                    "the file differs in more than {most} MiB from what was opened"
                ))
                .in_file(&self.path)
                .advice("save your changes under another name, and open both: they can be compared then")))
            }
        }
    }
}

/// Takes what came of it; `writes` counts the changes of the image when it began.
fn finish(app: &mut App, index: usize, writes: u64, taken: Result<Taken, Error>) {
    app.turn_to(index);
    let it = app.it_mut();
    if it.contents.writes() != writes {
        app.tell(Tone::Doubt, "The image was changed meanwhile; {take-file} takes the file once more");
        return;
    }
    let taken = taken.and_then(|taken| {
        let had_changes = it.contents.history.is_unsaved();
        it.apply(taken.carried.change.clone(), Joining::Separate)?;
        Ok((taken, had_changes))
    });
    let (Taken { carried, image, identity }, had_changes) = match taken {
        Ok(taken) => taken,
        Err(error) => return app.problems("The file was not taken", &error),
    };
    if let Some(identity) = &identity {
        store::accept(&it.file.path, identity);
    }
    it.file.known_as(identity);
    it.contents.opened_again(image, carried.is_theirs);
    let base = it.image().base();
    let ours = match (had_changes, carried.fits) {
        (false, _) => "",
        (true, false) => ", in another size, without your changes",
        (true, true) => ", with your changes on it",
    };
    let changed = text::count(carried.their_bytes, "byte");
    let told = app.keys.fill(&format!("Taken: {changed} changed in the file{ours}; {{undo}} goes back"));
    if carried.clashes.is_empty() {
        app.say(Tone::Good, told);
        return;
    }
    let clashes = carried.clashes.iter().map(|c| text::place(*c, base));
    let told = [told, "Both changed these bytes, and the file's stand now:".to_owned()];
    let page = told.into_iter().chain(clashes).map(|line| Paragraph::new(Tone::Plain, line)).collect();
    app.dialog = Some(Page::open(app, "Taken from the file", page));
}
