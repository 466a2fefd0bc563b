//! The `find` command.

use std::path::PathBuf;

use super::choose::LayoutArgs;
use super::{Console, Outcome};
use crate::error::Error;
use crate::report::find::Searched;
use crate::report::text;
use crate::{find, layout, store};

/// What `find` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof find read.bin FK-CR8-2047B\n  \
    readproof find read.bin 2207140312 --json\n\n\
    The text is looked for as ASCII in any case, with and without separators, wide,\n\
    swapped, backwards, inverted, as packed digits, as a binary number, in six-bit\n\
    letters, and in two parts. What is only like it is shown and is no match.\n\n\
    Exit status: 0 the text itself is there; 1 it is not; 2 it could not be done.")]
pub struct Args {
    /// Image to search; - reads standard input
    #[arg(value_name = "IMAGE")]
    image: PathBuf,
    /// Part number or serial, as it stands on the label
    #[arg(value_name = "TEXT")]
    text: String,
    #[command(flatten)]
    layout: LayoutArgs,
}

/// Runs `find`.
///
/// # Errors
/// When the image or the layout cannot be used, or there is nothing that could be searched for.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if let Some(why) = find::refusal(&args.text) {
        return Err(Error::new(why).advice("type the number as it stands on the label"));
    }
    let opened = store::open(&args.image, console.input)?;
    console.saw("image", &opened)?;
    let shelf = args.layout.shelf(&[&args.image])?;
    let decoded = shelf.choose(&opened.image).chosen.map(|c| layout::decode(c.layout, &opened.image));
    let found = find::find(&opened.image, &args.text);
    let searched = Searched {
        path: text::path(&args.image),
        image: &opened.image,
        wanted: args.text.trim(),
        found: &found,
        decoded: decoded.as_ref(),
    };
    console.judged(None, &found.findings, opened.image.base());
    if console.json {
        searched.json().write(console.out)?;
    } else {
        searched.write(console.out, console.paint)?;
    }
    Ok(if found.is_exact() { Outcome::Good } else { Outcome::Attention })
}
