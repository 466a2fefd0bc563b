//! Is this changed file safe to write? Rulings on the samples and on published memories.

use readproof::image::{Format, Image};
use readproof::tui::annotate::{InForce, Kept};
use readproof::tui::app::App;
use readproof::tui::player::Player;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;

use crate::support::{Place, corpus, package, run};

fn sample(name: &str) -> String {
    package().join("samples").join(name).to_string_lossy().into_owned()
}

fn audit(after: &str) -> crate::support::Run {
    run(["audit", &sample("unit7-read1.bin"), &sample(after)])
}

fn codes(json: &serde_json::Value) -> Vec<&str> {
    json["findings"].as_array().unwrap().iter().map(|f| f["code"].as_str().unwrap()).collect()
}

#[test]
fn a_unit_after_service_is_safe_and_the_cautions_are_printed() {
    audit("unit7-serviced.bin")
        .expect(0)
        .says("safe to write: 1223 bytes changed")
        .says("caution  The board switches mains")
        .says("pressure equipment")
        .says("caution  lockouts: find and mend the cause first")
        .says("readproof vet READBACK --must-equal");
}

#[test]
fn a_file_that_came_back_with_another_units_identity_is_not_safe() {
    let run = audit("unit7-returned.bin").expect(1);
    assert!(run.out().starts_with("not safe to write: identity and calibration both differ"), "{run}");
    assert!(
        run.out().contains("caution  lockouts: find and mend the cause first"),
        "it returns lockouts to rest\n{run}"
    );
    let words = ["audit", &sample("unit7-read1.bin"), &sample("unit7-returned.bin"), "--json"];
    let json = crate::support::run(words).expect(1).json();
    assert_eq!((&json["verdict"], &json["ruling"]), (&"unsound".into(), &"not safe to write".into()));
    assert_eq!(
        codes(&json),
        ["other-unit", "identity-changed", "calibration-changed", "resealed-over-identity", "records-rested"]
    );
    let refused: Vec<_> =
        json["changes"].as_array().unwrap().iter().filter(|c| c["allowed"] == false).collect();
    assert!(refused.iter().any(|c| c["fields"][0] == "serial" && c["why"] == "Identity must stay"));
}

#[test]
fn a_change_of_which_no_layout_warns_gets_the_usual_caution() {
    let words = ["audit", &sample("unit7-read1.bin"), &sample("unit7-serviced.bin"), "--layout", "none"];
    let told = crate::support::run(words).expect(1);
    let flat = told.out().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("caution Where the board switches mains, or looks after gas, refrigerant"),
        "{told}"
    );
    assert!(
        flat.contains("Follow the maker's instructions, and leave licensed work to licensed people."),
        "{told}"
    );
    let same = ["audit", &sample("unit7-read1.bin"), &sample("unit7-read2.bin"), "--layout", "none"];
    assert!(!crate::support::run(same).out().contains("caution"), "nothing changed");
}

#[test]
fn the_editor_clears_no_record_of_which_no_layout_warns_without_the_usual_caution() {
    const SILENT: &str = r#"(layout: "Silent", format: 1, source: "invented for this test",
        fields: [(name: "lockout", at: 0, kind: Int(bits: 8), role: Record, rest: 0xFF)])"#;
    let mut sheet = Sheet::new("unit.bin".into(), Image::raw(vec![7; 64]), Format::Raw);
    sheet.follow(InForce::of_text("silent.ron".into(), Kept::Nowhere, SILENT).unwrap());
    let mut player = Player::new(App::new(sheet, Vec::new(), (100, 30), Look::default()));
    player.play("Ctrl-U Tab Delete").unwrap();
    let screen = player.screen();
    assert!(
        screen.contains("Return lockout to rest?") && screen.contains("Where the board switches mains"),
        "{screen}"
    );
    assert_eq!(player.app.it().image().bytes()[0], 7, "nothing is done before it is answered");
    player.play("r").unwrap();
    assert_eq!(player.app.it().image().bytes()[0], 0xFF);
}

#[test]
fn the_record_of_a_job_keeps_the_cautions_of_its_changes() {
    let place = crate::support::Place::with_samples();
    place.run(["docket", "new", "job.ron", "--job", "cold store 3"]).expect(0);
    place
        .run(["audit", "samples/unit7-read1.bin", "samples/unit7-serviced.bin", "--docket", "job.ron"])
        .expect(0);
    place.run(["docket", "report", "job.ron"]).expect(0).says("caution  The board switches mains");
    place.run(["docket", "report", "job.ron", "--html", "job.html"]).expect(0);
    let page = String::from_utf8(place.bytes("job.html")).unwrap();
    assert!(page.contains("A high-pressure lockout is cleared only by licensed people"), "{page}");
    let json = place.run(["docket", "report", "job.ron", "--json"]).expect(0).json();
    let cautions = json["entries"][1]["run"]["cautions"].as_array().unwrap();
    assert_eq!(cautions.len(), 3, "{json:#}");
}

#[test]
fn one_wrong_letter_in_the_part_number_is_told_to_the_character() {
    audit("unit7-part-off.bin").expect(1).says("part_number from FK-CR8-2047B to\nFK-CR8-2O47B");
}

#[test]
fn a_stale_check_names_stored_and_computed() {
    audit("unit7-broken-check.bin").expect(1).says("the check settings is wrong: 8050 is stored, 7456 is");
}

#[test]
fn another_size_and_a_poor_read_are_told_first() {
    audit("unit7-wrong-size.bin").expect(1).says("not safe to write: the changed image has 16384 bytes");
    audit("unit7-read3-poor.bin").expect(1).says("bytes differ by a single bit");
}

#[test]
fn an_equal_read_is_safe_because_it_is_the_same() {
    audit("unit7-read2.bin").expect(0).says("safe to write: the two images are the same.");
}

#[test]
fn named_changes_are_allowed_and_nothing_else() {
    let (before, after) = (sample("unit7-read1.bin"), sample("unit7-returned.bin"));
    run(["audit", &before, &after, "--allow", "serial"]).expect(1).says("calibration-changed");
    run(["audit", &before, &after, "--allow", "serial,calibration"]).expect(0).says("Identity, named");
    run(["audit", &before, &after, "--allow", "0x0050..0x00C0"]).expect(0);
    run(["audit", &before, &after, "--allow", "serail"]).expect(2).complains("Did you mean serial?");
    run(["audit", &before, &after, "--allow", "0x9000..0x9001"])
        .expect(2)
        .complains("does not lie in the image");
}

#[test]
fn without_a_layout_the_ruling_is_weaker_and_says_so() {
    let (before, after) = (sample("unit7-read1.bin"), sample("unit7-serviced.bin"));
    run(["audit", &before, &after, "--layout", "none"]).expect(1).says("no-layout");
    let off = sample("unit7-part-off.bin");
    run(["audit", &before, &off, "--layout", "none"])
        .expect(1)
        .says("not safe to write: text at 0x0040 changed from \"FK-CR8-2047B\" to \"FK-CR8-2O47B\".");
}

/// A base block: header, maker, serial and version, all else zero, its bytes summing to zero.
/// VESA Enhanced EDID Standard, release A revision 2, section 3.
fn edid(serial: u32) -> Vec<u8> {
    let mut bytes = vec![0; 128];
    bytes[..8].copy_from_slice(&[0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0]);
    bytes[8..10].copy_from_slice(&[0x1A, 0x64]);
    bytes[12..16].copy_from_slice(&serial.to_le_bytes());
    bytes[18..20].copy_from_slice(&[1, 3]);
    let sum = bytes.iter().fold(0_u8, |s, b| s.wrapping_add(*b));
    bytes[127] = sum.wrapping_neg();
    bytes
}

#[test]
fn a_monitors_changed_serial_is_refused_with_a_stale_sum_and_with_a_right_one() {
    let place = Place::empty();
    let before = place.file("before.bin", edid(1001));
    let mut stale = edid(1001);
    stale[12..16].copy_from_slice(&1002_u32.to_le_bytes());
    let stale = place.file("stale.bin", stale);
    let audit = |after: &std::path::Path, more: &[&str]| {
        let mut words = vec!["audit".into(), before.clone().into_os_string(), after.into(), "--json".into()];
        words.extend(more.iter().map(Into::into));
        place.run(words)
    };
    let json = audit(&stale, &[]).expect(1).json();
    assert!(codes(&json).contains(&"identity-changed") && codes(&json).contains(&"check-broken"), "{json:#}");
    let right = place.file("right.bin", edid(1002));
    let json = audit(&right, &[]).expect(1).json();
    assert!(codes(&json).contains(&"resealed-over-identity"), "{json:#}");
    assert!(!codes(&json).contains(&"check-broken"), "{json:#}");
    let serial = json["fields"].as_array().unwrap().iter().find(|f| f["path"] == "serial_number").unwrap();
    assert_eq!((&serial["before"]["value"], &serial["after"]["value"]), (&1001.into(), &1002.into()));
    audit(&right, &["--allow", "serial_number"]).expect(0);
}

#[test]
fn a_memory_modules_changed_part_number_is_refused_although_no_check_covers_it() {
    let Some(corpus) = corpus() else { return };
    // JEDEC 21-C, annex L: the part number stands at 329 to 348, which neither CRC covers.
    let path = corpus.join("spd/ddr4-samsung-k4aag165wa-bctd.bin");
    let mut bytes = std::fs::read(&path).unwrap();
    let place = Place::empty();
    bytes[330] ^= 0x02;
    let after = place.file("after.bin", &bytes);
    let json = place.run(["audit".into(), path, after, "--json".into()]).expect(1).json();
    assert_eq!(codes(&json), ["identity-changed"], "{json:#}");
    assert!(json["checks"].as_array().unwrap().iter().all(|c| c["after"]["sealed"] == true), "{json:#}");
}

#[test]
fn the_editor_says_so_when_a_field_is_copied_from_an_image_whose_check_is_broken() {
    let keys = "t o Ctrl-U o Tab Ctrl-X";
    let copied = |from: &str, to: &str| {
        run([&sample(from), &sample(to), "--keys", keys, "--size", "150x30", "--dump"])
            .expect(0)
            .out()
            .to_owned()
    };
    let doubt = "A check of the image that was copied from is not right: settings";
    let screen = copied("unit7-broken-check.bin", "unit7-read1.bin");
    assert!(screen.contains(doubt) && screen.contains("Copied settings.setpoint across"), "{screen}");
    let screen = copied("unit9.bin", "unit7-read1.bin");
    assert!(!screen.contains("copied from") && screen.contains(" across"), "{screen}");
}
