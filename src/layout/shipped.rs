//! The layouts that come with the program.

/// The text of every layout that is shipped with the program: file name and text.
pub const SHIPPED: &[(&str, &str)] = &[
    ("cmis.ron", include_str!("../../layouts/cmis.ron")),
    ("edid.ron", include_str!("../../layouts/edid.ron")),
    ("ethernet-nvm.ron", include_str!("../../layouts/ethernet-nvm.ron")),
    ("frostkeel-cr8.ron", include_str!("../../layouts/frostkeel-cr8.ron")),
    ("hat-eeprom.ron", include_str!("../../layouts/hat-eeprom.ron")),
    ("ipmi-fru.ron", include_str!("../../layouts/ipmi-fru.ron")),
    ("onie-tlvinfo.ron", include_str!("../../layouts/onie-tlvinfo.ron")),
    ("pci-vpd.ron", include_str!("../../layouts/pci-vpd.ron")),
    ("sff-8472.ron", include_str!("../../layouts/sff-8472.ron")),
    ("sff-8636.ron", include_str!("../../layouts/sff-8636.ron")),
    ("spd-ddr2.ron", include_str!("../../layouts/spd-ddr2.ron")),
    ("spd-ddr3.ron", include_str!("../../layouts/spd-ddr3.ron")),
    ("spd-ddr4.ron", include_str!("../../layouts/spd-ddr4.ron")),
    ("spd-ddr5.ron", include_str!("../../layouts/spd-ddr5.ron")),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_and_the_folder_agree() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/layouts");
        let mut files: Vec<String> = std::fs::read_dir(folder)
            .map(|entries| entries.filter_map(|e| e.ok()?.file_name().into_string().ok()).collect())
            .unwrap_or_default();
        files.retain(|name| name.ends_with(".ron"));
        files.sort();
        let listed: Vec<_> = SHIPPED.iter().map(|(name, _)| name.to_string()).collect();
        assert_eq!(listed, files, "src/layout/shipped.rs lists the layouts in the order of their names");
    }

    #[test]
    fn every_shipped_layout_can_be_used() {
        for (name, text) in SHIPPED {
            let lines = crate::notation::Lines::of(text);
            if let Err(problems) = super::super::read(text) {
                panic!("{}", problems.iter().map(|p| p.line(name, &lines)).collect::<Vec<_>>().join("\n"));
            }
        }
    }
}
