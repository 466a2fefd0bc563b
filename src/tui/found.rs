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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_found_meanwhile_leaves_the_list_where_it_is_and_a_search_that_is_done_begins_it_anew() {
        let place = |at| Place {
            span: Span::of(at, 1),
            exact: true,
            stored_as: String::new(),
            text: String::new(),
            differs: String::new(),
        };
        let mut found = Found::default();
        assert!(found.chosen().is_none());
        found.grow(vec![place(7), place(9)]);
        found.rows.step(1);
        found.grow(vec![place(7), place(9), place(11)]);
        assert_eq!(found.chosen().map(|p| p.span.start), Some(9));
        found.grow(vec![place(7)]);
        assert_eq!(found.chosen().map(|p| p.span.start), Some(7), "never behind the last");
        found.take(vec![place(1), place(2)]);
        assert_eq!((found.rows.at, found.rows.len), (0, 2));
    }
}
