//! The `audit` command.

use std::path::{Path, PathBuf};

use super::choose::{Choice, LayoutArgs};
use super::{AddressRange, Console, Outcome, sides};
use crate::compare::audit::{Allowed, audit};
use crate::error::Error;
use crate::image::Image;
use crate::layout::{self, Layout};
use crate::report::audit::{self as report, Audited};
use crate::report::paint::Extent;

/// What `audit` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof audit read.bin returned.bin\n  \
    readproof audit read.bin changed.bin --allow serial\n  \
    readproof audit read.bin changed.bin --allow 0x1F0..0x200\n\n\
    Records and Settings may change, and the checks that follow from them.\n\
    Identity, Calibration, Reserved and bytes that the layout does not describe may\n\
    not, unless each is named with --allow.\n\n\
    Exit status: 0 safe to write; 1 not safe, or it cannot be told; 2 it could not\n\
    be done.")]
pub struct Args {
    /// The original, as it was read
    #[arg(value_name = "BEFORE")]
    before: PathBuf,
    /// The image that is to be written
    #[arg(value_name = "AFTER")]
    after: PathBuf,
    #[command(flatten)]
    layout: LayoutArgs,
    /// A field, or a range of addresses, that may change; may be given more than once
    #[arg(long, value_name = "FIELD", value_delimiter = ',')]
    allow: Vec<String>,
    /// Print every row of every table
    #[arg(long)]
    all: bool,
}

/// Runs `audit`.
///
/// # Errors
/// When an image or a layout cannot be used, or something that is to be allowed is not there.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let paths: [&Path; 2] = [&args.before, &args.after];
    let shelf = args.layout.shelf(&paths)?;
    let before = console.open(&args.before)?;
    let after = console.open(&args.after)?;
    console.saw("before", &before)?;
    console.saw("after", &after)?;
    let Choice { chosen, why, findings } = shelf.choose(&before.image);
    let layout = chosen.map(|c| c.layout);
    console.heeded(layout);
    let allowed = allowed(&args.allow, layout, &before.image)?;
    let mut audit = audit(layout, &before.image, &after.image, &allowed);
    audit.take_in(findings.into_iter().chain(before.remarks.iter().chain(&after.remarks).cloned()));
    let names = args.layout.names().with("BEFORE", &before.path).with("AFTER", &after.path);
    names.with("IMAGE", &after.path).fill(&mut audit.findings);
    let audited = Audited {
        before: sides::side(&before)?,
        after: sides::side(&after)?,
        layout: chosen.map(|c| sides::taken(c, &why)),
        audit: &audit,
    };
    console.said(report::sentence(&audit));
    console.judged(Some(audit.verdict()), &audit.findings, before.image.base());
    console.changed(&audit, &before.image, &after.image);
    if console.json {
        audited.write_json(console.out, "audit", None)?;
    } else {
        audited.write(console.out, console.paint, Extent::of(args.all, console.paint))?;
    }
    console.tell_choice(&shelf, &before.image)?;
    Ok(Outcome::of(audit.verdict()))
}

/// What `--allow` names: fields of the layout in `image`, or ranges of its addresses.
///
/// # Errors
/// When a field or a range is not there.
pub fn allowed(names: &[String], layout: Option<&Layout>, image: &Image) -> Result<Allowed, Error> {
    let mut allowed = Allowed::nothing();
    let decoded = layout.map(|l| layout::decode(l, image));
    for name in names {
        if let Ok(range) = name.parse::<AddressRange>() {
            allowed.allow_span(range.in_image(image)?);
            continue;
        }
        match &decoded {
            Some(decoded) => allowed.allow_field(decoded, name)?,
            None => {
                return Err(Error::new(format!("no layout is known, so there is no field {name:?} to allow"))
                    .advice("name a layout with --layout, or allow a range such as 0x1F0..0x200"));
            }
        }
    }
    Ok(allowed)
}
