//! Finding a part number however it is stored, or bytes.

use super::{Command, USUAL, ask};
use crate::find;
use crate::image::Image;
use crate::report::text;
use crate::span::Span;
use crate::tui::app::{App, Pane};
use crate::tui::dialog::Ask;
use crate::tui::effect::Effect;
use crate::tui::found::Place;
use crate::tui::job::Task;
use crate::tui::theme::Tone;
use crate::tui::{job, typing};

/// The row of the table.
pub(super) const FIND: Command = Command {
    name: "find",
    keys: &["Ctrl-F"],
    obstacle: job::obstacle,
    hint: "find",
    doc: "Find a part number or serial however it is stored, or bytes written as 0x46 4B",
    takes: "TEXT",
    act: |app, typed| {
        let needle = app.needle.clone();
        ask(app, &FIND_LINE, typed, &needle)
    },
    ..USUAL
};

/// The most places listed for bytes.
const MOST_PLACES: usize = 500;

/// What the line asks for.
enum Wanted {
    Text(String),
    Bytes(Vec<u8>),
}

fn wanted(typed: &str) -> Result<Wanted, String> {
    let typed = typed.trim();
    if typed.starts_with("0x") || typed.starts_with("0X") {
        return typing::digits(typed).map(Wanted::Bytes);
    }
    find::refusal(typed).map_or(Ok(Wanted::Text(typed.into())), Err)
}

static FIND_LINE: Ask = Ask {
    title: "Find",
    remarks: |_, prompt| {
        if prompt.answer().trim().is_empty() {
            return vec![(Tone::Quiet, "a part number or serial, as on the label; bytes as 0x46 4B".into())];
        }
        vec![match wanted(prompt.answer()) {
            Ok(Wanted::Text(_)) => {
                (Tone::Quiet, "Enter searches it in every way it can be stored, near misses included".into())
            }
            Ok(Wanted::Bytes(bytes)) => {
                (Tone::Quiet, format!("Enter searches {}", text::hex_short(&bytes, 16)))
            }
            Err(why) => (Tone::Bad, why),
        }]
    },
    options: |_, _| Vec::new(),
    submit: |app, prompt| {
        let typed = prompt.answer().to_owned();
        match wanted(&typed) {
            Ok(_) => {
                app.needle.clone_from(&typed);
                Some(job::begin(app, Task::Find { image: app.current(), typed }))
            }
            Err(_) => typed.trim().is_empty().then_some(Effect::None),
        }
    },
};

/// Told of how many bytes more were searched and of the places found in them; says whether to go on.
type Watch<'a> = &'a (dyn Fn(usize, Vec<Place>) -> bool + Sync);

/// Where something stands in an image, the best first.
#[derive(Debug)]
pub struct Places {
    /// The places that are listed.
    pub listed: Vec<Place>,
    /// There are more, which are not.
    pub is_cut: bool,
}

/// Where what was typed stands in `image`; `None` when `watch` stopped it.
pub fn places(image: &Image, typed: &str, watch: Watch<'_>) -> Option<Places> {
    match wanted(typed).ok()? {
        Wanted::Text(wanted) => {
            let watch = |bytes: usize, hits: &[find::Hit]| watch(bytes, hits.iter().map(place).collect());
            let found = find::find_watched(image, &wanted, &watch)?;
            Some(Places { listed: found.hits.iter().map(place).collect(), is_cut: found.more > 0 })
        }
        Wanted::Bytes(wanted) => bytes(image.bytes(), &wanted, watch),
    }
}

/// Shows what was found in the image with this index.
pub fn found(app: &mut App, index: usize, typed: &str, places: Places) {
    app.turn_to(index);
    let exact = places.listed.iter().filter(|p| p.exact).count();
    let near = places.listed.len() - exact;
    // Exact ones come first, so where near ones are listed none of them is missing.
    let more = if places.is_cut && (exact == 0 || near == 0) { "more than " } else { "" };
    let first = places.listed.first().map(|p| p.span);
    app.it_mut().found.take(places.listed);
    let Some(first) = first else {
        app.say(Tone::Bad, format!("{typed} is not in this image, in no way it could be stored"));
        return;
    };
    app.it_mut().select(first);
    app.give_keys(Pane::Found);
    match (exact, near) {
        (0, 1) => app.say(Tone::Bad, "Not here. 1 near miss: another part until the label says otherwise"),
        (0, near) => {
            app.say(
                Tone::Bad,
                format!("Not here. {more}{near} near misses: other parts until the label says otherwise"),
            );
        }
        (exact, _) => app.say(Tone::Good, format!("{typed}: found {more}{}", text::count(exact, "time"))),
    }
}

fn place(hit: &find::Hit) -> Place {
    let differs: Vec<String> = hit.differs.iter().map(find::Difference::words).collect();
    Place {
        span: hit.place,
        exact: hit.exact,
        stored_as: hit.stored_as(),
        text: hit.text.clone(),
        differs: differs.join(", "),
    }
}

/// Bytes that are searched between two looks at whether to go on.
const PIECE: usize = 16 << 20;

fn bytes(image: &[u8], wanted: &[u8], watch: Watch<'_>) -> Option<Places> {
    let finder = memchr::memmem::Finder::new(wanted);
    let mut places = Vec::new();
    for start in (0..image.len()).step_by(PIECE) {
        // What begins in this piece may end in the next.
        let end = image.len().min(start + PIECE + wanted.len().saturating_sub(1));
        let piece = image.get(start..end).unwrap_or_default();
        let found = finder.find_iter(piece).take(MOST_PLACES + 1 - places.len()).map(|at| Place {
            span: Span::of(start + at, wanted.len()),
            exact: true,
            stored_as: "bytes".into(),
            text: text::hex_short(wanted, 8),
            differs: String::new(),
        });
        let found: Vec<Place> = found.collect();
        places.extend_from_slice(&found);
        if places.len() > MOST_PLACES {
            places.truncate(MOST_PLACES);
            return Some(Places { listed: places, is_cut: true });
        }
        if !watch(PIECE.min(image.len() - start), found) {
            return None;
        }
    }
    Some(Places { listed: places, is_cut: false })
}
