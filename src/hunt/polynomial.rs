//! A polynomial that nobody listed, solved for.
