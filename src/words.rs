//! Enums whose variants are words of layouts.

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
