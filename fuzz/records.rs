//! Record files: whatever is read is written and read again the same, in both record formats.
#![no_main]

use libfuzzer_sys::fuzz_target;
use readproof::image::{Format, Image, Writing, read, write};

fn same(a: &Image, b: &Image) {
    assert_eq!(a.base(), b.base());
    assert_eq!(a.gaps(), b.gaps());
    assert_eq!(a.bytes(), b.bytes());
}

fuzz_target!(|data: &[u8]| {
    for format in [Format::IntelHex, Format::SRecord] {
        let Ok((image, _)) = read(format, data.to_vec()) else { continue };
        for again in [Format::IntelHex, Format::SRecord] {
            // A format may refuse what it cannot hold; what it writes must come back.
            let Ok((file, _)) = write(&image, again, Writing::default()) else { continue };
            let (back, _) = read(again, file.into_owned()).expect("what was written can be read");
            same(&image, &back);
        }
    }
});
