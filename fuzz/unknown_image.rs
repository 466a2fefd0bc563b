//! Any image is surveyed, and the draft that comes of it is a layout that can be used; any text is looked for.
#![no_main]

use libfuzzer_sys::fuzz_target;
use readproof::find::find;
use readproof::image::Image;
use readproof::layout;
use readproof::survey::{Course, draft, survey};

fuzz_target!(|data: &[u8]| {
    let image = Image::raw(data.to_vec());
    let found = survey(&[&image], Course::Units, &[]);
    for region in &found.regions {
        assert!(!region.at.is_empty() && region.at.end <= data.len());
    }
    let text = draft("fuzzed", &found, &image, &[]);
    let layout = layout::read(&text).unwrap_or_else(|p| panic!("{p:?}\n{text}"));
    assert!(layout::decode(&layout, &image).fields.len() <= layout::MAX_FIELDS);
    let wanted: String = data.iter().take(12).map(|&b| char::from(b)).collect();
    for hit in find(&image, &wanted).hits {
        assert!(hit.place.end <= data.len());
    }
});
