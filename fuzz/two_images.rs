//! Two images: the change list turns one into the other, comparing is symmetric, the alignment rebuilds.
#![no_main]

use libfuzzer_sys::fuzz_target;
use readproof::compare::Differences;
use readproof::compare::align::align;
use readproof::edit;
use readproof::image::Image;

fuzz_target!(|data: &[u8]| {
    let half = data.len() / 2;
    // Images of two lengths differ in bytes that no change of values turns into each other.
    let (a, b) = (&data[..half], &data[half..2 * half]);
    let (before, after) = (Image::raw(a.to_vec()), Image::raw(b.to_vec()));
    let there = Differences::between(&before, &after);
    let back = Differences::between(&after, &before);
    assert_eq!(there.changed_bytes(), back.changed_bytes());
    let mut turned = before.clone();
    edit::apply(&mut turned, &there.change(&before, &after, "all")).expect("the change applies");
    assert_eq!(turned.bytes(), b);
    assert_eq!(align(a, b).rebuild(a, b), b);
});
