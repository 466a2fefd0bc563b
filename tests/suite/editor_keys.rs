//! Keys do what the general conventions of desktop programs lead one to expect.
//!
//! An editing test is a triple: bytes with the cursor marked, keys, bytes with the cursor marked. Bytes are two
//! digits each; `[12]` is under the cursor, `[1|2]` has its first digit typed, `{12}` is under the cursor of the
//! text column, `<` and `>` stand around the selection.

use std::path::PathBuf;

use readproof::image::{Format, Image};
use readproof::span::{ByteOrder, Span};
use readproof::tui::app::App;
use readproof::tui::command;
use readproof::tui::dialog::Dialog;
use readproof::tui::input::{Code, Input, Key};
use readproof::tui::panes::Pane;
use readproof::tui::player::Player;
use readproof::tui::sheet::{Column, Sheet};
use readproof::tui::theme::Look;
use readproof::value::readings;

use crate::support::{Place, assert_same_text, package, player as sample_player, rewriting};

fn player(bytes: Vec<u8>) -> Player {
    let sheet = Sheet::new(PathBuf::from("no such folder/unit.bin"), Image::raw(bytes), Format::Raw);
    Player::new(App::new(sheet, vec![], (80, 24), Look::default()))
}

/// Reads the notation.
fn unlocked(marked: &str) -> Player {
    let (mut bytes, mut cursor, mut anchor, mut text, mut second) = (vec![], 0, None, false, false);
    for word in marked.split_whitespace() {
        let at = bytes.len();
        if word.contains('[') || word.contains('{') {
            cursor = at;
            text = word.contains('{');
            second = word.contains('|');
        } else if word.contains('<') || word.contains('>') {
            anchor = Some(at);
        }
        let digits: String = word.chars().filter(char::is_ascii_hexdigit).collect();
        bytes.push(u8::from_str_radix(&digits, 16).unwrap());
    }
    let mut player = player(bytes);
    let it = player.app.it_mut();
    it.locked = false;
    it.cursor.at = cursor;
    it.cursor.anchor = anchor;
    it.cursor.second_digit = second;
    it.cursor.column = if text { Column::Text } else { Column::Digits };
    player
}

/// Writes the notation.
fn marked(player: &Player) -> String {
    let it = player.app.it();
    let selected = it.cursor.anchor.map(|_| it.selection());
    let words = it.image().bytes().iter().enumerate().map(|(at, byte)| {
        let mut word = format!("{byte:02X}");
        if at == it.cursor.at {
            if it.cursor.second_digit {
                word.insert(1, '|');
            }
            word = match it.cursor.column {
                Column::Digits => format!("[{word}]"),
                Column::Text => format!("{{{word}}}"),
            };
        }
        if selected.is_some_and(|s| s.start == at) {
            word.insert(0, '<');
        }
        if selected.is_some_and(|s| s.end == at + 1) {
            word.push('>');
        }
        word
    });
    words.collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn check(before: &str, keys: &str, after: &str) {
    let mut player = unlocked(before);
    player.play(keys).unwrap();
    assert_eq!(marked(&player), after, "{before}  {keys}");
}

#[test]
fn digits_overwrite_and_never_insert() {
    check("[00] 11 22", "4", "[4|0] 11 22");
    check("[00] 11 22", "\"4b\"", "4B [11] 22");
    check("[00] 11 22", "\"4b4C4D\"", "4B 4C [4D]");
    check("[00] 11", "\"zzz\"", "[00] 11");
}

#[test]
fn the_second_digit_is_forgotten_when_the_cursor_moves() {
    check("[00] 11", "4 Left", "[40] 11");
    check("[00] 11", "4 Right", "40 [11]");
    check("[00] 11", "4 Esc 5", "[5|0] 11");
}

#[test]
fn characters_overwrite_in_the_text_column() {
    check("{00} 11 22", "\"FK\"", "46 4B {22}");
    check("[00] 11 22", "Ctrl-T \"a?\"", "61 3F {22}");
    check("{00} 11", "\"é\"", "{00} 11");
}

#[test]
fn the_last_byte_can_be_typed_over_and_nothing_grows() {
    check("00 [11]", "\"2233\"", "00 [33]");
    check("00 {11}", "\"AB\"", "00 {42}");
}

#[test]
fn a_byte_is_one_step_of_undo() {
    check("[00] 11", "\"4b4c\" Ctrl-Z", "4B [11]");
    check("[00] 11", "\"4b4c\" Ctrl-Z Ctrl-Z", "[00] 11");
    check("[00] 11", "\"4b4c\" Ctrl-Z Ctrl-Z Ctrl-Y Ctrl-Y", "4B [4C]");
    check("[00] 11", "4 Ctrl-Z", "[00] 11");
    check("[00] 11", "4 Esc b Ctrl-Z", "[40] 11");
    // A first digit that changes nothing, or something else done between two digits, joins nothing to an older step.
    check("[00] 00 00", "\"AB\" Right \"01\" Ctrl-Z", "AB 00 [00]");
    check("[00] 11", "A Ctrl-D Ctrl-U \"11\" Enter B Ctrl-Z", "[11] 11");
}

#[test]
fn arrows_home_and_end_move_as_everywhere() {
    check("[00] 11 22", "Right Right Right", "00 11 [22]");
    check("00 [11] 22", "Left Left", "[00] 11 22");
    check("00 [11] 22", "End", "00 11 [22]");
    check("00 [11] 22", "Ctrl-Home", "[00] 11 22");
    check("00 [11] 22", "Ctrl-End", "00 11 [22]");
    check("00 [11] 22", "Down Up", "00 [11] 22");
}

#[test]
fn shift_selects_and_a_plain_move_or_esc_drops_the_selection() {
    check("[00] 11 22", "Shift-Right", "<00 [11]> 22");
    check("[00] 11 22", "Shift-End", "<00 11 [22]>");
    check("00 11 [22]", "Shift-Left Shift-Left", "<[00] 11 22>");
    check("[00] 11 22", "Shift-Right Right", "00 11 [22]");
    check("[00] 11 22", "Shift-Right Esc", "00 [11] 22");
    check("[00] 11 22", "Ctrl-A", "<[00] 11 22>");
}

#[test]
fn copy_and_paste_move_bytes_as_one_step() {
    check("[01] 02 03 04 05", "Shift-Right Ctrl-C Right Right Ctrl-V", "01 02 03 01 [02]");
    check("[01] 02 03 04 05", "Shift-Right Ctrl-C Right Ctrl-V", "01 02 01 02 [05]");
    check("[01] 02 03 04 05", "Shift-Right Ctrl-C Right Ctrl-V Ctrl-Z", "01 02 [03] 04 05");
    check("[01] 02 03", "Ctrl-A Ctrl-C Right Ctrl-V", "01 [02] 03");
}

#[test]
fn copies_go_to_the_terminal_as_the_column_shows_them() {
    let mut player = unlocked("[46] 4B 00");
    player.play("Ctrl-A Ctrl-C").unwrap();
    assert_eq!(player.clipboard, ["46 4B 00"]);
    player.play("Ctrl-T Ctrl-C").unwrap();
    assert_eq!(player.clipboard, ["FK.", "46 4B 00"]);
}

#[test]
fn a_terminal_s_paste_is_data_and_one_step() {
    check("[00] 11 22 33", "Paste\"AA bb\"", "AA BB [22] 33");
    check("{00} 11 22 33", "Paste\"q:\"", "71 3A {22} 33");
    check("[00] 11 22 33", "Paste\"AA bb\" Ctrl-Z", "[00] 11 22 33");
    check("[00] 11 22 33", "Paste\"q:\"", "[00] 11 22 33");
    check("[00] 11", "Paste\"AA BB CC\"", "[00] 11");
    // A paste into a line of a dialog is text of that line.
    check("[00] 11", "Ctrl-G Paste\"1\" Enter", "00 [11]");
    check("[00] 11", "? Paste\"q\" Esc", "[00] 11");
}

#[test]
fn the_ends_of_pasted_lines_are_blanks_in_a_line_however_the_terminal_sends_them() {
    for end in ["\\u{a}", "\\u{d}", "\\u{d}\\u{a}"] {
        let mut player = player(vec![0; 16]);
        player.play(&format!("Ctrl-F Paste\"FK{end}CR8{end}\"")).unwrap();
        let Some(Dialog::Prompt(prompt)) = &player.app.dialog else { panic!("no line is open") };
        assert_eq!(prompt.answer(), "FK CR8", "{end}");
        assert!(player.screen().contains("2 lines were pasted as one"), "{}", player.screen());
    }
}

#[test]
fn a_paste_that_is_refused_moves_nothing_and_says_only_that() {
    let image = Image::with_gaps(0, vec![0; 8], vec![Span::new(2, 4)]);
    let mut player = Player::new(App::new(
        Sheet::new(PathBuf::from("no such folder/unit.hex"), image, Format::IntelHex),
        vec![],
        (80, 24),
        Look::default(),
    ));
    player.play("Ctrl-U Paste\"0000: 11 22 33\"").unwrap();
    assert_eq!((player.app.it().cursor.at, player.app.it().is_modified()), (0, false));
    let screen = player.screen();
    assert!(screen.contains("nothing was changed") && !screen.contains("left out"), "{screen}");
}

#[test]
fn a_copied_reading_keeps_the_bytes_it_was_read_from() {
    let mut player = player((1..=64).collect());
    player.app.panes.give_keys(Pane::Readings);
    let bytes: Vec<u8> = (1..=64).collect();
    for reading in readings(&bytes).iter().filter(|r| r.order != Some(ByteOrder::Little)) {
        player.app.last.copied.clear();
        player.play("Ctrl-C").unwrap();
        if reading.text.is_some() {
            assert_eq!(player.app.last.copied, bytes[..reading.bytes], "{}", reading.name);
        }
        player.play("Down").unwrap();
    }
}

#[test]
fn a_screenful_of_a_list_is_what_is_shown_of_it() {
    let place = Place::with_samples();
    let mut player = sample_player(&place, &["unit7-part-off.bin"], (80, 24), Look::default());
    player.play("Ctrl-F \"0xFF\" Enter PgDn").unwrap();
    let rows = player.app.it().found.rows;
    player.draw();
    let shown = rows.at;
    assert!(rows.len > 100 && (1..8).contains(&shown), "{rows:?}");
}

#[test]
fn what_is_found_more_often_than_is_listed_is_told_as_more() {
    for (bytes, keys, told) in [
        (vec![0xFF; 500], "0xFF", "found 500 times"),
        (vec![0xFF; 501], "0xFF", "found more than 500 times"),
        (b"FK-CR8-2047B....".repeat(50), "FK-CR8-2047B", "found 50 times"),
        (b"FK-CR8-2047B....".repeat(51), "FK-CR8-2047B", "found more than 50 times"),
    ] {
        let mut player = player(bytes);
        player.play(&format!("Ctrl-F \"{keys}\" Enter")).unwrap();
        let screen = player.screen();
        assert!(screen.contains(told), "{told}\n{screen}");
    }
}

#[test]
fn a_terminal_that_is_too_small_is_left_only_when_nothing_is_lost_whatever_is_open() {
    for (before, leaves) in [("", true), ("Ctrl-G", true), ("Ctrl-U 4", false)] {
        let mut player = player(vec![0; 16]);
        player.play(&format!("{before} Size(20,5) Ctrl-Q")).unwrap();
        assert_eq!(player.is_over, leaves, "{before}");
    }
    let mut unseen = player(vec![0; 16]);
    unseen.play("Ctrl-U Size(20,5) 4 Paste\"AA\"").unwrap();
    assert!(!unseen.app.it().is_modified(), "nothing is changed unseen");
    let mut player = player(vec![0; 16]);
    player.app.it_mut().contents.is_being_saved = true;
    player.play("Size(20,5) Ctrl-Q").unwrap();
    assert!(!player.is_over, "the file is being written");
}

#[test]
fn a_pane_that_has_nothing_to_show_any_more_has_no_keys_and_no_place() {
    let mut player = player((0..64).chain(0..64).collect());
    player.play("Ctrl-F \"0x0102\" Enter").unwrap();
    assert_eq!((player.app.panes.focus(), player.app.panes.beside()), (Pane::Found, Pane::Found));
    player.play("Ctrl-F \"0x7777\" Enter").unwrap();
    assert_eq!((player.app.panes.focus(), player.app.panes.beside()), (Pane::Bytes, Pane::Fields));
    player.play("v").unwrap();
    assert_eq!(player.app.panes.focus(), Pane::Proposed);
    player.play("Ctrl-K \"resize 64\" Enter").unwrap();
    assert_eq!(player.app.panes.focus(), Pane::Proposed, "LOCKED");
    player.play("Ctrl-U Ctrl-K \"resize 64\" Enter Enter").unwrap();
    assert_eq!((player.app.panes.focus(), player.app.panes.beside()), (Pane::Bytes, Pane::Fields));
}

#[test]
fn fill_repeats_a_pattern_over_the_selection() {
    check("[00] 11 22 33", "Shift-End Ctrl-D Ctrl-U \"A55A\" Enter", "<A5 5A A5 [5A]>");
    check("[00] 11", "Ctrl-D Enter", "[FF] 11");
    check("[00] 11", "Ctrl-D Esc", "[00] 11");
    check("[00] 11", "Ctrl-D Ctrl-U \"5\" Enter Esc", "[00] 11");
}

#[test]
fn resize_cuts_or_lengthens_and_can_be_undone() {
    check("[00] 11", "Ctrl-K \"resize 4\" Enter Enter", "[00] 11 FF FF");
    check("[00] 11 22", "Ctrl-K \"resize 2\" Enter Enter", "[00] 11");
    check("00 11 [22]", "Ctrl-K \"resize 2\" Enter Enter", "00 [11]");
    check("[00] 11 22", "Ctrl-K \"resize 1\" Enter Enter Ctrl-Z", "00 [11] 22");
    check("[00] 11", "Ctrl-K \"resize 0\" Enter Enter Esc", "[00] 11");
}

#[test]
fn go_to_takes_addresses_and_ranges() {
    check("[00] 11 22 33", "Ctrl-G \"2\" Enter", "00 11 [22] 33");
    check("[00] 11 22 33", "Ctrl-G \"0x3\" Enter", "00 11 22 [33]");
    check("[00] 11 22 33", "Ctrl-G \"1..3\" Enter", "00 <[11] 22> 33");
    check("[00] 11 22 33", "Ctrl-G \"1+3\" Enter", "00 <[11] 22 33>");
    check("[00] 11 22 33", "Ctrl-G \"99\" Enter Esc", "[00] 11 22 33");
}

#[test]
fn a_locked_image_is_changed_by_nothing() {
    let mut player = player(vec![0, 1, 2, 3]);
    let keys = "\"4b\" Ctrl-T \"xyz\" Ctrl-D Enter Ctrl-C Ctrl-V Paste\"AA\" Ctrl-K \"resize 2\" Enter Enter";
    player.play(keys).unwrap();
    assert_eq!(player.app.it().image().bytes(), [0, 1, 2, 3]);
    player.play("4").unwrap();
    assert!(player.screen().contains("LOCKED"), "{}", player.screen());
}

#[test]
fn esc_only_ever_cancels() {
    let mut player = player(vec![0; 64]);
    player.play("Esc Esc Esc Ctrl-G Esc Ctrl-K Esc ? Esc Esc Esc").unwrap();
    assert!(!player.is_over);
    assert!(player.app.dialog.is_none());
}

#[test]
fn ctrl_c_never_ends_anything() {
    let mut player = player(vec![0; 64]);
    player.play("Ctrl-C Ctrl-C Ctrl-C").unwrap();
    assert!(!player.is_over);
}

#[test]
fn quit_asks_only_when_something_is_not_saved_and_enter_is_safe() {
    let mut clean = unlocked("[00] 11");
    clean.play("Ctrl-Q").unwrap();
    assert!(clean.is_over);

    let dirty = || {
        let mut player = unlocked("[00] 11");
        player.play("\"4b\" Ctrl-Q").unwrap();
        assert!(!player.is_over && player.screen().contains("not saved"), "{}", player.screen());
        player
    };
    for (keys, over) in [("Esc", false), ("c", false), ("Ctrl-C", false), ("d", true), ("Right Enter", true)]
    {
        let mut player = dirty();
        player.play(keys).unwrap();
        assert_eq!(player.is_over, over, "{keys}");
    }
    // Enter saves: it asks for a name and loses nothing.
    let mut player = dirty();
    player.play("Enter").unwrap();
    assert!(!player.is_over && player.screen().contains("Save as"), "{}", player.screen());

    let mut undone = unlocked("[00] 11");
    undone.play("\"4b\" Ctrl-Z Ctrl-Q").unwrap();
    assert!(undone.is_over, "undone to the last byte is as saved");
}

#[test]
fn the_mouse_places_selects_and_scrolls_and_absurd_places_do_nothing() {
    let mut player = player((0..=255).collect());
    let row = player.screen().lines().position(|l| l.contains(" 0010 ")).unwrap();
    player.play(&format!("Click(7,{row})")).unwrap();
    assert_eq!(player.app.it().cursor.at, 0x10);
    player.play(&format!("Drag(14,{row})")).unwrap();
    assert_eq!(player.app.it().selection().range(), 0x10..0x13);
    player.play("WheelDown(9,9)").unwrap();
    let at = player.app.it().cursor.at;
    player.play("Click(0,0) Click(9999,9999) Drag(65535,65535) WheelUp(65535,0)").unwrap();
    assert_eq!(player.app.it().cursor.at, at);
    player.play("Size(0,0) Click(0,0) Size(1,1) Click(0,0) Size(80,24)").unwrap();
}

#[test]
fn a_click_chooses_a_row_and_a_second_one_does_what_enter_does() {
    let place = Place::with_samples();
    let mut player = crate::support::player(&place, &["unit7-broken-check.bin"], (80, 24), Look::default());
    // Fields: the row, its sign, its value.
    player.play("Tab Ctrl-Home").unwrap();
    let row = spot(&mut player, "part_number");
    player.play(&format!("Click{row}")).unwrap();
    assert_eq!((player.app.panes.focus(), player.app.it().cursor.at), (Pane::Fields, 0x40));
    player.play(&format!("Ctrl-U Click{row}")).unwrap();
    assert!(player.screen().contains("New value"), "{}", player.screen());
    player.play("Esc Ctrl-G \"settings\" Enter").unwrap();
    let sign = spot(&mut player, "▾ settings");
    player.play(&format!("Click{sign}")).unwrap();
    assert!(player.screen().contains("▸ settings"), "one click on the sign is enough\n{}", player.screen());
    // Checks and Findings: the second click selects the bytes.
    player.play("Tab Home").unwrap();
    let row = spot(&mut player, "settings  broken");
    player.play(&format!("Click{row}")).unwrap();
    assert_eq!(player.app.panes.focus(), Pane::Checks);
    player.play(&format!("Click{row}")).unwrap();
    assert_eq!((player.app.panes.focus(), player.app.it().cursor.at), (Pane::Bytes, 0x1FE));
    player.play("Home Tab*4").unwrap();
    let row = spot(&mut player, "fault");
    player.play(&format!("Click{row}")).unwrap();
    assert_eq!((player.app.panes.focus(), player.app.it().cursor.at), (Pane::Bytes, 0x1FE));
}

#[test]
fn the_wheel_scrolls_what_it_is_over_and_the_cursor_stays_while_it_is_shown() {
    let place = Place::with_samples();
    let mut player = crate::support::player(&place, &["unit7-read1.bin"], (80, 24), Look::default());
    player.play("Ctrl-G \"40\" Enter WheelDown(9,9)").unwrap();
    let screen = player.screen();
    assert!(!screen.contains(" 0020 ") && screen.contains(" 0030 "), "{screen}");
    assert_eq!(player.app.it().cursor.at, 0x40);
    player.play("WheelDown(9,9)").unwrap();
    assert_eq!(player.app.it().cursor.at, 0x60, "the first row that is shown");
    player.play("WheelUp(9,9) WheelUp(9,9)").unwrap();
    assert!(player.screen().contains(" 0000 "));
    // Another pane scrolls by itself, and the keys stay where they were.
    player.play("WheelDown(9,16) WheelDown(9,16)").unwrap();
    let screen = player.screen();
    assert!(screen.contains(" 0000 ") && !screen.contains("part_number   "), "{screen}");
    assert_eq!(player.app.panes.focus(), Pane::Bytes);
}

#[test]
fn a_part_of_a_name_leads_to_the_first_field_that_has_it() {
    let place = Place::with_samples();
    let mut player = crate::support::player(&place, &["unit7-read1.bin"], (80, 24), Look::default());
    player.play("Ctrl-G \"setp\"").unwrap();
    assert!(player.screen().contains("Enter goes to settings.setpoint"), "{}", player.screen());
    player.play("Enter").unwrap();
    assert_eq!(player.app.it().selection().range(), 0x100..0x102);
    player.play("Ctrl-G \"no such thing\" Enter").unwrap();
    assert!(player.screen().contains("is no address, range or field"), "{}", player.screen());
}

#[test]
fn a_click_on_a_hint_gives_its_command() {
    let place = Place::with_samples();
    let mut player = crate::support::player(&place, &["unit7-read1.bin"], (80, 24), Look::default());
    let hint = spot(&mut player, "Ctrl-U unlock");
    player.play(&format!("Click{hint}")).unwrap();
    assert!(!player.app.it().locked);
    let hint = spot(&mut player, "? help");
    player.play(&format!("Click{hint}")).unwrap();
    assert!(player.screen().contains("Here, in Bytes"));
    let hint = spot(&mut player, "Esc close");
    player.play(&format!("Click{hint}")).unwrap();
    assert!(player.app.dialog.is_none());
}

#[test]
fn the_command_line_runs_what_is_marked_and_nothing_else() {
    let open = |keys: &str| {
        let mut player = player((0..=255).collect());
        player.play(keys).unwrap();
        player
    };
    for keys in ["Ctrl-K Enter", "Ctrl-K \"zzz\" Enter", "Ctrl-K \"unlock now\" Enter"] {
        let player = open(keys);
        assert!(player.app.dialog.is_some() && player.app.it().locked, "{keys}");
    }
    assert!(open("Ctrl-K \"unlock now\"").screen().contains("unlock takes nothing"));
    assert!(!open("Ctrl-K \"unl\" Enter").app.it().locked, "the beginning of a name marks it");
    assert_eq!(open("Ctrl-K \"go-to 20\" Enter").app.it().cursor.at, 0x20);
    assert_eq!(open("Ctrl-K \"go\" Tab \"20\" Enter").app.it().cursor.at, 0x20, "completed, then typed on");
    assert_eq!(open("Ctrl-K \"last\" Down Up Enter").app.it().cursor.at, 0xFF, "an exact name comes first");
    // A few words of what a command does lead to it, and are no argument.
    assert!(!open("Ctrl-K \"allow this\" Enter").app.it().locked);
}

#[test]
fn help_in_a_dialog_is_about_it_and_leads_back_to_it() {
    let mut player = player((0..=255).collect());
    player.play("Ctrl-G \"20\" F1").unwrap();
    assert!(player.screen().contains("Here, in a line"), "{}", player.screen());
    player.play("\"empty\"").unwrap();
    let screen = player.screen();
    assert!(screen.contains("Empty the line") && !screen.contains("rub-out"), "{screen}");
    player.play("Esc Enter").unwrap();
    assert_eq!(player.app.it().cursor.at, 0x20, "what was typed is still there");
    player.play("? \"no such thing\"").unwrap();
    assert!(player.screen().contains("Nothing here holds that"), "{}", player.screen());
}

/// Where a text stands on the screen, as a script names it: column and row.
fn spot(player: &mut Player, text: &str) -> String {
    let screen = player.screen();
    let found = screen.lines().enumerate().find_map(|(row, line)| Some((line.find(text)?, row, line)));
    let (at, row, line) = found.unwrap_or_else(|| panic!("{text:?} is not on the screen\n{screen}"));
    format!("({},{row})", line[..at].chars().count())
}

#[test]
fn in_dialogs_a_click_marks_and_takes_what_was_marked_and_the_wheel_goes_through_what_there_is() {
    let mut player = player((0..=255).collect());
    player.play("Ctrl-K \"select\"").unwrap();
    let row = spot(&mut player, "select-all");
    player.play(&format!("Click{row}")).unwrap();
    assert!(player.screen().contains("Enter runs select-all"), "{}", player.screen());
    player.play(&format!("Click{row}")).unwrap();
    assert!(player.app.dialog.is_none());
    assert_eq!(player.app.it().selection().range(), 0..256);
    // The wheel, over choices and over a page.
    player.play("Ctrl-K WheelDown(9,9) WheelDown(9,9) WheelUp(9,9)").unwrap();
    assert!(player.screen().contains("Enter runs layout"), "{}", player.screen());
    player.play("Esc ? WheelDown(9,9)").unwrap();
    assert!(player.screen().contains("4–"), "{}", player.screen());
    // A question: the first click marks another answer, only the second gives it.
    player.play("Esc Esc Ctrl-U \"11\" Ctrl-Q").unwrap();
    let reply = spot(&mut player, "Discard");
    player.play(&format!("Click{reply}")).unwrap();
    assert!(!player.is_over);
    player.play("Click(0,0) Drag(3,3) Click(79,23)").unwrap();
    assert!(player.app.dialog.is_some(), "a click beside it does nothing");
    player.play(&format!("Click{reply}")).unwrap();
    assert!(player.is_over);
}

/// Two images side by side, the first worked on; both unlocked.
fn twin(left: &[u8], right: &[u8]) -> Player {
    let sheet = |bytes: &[u8]| {
        let mut sheet =
            Sheet::new(PathBuf::from("no such folder/u.bin"), Image::raw(bytes.to_vec()), Format::Raw);
        sheet.locked = false;
        sheet
    };
    let mut player = Player::new(App::new(sheet(left), vec![sheet(right)], (80, 24), Look::default()));
    player.play("t").unwrap();
    player
}

fn bytes_of(player: &Player, image: usize) -> Vec<u8> {
    player.app.images()[image].image().bytes().to_vec()
}

#[test]
fn side_by_side_the_cursors_move_together_from_difference_to_difference() {
    let mut right = vec![0; 64];
    (right[5], right[6], right[40]) = (1, 2, 3);
    let mut player = twin(&[0; 64], &right);
    player.play("Ctrl-N").unwrap();
    let places = |p: &Player| p.app.images().iter().map(|i| i.cursor.at).collect::<Vec<_>>();
    assert_eq!(places(&player), [5, 5]);
    player.play("Ctrl-N").unwrap();
    assert_eq!(places(&player), [40, 40]);
    player.play("Ctrl-N").unwrap();
    assert_eq!(places(&player), [5, 5], "round and round");
    player.play("Ctrl-P Right").unwrap();
    assert_eq!(places(&player), [41, 41]);
    player.play("o Down Left").unwrap();
    assert_eq!(places(&player), [48, 48], "the other side leads now");
}

#[test]
fn a_difference_copied_across_is_one_step_of_undo_over_there() {
    let mut right = vec![0; 64];
    (right[5], right[6], right[40]) = (1, 2, 3);
    let mut player = twin(&[0; 64], &right);
    player.play("Ctrl-N Ctrl-X").unwrap();
    assert_eq!(bytes_of(&player, 1)[5..7], [0, 0]);
    assert_eq!(bytes_of(&player, 1)[40], 3, "only the difference under the cursor");
    assert_eq!(bytes_of(&player, 0), [0; 64]);
    player.play("Ctrl-Z").unwrap();
    assert_eq!(bytes_of(&player, 1), right);
}

#[test]
fn nothing_is_copied_across_to_a_locked_image() {
    let mut right = vec![0; 64];
    right[5] = 1;
    let mut player = twin(&[0; 64], &right);
    player.app.images_mut()[1].locked = true;
    player.play("Ctrl-N Ctrl-X").unwrap();
    assert_eq!(bytes_of(&player, 1), right);
    assert!(player.screen().contains("LOCKED: give it the keys with o"), "{}", player.screen());
}

#[test]
fn no_key_changes_a_locked_image_nor_do_undo_and_redo() {
    let mut player = player((0..16).collect());
    player.play("Ctrl-U \"AB\" Ctrl-U Ctrl-Z").unwrap();
    assert_eq!(player.app.it().image().bytes()[0], 0xAB);
    assert!(player.screen().contains("LOCKED: press Ctrl-U"), "{}", player.screen());
    player.play("Ctrl-U Ctrl-Z Ctrl-U Ctrl-Y").unwrap();
    assert_eq!(player.app.it().image().bytes()[0], 0);
    player.play("Ctrl-U Ctrl-Y").unwrap();
    assert_eq!(player.app.it().image().bytes()[0], 0xAB);
    // A step of the layout leaves the bytes alone.
    let mut player = twin(&[1; 16], &[2; 16]);
    player.play("t Ctrl-G \"0+2\" Enter i Enter Ctrl-U Ctrl-Z").unwrap();
    assert!(player.app.it().locked && player.app.it().layout().is_none(), "{}", player.screen());
}

#[test]
fn what_lies_in_a_field_with_a_caution_is_not_returned_to_rest_by_one_key() {
    let place = Place::with_samples();
    let mut player = sample_player(&place, &["unit7-read1.bin"], (80, 24), Look::default());
    player.play("Ctrl-U Ctrl-G \"lockouts[1]\" Enter").unwrap();
    let before = player.app.it().image().bytes().to_vec();
    let _ = command::by_name("to-rest").unwrap().run(&mut player.app, "lockouts[1].cause");
    let screen = player.screen();
    assert!(screen.contains("Return lockouts[1].cause to rest?") && screen.contains("Caution:"), "{screen}");
    player.play("Enter").unwrap();
    assert_eq!(player.app.it().image().bytes(), before, "Enter is safe");
}

#[test]
fn side_by_side_commands_on_a_row_mean_the_row_that_is_shown() {
    let place = Place::with_samples();
    let names = ["unit7-read1.bin", "unit7-returned.bin"];
    let mut player = sample_player(&place, &names, (140, 45), Look::default());
    // The lockouts are folded in the list of one image; side by side, each of their fields has a row.
    player.play("Ctrl-U t Tab").unwrap();
    let twin = player.app.twin.as_ref().unwrap();
    let row = twin.compared.comparison.fields.iter().position(|f| f.path == "lockouts[1].cause").unwrap();
    player.play(&format!("Down*{row} Delete")).unwrap();
    assert!(player.screen().contains("Return lockouts[1].cause to rest?"), "{}", player.screen());
    player.play("Esc").unwrap();
    player.app.panes.give_keys(Pane::Checks);
    player.play("Down Space").unwrap();
    assert_eq!(player.app.it().described.checks.at, 0, "the row of the list of one image");
    assert_eq!(player.app.notice.as_ref().unwrap().text, "It is sealed already");
    player.play("s").unwrap();
    let stored = player.app.it().decoded().checks[1].placed.as_ref().unwrap().stored_at;
    assert_eq!(player.app.it().selection(), stored);
}

#[test]
fn lined_up_contents_that_moved_stand_beside_each_other() {
    let left: Vec<u8> = (0..=255).collect();
    let mut right = left.clone();
    right.splice(100..100, [0xAA, 0xBB, 0xCC]);
    let mut player = twin(&left, &right);
    player.play("l Ctrl-G \"C0\" Enter").unwrap();
    let places: Vec<usize> = player.app.images().iter().map(|i| i.cursor.at).collect();
    assert_eq!(places, [0xC0, 0xC3]);
    player.play("Ctrl-N").unwrap();
    assert_eq!(player.app.current(), 1, "only the right image has the inserted bytes");
    assert_eq!(player.app.it().selection().range(), 100..103);
    player.play("Up Up Down Down Ctrl-X").unwrap();
    assert_eq!(bytes_of(&player, 0), left, "images do not grow inside");
}

#[test]
fn the_filter_for_differences_leaves_the_rest_out_and_up_and_down_go_by_what_is_shown() {
    let mut right = vec![0; 256];
    (right[0x11], right[0x81]) = (1, 3);
    let mut player = twin(&[0; 256], &right);
    player.play("n Ctrl-N Down").unwrap();
    assert_eq!(player.app.it().cursor.at, 0x81);
    let screen = player.screen();
    assert!(screen.contains("0010") && !screen.contains("0018") && screen.contains("0080"), "{screen}");
    player.play("Up").unwrap();
    assert_eq!(player.app.it().cursor.at, 0x11);
}

#[test]
fn images_of_different_length_stand_side_by_side_without_panic() {
    for (a, b) in [(1, 300), (300, 1), (64, 65)] {
        let mut player = twin(&vec![1; a], &vec![2; b]);
        for keys in [
            "Ctrl-End",
            "o",
            "Ctrl-End",
            "l",
            "Ctrl-Home",
            "n",
            "PgDn",
            "PgUp",
            "Ctrl-N",
            "Ctrl-P",
            "Ctrl-X",
            "Tab Down",
            "Ctrl-X",
        ] {
            player.play(keys).unwrap();
            player.draw();
        }
    }
}

#[test]
fn every_command_runs_on_a_sample_without_panic_locked_and_unlocked() {
    for command in command::all() {
        for unlock in [false, true] {
            let mut player = if command.name.len() % 2 == 0 {
                player((0..=255).cycle().take(1024).collect())
            } else {
                twin(&[3; 100], &[4; 120])
            };
            player.app.it_mut().locked = !unlock;
            let _ = command.run(&mut player.app, "");
            player.draw();
            player.play("Enter Esc Esc").unwrap();
            player.draw();
            let _ = command.run(&mut player.app, "7");
            player.draw();
        }
    }
}

#[test]
fn a_digit_that_is_typed_while_a_list_has_the_keys_writes_nothing_and_that_is_said() {
    let mut player = unlocked("[46] 4B 2D 43");
    player.play("Ctrl-F \"FK-C\" Enter Ctrl-G \"1\" Enter \"7\"").unwrap();
    assert_eq!(player.app.panes.focus(), Pane::Found);
    assert_eq!(player.app.it().image().bytes(), b"FK-C");
    let screen = player.screen();
    assert!(screen.contains("Nothing was typed") && screen.contains("Tab passes them on"), "{screen}");
    player.play("Shift-Tab").unwrap();
    assert!(!player.screen().contains("Nothing was typed"));
}

#[test]
fn every_command_of_the_panes_is_in_the_command_line_with_its_key() {
    let mut player = player(vec![0; 16]);
    for command in command::all().filter(|c| c.is_for_panes()) {
        player.play(&format!("Ctrl-K \"{}\"", command.name)).unwrap();
        let screen = player.screen();
        assert!(screen.contains(command.name), "{screen}");
        if let Some(key) = command.keys.first() {
            assert!(screen.contains(key), "{} {key}\n{screen}", command.name);
        }
        player.play("Esc").unwrap();
    }
}

#[test]
fn the_page_of_keys_is_the_program_s_own() {
    let path = package().join("docs/keys.md");
    let now = command::manual();
    if rewriting() {
        std::fs::write(&path, &now).unwrap();
    }
    assert_same_text("docs/keys.md", &std::fs::read_to_string(&path).unwrap_or_default(), &now);
}

#[test]
fn random_keys_on_random_images_never_panic_and_undoing_everything_gives_the_first_bytes() {
    use proptest::prelude::*;
    let mut keys: Vec<Input> = command::all()
        .flat_map(|c| c.keys)
        .filter(|k| !["Ctrl-S", "Ctrl-Q"].contains(k))
        .map(|k| Input::Key(Key::parse(k).unwrap()))
        .collect();
    for c in "0123456789abcdefgFK?+. ".chars() {
        keys.push(Input::Key(Key::plain(Code::Char(c))));
    }
    keys.extend(["AA BB", "FK-CR8", "\u{1b}[A\n", ""].map(|p| Input::Paste(p.into())));
    keys.extend([(80, 24), (140, 45), (40, 10), (10, 3)].map(|(w, h)| Input::Size(w, h)));
    let config = ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() };
    let bytes = proptest::collection::vec(any::<u8>(), 1..300);
    let picks = proptest::collection::vec(0..keys.len(), 0..120);
    proptest!(config, |(bytes in bytes, picks in picks)| {
        let mut player = player(bytes.clone());
        player.app.it_mut().locked = false;
        for (i, pick) in picks.iter().enumerate() {
            player.input(keys[*pick].clone());
            // The command line can ask for a file to write as well; none is written here.
            let writes = ["Save as", "Save the layout as", "Draw as"];
            if matches!(&player.app.dialog, Some(Dialog::Prompt(prompt)) if writes.contains(&prompt.ask.title)) {
                player.play("Esc").unwrap();
            }
            if i % 8 == 0 {
                player.draw();
            }
        }
        while let Ok(Some(_)) = player.app.it_mut().undo() {}
        prop_assert_eq!(player.app.it().image().bytes(), &bytes[..]);
        prop_assert!(!player.app.it().is_modified());
    });
}
