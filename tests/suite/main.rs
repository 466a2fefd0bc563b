//! The promises of the program, one file each. This page is their table of contents.
//!
//! Goldens (console sessions, the README's tour) are rewritten by `READPROOF_REWRITE=1 cargo test`;
//! look at the difference before it is committed.

// A test that cannot go on must fail loudly, and says why on its own streams.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout, clippy::print_stderr)]

// What the promises are checked with: temporary folders, runs of the program, the corpus of real images.
mod support;

// How the parts know each other.
mod arrows;
// What every file owes the reader.
mod tidy;

// The command line: streams, exit statuses, colour, help, broken pipes.
mod command_line;
// Nothing in an image or a file name can act on the terminal.
mod clean_output;

// The samples are what the program in the repository makes.
mod samples;

// Console sessions as text, for the tour and the cases.
mod console;
// What `--json` prints, and that it is documented.
mod json;
// Uses of the command line, a folder each.
mod cases;
// The documentation shows what the program prints.
mod tour;
// Every finding code is explained.
mod findings;

// Kinds of fields: their reference page, and what reference decoders say about real images.
mod kinds;

// The reference page of layouts: every block on it is read.
mod layout_reference;

// The list of checks, one of them, one of them computed.
mod changed_on_disk;
mod checks;

// Checks found in images of which nobody said where they are.
mod hunt;
// The checks of published memories are found, and nothing else.
mod hunt_truth;
// And what it says of chance, on images in which no check holds.
mod hunt_chance;
mod unsealed;

// The editor: keys do what one expects; the page of keys is the program's own.
mod editor_keys;

// The sample layout says of the samples what the program that makes them put there.
mod sample_layout;
// Images in files: formats, conversions, clear refusals.
mod images;
// Record files against published examples and independent implementations.
mod records;
// A save that is killed leaves the old file or the new one.
mod saving;
// Changes that are not saved survive whatever ends the editor.
mod recovery;
// The table of chips and what markings can mean.
mod chips;

// The shipped layouts read real memories as other people's decoders do.
mod packaging;
mod published;
// What is copied and pasted in the editor.
mod editor_clipboard;
// What a user sets for the editor.
mod settings;
// The editor in a real terminal: the whole job, signals, panics, colour, idle cost.
mod terminal;
// Images far larger than the common case.
mod scale;

// What is in an unknown memory, measured against layouts that were hidden.
mod survey_truth;
mod surveying;
// The editor's screens, at every size, and what saving does.
mod editor_screens;

// Two images side by side.
mod comparing;
// Is this changed file safe to write?
mod auditing;
// Scripted changes.
mod amending;

// The shipped layouts give the values that their standards work out.
mod worked_values;
// Faults of reads: what is detected, what is missed, false alarms.
mod fault_matrix;
mod faults;
// The record of a job.
mod dockets;
// Verdicts on reads, what is expected of them, proof of a write.
mod vetting;
// A part number, however it is stored; near misses.
mod finding_text;
// An unknown memory described in the editor, field by field.
mod annotating;
// Many images in one run, and the archive of known reads.
mod batches;
// What a newcomer meets: the page without arguments, the tour, the samples, errors that lead on.
mod first_minutes;
// Screens as pictures; those of the documentation are the program's own.
mod pictures;
