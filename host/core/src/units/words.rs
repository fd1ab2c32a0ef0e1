//! Plain enums whose variants have words in files.

/// An enum with the stable word for files beside each variant.
macro_rules! words {
    ($(#[$about:meta])* $seen:vis enum $name:ident {
        $($(#[$of:meta])* $one:ident = $word:literal,)*
    }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        $seen enum $name { $($(#[$of])* $one,)* }

        impl $name {
            /// The stable word for files.
            #[must_use]
            $seen const fn word(self) -> &'static str {
                match self { $(Self::$one => $word,)* }
            }
        }
    };
}
pub(crate) use words;
