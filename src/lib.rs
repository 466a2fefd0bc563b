//! readproof: a bench tool for the stretch between reading a small serial memory and writing it back.
//!
//! The map of the project. The core is pure: it knows no file, terminal or clock, and never panics on odd bytes.
//!
//! | core | what it is |
//! | --- | --- |
//! | [`span`], [`finding`], [`error`] | places, observations and verdicts, what could not be done |
//! | [`word_enums`] | macros for enums whose variants are words, such as those of layouts |
//! | [`wording`] | addresses, counts, lists and bytes as sentences have them |
//! | [`image`] | the bytes of one memory; raw, Intel HEX and S-record as pure codecs |
//! | [`edit`] | edits with their inverses, history |
//! | [`check`] | the catalogue of checks; compute, verify, reseal |
//! | [`value`] | kinds of fields: bytes to value, value to bytes, typed text to value |
//! | [`notation`] | RON text as a tree that knows its places |
//! | [`layout`] | layouts: text to model, model over image, marks |
//! | [`author`] | writing a layout while looking at an image |
//! | [`docket`] | the record of one job |
//! | [`skyline`] | a whole image at a glance |
//! | [`chip`] | families, capacities, markings |
//! | [`vet`], [`find`], [`compare`], [`survey`], [`hunt`], [`mod@nearest`] | the jobs |
//!
//! | shell | what it is |
//! | --- | --- |
//! | [`platform`] | what differs between systems, and nothing else |
//! | [`store`] | the only user of the file system |
//! | [`report`] | what the core says, as text and JSON |
//! | [`cli`] | one small file per command |
//! | [`tui`] | the editor |
//!
//! Arrows point one way, `cli, tui -> report, store -> core`, and `platform` knows none of them; a test reads the `use` lines.

#[macro_use]
mod word_enums;

pub mod author;
pub mod check;
pub mod chip;
pub mod cli;
pub mod compare;
pub mod docket;
pub mod edit;
pub mod error;
pub mod find;
pub mod finding;
pub mod hunt;
pub mod image;
pub mod layout;
pub mod nearest;
#[cfg(test)]
mod noise;
pub mod notation;
mod platform;
pub mod report;
pub mod skyline;
pub mod span;
pub mod store;
pub mod survey;
pub mod tui;
pub mod value;
pub mod vet;
pub mod wording;
