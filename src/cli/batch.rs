//! Many images in one run: on all cores, results in the order of the images as they come, memory that does not grow
//! with their number.
//!
//! Each image is worked on with a [`Console`] of its own, so a command does the same to one image and to many. What
//! is wrong with one image is told in its place and stops nothing.

use std::collections::BTreeMap;
use std::io::{self, Read};
use std::panic::{self, AssertUnwindSafe};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::thread;
use std::time::Duration;

use super::for_docket::ForDocket;
use super::overhear::first_sentence;
use super::wait::Progress;
use super::window::Window;
use super::{Console, Outcome};
use crate::error::Error;
use crate::platform::Interrupts;
use crate::report::batch::Told;
use crate::report::{self, json, text};
use crate::store;

/// Images that are read at one time at least, on however few cores: small files that no cache holds are waited for
/// much longer than they take to look at.
const READERS: usize = 8;

/// Whether `paths` lead to more than one image, or may.
pub(super) fn is_many(paths: &[PathBuf]) -> bool {
    paths.len() > 1 || has_folder(paths)
}

/// Whether a folder is among `paths`.
pub(super) fn has_folder(paths: &[PathBuf]) -> bool {
    paths.iter().any(|path| store::is_folder(path))
}

/// What came of one image.
pub(super) struct Done<T> {
    /// What the work gave, or why there was none; its place names the file.
    pub(super) result: Result<T, Error>,
    /// Its file; `None` where a folder could not be walked into.
    pub(super) path: Option<PathBuf>,
    /// What it printed.
    pub(super) out: Vec<u8>,
}

struct Finished<T> {
    number: usize,
    done: Done<T>,
    err: Vec<u8>,
    for_docket: Option<ForDocket>,
}

/// Does `work` to every image of `paths`, the files below folders included, and hands what came of each to `each`, in
/// the order of the images. Returns how many there were.
///
/// # Errors
/// When there is no image at all, Ctrl-C stopped it, or `each` failed.
pub(super) fn run<T: Send>(
    paths: &[PathBuf],
    console: &mut Console<'_>,
    work: impl Fn(&Path, &mut Console<'_>) -> Result<T, Error> + Sync,
    mut each: impl FnMut(Done<T>, &mut Console<'_>) -> Result<(), Error>,
) -> Result<Told, Error> {
    console.lines = true;
    if console.for_docket.is_some()
        && let Some(folder) = paths.iter().find(|path| store::is_folder(path))
    {
        return Err(Error::new("a docket keeps the images of one job, not whatever is in a folder")
            .in_file(folder)
            .advice("name the images of the job, or leave --docket out"));
    }
    keep_typed(paths, console)?;
    let window = Window::over(paths);
    let cancel = Arc::new(AtomicBool::new(false));
    let interrupt = Interrupts::set(&cancel);
    let setting = Setting::of(console);
    let mut told = Told::default();
    let mut progress = Progress::begin(!console.json && !console.quiet);
    let ended = thread::scope(|scope| {
        let (sender, finished) = mpsc::channel();
        for _ in 0..thread::available_parallelism().map_or(1, usize::from).max(READERS) {
            let (sender, window, work, setting) = (sender.clone(), &window, &work, &setting);
            scope.spawn(move || {
                while let Some((number, met)) = window.take() {
                    // The other end is gone when the rest is not wanted any more.
                    let _ = sender.send(setting.one(number, met, work));
                }
            });
        }
        drop(sender);
        let ended = hand_on(&finished, &window, console, &cancel, &mut progress, &mut told, &mut each);
        window.close();
        ended
    });
    drop(interrupt);
    progress.clear(console.err);
    ended?;
    if console.gone.load(Ordering::Relaxed) {
        told.cut_short = true;
        return Ok(told);
    }
    if cancel.load(Ordering::Relaxed) {
        return Err(Error::new(format!(
            "stopped by Ctrl-C after {}",
            text::count(told.images + told.failed, "image")
        ))
        .advice("what was told until then holds"));
    }
    told.left_out = window.left_out();
    if told.images + told.failed == 0 {
        let named: Vec<String> = paths.iter().map(|path| path.display().to_string()).collect();
        let none = Error::new("there is no image in it").at(named.join(", "));
        return Err(match told.left_out.as_str() {
            "" => none.advice("name a folder that holds images"),
            left_out => none.advice(format!("left out: {left_out}")),
        });
    }
    Ok(told)
}

/// Hands on what is finished, in order, until everything is, nobody reads it any more, or Ctrl-C was pressed.
fn hand_on<T>(
    finished: &mpsc::Receiver<Finished<T>>,
    window: &Window,
    console: &mut Console<'_>,
    cancel: &AtomicBool,
    progress: &mut Progress,
    told: &mut Told,
    each: &mut impl FnMut(Done<T>, &mut Console<'_>) -> Result<(), Error>,
) -> Result<(), Error> {
    const PAUSE: Duration = Duration::from_millis(100);
    let mut waiting = BTreeMap::new();
    loop {
        if cancel.load(Ordering::Relaxed) || console.gone.load(Ordering::Relaxed) {
            return Ok(());
        }
        let next = match finished.try_recv() {
            Ok(one) => Some(one),
            Err(mpsc::TryRecvError::Disconnected) => return Ok(()),
            Err(mpsc::TryRecvError::Empty) => {
                // Nothing to do: whoever reads the results gets what there is.
                console.out.flush()?;
                match finished.recv_timeout(PAUSE) {
                    Ok(one) => Some(one),
                    Err(mpsc::RecvTimeoutError::Timeout) => None,
                    Err(mpsc::RecvTimeoutError::Disconnected) => return Ok(()),
                }
            }
        };
        waiting.extend(next.map(|one| (one.number, one)));
        while let Some(one) = waiting.remove(&(told.images + told.failed)) {
            match one.done.result {
                Ok(_) => told.images += 1,
                Err(_) => told.failed += 1,
            }
            progress.clear(console.err);
            console.err.write_all(&one.err)?;
            if let (Some(all), Some(one)) = (&mut console.for_docket, one.for_docket) {
                all.add(one);
            }
            each(one.done, console)?;
            window.advance();
        }
        if progress.is_due() {
            // A line of results that is half written would be torn.
            console.out.flush()?;
            let images = text::count(told.images + told.failed, "image");
            progress.show(console.err, &format!("{images}, Ctrl-C stops"));
        }
    }
}

/// What one image printed, or its error, as a block of its own.
pub(super) struct Blocks {
    any: bool,
}

impl Blocks {
    pub(super) fn new() -> Self {
        Blocks { any: false }
    }

    /// With `--quiet` only the first sentence, where `good` says that a person must look at the image.
    pub(super) fn print<T>(
        &mut self,
        done: Done<T>,
        good: impl Fn(&T) -> bool,
        console: &mut Console<'_>,
    ) -> Result<Option<T>, Error> {
        match done.result {
            Ok(value) if console.quiet && !console.json => {
                if !good(&value) {
                    let path = done.path.as_deref().map(text::path).unwrap_or_default();
                    console.hand_over(format!("{path}: {}\n", first_sentence(&done.out)).as_bytes())?;
                }
                Ok(Some(value))
            }
            Ok(value) => {
                if std::mem::replace(&mut self.any, true) && !console.json {
                    writeln!(console.out)?;
                }
                console.out.write_all(&done.out)?;
                Ok(Some(value))
            }
            Err(error) => tell(&error, console).map(|()| None),
        }
    }
}

/// The error of one image, told in its place: for people on standard error, and as an object among the others.
pub(super) fn tell(error: &Error, console: &mut Console<'_>) -> Result<(), Error> {
    if console.json {
        json::write_error(console.out, error, true)?;
    }
    // Before the error, so that both come in their order where they meet.
    console.out.flush()?;
    Ok(write!(console.err, "{}", report::error::text(error, console.paint))?)
}

/// Says on standard error how many images a folder held, what could not be read and what was left out.
pub(super) fn remark(told: &Told, paths: &[PathBuf], console: &mut Console<'_>) -> Result<(), Error> {
    console.said(told.sentence());
    let is_read = !console.gone.load(Ordering::Relaxed);
    if is_read && (told.failed > 0 || has_folder(paths)) {
        console.remark(&told.sentence())?;
    }
    // Each image that a person must look at was told in its place.
    console.sentence = Some(String::new());
    Ok(())
}

/// What many images came to, once each was told.
pub(super) fn outcome(told: &Told, good: bool) -> Outcome {
    match (told.failed, good) {
        // Nobody looked at the rest once its reader was gone, so all of them are not sound.
        _ if told.cut_short => Outcome::Partly,
        (0, true) => Outcome::Good,
        (0, false) => Outcome::Attention,
        _ => Outcome::Partly,
    }
}

/// Where `-` is among the images, standard input is read once, before anything else, and kept.
fn keep_typed(paths: &[PathBuf], console: &mut Console<'_>) -> Result<(), Error> {
    let mut input = Vec::new();
    for _ in paths.iter().filter(|path| path.as_os_str() == "-") {
        console.read_once()?;
        let failed = |e: io::Error| {
            Error::new(format!("reading failed: {e}"))
                .at("standard input")
                .advice("save it to a file first, and name that file")
        };
        console.input.take(store::MAX_STREAM_BYTES + 1).read_to_end(&mut input).map_err(failed)?;
        console.typed = Some(input.as_slice().into());
    }
    Ok(())
}

/// What the consoles of all images have in common.
struct Setting {
    typed: Option<Arc<[u8]>>,
    json: bool,
    quiet: bool,
    paint: report::paint::Paint,
    for_docket: Option<ForDocket>,
}

impl Setting {
    fn of(console: &Console<'_>) -> Self {
        let for_docket = console.for_docket.as_ref().map(ForDocket::for_one_image);
        let Console { json, quiet, paint, .. } = *console;
        Setting { typed: console.typed.clone(), json, quiet, paint, for_docket }
    }

    /// Does the work to one image, or carries on why it could not be reached.
    fn one<T>(
        &self,
        number: usize,
        met: Result<PathBuf, Error>,
        work: &impl Fn(&Path, &mut Console<'_>) -> Result<T, Error>,
    ) -> Finished<T> {
        let (mut out, mut err, mut input) = (Vec::new(), Vec::new(), io::empty());
        let mut console = Console::new(&mut out, &mut err, &mut input);
        (console.json, console.quiet, console.lines, console.paint) =
            (self.json, self.quiet, true, self.paint);
        console.typed.clone_from(&self.typed);
        let path = met.as_ref().ok().cloned();
        console.for_docket = self.for_docket.as_ref().map(ForDocket::for_one_image);
        let result = met.and_then(|path| {
            // Whatever an image does to the program, the others are done.
            let worked = panic::catch_unwind(AssertUnwindSafe(|| work(&path, &mut console)));
            worked.unwrap_or_else(|_| Err(broke_down())).map_err(|error| match error.place {
                Some(_) => error,
                None => error.in_file(path),
            })
        });
        let for_docket = console.for_docket.take();
        Finished { number, done: Done { result, path, out }, err, for_docket }
    }
}

fn broke_down() -> Error {
    Error::new("the program broke down on this image").advice("report it with the image, if you may")
}
