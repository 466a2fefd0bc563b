//! What a survey and a hunt propose for an image: regions as fields, checks that hold; each accepted, changed first,
//! or rejected.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};

use super::described::Described;
use super::rows::Rows;
use crate::author;
use crate::hunt::{self, Hit, Question};
use crate::image::Image;
use crate::layout::{self, Layout, Role};
use crate::report::text;
use crate::span::{ByteOrder, Span};
use crate::survey::{self, ByteClass, Confidence, Course, Drafted, Kind, Region, Stretch, Survey};

/// Images up to this size are searched for checks in the editor; the command hunt takes larger ones.
pub const MOST_HUNTED: usize = 256 << 10;

/// Hits of which chance gives more than this many are not worth a line of the list.
const CHANCE: f64 = 0.01;

/// The part of the work that the survey is taken to be; the hunt is the rest.
const SURVEY_PART: f64 = 0.2;

/// What is in an image by its bytes alone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Known {
    /// Texts, tables, copies and more.
    pub survey: Survey,
    /// Checks that hold, the least likely by chance first.
    pub checks: Vec<Hit>,
}

impl Known {
    /// Looks for what is in images by their bytes alone: regions of the first, and checks that hold in all. `note` is told
    /// of the part that is done. `None` once it is called off.
    #[must_use]
    pub fn of(
        images: &[&Image],
        course: Course,
        note: &(dyn Fn(f64) + Sync),
        stopped: &AtomicBool,
    ) -> Option<Known> {
        let known: Vec<Layout> =
            layout::SHIPPED.iter().filter_map(|(_, text)| layout::read(text).ok()).collect();
        let part = |done: f64| note(done * SURVEY_PART);
        let survey = survey::watched(images, course, &known, &part, stopped);
        let mut checks = Vec::new();
        if images.iter().all(|i| i.len() <= MOST_HUNTED) {
            let bounds = survey.regions.iter().flat_map(|r| [r.at.start, r.at.end]).collect();
            let question = Question { images: images.to_vec(), bounds, limit: CHANCE };
            let progress = |done: f64| note(SURVEY_PART + done * (1.0 - SURVEY_PART));
            checks = hunt::hunt(&question, &progress, stopped).hits;
        }
        (!stopped.load(Ordering::Relaxed)).then_some(Known { survey, checks })
    }
}

/// What a proposal becomes when it is accepted.
#[derive(Debug, Clone, PartialEq)]
pub enum Makes {
    /// A field.
    Field(Drafted),
    /// A check.
    Check(Box<Hit>),
    /// Nothing: it is there to be known.
    Nothing,
}

/// One thing that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The bytes it is about; of a check, those that store it.
    pub at: Span,
    /// What it is, in a word.
    pub word: String,
    /// What speaks for it.
    pub evidence: String,
    /// How sure it is.
    pub confidence: Confidence,
    /// How many of these chance alone would give, where that is known.
    pub chance: Option<f64>,
    /// What accepting it makes.
    pub makes: Makes,
}

/// Where a proposal stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Nothing is decided.
    Open,
    /// The layout says what it proposes.
    Described,
    /// The user does not want it.
    Rejected,
}

impl State {
    /// The word on screens; empty while nothing is decided.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            State::Open => "",
            State::Described => "described",
            State::Rejected => "rejected",
        }
    }
}

/// What is proposed for one image.
#[derive(Debug, Clone, Default)]
pub struct Proposals {
    /// What it was made from.
    known: Option<Known>,
    /// Everything proposed, in the order of offsets.
    all: Vec<Proposal>,
    /// What is listed, open ones first and rejected ones last: index and state.
    listed: Vec<(usize, State)>,
    /// The list on the screen.
    pub rows: Rows,
    /// What was rejected in this session, kept when the image is surveyed again.
    rejected: BTreeSet<(Span, String)>,
}

impl Proposals {
    /// What it was made from; `None` until somebody asked.
    #[must_use]
    pub fn known(&self) -> Option<&Known> {
        self.known.as_ref()
    }

    /// What is listed, open ones first and rejected ones last.
    pub fn listed(&self) -> impl Iterator<Item = (&Proposal, State)> {
        self.listed.iter().filter_map(|(index, state)| Some((self.all.get(*index)?, *state)))
    }

    /// What is proposed by `known` of `image`, beside what is described of it.
    pub fn take(&mut self, known: Known, image: &Image, described: &Described) {
        let regions = known.survey.regions.iter().map(|r| of_region(r, &known.survey, image));
        let checks = known.checks.iter().map(|hit| of_check(hit, image));
        // What lies in a region is told with it.
        let alone = known.survey.stretches.iter().filter(|s| s.region.is_none());
        let differing = alone.filter_map(|stretch| of_stretch(stretch, image));
        self.all = regions.chain(checks).chain(differing).collect();
        self.all.sort_by_key(|p| (p.at, matches!(p.makes, Makes::Check(_))));
        self.known = Some(known);
        self.rows = Rows::default();
        self.list(described);
    }

    /// Forgets what is proposed; what was rejected stays rejected.
    pub fn forget(&mut self) {
        let rejected = std::mem::take(&mut self.rejected);
        *self = Proposals { rejected, ..Proposals::default() };
    }

    /// The one that the list is on.
    #[must_use]
    pub fn chosen(&self) -> Option<(&Proposal, State)> {
        let (index, state) = *self.listed.get(self.rows.at)?;
        Some((self.all.get(index)?, state))
    }

    /// Rejects the one that the list is on, or brings it back; returns whether it is rejected now.
    pub fn turn_down(&mut self, described: &Described) -> Option<bool> {
        let (proposal, state) = self.chosen()?;
        let key = (proposal.at, proposal.word.clone());
        let is_rejected = match state {
            State::Rejected => {
                self.rejected.remove(&key);
                false
            }
            _ => self.rejected.insert(key),
        };
        self.list(described);
        Some(is_rejected)
    }

    /// Sorts them by what has become of them; after a change of the layout.
    pub fn list(&mut self, described: &Described) {
        let state = |p: &Proposal| {
            if self.rejected.contains(&(p.at, p.word.clone())) {
                return State::Rejected;
            }
            let is_described = match &p.makes {
                Makes::Check(hit) => {
                    let mut placed = described.decoded().checks.iter().filter_map(|c| c.placed.as_ref());
                    placed.any(|c| c.stored_at == hit.way.stored_at)
                }
                _ => {
                    described.layout().is_some() && !described.undescribed().iter().any(|o| o.overlaps(p.at))
                }
            };
            if is_described { State::Described } else { State::Open }
        };
        let mut listed: Vec<(usize, State)> =
            self.all.iter().enumerate().map(|(index, p)| (index, state(p))).collect();
        listed.sort_by_key(|(index, state)| (*state, *index));
        self.rows.fit(listed.len());
        self.listed = listed;
    }

    /// The field that is proposed for exactly these bytes, and what speaks for it.
    #[must_use]
    pub fn field_over(&self, span: Span) -> Option<(&Drafted, &str)> {
        self.all.iter().find_map(|p| match &p.makes {
            Makes::Field(drafted) if drafted.at == span => Some((drafted, p.evidence.as_str())),
            _ => None,
        })
    }

    /// How many are in `state`.
    #[must_use]
    pub fn count(&self, state: State) -> usize {
        self.listed.iter().filter(|(_, s)| *s == state).count()
    }
}

fn of_region(region: &Region, survey: &Survey, image: &Image) -> Proposal {
    let makes = match (&region.kind, survey::drafted(region, survey, image)) {
        (_, Some(drafted)) => Makes::Field(drafted),
        (Kind::Fill(_), None) => Makes::Field(Drafted {
            name: format!("spare_{:04x}", region.at.start),
            kind: format!("Bytes(bytes: {})", region.at.len()),
            at: region.at,
            role: Role::Filler,
        }),
        _ => Makes::Nothing,
    };
    Proposal {
        at: if let Makes::Field(drafted) = &makes { drafted.at } else { region.at },
        word: region.kind.word().to_owned(),
        evidence: region.evidence.clone(),
        confidence: region.confidence(),
        chance: Some(region.chance),
        makes,
    }
}

/// What several images say of bytes that differ between them.
fn of_stretch(stretch: &Stretch, image: &Image) -> Option<Proposal> {
    let role = match stretch.class {
        ByteClass::Same | ByteClass::Missing => return None,
        ByteClass::Counter | ByteClass::Record | ByteClass::Event | ByteClass::SomePairs => Role::Record,
        ByteClass::Unit => Role::Identity,
        ByteClass::CheckLike | ByteClass::Changes => Role::Setting,
    };
    let start = stretch.at.start;
    let bytes = stretch.at.of_bytes(image.bytes()).filter(|b| !b.is_empty())?;
    let kind = author::likely(bytes, ByteOrder::Big).into_iter().next()?.kind;
    let name = format!("{}_{start:04x}", stretch.class.word().replace('-', "_"));
    // A stored check value is a check's, which a hunt has to find.
    let makes = match stretch.class {
        ByteClass::CheckLike => Makes::Nothing,
        _ => Makes::Field(Drafted { name, kind, at: stretch.at, role }),
    };
    Some(Proposal {
        at: stretch.at,
        word: stretch.class.word().to_owned(),
        evidence: stretch.evidence.clone(),
        confidence: Confidence::Likely,
        chance: None,
        makes,
    })
}

fn of_check(hit: &Hit, image: &Image) -> Proposal {
    let over = text::place(hit.way.over, image.base());
    let confidence = match hit.expected {
        e if e < 1e-4 => Confidence::Sure,
        e if e < 0.05 => Confidence::Likely,
        _ => Confidence::Weak,
    };
    let others = match hit.also.len() {
        0 => String::new(),
        n => format!("; {} to see it", text::count(n, "other way")),
    };
    Proposal {
        at: hit.way.stored_at,
        word: "check".to_owned(),
        evidence: format!("{} over {over}{others}", hit.way.by.name),
        confidence,
        chance: Some(hit.expected),
        makes: Makes::Check(Box::new(hit.clone())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::image::Format;
    use crate::tui::sheet::Sheet;

    fn sheet() -> Sheet {
        let mut bytes = vec![0xFF; 0x80];
        bytes[0x10..0x20].copy_from_slice(b"FK-CR8-2047B    ");
        let mut sheet = Sheet::new("unit.bin".into(), Image::raw(bytes), Format::Raw);
        survey_again(&mut sheet);
        sheet
    }

    fn survey_again(sheet: &mut Sheet) {
        let survey = survey::survey(&[sheet.image()], Course::Units, &[]);
        sheet.proposals.take(Known { survey, checks: vec![] }, sheet.contents.image(), &sheet.described);
    }

    fn words(sheet: &Sheet) -> Vec<(String, State)> {
        sheet.proposals.listed().map(|(proposal, state)| (proposal.word.clone(), state)).collect()
    }

    #[test]
    fn what_was_rejected_is_listed_last_stays_rejected_and_can_be_brought_back() {
        let mut sheet = sheet();
        let before = words(&sheet);
        assert!(before.len() >= 3 && before[0] == ("fill".into(), State::Open), "{before:?}");
        assert_eq!(sheet.proposals.turn_down(&sheet.described), Some(true));
        assert_eq!(words(&sheet).last(), Some(&("fill".into(), State::Rejected)));
        assert_eq!(words(&sheet)[0].0, "part-number");
        // Surveyed again after the bytes changed.
        sheet.proposals.forget();
        survey_again(&mut sheet);
        assert_eq!(sheet.proposals.count(State::Rejected), 1);
        sheet.proposals.rows.at = before.len() - 1;
        assert_eq!(sheet.proposals.turn_down(&sheet.described), Some(false));
        assert_eq!(words(&sheet), before);
    }
}
