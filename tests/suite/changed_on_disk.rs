//! A file that somebody else wrote to while it was open is never lost, and neither is what was typed.

use std::fs;
use std::path::PathBuf;

use readproof::tui::app::App;
use readproof::tui::player::Player;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;

use crate::support::Place;

/// A session on a file of zeros.
fn of_zeros(place: &Place) -> Player {
    let path = place.path("unit.bin");
    fs::write(&path, [0; 64]).unwrap();
    let opened = readproof::store::open(&path, &mut std::io::empty()).unwrap();
    let mut sheet = Sheet::new(path, opened.image, opened.format);
    sheet.file.known_as(opened.identity);
    Player::new(App::new(sheet, vec![], (80, 24), Look::default()))
}

/// An image whose first byte was typed over, saved, and then written to by somebody else; then the second is typed
/// over and saved again.
fn clash(place: &Place, theirs: &[u8]) -> (Player, PathBuf) {
    let mut player = of_zeros(place);
    player.play("Ctrl-U \"99\" Ctrl-S Enter").unwrap();
    let saved = place.path("unit-changed.bin");
    assert_eq!(fs::read(&saved).unwrap()[..2], [0x99, 0]);
    fs::write(&saved, theirs).unwrap();
    player.play("\"88\" Ctrl-S Enter").unwrap();
    assert_eq!(fs::read(&saved).unwrap(), theirs, "nothing is overwritten unasked");
    assert!(player.app.it().is_modified());
    let screen = player.screen();
    assert!(screen.contains("Somebody else wrote to it") && screen.contains("changed on disk"), "{screen}");
    (player, saved)
}

fn theirs() -> Vec<u8> {
    let mut theirs = vec![0; 64];
    (theirs[0], theirs[1], theirs[9]) = (0x99, 0x77, 0x66);
    theirs
}

#[test]
fn a_file_saved_in_another_format_is_taken_as_that_format() {
    let place = Place::empty();
    let mut player = of_zeros(&place);
    let saved = place.path("unit.hex");
    player.play(&format!("Ctrl-U \"99\" Ctrl-S Ctrl-U \"{}\" Enter", saved.display())).unwrap();
    let title = player.screen();
    assert!(title.lines().next().unwrap().contains("Intel HEX"), "{title}");
    // The same records in lower case, as another program would write them.
    let theirs = fs::read_to_string(&saved).unwrap().to_lowercase();
    fs::write(&saved, theirs).unwrap();
    player.app.it_mut().file.changed_on_disk = Some("has other contents".into());
    player.play("\"88\" Ctrl-K \"take-file\" Enter").unwrap();
    assert_eq!(player.app.it().image().bytes()[..3], [0x99, 0x88, 0]);
    assert_eq!(player.app.it().image().len(), 64);
}

#[test]
fn it_can_be_saved_elsewhere() {
    let place = Place::with_samples();
    let (mut player, saved) = clash(&place, &theirs());
    player.play("e Enter").unwrap();
    assert_eq!(fs::read(place.path("unit-changed-mine.bin")).unwrap()[..2], [0x99, 0x88]);
    assert_eq!(fs::read(saved).unwrap(), theirs());
    assert!(!player.app.it().is_modified() && !player.screen().contains("changed on disk"));
}

#[test]
fn what_the_file_holds_can_be_taken_with_our_changes_on_it_and_a_clash_is_told() {
    let place = Place::with_samples();
    let mut free = theirs();
    free[1] = 0;
    let (mut player, saved) = clash(&place, &free);
    player.play("t").unwrap();
    assert_eq!(player.app.it().image().bytes()[..10], [0x99, 0x88, 0, 0, 0, 0, 0, 0, 0, 0x66]);
    assert!(player.app.it().is_modified());
    player.play("Ctrl-S Enter").unwrap();
    assert_eq!(fs::read(&saved).unwrap()[..10], [0x99, 0x88, 0, 0, 0, 0, 0, 0, 0, 0x66]);

    let place = Place::with_samples();
    let (mut player, _) = clash(&place, &theirs());
    player.play("t").unwrap();
    assert_eq!(player.app.it().image().bytes()[..2], [0x99, 0x77]);
    let screen = player.screen();
    assert!(screen.contains("Both changed these bytes") && screen.contains("0x0001"), "{screen}");
    assert!(!player.app.it().is_modified(), "nothing of ours is left to be saved");
    player.play("Esc Ctrl-Z").unwrap();
    assert_eq!(player.app.it().image().bytes()[..2], [0x99, 0x88]);
    assert!(player.app.it().is_modified());
}

#[test]
fn a_file_of_another_size_is_taken_as_it_is_and_undo_brings_ours_back() {
    let place = Place::with_samples();
    let (mut player, _) = clash(&place, b"somebody else's");
    player.play("t").unwrap();
    assert_eq!(player.app.it().image().bytes(), b"somebody else's");
    player.play("Ctrl-Z").unwrap();
    assert_eq!((player.app.it().image().len(), player.app.it().image().bytes()[1]), (64, 0x88));
}

#[test]
fn ours_can_replace_it_and_a_copy_of_what_it_held_is_kept() {
    let place = Place::with_samples();
    let (player, saved) = {
        let (mut player, saved) = clash(&place, &theirs());
        player.play("r").unwrap();
        (player, saved)
    };
    assert_eq!(fs::read(&saved).unwrap()[..2], [0x99, 0x88]);
    assert_eq!(fs::read(place.path("unit-changed.bin.original")).unwrap(), theirs());
    assert!(!player.app.it().is_modified());
}

#[test]
fn a_file_that_is_gone_can_only_be_written_elsewhere() {
    let place = Place::with_samples();
    let (mut player, saved) = clash(&place, &theirs());
    fs::remove_file(&saved).unwrap();
    player.play("Esc Ctrl-S Ctrl-U").unwrap();
    player.play(&format!("\"{}\" Enter", saved.display())).unwrap();
    let screen = player.screen();
    assert!(screen.contains("is gone") && !screen.contains("Take"), "{screen}");
    player.play("e Enter").unwrap();
    assert_eq!(fs::read(place.path("unit-changed-mine.bin")).unwrap()[..2], [0x99, 0x88]);
}
