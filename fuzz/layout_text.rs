//! Any text is a layout or is refused with a reason; as a layout it decodes in bounds.
#![no_main]

use libfuzzer_sys::fuzz_target;
use readproof::check::Seal;
use readproof::edit::Change;
use readproof::image::Image;
use readproof::layout::{
    Decoded, Field, FieldState, Layout, MAX_FIELDS, Shape, decode, lint, reseal, set,
};

#[path = "../src/layout/properties/invariants.rs"]
mod invariants;

fuzz_target!(|text: &str| {
    let (layout, remarks) = lint(text);
    let Some(layout) = layout else {
        assert!(!remarks.is_empty(), "refused without a reason");
        return;
    };
    // An image that holds a bit of everything: the text itself.
    let bytes = &text.as_bytes()[..text.len().min(4096)];
    invariants::well_formed(&decode(&layout, &Image::raw(bytes.to_vec())), bytes.len());
    invariants::own_values_change_nothing(&layout, bytes);
    invariants::a_reseal_seals(&layout, bytes);
});
