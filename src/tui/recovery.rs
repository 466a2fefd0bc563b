//! Changes of bytes that are not saved: kept in a journal while they are made, and offered when their file is opened
//! again.
//!
//! What is added to the journal is what [`History`](crate::edit::History) tells, and taking it up makes it again
//! through it, so that undo goes the same way back. Nothing is ever made again unasked.

use std::path::PathBuf;

use super::app::App;
use super::dialog::{Dialog, Page, Paragraph, Question, Reply};
use super::effect::Effect;
use super::keeping::Order;
use super::sheet::Sheet;
use super::theme::Tone;
use crate::compare::Differences;
use crate::edit::{self, Done, Edit, Joining, Refused, Turn};
use crate::report::text;
use crate::span::Span;
use crate::store::journal::{self, Step};
use crate::store::{Identity, Unsaved};

/// Changes of bytes.
pub(super) const BYTES: &str = "bytes";

/// Changes that another session left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftBytes {
    /// Index of the image.
    pub image: usize,
    /// The note that holds them.
    pub note: PathBuf,
    /// What was done.
    pub steps: Vec<Step>,
    /// The last one was not written to its end.
    pub is_torn: bool,
    /// The file is what it was when they were made.
    pub is_same: bool,
}

/// What was told of the journal of one image.
#[derive(Debug, Default)]
pub(super) struct Told {
    /// What the file was when it was asked last.
    identity: Option<Option<Identity>>,
    /// The file whose journal is begun.
    begun: Option<PathBuf>,
}

impl Told {
    /// What has to be done about the journal of an image since it was asked last.
    pub(super) fn orders(&mut self, sheet: &mut Sheet, orders: &mut Vec<Order>) {
        let (was_saved, mut done) = sheet.history.take_done();
        let is_other = self.identity.as_ref().is_some_and(|was| *was != sheet.identity);
        if self.identity.is_none() || is_other {
            self.identity = Some(sheet.identity.clone());
        }
        let is_unsaved = sheet.is_modified();
        if was_saved || is_other || !is_unsaved {
            orders.extend(self.begun.take().map(|of| Order::Forget { of, kind: BYTES }));
        }
        // What came from a stream has no file that could be opened again.
        let Some(identity) = sheet.identity.as_ref().filter(|_| is_unsaved) else { return };
        if is_other && !was_saved {
            // The changes were carried over to another version of the file; the journal begins anew on that one.
            let change =
                sheet.differences().change(&sheet.before, &sheet.image, "changes that were not saved");
            done = vec![Done { turn: Turn::Made, change }];
        }
        if !done.is_empty() {
            self.begun = Some(sheet.path.clone());
            orders.push(Order::Add { of: sheet.path.clone(), about: about(identity), done });
        }
    }
}

/// What a file is, in one line that is equal for the same file.
fn about(identity: &Identity) -> String {
    let which = match (&identity.sha256, identity.modified) {
        (Some(digest), _) => format!("sha256 {digest}"),
        (None, Some(time)) => format!("modified {time:?}"),
        (None, None) => String::new(),
    };
    format!("{} bytes, {which}", identity.bytes)
}

/// Reads what other sessions left of the bytes of the open images.
pub(super) fn look_for(app: &mut App, notes: &mut Unsaved) {
    for image in 0..app.images().len() {
        let Some(sheet) = app.images().get(image).filter(|s| s.path.is_file()) else { continue };
        let now = sheet.identity.as_ref().map(about);
        let (mut asked, mut decided) = (Vec::new(), Vec::new());
        for left in notes.left(&sheet.path, BYTES) {
            let read = journal::steps(&left.work);
            let is_same = now.as_ref() == Some(&left.about);
            let note = left.note;
            let left = LeftBytes { image, note, steps: read.steps, is_torn: read.torn > 0, is_same };
            // Stopped after it was saved and before the journal was forgotten, or nothing is left of it.
            if is_in_the_file(sheet, &left) || differing(sheet, &left).0.is_empty() && left.is_same {
                decided.push(left.note);
            } else {
                asked.push(left);
            }
        }
        app.left_bytes.extend(asked);
        app.decided.extend(decided);
    }
}

/// Whether the file holds what the changes led to: they can all be taken back from it.
fn is_in_the_file(sheet: &Sheet, left: &LeftBytes) -> bool {
    let mut image = sheet.image.clone();
    let mut back = left.steps.iter().rev();
    !left.is_same && back.all(|step| edit::apply(&mut image, &step.done.change.inverse()).is_ok())
}

/// How many steps of undo changes are.
fn count<'a>(steps: impl Iterator<Item = &'a Step>) -> usize {
    steps.filter(|step| step.done.turn != Turn::Joined).count()
}

/// Where the changes that fit make bytes differ, and how many of them fit.
fn differing(sheet: &Sheet, left: &LeftBytes) -> (Vec<Span>, usize) {
    let mut image = sheet.image.clone();
    let fits = |step: &&Step| edit::apply(&mut image, &step.done.change).is_ok();
    let fit: Vec<&Step> = left.steps.iter().filter(fits).collect();
    let touched = fit.iter().flat_map(|s| &s.done.change.edits).map(Edit::span).collect();
    let mut spans = Differences::within(&sheet.image, &image, touched).changed;
    if image.len() != sheet.image.len() {
        let (short, long) = (image.len().min(sheet.image.len()), image.len().max(sheet.image.len()));
        spans.push(Span::new(short, long));
    }
    (spans, count(fit.into_iter()))
}

/// Asks about the first changes that another session left, unless something else is asked.
pub fn offer(app: &mut App) {
    if app.dialog.is_some() {
        return;
    }
    let Some(left) = app.left_bytes.first() else { return };
    let Some(sheet) = app.images().get(left.image) else { return };
    let (spans, fit) = differing(sheet, left);
    let bytes = text::count(spans.iter().map(|s| s.len()).sum(), "byte");
    let many = text::count(count(left.steps.iter()), "change");
    let [first, last] =
        [left.steps.first(), left.steps.last()].map(|s| s.map(|s| time(s.at)).unwrap_or_default());
    let when = if first == last { last } else { format!("from {first} to {last}") };
    let mut remarks = vec![
        (Tone::Plain, format!("{many}, {when}")),
        (Tone::Plain, format!("{bytes} that differ: {}", places(sheet, &spans))),
        if left.is_same {
            (Tone::Good, "The file holds what it held when they were made.".into())
        } else {
            let told = format!("The file is another one than when they were made; {fit} of {many} fit it.");
            (Tone::Doubt, told)
        },
    ];
    if left.is_torn {
        remarks.push((Tone::Doubt, "A last change was not written to its end and is lost.".into()));
    }
    let told = "Take up makes them again, to be looked at and saved; {undo} takes them back one by one. Esc keeps \
                them for later.";
    remarks.push((Tone::Quiet, app.keys.fill(told)));
    let title = format!("Changes of {} were not saved", sheet.name());
    app.dialog = Some(Dialog::Question(Question { title, remarks, replies: WHAT, chosen: 0 }));
}

fn time(at: i64) -> String {
    let time = jiff::Timestamp::from_second(at).unwrap_or_default().to_string();
    time.replace('T', " ").replace('Z', " UTC")
}

/// The fields, or the addresses, of some bytes.
fn places(sheet: &Sheet, spans: &[Span]) -> String {
    const MOST: usize = 4;
    let mut names: Vec<String> = Vec::new();
    for span in spans.iter().take(64) {
        let leaf = sheet.leaves(Span::of(span.start, 1)).first().copied().flatten();
        let field = leaf.and_then(|index| sheet.decoded.fields.get(index));
        let name = field.map_or_else(|| text::address(sheet.image.address(span.start)), |f| f.path.clone());
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let more = names.len().saturating_sub(MOST);
    names.truncate(MOST);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", text::clean(&names.join(", ")))
}

const WHAT: &[Reply] = &[
    Reply {
        key: 'l',
        word: "Look",
        act: |app| {
            look(app);
            Effect::None
        },
    },
    Reply {
        key: 't',
        word: "Take up",
        act: |app| {
            if !app.left_bytes.is_empty() {
                let left = app.left_bytes.remove(0);
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
            if !app.left_bytes.is_empty() {
                app.decided.push(app.left_bytes.remove(0).note);
                app.say(Tone::Plain, "The changes that were not saved are gone");
            }
            offer(app);
            Effect::None
        },
    },
];

/// Shows each change on a page.
fn look(app: &mut App) {
    const MOST: usize = 500;
    let Some(left) = app.left_bytes.first() else { return };
    let Some(sheet) = app.images().get(left.image) else { return };
    let again = app.keys.fill("{left-changes} asks again what is to become of them.");
    let mut lines: Vec<Paragraph> = vec![(Tone::Quiet, String::new(), again)];
    for step in left.steps.iter().take(MOST) {
        let Done { turn, change } = &step.done;
        let back = if *turn == Turn::TakenBack { "taken back: " } else { "" };
        lines.push((Tone::Plain, String::new(), format!("{}  {back}{}", time(step.at), change.label)));
        for edit in &change.edits {
            let at = text::address(sheet.image.address(edit.at));
            let (before, after) = (text::hex_short(&edit.before, 16), text::hex_short(&edit.after, 16));
            lines.push((Tone::Quiet, "    ".to_owned(), format!("{at}  {before} -> {after}")));
        }
    }
    if left.steps.len() > MOST {
        lines.push((Tone::Quiet, String::new(), format!("and {} more", left.steps.len() - MOST)));
    }
    app.dialog = Some(Page::open(app, "Changes that were not saved", &lines));
}

fn take_up(app: &mut App, left: LeftBytes) {
    app.turn_to(left.image);
    let mut refused = Vec::new();
    let mut made = Vec::new();
    for step in &left.steps {
        match app.it_mut().repeat(&step.done) {
            Ok(()) => made.push(step),
            Err(why) => refused.push(format!("{}: {}", step.done.change.label, why.what)),
        }
    }
    app.it_mut().history.close();
    let made = text::count(count(made.into_iter()), "change");
    let told = app.keys.fill(&format!("Taken up: {made}; {{save}} saves, {{undo}} takes back"));
    app.say(Tone::Good, told);
    if refused.is_empty() {
        app.decided.push(left.note);
        return;
    }
    // Their note stays, and is offered the next time, because nothing else holds them.
    let mut lines: Vec<Paragraph> = vec![(
        Tone::Doubt,
        String::new(),
        "These do not fit what the file holds now. They are kept, and asked about the next time.".into(),
    )];
    lines.extend(refused.into_iter().map(|line| (Tone::Plain, String::new(), line)));
    app.dialog = Some(Page::open(app, "Not every change could be taken up", &lines));
}

impl Sheet {
    /// Makes again what was done in another session.
    fn repeat(&mut self, done: &Done) -> Result<(), Refused> {
        let edits = &done.change.edits;
        match done.turn {
            Turn::TakenBack if self.history.undoable().is_some_and(|c| c.inverse().edits == *edits) => {
                self.undo().map(drop)
            }
            Turn::MadeAgain if self.history.redoable().is_some_and(|c| c.edits == *edits) => {
                self.redo().map(drop)
            }
            Turn::Joined => self.apply(done.change.clone(), Joining::WithLast).map(drop),
            _ => self.apply(done.change.clone(), Joining::Separate).map(drop),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Format;
    use crate::store;
    use crate::tui::player::Player;
    use crate::tui::theme::Look;

    struct Scene {
        folder: tempfile::TempDir,
    }

    impl Scene {
        fn new(bytes: &[u8]) -> Scene {
            let folder = tempfile::tempdir().unwrap();
            std::fs::write(folder.path().join("unit.bin"), bytes).unwrap();
            Scene { folder }
        }

        fn notes(&self) -> Unsaved {
            Unsaved::within(self.folder.path().join("states"))
        }

        /// An editor on the file as it is now, what is left of earlier ones read.
        fn session(&self, notes: &mut Unsaved) -> Player {
            let path = self.folder.path().join("unit.bin");
            let opened = store::open(&path, &mut std::io::empty()).unwrap();
            let mut sheet = Sheet::new(path, opened.image, Format::Raw);
            sheet.identity = opened.identity;
            sheet.history.tell();
            let mut player = Player::new(App::new(sheet, Vec::new(), (80, 24), Look::default()));
            look_for(&mut player.app, notes);
            offer(&mut player.app);
            player
        }
    }

    /// Plays keys and keeps what they did, as the loop does.
    fn play(player: &mut Player, told: &mut Told, notes: &mut Unsaved, keys: &str) {
        player.play(keys).unwrap();
        let mut orders = Vec::new();
        told.orders(player.app.it_mut(), &mut orders);
        for order in orders {
            match order {
                Order::Add { of, about, done } => drop(notes.add(&of, BYTES, &about, &done).unwrap()),
                Order::Forget { of, kind } => notes.forget(&of, kind),
                other => panic!("{other:?}"),
            }
        }
        player.app.decided.drain(..).for_each(|note| notes.discard(&note));
    }

    const EDITS: &str = "Ctrl-U \"AB\" Ctrl-G \"4\" Enter \"CDEF\" Ctrl-Z \"12\"";

    fn killed(scene: &Scene, keys: &str) -> Vec<u8> {
        let mut notes = scene.notes();
        let mut player = scene.session(&mut notes);
        play(&mut player, &mut Told::default(), &mut notes, keys);
        player.app.it().image.bytes().to_vec()
    }

    #[test]
    fn what_a_killed_session_left_is_offered_and_taken_up_with_its_steps() {
        let scene = Scene::new(&[0; 8]);
        let bytes = killed(&scene, EDITS);
        let mut notes = scene.notes();
        let mut player = scene.session(&mut notes);
        assert_eq!(player.app.it().image.bytes(), [0; 8], "nothing is made again unasked");
        let screen = player.screen();
        assert!(screen.contains("Changes of unit.bin were not saved"), "{screen}");
        assert!(screen.contains("3 bytes that differ: 0x0000, 0x0004"), "{screen}");
        assert!(screen.contains("The file holds what it held"), "{screen}");
        player.play("l").unwrap();
        let screen = player.screen();
        assert!(screen.contains("taken back") && screen.contains("0x0004"), "{screen}");
        player.play("Esc Ctrl-K \"left-changes\" Enter").unwrap();
        let mut told = Told::default();
        play(&mut player, &mut told, &mut notes, "t");
        assert_eq!(player.app.it().image.bytes(), bytes);
        assert!(player.app.it().is_modified());
        play(&mut player, &mut told, &mut notes, "Ctrl-Z Ctrl-Z Ctrl-Z");
        assert_eq!(player.app.it().image.bytes(), [0; 8]);
        assert!(!player.app.it().is_modified());
        drop(notes);
        assert!(scene.session(&mut scene.notes()).app.dialog.is_none(), "it was decided about");
    }

    #[test]
    fn what_was_taken_up_and_not_saved_is_left_once_more() {
        let scene = Scene::new(&[0; 8]);
        let bytes = killed(&scene, EDITS);
        let again = killed(&scene, "t Ctrl-U Ctrl-G \"7\" Enter \"99\"");
        assert_eq!((&again[..7], again[7]), (&bytes[..7], 0x99));
        let mut player = scene.session(&mut scene.notes());
        player.play("t").unwrap();
        assert_eq!(player.app.it().image.bytes(), again);
    }

    #[test]
    fn nothing_is_left_of_what_was_saved_taken_back_or_given_up() {
        for keys in ["Ctrl-U \"AB\" Ctrl-Z", "Ctrl-U \"AB\" Ctrl-S Enter", "Ctrl-U \"AB\" Ctrl-Q d"] {
            let scene = Scene::new(&[0; 8]);
            killed(&scene, keys);
            assert!(scene.session(&mut scene.notes()).app.dialog.is_none(), "{keys}");
        }
        let scene = Scene::new(&[0; 8]);
        killed(&scene, EDITS);
        killed(&scene, "d");
        assert!(scene.session(&mut scene.notes()).app.dialog.is_none());
    }

    #[test]
    fn in_a_file_that_somebody_changed_only_what_fits_is_made_and_the_rest_is_kept() {
        let scene = Scene::new(&[0; 8]);
        killed(&scene, EDITS);
        std::fs::write(scene.folder.path().join("unit.bin"), [0, 0, 0, 0, 7, 0, 0, 0]).unwrap();
        let mut notes = scene.notes();
        let mut player = scene.session(&mut notes);
        assert!(player.screen().contains("The file is another one"), "{}", player.screen());
        play(&mut player, &mut Told::default(), &mut notes, "t");
        assert_eq!(player.app.it().image.bytes(), [0xAB, 0, 0, 0, 7, 0x12, 0, 0]);
        assert!(player.screen().contains("These do not fit"), "{}", player.screen());
        drop(notes);
        assert!(!scene.session(&mut scene.notes()).app.left_bytes.is_empty());
    }

    #[test]
    fn what_the_file_already_holds_is_not_asked_about() {
        let scene = Scene::new(&[0; 8]);
        let bytes = killed(&scene, EDITS);
        std::fs::write(scene.folder.path().join("unit.bin"), bytes).unwrap();
        assert!(scene.session(&mut scene.notes()).app.dialog.is_none());
    }

    #[test]
    fn the_same_file_is_known_again_also_when_it_is_too_large_to_be_read_for_it() {
        let time = std::time::SystemTime::UNIX_EPOCH;
        let large = Identity { bytes: 9, modified: Some(time), sha256: None };
        assert_eq!(about(&large), about(&large.clone()));
        let later = Some(time + std::time::Duration::from_nanos(1));
        assert_ne!(about(&large), about(&Identity { modified: later, ..large }));
    }
}
