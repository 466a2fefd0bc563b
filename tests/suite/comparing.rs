//! Images side by side: differences as bytes, values, checks and shifts.

use crate::support::{Place, corpus, package, run};

fn sample(name: &str) -> String {
    package().join("samples").join(name).to_string_lossy().into_owned()
}

#[test]
fn equal_reads_are_the_same_whatever_their_format() {
    let (raw, hex, srec) = (sample("unit7-read1.bin"), sample("unit7.hex"), sample("unit7.s19"));
    for other in [sample("unit7-read2.bin"), hex, srec] {
        run(["compare", &raw, &other]).expect(0).says("the same: 8192 bytes, not one differs.");
    }
}

#[test]
fn sister_units_differ_by_fields_checks_and_roles() {
    let json = run(["compare", &sample("unit7-read1.bin"), &sample("unit9.bin"), "--json"]).expect(1).json();
    let field = |path: &str| {
        json["fields"].as_array().unwrap().iter().find(|f| f["path"] == path).cloned().unwrap_or_default()
    };
    // The numbers are those that samples/make.rs writes.
    assert_eq!(field("serial")["before"]["text"], "2207140312");
    assert_eq!(field("serial")["after"]["text"], "2207140347");
    assert_eq!(field("settings.setpoint")["after"]["value"], 4.0);
    assert!(field("part_number").is_null());
    let first = &json["changes"][0];
    assert_eq!((first["at"].as_u64(), first["before"].as_str()), (Some(0x54), Some("12")));
    assert_eq!(first["fields"][0], "serial");
    let check = &json["checks"][0];
    assert_eq!((&check["before"]["sealed"], &check["after"]["sealed"]), (&true.into(), &true.into()));
    let totals = json["totals"].as_array().unwrap();
    let bytes: u64 = totals.iter().map(|t| t["bytes"].as_u64().unwrap()).sum();
    let changed: u64 = json["changes"].as_array().unwrap().iter().map(|c| c["bytes"].as_u64().unwrap()).sum();
    assert_eq!(bytes, changed);
}

#[test]
fn several_images_are_summed_up_byte_by_byte() {
    let images = ["unit7-read1.bin", "unit7-read3-poor.bin", "unit9.bin"].map(sample);
    let mut words = vec!["compare".to_owned(), "--units".to_owned(), "7,7,9".to_owned(), "--json".to_owned()];
    words.extend(images.clone());
    let json = run(words).expect(1).json();
    let summary = &json["summary"];
    // Counted byte by byte from the files.
    let bytes: Vec<Vec<u8>> = images.iter().map(|p| std::fs::read(p).unwrap()).collect();
    let unstable = (0..8192).filter(|&i| bytes[0][i] != bytes[1][i]).count();
    let specific = (0..8192).filter(|&i| bytes[0][i] == bytes[1][i] && bytes[0][i] != bytes[2][i]).count();
    assert_eq!(summary["bytes_unstable"], unstable);
    assert_eq!(summary["bytes_unit_specific"], specific);
    assert_eq!(json["pairs"].as_array().unwrap().len(), 2);
    run(["compare", &images[0], &images[1], &images[2]]).expect(1).says("across all images");
}

#[test]
fn contents_that_moved_are_told_with_their_shift() {
    let place = Place::empty();
    let read = std::fs::read(sample("unit7-read1.bin")).unwrap();
    let a = place.file("a.bin", &read);
    let mut shifted = read.clone();
    shifted.splice(0x300..0x300, [0x5A; 7]);
    shifted.truncate(8192);
    let b = place.file("b.bin", &shifted);
    let words = |more: &[&str]| {
        let mut words = vec!["compare".to_owned(), a.display().to_string(), b.display().to_string()];
        words.extend(more.iter().map(|m| (*m).to_owned()));
        words
    };
    place.run(words(&[])).expect(1).says("contents are shifted").says("inserted").says("+7");
    let json = place.run(words(&["--aligned", "--json"])).expect(1).json();
    let shifts = json["shifts"].as_array().unwrap();
    let inserted: Vec<_> = shifts.iter().filter(|s| s["kind"] == "inserted").collect();
    assert_eq!(inserted.len(), 1, "{shifts:?}");
    assert_eq!((inserted[0]["after_at"].as_u64(), inserted[0]["bytes"].as_u64()), (Some(0x300), Some(7)));
    assert!(place.run(words(&["--in-place", "--json"])).expect(1).json()["shifts"].is_null());
}

#[test]
fn a_read_with_a_larger_chip_selected_is_the_image_and_its_copy() {
    let run = run(["compare", &sample("unit7-read1.bin"), &sample("unit7-wrong-size.bin")]).expect(1);
    run.says("8192 bytes only in the").says("copied     8192  0x0000  0x2000  +8192");
}

#[test]
fn images_of_other_kinds_and_sizes_are_compared_without_complaint() {
    let place = Place::empty();
    let one = place.file("one.bin", [7]);
    let two = place.file("two.bin", [7, 8]);
    place.run(["compare".into(), one.clone(), one.clone()]).expect(0);
    place.run(["compare".into(), one.clone(), two]).expect(1).says("1 byte only in the second");
    place.run(["compare".into(), one.clone(), place.path("none.bin")]).expect(2).complains("no such file");
    place.run(["compare".into(), one.clone()]).expect(2);
    place
        .run(["compare".into(), one.clone(), one, "--units=1".into()])
        .expect(2)
        .complains("--units has 1 word for 2 images");
}

#[test]
fn real_images_are_the_same_as_themselves_and_differ_from_a_flipped_bit() {
    let Some(corpus) = corpus() else { return };
    let place = Place::empty();
    for name in ["edid/dell-e178wfp-vga.bin", "spd/ddr4-samsung-k4aag165wa-bctd.bin", "edid/apple-xdr-6k.bin"]
    {
        let path = corpus.join(name);
        let mut bytes = std::fs::read(&path).unwrap();
        place.run(["compare".into(), path.clone(), path.clone()]).expect(0);
        bytes[12] ^= 0x10;
        let flipped = place.file("flipped.bin", &bytes);
        let json = place.run(["compare".into(), path, flipped, "--json".into()]).expect(1).json();
        assert_eq!(json["changes"].as_array().unwrap().len(), 1, "{name}");
        assert_eq!(json["changes"][0]["at"], 12, "{name}");
    }
}
