//! The `survey` command.

use std::path::PathBuf;

use super::{Console, Outcome};
use crate::error::Error;
use crate::report::survey::Surveyed;
use crate::report::text;
use crate::store;
use crate::survey::{Course, survey};

/// What `survey` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Several images should be of one kind of memory: what differs between them tells a lot.\n\
                        Each region is told with its evidence; \"sure\" means that chance makes one like it\n\
                        in ten thousand surveys or fewer, \"weak\" that it may well be chance.")]
pub struct Args {
    /// Images; the regions are told of the first
    #[arg(required = true, value_name = "IMAGE")]
    images: Vec<PathBuf>,
    /// The images are of one unit, oldest first: what only grows is told as a counter
    #[arg(long)]
    in_time: bool,
}

/// Runs `survey`.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let opened = args
        .images
        .iter()
        .map(|path| store::open(path, console.input))
        .collect::<Result<Vec<_>, Error>>()?;
    let images: Vec<_> = opened.iter().map(|o| &o.image).collect();
    let course = if args.in_time { Course::Time } else { Course::Units };
    let survey = survey(&images, course);
    let surveyed = Surveyed {
        paths: opened.iter().map(|o| text::path(&o.path)).collect(),
        survey: &survey,
        base: images.first().map_or(0, |i| i.base()),
        findings: &[],
        draft: None,
    };
    if console.json {
        surveyed.json().write(console.out)?;
    } else {
        surveyed.write(console.out, console.paint)?;
    }
    Ok(Outcome::Good)
}
