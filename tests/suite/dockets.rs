//! The record of a job: it grows with every command, tells when an image is no longer the recorded one, and can be
//! given to a customer.

use std::fs;

use crate::support::{Place, Run};

/// A moment for reproducible records: 2026-01-02 03:04:05 UTC.
const MOMENT: (&str, &str) = ("SOURCE_DATE_EPOCH", "1767323045");

fn run(place: &Place, words: &[&str]) -> Run {
    place.run_with(words.iter().copied(), b"", &[MOMENT])
}

/// A whole job: begun, vetted, amended, audited, noted.
fn job(place: &Place) {
    let label = ["--part", "FK-CR8-2047B", "--serial", "2207140312", "--chip", "24C64WP"];
    run(place, &[&["docket", "new", "job.ron", "--job", "Cold store 3"][..], &label].concat()).expect(0);
    let reads = ["samples/unit7-read1.bin", "samples/unit7-read2.bin"];
    run(place, &[&["vet"][..], &reads, &["--docket", "job.ron"]].concat()).expect(0);
    let amend =
        ["amend", reads[0], "--rest", "lockouts", "--reseal", "-o", "changed.bin", "--docket", "job.ron"];
    run(place, &amend).expect(0);
    run(place, &["audit", reads[0], "changed.bin", "--docket", "job.ron"]).expect(0);
    run(place, &["docket", "note", "job.ron", "pressure", "switch", "replaced"]).expect(0);
}

#[test]
fn every_command_adds_what_it_read_said_and_wrote() {
    let place = Place::with_samples();
    job(&place);
    let json = run(&place, &["docket", "report", "job.ron", "--json"]).expect(0).json();
    let kinds: Vec<&str> =
        json["entries"].as_array().unwrap().iter().map(|e| e["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["opened", "label", "ran", "ran", "ran", "note"]);
    assert_eq!(json["label"]["part_number"], "FK-CR8-2047B");
    assert_eq!(json["entries"][0]["at"], "2026-01-02T03:04:05Z");
    let vet = &json["entries"][2]["run"];
    assert_eq!(
        (&vet["command"], &vet["verdict"], &vet["status"]),
        (&"vet".into(), &"sound".into(), &0.into())
    );
    assert!(vet["said"].as_str().unwrap().starts_with("sound: 2 equal reads"), "{vet:#}");
    let roles: Vec<&str> =
        json["images"].as_array().unwrap().iter().map(|i| i["role"].as_str().unwrap()).collect();
    assert_eq!(roles, ["read 1", "read 2", "before", "changed", "after"]);
    // The digest is the one that any program for SHA-256 gives for the file.
    let digest = {
        use sha2::Digest as _;
        let digest = sha2::Sha256::digest(place.bytes("changed.bin"));
        digest.iter().map(|b| format!("{b:02x}")).collect::<String>()
    };
    assert_eq!(json["images"][3]["sha256"], digest.as_str());
}

#[test]
fn every_command_on_images_takes_a_docket() {
    let place = Place::with_samples();
    let image = "samples/unit7-read1.bin";
    let commands: [&[&str]; 6] = [
        &["vet", image],
        &["show", image],
        &["find", image, "FK-CR8-2047B"],
        &["compare", image, "samples/unit9.bin"],
        &["survey", image],
        &["convert", image, "out.hex"],
    ];
    for words in commands {
        run(&place, &[words, &["--docket", "all.ron"]].concat());
    }
    let json = run(&place, &["docket", "check", "all.ron", "--json"]).expect(0).json();
    let entries = json["entries"].as_array().unwrap();
    assert_eq!(entries.len(), commands.len());
    for (entry, words) in entries.iter().zip(commands) {
        assert_eq!(entry["run"]["command"], words[0]);
        assert!(!entry["run"]["said"].as_str().unwrap().is_empty(), "{entry:#}");
    }
    assert!(json["images"].as_array().unwrap().len() >= 5, "{json:#}");
    // What could not be done is kept too.
    run(&place, &["vet", "none.bin", "--docket", "all.ron"]).expect(2);
    run(&place, &["docket", "report", "all.ron"])
        .expect(0)
        .says("vet: could not be done")
        .says("no such file");
}

#[test]
fn an_image_that_is_no_longer_the_recorded_one_is_told() {
    let place = Place::with_samples();
    job(&place);
    run(&place, &["docket", "check", "job.ron"]).expect(0).says("sound: all 5 images are as recorded.");
    place.file("changed.bin", b"another");
    fs::remove_file(place.path("samples/unit7-read2.bin")).unwrap();
    run(&place, &["docket", "check", "job.ron"])
        .expect(1)
        .says("unsound: of 5 images 2 changed since, 1 missing")
        .says("record-differs")
        .says("record-missing");
}

#[test]
fn the_page_for_a_customer_holds_everything_and_fetches_nothing() {
    let place = Place::with_samples();
    job(&place);
    run(&place, &["docket", "note", "job.ron", "<b>bold</b> & \"quoted\""]).expect(0);
    run(&place, &["docket", "report", "job.ron", "--html", "job.html"])
        .expect(0)
        .says("Written to job.html.");
    let page = String::from_utf8(place.bytes("job.html")).unwrap();
    for wanted in [
        "<title>Cold store 3</title>",
        "FK-CR8-2047B",
        "safe to write: 59 bytes changed",
        "&lt;b&gt;bold&lt;/b&gt; &amp; &quot;quoted&quot;",
        "lockouts[0].cause",
        "pressure switch replaced",
        "isolate the mains supply",
        "The refrigerant circuit is pressure equipment.",
        "<main>",
        "prefers-color-scheme:dark",
        "counter(page)",
    ] {
        assert!(page.contains(wanted), "{wanted} is not on the page");
    }
    for never in ["<script", "<link", "<img", "http:", "https:", "url(", "@import", "javascript:", " onload"]
    {
        assert!(!page.contains(never), "{never} is on the page");
    }
    // Two different contents, and the image before with its changes twice: for amend and for audit.
    assert_eq!(page.matches("<svg ").count(), 5, "reads, changed and two change lists");
    assert_eq!(page.matches("<svg ").count(), page.matches("</svg>").count());
    run(&place, &["docket", "report", "job.ron", "--html", "job.html"]).expect(2).complains("job.html");
    let again = place.path("again.html");
    run(&place, &["docket", "report", "job.ron", "--html", "again.html"]).expect(0);
    assert_eq!(fs::read(again).unwrap(), place.bytes("job.html"), "the same record gives the same page");
}

#[test]
fn cautions_of_layouts_are_kept_once_and_old_records_without_them_are_read() {
    let place = Place::with_samples();
    job(&place);
    let json = run(&place, &["docket", "check", "job.ron", "--json"]).expect(0).json();
    assert!(json["cautions"].as_array().unwrap().len() >= 2, "{json:#}");
    run(&place, &["docket", "report", "job.ron"]).expect(0).says("isolate the supply and lock it off");
    // Before cautions were kept, an entry ended without them.
    let text = String::from_utf8(place.bytes("job.ron")).unwrap();
    let mut old = String::new();
    let mut rest = text.as_str();
    while let Some(at) = rest.find("cautions: [") {
        old.push_str(&rest[..at]);
        rest = rest[at..].split_once("],").unwrap().1;
    }
    place.file("job.ron", old + rest);
    let json = run(&place, &["docket", "check", "job.ron", "--json"]).expect(0).json();
    assert_eq!(json["cautions"].as_array().unwrap().len(), 0, "{json:#}");
    assert_eq!(json["entries"].as_array().unwrap().len(), 6);
}

#[test]
fn a_docket_cut_short_is_read_and_kept_as_it_was_before_it_grows() {
    let place = Place::with_samples();
    job(&place);
    let whole = String::from_utf8(place.bytes("job.ron")).unwrap();
    let cut = &whole[..whole.find("command: \"audit\"").unwrap()];
    place.file("job.ron", cut);
    run(&place, &["docket", "report", "job.ron"])
        .expect(1)
        .says("a part of the docket makes no sense")
        .says("docket-damaged")
        .says("amend: sound");
    run(&place, &["docket", "note", "job.ron", "after the crash"])
        .expect(0)
        .complains("kept as it was in job.ron.damaged-1");
    assert_eq!(place.bytes("job.ron.damaged-1"), cut.as_bytes());
    run(&place, &["docket", "report", "job.ron"]).expect(0).says("after the crash").says("amend: sound");
}

#[test]
fn slips_are_told_and_write_nothing() {
    let place = Place::with_samples();
    run(&place, &["docket", "note", "jbo.ron", "x"]).expect(2).complains("no such file");
    assert!(!place.path("jbo.ron").exists());
    run(&place, &["docket", "new", "job.ron"]).expect(0);
    run(&place, &["docket", "new", "job.ron"]).expect(2).complains("job.ron");
    run(&place, &["docket", "label", "job.ron"]).expect(2).complains("there is nothing to keep");
    run(&place, &["docket", "check", "samples/unit7.hex"]).expect(2).complains("this is no docket");
    let layout = "layouts/frostkeel-cr8.ron";
    let before = place.bytes(layout);
    run(&place, &["show", "samples/unit9.bin", "--docket", layout]).expect(2).complains("this is no docket");
    assert_eq!(place.bytes(layout), before);
}

#[test]
fn a_docket_moves_with_its_images() {
    let place = Place::with_samples();
    job(&place);
    for name in ["job.ron", "changed.bin", "samples"] {
        fs::create_dir_all(place.path("moved")).unwrap();
        fs::rename(place.path(name), place.path("moved").join(name)).unwrap();
    }
    run(&place, &["docket", "check", "moved/job.ron"]).expect(0);
    run(&place, &["docket", "image", "moved/job.ron", "moved/changed.bin", "--as", "approved"]).expect(0);
    run(&place, &["docket", "check", "moved/job.ron"]).expect(0).says("approved");
}

#[test]
fn what_a_command_said_is_kept_when_it_prints_json_too() {
    let place = Place::with_samples();
    let read = "samples/unit7-read1.bin";
    for words in [
        &["vet", read][..],
        &["show", read],
        &["find", read, "FK-CR8-2047B"],
        &["survey", read],
        &["hunt", read],
        &["compare", read, "samples/unit9.bin"],
        &["audit", read, "samples/unit7-returned.bin"],
        &["convert", "samples/unit7.hex", "out.s19"],
        &["checks", "CRC-16/XMODEM", read],
        &["chips", "564"],
        &["layouts", "layouts/frostkeel-cr8.ron"],
    ] {
        place.run(words.iter().copied().chain(["--docket", "job.ron", "--json"]));
        let docket = place.run(["docket", "check", "job.ron", "--json"]).json();
        let said = docket["entries"].as_array().unwrap().last().unwrap()["run"]["said"].clone();
        assert!(said.as_str().is_some_and(|said| said.len() > 10), "{words:?}: {said}");
    }
}

#[cfg(unix)]
#[test]
fn an_image_whose_name_is_no_text_is_as_recorded_and_named_byte_for_byte() {
    use std::os::unix::ffi::OsStrExt as _;
    let place = Place::with_samples();
    job(&place);
    let name = std::ffi::OsStr::from_bytes(b"unit\xff7.bin");
    std::fs::write(place.root().join(name), place.bytes("samples/unit7-read1.bin")).unwrap();
    place.run(["vet".as_ref(), name, "--docket".as_ref(), "job.ron".as_ref()]).expect(0);
    let docket = place.run(["docket", "check", "job.ron", "--json"]).expect(0).json();
    let image = docket["images"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (&image["state"], &image["path_bytes"]),
        (&"as recorded".into(), &"756E6974FF372E62696E".into())
    );
}
