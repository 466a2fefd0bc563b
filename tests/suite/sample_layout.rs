//! The sample layout says of the sample images what the program that makes them put there.

use std::collections::BTreeMap;
use std::fs;

use readproof::check::Seal;
use readproof::image::Image;
use readproof::layout::{self, Decoded, FieldState, Layout, Role, Shape};

use crate::support::package;

fn sample(name: &str) -> Image {
    Image::raw(fs::read(package().join("samples").join(name)).unwrap())
}

fn sample_layout() -> Layout {
    let (_, text) = layout::SHIPPED.iter().find(|(name, _)| *name == "frostkeel-cr8.ron").unwrap();
    layout::read(text).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn decoded(name: &str) -> Decoded {
    layout::decode(&sample_layout(), &sample(name))
}

#[track_caller]
fn text(decoded: &Decoded, path: &str) -> String {
    let field = decoded.fields.iter().find(|f| f.path == path).unwrap_or_else(|| panic!("no field {path}"));
    match &field.unit {
        Some(unit) => format!("{} {unit}", field.text),
        None => field.text.clone(),
    }
}

#[test]
fn unit_7_reads_as_it_was_made() {
    let decoded = decoded("unit7-read1.bin");
    for (path, wanted) in [
        ("mark", "FKCR8"),
        ("part_number", "FK-CR8-2047B"),
        ("serial", "2207140312"),
        ("hardware", "air-cooled"),
        ("built", "2022-07-14"),
        ("calibration.supply_offset", "-0.12 K"),
        ("calibration.condenser_gain", "0.9958"),
        ("calibration.high_zero", "-0.06 bar"),
        ("calibration.reference", "2.497 V"),
        ("calibration.calibrated", "2022-07-15"),
        ("settings.setpoint", "2.0 °C"),
        ("settings.alarm_low", "-1.0 °C"),
        ("settings.refrigerant", "R134a"),
        ("settings.options", "door switch, drain heater, night setback, alarm buzzer, bus alarm"),
        ("settings.high_cutout", "16.50 bar"),
        ("settings.defrosts[1].hour", "8 h"),
        ("settings.defrosts[3].how", "electric"),
        ("settings.room", "Cold store 3"),
        ("settings.display", "Store 3 \u{2013} 2 °C"),
        ("lockouts[0].cause", "motor winding"),
        ("lockouts[1].cause", "high pressure"),
        ("lockouts[1].when", "2025-07-19 14:52:30"),
        ("lockouts[2].high", "16.71 bar"),
        ("counters.compressor_hours", "14880 h"),
        ("log_entries", "97"),
        ("log[96].number", "97"),
    ] {
        assert_eq!(text(&decoded, path), wanted, "{path}");
    }
}

#[test]
fn a_clean_image_has_every_check_sealed_and_no_odd_field() {
    for name in ["unit7-read1.bin", "unit9.bin", "unit12.bin", "unit7-serviced.bin", "unit7-returned.bin"] {
        let decoded = decoded(name);
        assert_eq!(decoded.checks.len(), 3, "{name}");
        assert!(decoded.checks.iter().all(|c| c.seal == Seal::Sealed), "{name}: {:#?}", decoded.checks);
        let odd: Vec<_> = decoded.fields.iter().filter(|f| f.state != FieldState::Fine).collect();
        assert!(odd.is_empty(), "{name}: {odd:#?}");
        assert!(decoded.findings.is_empty(), "{name}: {:#?}", decoded.findings);
    }
}

#[test]
fn each_spoilt_sample_is_spoilt_in_one_way_only() {
    let broken = decoded("unit7-broken-check.bin");
    let not_sealed: Vec<&str> =
        broken.checks.iter().filter(|c| c.seal != Seal::Sealed).map(|c| c.name.as_str()).collect();
    assert_eq!(not_sealed, ["settings"]);
    let off = decoded("unit7-part-off.bin");
    let odd: Vec<&str> =
        off.fields.iter().filter(|f| f.state != FieldState::Fine).map(|f| f.path.as_str()).collect();
    assert_eq!(odd, ["part_number"]);
    assert!(off.checks.iter().all(|c| c.seal == Seal::Sealed));
}

#[test]
fn the_serviced_unit_has_its_records_at_rest_and_nothing_else_changed() {
    let (before, after) = (decoded("unit7-read1.bin"), decoded("unit7-serviced.bin"));
    let values = |d: &Decoded| -> BTreeMap<String, (String, Role)> {
        let leaves = d.fields.iter().filter(|f| f.shape == Shape::Leaf);
        leaves.map(|f| (f.path.clone(), (f.text.clone(), f.role))).collect()
    };
    let after_values = values(&after);
    for (path, (was, role)) in values(&before) {
        if after_values.get(&path).map(|v| &v.0) != Some(&was) {
            assert!(matches!(role, Role::Record | Role::Filler | Role::Check), "{path} ({role:?}) changed");
        }
    }
    let lockouts = after.fields.iter().filter(|f| f.path.starts_with("lockouts[") && f.shape == Shape::Leaf);
    assert!(lockouts.clone().count() > 0 && lockouts.clone().all(|f| f.at_rest != Some(false)));
}

#[test]
fn the_layout_is_found_by_its_marks_for_every_unit() {
    let layouts = [sample_layout()];
    for name in ["unit7-read1.bin", "unit9.bin", "unit12.bin", "unit7-read3-poor.bin"] {
        assert_eq!(layout::fits(&layouts, &sample(name)).len(), 1, "{name}");
    }
    assert!(layout::fits(&layouts, &Image::raw(vec![0xFF; 8192])).is_empty());
}

#[test]
fn the_layout_warns_of_mains_and_of_pressure() {
    let cautions = sample_layout().cautions.join("\n");
    assert!(cautions.contains("mains") && cautions.contains("lock"), "{cautions}");
    assert!(cautions.contains("pressure") && cautions.contains("licensed"), "{cautions}");
}
