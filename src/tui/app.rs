//! What the editor knows between two keys.

use super::command::GivenUp;
use super::dialog::{Dialog, Page, Paragraph};
use super::file::OwnFiles;
use super::job::Jobs;
use super::keys::Keys;
use super::panes::{Pane, Panes};
use super::recovery::Leftovers;
use super::settings::Source;
use super::sheet::Sheet;
use super::theme::{Look, Tone};
use super::tour::Tour;
use super::twin::Twin;
use crate::layout::{Check, Field};
use crate::report::text;

/// One line that answers the last key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// How it weighs.
    pub tone: Tone,
    /// What it says.
    pub text: String,
}

/// What was used last, whichever image it was used on.
#[derive(Debug, Default)]
pub struct Last {
    /// What was copied.
    pub copied: Vec<u8>,
    /// What was searched for.
    pub searched: String,
}

/// What the editor knows between two keys.
pub struct App {
    /// Columns and rows of the terminal.
    pub size: (u16, u16),
    /// How it looks.
    pub look: Look,
    /// Which keys give which command.
    pub keys: Keys,
    /// Where they and the look were set.
    pub settings: Source,
    /// The open images; never empty.
    images: Vec<Sheet>,
    /// Which of them is worked on.
    current: usize,
    /// Files that this session wrote.
    pub own_files: OwnFiles,
    /// Two of them side by side.
    pub twin: Option<Twin>,
    /// Which pane has the keys, and which are shown.
    pub panes: Panes,
    /// What asks for an answer, in front of the panes.
    pub dialog: Option<Dialog>,
    /// The answer to the last key.
    pub notice: Option<Notice>,
    /// What was answered with Discard since the user asked to leave.
    pub given_up: GivenUp,
    /// Work that goes on beside the keys.
    pub jobs: Jobs,
    /// Work that other sessions left.
    pub left: Leftovers,
    /// Counts the steps of layouts.
    pub steps_taken: u64,
    /// What was used last, to be used again.
    pub last: Last,
    /// The terminal reports the mouse to us.
    pub mouse: bool,
    /// How far the user is on the tour, where this session is one.
    pub tour: Option<Tour>,
}

impl App {
    /// An editor on `first` and `others`.
    #[must_use]
    pub fn new(first: Sheet, others: Vec<Sheet>, size: (u16, u16), look: Look) -> Self {
        let mut images = vec![first];
        images.extend(others);
        App {
            size,
            look,
            keys: Keys::default(),
            settings: Source::default(),
            images,
            current: 0,
            own_files: OwnFiles::default(),
            twin: None,
            panes: Panes::default(),
            dialog: None,
            notice: None,
            given_up: GivenUp::default(),
            jobs: Jobs::default(),
            left: Leftovers::default(),
            steps_taken: 0,
            last: Last::default(),
            mouse: false,
            tour: None,
        }
    }

    /// The image that is worked on.
    #[must_use]
    pub fn it(&self) -> &Sheet {
        // `current` is only ever set by `turn_to`, which stays inside.
        &self.images[self.current.min(self.images.len() - 1)]
    }

    /// The image that is worked on, to change it.
    pub fn it_mut(&mut self) -> &mut Sheet {
        let last = self.images.len() - 1;
        &mut self.images[self.current.min(last)]
    }

    /// Every open image.
    #[must_use]
    pub fn images(&self) -> &[Sheet] {
        &self.images
    }

    /// Every open image, to change them.
    pub fn images_mut(&mut self) -> &mut [Sheet] {
        &mut self.images
    }

    /// Index of the image that is worked on.
    #[must_use]
    pub fn current(&self) -> usize {
        self.current
    }

    /// Turns to an open image, round and round.
    pub fn turn_to(&mut self, index: usize) {
        self.current = index % self.images.len();
        // Turning to a third image ends the comparison of the other two.
        self.twin.take_if(|t| ![t.left, t.right].contains(&self.current));
    }

    /// The field of the chosen row of the Fields pane; in the Twin view, this image's.
    #[must_use]
    pub fn chosen_field(&self) -> Option<&Field> {
        let Some(twin) = &self.twin else { return self.it().described.chosen_field() };
        let path = &twin.compared.comparison.fields.get(twin.fields.at)?.path;
        self.it().decoded().fields.iter().find(|f| f.path == *path)
    }

    /// The check of the chosen row of the Checks pane; in the Twin view, this image's.
    #[must_use]
    pub fn chosen_check(&self) -> Option<&Check> {
        let checks = &self.it().decoded().checks;
        let Some(twin) = &self.twin else { return checks.get(self.it().described.checks.at) };
        let name = &twin.compared.comparison.checks.get(twin.checks.at)?.name;
        checks.iter().find(|c| c.name == *name)
    }

    /// Whether `pane` has something to show: some are there only once something was asked.
    #[must_use]
    pub fn is_there(&self, pane: Pane) -> bool {
        match pane {
            Pane::Found => !self.it().found.places().is_empty(),
            Pane::Proposed => self.it().proposals.known().is_some(),
            _ => true,
        }
    }

    /// The panes that have something to show, in the order of Tab.
    #[must_use]
    pub fn there(&self) -> Vec<Pane> {
        Pane::ALL.into_iter().filter(|pane| self.is_there(*pane)).collect()
    }

    /// Says something in the line above the hints.
    pub fn say(&mut self, tone: Tone, text: impl Into<String>) {
        self.notice = Some(Notice { tone, text: text.into() });
    }

    /// The same, with the keys in force in the place of commands in curly brackets.
    pub fn tell(&mut self, tone: Tone, text: &str) {
        let text = self.keys.fill(text);
        self.say(tone, text);
    }

    /// Takes note of where the settings came from, and says so when they are not in force.
    pub fn heed(&mut self, source: Source) {
        if let Some(first) = source.problems.first() {
            let told = format!("{}: {first}", self.keys.fill("Settings not in force, see {settings}"));
            self.say(Tone::Bad, told);
        }
        self.settings = source;
    }

    /// Shows an error with everything it says on a page.
    pub fn problems(&mut self, title: &str, error: &crate::error::Error) {
        let place = error.place.iter().map(|place| format!("{place}: ")).collect::<String>();
        let mut told = vec![Paragraph::new(Tone::Plain, format!("{place}{}", error.what))];
        let advice = error.advice.iter().flat_map(|advice| advice.lines());
        told.extend(advice.map(|line| Paragraph::new(Tone::Plain, text::sentence(line))));
        self.dialog = Some(Page::open(self, title, told));
    }
}
