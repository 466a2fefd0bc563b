//! The layouts that come with the program.

/// The text of every layout that is shipped with the program: file name and text.
pub const SHIPPED: &[(&str, &str)] =
    &[("frostkeel-cr8.ron", include_str!("../../layouts/frostkeel-cr8.ron"))];

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
