//! What a newcomer meets: the page without arguments, the tour, the samples, errors that lead on.

use std::fs;

use readproof::store;

use crate::support::{Place, package};

/// Every step of the tour, by the keys that the strip names.
const STEPS: [&str; 9] = [
    "Tab*4",
    "Ctrl-F \"FK-CR8-2047B\" Enter",
    "Ctrl-G \"lockouts\" Enter",
    "Ctrl-U",
    "Tab*2 Delete \"r\"",
    "Ctrl-R",
    "Ctrl-W Esc",
    "Ctrl-S Enter",
    "t Ctrl-G \"serial\" Enter",
];

#[test]
fn the_page_without_arguments_names_commands_that_work_as_they_stand() {
    let place = Place::empty();
    let page = place.run::<_, &str>([]).expect(0).says("readproof tour").says("readproof samples");
    place.run(["samples"]).expect(0);
    let page = page.out().to_owned();
    let commands =
        page.lines().filter_map(|l| l.strip_prefix("  readproof ")).filter(|l| l.contains("samples/"));
    let mut statuses = Vec::new();
    for command in commands {
        let words = command.split(' ');
        let run = place.run(words.chain(command.starts_with("samples/").then_some("--dump")));
        statuses.push(run.status());
    }
    assert_eq!(statuses, [0, 0, 0, 1, 0], "{page}");
}

#[test]
fn the_samples_in_the_program_are_those_of_the_repository_and_never_overwrite_anything() {
    let place = Place::empty();
    place.run(["samples", "practice"]).expect(0).says("practice/unit7-read1.bin");
    for (name, bytes) in store::SAMPLES {
        assert_eq!(fs::read(package().join("samples").join(name)).unwrap(), *bytes, "{name}");
        assert_eq!(place.bytes(&format!("practice/{name}")), *bytes, "{name}");
    }
    place.run(["samples", "practice"]).expect(2).complains("Name a new folder");
}

#[test]
fn the_whole_tour_can_be_played_and_proves_the_write_at_its_end() {
    let place = Place::empty();
    let keys = STEPS.join(" ");
    let run = place.run(["tour", "--folder", "practice", "--keys", &keys, "--dump"]).expect(0);
    let run = run.says("all steps in the editor are done").says("not safe to write").says("written exactly");
    run.says("The files of the tour are in practice");
    assert_eq!(
        place.bytes("practice/unit7-read1.bin"),
        place.bytes("practice/unit7-read2.bin"),
        "the original stays"
    );
    assert!(place.path("practice/unit7-read1-changed.bin").exists());
}

#[test]
fn a_step_counts_only_once_it_was_done_and_the_tour_can_be_left_at_any() {
    let place = Place::empty();
    for done in 0..STEPS.len() {
        let keys = STEPS[..done].join(" ");
        let run =
            place.run(["tour", "--folder", "practice", "--remove", "--keys", &keys, "--dump"]).expect(1);
        run.says(&format!("Step {} of 9", done + 1)).says("left the tour");
        assert!(!place.path("practice").exists(), "removed as asked");
    }
}

#[test]
fn the_strip_of_the_tour_leaves_room_for_the_panes_at_every_size() {
    let place = Place::empty();
    for size in ["34x8", "60x12", "80x24", "200x60"] {
        let run = place.run(["tour", "--folder", "practice", "--remove", "--size", size, "--dump"]).expect(1);
        run.says("Step 1 of 9").says("46 4B");
    }
}

/// Slips that people make, each of which must be answered by the next thing to try.
const SLIPS: &[&[&str]] = &[
    &["nowhere.bin", "--dump"],
    &["vet", "nowhere.bin"],
    &["vett"],
    &["--dump"],
    &["samples/unit7-read1.bin"],
    &["samples/unit7-read1.bin", "--chip", "24C65X", "--dump"],
    &["vet", "samples/unit7-read1.bin", "--chip", "24C65X"],
    &["vet", "samples/unit7-read1.bin", "--layout", "frostkeel"],
    &["vet", "samples/unit7-read1.bin", "--expect", "part_nmber=FK-CR8-2047B"],
    &["show", "samples/unit7-read1.bin", "--field", "lockuots"],
    &["show", "samples/unit7-read1.bin", "--layout", "nowhere.ron"],
    &["compare", "samples/unit7-read1.bin", "samples/unit9.bin", "--units", "7"],
    &["amend", "samples/unit7-read1.bin", "-o", "samples/unit9.bin", "--rest", "lockouts", "--reseal"],
    &["amend", "samples/unit7-read1.bin", "-o", "new.bin", "--set", "setpont=3"],
    &["amend", "samples/unit7-read1.bin", "-o", "new.bin", "--set", "setpoint=warm"],
    &["convert", "samples/unit7-read1.bin", "samples/unit7.hex"],
    &["checks", "CRC-16/XMODM"],
    &["layouts", "nowhere.ron"],
    &["layouts", "--print", "frostkel-cr8"],
    &["survey", "nowhere.bin"],
    &["hunt", "nowhere.bin"],
    &["docket", "show", "nowhere.ron"],
    &["samples/unit7-read1.bin", "--picture", "samples/unit9.bin"],
    &["samples/unit7-read1.bin", "--keys", "Crtl-U", "--dump"],
    &["tour", "--folder", "samples"],
    &["tour", "--json"],
];

#[test]
fn every_error_says_what_to_try_next() {
    let place = Place::with_samples();
    let mut silent = Vec::new();
    for slip in SLIPS {
        let run = place.run(slip.iter().copied()).expect(2);
        // What to do stands on lines of its own, which stand in.
        let leads_on = run.err().lines().any(|l| l.starts_with("  ") && l.trim_end().ends_with(['.', '?']));
        if !leads_on && !run.err().contains("--help") {
            silent.push(format!("{slip:?}\n{}", run.err()));
        }
    }
    assert!(silent.is_empty(), "{}", silent.join("\n"));
}
