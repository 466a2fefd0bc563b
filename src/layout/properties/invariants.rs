//! What holds for every layout over every image. Property tests and the fuzz targets share it, each with the names
//! it needs in scope.

use std::collections::HashSet;

use super::*;

/// The bytes after a change.
pub fn applied(bytes: &[u8], change: &Change) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for edit in &change.edits {
        let range = edit.span().range();
        assert_eq!(bytes[range.clone()], edit.before, "{}", change.label);
        bytes[range].copy_from_slice(&edit.after);
    }
    bytes
}

/// The tree is a tree: paths are unique, parents come first, nothing reaches outside the image.
pub fn well_formed(decoded: &Decoded, len: usize) {
    assert!(decoded.fields.len() <= MAX_FIELDS);
    let mut paths = HashSet::new();
    for (index, field) in decoded.fields.iter().enumerate() {
        assert!(paths.insert(&field.path), "{} is there twice", field.path);
        assert!(field.spans.iter().all(|s| s.end <= len), "{} reaches outside", field.path);
        match field.parent {
            Some(parent) => {
                assert!(parent < index);
                assert!(field.path.starts_with(&decoded.fields[parent].path));
                assert_eq!(decoded.fields[parent].depth + 1, field.depth, "{}", field.path);
            }
            None => assert_eq!(field.depth, 0),
        }
        // A computed value can come to nothing: it lies nowhere.
        let lies = field.spans.iter().any(|s| !s.is_empty());
        if field.shape == Shape::Leaf && field.state != FieldState::Absent && lies {
            assert!(field.value.is_some(), "{} has no value", field.path);
        }
    }
    let mut names = HashSet::new();
    assert!(decoded.checks.iter().all(|c| names.insert(&c.name)), "two checks of one name");
}

/// Setting a field to the value it shows changes no byte.
pub fn own_values_change_nothing(layout: &Layout, bytes: &[u8]) {
    const TRIED: usize = 60;
    let image = Image::raw(bytes.to_vec());
    let decoded = decode(layout, &image);
    let fine = |f: &&Field| f.shape == Shape::Leaf && f.editable && f.state == FieldState::Fine;
    for field in decoded.fields.iter().filter(fine).take(TRIED) {
        match set(layout, &image, &field.path, &field.text) {
            Ok(change) => assert!(change.edits.is_empty(), "{} = {:?}: {change:?}", field.path, field.text),
            // What rests may hold bytes that no value has.
            Err(refusal) => {
                assert_eq!(field.at_rest, Some(true), "{} = {:?}: {refusal:?}", field.path, field.text);
            }
        }
    }
}

/// After a reseal nothing is broken, and nothing but stored values has changed.
pub fn a_reseal_seals(layout: &Layout, bytes: &[u8]) {
    let image = Image::raw(bytes.to_vec());
    let before = decode(layout, &image);
    let Ok(change) = reseal(layout, &image, &[]) else { return };
    let after = applied(bytes, &change);
    let places: Vec<_> =
        before.checks.iter().filter_map(|c| c.placed.as_ref().map(|p| p.stored_at)).collect();
    for (at, (a, b)) in bytes.iter().zip(&after).enumerate() {
        assert!(a == b || places.iter().any(|p| p.contains(at)), "byte {at:#x} changed");
    }
    // A stored value may lie over bytes that say where checks lie, or over another stored value; then there is
    // nothing to promise.
    let decoded = decode(layout, &Image::raw(after));
    let same = before.checks.iter().map(|c| &c.placed).eq(decoded.checks.iter().map(|c| &c.placed));
    let apart = places.iter().enumerate().all(|(n, p)| !places[..n].iter().any(|q| q.overlaps(*p)));
    if same && apart {
        for check in &decoded.checks {
            assert!(check.seal != Seal::Broken, "{} is broken", check.name);
        }
    }
}
