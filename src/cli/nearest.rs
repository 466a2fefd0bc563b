//! The `nearest` command.

use std::path::PathBuf;

use super::arguments::number_in;
use super::choose::{Choice, LayoutArgs};
use super::{Console, Outcome, batch};
use crate::error::Error;
use crate::image::Image;
use crate::nearest::{Likeness, Nearest, Wanted};
use crate::report::nearest::{Found, Known};
use crate::report::{self, text};
use crate::store;

/// What `nearest` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof nearest read.bin archive/\n  \
    readproof nearest read.bin archive/ --most 20 --json\n\n\
    Nearest is what has the same part number, then what is of the same layout, then\n\
    what has most bytes alike. Bytes that are blank (00 or FF) in both images are\n\
    not counted. The read itself is passed over where it lies among the known ones,\n\
    and in a folder hidden files, links to folders and .ron files are left out.\n\n\
    Exit status: 0 the nearest has the same part number or, where none is known, the\n\
    same layout or most bytes alike; 1 nothing is that near; 2 it could not be done,\n\
    or not for every image.")]
pub struct Args {
    /// The read; - reads standard input
    #[arg(value_name = "READ")]
    read: PathBuf,
    /// Known reads, or folders of them
    #[arg(value_name = "KNOWN", required = true)]
    known: Vec<PathBuf>,
    /// List at most this many
    #[arg(long, value_name = "NUMBER", default_value_t = 5, value_parser = number_in::<u16>(1, 1000))]
    most: u16,
    #[command(flatten)]
    layout: LayoutArgs,
}

/// Runs `nearest`.
///
/// # Errors
/// When the read or the layout cannot be used, or there is no known read.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let opened = console.open(&args.read)?;
    console.saw("read", &opened)?;
    let shelf = args.layout.shelf(&[&args.read])?;
    let Choice { chosen, mut findings, .. } = shelf.choose(&opened.image);
    args.layout.names().with("IMAGE", &args.read).fill(&mut findings);
    console.heeded(chosen.map(|c| c.layout));
    let wanted = Wanted::new(&opened.image, chosen.map(|c| c.layout));
    let (mut nearest, mut itself) = (Nearest::of_at_most(usize::from(args.most)), 0);
    // The docket gets what came of it, not ten thousand images.
    let for_docket = console.for_docket.take();
    let told = batch::run(
        &args.known,
        console,
        |path, console| {
            let known = console.open(path)?.image;
            let likeness = wanted.likeness(&known);
            let is_itself = likeness.is_equal() && store::is_same_file(path, &args.read);
            Ok((!is_itself).then(|| (likeness, path.to_owned())))
        },
        |done, console| {
            match done.result {
                Ok(Some((likeness, path))) => nearest.offer(likeness, path),
                Ok(None) => itself += 1,
                Err(error) => {
                    let said = report::error::text(&error, console.paint);
                    console.err.write_all(said.as_bytes())?;
                }
            }
            Ok(())
        },
    );
    console.for_docket = for_docket;
    console.lines = false;
    let mut told = told?;
    told.images -= itself;
    let kept = nearest.into_kept();
    let known = kept.into_iter().map(|(likeness, path)| known(&wanted, likeness, path, console));
    let known = known.collect::<Result<Vec<_>, Error>>()?;
    let found = Found {
        path: text::Name::of(&args.read),
        image: &opened.image,
        compared: wanted.period(),
        part_numbers: wanted.part_numbers().collect(),
        layout: chosen.map(|c| (c.layout, c.file.name.as_str())),
        told: &told,
        known: &known,
        next: known.first().map(|k| format!("readproof compare {} {}", text::shell(&args.read), k.path.typed())),
        findings: &findings,
    };
    console.said(format!("{}.", found.sentence()));
    console.judged(None, found.findings, opened.image.base());
    if console.json {
        found.json().write(console.out)?;
    } else {
        found.write(console.out, console.paint)?;
    }
    console.tell_choice(&shelf, &opened.image)?;
    Ok(batch::outcome(&told, known.first().is_some_and(|k| k.likeness.is_near())))
}

/// What is told about one that is listed: it is read a second time, so that only what is listed is kept in memory.
fn known(
    wanted: &Wanted<'_>,
    likeness: Likeness,
    path: PathBuf,
    console: &mut Console<'_>,
) -> Result<Known, Error> {
    let image: Image = console.open(&path)?.image;
    Ok(Known {
        fields: wanted.differing_fields(&image).map(|fields| fields.into_iter().map(|f| f.path).collect()),
        bytes: image.len(),
        path: text::Name::of(&path),
        likeness,
    })
}
