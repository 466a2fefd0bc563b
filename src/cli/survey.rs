//! The `survey` command.

use std::path::{Path, PathBuf};

use super::batch::Blocks;
use super::choose::{LayoutArgs, Shelves};
use super::picture::PictureArgs;
use super::sides;
use super::wait::wait;
use super::{Console, Outcome, batch};
use crate::error::Error;
use crate::hunt::Question;
use crate::report::picture::{self, Contents};
use crate::report::survey::Surveyed;
use crate::report::text;
use crate::store;
use crate::survey::{Course, draft, survey, watched};

/// What `survey` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof survey unknown.bin\n  \
    readproof survey unit7.bin unit9.bin unit12.bin --draft first.ron\n  \
    readproof survey latched.bin cleared.bin --pairs\n  \
    readproof survey unknown.bin --picture unknown.svg\n  \
    readproof survey reads/ --json\n\n\
    Several images should be of one kind of memory: what differs between them tells\n\
    a lot. Each region is told with its evidence and with how many of a hundred such\n\
    regions were right where the layout is known: below 60 %, take it for a hint.\n\n\
    In a folder, and with --each, every image is surveyed on its own. Hidden files,\n\
    links to folders and .ron files in a folder are left out.\n\n\
    Exit status: 0 told; 2 it could not be done, or not for every image.")]
pub struct Args {
    /// Images, the regions are told of the first; or folders of images
    #[arg(required = true, value_name = "IMAGE")]
    images: Vec<PathBuf>,
    /// Survey every image on its own, as those in a folder are
    #[arg(long, conflicts_with_all = ["in_time", "pairs", "draft"])]
    each: bool,
    /// The images are of one unit, oldest first: what only grows is told as a counter
    #[arg(long)]
    in_time: bool,
    /// The images are pairs of one unit each, BEFORE AFTER BEFORE AFTER...: what one event changes is told
    #[arg(long, conflicts_with = "in_time")]
    pairs: bool,
    /// Write a first layout drawn from what was found; an existing file is never replaced; - writes to standard output
    #[arg(long, value_name = "OUT.ron")]
    draft: Option<PathBuf>,
    #[command(flatten)]
    picture: PictureArgs,
    #[command(flatten)]
    layout: LayoutArgs,
}

/// Checks that chance would give oftener than this are not drafted: a layout should not start with a wrong one.
const MOST_CHANCE: f64 = 0.01;

/// Runs `survey`.
///
/// # Errors
/// When an image or a layout cannot be used, or the draft cannot be written.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if args.each || batch::has_folder(&args.images) {
        args.picture.only_of_one()?;
        return many(args, console);
    }
    let opened = args
        .images
        .iter()
        .map(|path| console.open(path))
        .collect::<Result<Vec<_>, Error>>()?;
    let images: Vec<_> = opened.iter().map(|o| &o.image).collect();
    for (n, opened) in opened.iter().enumerate() {
        console.saw(format!("image {}", n + 1), opened)?;
    }
    let course = match (args.in_time, args.pairs) {
        (true, _) => Course::Time,
        (_, true) => Course::Pairs,
        _ => Course::Units,
    };
    if course == Course::Pairs && images.len() % 2 != 0 {
        return Err(Error::new(format!("--pairs was given {}", text::count(images.len(), "image")))
            .advice("give two for each unit, the one before the event first"));
    }
    let to_stream = args.draft.as_deref().map_or(Ok(false), |out| console.is_stream(out))?;
    let paths: Vec<&Path> = args.images.iter().map(PathBuf::as_path).collect();
    let shelf = args.layout.shelf(&paths)?;
    let survey = wait("surveying", console.err, |progress, cancel| {
        watched(&images, course, shelf.layouts(), progress, cancel)
    })?;
    let draft_to = args.draft.as_ref().filter(|_| !survey.cancelled);
    if let (Some(out), Some(first)) = (draft_to, images.first()) {
        let title = format!("Draft from {}", name_of(&args.images[0]));
        let bounds = survey.regions.iter().flat_map(|r| [r.at.start, r.at.end]).collect();
        let question = Question { images: images.clone(), bounds, limit: MOST_CHANCE };
        let checks = super::hunt::search(&question, console.err)?.hits;
        let drafted = draft(&title, &survey, first, &checks);
        match to_stream {
            true => console.hand_over(drafted.as_bytes())?,
            false => drop(store::save_new(out, drafted.as_bytes())?),
        }
    }
    if let Some(first) = opened.first() {
        args.picture.write(|| Ok(picture::portrait(&sides::side(first)?, &Contents::Survey(&survey))))?;
    }
    let surveyed = Surveyed {
        paths: opened.iter().map(|o| text::Name::of(&o.path)).collect(),
        survey: &survey,
        base: images.first().map_or(0, |i| i.base()),
        draft: draft_to.filter(|_| !to_stream).map(|path| text::Name::of(path)),
    };
    console.hears(|out, paint| surveyed.write(out, paint))?;
    if console.json {
        surveyed.json().write(console.out)?;
    } else {
        let paint = console.paint;
        surveyed.write(console.report(), paint)?;
    }
    args.picture.tell(console)?;
    Ok(Outcome::Good)
}

/// Surveys every image on its own.
fn many(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let of_one_kind =
        [(args.in_time, "--in-time"), (args.pairs, "--pairs"), (args.draft.is_some(), "--draft")];
    if let Some((_, option)) = of_one_kind.iter().find(|(given, _)| *given) {
        return Err(Error::new(format!("{option} is for images of one kind, and those in a folder are surveyed one by one"))
            .advice("name the images"));
    }
    let shelves = Shelves::of(&args.layout, &args.images)?;
    let mut blocks = Blocks::new();
    let told = batch::run(
        &args.images,
        console,
        |path, console| {
            let opened = console.open(path)?;
            console.saw("image", &opened)?;
            let survey = survey(&[&opened.image], Course::Units, shelves.for_image(path)?.layouts());
            let surveyed = Surveyed {
                paths: vec![text::Name::of(path)],
                survey: &survey,
                base: opened.image.base(),
                        draft: None,
            };
            match console.json {
                true => surveyed.json().print(console.out, true)?,
                false => surveyed.write_with_path(console.out, console.paint)?,
            }
            Ok(())
        },
        |done, console| blocks.print(done, |()| true, console).map(drop),
    )?;
    batch::remark(&told, &args.images, console)?;
    Ok(batch::outcome(&told, true))
}

/// The name of an image without its folders, for the title of a draft.
fn name_of(path: &Path) -> String {
    path.file_name().map_or_else(|| text::path(path), |name| text::path(Path::new(name)))
}
