//! Nothing in an image, a layout, a docket or the name of a file can act on the terminal or on a browser, and a
//! layout reads no file.

use std::fs;
use std::path::Path;

use proptest::prelude::*;
use readproof::image::{Format, Image, Writing};
use readproof::tui::annotate::{InForce, Kept};
use readproof::tui::app::App;
use readproof::tui::player::Player;
use readproof::tui::sheet::Sheet;
use readproof::tui::theme::Look;

use crate::support::{self, Place, package};

/// What erases a screen, rings, renames a window, turns the writing direction.
const HOSTILE: &str = "\u{1b}[2J\u{7}\u{1b}]0;x\u{7}\u{9b}2K";

/// Everything that must never be printed as it is; lines end with a newline, nothing else.
/// Controls of both sets (ECMA-48), marks that turn the writing direction (Unicode Standard Annex #9), and what takes
/// no place on the screen.
fn acts(c: char) -> bool {
    (c.is_control() && c != '\n')
        || matches!(c, '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}')
        || matches!(c, '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e0fff}')
}

#[track_caller]
fn assert_harmless(what: &str, printed: &str) {
    let bad = printed.chars().find(|&c| acts(c));
    assert!(bad.is_none(), "{bad:?} in {what}\n{}", printed.escape_debug());
}

#[test]
fn what_an_image_or_a_file_name_holds_is_shown_and_never_obeyed() {
    let place = Place::with_samples();
    let mut bytes = fs::read(package().join("samples/unit7-read1.bin")).unwrap();
    for at in [0x0040, 0x0140] {
        bytes[at..at + HOSTILE.len()].copy_from_slice(HOSTILE.as_bytes());
    }
    place.file("hostile.bin", &bytes);
    let name = "na\u{1b}[2Jme\u{202e}.bin";
    place.file(name, &bytes);
    place.file("hostile.ron", format!("(layout: \"a{HOSTILE}\", fields: [\u{1b}[2J], {HOSTILE}: 1)"));
    place.file("hostile.hex", format!(":0000{HOSTILE}"));
    let uses: &[&[&str]] = &[
        &["vet", "hostile.bin", "samples/unit7-read1.bin", "--expect", "part_number=FK-CR8-2047B"],
        &["vet", name],
        &["show", "hostile.bin"],
        &["show", name],
        &["show", "hostile.bin", "--layout", "hostile.ron"],
        &["show", "hostile.hex"],
        &["show", "hostile.bin", "--field", HOSTILE],
        &["find", name, "FK-CR8-2047B"],
        &["find", "hostile.bin", HOSTILE],
        &["compare", "hostile.bin", "samples/unit7-read1.bin"],
        &["audit", "samples/unit7-read1.bin", name],
        &["amend", name, "-o", "out.bin", "--set", "part_number=\u{1b}[2J"],
        &["survey", name],
        &["hunt", name],
        &["convert", name, "out.hex"],
        &["chips", HOSTILE],
        &["checks", HOSTILE],
        &["layouts", "hostile.ron"],
        &["layouts", "--print", HOSTILE],
        &["docket", HOSTILE],
        &[HOSTILE],
        &["show", "absent\u{1b}[2J\u{202e}"],
    ];
    for words in uses {
        let run = place.run(*words);
        for (stream, printed) in [("standard output", run.out()), ("standard error", run.err())] {
            assert_harmless(stream, printed);
        }
    }
}

/// Texts that try something, beside plain ones.
const ATTEMPTS: &[&str] = &[
    "FK-CR8-2047B",
    "\u{1b}[2J",
    "\u{1b}]0;title\u{7}",
    "\u{1b}]52;c;eA==\u{1b}\\",
    "\u{1b}Pq\u{1b}\\",
    "\u{9b}31m",
    "\u{9d}0;x\u{9c}",
    "\u{85}\u{84}",
    "\u{202e}nib.",
    "\u{2066}x\u{2069}",
    "\u{200b}\u{200f}\u{feff}\u{61c}",
    "\u{2028}\u{2029}",
    "\u{e0041}",
    "\r\u{8}\u{8}\u{7f}\t\u{b}\u{c}",
    "<script>alert(1)</script>",
    "' onload='x\" onerror=\"y",
    "&lt;&#60;",
    "%s%n{}\\x1b",
    "\u{e9}\u{20ac}",
];

fn hostile() -> impl Strategy<Value = String> {
    let attempt = prop_oneof![
        3 => prop::sample::select(ATTEMPTS).prop_map(str::to_owned),
        1 => any::<char>().prop_map(String::from),
    ];
    prop::collection::vec(attempt, 1..4).prop_map(|parts| parts.concat())
}

/// An image with `text` in it: as UTF-8, as one byte a character, as UTF-16 of both orders.
fn image_of(text: &str) -> Vec<u8> {
    let wide: Vec<u16> = text.encode_utf16().collect();
    let ways: [Vec<u8>; 4] = [
        text.bytes().collect(),
        text.chars().map(|c| c as u32 as u8).collect(),
        wide.iter().flat_map(|u| u.to_le_bytes()).collect(),
        wide.iter().flat_map(|u| u.to_be_bytes()).collect(),
    ];
    let mut image = vec![0xFF; 512];
    for (bytes, place) in ways.iter().zip(image.chunks_mut(128)) {
        let len = bytes.len().min(100);
        place[..len].copy_from_slice(&bytes[..len]);
    }
    image
}

/// `text` as it is written in a layout; every character by its number where `escaped`.
fn quoted(text: &str, escaped: bool) -> String {
    let inside: String = if escaped {
        text.chars().map(|c| format!("\\u{{{:x}}}", u32::from(c))).collect()
    } else {
        text.replace('\\', "\\\\").replace('"', "\\\"")
    };
    format!("\"{inside}\"")
}

fn layout_of(text: &str, escaped: bool) -> String {
    // A label that cannot be typed is refused, so there is something plain in each.
    let t = quoted(&format!("a{text}z"), escaped);
    format!(
        "(layout: {t}, format: 1, source: {t}, cautions: [{t}], fields: [
            (name: \"part\", at: 0, kind: Text(bytes: 64), role: Identity, note: {t}),
            (name: \"wide\", at: 256, kind: Text(bytes: 64), role: Identity, caution: {t}),
            (name: \"choice\", at: 128, kind: Choice(bits: 8, of: {{ 255: {t}, 65: {t} }}), role: Setting),
            (name: \"number\", at: 129, kind: Int(bits: 8), unit: {t}, role: Setting),
        ])"
    )
}

fn settings_of(text: &str, escaped: bool) -> String {
    let t = quoted(text, escaped);
    format!("(settings: 1, ground: Dark, theme: (accent: {t}, {}: None), keys: {{ {t}: [{t}] }})", text)
}

/// An S-record file whose header holds `text`.
fn records_of(text: &str) -> Vec<u8> {
    let mut image = Image::raw(image_of(text));
    image.header = Some(text.bytes().take(200).collect());
    let (file, _) = readproof::image::write(&image, Format::SRecord, Writing::default()).unwrap();
    file.into_owned()
}

/// Fails when a drawing is not well formed, names another file, or has an element or a handler that we do not write.
fn assert_drawing(svg: &str) {
    let document = roxmltree::Document::parse(svg).unwrap_or_else(|e| panic!("{e}\n{svg}"));
    for node in document.descendants().filter(roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        let ours = [
            "svg", "g", "rect", "path", "text", "tspan", "line", "title", "desc", "style", "defs", "pattern",
            "polygon", "polyline", "circle", "clipPath", "use",
        ];
        assert!(ours.contains(&name), "<{name}> is none of ours\n{svg}");
        for attribute in node.attributes() {
            let (name, value) = (attribute.name(), attribute.value());
            assert!(
                !name.starts_with("on") && (name != "href" || value.starts_with('#')),
                "{name}={value}\n{svg}"
            );
        }
    }
}

/// The name of a file that holds `text`, as far as a system takes it.
fn name_of(text: &str) -> String {
    let name: String = text.chars().filter(|c| !"/\\\0:*?\"<>|".contains(*c)).take(40).collect();
    format!("n{name}.bin")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_of_an_image_a_layout_a_docket_or_a_file_name_acts_on_a_terminal(
        text in hostile(),
        escaped in any::<bool>(),
    ) {
        let place = Place::empty();
        let image = place.file(&name_of(&text), image_of(&text)).into_os_string();
        let other = place.file("other.bin", image_of("FK-CR8-2047B")).into_os_string();
        let layout = place.file("hostile.ron", layout_of(&text, escaped)).into_os_string();
        let docket = place.path("job.ron").into_os_string();
        let word = |word: &str| std::ffi::OsString::from(word);
        let drawing = |of: &str| place.path(&format!("{of}.svg")).into_os_string();
        let settings = place.file("settings.ron", settings_of(&text, escaped)).into_os_string();
        let records = place.file("records.s19", records_of(&text)).into_os_string();
        let uses: Vec<Vec<std::ffi::OsString>> = vec![
            vec![word("docket"), word("new"), docket.clone(), word("--job"), word(&text)],
            vec![word("docket"), word("note"), docket.clone(), word("--"), word(&text)],
            vec![word("docket"), word("image"), docket.clone(), image.clone(), word("--as"), word(&text)],
            vec![word("docket"), word("check"), docket.clone()],
            vec![word("docket"), word("report"), docket.clone()],
            vec![word("vet"), image.clone(), other.clone()],
            vec![word("show"), image.clone(), word("--layout"), layout.clone()],
            vec![word("show"), image.clone(), word("--layout"), layout.clone(), word("--field"), word(&text)],
            vec![word("find"), image.clone(), word(&text)],
            vec![word("compare"), image.clone(), other.clone(), word("--layout"), layout.clone()],
            vec![word("audit"), other.clone(), image.clone(), word("--layout"), layout.clone()],
            vec![word("survey"), image.clone()],
            vec![word("layouts"), layout.clone()],
            vec![word("layouts"), word("--layouts"), place.root().into()],
            vec![word("chips"), word(&text)],
            vec![word("settings"), settings],
            vec![word("show"), records.clone(), word("--layout"), layout.clone()],
            vec![word("convert"), records, place.path("converted.bin").into_os_string()],
            vec![word("amend"), image.clone(), word("--layout"), layout.clone(), word("--set"), word("number=7"), word("--dry-run")],
            // The record keeps what the layout warns of, and the page shows it.
            vec![word("audit"), other.clone(), image.clone(), word("--layout"), layout.clone(), word("--docket"), docket.clone()],
            vec![word("show"), image.clone(), word("--layout"), layout.clone(), word("--picture"), drawing("show")],
            vec![word("survey"), image.clone(), word("--layout"), layout.clone(), word("--picture"), drawing("survey")],
            vec![word("compare"), other.clone(), image.clone(), word("--layout"), layout.clone(), word("--picture"), drawing("compare")],
        ];
        for words in uses {
            for json in [false, true] {
                let more = json.then(|| word("--json"));
                // Before the words, of which one may end the options.
                let (command, rest) = words.split_first().unwrap();
                let words = [command.clone()].into_iter().chain(more).chain(rest.iter().cloned());
                let run = support::run(words);
                assert_harmless("standard output", run.out());
                assert_harmless("standard error", run.err());
            }
        }
        // The record as a page: what came from outside is neither markup nor an attribute.
        let page = place.path("job.html");
        support::run([word("docket"), word("report"), docket, word("--html"), page.clone().into_os_string()]);
        let page = fs::read_to_string(page).unwrap();
        assert_harmless("the page", &page);
        assert_no_foreign_markup(&page);

        // Drawings: well formed, and nothing in them but what the program draws.
        for of in ["show", "survey", "compare"] {
            if let Ok(svg) = fs::read_to_string(place.path(&format!("{of}.svg"))) {
                assert_harmless("a drawing", &svg);
                assert_drawing(&svg);
            }
        }

        // What is drawn, with the image and its layout open and everything that lists texts in front.
        let path = Path::new(&image).to_path_buf();
        let mut sheet = Sheet::new(path.clone(), Image::raw(image_of(&text)), Format::Raw);
        let layout = InForce::of_text(path.with_extension("ron"), Kept::Nowhere, &layout_of(&text, escaped));
        // A label of blanks alone is none.
        prop_assert!(layout.is_ok() || !escaped || text.trim().is_empty(), "{layout:?}");
        layout.into_iter().for_each(|layout| sheet.follow(layout));
        let mut player = Player::new(App::new(sheet, Vec::new(), (140, 45), Look::default()));
        for keys in ["", "Tab", "Tab", "Ctrl-F", "\"FK-CR8\" Enter", "Ctrl-U Ctrl-S", "Esc Ctrl-K", "Esc Size(80,24) Ctrl-W",
            "Esc Ctrl-G \"80\" Enter Ctrl-E", "Esc Ctrl-Q"] {
            player.play(keys).unwrap();
            assert_harmless("the screen", &player.screen());
        }
        player.input(readproof::tui::input::Input::Key(readproof::tui::input::Key::parse("Esc").unwrap()));
        player.play("Ctrl-F").unwrap();
        player.input(readproof::tui::input::Input::Paste(text.clone()));
        assert_harmless("the screen", &player.screen());
        player.play("Enter").unwrap();
        assert_harmless("the screen", &player.screen());
    }
}

/// Fails when a page has a tag or an attribute that the program does not write.
fn assert_no_foreign_markup(page: &str) {
    const TAGS: &[&str] = &[
        "!DOCTYPE",
        "html",
        "head",
        "meta",
        "title",
        "style",
        "body",
        "h1",
        "h2",
        "h3",
        "p",
        "table",
        "tr",
        "th",
        "td",
        "ul",
        "li",
        "em",
        "span",
        "strong",
        "br",
        "code",
        "section",
        "svg",
        "g",
        "rect",
        "path",
        "text",
        "line",
        "desc",
        "div",
        "pre",
        "header",
        "main",
        "footer",
        "article",
        "figure",
        "figcaption",
        "caption",
        "thead",
        "tbody",
        "dl",
        "dt",
        "dd",
        "time",
    ];
    let body = page.split_once("</style>").unwrap().1;
    for tag in body.split('<').skip(1) {
        let inside = tag.split('>').next().unwrap();
        let name = inside.trim_start_matches('/').split([' ', '\n', '/']).next().unwrap();
        assert!(TAGS.contains(&name), "<{inside}> is none of ours\n{page}");
        // Values of attributes left out, no handler is named.
        let outside: String = inside.split('"').step_by(2).collect();
        assert!(!outside.contains(" on") && !outside.contains('\''), "<{inside}>");
    }
    assert!(!page.contains("javascript:") && !page.contains("<script"));
}

#[test]
fn a_layout_reads_no_other_file_and_runs_nothing() {
    let place = Place::empty();
    let secret = place.file("secret.txt", "cold-room-secret");
    place.file("part.ron", "(name: \"cold-room-secret\", at: 0, kind: Int(bits: 8), role: Setting)");
    place.file("unit.bin", [0u8; 64]);
    let marker = place.path("was-run");
    let (secret, run) = (secret.display(), format!("touch {}", marker.display()));
    let field = "(name: \"a\", at: 0, kind: Int(bits: 8), role: Setting)";
    let attempts = [
        format!("(layout: \"x\", format: 1, include: \"part.ron\", fields: [{field}])"),
        format!("(layout: \"x\", format: 1, import: [\"part.ron\"], fields: [{field}])"),
        format!("#![include(\"part.ron\")]\n(layout: \"x\", format: 1, fields: [{field}])"),
        format!("(layout: \"x\", format: 1, source: \"file://{secret}\", fields: [{field}])"),
        format!("(layout: \"x\", format: 1, source: \"$(cat {secret})\", fields: [{field}])"),
        format!("(layout: \"`{run}`\", format: 1, source: \"$({run})\", fields: [{field}])"),
        "(layout: \"x\", format: 1, fields: [include(\"part.ron\")])".to_owned(),
        format!("(layout: \"x\", format: 1, fields: [@part.ron, {field}])"),
        "(layout: \"x\", format: 1, fields: [(name: \"a\", at: 0, kind: File(\"secret.txt\"), role: Setting)])".to_owned(),
        format!("(layout: \"x\", format: 1, run: \"{run}\", fields: [{field}])"),
        "(layout: \"x\", format: 1, fields: [(name: \"a\", at: \"../secret.txt\", kind: Int(bits: 8), role: Setting)])".to_owned(),
    ];
    for text in attempts {
        place.file("it.ron", &text);
        for words in [&["show", "unit.bin", "--layout", "it.ron"][..], &["layouts", "it.ron"]] {
            let run = place.run(words);
            let all = format!("{}{}", run.out(), run.err());
            assert!(!all.contains("cold-room-secret"), "{text}\n{all}");
        }
    }
    assert!(!marker.exists(), "something was run");
}
