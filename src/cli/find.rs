//! The `find` command.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use super::choose::{LayoutArgs, Shelves};
use super::wait::wait;
use super::{Console, Outcome, batch};
use crate::error::Error;
use crate::find::Found;
use crate::image::Image;
use crate::report::find::{self as report, Searched};
use crate::report::text;
use crate::{find, layout};

/// What `find` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof find read.bin FK-CR8-2047B\n  \
    readproof find read.bin 2207140312 --json\n  \
    readproof find reads/ 2207140312\n\n\
    The text is looked for as ASCII in any case, with and without separators, wide,\n\
    swapped, backwards, inverted, as packed digits, as a binary number, in six-bit\n\
    letters, and in two parts. What is only like it is shown and is no match.\n\
    Of several images or a folder those that hold it, or something like it, are\n\
    listed; with --json every image is, a line each. Hidden files, links to folders\n\
    and .ron files in a folder are left out.\n\n\
    Exit status: 0 the text itself is there, in one of the images at least; 1 it is\n\
    not; 2 it could not be done, or not for every image.")]
pub struct Args {
    /// Images to search, or folders of them; - reads standard input
    #[arg(value_name = "IMAGE", required = true)]
    images: Vec<PathBuf>,
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
    let shelves = Shelves::of(&args.layout, &args.images)?;
    if let [path] = args.images.as_slice()
        && !batch::is_many(&args.images)
    {
        return Ok(match search(args, &shelves, path, console)? {
            Match::Exact => Outcome::Good,
            Match::Like | Match::Nothing => Outcome::Attention,
        });
    }
    let (mut exact, mut like) = (0, 0);
    let told = batch::run(
        &args.images,
        console,
        |path, console| search(args, &shelves, path, console),
        |done, console| {
            console.out.write_all(&done.out)?;
            match done.result {
                Ok(Match::Exact) => exact += 1,
                Ok(Match::Like) => like += 1,
                Ok(Match::Nothing) => {}
                Err(error) => batch::tell(&error, console)?,
            }
            Ok(())
        },
    )?;
    let sentence = report::summary(args.text.trim(), exact, like, &told);
    console.said(&*sentence);
    if console.json {
        console.remark(&sentence)?;
    } else {
        let space = if exact + like > 0 { "\n" } else { "" };
        writeln!(console.out, "{space}{sentence}")?;
    }
    Ok(batch::outcome(&told, exact > 0))
}

/// What one image holds.
enum Match {
    Exact,
    Like,
    Nothing,
}

/// Larger images are searched with word of how far it is, where they come one by one.
const QUICK_BYTES: usize = 64 << 20;

fn found(image: &Image, wanted: &str, console: &mut Console<'_>) -> Result<Found, Error> {
    if console.lines || image.len() <= QUICK_BYTES {
        return Ok(find::find(image, wanted));
    }
    let searched = AtomicUsize::new(0);
    let found = wait("searching", console.err, |progress, cancel| {
        find::find_watched(image, wanted, &|bytes, _| {
            let done = searched.fetch_add(bytes, Ordering::Relaxed) + bytes;
            progress(done as f64 / image.len() as f64);
            !cancel.load(Ordering::Relaxed)
        })
    })?;
    found.ok_or_else(|| Error::new("the search was called off").advice("nothing is known of what was not searched"))
}

fn search(
    args: &Args,
    shelves: &Shelves<'_>,
    path: &Path,
    console: &mut Console<'_>,
) -> Result<Match, Error> {
    let opened = console.open(path)?;
    console.saw("image", &opened)?;
    let mut found = found(&opened.image, &args.text, console)?;
    args.layout.names().with("IMAGE", path).fill(&mut found.findings);
    // The layout gives hits the names of their fields, and tells where a value ends.
    let shelf = shelves.for_image(path)?;
    let chosen = if found.hits.is_empty() { None } else { shelf.choose(&opened.image).chosen };
    console.heeded(chosen.map(|c| c.layout));
    let decoded = chosen.map(|c| layout::decode(c.layout, &opened.image));
    if let Some(decoded) = &decoded {
        found.are_whole(|hit| decoded.leaf_at(hit.place.start).is_some_and(|f| f.text.trim() == hit.text.trim()));
    }
    let searched = Searched {
        path: text::Name::of(path),
        image: &opened.image,
        wanted: args.text.trim(),
        found: &found,
        decoded: decoded.as_ref(),
    };
    console.judged(None, &found.findings, opened.image.base());
    match (console.json, console.lines) {
        (true, lines) => searched.json().print(console.out, lines)?,
        (false, true) => searched.write_entry(console.out, console.paint)?,
        (false, false) => searched.write(console.out, console.paint)?,
    }
    console.said(text::sentence(&searched.sentence()));
    Ok(match (found.is_exact(), found.hits.is_empty()) {
        (true, _) => Match::Exact,
        (false, false) => Match::Like,
        (false, true) => Match::Nothing,
    })
}
