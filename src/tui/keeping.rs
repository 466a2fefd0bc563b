//! Work that is not saved, kept aside while it is done, and offered when its image is opened again.
//!
//! The loop asks [`Told::orders`] after every input what has to be kept or forgotten, and a thread does it, so that no
//! key waits for a disk. A kind of work is a word and a place in `Told` that remembers what was told last; every kind
//! goes through the same thread and the same notes, see [`crate::store::Unsaved`], and is offered by [`recovery`]. What
//! was handed over outlives the process; at the latest [`SYNC`] later it outlives the machine too.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::app::App;
use super::recovery;
use super::sheet::Sheet;
use super::theme::Tone;
use crate::edit::{Done, Turn};
use crate::error::Error;
use crate::report::text;
use crate::store::{Identity, Unsaved};

/// Steps of a layout.
pub(super) const LAYOUT: &str = "layout";
/// Changes of bytes.
pub(super) const BYTES: &str = "bytes";

/// The disk is waited for this seldom, because it is slow.
const SYNC: Duration = Duration::from_secs(1);

/// What the thread that keeps notes has to say.
#[derive(Debug)]
pub enum News {
    /// Something could not be kept; told once.
    NotKept(Error),
    /// A file that is changed here is open elsewhere too, in words that continue "it is open in".
    Others(PathBuf, Vec<String>),
}

/// What the thread that keeps notes is to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// Keep this work in the place of what was kept of it before.
    Keep {
        /// The image.
        of: PathBuf,
        /// What its file is, in one line.
        holds: String,
        /// What kind of work it is.
        kind: &'static str,
        /// What is needed to take it up, in one line.
        about: String,
        /// The work.
        work: Arc<str>,
    },
    /// Add what was done to the bytes of an image to its journal.
    Add {
        /// The file.
        of: PathBuf,
        /// What the file is on which it was done, in one line.
        about: String,
        /// What was done.
        done: Vec<Done>,
    },
    /// It is saved, or given up.
    Forget {
        /// The image.
        of: PathBuf,
        /// What kind of work it was.
        kind: &'static str,
    },
    /// The user decided about what another session left.
    Discard(PathBuf),
}

/// What the thread was told last of each image.
#[derive(Debug, Default)]
pub struct Told {
    layouts: Vec<Option<Arc<str>>>,
    bytes: Vec<ToldBytes>,
}

impl Told {
    /// What has to be done since it was asked last.
    pub fn orders(&mut self, app: &mut App) -> Vec<Order> {
        self.layouts.resize(app.images().len(), None);
        let mut orders = Vec::new();
        for (sheet, told) in app.images().iter().zip(&mut self.layouts) {
            let now = sheet.layout().filter(|_| sheet.layout_is_modified());
            let is_same = match (&now, &told) {
                (Some(now), Some(told)) => Arc::ptr_eq(&now.text, told),
                (None, None) => true,
                _ => false,
            };
            if is_same {
                continue;
            }
            *told = now.map(|now| Arc::clone(&now.text));
            let (of, kind) = (sheet.file.origin.clone(), LAYOUT);
            // Once the image is saved elsewhere, what is known is what that file holds.
            let holds = if sheet.file.is_saved_elsewhere() { String::new() } else { holds(sheet) };
            orders.push(match now {
                Some(now) => {
                    let (about, work) = (recovery::about(now), Arc::clone(&now.text));
                    Order::Keep { of, holds, kind, about, work }
                }
                None => Order::Forget { of, kind },
            });
        }
        self.bytes.resize_with(app.images().len(), ToldBytes::default);
        for (sheet, told) in app.images_mut().iter_mut().zip(&mut self.bytes) {
            told.orders(sheet, &mut orders);
        }
        // Last: what was taken up is kept as work of this session before the note of the other one goes.
        orders.extend(app.left.decided().map(Order::Discard));
        orders
    }
}

/// What was told of the journal of one image.
#[derive(Debug, Default)]
struct ToldBytes {
    /// What the file was when it was asked last.
    identity: Option<Option<Identity>>,
    /// The file whose journal is begun.
    begun: Option<PathBuf>,
}

impl ToldBytes {
    /// What has to be done about the journal of an image since it was asked last.
    fn orders(&mut self, sheet: &mut Sheet, orders: &mut Vec<Order>) {
        let (was_saved, mut done) = sheet.contents.history.take_done();
        let is_other = self.identity.as_ref().is_some_and(|was| *was != sheet.file.identity);
        if self.identity.is_none() || is_other {
            self.identity = Some(sheet.file.identity.clone());
        }
        let is_unsaved = sheet.is_modified();
        if was_saved || is_other || !is_unsaved {
            orders.extend(self.begun.take().map(|of| Order::Forget { of, kind: BYTES }));
        }
        // What came from a stream has no file that could be opened again.
        let Some(identity) = sheet.file.identity.as_ref().filter(|_| is_unsaved) else { return };
        if is_other && !was_saved {
            // The changes were carried over to another version of the file; the journal begins anew on that one.
            let change = sheet.contents.differences().change(
                sheet.contents.before(),
                sheet.image(),
                "changes that were not saved",
            );
            done = vec![Done { turn: Turn::Made, change }];
        }
        if !done.is_empty() {
            self.begun = Some(sheet.file.path.clone());
            orders.push(Order::Add { of: sheet.file.path.clone(), about: identity.in_a_line(), done });
        }
    }
}

/// What the file of an image is, as its notes say it; nothing where there is no file.
pub(super) fn holds(sheet: &Sheet) -> String {
    sheet.file.identity.as_ref().map(Identity::in_a_line).unwrap_or_default()
}

/// Reads what other sessions left of the open images, and asks about it. From now on what is done is told, and other
/// editors know of this one.
pub fn look_for(app: &mut App, notes: &mut Unsaved) {
    app.images_mut().iter_mut().for_each(|sheet| sheet.contents.history.tell());
    for path in app.images().iter().map(|s| s.file.path.clone()).filter(|p| p.is_file()).collect::<Vec<_>>() {
        let others = notes.announce(&path);
        say_others(app, &path, &others);
    }
    recovery::look_for(app, notes);
    recovery::offer(app);
}

/// Says who else has a file open.
pub fn say_others(app: &mut App, path: &Path, others: &[String]) {
    if !others.is_empty() {
        let who = text::clean(&others.join("; and in ")).into_owned();
        app.say(Tone::Doubt, format!("{} is open elsewhere too: in {who}", text::path(path)));
    }
}

/// The thread that keeps notes.
pub struct Keeper {
    orders: Sender<Order>,
    thread: JoinHandle<()>,
}

impl Keeper {
    /// Begins; `tell` is told what the thread has to say.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn begin(mut notes: Unsaved, tell: impl Fn(News) + Send + 'static) -> std::io::Result<Keeper> {
        let (orders, received) = mpsc::channel();
        let thread = std::thread::Builder::new().name("keeper".into()).spawn(move || {
            let mut is_told = false;
            let mut failed = |error| {
                if !std::mem::replace(&mut is_told, true) {
                    tell(News::NotKept(error));
                }
            };
            // Since when something waits for the disk.
            let mut waits: Option<Instant> = None;
            loop {
                let order = match waits {
                    None => received.recv().map_err(|_| RecvTimeoutError::Disconnected),
                    Some(since) => received.recv_timeout(SYNC.saturating_sub(since.elapsed())),
                };
                let is_over = matches!(order, Err(RecvTimeoutError::Disconnected));
                if let Ok(order) = order {
                    match order {
                        Order::Keep { of, holds, kind, about, work } => {
                            notes
                                .keep(&of, &holds, kind, &about, work.as_bytes())
                                .unwrap_or_else(&mut failed);
                        }
                        Order::Add { of, about, done } => {
                            waits.get_or_insert_with(Instant::now);
                            match notes.add(&of, BYTES, &about, &done) {
                                Ok(true) => {
                                    let others = notes.others(&of);
                                    if !others.is_empty() {
                                        tell(News::Others(of, others));
                                    }
                                }
                                Ok(false) => {}
                                Err(error) => failed(error),
                            }
                        }
                        Order::Forget { of, kind } => notes.forget(&of, kind),
                        Order::Discard(note) => notes.discard(&note),
                    }
                }
                if waits.is_some_and(|since| is_over || since.elapsed() >= SYNC) {
                    waits = None;
                    notes.sync().unwrap_or_else(&mut failed);
                }
                if is_over {
                    break;
                }
            }
        })?;
        Ok(Keeper { orders, thread })
    }

    /// Has these done, in their order.
    pub fn take(&self, orders: Vec<Order>) {
        for order in orders {
            // The thread ends only with its keeper.
            let _ = self.orders.send(order);
        }
    }

    /// Waits until everything is done.
    pub fn end(self) {
        drop(self.orders);
        // A panic there was told already.
        let _ = self.thread.join();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::author::begin;
    use crate::image::{Format, Image};
    use crate::tui::theme::Look;

    fn app(images: usize) -> App {
        let sheet =
            |n: usize| Sheet::new(format!("unit{n}.bin").into(), Image::raw(vec![n as u8; 4]), Format::Raw);
        App::new(sheet(0), (1..images).map(sheet).collect(), (80, 24), Look::default())
    }

    #[test]
    fn each_step_is_kept_once_and_what_is_saved_or_taken_back_is_forgotten() {
        let mut app = app(1);
        let mut told = Told::default();
        assert_eq!(told.orders(&mut app), []);
        app.write_layout("began", &begin("board")).unwrap();
        let kept = |orders: &[Order]| match orders {
            [Order::Keep { work, about, .. }] => (work.to_string(), about.clone()),
            other => panic!("{other:?}"),
        };
        assert_eq!(kept(&told.orders(&mut app)), (begin("board"), "new unit0.ron".into()));
        assert_eq!(told.orders(&mut app), []);
        app.undo().unwrap();
        let forget = Order::Forget { of: "unit0.bin".into(), kind: LAYOUT };
        assert_eq!(told.orders(&mut app), std::slice::from_ref(&forget));
        app.redo().unwrap();
        assert_eq!(kept(&told.orders(&mut app)).0, begin("board"));
        app.it_mut().layout_given_up();
        assert_eq!(told.orders(&mut app), [forget]);
    }
}
