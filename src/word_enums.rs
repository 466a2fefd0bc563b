//! Enums whose variants are words: of layouts, by the names of the variants, and others, with a line on each.

/// Declares such an enum; its lists and the word of each variant come with it.
macro_rules! words {
    ($(#[$meta:meta])* pub enum $name:ident { $($(#[$of_variant:meta])* $variant:ident,)+ }) => {
        $(#[$meta])*
        pub enum $name { $($(#[$of_variant])* $variant,)+ }

        impl $name {
            /// Every one, in the order of screens.
            pub const ALL: [$name; [$(stringify!($variant)),+].len()] = [$($name::$variant),+];

            /// Every one with its word.
            pub const WORDS: [(&'static str, $name); $name::ALL.len()] =
                [$((stringify!($variant), $name::$variant)),+];

            /// The word in layouts.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $($name::$variant => stringify!($variant),)+ }
            }

            /// The one that `word` names.
            #[must_use]
            pub fn of_word(word: &str) -> Option<Self> {
                Self::ALL.into_iter().find(|one| one.word() == word)
            }
        }
    };
}

/// Declares an enum whose variants each have a fixed word and a line on what they stand for; its list comes with it.
macro_rules! explained {
    ($(#[$meta:meta])* pub enum $name:ident: $($variant:ident = $word:literal: $doc:literal;)+) => {
        $(#[$meta])*
        pub enum $name { $(#[doc = $doc] $variant,)+ }

        impl $name {
            /// Every one, in the order of the documentation.
            pub const ALL: &'static [$name] = &[$($name::$variant),+];

            /// The fixed word, in what is printed, in JSON and in layouts.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)+ }
            }

            /// What it stands for, in one line.
            #[must_use]
            pub const fn doc(self) -> &'static str {
                match self { $($name::$variant => $doc,)+ }
            }
        }
    };
}
