//! Findings, fields, checks and change lists as text and as JSON.
//!
//! The shared blocks are here, what only one command prints is in the file named after the command.
//!
//! | block | what it is |
//! | --- | --- |
//! | [`text`] | cleaning of text from images and file names, hexadecimal, numbers, wrapping |
//! | [`paint`] | colour and width of the output, decided once |
//! | [`table`] | aligned columns |
//! | [`head`] | how a report opens and ends |
//! | [`finding`] | findings and verdicts |
//! | [`names`] | names of files in the commands that findings propose |
//! | [`characters`] | a wanted and a stored text under each other |
//! | [`decoded`] | fields and checks of an image by its layout |
//! | [`sides`] | images side by side: changes, fields, checks, totals |
//! | [`batch`] | how many images there were, and what became of them |
//! | [`picture`] | images as strips, to look at and to print |
//! | [`svg`] | what every picture shares |
//! | [`json`] | the one JSON object that each command prints |
//! | [`error`] | what is told when something could not be done |

pub mod amend;
pub mod audit;
pub mod batch;
pub mod characters;
pub mod checks;
pub mod chips;
pub mod compare;
pub mod convert;
pub mod decoded;
pub mod docket;
pub mod docket_page;
pub mod error;
pub mod find;
pub mod finding;
pub mod head;
pub mod hunt;
pub mod json;
pub mod kinds;
pub mod layouts;
pub mod names;
pub mod nearest;
pub mod paint;
pub mod picture;
pub mod settings;
pub mod show;
pub mod sides;
pub mod start;
pub mod survey;
pub mod svg;
pub mod table;
pub mod text;
pub mod vet;
