//! Bytes that look like anything, for tests.

/// `len` bytes, the same for the same seed: the xorshift generator of Marsaglia, "Xorshift RNGs", Journal of Statistical
/// Software 8 (2003).
pub(crate) fn noise(len: usize, seed: u64) -> Vec<u8> {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    (0..len)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 32) as u8
        })
        .collect()
}
