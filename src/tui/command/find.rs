//! Finding a part number however it is stored, or bytes.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use super::{Command, USUAL, ask};
use crate::find;
use crate::image::Image;
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::dialog::Ask;
use crate::tui::effect::Effect;
use crate::tui::found::Place;
use crate::tui::job::{self, Task, Watch};
use crate::tui::panes::Pane;
use crate::tui::sheet::QUICK_BYTES;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// The row of the table.
pub(super) const FIND: Command = Command {
    name: "find",
    keys: &["Ctrl-F"],
    obstacle: job::obstacle,
    hint: "find",
    doc: "Find a part number or serial however it is stored, or bytes written as 0x46 4B",
    takes: "TEXT",
    act: |app, typed| {
        let needle = app.last.searched.clone();
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
                app.last.searched.clone_from(&typed);
                Some(begin(app, typed))
            }
            Err(_) => typed.trim().is_empty().then_some(Effect::None),
        }
    },
};

/// The most places that are shown while a search goes on.
const MOST_SO_FAR: usize = 200;

/// Searches the image that is worked on.
fn begin(app: &mut App, typed: String) -> Effect {
    let (index, image) = (app.current(), app.it().image().clone());
    let is_quick = image.len() <= QUICK_BYTES;
    // Seen from both sides while it goes on.
    let so_far: Arc<Mutex<Vec<Place>>> = Arc::default();
    let (shown, wanted) = (Arc::clone(&so_far), typed.clone());
    let search = move |watch: &Watch<'_>| {
        let done = AtomicUsize::new(0);
        let note = |bytes: usize, places: Vec<Place>| {
            let mut so_far = so_far.lock().unwrap_or_else(PoisonError::into_inner);
            let room = MOST_SO_FAR.saturating_sub(so_far.len());
            so_far.extend(places.into_iter().take(room));
            drop(so_far);
            let done = done.fetch_add(bytes, Ordering::Relaxed) + bytes;
            watch.note(done as f64 / image.len() as f64)
        };
        places(&image, &wanted, &note)
    };
    let finish = move |app: &mut App, places| {
        finish(app, index, &typed, places);
        Effect::None
    };
    let glance = move |app: &mut App| {
        let places = shown.lock().unwrap_or_else(PoisonError::into_inner).clone();
        show_so_far(app, index, places);
    };
    job::begin(app, Task::new("searching", search, finish).quick(is_quick).glance(glance))
}

/// Shows what a search of the image with this index found so far; the keys stay where they are.
fn show_so_far(app: &mut App, index: usize, places: Vec<Place>) {
    let Some(sheet) = app.images_mut().get_mut(index).filter(|_| !places.is_empty()) else { return };
    if sheet.found.places() != places {
        sheet.found.grow(places);
        if app.panes.focus() == Pane::Bytes && app.current() == index {
            app.panes.show(Pane::Found);
        }
    }
}

/// Told of how many bytes more were searched and of the places found in them; says whether to go on.
type Note<'a> = &'a (dyn Fn(usize, Vec<Place>) -> bool + Sync);

/// Where something stands in an image, the best first.
#[derive(Debug)]
pub struct Places {
    /// The places that are listed.
    pub listed: Vec<Place>,
    /// There are more, which are not.
    pub is_cut: bool,
}

/// Where what was typed stands in `image`; `None` when `note` stopped it.
pub fn places(image: &Image, typed: &str, note: Note<'_>) -> Option<Places> {
    match wanted(typed).ok()? {
        Wanted::Text(wanted) => {
            let note = |bytes: usize, hits: &[find::Hit]| note(bytes, hits.iter().map(place).collect());
            let found = find::find_watched(image, &wanted, &note)?;
            Some(Places { listed: found.hits.iter().map(place).collect(), is_cut: found.more > 0 })
        }
        Wanted::Bytes(wanted) => bytes(image.bytes(), &wanted, note),
    }
}

/// Shows what was found in the image with this index.
fn finish(app: &mut App, index: usize, typed: &str, places: Places) {
    app.turn_to(index);
    let exact = places.listed.iter().filter(|p| p.exact).count();
    let near = places.listed.len() - exact;
    let are_parts = places.listed.iter().filter(|p| p.exact).all(|p| !p.differs.is_empty());
    // Exact ones come first, so where near ones are listed none of them is missing.
    let more = if places.is_cut && (exact == 0 || near == 0) { "more than " } else { "" };
    let first = places.listed.first().map(|p| p.span);
    app.it_mut().found.take(places.listed);
    let Some(first) = first else {
        app.say(Tone::Bad, format!("{typed} is not in this image, in no way it could be stored"));
        return;
    };
    app.it_mut().select(first);
    app.panes.give_keys(Pane::Found);
    match (exact, near) {
        (0, 1) => app.say(Tone::Bad, "Not here. 1 near miss: another part until the label says otherwise"),
        (0, near) => {
            app.say(
                Tone::Bad,
                format!("Not here. {more}{near} near misses: other parts until the label says otherwise"),
            );
        }
        (exact, _) if are_parts => {
            let found = format!("{more}{}", text::count(exact, "time"));
            app.say(Tone::Doubt, format!("{typed}: found {found}, only as a part of something longer"));
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
        differs: hit.within.as_ref().map_or(differs.join(", "), |longer| format!("a part of {longer}")),
    }
}

/// Bytes that are searched between two looks at whether to go on.
const PIECE: usize = 16 << 20;

fn bytes(image: &[u8], wanted: &[u8], note: Note<'_>) -> Option<Places> {
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
        if !note(PIECE.min(image.len() - start), found) {
            return None;
        }
    }
    Some(Places { listed: places, is_cut: false })
}
