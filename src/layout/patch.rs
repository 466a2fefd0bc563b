//! Bytes to be changed, gathered until they become edits.

use std::collections::BTreeMap;

use crate::edit::Edit;
use crate::image::Image;
use crate::span::Span;

/// What an image is to hold in some places.
pub(super) struct Patch<'i> {
    image: &'i Image,
    bytes: BTreeMap<usize, u8>,
}

impl<'i> Patch<'i> {
    pub(super) fn new(image: &'i Image) -> Self {
        Patch { image, bytes: BTreeMap::new() }
    }

    /// The bytes of `span` as they are to be; `None` outside the image and in gaps.
    pub(super) fn get(&self, span: Span) -> Option<Vec<u8>> {
        let mut bytes = self.image.get(span)?.to_vec();
        for (&at, &byte) in self.bytes.range(span.range()) {
            bytes[at - span.start] = byte;
        }
        Some(bytes)
    }

    /// Puts `bytes` at `at`, which lies in the image.
    pub(super) fn put(&mut self, at: usize, bytes: &[u8]) {
        self.bytes.extend(bytes.iter().enumerate().map(|(n, &byte)| (at + n, byte)));
    }

    /// The edits, in the order of their places; none where nothing changes.
    pub(super) fn edits(&self) -> Vec<Edit> {
        let mut edits: Vec<Edit> = Vec::new();
        for (&at, &after) in &self.bytes {
            let Some(&before) = self.image.bytes().get(at) else { continue };
            if before == after {
                continue;
            }
            match edits.last_mut() {
                Some(edit) if edit.at + edit.after.len() == at => {
                    edit.before.push(before);
                    edit.after.push(after);
                }
                _ => edits.push(Edit { at, before: vec![before], after: vec![after] }),
            }
        }
        edits
    }

    /// The image as it is to be.
    pub(super) fn applied(&self) -> Image {
        let mut image = self.image.clone();
        for (&at, &byte) in &self.bytes {
            image.write(at, &[byte]);
        }
        image
    }
}
