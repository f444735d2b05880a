//! The codes of findings, each with its weight and its meaning: one list for each question.

/// Declares what a question can find. `MoreFindings` must be among the codes.
macro_rules! codes {
    ($(#[$about_all:meta])* $all:ident; $($name:ident = $code:literal, $weight:ident: $about:literal;)*) => {
        $(#[$about_all])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[non_exhaustive]
        pub enum $all {
            $(#[doc = $about] $name,)*
        }

        impl $all {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            /// What it means, in one sentence.
            #[must_use]
            pub fn about(self) -> &'static str {
                match self { $(Self::$name => $about),* }
            }
        }

        impl $crate::questions::answer::Code for $all {
            const MORE: Self = Self::MoreFindings;

            fn as_str(self) -> &'static str {
                match self { $(Self::$name => $code),* }
            }

            fn weight(self) -> $crate::questions::answer::Weight {
                match self { $(Self::$name => $crate::questions::answer::Weight::$weight),* }
            }
        }

        #[cfg(test)]
        #[test]
        fn every_code_is_its_own() {
            let codes: std::collections::HashSet<&str> =
                $all::ALL.iter().map(|code| $crate::questions::answer::Code::as_str(*code)).collect();
            assert_eq!(codes.len(), $all::ALL.len());
        }
    };
}

pub(crate) use codes;
