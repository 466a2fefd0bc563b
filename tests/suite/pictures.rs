//! Screens and images as pictures. Those of the documentation are drawn again and compared; `READPROOF_REWRITE=1`
//! writes them. An independent reader of XML says whether they are whole.

use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

use readproof::report::text;

use crate::support::{Place, Run, assert_same_text, files_below, package, rewriting};

/// Name, size, images, keys, ground.
type Screen = (&'static str, &'static str, &'static [&'static str], &'static str, &'static str);

const SCREENS: &[Screen] = &[
    ("open", "100x30", &["samples/unit7-read1.bin"], "Ctrl-G \"lockouts[1].cause\" Enter", "dark"),
    ("broken-check", "140x40", &["samples/unit7-broken-check.bin"], "Ctrl-N", "dark"),
    ("twin", "124x36", &["samples/unit7-read1.bin", "samples/unit7-returned.bin"], "t Ctrl-N", "dark"),
    (
        "review",
        "100x30",
        &["samples/unit7-read1.bin"],
        "Ctrl-U Ctrl-G \"setpoint\" Enter Ctrl-E \"3.5\" Enter Ctrl-R Ctrl-W",
        "light",
    ),
    ("tour", "100x30", &["tour", "--folder", "practice"], "Tab*4 Ctrl-F \"FK-CR8-2047B\" Enter", "dark"),
];

/// Name, and the command that draws it.
const DRAWN: &[(&str, &[&str])] = &[
    ("returned", &["compare", "samples/unit7-read1.bin", "samples/unit7-returned.bin"]),
    ("unit7", &["show", "samples/unit7-read1.bin"]),
    ("unknown", &["survey", "samples/unit7-read1.bin", "samples/unit9.bin", "--layout", "none"]),
];

fn names() -> Vec<&'static str> {
    SCREENS.iter().map(|s| s.0).chain(DRAWN.iter().map(|d| d.0)).collect()
}

fn drawn(place: &Place, words: &[&str], file: &str) -> String {
    let run: Run = place.run(words.iter().copied().chain(["--picture", file]));
    assert!(run.status() < 2, "{}", run.err());
    String::from_utf8(place.bytes(file)).unwrap()
}

#[test]
fn the_pictures_of_the_documentation_are_what_the_program_draws() {
    let folder = package().join("docs/pictures");
    let place = Place::with_samples();
    let screens = SCREENS.iter().map(|(name, size, images, keys, ground)| {
        (*name, [*images, &["--keys", keys, "--size", size, "--ground", ground]].concat())
    });
    let images = DRAWN.iter().map(|(name, words)| (*name, words.to_vec()));
    for (name, words) in screens.chain(images) {
        let file = format!("{name}.svg");
        let drawn = drawn(&place, &words, &file);
        if rewriting() {
            fs::create_dir_all(&folder).unwrap();
            fs::write(folder.join(&file), drawn).unwrap();
        } else {
            assert_same_text(&file, &fs::read_to_string(folder.join(&file)).unwrap_or_default(), &drawn);
        }
    }
    assert_eq!(files_below(&folder).len(), names().len(), "a picture that nobody draws");
}

#[test]
fn every_picture_is_shown_somewhere_and_every_one_shown_is_there() {
    let mut pages = files_below(&package().join("docs"));
    pages.retain(|p| p.extension().is_some_and(|e| e == "md"));
    pages.push(package().join("README.md"));
    let text: String = pages.iter().map(|p| fs::read_to_string(p).unwrap()).collect();
    for name in names() {
        assert!(text.contains(&format!("pictures/{name}.svg)")), "{name}");
    }
    let shown = text.split("pictures/").skip(1).filter_map(|rest| rest.split_once(".svg)"));
    for (name, _) in shown {
        assert!(names().contains(&name), "{name}");
    }
}

/// Whole, told in words, and nothing that is fetched, run or named twice.
#[track_caller]
fn assert_whole(name: &str, svg: &str) {
    let read = roxmltree::Document::parse(svg).unwrap_or_else(|e| panic!("{name}: {e}\n{svg}"));
    let root = read.root_element();
    assert_eq!((root.tag_name().name(), root.attribute("role")), ("svg", Some("img")), "{name}");
    for id in root.attribute("aria-labelledby").unwrap().split(' ') {
        let told = read.descendants().find(|n| n.attribute("id") == Some(id)).and_then(|n| n.text());
        assert!(told.is_some_and(|t| !t.trim().is_empty()), "{name}: {id}");
    }
    let mut ids = BTreeSet::new();
    for node in read.descendants() {
        assert!(
            !["script", "image", "foreignObject", "use", "a"].contains(&node.tag_name().name()),
            "{name}"
        );
        for attribute in node.attributes() {
            assert!(!attribute.name().starts_with("on") && !attribute.value().contains("NaN"), "{name}");
        }
        if let Some(id) = node.attribute("id") {
            assert!(ids.insert(id.to_owned()), "{name}: {id} twice");
        }
    }
    for part in svg.split("url(").skip(1) {
        let id = part.strip_prefix('#').and_then(|p| p.split(')').next()).unwrap_or_default();
        assert!(ids.contains(id), "{name}: url({id}) leads nowhere");
    }
    assert_eq!(svg.matches("http").count(), 1, "{name}: only the name of SVG itself");
}

#[test]
fn every_picture_is_whole_by_an_independent_reader() {
    for name in names() {
        let file = package().join(format!("docs/pictures/{name}.svg"));
        assert_whole(name, &fs::read_to_string(file).unwrap());
    }
}

#[test]
fn a_picture_holds_the_screen_as_text_and_never_overwrites() {
    let place = Place::with_samples();
    let words = ["samples/unit7-read1.bin", "--picture", "screen.svg"];
    place.run(words).expect(0);
    let svg = String::from_utf8(place.bytes("screen.svg")).unwrap();
    assert!(svg.contains("<title id=\"title\">readproof, unit7-read1.bin</title>"), "{svg}");
    assert!(svg.contains(">part_number</text>") && svg.contains(">FK-CR8-2047B</text>"), "{svg}");
    place.run(words).expect(2).complains("screen.svg");
}

#[test]
fn a_picture_of_an_image_names_its_fields_and_tells_its_cautions() {
    let place = Place::with_samples();
    let svg = drawn(&place, &["show", "samples/unit7-read1.bin"], "one.svg");
    for told in [
        "part_number FK-CR8-2047B",
        "lockouts: 16 rows, 24 fields recorded",
        "Caution: The board switches mains",
    ] {
        assert!(svg.matches(told).count() >= 2, "{told} is told in sight and to who cannot see it");
    }
    let svg = drawn(&place, &["show", "samples/unit7-broken-check.bin"], "broken.svg");
    assert!(svg.contains("check settings: broken"), "{svg}");
    place.run(["show", "samples/unit7-read1.bin", "--picture", "one.svg"]).expect(2).complains("one.svg");
    place
        .run(["show", "samples", "--picture", "all.svg"])
        .expect(2)
        .complains("a picture is drawn of one image");
    assert!(!place.path("all.svg").exists());
}

#[test]
fn a_picture_of_several_images_says_what_differs_and_in_which() {
    let place = Place::with_samples();
    let (read, returned) = ("samples/unit7-read1.bin", "samples/unit7-returned.bin");
    let svg = drawn(&place, &["compare", read, returned], "two.svg");
    assert!(
        svg.contains("serial: 2207140312 to 2207140347") && svg.contains("lockouts: 24 fields went to rest")
    );
    let svg = drawn(&place, &["compare", read, "samples/unit9.bin", "samples/unit12.bin"], "three.svg");
    assert!(svg.contains("serial, in 2 and 3") && svg.contains("other in each unit"), "{svg}");
    assert_whole("three", &svg);
    let bytes = place.bytes(read);
    let moved = [&bytes[..0x300], &[0x5A; 597], &bytes[0x300..]].concat();
    place.file("moved.bin", &moved);
    let svg = drawn(&place, &["compare", read, "moved.bin", "--layout", "none"], "moved.svg");
    assert!(svg.contains("597 bytes inserted") && svg.contains("stand 597 bytes later"), "{svg}");
    assert_whole("moved", &svg);
    let svg = drawn(&place, &["compare", read, read], "same.svg");
    assert!(svg.contains("not one differs") && !svg.contains("class=\"differs\""), "{svg}");
}

#[test]
fn a_picture_stays_small_and_whole_whatever_the_image() {
    let place = Place::with_samples();
    // Noise and blanks by turns, 4 MiB; and the same with every byte another one.
    let mut state = 1_u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    };
    let large: Vec<u8> = (0..4 << 20).map(|n: u32| if n >> 13 & 1 == 0 { noise() } else { 0xFF }).collect();
    let other: Vec<u8> = large.iter().map(|b| b ^ 0x15).collect();
    let gaps = ":020000040000FA\n:01000000AA55\n:0110000055 9A\n:00000001FF\n".replace(' ', "");
    let elsewhere = ":020000040800F2\n:0400000001020304F2\n:00000001FF\n";
    for (name, bytes) in [
        ("large.bin", &large[..]),
        ("other.bin", &other),
        ("one.bin", &[7]),
        ("gaps.hex", gaps.as_bytes()),
        ("elsewhere.hex", elsewhere.as_bytes()),
    ] {
        place.file(name, bytes);
        let svg = drawn(&place, &["show", name], &format!("{name}.svg"));
        assert_whole(name, &svg);
        assert!(svg.len() < 32 << 10, "{name}: {}", svg.len());
        for beside in ["samples/unit7-read1.bin", "one.bin"] {
            let file = format!("{name}-{}.svg", beside.len());
            place.file("one.bin", [7]);
            let svg = drawn(&place, &["compare", beside, name], &file);
            assert_whole(name, &svg);
            assert!(svg.len() < 64 << 10, "{name}: {}", svg.len());
        }
    }
    let svg = drawn(&place, &["compare", "large.bin", "other.bin", "--in-place"], "both.svg");
    assert_whole("both", &svg);
    assert!(svg.len() < 64 << 10, "{}", svg.len());
    // As many images as somebody may have.
    let many: Vec<&str> = ["samples/unit7-read1.bin", "samples/unit9.bin", "samples/unit12.bin"].repeat(8);
    let svg = drawn(&place, &[&["compare"], &many[..]].concat(), "many.svg");
    assert_whole("many", &svg);
}

#[cfg(unix)]
#[test]
fn a_hostile_name_is_text_in_a_picture_and_nothing_else() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;

    let place = Place::with_samples();
    let folder = PathBuf::from(OsStr::from_bytes(b"\"><script>alert(1)<"));
    let file = folder.join(OsStr::from_bytes(b"script>&amp;\xff\x1b[2J.bin"));
    fs::create_dir_all(place.root().join(&folder)).unwrap();
    fs::write(place.root().join(&file), place.bytes("samples/unit7-read1.bin")).unwrap();
    let run = place.run([OsStr::new("show"), file.as_os_str(), OsStr::new("--picture"), OsStr::new("x.svg")]);
    assert_eq!(run.status(), 0, "{}", run.err());
    let svg = String::from_utf8(place.bytes("x.svg")).unwrap();
    assert_whole("hostile", &svg);
    let read = roxmltree::Document::parse(&svg).unwrap();
    let told: String = read.descendants().filter_map(|n| n.text()).collect();
    assert!(told.contains(&text::path(&file)), "{told}");
}

#[test]
fn the_editor_draws_what_is_worked_on() {
    let place = Place::with_samples();
    let images = ["samples/unit7-read1.bin", "samples/unit7-returned.bin"];
    let one = ["--keys", "Ctrl-K \"picture one.svg\" Enter Enter", "--dump"];
    place.run(images[..1].iter().copied().chain(one)).expect(0).says("Drawn as one.svg");
    let two = ["--keys", "t Ctrl-K \"picture two.svg\" Enter Enter", "--dump"];
    place.run(images.into_iter().chain(two)).expect(0).says("Drawn as two.svg");
    let svg = String::from_utf8(place.bytes("two.svg")).unwrap();
    assert!(svg.contains("serial: 2207140312 to 2207140347"), "{svg}");
    assert_whole("one", &String::from_utf8(place.bytes("one.svg")).unwrap());
    let again = ["--keys", "Ctrl-K \"picture one.svg\" Enter Enter", "--dump"];
    place.run(images[..1].iter().copied().chain(again)).says("The picture is not written");
}
