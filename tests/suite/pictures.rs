//! Screens as pictures. Those of the documentation are drawn again and compared; `READPROOF_REWRITE=1` writes them.

use std::fs;

use crate::support::{Place, assert_same_text, files_below, package, rewriting};

/// Name, size, images, keys, ground.
type Picture = (&'static str, &'static str, &'static [&'static str], &'static str, &'static str);

const PICTURES: &[Picture] = &[
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

#[test]
fn the_pictures_of_the_documentation_are_what_the_editor_draws() {
    let folder = package().join("docs/pictures");
    let place = Place::with_samples();
    for (name, size, images, keys, ground) in PICTURES {
        let file = format!("{name}.svg");
        let options = ["--keys", keys, "--size", size, "--ground", ground, "--picture", &file];
        let run = place.run(images.iter().copied().chain(options));
        assert!(run.status() < 2, "{}", run.err());
        let drawn = String::from_utf8(place.bytes(&file)).unwrap();
        if rewriting() {
            fs::create_dir_all(&folder).unwrap();
            fs::write(folder.join(&file), drawn).unwrap();
        } else {
            assert_same_text(&file, &fs::read_to_string(folder.join(&file)).unwrap_or_default(), &drawn);
        }
    }
    assert_eq!(files_below(&folder).len(), PICTURES.len(), "a picture that nobody draws");
}

#[test]
fn every_picture_is_shown_somewhere_and_every_one_shown_is_there() {
    let mut pages = files_below(&package().join("docs"));
    pages.retain(|p| p.extension().is_some_and(|e| e == "md"));
    pages.push(package().join("README.md"));
    let text: String = pages.iter().map(|p| fs::read_to_string(p).unwrap()).collect();
    for (name, ..) in PICTURES {
        assert!(text.contains(&format!("pictures/{name}.svg)")), "{name}");
    }
    let shown = text.split("pictures/").skip(1).filter_map(|rest| rest.split_once(".svg)"));
    for (name, _) in shown {
        assert!(PICTURES.iter().any(|(known, ..)| *known == name), "{name}");
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
