//! Any reads are judged; equal reads agree; the verdict is what the findings add up to.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use readproof::finding::{Code, Verdict};
use readproof::image::Image;
use readproof::layout::{self, Layout};
use readproof::vet::{Ask, vet};

static LAYOUTS: LazyLock<Vec<Layout>> =
    LazyLock::new(|| layout::SHIPPED.iter().filter_map(|(_, text)| layout::read(text).ok()).collect());

fuzz_target!(|data: &[u8]| {
    let half = data.len() / 2;
    let (a, b) = (Image::raw(data[..half].to_vec()), Image::raw(data[half..].to_vec()));
    let ask = Ask { chip: None, layouts: &LAYOUTS, named: false, expect: &[] };
    for reads in [vec![&a], vec![&a, &b], vec![&a, &a, &b]] {
        let report = vet(&reads, &ask);
        assert_eq!(report.verdict, Verdict::of(&report.findings));
        // Where a check of an image that is cut short would stand is told all the same.
        for place in report.findings.iter().filter(|f| f.code != Code::CheckUnreadable).filter_map(|f| f.place) {
            assert!(place.end <= a.len().max(b.len()), "{place}");
        }
    }
});
