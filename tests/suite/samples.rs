//! The samples are what the program in the repository makes.

use std::collections::BTreeSet;
use std::fs;

use crate::support::{files_below, package};

#[path = "../../samples/make.rs"]
#[allow(dead_code)] // its main is for `cargo run --example make-samples`
mod make;

#[test]
fn the_committed_samples_are_what_the_program_makes() {
    for (name, bytes) in make::samples() {
        let committed = fs::read(package().join("samples").join(name)).unwrap_or_default();
        assert!(committed == bytes, "samples/{name} differs; run `cargo run --example make-samples`");
    }
}

#[test]
fn no_sample_lies_about_that_the_program_does_not_make() {
    let made: BTreeSet<String> = make::samples().iter().map(|(name, _)| (*name).to_owned()).collect();
    let committed: BTreeSet<String> = files_below(&package().join("samples"))
        .iter()
        .map(|f| f.file_name().unwrap().to_string_lossy().into_owned())
        .filter(|name| name != "make.rs")
        .collect();
    assert_eq!(committed, made);
}

#[test]
fn every_sample_image_has_the_size_of_a_real_chip() {
    for (name, bytes) in make::samples() {
        if name.ends_with(".bin") {
            assert!(bytes.len().is_power_of_two(), "{name}: {} bytes", bytes.len());
        }
    }
}
