//! What differs between images, and whether a changed image is safe to write.
