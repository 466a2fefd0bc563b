//! The shipped layouts agree with independent decoders on real images.
//!
//! The corpus beside the package holds the images and `facts.json`, what other people's decoders say of them
//! (edid-decode, decode-dimms, ipmi-fru, frugy, eepdump, the sources' own tests). A table is printed: facts that
//! agree, that differ, and that are not compared because our layouts do not work them out.

use readproof::check::Seal;
use readproof::image::Image;
use readproof::layout::{self, Decoded, Field, Layout, SHIPPED};
use readproof::value::Value;
use serde_json::Value as Json;

use crate::support;

/// One real image, decoded by the layout that its marks picked.
struct Seen {
    image: Image,
    name: Option<&'static str>,
    decoded: Decoded,
}

fn layouts() -> Vec<Layout> {
    SHIPPED.iter().map(|(name, text)| layout::read(text).unwrap_or_else(|_| panic!("{name}"))).collect()
}

fn see(layouts: &[Layout], bytes: Vec<u8>) -> Seen {
    let image = Image::raw(bytes);
    let fits = layout::fits(layouts, &image);
    if let [first, second, ..] = fits.as_slice() {
        assert!(first.bits > second.bits, "a tie between {first:?} and {second:?}");
    }
    match fits.first() {
        Some(fit) => {
            let decoded = layout::decode(&layouts[fit.index], &image);
            Seen { image, name: Some(SHIPPED[fit.index].0), decoded }
        }
        None => Seen { image, name: None, decoded: Decoded::default() },
    }
}

impl Seen {
    fn field(&self, path: &str) -> Option<&Field> {
        self.decoded.fields.iter().find(|f| f.path == path)
    }

    /// The value as shown.
    fn text(&self, path: &str) -> Option<String> {
        self.field(path).filter(|f| f.value.is_some()).map(|f| f.text.clone())
    }

    /// The bytes in lower-case hexadecimal.
    fn hex(&self, path: &str) -> Option<String> {
        let field = self.field(path)?;
        let bytes = field.spans.iter().flat_map(|s| self.image.get(*s).unwrap_or_default());
        Some(bytes.map(|b| format!("{b:02x}")).collect())
    }

    fn int(&self, path: &str) -> Option<i128> {
        self.field(path)?.value.as_ref()?.whole()
    }

    /// The text of the first field whose name is `name`, wherever it stands.
    fn named(&self, name: &str) -> Option<String> {
        self.decoded.fields.iter().find(|f| *f.name == *name && f.value.is_some()).map(|f| f.text.clone())
    }
}

/// What ours says for a fact of the corpus; `None` when our layout does not work it out.
fn ours(seen: &Seen, fact: &str) -> Option<String> {
    let t = |path: &str| seen.text(path);
    match seen.name? {
        "edid.ron" => match fact {
            "manufacturer" => t("manufacturer"),
            "product code" => t("product_code"),
            "serial number" => t("serial_number"),
            "product name" => seen.named("product_name"),
            "product serial string" => seen.named("serial"),
            "EDID version" => Some(format!("{}.{}", t("version")?, t("revision")?)),
            "made in" => match t("made")?.split_once("-W") {
                Some((year, week)) => Some(format!("week {} of {year}", week.trim_start_matches('0'))),
                None => t("made"),
            },
            "model year" => t("made").map(|t| t.trim_end_matches(" model").to_owned()),
            "image size" => Some(format!("{} cm x {} cm", t("width")?, t("height")?)),
            "gamma" => t("gamma"),
            "input" => Some(if seen.int("digital")? == 1 { "digital" } else { "analog" }.to_owned()),
            "extension count byte" => t("extensions"),
            "blocks in file" => Some((seen.image.len() / 128).to_string()),
            "first detailed timing" => {
                let at = |name: &str| seen.int(&format!("descriptors[0].timing.{name}"));
                Some(format!("{}x{} {}", at("h_active")?, at("v_active")?, at("refresh")?))
            }
            _ => None,
        },
        spd @ ("spd-ddr2.ron" | "spd-ddr3.ron" | "spd-ddr4.ron" | "spd-ddr5.ron") => {
            let made = if matches!(spd, "spd-ddr4.ron" | "spd-ddr5.ron") { "made." } else { "" };
            let maker =
                if spd == "spd-ddr2.ron" { "maker".to_owned() } else { format!("{made}module_maker") };
            let dram = format!("{made}dram_maker");
            match fact {
                "memory type byte" => Some(format!("0x{}", seen.hex("memory_type")?)),
                "memory type" => {
                    t("memory_type").map(|t| t.split(" (").next().unwrap_or_default().to_owned())
                }
                "part number" => t(&format!("{made}part_number")),
                "serial number bytes" => seen.hex(&format!("{made}serial")),
                "assembly serial number" => Some(format!("0x{}", seen.hex(&format!("{made}serial"))?)),
                "module manufacturer id bytes" => seen.hex(&maker),
                "DRAM manufacturer id bytes" => seen.hex(&dram),
                "module manufacturer" => t(&maker),
                "DRAM manufacturer" => t(&dram),
                "date bytes year week (BCD)" => seen.hex(&format!("{made}date")),
                "manufacturing date" => t(&format!("{made}date")),
                "SPD revision" => t("spd_revision"),
                "size" => t("capacity").map(|c| format!("{c} mb")),
                "ranks" => t("ranks"),
                "package ranks" => t("ranks"),
                "tCKAVGmin (ps)" => t("tck_min"),
                "module type" => {
                    t("module_type").map(|t| t.split(" (").next().unwrap_or_default().to_owned())
                }
                "module type nibble" => Some(format!("0x{:x}", seen.int("module_type")?)),
                "device width" => {
                    t("device_width").map(|t| t.split(' ').next().unwrap_or_default().to_owned())
                }
                "die density (Gbit)" => {
                    t("die_density").map(|t| t.split(' ').next().unwrap_or_default().to_owned())
                }
                _ => None,
            }
        }
        "ipmi-fru.ron" => match fact {
            "board manufacturer" => t("board.manufacturer"),
            "board product name" => t("board.product_name"),
            "board serial number" => t("board.serial_number"),
            "board part number" => t("board.part_number"),
            "board FRU file ID" => t("board.file_id"),
            "product manufacturer" => t("product.manufacturer"),
            "product name" => t("product.name"),
            "product part number" => t("product.part_number"),
            "product version" => t("product.revision"),
            "product serial number" => t("product.serial_number"),
            "product asset tag" => t("product.asset_tag"),
            "product FRU file ID" => t("product.file_id"),
            "product custom 1" => t("product.custom[0]"),
            // Ours is text where theirs is the payload in hexadecimal.
            "board custom 2" | "board custom 1" => {
                t(&format!("board.custom[{}]", if fact.ends_with('1') { 0 } else { 1 }))
            }
            "area offsets (internal, chassis, board, product, multirecord)" => {
                let at = |name: &str| seen.int(&format!("header.{name}")).map(|n| n.to_string());
                Some(
                    [at("internal")?, at("chassis")?, at("board")?, at("product")?, at("multirecord")?]
                        .join(","),
                )
            }
            "board manufacture time, minutes since 1996-01-01 00:00 UTC" => {
                match &seen.field("board.made")?.value {
                    Some(Value::Date(at)) => {
                        let start = jiff::civil::date(1996, 1, 1).at(0, 0, 0, 0);
                        Some(at.duration_since(start).as_mins().to_string())
                    }
                    _ => None,
                }
            }
            _ => None,
        },
        "sff-8472.ron" | "sff-8636.ron" | "cmis.ron" => match fact {
            "vendor name" => t("vendor_name"),
            "vendor part number" => t("vendor_part_number"),
            "vendor revision" => t("vendor_revision"),
            "vendor serial" => t("vendor_serial"),
            "vendor OUI" => seen.hex("vendor_oui").map(|h| format!("{}-{}-{}", &h[..2], &h[2..4], &h[4..])),
            "connector" => t("connector").map(|t| t.split(" (").next().unwrap_or_default().to_owned()),
            "encoding" => t("encoding").map(|t| t.split(" (").next().unwrap_or_default().to_owned()),
            "nominal bit rate (100 Mbit/s)" => Some((seen.int("nominal_bit_rate")? / 100).to_string()),
            // Theirs puts the marks between the parts of a date that is not there.
            "date code" => t("date_code.date").map(|t| if t == "not set" { "20--".to_owned() } else { t }),
            "date code bytes" => t("date_code.date").map(|t| t[2..].replace('-', "")),
            "CMIS revision" => Some(format!("{}.{}", t("revision_major")?, t("revision_minor")?)),
            _ => None,
        },
        "hat-eeprom.ron" => match fact {
            "product uuid" => t("atoms[0].vendor.uuid"),
            "product id" => t("atoms[0].vendor.product_id"),
            "product version" => t("atoms[0].vendor.product_version"),
            "vendor" => t("atoms[0].vendor.vendor"),
            "product" => t("atoms[0].vendor.product"),
            "atoms" => t("atom_count"),
            "image length" => t("total_bytes"),
            "GPIO pins set" => {
                let used = (0..28).filter(|n| seen.int(&format!("atoms[1].gpio.pins[{n}].used")) == Some(1));
                Some(used.map(|n| n.to_string()).collect::<Vec<_>>().join(", "))
            }
            _ => None,
        },
        "onie-tlvinfo.ron" => match fact {
            "product name" => seen.named("product_name"),
            "part number" => seen.named("part_number"),
            "serial number" => seen.named("serial_number"),
            "manufacture date" => seen.named("manufacture_date"),
            "device version" => seen.named("device_version"),
            "vendor" => seen.named("vendor"),
            "vendor extension" => {
                let field = seen.decoded.fields.iter().find(|f| *f.name == *"vendor_extension")?;
                seen.hex(&field.path)
            }
            "CRC-32" => seen.named("crc").map(|t| t.trim_start_matches("0x").to_owned()),
            "total length" => t("total_length"),
            "base MAC address" => seen.named("base_mac"),
            _ => None,
        },
        "ethernet-nvm.ron" => {
            let (copy, what) = fact.strip_prefix("copy ")?.split_once(' ')?;
            let path = match what.split(" (").next()? {
                "MAC address" => "mac",
                "device ID" => "device_id",
                "subsystem ID" => "subsystem_id",
                "subsystem vendor ID" => "subsystem_vendor_id",
                "image version" => "image_version",
                _ => return None,
            };
            t(&if copy == "0" { path.to_owned() } else { format!("second_copy.{path}") })
        }
        _ => None,
    }
}

/// Whether our words say what the fact says, which other programs round and name in their own ways.
fn agree(fact: &str, theirs: &str, ours: &str) -> bool {
    let plain = |s: &str| s.trim().to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ");
    let (theirs, ours) = (plain(theirs), plain(ours));
    // Ours marks bytes that are no text as such.
    let ours = match ours.strip_prefix("hex: ") {
        Some(pairs) => pairs.replace(' ', ""),
        None => ours,
    };
    match fact {
        // Hertz with six decimals against whole millihertz, cut.
        "first detailed timing" => {
            let parts = |s: &str| s.split(' ').map(str::to_owned).collect::<Vec<_>>();
            let (theirs, ours) = (parts(&theirs), parts(&ours));
            let rate = |s: Option<&String>| s.and_then(|s| s.parse::<f64>().ok()).unwrap_or(-1.0);
            theirs.first() == ours.first() && (rate(theirs.get(1)) * 1000.0 - rate(ours.get(1))).abs() <= 1.0
        }
        "size" => theirs.starts_with(&ours),
        "gamma" => theirs.parse::<f64>().ok() == ours.parse::<f64>().ok(),
        "module manufacturer" | "DRAM manufacturer" => {
            let word = |s: &str| s.split([' ', ',', '(']).next().unwrap_or_default().to_owned();
            word(&theirs) == word(&ours)
        }
        // Theirs adds the size of the board, or more words for the same code.
        "module type" | "connector" => theirs.starts_with(&ours),
        // Theirs prints a dot for a control character, ours its number.
        "board custom 1" | "board custom 2" => {
            theirs == ours || theirs == ours.replace("\\x00", ".").replace("\\x01", ".")
        }
        _ => theirs == ours,
    }
}

/// Facts on which we differ for a reason, each with the reason.
const EXPLAINED: &[(&str, &str, &str)] = &[
    (
        "edid/ubuntu-forum-00ff-bad.bin",
        "first detailed timing",
        "every byte is FF, so the interlace flag is set by chance: edid-decode doubles the lines, ours shows them as stored",
    ),
    (
        "sfp/sfp-ftlx8571d3bcl-a0-a2-anonymised.bin",
        "CC_DMI (A2h page at image offset 128)",
        "the bytes at 128 are page A0h once more, not A2h, so no sum of A2h is looked for",
    ),
];

#[test]
fn every_real_image_gets_its_layout_by_its_marks_and_no_other_gets_one() {
    let Some(corpus) = support::corpus() else { return };
    let layouts = layouts();
    let facts = facts(&corpus);
    for entry in facts.as_array().into_iter().flatten() {
        let file = entry["file"].as_str().unwrap_or_default();
        let wanted: &[&str] = match (file.split('/').next().unwrap_or_default(), file) {
            (_, "edid/hdmi2usb-all-ff.bin" | "sfp/sfp-finisar-ftlx8571d3bcl-shifted-read.bin") => &[],
            ("edid", _) => &["edid.ron"],
            ("spd", f) if f.contains("/ddr5") => &["spd-ddr5.ron"],
            ("spd", f) if f.contains("/ddr4") => &["spd-ddr4.ron"],
            ("spd", f) if f.contains("/ddr3") => &["spd-ddr3.ron"],
            ("spd", f) if f.contains("/ddr2") => &["spd-ddr2.ron"],
            ("fru", _) => &["ipmi-fru.ron"],
            ("sfp", f) if f.contains("/qsfp") => &["sff-8636.ron"],
            ("sfp", f) if f.contains("/cmis") => &["cmis.ron"],
            ("sfp", _) => &["sff-8472.ron"],
            ("hat", _) => &["hat-eeprom.ron"],
            ("onie", _) => &["onie-tlvinfo.ron"],
            ("ethernet-nvm", _) => &["ethernet-nvm.ron"],
            ("records", _) => continue,
            _ => &[],
        };
        let seen = see(&layouts, std::fs::read(corpus.join(file)).expect(file));
        assert_eq!(seen.name.as_slice(), wanted, "{file}");
    }
}

fn facts(corpus: &std::path::Path) -> Json {
    let text = std::fs::read_to_string(corpus.join("facts.json")).expect("facts.json");
    serde_json::from_str::<Json>(&text).expect("facts.json is JSON")["files"].clone()
}

#[test]
fn the_layouts_agree_with_independent_decoders_on_real_images() {
    let Some(corpus) = support::corpus() else { return };
    let layouts = layouts();
    let mut table: std::collections::BTreeMap<&str, [usize; 4]> = std::collections::BTreeMap::new();
    let mut differing = Vec::new();
    for entry in facts(&corpus).as_array().into_iter().flatten() {
        let file = entry["file"].as_str().unwrap_or_default();
        if file.starts_with("records/") {
            continue;
        }
        let seen = see(&layouts, std::fs::read(corpus.join(file)).expect(file));
        let Some(name) = seen.name else { continue };
        let [agreed, differed, unknown, checked] = table.entry(name).or_default();
        for (fact, theirs) in entry["fields"].as_object().into_iter().flatten() {
            let theirs = theirs.as_str().map_or_else(|| theirs.to_string(), str::to_owned);
            match ours(&seen, fact) {
                None => *unknown += 1,
                Some(ours) if agree(fact, &theirs, &ours) => *agreed += 1,
                Some(_) if EXPLAINED.iter().any(|(f, k, _)| file == *f && fact == k) => *unknown += 1,
                Some(ours) => {
                    *differed += 1;
                    differing.push(format!("{file}: {fact}: theirs {theirs:?}, ours {ours:?}"));
                }
            }
        }
        for check in entry["checks"].as_array().into_iter().flatten() {
            let Some(at) = check["stored_offset"].as_u64().and_then(|at| usize::try_from(at).ok()) else {
                continue;
            };
            let here: Vec<_> = seen
                .decoded
                .checks
                .iter()
                .filter(|c| c.placed.as_ref().is_some_and(|p| p.stored_at.start == at))
                .collect();
            let valid = check["valid"].as_bool();
            match here.as_slice() {
                [ours] if Some(ours.seal == Seal::Sealed) == valid => *checked += 1,
                [] if EXPLAINED.iter().any(|(f, k, _)| file == *f && check["check"] == *k) => *unknown += 1,
                _ => differing.push(format!(
                    "{file}: check {} at {at}: valid {valid:?}, ours {here:?}",
                    check["check"]
                )),
            }
        }
    }
    for (file, fact, why) in EXPLAINED {
        println!("{file}: {fact}: {why}");
    }
    println!("layout              facts agree  differ  not compared  checks agree");
    for (name, [agreed, differed, unknown, checked]) in &table {
        println!("{name:<18}  {agreed:>11}  {differed:>6}  {unknown:>12}  {checked:>12}");
    }
    let agreed: usize = table.values().map(|row| row[0]).sum();
    assert!(agreed >= 500, "only {agreed} facts were compared");
    assert!(differing.is_empty(), "{} differences:\n{}", differing.len(), differing.join("\n"));
}
