//! Which check protects which range, and where it is stored.
