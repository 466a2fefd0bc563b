//! The promises of the program, one file each. This page is their table of contents; each file opens with what it
//! promises.
//!
//! Goldens (console sessions, documentation, screens, pictures) are rewritten as `DEVELOPERS.md` says under "How to
//! test"; look at the difference before it is committed.

// A test that cannot go on must fail loudly, and says why on its own streams.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout, clippy::print_stderr)]

// What the promises are checked with: temporary folders, runs of the program, the corpus of real images; console
// sessions as text.
mod console;
mod support;

// The source: how its parts know each other, what every file owes the reader.
mod arrows;
mod tidy;

// The command line as a whole: streams, statuses, help; a folder for each use in `cases/`; JSON and its schema; many
// images in one run; proposed commands pasted into a shell; slips; what comes with the program for the system.
mod batches;
mod cases;
mod clean_output;
mod command_line;
mod json;
mod packaging;
mod pasting;
mod schema;
mod slips;
mod streams;

// What a newcomer meets, and the documentation: every session in it, the pages made from tables, pictures, samples.
mod documentation;
mod findings;
mod first_minutes;
mod kinds;
mod layout_reference;
mod pictures;
mod samples;

// Is it a good read, of the right unit?
mod chips;
mod fault_matrix;
mod faults;
mod part_numbers;
mod vetting;

// Image files and record files.
mod images;
mod records;
mod scale;

// What do the bytes mean? The shipped layouts against standards and other people's decoders.
mod published;
mod sample_layout;
mod worked_values;

// Checks, listed and computed, and hunted for where nobody said where they are.
mod checks;
mod hunt;
mod hunt_chance;
mod hunt_truth;
mod unsealed;

// What was never read.
mod gaps;

// A memory that nobody described.
mod survey_truth;
mod surveying;

// Two images; a changed file; a change of one's own; the record of the job.
mod amending;
mod auditing;
mod comparing;
mod dockets;

// The editor: keys, screens, describing, settings, a real terminal.
mod annotating;
mod editor_clipboard;
mod editor_keys;
mod editor_screens;
mod settings;
mod terminal;
// A program in a terminal of its own, for the tests that need one.
mod session;

// Nothing is lost: a save that is killed, a session that ends, a file that somebody else wrote to.
mod changed_on_disk;
mod full_disk;
mod recovery;
mod saving;
