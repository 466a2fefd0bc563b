//! What other sessions left, offered and decided about.

use super::*;
use crate::author::begin;
use crate::image::{Format, Image};
use crate::store;
use crate::tui::keeping::{self, Order, Told};
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

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn notes(&self) -> Unsaved {
        Unsaved::within(self.folder.path().join("states"))
    }

    /// An editor on the file as it is now, what is left of earlier ones read.
    fn session(&self, notes: &mut Unsaved) -> Player {
        self.session_on("unit.bin", notes)
    }

    fn session_on(&self, name: &str, notes: &mut Unsaved) -> Player {
        let path = self.path(name);
        let opened = store::open(&path, &mut std::io::empty()).unwrap();
        let mut sheet = Sheet::new(path, opened.image, Format::Raw);
        sheet.file.known_as(opened.identity);
        let mut player = Player::new(App::new(sheet, Vec::new(), (80, 24), Look::default()));
        keeping::look_for(&mut player.app, notes);
        player
    }
}

/// Plays keys and keeps what they did, as the loop does.
fn play(player: &mut Player, told: &mut Told, notes: &mut Unsaved, keys: &str) {
    player.play(keys).unwrap();
    for order in told.orders(&mut player.app) {
        match order {
            Order::Keep { of, holds, kind, about, work } => {
                notes.keep(&of, &holds, kind, &about, work.as_bytes()).unwrap();
            }
            Order::Add { of, about, done } => drop(notes.add(&of, BYTES, &about, &done).unwrap()),
            Order::Forget { of, kind } => notes.forget(&of, kind),
            Order::Discard(note) => notes.discard(&note),
        }
    }
}

const EDITS: &str = "Ctrl-U \"AB\" Ctrl-G \"4\" Enter \"CDEF\" Ctrl-Z \"12\"";

fn killed(scene: &Scene, keys: &str) -> Vec<u8> {
    let mut notes = scene.notes();
    let mut player = scene.session(&mut notes);
    play(&mut player, &mut Told::default(), &mut notes, keys);
    player.app.it().image().bytes().to_vec()
}

#[test]
fn one_byte_that_differs_is_told_as_one() {
    let scene = Scene::new(&[0; 8]);
    killed(&scene, "Ctrl-U \"AB\"");
    let mut notes = scene.notes();
    let screen = scene.session(&mut notes).screen();
    assert!(screen.contains("1 byte that differs: 0x0000"), "{screen}");
}

#[test]
fn what_a_killed_session_left_is_offered_and_taken_up_with_its_steps() {
    let scene = Scene::new(&[0; 8]);
    let bytes = killed(&scene, EDITS);
    let mut notes = scene.notes();
    let mut player = scene.session(&mut notes);
    assert_eq!(player.app.it().image().bytes(), [0; 8], "nothing is made again unasked");
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
    assert_eq!(player.app.it().image().bytes(), bytes);
    assert!(player.app.it().is_modified());
    play(&mut player, &mut told, &mut notes, "Ctrl-U Ctrl-Z Ctrl-Z Ctrl-Z");
    assert_eq!(player.app.it().image().bytes(), [0; 8]);
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
    assert_eq!(player.app.it().image().bytes(), again);
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
    assert_eq!(player.app.it().image().bytes(), [0xAB, 0, 0, 0, 7, 0x12, 0, 0]);
    assert!(player.screen().contains("These do not fit"), "{}", player.screen());
    drop(notes);
    assert!(!scene.session(&mut scene.notes()).app.left.is_empty());
}

#[test]
fn what_the_file_already_holds_is_not_asked_about() {
    let scene = Scene::new(&[0; 8]);
    let bytes = killed(&scene, EDITS);
    std::fs::write(scene.folder.path().join("unit.bin"), bytes).unwrap();
    assert!(scene.session(&mut scene.notes()).app.dialog.is_none());
}

#[test]
fn after_the_file_was_taken_anew_the_journal_holds_the_changes_on_what_it_holds_now() {
    let scene = Scene::new(&[0; 8]);
    let mut notes = scene.notes();
    let mut player = scene.session(&mut notes);
    let mut told = Told::default();
    play(&mut player, &mut told, &mut notes, "Ctrl-U \"AB\" Ctrl-G \"4\" Enter \"CD\"");
    // Somebody else changes another byte, and one of ours.
    std::fs::write(scene.path("unit.bin"), [0, 0x77, 0, 0, 0x66, 0, 0, 0]).unwrap();
    player.app.it_mut().file.changed_on_disk = Some("has other contents".into());
    play(&mut player, &mut told, &mut notes, "Ctrl-K \"take-file\" Enter Esc");
    assert_eq!(player.app.it().image().bytes(), [0xAB, 0x77, 0, 0, 0x66, 0, 0, 0]);
    play(&mut player, &mut told, &mut notes, "Ctrl-G \"6\" Enter \"EF\"");
    let bytes = player.app.it().image().bytes().to_vec();
    drop((player, notes));

    let mut notes = scene.notes();
    let mut player = scene.session(&mut notes);
    assert!(player.screen().contains("The file holds what it held"), "{}", player.screen());
    assert!(player.screen().contains("2 bytes that differ: 0x0000, 0x0006"), "{}", player.screen());
    player.play("t").unwrap();
    assert_eq!(player.app.it().image().bytes(), bytes);
}

#[test]
fn changes_of_a_file_that_was_renamed_are_offered_with_what_it_holds_and_it_is_said() {
    let scene = Scene::new(&[0; 8]);
    let bytes = killed(&scene, EDITS);
    std::fs::rename(scene.path("unit.bin"), scene.path("renamed.bin")).unwrap();
    let mut notes = scene.notes();
    let mut player = scene.session_on("renamed.bin", &mut notes);
    let screen = said(&mut player);
    assert!(screen.contains("Changes of renamed.bin were not saved"), "{screen}");
    assert!(screen.contains("unit.bin, which is not there any more"), "{screen}");
    assert!(screen.contains("it was moved or renamed"), "{screen}");
    let mut told = Told::default();
    play(&mut player, &mut told, &mut notes, "t");
    assert_eq!(player.app.it().image().bytes(), bytes);
    // From now on they are this file's.
    drop((player, notes));
    let mut player = scene.session_on("renamed.bin", &mut scene.notes());
    let screen = said(&mut player);
    assert!(screen.contains("were not saved") && !screen.contains("not there any more"), "{screen}");
}

#[test]
fn changes_of_another_file_are_never_offered_as_if_they_fitted() {
    let scene = Scene::new(&[0; 8]);
    killed(&scene, EDITS);
    // Another image of the same size under another name: nothing.
    std::fs::write(scene.path("other.bin"), [9; 8]).unwrap();
    assert!(scene.session_on("other.bin", &mut scene.notes()).app.dialog.is_none());
    // Another image under the same name: told, and there is nothing to take up.
    std::fs::write(scene.path("unit.bin"), [9; 8]).unwrap();
    let mut notes = scene.notes();
    let mut player = scene.session(&mut notes);
    let screen = said(&mut player);
    assert!(screen.contains("none of them fits it") && !screen.contains("Take up"), "{screen}");
    play(&mut player, &mut Told::default(), &mut notes, "t Esc");
    assert_eq!(player.app.it().image().bytes(), [9; 8]);
    drop((player, notes));
    // When the file comes back, so do its changes.
    std::fs::write(scene.path("unit.bin"), [0; 8]).unwrap();
    assert!(scene.session(&mut scene.notes()).screen().contains("The file holds what it held"));
}

#[test]
fn work_on_a_layout_is_found_again_when_its_image_was_renamed_and_both_kinds_wait_in_one_queue() {
    let scene = Scene::new(&[0; 8]);
    let mut notes = scene.notes();
    let mut player = scene.session(&mut notes);
    player.app.write_layout("began", &begin("board")).unwrap();
    let mut told = Told::default();
    play(&mut player, &mut told, &mut notes, "Ctrl-U \"AB\"");
    drop((player, notes));
    std::fs::rename(scene.path("unit.bin"), scene.path("renamed.bin")).unwrap();
    let mut player = scene.session_on("renamed.bin", &mut scene.notes());
    let screen = said(&mut player);
    assert!(screen.contains("Work on the layout of renamed.bin was not saved"), "{screen}");
    assert!(screen.contains("which is not there any more"), "{screen}");
    player.play("l").unwrap();
    assert!(player.screen().contains("board"), "{}", player.screen());
    player.play("Esc Ctrl-K \"left-changes\" Enter t").unwrap();
    assert!(player.app.it().layout_is_modified());
    assert!(player.screen().contains("Changes of renamed.bin were not saved"), "{}", player.screen());
    player.play("t").unwrap();
    assert_eq!(player.app.it().image().bytes()[0], 0xAB);
}

/// The words on the screen, however they are set.
fn said(player: &mut Player) -> String {
    let screen = player.screen();
    screen.split_whitespace().filter(|word| *word != "\u{2502}").collect::<Vec<_>>().join(" ")
}

fn app(images: usize) -> App {
    let sheet =
        |n: usize| Sheet::new(format!("unit{n}.bin").into(), Image::raw(vec![n as u8; 4]), Format::Raw);
    App::new(sheet(0), (1..images).map(sheet).collect(), (80, 24), Look::default())
}

fn left(image: usize, text: &str) -> LeftWork {
    let written = "2026-01-02T03:04:05Z".to_owned();
    let draft = Draft::read("new unit0.ron".to_owned(), written, text.into()).unwrap();
    LeftWork { image, note: format!("note{image}").into(), of: None, work: Work::Layout(draft) }
}

fn reply(app: &mut App, key: char) {
    let Some(Dialog::Question(question)) = app.dialog.take() else { panic!("nothing is asked") };
    let reply = question.replies.iter().find(|r| r.key == key).unwrap();
    (reply.act)(app, &question.about);
}

#[test]
fn work_that_was_left_is_taken_up_as_a_step_and_asked_about_once_for_images_that_share_it() {
    let mut app = app(2);
    app.left.add([left(0, &begin("board")), left(1, &begin("board"))]);
    offer(&mut app);
    reply(&mut app, 't');
    assert!(app.dialog.is_none(), "the second is the same work");
    assert!(app.images().iter().all(|s| s.layout_is_modified()));
    let orders = Told::default().orders(&mut app);
    assert_eq!(orders.len(), 4, "{orders:?}");
    assert_eq!(orders[2..], [Order::Discard("note0".into()), Order::Discard("note1".into())]);
    app.undo().unwrap();
    assert!(app.images().iter().all(|s| s.layout().is_none()));
}

#[test]
fn work_that_is_not_wanted_is_discarded_and_work_that_cannot_be_read_stays() {
    let mut app = app(1);
    app.left.add([left(0, &begin("board")), left(0, "(layout")]);
    offer(&mut app);
    reply(&mut app, 'd');
    reply(&mut app, 't');
    assert!(app.it().layout().is_none() && app.left.is_empty());
    assert_eq!(Told::default().orders(&mut app), [Order::Discard("note0".into())]);
}
