//! What a survey and a hunt propose, accepted or rejected row by row.

use super::annotate::{ask_check, ask_new, write};
use super::{Command, USUAL, Where};
use crate::author::{self, NewField, Scaling};
use crate::layout::Role;
use crate::report::text;
use crate::survey::Confidence;
use crate::tui::app::App;
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::proposals::{Makes, Proposal, State};
use crate::tui::sheet::Sheet;
use crate::tui::theme::Tone;

/// Accepts the chosen proposal.
pub(super) const ACCEPT: Command = Command {
    name: "accept-proposal",
    keys: &["a"],
    place: Where::PROPOSED,
    obstacle: undecided,
    hint: "accept",
    doc: "Make the chosen proposal a field or check of the layout; describe changes it first",
    act: |app, _| accept(app),
    ..USUAL
};

/// Accepts every proposal that is sure.
pub(super) const ACCEPT_SURE: Command = Command {
    name: "accept-sure",
    keys: &["A"],
    place: Where::PROPOSED,
    obstacle: |app| {
        let open = sure(app).next().is_none();
        open.then_some("No open proposal is sure and free of others")
    },
    hint: "accept sure",
    doc: "Make every proposal that is sure, and lies over nothing described, part of the layout",
    act: |app, _| accept_sure(app),
    ..USUAL
};

/// Rejects the chosen proposal, or brings it back.
pub(super) const REJECT: Command = Command {
    name: "reject-proposal",
    keys: &["r", "Delete"],
    place: Where::PROPOSED,
    obstacle: |app| app.it().proposals.chosen().is_none().then_some("Nothing is proposed"),
    hint: "reject",
    doc: "Put the chosen proposal among the rejected ones, or bring it back from there",
    act: |app, _| {
        let it = app.it_mut();
        let rejected = it.proposals.turn_down(&it.described);
        let told = match rejected {
            Some(true) => "Rejected; it is at the end of the list, {reject-proposal} there brings it back",
            _ => "Brought back",
        };
        app.tell(Tone::Plain, told);
        show_chosen(app);
        Effect::None
    },
    ..USUAL
};

fn undecided(app: &App) -> Option<&'static str> {
    match app.it().proposals.chosen() {
        None => Some("Nothing is proposed"),
        Some((_, State::Described)) => Some("The layout describes this already"),
        Some((_, State::Rejected)) => Some("This was rejected; {reject-proposal} brings it back"),
        Some((Proposal { makes: Makes::Nothing, .. }, _)) => {
            Some("This is there to be known and makes no field; describe its bytes with {describe}")
        }
        Some(_) => super::annotate::alone(app),
    }
}

/// Selects the bytes of the chosen proposal.
pub(super) fn show_chosen(app: &mut App) {
    if let Some(at) = app.it().proposals.chosen().map(|(p, _)| p.at) {
        app.it_mut().select(at);
    }
}

fn accept(app: &mut App) -> Effect {
    let Some(proposal) = app.it().proposals.chosen().map(|(p, _)| p.clone()) else { return Effect::None };
    let done = match &proposal.makes {
        Makes::Check(hit) => super::annotate::add_check(app, &hit.way, None),
        Makes::Field(_) => match field(app.it(), &proposal) {
            Some(field) => {
                let new = author::add(&app.it().layout_text(), &field);
                let at = text::address(app.it().image().address(field.at));
                write(app, &format!("accepted {} at {at}", field.name), new)
            }
            None => {
                // A part of it is described in another way: the user sees what is left of it.
                app.it_mut().select(proposal.at);
                return ask_new(app);
            }
        },
        Makes::Nothing => false,
    };
    if done {
        show_chosen(app);
    }
    Effect::None
}

/// The field that a proposal makes, when none of its bytes is described; of a blank stretch, the part that is not.
fn field(sheet: &Sheet, proposal: &Proposal) -> Option<NewField> {
    let Makes::Field(drafted) = &proposal.makes else { return None };
    let free = sheet.described.undescribed().iter().find_map(|run| run.intersection(drafted.at))?;
    let is_blank = drafted.role == Role::Filler;
    if free != drafted.at && !is_blank {
        return None;
    }
    let bytes = free.of_bytes(sheet.image().bytes()).unwrap_or_default();
    let (name, kind) = match is_blank {
        true => (format!("spare_{:04x}", free.start), format!("Bytes(bytes: {})", free.len())),
        false => (drafted.name.clone(), drafted.kind.clone()),
    };
    let rest = match drafted.role {
        Role::Record => Some(0xFF),
        Role::Filler => bytes.first().copied(),
        _ => None,
    };
    // What fills it says it all.
    let note = Some(proposal.evidence.clone()).filter(|_| !is_blank);
    Some(NewField {
        name,
        inside: None,
        at: free.start,
        kind,
        scaling: Scaling::default(),
        role: drafted.role,
        rest,
        note,
    })
}

/// The proposals that [`ACCEPT_SURE`] accepts.
fn sure(app: &App) -> impl Iterator<Item = &Proposal> {
    let it = app.it();
    let open = it.proposals.listed().filter(|(_, state)| *state == State::Open);
    open.map(|(proposal, _)| proposal).filter(|p| {
        p.confidence == Confidence::Sure && (matches!(p.makes, Makes::Check(_)) || field(it, p).is_some())
    })
}

fn accept_sure(app: &mut App) -> Effect {
    let mut wanted: Vec<Proposal> = sure(app).cloned().collect();
    // Checks first: what overlaps a stored check value is explained by it.
    wanted.sort_by_key(|p| !matches!(p.makes, Makes::Check(_)));
    let (mut new, mut taken, mut many) = (app.it().layout_text(), Vec::new(), 0);
    for proposal in wanted {
        let field = field(app.it(), &proposal);
        let span = proposal.at;
        if taken.iter().any(|t: &crate::span::Span| t.overlaps(span)) {
            continue;
        }
        let next = match (&proposal.makes, field) {
            (Makes::Check(hit), _) => author::add_check(&new, &hit.way, None).map(|(text, _)| text),
            (_, Some(field)) => author::add(&new, &field),
            _ => continue,
        };
        // One that cannot be written stays in the list.
        if let Ok(next) = next {
            new = next;
            taken.push(span);
            many += 1;
        }
    }
    if many == 0 {
        app.say(Tone::Bad, "None of them can be written into the layout; accept them one by one");
    } else if write(app, &format!("accepted {}", text::count(many, "proposal")), Ok(new)) {
        show_chosen(app);
    }
    Effect::None
}

/// Opens the list.
pub(super) fn list(app: &mut App) {
    let it = app.it_mut();
    it.proposals.list(&it.described);
    app.panes.give_keys(Pane::Proposed);
    show_chosen(app);
}

/// Asks about the check that is found to be stored in exactly the selected bytes and is none of the layout yet;
/// returns whether there is one.
pub(super) fn ask_stored(app: &mut App) -> bool {
    let span = app.it().selection();
    let row = app.it().proposals.listed().position(|(proposal, state)| {
        state != State::Described && proposal.at == span && matches!(proposal.makes, Makes::Check(_))
    });
    let Some(row) = row else { return false };
    app.it_mut().proposals.rows.at = row;
    let hit = app.it().proposals.chosen().and_then(|(p, _)| match &p.makes {
        Makes::Check(hit) => Some(hit.clone()),
        _ => None,
    });
    hit.is_some_and(|hit| {
        ask_check(app, &hit);
        true
    })
}
