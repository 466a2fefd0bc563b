//! Screens of the editor on the samples, kept as goldens: the text, and below it a letter of style for each cell.
//!
//! `INSTA_UPDATE=always cargo test editor_screens` writes them anew into `tests/suite/screens`.

use std::path::{Path, PathBuf};

use readproof::image::{Format, Image};
use readproof::store;
use readproof::tui::annotate::{InForce, Kept};
use readproof::tui::app::App;
use readproof::tui::panes::Pane;
use readproof::tui::player::Player;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::{Ground, Look};

use crate::support::{Place, player};

/// Name of the golden, images, columns and rows, keys.
type Scene<'a> = (&'a str, &'a [&'a str], (u16, u16), &'a str);

const READ: &[&str] = &["unit7-read1.bin"];
/// Nobody has described it.
const BLANK: &[&str] = &["unknown unit7-read1.bin"];
const BROKEN: &[&str] = &["unit7-broken-check.bin"];
const TWO: &[&str] = &["unit7-read1.bin", "unit7-returned.bin"];
const SMALL: (u16, u16) = (80, 24);
const MIDDLE: (u16, u16) = (100, 30);
const LARGE: (u16, u16) = (140, 45);

const SCENES: &[Scene<'_>] = &[
    ("open-80", READ, SMALL, ""),
    ("open-140", READ, LARGE, ""),
    ("open-200", READ, (200, 60), ""),
    ("open-100", READ, MIDDLE, ""),
    ("twin-100", TWO, MIDDLE, "t Ctrl-N"),
    ("broken-check-200", BROKEN, (200, 60), "Ctrl-N"),
    ("help-searched", READ, MIDDLE, "? \"undo\""),
    ("help-in-a-line", READ, SMALL, "Ctrl-G F1"),
    ("command-argument", READ, SMALL, "Ctrl-K \"go 0040\""),
    ("open-100x50", READ, (100, 50), ""),
    ("records-file", &["unit7.hex"], SMALL, ""),
    ("broken-check-80", BROKEN, SMALL, "Tab Tab"),
    ("broken-check-140", BROKEN, LARGE, "Ctrl-N"),
    ("wrong-size", &["unit7-wrong-size.bin"], SMALL, "Tab*4"),
    ("readings", READ, SMALL, "Ctrl-G \"50\" Enter Tab*3 Down*4 Right"),
    ("value-asked", READ, SMALL, "Ctrl-U Ctrl-G \"settings.setpoint\" Enter Ctrl-E"),
    ("value-refused", READ, SMALL, "Ctrl-U Ctrl-G \"settings.setpoint\" Enter Ctrl-E Ctrl-U \"22\""),
    ("caution-told", READ, LARGE, "Ctrl-U Ctrl-G \"settings.high_cutout\" Enter Ctrl-E"),
    ("edited-80", READ, SMALL, "Ctrl-U Ctrl-G \"100\" Enter \"0028\" Ctrl-G \"40\" Enter Ctrl-T \"FX\""),
    ("edited-140", READ, LARGE, "Ctrl-U Ctrl-G \"100\" Enter \"0028\""),
    ("resealed", READ, SMALL, "Ctrl-U Ctrl-G \"100\" Enter \"0028\" Ctrl-R Tab Tab"),
    ("records-asked", READ, SMALL, "Ctrl-U Ctrl-G \"lockouts\" Enter Tab Delete"),
    ("records-at-rest", READ, SMALL, "Ctrl-U Ctrl-G \"lockouts\" Enter Tab Delete r"),
    ("selected", READ, SMALL, "Ctrl-G \"48..64\" Enter"),
    ("found", READ, SMALL, "Ctrl-F \"2207140312\" Enter"),
    ("near-miss", &["unit7-part-off.bin"], SMALL, "Ctrl-F \"FK-CR8-2047B\" Enter"),
    ("near-miss-140", &["unit7-part-off.bin"], LARGE, "Ctrl-F \"FK-CR8-2047B\" Enter"),
    ("command-line", READ, SMALL, "Ctrl-K \"res\""),
    ("help", READ, SMALL, "?"),
    ("help-140", READ, LARGE, "?"),
    ("save-asked", READ, SMALL, "Ctrl-U Ctrl-G \"50\" Enter \"99\" Ctrl-S"),
    (
        "save-over-asked",
        READ,
        SMALL,
        "Ctrl-U \"4\" Right Ctrl-S Ctrl-U \"samples/unit7-read1.bin\" Enter \"unit\"",
    ),
    ("quit-asked", READ, SMALL, "Ctrl-U \"1\" Ctrl-Q"),
    (
        "review",
        READ,
        SMALL,
        "Ctrl-U Ctrl-G \"settings.setpoint\" Enter Ctrl-E \"4\" Enter Ctrl-G \"50\" Enter \"99\" Ctrl-W",
    ),
    ("twin-80", TWO, SMALL, "t Ctrl-N"),
    ("twin-140", TWO, LARGE, "t Ctrl-N Ctrl-N Tab Down"),
    ("twin-200", TWO, (200, 60), "t Ctrl-N"),
    ("twin-only-differing-80", TWO, SMALL, "t n Down Down"),
    ("twin-stacked-60x30", &["unit7-read1.bin", "unit7-read3-poor.bin"], (60, 30), "t Ctrl-N"),
    ("twin-checks", &["unit7-read1.bin", "unit7-broken-check.bin"], SMALL, "t Tab Tab Down"),
    ("twin-copied-across", TWO, SMALL, "t o Ctrl-U o Ctrl-N Ctrl-X"),
    ("describe-80", BLANK, SMALL, "Ctrl-G \"40+16\" Enter i"),
    ("describe-140", BLANK, LARGE, "Ctrl-G \"100+2\" Enter i Tab Tab Down"),
    (
        "describe-wrong",
        BLANK,
        SMALL,
        "Ctrl-G \"50+5\" Enter i \"no name\" Tab Ctrl-U \"Imt(bits: 40)\" Tab \"x1\" Tab \"S\"",
    ),
    ("describe-changed", READ, SMALL, "Ctrl-G \"40\" Enter i Tab Down"),
    ("proposed-80", BLANK, SMALL, "v Down a r"),
    ("proposed-140", BLANK, LARGE, "v A End"),
    ("proposed-check", BLANK, SMALL, "v Down*7 i"),
    ("table-80", BLANK, SMALL, "Ctrl-G \"200+32\" Enter g Tab Tab Tab Ctrl-U \"cause:1 state:1 2 hours:4\""),
    ("table-140", BLANK, LARGE, "Ctrl-G \"200+32\" Enter g Tab Tab Tab Ctrl-U \"cause:1 state:1 2 hours:4\""),
    ("layout-head", READ, SMALL, "I"),
    ("small-40x12", READ, (40, 12), ""),
    ("small-60x18", READ, (60, 18), "Tab"),
    ("too-small", READ, (24, 6), ""),
    ("one-byte", &["plain one.bin"], SMALL, ""),
    ("gaps", &["plain gaps.s19"], SMALL, "Ctrl-G \"90\" Enter"),
    ("large-end", &["plain large.bin"], SMALL, "Ctrl-End"),
    ("leap", READ, SMALL, "Ctrl-G \"settings.setpoint\" Enter"),
    ("found-many", &["plain large.bin"], SMALL, "Ctrl-F \"FK-CR8\" Enter"),
    ("findings-100", &["unit7-wrong-size.bin"], MIDDLE, "Tab*4 Down"),
    ("command-all", READ, SMALL, "Ctrl-K"),
    ("help-in-findings", BROKEN, LARGE, "Tab*4 ?"),
    ("value-in-twin", TWO, LARGE, "t Ctrl-U Ctrl-G \"settings.setpoint\" Enter Ctrl-E"),
    ("review-140", READ, LARGE, "Ctrl-U Ctrl-G \"lockouts\" Enter Tab Delete r Ctrl-R Ctrl-W"),
];

/// Two stretches with a gap between and around them.
const GAPS: &str = "S0030000FC\n\
    S1130040464B2D4352382D32303437422020202065\n\
    S1130050220714031201202207140609FFFFFFFFE1\n\
    S10F0104003CFFF6001E030202530672CA\n\
    S11301E0040300002BC424060216410704BC00606B\n\
    S9030000FC\n";

/// The samples, and images of odd shapes beside them.
fn samples_and_odd_ones() -> Place {
    let place = Place::with_samples();
    place.file("samples/one.bin", [0x42]);
    place.file("samples/gaps.s19", GAPS);
    let mut large = vec![0xFF; 1 << 17];
    for at in [0x40, 0x8040, 0x1_F040] {
        large[at..at + 12].copy_from_slice(b"FK-CR8-2047B");
    }
    place.file("samples/large.bin", large);
    place
}

fn check(name: &str, got: &str) {
    insta::with_settings!(
        { snapshot_path => "screens", prepend_module_to_snapshot => false, omit_expression => true },
        { insta::assert_snapshot!(name, got) }
    );
}

#[test]
fn every_screen_looks_as_it_did() {
    let place = samples_and_odd_ones();
    for (name, images, size, keys) in SCENES {
        let mut player = player(&place, images, *size, Look::default());
        player.play(keys).unwrap_or_else(|e| panic!("{name}: {e}"));
        check(name, &player.styled_screen());
    }
}

#[test]
fn with_ascii_nothing_else_is_drawn() {
    let place = samples_and_odd_ones();
    for (name, images, size, keys) in SCENES {
        let mut player = player(&place, images, *size, Look { ascii: true, ..Look::default() });
        player.play(keys).unwrap();
        let screen = player.screen();
        assert!(screen.is_ascii(), "{name}\n{screen}");
        if *name == "open-80" {
            check("open-80-ascii", &screen);
        }
    }
}

#[test]
fn only_known_glyphs_are_drawn_so_that_columns_stay_aligned() {
    let place = samples_and_odd_ones();
    let known = "─│┌┐└┘▌▁▂▅█…▸▾°–→·";
    for (name, images, size, keys) in SCENES {
        let mut player = player(&place, images, *size, Look::default());
        player.play(keys).unwrap();
        // What bytes say as UTF-16 may be of any script.
        let screen = player.screen();
        let drawn = screen.lines().filter_map(|line| line.split(" UTF-16 ").next());
        let odd = drawn.flat_map(str::chars).find(|c| !c.is_ascii() && !known.contains(*c));
        assert_eq!(odd, None, "{name}");
    }
}

#[test]
fn help_is_in_the_hint_line_at_every_width_and_every_pane_has_a_cursor() {
    let place = Place::with_samples();
    for width in (40..=160).step_by(8) {
        for tabs in 0..5 {
            let mut player = player(&place, READ, (width, 24), Look::default());
            player.play(&format!("Tab*{tabs}")).unwrap();
            let screen = player.screen();
            let hints = screen.lines().last().unwrap_or_default();
            assert!(hints.ends_with("? help"), "{width} columns\n{screen}");
            let (x, y) = player.cursor();
            assert!(x < width && y < 24 && (x, y) != (0, 0), "{width} columns, pane {tabs}: {x},{y}");
        }
    }
}

#[test]
fn every_screen_and_dialog_can_be_drawn_at_any_size_and_shows_where_one_is() {
    let place = Place::with_samples();
    let scenes = [
        ("", READ),
        ("Tab", READ),
        ("Tab Tab", BROKEN),
        ("Tab*3", READ),
        ("Tab*4", BROKEN),
        ("w", READ),
        ("Ctrl-F \"FK-CR8-2047B\" Enter", READ),
        ("Ctrl-K \"s\"", READ),
        ("Ctrl-G", READ),
        ("?", READ),
        ("Ctrl-G F1 \"line\"", READ),
        ("Ctrl-U Ctrl-G \"settings.high_cutout\" Enter Ctrl-E", READ),
        ("Ctrl-U \"1\" Ctrl-S", READ),
        ("Ctrl-U \"1\" Ctrl-Q", READ),
        ("Ctrl-K \"settings\" Enter", READ),
        ("i", READ),
        ("v Down*2 r", BLANK),
        ("Ctrl-G \"200+32\" Enter g", BLANK),
        ("Ctrl-End", READ),
        ("t Ctrl-N", TWO),
        ("t n l Tab", TWO),
    ];
    let mut players = scenes.map(|(keys, images)| {
        let mut player = player(&place, images, LARGE, Look::default());
        player.play(keys).unwrap();
        player
    });
    // Each size with one scene, in turn: all heights at the widths where the screen is arranged anew, and every fifth
    // width with every third height, another third for the next width.
    let anew = [33, 34, 59, 60, 79, 80, 123, 124, 185, 186].into_iter();
    let all_heights = anew.flat_map(|width| (5..=60).map(move |height| (width, height)));
    let spread = (20..=200)
        .step_by(5)
        .flat_map(|width| (5 + width / 5 % 3..=60).step_by(3).map(move |height| (width, height)));
    let sizes = all_heights.chain(spread);
    let tiny = (0..=5).flat_map(|width| (0..=8).map(move |height| (width, height)));
    for (n, (width, height)) in tiny.chain(sizes).enumerate() {
        let n = n % scenes.len();
        let player = &mut players[n];
        player.play(&format!("Size({width},{height})")).unwrap();
        let screen = player.screen();
        let it = player.app.it();
        let at = format!("0x{:04X}", it.image().address(it.cursor.at));
        let where_one_is = screen.contains(&at) || width < 20 || height < 5;
        assert!(where_one_is, "{at} at {width}x{height}: {}\n{screen}", scenes[n].0);
    }
}

#[test]
fn wide_and_combining_characters_keep_the_columns_aligned() {
    let layout = r#"(layout: "冷蔵庫の基板", format: 1, source: "invented", fields: [
        (name: "a", at: 0, kind: Int(bits: 8), role: Identity),
        (name: "温度設定", at: 1, kind: Int(bits: 8), role: Setting),
        (name: "Kälte", at: 2, kind: Int(bits: 8), unit: "é度", role: Setting),
        (name: "とても長い名前がここに立っていて列に収まらない", at: 3, kind: Int(bits: 8), role: Setting),
        (name: "名", at: 4, kind: Text(bytes: 6), role: Setting),
    ], checks: [
        (name: "合計", over: [(0, 6)], stored: (at: 14, bytes: 1), by: "SUM-8"),
        (name: "sum", over: [(0, 6)], stored: (at: 15, bytes: 1), by: "SUM-8"),
    ])"#;
    let mut bytes: Vec<u8> = (0..16).collect();
    bytes[4..10].copy_from_slice("温é".as_bytes().get(..6).unwrap_or(b"abcdef"));
    for size in [(80, 24), (100, 50), (140, 45), (200, 60)] {
        let path = PathBuf::from("読み取り e\u{301}-1.bin");
        let mut sheet = Sheet::new(path, Image::raw(bytes.clone()), Format::Raw);
        let in_force = InForce::of_text("冷.ron".into(), Kept::Nowhere, layout);
        sheet.follow(in_force.unwrap_or_else(|p| panic!("{p:?}")));
        let mut player = Player::new(App::new(sheet, vec![], size, Look::default()));
        player.play("Tab").unwrap();
        let width = |text: &str| readproof::report::text::width(text);
        let screen = player.screen();
        assert!(screen.lines().all(|l| width(l) <= usize::from(size.0)), "{screen}");
        assert!(screen.lines().next().unwrap().ends_with("LOCKED"), "{screen}");
        let column = |text: &str, of: &str| {
            let line = screen.lines().find(|l| l.contains(of)).unwrap_or_else(|| panic!("{of}\n{screen}"));
            width(&line[..line.rfind(text).unwrap_or_else(|| panic!("{text} in {line}"))])
        };
        let roles: Vec<usize> =
            ["温度設定", "Kälte", "とても長い"].iter().map(|name| column("Setting", name)).collect();
        assert!(roles.iter().all(|x| *x == roles[0]), "{roles:?}\n{screen}");
        let values = [column("1 ", "温度設定"), column("2 é度", "Kälte"), column("3 ", "とても長い")];
        assert!(values.iter().all(|x| *x == values[0]), "{values:?}\n{screen}");
        player.play("Tab").unwrap();
        let screen = player.screen();
        let column = |of: &str| {
            let line = screen.lines().find(|l| l.contains(of)).unwrap_or_else(|| panic!("{of}\n{screen}"));
            width(&line[..line.find("broken").unwrap_or_else(|| panic!("{line}"))])
        };
        assert_eq!(column("合計"), column(" sum "), "{screen}");
    }
}

#[test]
fn cautions_that_a_small_dialog_has_no_room_for_are_not_left_out_silently() {
    let place = Place::with_samples();
    let mut player = player(&place, READ, (40, 12), Look::default());
    player.play("Ctrl-U \"1\" Ctrl-Q").unwrap();
    let screen = player.screen();
    assert!(screen.contains("that need more room") && screen.contains("Cancel"), "{screen}");
}

#[test]
fn below_the_smallest_size_the_needed_one_is_told_and_quit_still_works() {
    let place = Place::with_samples();
    let mut player = player(&place, READ, (24, 6), Look::default());
    let screen = player.screen();
    assert!(screen.contains("24x6 is too small") && screen.contains("34x8 is needed"), "{screen}");
    player.play("Ctrl-U \"4\" Ctrl-Q").unwrap();
    assert!(player.is_over);
}

#[test]
fn names_and_texts_from_outside_cannot_act_on_the_terminal_or_break_the_columns() {
    let odd = "a\u{1b}[31m\u{202e}b\u{7}\u{65e5}\u{672c}\u{301}.bin";
    let sheet = Sheet::new(PathBuf::from(odd), Image::raw(b"\x1b[2J\x07hidden".to_vec()), Format::Raw);
    let mut player = Player::new(App::new(sheet, vec![], SMALL, Look::default()));
    let screen = player.screen();
    assert!(!screen.contains(['\u{1b}', '\u{202e}', '\u{7}']), "{screen}");
    let width = |line: &str| readproof::report::text::width(line);
    assert!(screen.lines().all(|l| width(l) <= 80), "{screen}");
    assert!(screen.lines().next().unwrap().ends_with("LOCKED"), "{screen}");
}

#[test]
fn gaps_are_shown_as_such_and_cannot_be_typed_over() {
    let gap = readproof::span::Span::new(4, 12);
    let image = Image::with_gaps(0x8000, (0..32).collect(), vec![gap]);
    let mut player = Player::new(App::new(
        Sheet::new("g.hex".into(), image, Format::IntelHex),
        vec![],
        SMALL,
        Look::default(),
    ));
    player.play("Ctrl-U Ctrl-G \"8004\" Enter \"99\"").unwrap();
    let screen = player.screen();
    assert!(screen.contains("8000  00 01 02 03 -- -- -- --  -- -- -- -- 0C 0D"), "{screen}");
    assert!(screen.contains("No byte is mapped here"), "{screen}");
}

#[test]
fn the_last_of_many_rows_can_be_reached_and_only_visible_ones_are_drawn() {
    let sheet = Sheet::new("big.bin".into(), Image::raw(vec![0x5A; 16 * 70_000]), Format::Raw);
    let mut player = Player::new(App::new(sheet, vec![], SMALL, Look::default()));
    player.play("Ctrl-End").unwrap();
    let screen = player.screen();
    assert!(screen.contains("1116F0  5A"), "{screen}");
}

#[test]
fn a_layout_with_problems_leaves_the_old_one_in_force_and_lists_them() {
    let place = Place::with_samples();
    let bad = place
        .file("bad.ron", "(layout: \"x\", format: 1, fields: [(name: \"a\", at: 0, kind: Itn(bits: 16))])");
    let mut player = player(&place, READ, LARGE, Look::default());
    let fields = player.app.it().decoded().fields.len();
    player.play(&format!("Ctrl-K \"layout {}\" Enter Enter", bad.display())).unwrap();
    let screen = player.screen();
    assert!(screen.contains("The layout is not in force") && screen.contains("bad.ron:1:"), "{screen}");
    assert_eq!(player.app.it().decoded().fields.len(), fields, "the old layout is in force");
}

#[test]
fn a_layout_is_read_again_without_losing_edits() {
    let place = Place::with_samples();
    let file = place.path("layouts/frostkeel-cr8.ron");
    let mut player = player(&place, READ, LARGE, Look::default());
    player.play(&format!("Ctrl-K \"layout {}\" Enter Enter Ctrl-U \"99\"", file.display())).unwrap();
    let text = std::fs::read_to_string(&file).unwrap().replace("\"part_number\"", "\"board_number\"");
    std::fs::write(&file, text).unwrap();
    player.play("Ctrl-K \"reload-layout\" Enter").unwrap();
    let screen = player.screen();
    assert!(screen.contains("board_number") && screen.contains("modified"), "{screen}");
    assert_eq!(player.app.it().image().bytes()[0], 0x99);
}

fn saved(place: &Place, keys: &str) -> Player {
    let path = place.path("samples/unit7-read1.bin");
    let opened = store::open(&path, &mut std::io::empty()).unwrap();
    let mut sheet = Sheet::new(path, opened.image, opened.format);
    sheet.file.known_as(opened.identity);
    let mut player = Player::new(App::new(sheet, vec![], LARGE, Look::default()));
    player.play(keys).unwrap();
    player
}

#[test]
fn saving_never_touches_the_original_unless_its_name_is_typed_and_confirmed() {
    let place = Place::with_samples();
    let original = place.bytes("samples/unit7-read1.bin");
    let mut player = saved(&place, "Ctrl-U \"99\" Ctrl-S Enter");
    assert_eq!(place.bytes("samples/unit7-read1.bin"), original);
    assert_eq!(place.bytes("samples/unit7-read1-changed.bin")[0], 0x99);
    assert!(!player.app.it().is_modified());
    // Again into the file that was written: no question.
    player.play("\"88\" Ctrl-S Enter").unwrap();
    assert_eq!(place.bytes("samples/unit7-read1-changed.bin")[1], 0x88);
    // The original by its path: a question, and a wrong answer writes nothing.
    let original_path = place.path("samples/unit7-read1.bin");
    let typed = format!("Ctrl-S Ctrl-U \"{}\" Enter", original_path.display());
    player.play(&format!("\"77\" {typed} Enter")).unwrap();
    assert_eq!(place.bytes("samples/unit7-read1.bin"), original);
    player.play(&format!("{typed} \"unit7-read1.bin\" Enter")).unwrap();
    assert_eq!(place.bytes("samples/unit7-read1.bin")[..3], [0x99, 0x88, 0x77]);
    assert_eq!(place.bytes("samples/unit7-read1.bin.original"), original, "a copy of it is kept");
}

#[test]
fn another_existing_file_is_replaced_only_when_its_name_is_typed() {
    let place = Place::with_samples();
    let other = place.path("samples/unit9.bin");
    let before = place.bytes("samples/unit9.bin");
    let typed = format!("Ctrl-U \"99\" Ctrl-S Ctrl-U \"{}\" Enter", other.display());
    let mut player = saved(&place, &typed);
    assert!(player.screen().contains("this file exists"), "{}", player.screen());
    player.play("Enter").unwrap();
    assert_eq!(place.bytes("samples/unit9.bin"), before);
    assert!(player.app.it().is_modified(), "nothing was saved");
}

#[test]
fn a_file_that_is_written_over_is_kept_beside_it_as_it_was_before_the_session() {
    let place = Place::with_samples();
    let other = place.path("samples/unit9.bin");
    let (before, own) = (place.bytes("samples/unit9.bin"), place.bytes("samples/unit7-read1.bin"));
    let over = |path: &std::path::Path| format!("Ctrl-S Ctrl-U \"{0}\" Enter \"{0}\" Enter", path.display());
    let mut player = saved(&place, &format!("Ctrl-U \"99\" {}", over(&other)));
    assert!(player.screen().contains("unit9.bin.original"), "{}", player.screen());
    player.play(&format!("\"98\" {}", over(&place.path("samples/unit7-read1.bin")))).unwrap();
    // Later saves of the session, under this name or another, are of bytes that it wrote itself.
    player.play("\"97\" Ctrl-S Enter").unwrap();
    player.play(&format!("\"96\" {}", over(&place.path("samples/../samples/unit9.bin")))).unwrap();
    assert_eq!(place.bytes("samples/unit9.bin")[..4], [0x99, 0x98, 0x97, 0x96]);
    assert_eq!(place.bytes("samples/unit9.bin.original"), before);
    assert_eq!(place.bytes("samples/unit7-read1.bin.original"), own);
    for second in ["samples/unit9.bin.original-2", "samples/unit7-read1.bin.original-2"] {
        assert!(!place.path(second).exists(), "{second}");
    }
}

#[test]
fn a_save_that_fails_says_so_and_the_image_stays_modified() {
    let place = Place::with_samples();
    let typed = format!("Ctrl-U \"99\" Ctrl-S Ctrl-U \"{}\" Enter", place.path("none/x.bin").display());
    let mut player = saved(&place, &typed);
    assert!(player.screen().contains("Not saved"), "{}", player.screen());
    assert!(player.app.it().is_modified());
}

#[test]
fn the_format_that_was_read_is_the_format_that_is_written() {
    let place = Place::with_samples();
    let path = place.path("samples/unit7.hex");
    let opened = store::open(&path, &mut std::io::empty()).unwrap();
    let mut player =
        Player::new(App::new(Sheet::new(path, opened.image, opened.format), vec![], SMALL, Look::default()));
    player.play("Ctrl-U \"99\" Ctrl-S Enter").unwrap();
    let again =
        store::open(Path::new(&place.path("samples/unit7-changed.hex")), &mut std::io::empty()).unwrap();
    assert_eq!((again.format, again.image.bytes()[0]), (Format::IntelHex, 0x99));
}

#[test]
fn moving_in_fields_moves_the_bytes_cursor_and_back() {
    let place = Place::with_samples();
    let mut player = player(&place, READ, SMALL, Look::default());
    player.play("Tab Down*4").unwrap();
    assert_eq!(player.app.it().cursor.at, 0x40);
    player.play("Esc Right*16").unwrap();
    assert_eq!(player.app.it().described.chosen_field().unwrap().path, "serial");
    assert_eq!(player.app.panes.focus(), Pane::Bytes);
}

#[test]
fn colours_follow_the_look_and_the_screen_says_the_same() {
    let place = Place::with_samples();
    let text = |look| player(&place, BROKEN, SMALL, look).screen();
    use readproof::tui::theme::Depth;
    let plain = text(Look::default());
    for depth in [Depth::Named, Depth::Palette, Depth::Full] {
        for ground in [Ground::Any, Ground::Dark, Ground::Light] {
            assert_eq!(text(Look { depth, ground, ..Look::default() }), plain);
        }
    }
}
