//! What is in an unknown memory: regions, strings, records, and a first layout.
