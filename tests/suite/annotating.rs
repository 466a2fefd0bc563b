//! Describing an unknown memory in the editor: fields named while their bytes are looked at, and the text of the
//! layout that a person would have written.

use std::path::PathBuf;

use proptest::prelude::*;
use readproof::author::{self, NewField, NewTable, Scaling};
use readproof::image::{Format, Image};
use readproof::layout::{self, Role};
use readproof::notation::{self, Node, NodeValue};
use readproof::span::Span;
use readproof::store;
use readproof::tui::annotate::{InForce, Kept};
use readproof::tui::app::App;
use readproof::tui::effect::Effect;
use readproof::tui::input::{Input, Key};
use readproof::tui::job;
use readproof::tui::panes::Pane;
use readproof::tui::player::Player;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;
use readproof::tui::update::update;

use crate::support::Place;

/// A part number at 0x10, a packed serial at 0x20, four rows of four bytes at 0x40; the rest FF.
fn image() -> Vec<u8> {
    let mut bytes = vec![0xFF; 0x80];
    bytes[0x10..0x20].copy_from_slice(b"FK-CR8-2047B    ");
    bytes[0x20..0x25].copy_from_slice(&[0x22, 0x07, 0x14, 0x03, 0x12]);
    for row in 0..4u8 {
        let at = 0x40 + 4 * usize::from(row);
        bytes[at..at + 4].copy_from_slice(&[0, 100 + row, row, 0xFF]);
    }
    bytes
}

const WRITTEN: &str = "\
// Notes from the bench; keep them.
(
    layout: \"board\",
    format: 1,
    source: \"worked out\",
    order:   Big, // as the processor's
    fields: [
        // What the label says.
        (name: \"part\",   at: 0x0010, kind: Text(bytes: 16, pad: \" \"), role: Identity),   // to the character

        (name: \"serial\", at: 0x0020, kind: Bcd(digits: 10), role: Identity),
    ],
)
";

fn player(place: &Place, layout: Option<&str>) -> Player {
    let path = place.file("unit.bin", image());
    let mut sheet = Sheet::new(path, Image::raw(image()), Format::Raw);
    if let Some(text) = layout {
        let file = place.file("board.ron", text);
        let at_hand = store::layouts(None, &[]).unwrap();
        let file = store::layout_file(&file, &at_hand).unwrap();
        let layout = store::read_layout(&file).unwrap();
        sheet.follow(InForce::of_file(file, layout));
    }
    Player::new(App::new(sheet, vec![], (80, 24), Look::default()))
}

fn sample(place: &Place, name: &str) -> Sheet {
    let path = place.path("samples").join(name);
    let bytes = std::fs::read(&path).unwrap();
    Sheet::new(path, Image::raw(bytes), Format::Raw)
}

/// The first 512 bytes of a sample: its identity and its settings.
fn part(place: &Place, name: &str) -> Sheet {
    let path = place.path("samples").join(name);
    let bytes = std::fs::read(&path).unwrap()[..0x200].to_vec();
    Sheet::new(path, Image::raw(bytes), Format::Raw)
}

fn play(player: &mut Player, keys: &str) {
    player.play(keys).unwrap();
    player.draw();
}

fn text(player: &Player) -> String {
    player.app.it().layout().map(|l| l.text.to_string()).unwrap_or_default()
}

fn value(player: &Player, path: &str) -> String {
    let fields = &player.app.it().decoded().fields;
    let paths: Vec<&str> = fields.iter().map(|f| f.path.as_str()).collect();
    let field = fields.iter().find(|f| f.path == path);
    field.unwrap_or_else(|| panic!("{path} is none of {paths:?}")).text.clone()
}

fn notice(player: &Player) -> String {
    player.app.notice.as_ref().map(|n| n.text.clone()).unwrap_or_default()
}

/// Every line of `before`, in order, is in `after`.
#[track_caller]
fn assert_kept(before: &str, after: &str) {
    let mut lines = after.lines();
    for line in before.lines() {
        assert!(lines.any(|l| l == line), "{line:?} is lost:\n{after}");
    }
}

#[test]
fn a_survey_that_hunts_for_no_checks_says_so() {
    for (bytes, told) in [(1 << 10, false), ((256 << 10) + 1, true)] {
        let sheet = Sheet::new(PathBuf::from("big.bin"), Image::raw(vec![0xFF; bytes]), Format::Raw);
        let mut player = Player::new(App::new(sheet, vec![], (80, 24), Look::default()));
        player.play("v").unwrap();
        let screen = player.screen();
        assert_eq!(screen.contains("over 256 KiB checks are left to readproof hunt"), told, "{screen}");
    }
}

#[test]
fn selected_bytes_become_a_field_with_the_likely_kind_and_the_image_stays_locked_and_the_same() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"10+16\" Enter i");
    let screen = player.screen();
    assert!(screen.contains("Text(bytes: 16, pad: \" \")") && screen.contains("FK-CR8-2047B"), "{screen}");
    play(&mut player, "\"part\" Tab Tab Tab Tab \"as on the label\" Enter");
    assert_eq!(value(&player, "part"), "FK-CR8-2047B");
    assert_eq!(player.app.it().image().bytes(), &image()[..]);
    assert!(player.app.it().locked && !player.app.it().is_modified());
    let screen = player.screen();
    assert!(screen.contains("layout modified") && screen.contains("12 % described"), "{screen}");
    let line = "        (name: \"part\", at: 0x0010, kind: Text(bytes: 16, pad: \" \"), role: Identity, note: \"as on the label\"),\n";
    assert!(text(&player).contains(line), "{}", text(&player));
}

#[test]
fn each_kind_shows_what_it_would_read_and_the_chosen_one_is_taken() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"20+4\" Enter i \"built\" Tab");
    let screen = player.screen();
    assert!(screen.contains("2207-14-03") || screen.contains("22071403"), "{screen}");
    play(&mut player, "Ctrl-U \"Int(bits: 32, base\" Down Enter");
    assert!(value(&player, "built").ends_with("22071403"), "{}", value(&player, "built"));
}

#[test]
fn a_kind_that_cannot_be_read_is_told_while_it_is_typed_and_not_taken() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"20+4\" Enter i \"x\" Tab Ctrl-U \"Imt(bits: 32)\"");
    assert!(player.screen().contains("Imt"), "{}", player.screen());
    play(&mut player, "Enter");
    assert!(player.app.it().layout().is_none() && player.app.dialog.is_some());
    play(&mut player, "Esc");
    assert!(player.app.dialog.is_none());
}

#[test]
fn a_field_is_renamed_and_the_hand_written_text_around_it_stays_byte_for_byte() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    play(&mut player, "Ctrl-G \"serial\" Enter Tab i \"serial_number\" Enter");
    assert_eq!(value(&player, "serial_number"), "2207140312");
    assert_eq!(text(&player), WRITTEN.replace("\"serial\"", "\"serial_number\""));
    play(&mut player, "i Tab Tab Tab Tab \"stamped on the case\" Enter");
    let noted = "role: Identity, note: \"stamped on the case\"),";
    assert!(text(&player).contains(noted), "{}", text(&player));
    play(&mut player, "i Tab Tab Tab Tab Ctrl-U Enter");
    assert_eq!(text(&player), WRITTEN.replace("\"serial\"", "\"serial_number\""));
}

#[test]
fn a_field_is_stretched_moved_split_and_taken_out_and_all_of_it_is_taken_back() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    play(&mut player, "Ctrl-G \"serial\" Enter Tab Shift-Left Shift-Down");
    assert_eq!(value(&player, "serial"), "07140312");
    play(&mut player, "Shift-Up Shift-Right");
    assert_eq!(text(&player), WRITTEN);
    play(&mut player, "Esc Ctrl-G \"18\" Enter x");
    assert_eq!(value(&player, "part_2"), "30 34 37 42 20 20 20 20");
    play(&mut player, "Tab r");
    assert!(!text(&player).contains("part_2"), "{}", text(&player));
    assert!(text(&player).contains("   // to the character\n"), "{}", text(&player));
    play(&mut player, "Ctrl-Z*6");
    assert_eq!(text(&player), WRITTEN);
    assert!(!player.app.it().layout_is_modified());
    play(&mut player, "Ctrl-Y*6");
    assert!(
        text(&player)
            .contains("(name: \"part\",   at: 0x0010, kind: Bytes(bytes: 8), role: Identity),   // to")
    );
}

#[test]
fn what_was_done_last_is_taken_back_first_whether_bytes_or_layout_and_it_is_told_which() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    play(&mut player, "Ctrl-U Ctrl-G \"30\" Enter \"12\" Ctrl-G \"30\" Enter i \"mode\" Enter");
    assert_eq!(value(&player, "mode"), "18");
    play(&mut player, "Ctrl-Z");
    assert!(notice(&player).contains("named mode"), "{}", notice(&player));
    assert_eq!(player.app.it().image().bytes()[0x30], 0x12);
    play(&mut player, "Ctrl-Z Ctrl-Z");
    assert_eq!(player.app.it().image().bytes()[0x30], 0xFF);
}

#[test]
fn a_first_row_becomes_a_table_and_its_fields_the_fields_of_each_row() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    play(&mut player, "Ctrl-G \"40+2\" Enter i \"hours\" Enter Ctrl-G \"42\" Enter i \"cause\" Enter");
    play(&mut player, "Ctrl-G \"40+4\" Enter g \"events\" Tab \"4\"");
    assert!(player.screen().contains("2 fields"), "{}", player.screen());
    play(&mut player, "Enter");
    assert_eq!(
        (value(&player, "events[3].hours"), value(&player, "events[3].cause")),
        ("103".into(), "3".into())
    );
    assert_kept(WRITTEN, &text(&player));
}

#[test]
fn undescribed_bytes_are_counted_and_visited_one_run_after_the_other() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    play(&mut player, "");
    assert!(player.screen().contains("16 % described"), "{}", player.screen());
    let mut seen = vec![];
    for _ in 0..3 {
        play(&mut player, "u");
        seen.push(player.app.it().selection());
    }
    let told: Vec<(usize, usize)> = seen.iter().map(|s| (s.start, s.end)).collect();
    // Blank stretches apart from the rows between them.
    assert_eq!(told, [(0, 0x10), (0x25, 0x40), (0x40, 0x4F)]);
    play(&mut player, "U");
    assert_eq!(player.app.it().selection().start, 0x25);
}

#[test]
fn only_fields_of_one_role_are_listed_and_then_all_again() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    play(&mut player, "Ctrl-G \"40\" Enter i \"mode\" Enter Ctrl-K \"only-role\" Enter \"Sett\" Enter");
    assert!(player.screen().contains("only Setting"), "{}", player.screen());
    assert_eq!(player.app.it().described.fields.listed.len(), 1);
    play(&mut player, "Ctrl-K \"only-role\" Enter Enter");
    assert_eq!(player.app.it().described.fields.listed.len(), 3);
}

#[test]
fn a_proposal_of_the_survey_is_looked_at_and_becomes_a_field_with_its_evidence() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "v Down");
    assert!(player.screen().contains("part-number"), "{}", player.screen());
    assert_eq!(player.app.it().selection().start, 0x10, "its bytes are selected");
    play(&mut player, "a");
    assert_eq!(value(&player, "part_number_0010"), "FK-CR8-2047B");
    assert!(text(&player).contains("note: \""), "{}", text(&player));
    assert_eq!(player.app.panes.focus(), Pane::Proposed, "and the next one is at hand");
    assert!(!player.app.it().proposals.chosen().unwrap().0.word.contains("part-number"));
    play(&mut player, "End");
    assert!(player.screen().contains("described"), "{}", player.screen());
}

#[test]
fn a_proposal_is_changed_before_it_is_accepted() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "v Down i \"board\" Enter");
    assert_eq!(value(&player, "board"), "FK-CR8-2047B");
    assert_eq!(player.app.panes.focus(), Pane::Proposed);
}

#[test]
fn a_reading_of_the_bytes_under_the_cursor_becomes_a_field_of_its_kind() {
    let place = Place::empty();
    let mut player = player(&place, None);
    // Unsigned 16, least significant byte first.
    play(&mut player, "Ctrl-G \"40\" Enter Tab*3 Down*3 Right i");
    assert!(player.screen().contains("Int(bits: 16, order: Little)   25600"), "{}", player.screen());
    play(&mut player, "\"speed\" Enter");
    assert_eq!(value(&player, "speed"), "25600");
}

#[test]
fn a_number_at_the_start_of_many_selected_bytes_is_named_and_the_rest_comes_next() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"40+15\" Enter i \"hours\" Tab");
    assert!(player.screen().contains("first 2 bytes"), "{}", player.screen());
    play(&mut player, "Ctrl-U \"Int(bits: 16)\" Enter");
    assert_eq!(value(&player, "hours"), "100");
    play(&mut player, "u");
    assert_eq!(player.app.it().selection(), Span::new(0x42, 0x4F));
}

#[test]
fn ctrl_s_saves_the_layout_when_only_that_has_changed() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"10+16\" Enter i \"part\" Enter Ctrl-S");
    assert!(player.screen().contains("Save the layout as"), "{}", player.screen());
    play(&mut player, "Enter Ctrl-S");
    assert!(place.path("unit.ron").is_file() && player.screen().contains("unit-changed.bin"));
}

#[test]
fn what_is_rejected_stays_rejected_apart_from_the_others_and_comes_back() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "v r");
    assert!(player.screen().contains("1 rejected"), "{}", player.screen());
    assert_eq!(player.app.it().selection().start, 0x10, "the next one is shown");
    // Asked for again, in the list: the image is looked at once more.
    play(&mut player, "v End");
    assert!(player.screen().contains("rejected"), "{}", player.screen());
    play(&mut player, "r");
    assert_eq!(notice(&player), "Brought back");
    assert!(!player.screen().contains("1 rejected"), "{}", player.screen());
}

#[test]
fn a_check_that_the_hunt_found_becomes_a_check_of_the_layout() {
    let place = Place::with_samples();
    let mut player =
        Player::new(App::new(part(&place, "unit7-read1.bin"), vec![], (80, 24), Look::default()));
    // The sample layout stores its CRC-32/ISO-HDLC of the identity at 0x007C.
    play(&mut player, "v Esc Esc Ctrl-G \"7C+4\" Enter i");
    let screen = player.screen();
    assert!(screen.contains("CRC-32/ISO-HDLC") && screen.contains("It agrees in this image"), "{screen}");
    play(&mut player, "Tab Tab Tab \"0070\"");
    assert!(player.screen().contains("does not agree"), "{}", player.screen());
    play(&mut player, "Shift-Tab Shift-Tab Shift-Tab \"identity\" Tab Tab Tab Ctrl-U \"007C\" Enter");
    let checks = &player.app.it().decoded().checks;
    assert_eq!(checks.len(), 1, "{}", notice(&player));
    assert_eq!((checks[0].name.as_ref(), checks[0].seal.word()), ("identity", "sealed"));
}

#[test]
fn everything_sure_is_accepted_in_one_step() {
    let place = Place::with_samples();
    let other = part(&place, "unit9.bin");
    let mut player =
        Player::new(App::new(part(&place, "unit7-read1.bin"), vec![other], (80, 24), Look::default()));
    play(&mut player, "v");
    assert!(player.screen().contains("2 images of this size"), "{}", player.screen());
    play(&mut player, "u A");
    assert!(player.app.it().decoded().fields.len() > 5, "{}", notice(&player));
    assert!(!player.app.it().decoded().checks.is_empty());
    let (layout, remarks) = layout::lint(&text(&player));
    assert!(layout.is_some());
    let over: Vec<String> =
        remarks.iter().map(|r| format!("{r:?}")).filter(|r| r.contains("lies over")).collect();
    assert!(over.is_empty(), "{over:?}");
    play(&mut player, "Ctrl-Z");
    assert!(player.app.it().layout().is_none());
}

#[test]
fn images_of_one_kind_are_described_together_and_taken_back_together() {
    let place = Place::with_samples();
    let others = vec![sample(&place, "unit9.bin"), sample(&place, "unit7-wrong-size.bin")];
    let mut player =
        Player::new(App::new(sample(&place, "unit7-read1.bin"), others, (80, 24), Look::default()));
    play(&mut player, "Ctrl-G \"50+5\" Enter i \"serial\" Enter");
    assert!(notice(&player).contains("in 2 images"), "{}", notice(&player));
    let values = |player: &Player| -> Vec<Option<String>> {
        player.app.images().iter().map(|s| s.decoded().fields.first().map(|f| f.text.clone())).collect()
    };
    let [Some(first), Some(second), None] = &values(&player)[..] else { panic!("{:?}", values(&player)) };
    assert_ne!(first, second);
    // A byte changed there is taken back there only; the step of the layout from either.
    play(&mut player, "Ctrl-O Ctrl-U Ctrl-G \"1F00\" Enter \"12\" Ctrl-O Ctrl-O Ctrl-Z");
    assert_eq!(values(&player), [None, None, None]);
    assert_eq!(player.app.images()[1].image().bytes()[0x1F00], 0x12);
    play(&mut player, "Ctrl-Y Ctrl-G \"40+16\" Enter i \"part\" Enter");
    let texts = |player: &Player| -> Vec<Option<String>> {
        player.app.images().iter().map(|s| s.layout().map(|l| l.text.to_string())).collect()
    };
    assert!(texts(&player)[0] == texts(&player)[1] && texts(&player)[2].is_none());
    // Saved once, for both.
    play(
        &mut player,
        &format!("Ctrl-K \"save-layout\" Enter Ctrl-U \"{}\" Enter", place.path("board.ron").display()),
    );
    assert!(player.app.images().iter().all(|s| !s.layout_is_modified()), "{}", notice(&player));
}

#[test]
fn esc_stops_a_survey_and_what_it_finds_later_is_nobodys() {
    let place = Place::empty();
    let mut player = player(&place, None);
    let app = &mut player.app;
    assert_eq!(update(app, Input::Key(Key::parse("v").unwrap())), Effect::Work);
    let (id, work) = job::work(app).unwrap();
    // Every key is taken while it goes on.
    update(app, Input::Key(Key::parse("Right").unwrap()));
    assert_eq!(app.it().cursor.at, 1);
    assert!(app.jobs.now().unwrap().pace.note(0.43));
    assert!(player.screen().contains("surveying 43 %, Esc stops"), "{}", player.screen());
    update(&mut player.app, Input::Key(Key::parse("Esc").unwrap()));
    assert!(player.app.jobs.now().is_none() && work.run(&|| ()).is_none());
    job::finish(&mut player.app, id, Box::new(|_| panic!("it is nobody's")));
    assert!(player.app.it().proposals.known().is_none());
}

#[test]
fn everything_that_the_survey_found_becomes_a_layout_in_one_step() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "v Esc Ctrl-K \"draft-layout\" Enter");
    assert_eq!(value(&player, "part_number_0010"), "FK-CR8-2047B");
    play(&mut player, "Ctrl-Z");
    assert!(player.app.it().layout().is_none());
}

#[test]
fn a_new_layout_is_saved_beside_the_image_lints_clean_and_is_found_again() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"10+16\" Enter i \"part\" Enter Ctrl-K \"save-layout\" Enter Enter");
    assert!(notice(&player).starts_with("Saved the layout"), "{}", notice(&player));
    assert!(!player.app.it().layout_is_modified());
    let saved = std::fs::read_to_string(place.path("unit.ron")).unwrap();
    assert_eq!(saved, text(&player));
    let layout = layout::read(&saved).unwrap();
    assert_eq!(layout::decode(&layout, &Image::raw(image())).fields[0].text, "FK-CR8-2047B");
    place.run(["show", "unit.bin", "--layout", "unit.ron"]).says("FK-CR8-2047B");
    // What this session wrote, it writes again without asking.
    play(&mut player, "Ctrl-G \"20+5\" Enter i \"serial\" Enter Ctrl-K \"save-layout\" Enter Enter");
    assert!(std::fs::read_to_string(place.path("unit.ron")).unwrap().contains("serial"));
}

#[test]
fn the_file_a_layout_came_from_is_replaced_only_when_its_name_is_typed_and_is_kept_beside() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    play(&mut player, "Ctrl-G \"40+2\" Enter i \"hours\" Enter Ctrl-K \"save-layout\" Enter Enter Enter");
    assert_eq!(place.bytes("board.ron"), WRITTEN.as_bytes());
    play(&mut player, "Esc Ctrl-K \"save-layout\" Enter Enter \"board.ron\" Enter");
    assert!(notice(&player).contains("is kept as"), "{}", notice(&player));
    let now = String::from_utf8(place.bytes("board.ron")).unwrap();
    assert_eq!(now, text(&player));
    assert_kept(WRITTEN, &now);
    assert_eq!(place.bytes("board.ron.original"), WRITTEN.as_bytes());
}

#[test]
fn a_layout_file_that_somebody_changed_meanwhile_is_left_alone() {
    let place = Place::empty();
    let mut player = player(&place, Some(WRITTEN));
    let theirs = WRITTEN.replace("board", "bench");
    place.file("board.ron", &theirs);
    play(&mut player, "Ctrl-G \"40+2\" Enter i \"hours\" Enter Ctrl-S Enter \"board.ron\" Enter");
    let screen = player.screen();
    assert!(screen.contains("The layout is not saved") && screen.contains("save as a new file"), "{screen}");
    assert_eq!(place.bytes("board.ron"), theirs.as_bytes());
    assert!(player.app.it().layout_is_modified());
    let elsewhere = place.path("mine.ron");
    play(&mut player, &format!("Esc Ctrl-S Ctrl-U \"{}\" Enter", elsewhere.display()));
    assert!(elsewhere.is_file() && !player.app.it().layout_is_modified(), "{}", notice(&player));
}

#[test]
fn what_is_told_of_a_layouts_file_cannot_act_on_the_terminal() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"10+16\" Enter i \"part\" Enter");
    let odd = place.path("two\u{1b}[2J\nlines.ron");
    let result = Effect::SaveLayout { path: odd.clone(), replace: false, then_quit: false };
    readproof::tui::perform::perform(&mut player.app, result);
    assert!(odd.is_file());
    let told = notice(&player);
    assert!(told.starts_with("Saved the layout as") && !told.contains(['\u{1b}', '\n']), "{told:?}");
}

#[test]
fn a_shipped_layout_is_saved_under_another_name() {
    let place = Place::empty();
    let mut player = player(&place, None);
    let in_force = InForce::of_text(PathBuf::from("some-layout"), Kept::Shipped, WRITTEN).unwrap();
    player.app.it_mut().follow(in_force);
    play(&mut player, "Ctrl-G \"40+2\" Enter i \"hours\" Enter Ctrl-K \"save-layout\" Enter Enter");
    assert!(place.path("some-layout-changed.ron").is_file(), "{}", notice(&player));
}

#[test]
fn leaving_asks_about_a_layout_that_is_not_saved() {
    let place = Place::empty();
    let mut player = player(&place, None);
    play(&mut player, "Ctrl-G \"10+16\" Enter i \"part\" Enter Ctrl-Q");
    assert!(!player.is_over && player.screen().contains("not saved"), "{}", player.screen());
    play(&mut player, "s Enter");
    assert!(player.is_over && place.path("unit.ron").is_file());
}

/// The paths of the fields that the text of a layout writes out, and what each field's text is.
fn written_out(text: &str) -> Vec<(String, std::ops::Range<usize>)> {
    fn entry<'n>(node: &'n Node, key: &str) -> Option<&'n Node> {
        let NodeValue::Struct(_, entries) = &node.value else { return None };
        entries.iter().find(|(name, _)| name.text == key).map(|(_, node)| node)
    }
    fn walk(list: Option<&Node>, parent: &str, out: &mut Vec<(String, std::ops::Range<usize>)>) {
        let Some(NodeValue::List(nodes)) = list.map(|l| &l.value) else { return };
        for node in nodes {
            let Some(NodeValue::Text(name)) = entry(node, "name").map(|n| &n.value) else { continue };
            let path = format!("{parent}{name}");
            walk(entry(node, "kind").and_then(|k| entry(k, "of")), &format!("{path}."), out);
            out.push((path, node.span.start..node.span.end));
        }
    }
    let mut out = Vec::new();
    walk(entry(&notation::parse(text).unwrap(), "fields"), "", &mut out);
    out
}

/// What `before` and `after` do not share between their common beginning and their common end.
fn changed(before: &str, after: &str) -> (std::ops::Range<usize>, std::ops::Range<usize>) {
    let (a, b) = (before.as_bytes(), after.as_bytes());
    let head = a.iter().zip(b).take_while(|(x, y)| x == y).count();
    let most = a.len().min(b.len()) - head;
    let tail = a.iter().rev().zip(b.iter().rev()).take(most).take_while(|(x, y)| x == y).count();
    (head..a.len() - tail, head..b.len() - tail)
}

/// Every comment of a text, in order.
fn comments(text: &str) -> Vec<&str> {
    // Layouts hold no two slashes inside strings but in addresses of the web.
    let comment =
        |line: &str| line.match_indices("//").map(|(at, _)| at).find(|at| !line[..*at].ends_with(':'));
    text.lines().filter_map(|line| comment(line).map(|at| &line[at..])).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    /// Random steps on the text of every shipped layout: each text reads, each step touches what it is about and
    /// nothing else, and taking all steps back gives the first text, byte for byte.
    #[test]
    fn steps_touch_what_they_are_about_and_are_taken_back_to_the_byte(
        which in 0..layout::SHIPPED.len(),
        steps in proptest::collection::vec((0usize..10, any::<u16>(), 0usize..300), 1..7),
    ) {
        let (name, first) = layout::SHIPPED[which];
        let mut sheet = Sheet::new("unit.bin".into(), Image::raw(vec![0; 512]), Format::Raw);
        sheet.follow(InForce::of_text(PathBuf::from(name), Kept::Shipped, first).unwrap());
        let mut app = App::new(sheet, vec![], (80, 24), Look::default());
        let mut made = 0;
        for (n, (step, seed, at)) in steps.into_iter().enumerate() {
            let before = app.it().layout_text();
            let fields = written_out(&before);
            let (path, place) = fields.get(usize::from(seed) % fields.len().max(1)).cloned().unwrap_or_default();
            let name = format!("new_{n}");
            let field = NewField {
                name: name.clone(),
                inside: None,
                at,
                kind: "Int(bits: 16)".into(),
                scaling: Scaling::typed("0.1 K").unwrap(),
                role: Role::Setting,
                rest: None,
                note: Some("seen at the bench".repeat(seed as usize % 8)).filter(|n| !n.is_empty()),
            };
            let new = match step {
                0 => author::add(&before, &field),
                1 => author::add(&before, &NewField { inside: Some(path.clone()), at: at % 4, ..field }),
                2 => author::change(&before, &path, "note", Some("\"seen\"")),
                3 => author::change(&before, &path, "name", Some(&format!("{name:?}"))),
                4 => author::change(&before, &path, "note", None),
                5 => author::remove(&before, &path),
                6 => author::move_by(&before, &path, 1, at),
                7 => author::stretch(&before, &path, 1 + at % 8),
                8 => author::set_head(&before, "note", Some("\"seen\"")),
                _ => author::table(
                    &before,
                    &NewTable { name, first: Span::of(at, 4), stride: 4, rows: 2, role: Role::Record, columns: vec![] },
                    &[],
                ),
            };
            // Refused, or said already.
            let Some(new) = new.ok().filter(|new| *new != before) else { continue };
            prop_assert!(layout::lint(&new).0.is_some(), "{new}");
            let (gone, come) = changed(&before, &new);
            match step {
                0 | 1 | 9 => prop_assert!(gone.is_empty(), "{:?} is gone", &before[gone]),
                5 => prop_assert!(come.is_empty() || before[gone.clone()].contains(&new[come.clone()]), "{:?}", &new[come]),
                8 => {}
                _ => prop_assert!(
                    place.start <= gone.start && gone.end <= place.end,
                    "{:?} is outside {:?}", &before[gone], &before[place]
                ),
            }
            if step != 5 {
                prop_assert_eq!(comments(&before), comments(&new));
            }
            app.write_layout("step", &new).unwrap();
            made += 1;
        }
        for _ in 0..made {
            prop_assert!(app.undo().unwrap().is_some());
        }
        prop_assert_eq!(&*app.it().layout_text(), first);
        prop_assert!(!app.it().layout_is_modified());
    }
}
