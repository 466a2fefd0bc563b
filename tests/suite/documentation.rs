//! The documentation shows what the program prints: every `console` block of the README and of `docs/` is played.

use std::fs;

use crate::console::{Streams, play};
use crate::support::{Place, assert_same_text, files_below, package, rewriting};

/// `text` with every console block played again, in one folder, in the order of the page. A block that names a file
/// behind its language (a fence "ron mine.ron") is that file from there on.
fn replay(text: &str) -> String {
    let place = Place::with_samples();
    let mut replayed = String::new();
    let mut rest = text;
    while let Some((before, block)) = rest.split_once("```") {
        let (fence, block) = block.split_once('\n').expect("a fence that ends its line");
        let (block, after) = block.split_once("```").expect("a block that ends");
        let played = match fence.split_once(' ') {
            None if fence == "console" => play(&place, block, Streams::Seen),
            Some((_, file)) => {
                place.file(file, block);
                block.to_owned()
            }
            None => block.to_owned(),
        };
        replayed.push_str(&format!("{before}```{fence}\n{played}```"));
        rest = after;
    }
    replayed + rest
}

#[test]
fn every_console_block_of_the_documentation_is_what_the_program_prints() {
    let mut pages = files_below(&package().join("docs"));
    pages.retain(|p| p.extension().is_some_and(|e| e == "md"));
    pages.insert(0, package().join("README.md"));
    for page in pages {
        let committed = fs::read_to_string(&page).unwrap();
        let replayed = replay(&committed);
        if rewriting() {
            fs::write(&page, replayed).unwrap();
        } else {
            assert_same_text(&page.file_name().unwrap().to_string_lossy(), &committed, &replayed);
        }
    }
}

#[test]
fn the_readme_states_the_job_first_and_then_how_to_run_it_and_its_tests() {
    let readme = fs::read_to_string(package().join("README.md")).unwrap();
    let mut paragraphs = readme.split("\n\n").skip(1);
    let job = paragraphs.next().unwrap();
    assert!(job.contains("read") && job.len() < 700, "{job}");
    let commands = readme.split("```sh\n").nth(1).unwrap().split("```").next().unwrap();
    assert!(commands.contains("cargo run --release -- vet samples/"), "{commands}");
    assert!(commands.contains("cargo test"), "{commands}");
    // The script that lands changes runs the same test command.
    let script = fs::read_to_string(package().join(".ci/run")).unwrap();
    assert!(script.lines().any(|l| l.ends_with(" cargo test")), "{script}");
}
