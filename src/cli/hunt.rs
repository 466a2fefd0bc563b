//! The `hunt` command.

use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::arguments::number_in;
use super::choose::at_hand_or_file;
use super::wait::wait;
use super::{Console, Outcome};
use crate::error::Error;
use crate::hunt::{self, Answer, Question, entry};
use crate::image::Image;
use crate::layout::{self, Layout};
use crate::report::hunt::Hunted;
use crate::report::text;
use crate::store::{self, Identity, LayoutFile, Over};

/// What `hunt` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof hunt unit7.bin unit9.bin unit12.bin\n  \
    readproof hunt read.bin --page 32\n  \
    readproof hunt unit7.bin unit9.bin --into mine.ron\n\n\
    One image: ranges beside their value or between natural places. Two or more of\n\
    one kind: any range with its value anywhere, if it holds in all of them and\n\
    covers bytes that vary. Three that differ are best. Of one large image, a range\n\
    behind its value must end at a natural place.\n\n\
    Not looked for: CRC-82, whose values are longer than eight bytes.\n\n\
    Exit status: 0 something was found; 1 nothing was, or it was called off; 2 it\n\
    could not be done.")]
pub struct Args {
    /// Images of one kind of memory; - reads standard input
    #[arg(value_name = "IMAGE", required = true)]
    images: Vec<PathBuf>,
    /// Bytes of a page, where ranges may well begin and end
    #[arg(long, value_name = "BYTES", value_parser = number_in::<u32>(8, u32::MAX.into()))]
    page: Option<u32>,
    /// Layout whose fields tell where ranges may well begin and end: a file or the name of one at hand
    #[arg(long, value_name = "LAYOUT")]
    layout: Option<PathBuf>,
    /// Withhold hits of which chance alone would give more than this many
    #[arg(long, value_name = "NUMBER", default_value_t = hunt::LIMIT, value_parser = parse_limit)]
    chance: f64,
    /// Add what was found to the checks of this layout file; its comments stay
    #[arg(long, value_name = "LAYOUT.RON")]
    into: Option<PathBuf>,
}

fn parse_limit(typed: &str) -> Result<f64, String> {
    let number = typed.parse().ok().filter(|&limit: &f64| limit > 0.0 && limit <= 1000.0);
    number.ok_or_else(|| format!("{typed:?} is no limit; write a number above 0, at most 1000, such as 0.01"))
}

/// Runs `hunt`.
///
/// # Errors
/// When an image or a layout cannot be used.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let mut images: Vec<Image> = Vec::new();
    for (n, path) in args.images.iter().enumerate() {
        let opened = console.open(path)?;
        console.saw(format!("image {}", n + 1), &opened)?;
        if opened.image.len() > MOST_BYTES {
            let bytes = opened.image.len();
            return Err(Error::new(format!(
                "the image has {bytes} bytes; checks are hunted in up to {MOST_BYTES}, because the tables of the search \
                 grow with it"
            ))
            .in_file(path)
            .advice("hunt in the part that holds the check, cut out as a file of its own"));
        }
        images.push(opened.image);
    }
    let Some(first) = images.first() else { return Ok(Outcome::Attention) };
    let base = first.base();
    let mut bounds = BTreeSet::new();
    if let Some(page) = args.page {
        // Pages begin at addresses that are multiples of their size.
        let page = u64::from(page);
        let first_page = (page - base % page) % page;
        bounds.extend((first_page as usize..first.len()).step_by(page as usize));
    }
    if let Some(named) = &args.layout {
        let at_hand = store::layouts(None, &args.images.iter().map(PathBuf::as_path).collect::<Vec<_>>())?;
        let layout = store::read_layout(&at_hand_or_file(named, &at_hand)?)?;
        let decoded = layout::decode(&layout, first);
        bounds.extend(decoded.fields.iter().map(layout::Field::cover).flat_map(|span| [span.start, span.end]));
    }
    // Read before the search, so that a wrong name is told at once.
    let into = args.into.as_deref().map(Target::open).transpose()?;
    let question =
        Question { images: images.iter().collect(), bounds: bounds.into_iter().collect(), limit: args.chance };
    let answer = search(&question, console.err)?;
    let added = match into {
        Some(target) if !answer.hits.is_empty() => Some(target.add(&answer, first)?),
        _ => None,
    };
    let found = !answer.hits.is_empty();
    let hunted = Hunted {
        paths: args.images.iter().map(|path| text::Name::of(path)).collect(),
        base,
        answer: &answer,
        limit: args.chance,
        added,
    };
    console.hears(|out, paint| hunted.write(out, paint))?;
    match console.json {
        true => hunted.write_json(console.out)?,
        false => hunted.write(console.out, console.paint)?,
    }
    Ok(if found && !answer.cancelled { Outcome::Good } else { Outcome::Attention })
}

/// The largest image in which checks are hunted.
const MOST_BYTES: usize = 16 << 20;

/// Searches, see [`wait`].
pub(super) fn search(question: &Question<'_>, err: &mut dyn Write) -> Result<Answer, Error> {
    wait("searching", err, |progress, cancel| hunt::hunt(question, progress, cancel))
}

/// The layout file that takes what was found.
struct Target {
    path: PathBuf,
    identity: Identity,
    file: LayoutFile,
    layout: Layout,
}

impl Target {
    fn open(path: &Path) -> Result<Self, Error> {
        let identity = Identity::of(path).map_err(|error| match store::is_file(path) {
            true => error,
            false => {
                error.advice("name a layout file that exists; `readproof survey IMAGE --draft OUT.ron` writes a first one")
            }
        })?;
        let file = store::layout_file(path, &[])?;
        let layout = store::read_layout(&file)?;
        Ok(Target { path: path.to_owned(), identity, file, layout })
    }

    /// Adds the checks that the layout has not yet; returns its path and their names.
    fn add(self, answer: &Answer, image: &Image) -> Result<(text::Name, Vec<String>), Error> {
        let known = layout::decode(&self.layout, image).checks;
        let places: Vec<_> = known.iter().filter_map(|check| check.placed.as_ref()).map(|p| p.stored_at).collect();
        let ways: Vec<&hunt::Way> =
            answer.hits.iter().map(|hit| &hit.way).filter(|way| !places.contains(&way.stored_at)).collect();
        let path = text::Name::of(&self.path);
        if ways.is_empty() {
            return Ok((path, Vec::new()));
        }
        let unfit = |what: String| {
            Error::new(what).in_file(&self.path).advice("nothing was changed; add the checks by hand")
        };
        let added = entry::add(&self.file.text, &ways)
            .map_err(|problems| unfit(problems.first().map_or(String::new(), |problem| problem.what.clone())))?;
        // What is written must be a layout that says what was meant.
        let read = layout::read(&added.text).map_err(|_| unfit("the layout would not be read any more".to_owned()))?;
        if layout::decode(&read, image).checks.len() != known.len() + ways.len() {
            return Err(unfit("the layout would not have the checks that were added".to_owned()));
        }
        let over = Over { was: Some(&self.identity), keep_original: true, read_only_too: false };
        store::save_over(&self.path, added.text.as_bytes(), over)?;
        Ok((path, added.names))
    }
}
