//! The panes of the screen: which there are, which has the keys, which are shown.

/// Declares [`Pane`]: the one list of panes, in the order of Tab.
macro_rules! panes {
    ($($pane:ident: $doc:literal;)*) => {
        /// The parts of the screen that can have the keys.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Pane {
            $(#[doc = $doc] $pane,)*
        }

        impl Pane {
            /// Every pane, in the order of Tab.
            pub const ALL: [Pane; [$(stringify!($pane)),*].len()] = [$(Pane::$pane),*];

            /// The title on the screen.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self {
                    $(Pane::$pane => stringify!($pane),)*
                }
            }
        }
    };
}

panes! {
    Bytes: "Address, bytes, text.";
    Fields: "The decoded layout as a tree.";
    Checks: "Each check, computed against stored.";
    Readings: "The bytes under the cursor as numbers, text and dates.";
    Findings: "What speaks for or against the read.";
    Found: "Where what was searched for stands; there once something was.";
    Proposed: "What a survey and a hunt propose; there once somebody asked.";
}

/// Which pane has the keys, and which are shown. The one with the keys always is.
#[derive(Debug, Clone)]
pub struct Panes {
    focus: Pane,
    beside: Pane,
    /// Only the pane with the keys is shown.
    pub alone: bool,
}

impl Default for Panes {
    fn default() -> Self {
        Panes { focus: Pane::Bytes, beside: Pane::Fields, alone: false }
    }
}

impl Panes {
    /// The pane that has the keys.
    #[must_use]
    pub fn focus(&self) -> Pane {
        self.focus
    }

    /// The pane beside Bytes where there is room for only one.
    #[must_use]
    pub fn beside(&self) -> Pane {
        self.beside
    }

    /// Gives the keys to `pane`; it comes on the screen if it was not.
    pub fn give_keys(&mut self, pane: Pane) {
        self.focus = pane;
        self.show(pane);
    }

    /// Puts `pane` beside Bytes, which is there anyway.
    pub fn show(&mut self, pane: Pane) {
        if pane != Pane::Bytes {
            self.beside = pane;
        }
    }

    /// Gives the keys to the pane `by` steps further among those that are `there`, round and round.
    pub fn pass_keys(&mut self, by: isize, there: &[Pane]) {
        let at = there.iter().position(|&p| p == self.focus).unwrap_or(0);
        let to = (at as isize + by).rem_euclid(there.len().max(1) as isize) as usize;
        self.give_keys(there.get(to).copied().unwrap_or(Pane::Bytes));
    }

    /// Sees to it that only panes that are `there` have a place on the screen, or the keys.
    pub fn keep(&mut self, there: &[Pane]) {
        if !there.contains(&self.focus) {
            self.focus = Pane::Bytes;
        }
        if !there.contains(&self.beside) {
            self.beside = Pane::Fields;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pane_with_the_keys_is_shown_and_one_that_is_gone_has_neither() {
        let mut panes = Panes::default();
        panes.give_keys(Pane::Found);
        assert_eq!((panes.focus(), panes.beside()), (Pane::Found, Pane::Found));
        panes.keep(&[Pane::Bytes, Pane::Fields, Pane::Checks]);
        assert_eq!((panes.focus(), panes.beside()), (Pane::Bytes, Pane::Fields));
        panes.pass_keys(-1, &[Pane::Bytes, Pane::Fields, Pane::Checks]);
        assert_eq!((panes.focus(), panes.beside()), (Pane::Checks, Pane::Checks), "round and round");
        panes.pass_keys(1, &[Pane::Bytes, Pane::Fields, Pane::Checks]);
        assert_eq!((panes.focus(), panes.beside()), (Pane::Bytes, Pane::Checks), "Bytes is there anyway");
    }
}
