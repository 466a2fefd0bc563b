//! A part number or a serial in an image, however it is stored.
