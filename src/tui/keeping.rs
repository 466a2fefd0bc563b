//! Work that is not saved, kept aside while it is done, and offered when its image is opened again.
//!
//! The loop asks [`Told::orders`] after every input what has to be kept or forgotten, and a thread does it, so that no
//! key waits for a disk. A kind of work is a word and a place in `Told` that remembers what was told last: steps of a
//! layout are here, changes of bytes in [`recovery`]; both go through the same thread and the same notes, see
//! [`crate::store::Unsaved`]. What was handed over outlives the process; at the latest [`SYNC`] later it outlives the
//! machine too.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::annotate::{InForce, Kept};
use super::app::App;
use super::dialog::{Dialog, Question, Reply};
use super::effect::Effect;
use super::recovery;
use super::theme::Tone;
use crate::author;
use crate::edit::Done;
use crate::error::Error;
use crate::report::text;
use crate::store::Unsaved;

/// Steps of a layout.
const LAYOUT: &str = "layout";

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

/// Work on a layout that another session left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftLayout {
    /// Index of the image.
    pub image: usize,
    /// The note that holds it.
    pub note: PathBuf,
    /// When it was written.
    pub written: String,
    /// Where the layout is kept.
    pub about: String,
    /// The text of the layout.
    pub text: String,
}

/// What the thread was told last of each image.
#[derive(Debug, Default)]
pub struct Told {
    layouts: Vec<Option<Arc<str>>>,
    bytes: Vec<recovery::Told>,
}

impl Told {
    /// What has to be done since it was asked last.
    pub fn orders(&mut self, app: &mut App) -> Vec<Order> {
        self.layouts.resize(app.images().len(), None);
        let mut orders = Vec::new();
        for (sheet, told) in app.images().iter().zip(&mut self.layouts) {
            let now = sheet.layout.as_ref().filter(|_| sheet.layout_is_modified());
            let is_same = match (&now, &told) {
                (Some(now), Some(told)) => Arc::ptr_eq(&now.text, told),
                (None, None) => true,
                _ => false,
            };
            if is_same {
                continue;
            }
            *told = now.map(|now| Arc::clone(&now.text));
            let (of, kind) = (sheet.origin.clone(), LAYOUT);
            orders.push(match now {
                Some(now) => Order::Keep { of, kind, about: about(now), work: Arc::clone(&now.text) },
                None => Order::Forget { of, kind },
            });
        }
        self.bytes.resize_with(app.images().len(), recovery::Told::default);
        for (sheet, told) in app.images_mut().iter_mut().zip(&mut self.bytes) {
            told.orders(sheet, &mut orders);
        }
        // Last: what was taken up is kept as work of this session before the note of the other one goes.
        orders.extend(app.decided.drain(..).map(Order::Discard));
        orders
    }
}

/// Where a layout is kept, in one line.
fn about(in_force: &InForce) -> String {
    let word = match in_force.kept {
        Kept::Shipped => "shipped",
        Kept::Nowhere => "new",
        Kept::File(_) | Kept::Ours(_) => "file",
    };
    format!("{word} {}", in_force.path.display())
}

/// Reads what other sessions left of the open images, and asks about it. From now on what is done is told, and other
/// editors know of this one.
pub fn look_for(app: &mut App, notes: &mut Unsaved) {
    app.images_mut().iter_mut().for_each(|sheet| sheet.history.tell());
    for path in app.images().iter().map(|s| s.path.clone()).filter(|p| p.is_file()).collect::<Vec<_>>() {
        let others = notes.announce(&path);
        say_others(app, &path, &others);
    }
    recovery::look_for(app, notes);
    for image in 0..app.images().len() {
        let Some(sheet) = app.images().get(image).filter(|s| s.origin.is_file()) else { continue };
        for left in notes.left(&sheet.origin, LAYOUT) {
            let Ok(text) = String::from_utf8(left.work) else { continue };
            let (note, written, about) = (left.note, left.written, left.about);
            app.left.push(LeftLayout { image, note, written, about, text });
        }
    }
    offer(app);
}

/// Says who else has a file open.
pub fn say_others(app: &mut App, path: &Path, others: &[String]) {
    if !others.is_empty() {
        let who = text::clean(&others.join("; and in ")).into_owned();
        app.say(Tone::Doubt, format!("{} is open elsewhere too: in {who}", text::path(path)));
    }
}

/// Asks about the first work that another session left: on a layout, then on bytes.
fn offer(app: &mut App) {
    // What is in force already needs no question: it was saved, or taken up in an image that shares it.
    let (same, left) = std::mem::take(&mut app.left).into_iter().partition(|left| {
        let sheet = app.images().get(left.image);
        sheet.and_then(|s| s.layout.as_ref()).is_some_and(|l| *l.text == *left.text)
    });
    app.left = left;
    let same: Vec<LeftLayout> = same;
    app.decided.extend(same.into_iter().map(|left| left.note));
    let Some(left) = app.left.first() else { return recovery::offer(app) };
    let Some(name) = app.images().get(left.image).map(|s| s.name()) else { return };
    let when = left.written.replace('T', " ").replace('Z', " UTC");
    let (_, path) = left.about.split_once(' ').unwrap_or(("", ""));
    let fields = text::count(author::fields(&left.text), "field");
    let path = text::path(Path::new(path));
    app.dialog = Some(Dialog::Question(Question {
        title: format!("Work on the layout of {name} was not saved"),
        remarks: vec![
            (Tone::Plain, format!("Its last step was on {when}: {fields} in all, for {path}.")),
            (
                Tone::Quiet,
                app.keys.fill(
                    "Take up puts it in force, to be looked at and saved; {undo} takes it away again. Esc asks the \
                     next time.",
                ),
            ),
        ],
        replies: WHAT,
        chosen: 0,
    }));
}

const WHAT: &[Reply] = &[
    Reply {
        key: 't',
        word: "Take up",
        act: |app| {
            if !app.left.is_empty() {
                let left = app.left.remove(0);
                take_up(app, left);
            }
            offer(app);
            Effect::None
        },
    },
    Reply {
        key: 'd',
        word: "Discard",
        act: |app| {
            if !app.left.is_empty() {
                let left = app.left.remove(0);
                app.decided.push(left.note);
                app.say(Tone::Plain, "The work that was not saved is gone");
            }
            offer(app);
            Effect::None
        },
    },
];

fn take_up(app: &mut App, left: LeftLayout) {
    app.turn_to(left.image);
    let (word, path) = left.about.split_once(' ').unwrap_or(("new", ""));
    let path = PathBuf::from(path);
    let kept = match (word, &app.it().layout) {
        // Work on the layout in force goes on with it.
        (_, Some(now)) if now.path == path => now.kept.clone(),
        ("shipped", _) => Kept::Shipped,
        // What the file was then is not known any more; it is replaced only when its name is typed.
        ("file", _) => Kept::File(None),
        _ => Kept::Nowhere,
    };
    match InForce::of_text(path, kept, &left.text) {
        Ok(after) => {
            app.take_up("took up the work that was not saved", after);
            app.decided.push(left.note);
            let told = app.keys.fill("Taken up; {save-layout} saves it, {undo} takes it away again");
            app.say(Tone::Good, told);
        }
        Err(_) => app.say(Tone::Bad, "The work that was not saved cannot be read; it stays where it is"),
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
                        Order::Keep { of, kind, about, work } => {
                            notes.keep(&of, kind, &about, work.as_bytes()).unwrap_or_else(&mut failed);
                        }
                        Order::Add { of, about, done } => {
                            waits.get_or_insert_with(Instant::now);
                            match notes.add(&of, recovery::BYTES, &about, &done) {
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
    use crate::tui::sheet::Sheet;
    use crate::tui::theme::Look;

    fn app(images: usize) -> App {
        let sheet =
            |n: usize| Sheet::new(format!("unit{n}.bin").into(), Image::raw(vec![n as u8; 4]), Format::Raw);
        App::new(sheet(0), (1..images).map(sheet).collect(), (80, 24), Look::default())
    }

    fn left(image: usize, text: &str) -> LeftLayout {
        let (note, written) = (PathBuf::from(format!("note{image}")), "2026-01-02T03:04:05Z".to_owned());
        LeftLayout { image, note, written, about: "new unit0.ron".to_owned(), text: text.to_owned() }
    }

    fn reply(app: &mut App, key: char) {
        let Some(Dialog::Question(question)) = app.dialog.take() else { panic!("nothing is asked") };
        let reply = *question.replies.iter().find(|r| r.key == key).unwrap();
        (reply.act)(app);
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
        app.layout_given_up();
        assert_eq!(told.orders(&mut app), [forget]);
    }

    #[test]
    fn work_that_was_left_is_taken_up_as_a_step_and_asked_about_once_for_images_that_share_it() {
        let mut app = app(2);
        app.left = vec![left(0, &begin("board")), left(1, &begin("board"))];
        offer(&mut app);
        reply(&mut app, 't');
        assert!(app.dialog.is_none(), "the second is the same work");
        assert!(app.images().iter().all(|s| s.layout_is_modified()));
        let orders = Told::default().orders(&mut app);
        assert_eq!(orders.len(), 4, "{orders:?}");
        assert_eq!(orders[2..], [Order::Discard("note0".into()), Order::Discard("note1".into())]);
        app.undo().unwrap();
        assert!(app.images().iter().all(|s| s.layout.is_none()));
    }

    #[test]
    fn work_that_is_not_wanted_is_discarded_and_work_that_cannot_be_read_stays() {
        let mut app = app(1);
        app.left = vec![left(0, &begin("board")), left(0, "(layout")];
        offer(&mut app);
        reply(&mut app, 'd');
        reply(&mut app, 't');
        assert!(app.it().layout.is_none() && app.left.is_empty());
        assert_eq!(Told::default().orders(&mut app), [Order::Discard("note0".into())]);
    }
}
