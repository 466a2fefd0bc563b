//! Any image decodes by every layout that comes with the program; the first byte chooses which.
#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;
use readproof::check::Seal;
use readproof::edit::Change;
use readproof::image::Image;
use readproof::layout::{
    Decoded, Field, FieldState, Layout, MAX_FIELDS, SHIPPED, Shape, decode, fits, read, reseal, set,
};

#[path = "../src/layout/properties/invariants.rs"]
mod invariants;

static LAYOUTS: LazyLock<Vec<Layout>> =
    LazyLock::new(|| SHIPPED.iter().filter_map(|(_, text)| read(text).ok()).collect());

fuzz_target!(|data: &[u8]| {
    let Some((which, bytes)) = data.split_first() else { return };
    let layout = &LAYOUTS[usize::from(*which) % LAYOUTS.len()];
    let image = Image::raw(bytes.to_vec());
    invariants::well_formed(&decode(layout, &image), bytes.len());
    invariants::own_values_change_nothing(layout, bytes);
    invariants::a_reseal_seals(layout, bytes);
    let _ = fits(&LAYOUTS, &image);
});
