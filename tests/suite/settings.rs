//! The editor's settings: found, looked through, begun, and never in the way.

use std::fs;

use readproof::tui::settings;
use readproof::tui::theme::Tone;

use crate::support::{Place, assert_same_text, package, rewriting};

const OPEN: [&str; 4] = ["samples/unit7-read1.bin", "--size", "100x30", "--dump"];

#[test]
fn without_a_file_the_command_says_where_it_would_be_and_how_to_begin_one() {
    let place = Place::empty();
    let path = place.path("config/readproof/settings.ron");
    place.run(["settings"]).expect(0).says(&path.display().to_string()).says("settings --start");
    place.run(["settings", "--start"]).expect(0).says("Wrote");
    let begun = fs::read(&path).unwrap();
    place.run(["settings"]).expect(0).says("no problems");
    place.run(["settings", "--start"]).expect(2).complains("settings.ron");
    assert_eq!(fs::read(&path).unwrap(), begun, "what is there is never written over");
}

#[test]
fn a_bad_file_is_told_with_places_and_never_stops_the_editor() {
    let place = Place::with_samples();
    let text = "(settings: 1,\n theme: (accent: \"#12345\"),\n keys: {\"fnid\": [\"F3\"]})";
    let path = place.file("config/readproof/settings.ron", text);
    let run = place.run(["settings"]).expect(1);
    let run = run.says("settings.ron:2:18").says("\"#12345\" is no colour").says("settings.ron:3:9");
    run.says("did you mean find?");
    let screen = place.run(OPEN).expect(0);
    screen.says("Settings not in force").says("FKCR8");
    let page = place.run(OPEN.into_iter().chain(["--keys", "Ctrl-K \"settings\" Enter"])).expect(0);
    page.says("Nothing of it is in force").says("is no colour").says("fnid");
    assert_eq!(fs::read_to_string(&path).unwrap(), text);
    // What is no text, or no file, is not in the way either.
    fs::write(&path, b"(settings: 1, \xFF)").unwrap();
    place.run(OPEN).expect(0).says("is no UTF-8");
    place.run(["settings"]).expect(2).complains("0xFF");
    fs::remove_file(&path).unwrap();
    fs::create_dir(&path).unwrap();
    place.run(OPEN).expect(0).says("Settings not in force");
    place.run(OPEN.into_iter().chain(["--settings", "none.ron"])).expect(0).says("no such file");
}

#[test]
fn keys_and_glyphs_that_are_set_are_in_force_and_on_the_screen() {
    let place = Place::with_samples();
    place.file(
        "config/readproof/settings.ron",
        r#"(settings: 1, glyphs: Ascii, keys: {"unlock": ["F4"], "go-to": ["Ctrl-G", "F5"], "help": ["F1"]})"#,
    );
    let run = place.run(OPEN).expect(0).says("F4 unlock").says("F1 help");
    assert!(run.out().is_ascii(), "{run}");
    let keys = ["--keys", "F5 \"50\" Enter 9"];
    place.run(OPEN.into_iter().chain(keys)).expect(0).says("press F4 to unlock");
    let help = place.run(OPEN.into_iter().chain(["--keys", "F1 \"unlock\""])).expect(0);
    help.says("F4 ").says("Allow this image to be changed");
    let prompt = place.run(OPEN.into_iter().chain(["--keys", "Ctrl-K \"go-to\""])).expect(0);
    prompt.says("Ctrl-G F5");
    // Another file, named on the command line.
    let other = place.file("other.ron", "(settings: 1)");
    let words = OPEN.into_iter().map(str::to_owned).chain(["--settings".into(), other.display().to_string()]);
    place.run(words).expect(0).says("Ctrl-U unlock");
}

#[test]
fn a_key_that_is_taken_from_another_command_is_told_but_no_problem() {
    let place = Place::empty();
    let file = place.file("mine.ron", r#"(settings: 1, keys: {"fill": ["Ctrl-F"]})"#);
    let run = place.run([std::ffi::OsStr::new("settings"), file.as_os_str()]).expect(0);
    run.says("1 remark").says("Ctrl-F gives fill in Bytes, and no longer find");
    let place = Place::with_samples();
    place.file("config/readproof/settings.ron", r#"(settings: 1, keys: {"fill": ["Ctrl-F"]})"#);
    let page = place.run(OPEN.into_iter().chain(["--keys", "Ctrl-K \"settings\" Enter"])).expect(0);
    page.says("It is in force").says("Ctrl-F gives fill in Bytes");
}

#[test]
fn the_page_on_settings_shows_a_good_file_and_every_tone() {
    let path = package().join("docs/settings.md");
    let page = fs::read_to_string(&path).unwrap().replace("\r\n", "\n");
    let block = page.split("```ron\n").nth(1).and_then(|b| b.split("```").next()).unwrap();
    let (read, remarks) = settings::read(block);
    assert!(read.is_some() && remarks.is_empty(), "{remarks:?}");
    let rows: String = Tone::ALL.iter().map(|t| format!("| `{}` | {} |\n", t.name(), t.doc())).collect();
    let head = "| name | for |\n| --- | --- |\n";
    let (before, rest) = page.split_once(head).unwrap();
    let after = &rest[rest.find("## Keys").unwrap()..];
    let wanted = format!("{before}{head}{rows}\n{after}");
    if rewriting() {
        fs::write(&path, wanted).unwrap();
    } else {
        assert_same_text("docs/settings.md", &page, &wanted);
    }
}
