//! Where what was searched for stands in an image, as the Found pane lists it.

use super::rows::Rows;
use crate::span::Span;

/// A place where something was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Its bytes.
    pub span: Span,
    /// Whether it is what was searched for; a near miss is not.
    pub exact: bool,
    /// How it is stored.
    pub stored_as: String,
    /// What is stored.
    pub text: String,
    /// Where it differs, in words; empty when it is exact.
    pub differs: String,
}

/// The places that were found, the best first.
#[derive(Debug, Default)]
pub struct Found {
    places: Vec<Place>,
    /// The list on the screen.
    pub rows: Rows,
}

impl Found {
    /// Every place; none before something was found.
    #[must_use]
    pub fn places(&self) -> &[Place] {
        &self.places
    }

    /// The one that the list is on.
    #[must_use]
    pub fn chosen(&self) -> Option<&Place> {
        self.places.get(self.rows.at)
    }

    /// Lists what a search found, from its first place on.
    pub fn take(&mut self, places: Vec<Place>) {
        self.rows = Rows::default();
        self.grow(places);
    }

    /// Lists what a search that goes on found so far; the list stays where it is.
    pub fn grow(&mut self, places: Vec<Place>) {
        self.rows.fit(places.len());
        self.places = places;
    }
}
