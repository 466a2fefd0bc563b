//! The `checks` command.

use std::path::PathBuf;

use super::{AddressRange, Console, Outcome};
use crate::check::digits::{DigitRule, DigitState};
use crate::check::{self, Algorithm};
use crate::error::Error;
use crate::report::checks::{self as report, Computed};
use crate::span::{ByteOrder, Span};

/// What `checks` is told.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    readproof checks\n  \
    readproof checks CRC-16/XMODEM\n  \
    readproof checks CRC-16/XMODEM read.bin --over 0x100..0x1FE\n  \
    readproof checks \"CRC(width: 16, poly: 0x1021, init: 0x1234)\" read.bin\n  \
    readproof checks \"SUM(bits: 16, word: 16, order: Little, to: 0xBABA)\" read.bin\n  \
    readproof checks VIN --text 1M8GDM9AXKP042788\n\n\
    Exit status: 0 told or computed; 1 a check digit is wrong; 2 it could not be\n\
    done.")]
pub struct Args {
    /// Name of a check, or its parameters; without any, lists them all
    #[arg(value_name = "NAME")]
    name: Option<String>,
    /// Image to compute it over; - reads standard input
    #[arg(value_name = "IMAGE", requires = "name")]
    image: Option<PathBuf>,
    /// Addresses to compute over, the end not included: 0x40..0x1FE or 0x40+446; several are laid end to end;
    /// without any, the whole image
    #[arg(long, value_name = "RANGE", requires = "image")]
    over: Vec<AddressRange>,
    /// Which byte of the result stands first; without it, both are shown
    #[arg(long, value_enum, value_name = "big|little", hide_possible_values = true, requires = "image")]
    order: Option<Order>,
    /// Text to compute it over: for a check digit, the text with the digit in it
    #[arg(long, value_name = "TEXT", requires = "name", conflicts_with = "image")]
    text: Option<String>,
}

/// Which byte stands first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Order {
    /// The most significant byte.
    Big,
    /// The least significant byte.
    Little,
}

impl From<Order> for ByteOrder {
    fn from(order: Order) -> Self {
        match order {
            Order::Big => ByteOrder::Big,
            Order::Little => ByteOrder::Little,
        }
    }
}

/// Runs `checks`.
///
/// # Errors
/// When there is no such check, or a range is not in the image.
pub fn run(args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    let Some(name) = &args.name else {
        match console.json {
            true => report::list_json().write(console.out)?,
            false => report::write_list(console.out, console.paint)?,
        }
        return Ok(Outcome::Good);
    };
    let algorithm = match (check::by_name(name), DigitRule::by_name(name)) {
        (Ok(algorithm), _) => algorithm,
        (Err(_), Ok(rule)) => return digits(rule, args, console),
        (Err(error), Err(near)) => {
            let advice = match near {
                Some(near) if !error.advice.starts_with("did you mean") => {
                    format!("did you mean {near}? {}", error.advice)
                }
                _ => error.advice,
            };
            return Err(Error::new(error.what).advice(advice));
        }
    };
    if let Some(text) = &args.text {
        let computed = Computed {
            path: None,
            base: 0,
            over: vec![Span::new(0, text.len())],
            value: algorithm.compute([text.as_bytes()]),
            order: None,
        };
        return tell(&algorithm, &computed, console);
    }
    let Some(path) = &args.image else {
        match console.json {
            true => report::one_json(&algorithm).write(console.out)?,
            false => report::write_one(console.out, console.paint, &algorithm)?,
        }
        return Ok(Outcome::Good);
    };
    let opened = console.open(path)?;
    let image = &opened.image;
    let at = |error: Error| error.in_file(path);
    let over = match args.over.as_slice() {
        [] => vec![Span::new(0, image.len())],
        ranges => ranges.iter().map(|range| range.in_image(image)).collect::<Result<_, _>>().map_err(at)?,
    };
    let pieces: Vec<&[u8]> = over
        .iter()
        .map(|&span| {
            image.get(span).ok_or_else(|| {
                let gap = image.gaps().iter().find(|gap| gap.overlaps(span)).copied().unwrap_or(span);
                let gap = crate::report::text::range(gap, image.base());
                at(Error::new(format!("{gap} is a gap in the file: nobody knows its bytes"))
                    .advice("compute over the parts before and behind it, with --over for each"))
            })
        })
        .collect::<Result<_, _>>()?;
    let value = algorithm.compute(pieces);
    let computed =
        Computed { path: Some(path), base: image.base(), over, value, order: args.order.map(ByteOrder::from) };
    tell(&algorithm, &computed, console)
}

fn tell(algorithm: &Algorithm, computed: &Computed<'_>, console: &mut Console<'_>) -> Result<Outcome, Error> {
    console.hears(|out, paint| report::write_computed(out, paint, algorithm, computed))?;
    match console.json {
        true => report::computed_json(algorithm, computed).write(console.out)?,
        false => report::write_computed(console.out, console.paint, algorithm, computed)?,
    }
    Ok(Outcome::Good)
}

/// A rule for check digits: told, or tried on a text.
fn digits(rule: DigitRule, args: &Args, console: &mut Console<'_>) -> Result<Outcome, Error> {
    if args.image.is_some() {
        return Err(Error::new(format!("{} is computed over text, not over an image", rule.word()))
            .advice(format!("`readproof checks {} --text TEXT` tries it on a text", rule.word())));
    }
    let Some(text) = &args.text else {
        match console.json {
            true => report::rule_json(rule).write(console.out)?,
            false => report::write_rule(console.out, console.paint, rule)?,
        }
        return Ok(Outcome::Good);
    };
    let state = rule.verify(text);
    console.hears(|out, paint| report::write_digits(out, paint, rule, text, &state))?;
    match console.json {
        true => report::digits_json(rule, text, &state).write(console.out)?,
        false => report::write_digits(console.out, console.paint, rule, text, &state)?,
    }
    Ok(if state == DigitState::Right { Outcome::Good } else { Outcome::Attention })
}
