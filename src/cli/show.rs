//! The `show` command.

use std::path::{Path, PathBuf};

use super::batch::Blocks;
use super::choose::{Choice, LayoutArgs, Shelf, Shelves};
use super::picture::PictureArgs;
use super::sides;
use super::{Console, Outcome, batch};
use crate::error::Error;
use crate::finding::Weight;
use crate::layout::{self, Decoded, Field, Shape};
use crate::report::paint::Extent;
use crate::report::picture::{self, Contents};
use crate::report::show::Shown;
use crate::report::sides::Side;
use crate::report::text;
use crate::store;

/// What `show` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof show read.bin\n  \
    readproof show read.bin --field serial --field lockouts\n  \
    readproof show read.bin --layout frostkeel-cr8 --json\n  \
    readproof show read.bin --picture read.svg\n  \
    readproof show reads/ --field serial --json\n\n\
    Of several images or a folder each is shown; with --json on a line each. In a\n\
    folder, hidden files, links to folders and .ron files are left out.\n\n\
    Exit status: 0 every field makes sense and every check is sealed; 1 not so, or\n\
    no layout fits; 2 it could not be done, or not for every image.")]
pub struct Args {
    /// Images to show, or folders of them; - reads standard input
    #[arg(value_name = "IMAGE", required = true)]
    images: Vec<PathBuf>,
    #[command(flatten)]
    layout: LayoutArgs,
    /// Print only this field or what is inside it; may be given more than once
    #[arg(long = "field", value_name = "PATH")]
    fields: Vec<String>,
    /// Print every row of every table, rows at rest included
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    picture: PictureArgs,
}

/// Runs `show`.
///
/// # Errors
/// When an image or a layout cannot be used, or a field is not in the layout.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let shelves = Shelves::of(&args.layout, &args.images)?;
    if let [path] = args.images.as_slice()
        && !batch::is_many(&args.images)
    {
        return show_one(args, &*shelves.for_image(path)?, path, console);
    }
    args.picture.only_of_one()?;
    let (mut good, mut blocks) = (true, Blocks::new());
    let told = batch::run(
        &args.images,
        console,
        |path, console| show_one(args, &*shelves.for_image(path)?, path, console),
        |done, console| {
            good &= blocks.print(done, |outcome| *outcome == Outcome::Good, console)?.is_none_or(|outcome| outcome == Outcome::Good);
            Ok(())
        },
    )?;
    batch::remark(&told, &args.images, console)?;
    Ok(batch::outcome(&told, good))
}

fn show_one(
    args: &Args,
    shelf: &Shelf,
    path: &Path,
    console: &mut Console<'_>,
) -> Result<Outcome, Error> {
    let opened = console.open(path)?;
    console.saw("image", &opened)?;
    let image = &opened.image;
    let Choice { chosen, why, mut findings } = shelf.choose(image);
    console.heeded(chosen.map(|c| c.layout));
    let decoded = chosen.map_or(Decoded::default(), |c| layout::decode(c.layout, image));
    // Why none fits says more than that none does.
    let is_explained = findings.iter().any(|f| f.weight == Weight::Fault);
    findings.extend(opened.remarks.iter().chain(&decoded.findings).cloned());
    if chosen.is_none() && !is_explained {
        findings.push(layout::choice::unknown(Weight::Doubt));
    }
    args.layout.names().with("IMAGE", path).fill(&mut findings);
    let shown = Shown {
        image: Side {
            path: text::Name::of(path),
            format: opened.format,
            image,
            sha256: Some(store::Sha256::of(image.bytes()).to_string()),
        },
        layout: chosen.map(|c| sides::taken(c, &why)),
        decoded: &decoded,
        findings: &findings,
    };
    console.judged(Some(shown.verdict()), &findings, image.base());
    console.hears(|out, paint| shown.write(out, paint, Extent::Short))?;
    let wanted = wanted_fields(&decoded, &args.fields)?;
    args.picture.write(|| {
        let contents = shown.layout.as_ref().map(|taken| Contents::Layout(taken, &decoded));
        Ok(picture::portrait(&sides::side(&opened)?, &contents.unwrap_or(Contents::Bytes)))
    })?;
    match (console.json, wanted.as_slice()) {
        (true, []) => shown.json(None).print(console.out, console.lines)?,
        (true, some) => shown.json(Some(some)).print(console.out, console.lines)?,
        (false, []) => {
            shown.write(console.out, console.paint, Extent::of(args.all, console.paint))?;
        }
        (false, some) => shown.write_chosen(console.out, console.paint, some, console.lines)?,
    }
    args.picture.tell(console)?;
    console.tell_choice(shelf, image)?;
    Ok(Outcome::of(shown.verdict()))
}

/// The leaf fields that `paths` name, a group or table standing for all that is inside.
fn wanted_fields<'a>(decoded: &'a Decoded, paths: &[String]) -> Result<Vec<&'a Field>, Error> {
    let mut wanted = Vec::new();
    for path in paths {
        let field = decoded.named(path)?;
        let inside = |f: &&Field| layout::is_inside(&f.path, &field.path);
        wanted.extend(decoded.fields.iter().filter(|f| f.shape == Shape::Leaf).filter(inside));
    }
    Ok(wanted)
}
