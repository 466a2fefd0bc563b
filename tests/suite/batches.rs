//! Many images in one run: the same as one by one, in their order, whatever is wrong with some of them.

use std::collections::BTreeSet;
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use serde_json::Value;

use crate::faults::Dice;
use crate::support::{Place, Run, package, run};

/// A tree of small images: some by the sample layout, good and bad, most of them of an unknown kind.
fn tree(images: usize) -> Place {
    let place = Place::empty();
    let mut dice = Dice::new(7);
    let samples = ["unit7-read1", "unit7-broken-check", "unit9", "unit7-part-off"];
    for number in 0..images {
        let mut bytes = vec![0xFF; 256];
        let filled = dice.below(200);
        bytes[..filled].fill_with(|| dice.below(256) as u8);
        bytes[208..220].copy_from_slice(format!("FK-CR8-{number:04}B").as_bytes());
        if number % 40 == 3 {
            let sample = samples[number / 40 % samples.len()];
            bytes = std::fs::read(package().join(format!("samples/{sample}.bin"))).unwrap();
        }
        place.file(&format!("reads/{:02}/{number:04}.bin", number % 7), bytes);
    }
    place
}

/// Every file below the folder `reads`, in the order of a walk: files by name, then folders by name.
fn in_order(folder: &Path) -> Vec<PathBuf> {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    let (folders, mut files): (Vec<_>, Vec<_>) = entries.into_iter().partition(|path| path.is_dir());
    files.extend(folders.iter().flat_map(|folder| in_order(folder)));
    files
}

fn lines(run: &Run) -> Vec<Value> {
    run.out()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}")))
        .collect()
}

/// The program on `words`, its output and errors to be read while it runs.
fn start(words: &[&str], folder: &Path) -> Child {
    let mut command = Command::new(env!("CARGO_BIN_EXE_readproof"));
    command.args(words).current_dir(folder).stdin(Stdio::null());
    command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the program starts")
}

#[test]
fn each_line_of_many_is_what_the_image_alone_gives() {
    // Each image alone would take long: some are compared, and the order of all. A survey takes longest.
    for (command, more, images) in
        [("vet", &[][..], 300), ("show", &[], 300), ("find", &["FK-CR8-2047B"], 300), ("survey", &[], 50)]
    {
        let place = tree(images);
        let reads = place.path("reads");
        let folder = reads.to_str().unwrap();
        let files = in_order(&reads);
        let words = |image: &str| -> Vec<String> {
            [command, image]
                .into_iter()
                .chain(more.iter().copied())
                .chain(["--json"])
                .map(str::to_owned)
                .collect()
        };
        let many = run(words(folder));
        let objects = lines(&many);
        assert_eq!(objects.len(), files.len(), "{command}: a line for each image\n{many}");
        for (number, (object, file)) in objects.iter().zip(&files).enumerate() {
            let path = match command {
                "vet" => &object["reads"][0]["path"],
                "show" => &object["image"]["path"],
                "find" => &object["image"],
                _ => &object["images"][0],
            };
            assert_eq!(path, file.to_str().unwrap(), "{command}");
            if number % 20 == 3 {
                assert_eq!(
                    *object,
                    run(words(file.to_str().unwrap())).json(),
                    "{command} {}",
                    file.display()
                );
            }
        }
        assert!(
            many.err().contains(&format!("{images} images"))
                || command == "find" && many.err().contains("of 300"),
            "{command} says how many there were\n{many}"
        );
    }
}

#[test]
fn a_bad_file_is_told_in_its_place_and_stops_nothing() {
    let place = tree(20);
    place.file("reads/00/0000-empty.bin", b"");
    place.file("reads/03/bad.hex", ":0400000001020304F3\n:00000001FF\n");
    for (command, more) in [("vet", None), ("show", None), ("find", Some("0017")), ("survey", None)] {
        let words = [command, "reads"].into_iter().chain(more);
        let text = place.run(words.clone()).expect(2);
        let both = format!("{}{}", text.out(), text.err());
        assert!(both.contains("0000-empty.bin: there are no bytes in it"), "{text}");
        assert!(both.contains("bad.hex:1"), "{text}");
        let json = place.run(words.chain(["--json"])).expect(2);
        let objects = lines(&json);
        assert_eq!(objects.len(), 22, "{json}");
        let errors: Vec<usize> = (0..22).filter(|&n| objects[n].get("error").is_some()).collect();
        // The first of all by its name, and the last of its folder after four, three and three others.
        assert_eq!(errors, [0, 13], "{json}");
    }
}

#[test]
fn the_verdicts_of_a_folder_are_counted_and_the_worst_come_first_when_asked_for() {
    let place = Place::with_samples();
    place.file("samples/empty.bin", b"");
    let plain = place.run(["vet", "samples", "--worst-first"]).expect(2);
    let words: Vec<&str> = plain
        .out()
        .lines()
        .filter(|l| !l.starts_with(' '))
        .filter_map(|l| l.split_whitespace().next())
        .collect();
    let rank = |word: &str| ["unreadable", "unsound", "doubtful", "sound"].iter().position(|w| *w == word);
    let ranks: Vec<_> = words.iter().map_while(|w| rank(w)).collect();
    assert!(ranks.is_sorted() && ranks.first() == Some(&0), "{plain}");
    let (unsound, doubtful) =
        (words.iter().filter(|w| **w == "unsound"), words.iter().filter(|w| **w == "doubtful"));
    let counted = format!("{} doubtful, {} unsound, 1 unreadable", doubtful.count(), unsound.count());
    assert!(plain.out().lines().last().unwrap().contains(&counted), "{plain}");
    // In the usual order the lines are the same.
    let usual = place.run(["vet", "samples"]).expect(2);
    let set = |run: &Run| run.out().lines().map(str::to_owned).collect::<BTreeSet<_>>();
    assert_eq!(set(&plain), set(&usual));
}

#[test]
fn several_reads_are_of_one_chip_unless_each_is_asked_for() {
    let (a, b) = ("samples/unit7-read1.bin", "samples/unit9.bin");
    run(["vet", a, b]).expect(1).says("unsound");
    run(["vet", a, b, "--each"]).expect(0).says("2 images: 2 sound");
    run(["vet", a, b, "--worst-first"]).expect(2).complains("--each");
    run(["vet", "samples", "--majority", "out.bin"]).expect(2).complains("--majority");
    run(["survey", "samples", "--draft", "out.ron"]).expect(2).complains("--draft");
}

#[test]
fn the_exit_status_of_many_is_that_of_the_worst() {
    let place = Place::with_samples();
    place.file("good/a.bin", place.bytes("samples/unit7-read1.bin"));
    place.run(["vet", "good"]).expect(0);
    place.run(["show", "good"]).expect(0);
    place.run(["find", "good", "FK-CR8-2047B"]).expect(0);
    place.file("good/b.bin", place.bytes("samples/unit7-part-off.bin"));
    place.run(["vet", "good"]).expect(1);
    place.run(["show", "good"]).expect(1);
    place
        .run(["find", "good", "FK-CR8-2047B"])
        .expect(0)
        .says("in 1 of 2 images; in 1 other something like it");
    place.run(["find", "good", "FK-CR8-9999Z"]).expect(1);
    place.run(["vet", "good", "absent.bin"]).expect(2).says("absent.bin: there is no such file");
}

#[test]
fn a_folder_without_images_is_no_success() {
    let place = Place::empty();
    place.file("reads/.hidden.bin", b"x");
    for words in [&["vet", "reads"][..], &["show", "reads"], &["find", "reads", "x123"], &["survey", "reads"]]
    {
        place.run(words.iter().copied()).expect(2).complains("no image").complains("1 hidden file");
    }
}

#[test]
fn layouts_beside_an_image_and_in_the_named_folder_are_used() {
    let place = tree(14);
    let layout = "(layout: \"Beside\", format: 1, source: \"a test\", fits: (marks: [(at: 208, hex: \"464B2D435238\")]), \
                  fields: [(name: \"part\", at: 208, kind: Text(bytes: 12), role: Identity)])";
    place.file("reads/02/own.ron", layout);
    let shown = place.run(["show", "reads", "--json"]).expect(1);
    for object in lines(&shown) {
        let own = object["image"]["path"].as_str().unwrap().contains("/02/");
        assert_eq!(object["layout"]["name"] == "own", own, "{object}");
    }
    place.file("reads/all.ron", layout);
    let shown = place.run(["show", "reads", "--json"]);
    for object in lines(&shown) {
        let sample = object["image"]["bytes"] == 8192;
        assert!(sample || !object["layout"].is_null(), "{object}");
    }
}

#[test]
fn a_docket_keeps_named_images_and_no_folders() {
    let place = Place::with_samples();
    place.run(["vet", "samples", "--docket", "job.ron"]).expect(2).complains("Name the images");
    place.run(["docket", "new", "job2.ron", "--job", "store 3"]).expect(0);
    let two = ["samples/unit7-read1.bin", "samples/unit7-broken-check.bin"];
    place.run(["show", two[0], two[1], "--docket", "job2.ron"]).expect(1);
    let docket = place.run(["docket", "check", "job2.ron", "--json"]).json();
    assert_eq!(docket["images"].as_array().unwrap().len(), 2, "{docket}");
    let ran = docket["entries"].as_array().unwrap().last().unwrap();
    assert_eq!(ran["run"]["verdict"], "unsound", "the gravest of all: {docket}");
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_ends_the_run_quietly() {
    let place = tree(300);
    let mut child = start(&["survey", "reads"], place.root());
    let mut first = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut first).unwrap();
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    let status = child.wait().unwrap();
    assert!(first.starts_with("image"), "{first}");
    // Not all were looked at, so it is not 0 either.
    assert_eq!((status.code(), err.as_str()), (Some(2), ""));
}

#[cfg(unix)]
#[test]
fn ctrl_c_stops_between_two_images_and_what_was_told_holds() {
    let place = tree(300);
    let mut child = start(&["survey", "reads", "--json"], place.root());
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut told = String::new();
    out.read_line(&mut told).unwrap();
    let interrupted = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(interrupted.success());
    out.read_to_string(&mut told).unwrap();
    let mut err = String::new();
    child.stderr.take().unwrap().read_to_string(&mut err).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(2), "{err}");
    let lines: Vec<Value> = told.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let (last, images) = lines.split_last().unwrap();
    assert!(
        last["error"]["what"].as_str().unwrap().contains(&format!("after {} image", images.len())),
        "{last}"
    );
    assert!(images.len() < 300 && images.iter().all(|image| image["command"] == "survey"));
    assert!(err.contains("stopped by Ctrl-C"), "{err}");
}

#[test]
fn the_nearest_known_read_is_found_by_part_number_layout_and_bytes() {
    let poor = run(["nearest", "samples/unit7-read3-poor.bin", "samples", "--json"]).expect(0).json();
    let paths: Vec<&str> =
        poor["nearest"].as_array().unwrap().iter().map(|k| k["path"].as_str().unwrap()).collect();
    assert_eq!(paths[..2], ["samples/unit7-read1.bin", "samples/unit7-read2.bin"], "{poor}");
    assert!(poor["nearest"][0]["same_part_number"].is_null(), "its part number was read wrongly: {poor}");
    // The read itself is no known read, its copies are.
    let good = run(["nearest", "samples/unit7-read1.bin", "samples"]).expect(0);
    let good = good
        .says("known read")
        .says("1  100.0 %  same         same    samples/unit7-read2.bin; the same bytes");
    assert!(!good.out().contains("samples/unit7-read1.bin;"), "{good}");
    let larger =
        run(["nearest", "samples/unit7-wrong-size.bin", "samples/unit7-read1.bin", "samples/unit9.bin"]);
    larger.expect(0).says("first 8192 are compared").says("unit7-read1.bin; the same bytes");
    run(["nearest", "samples/unit9.bin", "samples/unit9.bin"])
        .expect(1)
        .complains("")
        .says("Nothing to compare with");
    run(["nearest", "samples/make.rs", "samples/unit9.bin"]).expect(1).says("Nothing near");
}

#[test]
fn a_known_read_that_cannot_be_read_is_told_and_the_nearest_is_found_all_the_same() {
    let place = Place::with_samples();
    place.file("samples/aside/empty.bin", b"");
    let words = ["nearest", "samples/unit9.bin", "samples", "--most", "1"];
    let found = place.run(words).expect(2).complains("aside/empty.bin: there are no bytes in it");
    found.says("samples/unit7-returned.bin;").says("same         same");
    let object = place.run(words.into_iter().chain(["--json"])).expect(2).json();
    assert_eq!(
        (&object["unreadable"], &object["looked_at"]),
        (&Value::from(1), &Value::from(12)),
        "{object}"
    );
}

#[test]
fn what_the_nearest_came_to_is_kept_in_a_docket_and_the_known_reads_are_not() {
    let place = Place::with_samples();
    place.run(["nearest", "samples/unit9.bin", "samples", "--docket", "job.ron", "--json"]).expect(0);
    let docket = place.run(["docket", "check", "job.ron", "--json"]).json();
    assert_eq!(docket["images"].as_array().unwrap().len(), 1, "{docket}");
    let said = docket["entries"].as_array().unwrap().last().unwrap()["run"]["said"].clone();
    assert!(said.as_str().unwrap().contains("unit7-returned.bin"), "{docket}");
}

#[cfg(unix)]
#[test]
fn a_name_that_is_not_plain_stands_in_json_byte_for_byte_as_well() {
    use std::os::unix::ffi::OsStrExt as _;
    let place = Place::with_samples();
    let name: &[u8] = b"it\x1b[2Js \xff.bin";
    let path = place.root().join(std::ffi::OsStr::from_bytes(name));
    std::fs::write(&path, place.bytes("samples/unit7-read1.bin")).unwrap();
    let odd = || path.file_name().unwrap().to_owned();
    let hex: String = name.iter().map(|byte| format!("{byte:02X}")).collect();
    let json = |words: Vec<std::ffi::OsString>| place.run(words.into_iter().chain(["--json".into()])).json();
    let vet = json(vec!["vet".into(), odd()]);
    assert_eq!(vet["reads"][0]["path_bytes"], *hex, "{vet}");
    assert_eq!(vet["reads"][0]["path"], "it\\x1B[2Js \u{fffd}.bin", "{vet}");
    assert_eq!(json(vec!["show".into(), odd()])["image"]["path_bytes"], *hex);
    assert_eq!(json(vec!["find".into(), odd(), "FK-CR8-2047B".into()])["path_bytes"], *hex);
    assert_eq!(json(vec!["survey".into(), odd()])["path_bytes"][0], *hex);
    let plain = || "samples/unit9.bin".into();
    assert_eq!(json(vec!["nearest".into(), plain(), odd()])["nearest"][0]["path_bytes"], *hex);
    let compared = json(vec!["compare".into(), odd(), plain()]);
    assert_eq!(compared["base"]["path_bytes"], *hex, "{compared}");
    assert!(compared["other"].get("path_bytes").is_none(), "a plain name needs none: {compared}");
}
