//! The Proposed pane: what a survey and a hunt found, open ones first, rejected ones last.

use super::canvas::Canvas;
use super::findings;
use crate::author;
use crate::layout::Role;
use crate::report::text;
use crate::survey::Confidence;
use crate::tui::app::App;
use crate::tui::panes::Pane;
use crate::tui::proposals::{Makes, Proposal, State};
use crate::tui::theme::Tone;

/// How many there are.
pub(super) fn aside(app: &App) -> String {
    let proposals = &app.it().proposals;
    let rejected = match proposals.count(State::Rejected) {
        0 => String::new(),
        n => format!(", {n} rejected"),
    };
    format!("{} open{rejected}", proposals.count(State::Open))
}

/// Draws the visible rows and, below, what the chosen one would become; returns where the chosen one is.
pub(super) fn draw(canvas: &mut Canvas<'_>, app: &App) -> Option<(u16, u16)> {
    let it = app.it();
    let list = &it.proposals;
    if list.rows.len == 0 {
        canvas.text(1, 0, "Nothing was found.", Tone::Quiet);
        return canvas.on_screen(0, 0);
    }
    let height = findings::rows(canvas.height(), list.rows.len);
    let width = canvas.width();
    for (y, (proposal, state)) in list.listed().skip(list.rows.top).take(height).enumerate() {
        let open = state == State::Open;
        let mark = match state {
            State::Open => " ",
            State::Described => "=",
            State::Rejected => "-",
        };
        canvas.text(0, y, mark, Tone::Quiet);
        let place = it.address(proposal.at.start);
        let x = canvas.text(1, y, &place, Tone::Quiet) + 1;
        let tone = if open { Tone::Strong } else { Tone::Quiet };
        let x = canvas.cell(x, y, 14, &proposal.word, tone) + 1;
        let (told, tone) = match (state, proposal.confidence) {
            (State::Open, Confidence::Sure) => ("sure", Tone::Good),
            (State::Open, Confidence::Likely) => ("likely", Tone::Plain),
            (State::Open, Confidence::Weak) => ("weak", Tone::Doubt),
            (state, _) => (state.word(), Tone::Quiet),
        };
        let room = width.saturating_sub(x + 11);
        canvas.cell(
            x,
            y,
            room,
            &text::clean(&proposal.evidence),
            if open { Tone::Plain } else { Tone::Quiet },
        );
        canvas.text(width.saturating_sub(10), y, told, tone);
    }
    for (y, (tone, line)) in detail(app, width.saturating_sub(4)).iter().enumerate() {
        canvas.text(3, height + y, line, *tone);
    }
    let chosen = list.rows.at.checked_sub(list.rows.top)?;
    if chosen < height {
        canvas.choose(chosen, app.panes.focus() == Pane::Proposed);
    }
    canvas.on_screen(0, chosen)
}

/// What the chosen one would become, with its value, and what speaks for it.
fn detail(app: &App, width: usize) -> Vec<(Tone, String)> {
    let Some((proposal, _)) = app.it().proposals.chosen() else { return Vec::new() };
    let mut told = vec![(Tone::Strong, becomes(app, proposal))];
    told.push((Tone::Plain, text::sentence(&proposal.evidence)));
    let by_chance = proposal.chance.map(|c| format!("Chance alone gives {} of these.", chance(c)));
    told.extend(by_chance.map(|line| (Tone::Quiet, line)));
    let lines = told.iter().filter(|(_, line)| !line.is_empty());
    lines
        .flat_map(|(tone, line)| {
            text::wrap(&text::clean(line), width.max(10)).into_iter().map(move |l| (*tone, l))
        })
        .collect()
}

fn chance(chance: f64) -> String {
    match chance {
        c if c < 1e-9 => "less than one in 1,000,000,000".into(),
        c if c >= 0.1 => format!("{c:.1}"),
        c => format!("one in {:.0}", 1.0 / c),
    }
}

fn becomes(app: &App, proposal: &Proposal) -> String {
    let it = app.it();
    match &proposal.makes {
        Makes::Nothing => String::new(),
        Makes::Check(hit) => {
            let stored = text::place(hit.way.stored_at, it.image().base());
            format!("check {}, stored at {stored}", hit.way.by.name)
        }
        Makes::Field(drafted) => {
            let kind = drafted.kind.split_whitespace().collect::<Vec<_>>().join(" ");
            let bytes = drafted.at.of_bytes(it.image().bytes()).unwrap_or_default();
            let order = author::order(&it.layout_text());
            let reading = author::reading(&drafted.kind, &author::Scaling::default(), bytes, order);
            let shows = reading.map(|r| r.shows).unwrap_or_default();
            let shows = match drafted.role {
                // What holds nothing need not be spelled out.
                Role::Filler => String::new(),
                _ if shows.is_empty() => String::new(),
                _ => format!(" = {}", text::cut(&shows, 40)),
            };
            format!("{} {}{shows}, {}", drafted.role.word(), drafted.name, text::cut(&kind, 60))
        }
    }
}
