//! Fields put into any layout that can be read leave a layout that can be read, and every other line as it was.
#![no_main]

use libfuzzer_sys::fuzz_target;
use readproof::author::{self, NewField, Scaling};
use readproof::layout::{self, Role};

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else { return };
    if layout::read(text).is_err() {
        return;
    }
    let field = NewField {
        name: "put_in".to_owned(),
        inside: None,
        at: data.len(),
        kind: "Int(bits: 16)".to_owned(),
        scaling: Scaling::default(),
        role: Role::Setting,
        rest: None,
        note: Some("by hand".to_owned()),
    };
    let Ok(with) = author::add(text, &field) else { return };
    assert!(layout::read(&with).is_ok());
    let without = author::remove(&with, "put_in").expect("what was put in can be taken out");
    assert!(layout::read(&without).is_ok());
});
