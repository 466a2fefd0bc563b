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

    /// An image of every other layout's marks tells that the ones in front of the fields are enough to go by.
    #[test]
    fn what_stands_before_the_fields_tells_which_layouts_need_not_be_read() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/unit7-read1.bin");
        let sample = std::fs::read(folder).unwrap();
        let mut images = vec![vec![0xFF; 8192], vec![0; 512], sample];
        for (_, text) in SHIPPED {
            let layout = super::super::read(text).unwrap();
            for alternative in &layout.model.fits {
                let mut bytes = vec![0xFF; 40_000];
                for mark in &alternative.marks {
                    if let super::super::model::Mark::Bytes { at, any, .. } = mark {
                        bytes[*at..at + any[0].len()].copy_from_slice(&any[0]);
                    }
                }
                images.push(bytes);
            }
        }
        let mut spared = 0;
        for image in images.into_iter().map(crate::image::Image::raw) {
            for (name, text) in SHIPPED {
                let may = super::super::may_fit(text, &image);
                let fits = !super::super::fits(&[super::super::read(text).unwrap()], &image).is_empty();
                assert!(may || !fits, "{name}");
                spared += usize::from(!may);
            }
        }
        assert!(spared > 100, "{spared}");
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
