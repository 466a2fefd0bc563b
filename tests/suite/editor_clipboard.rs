//! Copies are what the screen says; pastes are bytes, and say what of them was left out.

use readproof::tui::input::Input;
use readproof::tui::player::Player;
use readproof::tui::theme::Look;

use crate::support::{Place, player};

fn open(place: &Place, names: &[&str], keys: &str) -> Player {
    let mut player = player(place, names, (140, 45), Look::default());
    player.play(keys).unwrap();
    player.draw();
    player
}

fn notice(player: &Player) -> &str {
    player.app.notice.as_ref().map_or("", |n| n.text.as_str())
}

#[test]
fn in_each_pane_the_chosen_row_is_copied_as_it_is_shown() {
    let place = Place::with_samples();
    for (names, keys, copied) in [
        (&["unit7-read1.bin"][..], "Ctrl-G \"serial\" Enter", "22 07 14 03 12"),
        (&["unit7-read1.bin"], "Ctrl-G \"serial\" Enter Tab", "2207140312"),
        (&["unit7-broken-check.bin"], "Tab Tab", "8050"),
        (&["unit7-read1.bin"], "Ctrl-G \"100\" Enter Tab*3 Down*3", "20"),
        (&["unit7-part-off.bin"], "Ctrl-F \"FK-CR8-2047B\" Enter", "FK-CR8-2O47B"),
        (&["unit7-read1.bin", "unit7-returned.bin"], "t Ctrl-N Tab", "serial: 2207140312 → 2207140347"),
    ] {
        let mut player = open(&place, names, keys);
        player.play("Ctrl-C").unwrap();
        let screen = player.screen();
        assert_eq!(player.clipboard, [copied], "{keys}\n{screen}");
    }
    let mut player = open(&place, &["unit7-broken-check.bin"], "Tab*4");
    player.play("Ctrl-C").unwrap();
    let told = player.clipboard.concat();
    assert!(told.starts_with("settings: stored 8050, computed 7456") && told.contains("reseal"), "{told}");
}

#[test]
fn digits_text_value_and_address_are_copied_by_name() {
    let place = Place::with_samples();
    let mut player = open(&place, &["unit7-read1.bin"], "Ctrl-G \"part_number\" Enter");
    for (command, copied) in [
        ("copy-digits", "46 4B 2D 43 52 38 2D 32 30 34 37 42 20 20 20 20"),
        ("copy-text", "FK-CR8-2047B    "),
        ("copy-value", "FK-CR8-2047B"),
        ("copy-address", "0x0040..0x0050"),
    ] {
        player.play(&format!("Ctrl-K \"{command}\" Enter")).unwrap();
        assert_eq!(player.clipboard[0], copied, "{command}");
        assert!(notice(&player).contains("ent to terminal"), "{}", notice(&player));
    }
    player.play("Esc Ctrl-K \"copy-address\" Enter").unwrap();
    assert_eq!(player.clipboard[0], "0x0040");
}

#[test]
fn more_than_a_terminal_takes_is_kept_and_not_sent() {
    let image = readproof::image::Image::raw(vec![0x5A; 30_000]);
    let sheet = readproof::tui::sheet::Sheet::new("big.bin".into(), image, readproof::image::Format::Raw);
    let app = readproof::tui::app::App::new(sheet, vec![], (80, 24), Look::default());
    let mut player = Player::new(app);
    player.play("Ctrl-U Ctrl-A Ctrl-C").unwrap();
    assert_eq!(player.clipboard, [""; 0]);
    assert!(notice(&player).contains("30000 bytes kept for Ctrl-V"), "{}", notice(&player));
    player.play("Esc Ctrl-T Ctrl-A Ctrl-C").unwrap();
    assert_eq!(player.clipboard[0].len(), 30_000, "as text it is short enough");
}

#[test]
fn a_paste_says_what_of_it_was_left_out() {
    let place = Place::with_samples();
    let mut player = open(&place, &["unit7-read1.bin"], "Ctrl-U Ctrl-G \"70\" Enter");
    player.input(Input::Paste("0040: 11 22 33 44  .\"3D\n0044: 55 66\n".into()));
    assert_eq!(player.app.it().image().bytes()[0x70..0x77], [0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0xFF]);
    let told = notice(&player);
    assert!(told.contains("Pasted 6 bytes at 0x0070") && told.contains("left out: the addresses"), "{told}");
    player.play("Ctrl-Z").unwrap();
    assert_eq!(player.app.it().image().bytes()[0x70..0x76], [0xFF; 6], "one step");
    for odd in
        ["46 4", "hello", "0x46, 0x4B, 43", ":10010000214601360121470136007EFE09D2190140", "\u{1b}[31m46"]
    {
        player.input(Input::Paste(odd.into()));
        assert!(notice(&player).ends_with("nothing was changed"), "{odd:?}: {}", notice(&player));
        assert!(!notice(&player).contains('\u{1b}'));
    }
    player.input(Input::Paste("00 ".repeat((1 << 20) / 3 + 1)));
    assert!(notice(&player).contains("longer than 1 MiB"), "{}", notice(&player));
    assert!(!player.app.it().is_modified());
}

#[test]
fn a_paste_into_a_dialog_is_text_of_its_line_and_gives_no_command() {
    let place = Place::with_samples();
    let mut player = open(&place, &["unit7-read1.bin"], "Ctrl-F");
    player.input(Input::Paste("FK-CR8\n-2047B\r\n\u{1b}".into()));
    assert!(player.screen().contains("> FK-CR8 -2047B"), "{}", player.screen());
    assert!(player.screen().contains("lines were pasted as one"), "{}", player.screen());
    player.input(Input::Paste("x".repeat(5000)));
    assert!(player.screen().contains("A line takes at most 4096 bytes"), "{}", player.screen());
    player.play("Esc Ctrl-U \"1\" Ctrl-Q").unwrap();
    player.input(Input::Paste("d\n".into()));
    assert!(player.screen().contains("A paste answers no question"), "{}", player.screen());
    assert!(!player.is_over);
}
