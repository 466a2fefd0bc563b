//! The table of chips and what markings can mean.

use crate::support::run;

#[test]
fn chips_lists_every_family_within_80_columns() {
    let run = run(["chips"]).expect(0);
    for said in
        ["24C64", "25640, 95640", "93C46x16", "25x128", "64 Kbit", "1 bit in device select", "1.65 to 1.95 V"]
    {
        assert!(run.out().contains(said), "{said}\n{run}");
    }
    assert!(run.out().lines().all(|l| l.chars().count() <= 80), "{run}");
}

#[test]
fn a_shortened_marking_is_explained_and_an_unknown_one_is_told() {
    run(["chips", "564"])
        .expect(0)
        .says("564 can stand for 3 names, shortened; the likeliest first.")
        .says("25640")
        .says("95640")
        .says("the leading 9 and the trailing 0 are");
    run(["chips", "AT24C64N"]).expect(0).says("AT24C64N is the whole name of 24C64.");
    run(["chips", "AT24C64N"]).expect(0).says("2 bytes").says("2.5 to 5.5 V").says("--chip 24C64");
    run(["chips", "LM358"]).expect(1).says("fits no chip of the table");
}

#[test]
fn a_size_has_its_chips_or_its_neighbours() {
    let sized = run(["chips", "--bytes", "8192"]).expect(0).says("2 chips hold exactly 8192 bytes.");
    assert!(sized.out().contains("24C64") && sized.out().contains("25640, 95640"), "{sized}");
    run(["chips", "--bytes", "8000"])
        .expect(1)
        .says("No chip of the table holds exactly 8000 bytes.")
        .says("4096 bytes");
    let json = run(["chips", "--bytes", "0x2000", "--json"]).expect(0).json();
    assert_eq!(json["chips"].as_array().map(Vec::len), Some(2));
}

/// The table of devices in the documentation of the eeprom24x crate, a driver that names the data sheet
/// of each: words of 8 bits, bytes of a page.
const DRIVER: &[(&str, u64, u64)] = &[
    ("24C01", 128, 8),
    ("24C02", 256, 8),
    ("24C04", 512, 16),
    ("24C08", 1024, 16),
    ("24C16", 2048, 16),
    ("24C32", 4096, 32),
    ("24C64", 8192, 32),
    ("24C128", 16_384, 64),
    ("24C256", 32_768, 64),
    ("24C512", 65_536, 128),
    ("24CM01", 131_072, 256),
    ("24CM02", 262_144, 256),
];

#[test]
fn two_wire_chips_have_the_capacities_and_pages_that_an_independent_driver_gives_them() {
    let list = run(["chips", "--json"]).expect(0).json();
    let ours: Vec<(String, u64, u64)> = list["chips"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| c["name"].as_str().unwrap().starts_with("24C"))
        .map(|c| {
            (
                c["name"].as_str().unwrap().to_owned(),
                c["bytes"].as_u64().unwrap(),
                c["page"].as_u64().unwrap(),
            )
        })
        .collect();
    let theirs: Vec<_> =
        DRIVER.iter().map(|(name, bytes, page)| ((*name).to_owned(), *bytes, *page)).collect();
    assert_eq!(ours, theirs);
}

#[test]
fn chips_in_json_have_numbers_to_compute_with() {
    let list = run(["chips", "--json"]).expect(0).json();
    let chip = list["chips"].as_array().unwrap().iter().find(|c| c["name"] == "24C16").unwrap().clone();
    assert_eq!((chip["bytes"].as_u64(), chip["page"].as_u64()), (Some(2048), Some(16)));
    assert_eq!((chip["address_bytes"].as_u64(), chip["address_bits"].as_u64()), (Some(1), Some(11)));
    let marking = run(["chips", "564", "--json"]).expect(0).json();
    let names: Vec<&str> =
        marking["candidates"].as_array().unwrap().iter().map(|c| c["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["25640", "95640", "25x64"]);
}
