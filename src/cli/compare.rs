//! The `compare` command.

use std::path::{Path, PathBuf};

use super::choose::{Choice, LayoutArgs};
use super::picture::PictureArgs;
use super::sides;
use super::{Console, Outcome};
use crate::compare::align::{Alignment, align};
use crate::compare::{self, common_base, summary};
use crate::error::Error;
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::layout::{self, Decoded, Field, Layout, Role, Shape};
use crate::report::compare::{Compared, Pair};
use crate::report::paint::Extent;
use crate::report::{picture, text};
use crate::store::Opened;

/// Above this size contents that moved are looked for only when that is asked for.
const ALIGNED_BYTES: usize = 8 << 20;

/// What `compare` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof compare unit7.bin unit9.bin\n  \
    readproof compare read.bin longer.bin --aligned\n  \
    readproof compare a1.bin a2.bin b1.bin --units 7,7,9\n  \
    readproof compare unit7.bin unit9.bin --picture 7-and-9.svg\n\n\
    Of several images the first is the base. Those with the same identity by their\n\
    layout, or the same word in --units, are taken for reads of one unit: what\n\
    differs between them is unstable.\n\n\
    Exit status: 0 the same; 1 different; 2 it could not be done.")]
pub struct Args {
    /// Images; the first is the base; - reads standard input
    #[arg(value_name = "IMAGE", required = true, num_args = 2..)]
    images: Vec<PathBuf>,
    #[command(flatten)]
    layout: LayoutArgs,
    /// Say which contents moved, were inserted or are missing, even if none moved
    #[arg(long, conflicts_with = "in_place")]
    aligned: bool,
    /// Compare address by address only
    #[arg(long)]
    in_place: bool,
    /// The unit that each image is a read of, in order: 7,7,9
    #[arg(long, value_name = "WORDS", value_delimiter = ',')]
    units: Vec<String>,
    /// Print every row of every table
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    picture: PictureArgs,
}

/// Runs `compare`.
///
/// # Errors
/// When an image or a layout cannot be used.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if !args.units.is_empty() && args.units.len() != args.images.len() {
        let (words, images) = (text::count(args.units.len(), "word"), text::count(args.images.len(), "image"));
        return Err(Error::new(format!("--units has {words} for {images}")).advice("give one for each image, in order"));
    }
    let paths: Vec<&Path> = args.images.iter().map(PathBuf::as_path).collect();
    let shelf = args.layout.shelf(&paths)?;
    let opened =
        paths.iter().map(|path| console.open(path)).collect::<Result<Vec<Opened>, Error>>()?;
    let Some((base, others)) = opened.split_first() else { return Err(Error::new("no image was named").advice("name two")) };
    for (n, image) in opened.iter().enumerate() {
        console.saw(format!("image {}", n + 1), image)?;
    }
    let Choice { chosen, why, mut findings } = shelf.choose(&base.image);
    let layout = chosen.map(|c| c.layout);
    console.heeded(layout);
    findings.extend(opened.iter().flat_map(|o| o.remarks.iter().cloned()));
    let fitted: Vec<_> = others.iter().map(|other| common_base(&base.image, &other.image)).collect();
    for (_, other) in fitted.iter().zip(others).filter(|(fitted, _)| fitted.is_none()) {
        findings.push(elsewhere(&base.image, other));
    }
    args.layout.names().with("IMAGE", &base.path).fill(&mut findings);
    let pairs = others
        .iter()
        .zip(&fitted)
        .map(|(other, fitted)| {
            let (before, after) = match fitted {
                Some((before, after)) => (before.as_ref(), after.as_ref()),
                None => (&base.image, &other.image),
            };
            Ok(pair(args, layout, before, after, sides::side(other)?))
        })
        .collect::<Result<Vec<_>, Error>>()?;
    let (sum, units) = if others.len() > 1 { across(args, layout, &opened) } else { (None, Vec::new()) };
    let compared = Compared {
        base: sides::side(base)?,
        pairs,
        summary: sum,
        units,
        layout: chosen.map(|c| sides::taken(c, &why)),
        findings: &findings,
    };
    console.said(format!("{}.", compared.sentence()));
    console.judged(None, &findings, base.image.base());
    args.picture.write(|| {
        let decoded = layout.map(|layout| layout::decode(layout, &base.image));
        Ok(picture::comparison(&compared, decoded.as_ref()))
    })?;
    if console.json {
        compared.write_json(console.out)?;
    } else {
        compared.write(console.out, console.paint, Extent::of(args.all, console.paint))?;
    }
    args.picture.tell(console)?;
    console.tell_choice(&shelf, &base.image)?;
    Ok(if compared.is_same() { Outcome::Good } else { Outcome::Attention })
}

fn pair<'a>(
    args: &Args,
    layout: Option<&Layout>,
    before: &'a Image,
    after: &'a Image,
    other: crate::report::sides::Side<'a>,
) -> Pair<'a> {
    let decoded = layout.map(|layout| compare::decode_both(layout, before, after));
    let comparison = compare::compare(before, after, decoded.as_ref().map(|(was, is)| (was, is)));
    // What lies in a gap is like nothing.
    let whole = [before, after].iter().all(|image| image.gaps().iter().all(|gap| gap.start == 0));
    let small = whole && before.len().max(after.len()) <= ALIGNED_BYTES;
    let wanted = args.aligned || small && !args.in_place && !comparison.differences.is_empty();
    let alignment: Option<Alignment> = wanted.then(|| align(before.bytes(), after.bytes()));
    Pair { other, images: (before, after), comparison, alignment }
}

/// The summary across all images, and the unit that each is taken for a read of.
fn across(
    args: &Args,
    layout: Option<&Layout>,
    opened: &[Opened],
) -> (Option<compare::Summary>, Vec<String>) {
    let units = if args.units.is_empty() { units(layout, opened) } else { args.units.clone() };
    let number = |unit: &String| units.iter().position(|u| u == unit).unwrap_or(0);
    // Addresses must mean the same; where images begin elsewhere, only pairs can be compared.
    let base = opened.first().map_or(0, |o| o.image.base());
    if opened.iter().any(|o| o.image.base() != base) {
        return (None, units);
    }
    let images: Vec<(&Image, usize)> =
        opened.iter().zip(&units).map(|(o, unit)| (&o.image, number(unit))).collect();
    (Some(summary(&images)), units)
}

/// What tells each image's unit: the identity by which some of the images differ. Without identity each image is
/// taken for a unit of its own.
fn units(layout: Option<&Layout>, opened: &[Opened]) -> Vec<String> {
    let decoded: Vec<Decoded> =
        opened.iter().map(|o| layout.map_or(Decoded::default(), |l| layout::decode(l, &o.image))).collect();
    let is_identity = |f: &&Field| f.shape == Shape::Leaf && f.role == Role::Identity && !f.text.is_empty();
    let base = decoded.first().map_or(&[][..], |d| &d.fields);
    let identity: Vec<&Field> = base.iter().filter(is_identity).collect();
    if identity.is_empty() {
        return (1..=opened.len()).map(|n| format!("image {n}")).collect();
    }
    let text = |d: &Decoded, path: &str| d.field(path).map_or(String::new(), |f| f.text.clone());
    let differs = |f: &&&Field| decoded.iter().any(|d| text(d, &f.path) != f.text);
    let telling: Vec<&&Field> = identity.iter().filter(differs).collect();
    let telling = if telling.is_empty() { identity.iter().take(1).collect() } else { telling };
    let unit = |d: &Decoded| telling.iter().map(|f| text(d, &f.path)).collect::<Vec<_>>().join(", ");
    decoded.iter().map(|d| text::clean(&unit(d)).into_owned()).collect()
}

fn elsewhere(base: &Image, other: &Opened) -> Finding {
    Finding::new(
        Weight::Doubt,
        Code::SizeChanged,
        format!(
            "{} begins at {} and the base at {}; they share no address",
            text::path(&other.path),
            text::address(other.image.base()),
            text::address(base.base())
        ),
        "they are compared from their first bytes on",
        format!("if that is wrong, give one its right address with `readproof convert {} OUT --base ADDRESS`", text::shell(&other.path)),
    )
}

